"""Which cells from stock go into which head, so that lots and ages are spread, and what that costs in life."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from fleetbench.calc.cells.spread import FittedCell, OpenSlot, SpreadPlan, StockCell, spread_cells
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import Verdict
from fleetbench.calc.parts.kinds import PartState
from fleetbench.workshop.cells.list import CellRow, list_cells, vacant_positions
from fleetbench.workshop.core.workplace import Workplace

SOON_DAYS = 30
"""A fitted cell with so few days left is proposed to be replaced: common practice, no published source."""

UNFIT = ("reject", "repeat")


@dataclass(frozen=True, slots=True)
class SpreadLine:
    """One proposal: this cell into this position, what comes out and why; why_old None where the position is empty."""

    cell: CellRow
    unit: str
    head: str
    position: str
    old: CellRow | None
    why_old: str | None
    because: str


@dataclass(frozen=True, slots=True)
class Spread:
    """The proposal for the whole fleet; left_out names stock that is not proposed and why, empty what stays open."""

    lines: tuple[SpreadLine, ...]
    empty: tuple[str, ...]
    left_out: tuple[str, ...]
    words: str


def propose_spread(workplace: Workplace) -> Spread:
    """Cells from stock for every position that is empty, rejected, past its last good day or within a month of it.

    A position takes the part type that sits there, else those in its head, else any that is in stock.
    """
    today = workplace.today()
    rows = list_cells(workplace)
    fitted = [row for row in rows if row.unit is not None and row.head is not None and row.position is not None]
    stock, left_out = _stock([row for row in rows if row.part.state == PartState.STOCK])
    leaving = {row.part.part_id: told for row in fitted if (told := _leaves(row, today)) is not None}
    types = tuple({cell.part_type for cell in stock})
    wanted: dict[tuple[str, str], CellRow | None] = {
        (row.head or "", row.position or ""): row for row in fitted if row.part.part_id in leaving
    }
    units = {row.head or "": row.unit or "" for row in fitted}
    for unit, head, position in vacant_positions(workplace):
        wanted[head, position] = None
        units[head] = unit
    slots = [OpenSlot(head, position, _types(head, row, fitted, types)) for (head, position), row in wanted.items()]
    # What was made when is not known counts as made today: near to every new cell, far from none that is named.
    staying = [
        FittedCell(row.head or "", row.part.lot, row.made_day or today)
        for row in fitted
        if row.part.part_id not in leaving
    ]
    plan = spread_cells(stock, slots, staying, today)
    by_key = {str(row.part.part_id): row for row in rows}
    lines = []
    for place in plan.placements:
        old = wanted[place.head, place.position]
        why: str | None = None
        because = say("nothing sits there")
        if old is not None:
            why, because = leaving[old.part.part_id]
        lines.append(
            SpreadLine(
                by_key[place.cell],
                unit=units[place.head],
                head=place.head,
                position=place.position,
                old=old,
                why_old=why,
                because=because,
            )
        )
    return Spread(
        tuple(lines),
        tuple(
            say("{units}, {position}: no cell in stock is left for it", units=units[slot.head], position=slot.position)
            for slot in plan.empty
        ),
        tuple(left_out),
        _words(plan, len(slots)),
    )


def _stock(rows: Iterable[CellRow]) -> tuple[list[StockCell], list[str]]:
    usable, left_out = [], []
    for row in rows:
        if row.verdict in UNFIT:
            left_out.append(say("{part}: last called {verdict}", part=row.part.label, verdict=say(row.verdict)))
        elif row.made_day is None or row.last_good_day is None or row.life_state == "unknown":
            left_out.append(say("{part}: its dates are not known", part=row.part.label))
        else:
            usable.append(
                StockCell(
                    str(row.part.part_id),
                    part_type=row.part_type,
                    lot=row.part.lot,
                    made=row.made_day,
                    last_good_day=row.last_good_day,
                )
            )
    return usable, left_out


def _leaves(row: CellRow, today: date) -> tuple[str, str] | None:
    """Why a fitted cell is to be replaced: the records' word and a sentence; None where it stays."""
    if row.verdict == Verdict.REJECT:
        return "low output" if "output" in (row.finding or "").casefold() else "fault", say("it is rejected")
    if row.last_good_day is None:
        return None
    left, day = (row.last_good_day - today).days, row.last_good_day.isoformat()
    if left < 0:
        return "age", (say("past its last valid day by its forecast, {day}", day=day) if row.projected
                       else say("past its last valid day, {day}", day=day))  # fmt: skip
    if left > SOON_DAYS:
        return None
    return "age", (say("its last valid day by its forecast is {day}", day=day) if row.projected
                   else say("its last valid day is {day}", day=day))  # fmt: skip


def _types(head: str, row: CellRow | None, fitted: Iterable[CellRow], stocked: tuple[str, ...]) -> tuple[str, ...]:
    if row is not None:
        return (row.part_type,)
    return tuple(dict.fromkeys(each.part_type for each in fitted if each.head == head)) or stocked


def _words(plan: SpreadPlan, wanted: int) -> str:
    if not wanted:
        return say("Every position holds a cell with more than a month left: nothing is proposed.")
    proof = () if plan.proven else (say("A better plan may exist: the time for the search was up."),)
    told = say(
        "{count} of {wanted} positions can be filled. In their heads then: {same_lot} cells "
        "share a lot with another, {same_age} pairs are of near age. It uses {cost_days} more "
        "days of remaining life than the cells soonest to expire, which age on the shelf "
        "meanwhile.",
        count=len(plan.placements),
        wanted=wanted,
        same_lot=plan.same_lot,
        same_age=plan.same_age,
        cost_days=plan.cost_days,
    )
    return strung(" ", (told, *proof))
