"""Which cell from stock goes into which head, so that lots and ages are spread, and what it costs in days of life."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from fleetbench.calc.core.languages import say

NEAR_AGE_DAYS = 30
"""Cells made within so many days of one another count as of one age: common practice, no published source."""

LOT_WORTH_DAYS = 180.0
AGE_WORTH_DAYS = 30.0
"""Days of cell life given up to keep two cells of one lot, or of one age, apart in a head: common practice, no
published source."""

_EMPTY_DAYS = 100_000.0
_TIME_LIMIT_S = 10.0


@dataclass(frozen=True, slots=True)
class StockCell:
    """A cell that could be fitted: its key, part type, lot (None unknown), day made and last good day."""

    key: str
    part_type: str
    lot: str | None
    made: date
    last_good_day: date


@dataclass(frozen=True, slots=True)
class FittedCell:
    """A cell that stays in a head: lot (None unknown) and day made."""

    head: str
    lot: str | None
    made: date


@dataclass(frozen=True, slots=True)
class OpenSlot:
    """A place in a head that needs a cell of one of the part types."""

    head: str
    position: str
    part_types: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Placement:
    """One proposal: this cell in this head and position."""

    cell: str
    head: str
    position: str


@dataclass(frozen=True, slots=True)
class SpreadPlan:
    """Proposed placements; same_lot counts cells beyond the first of a lot in a head, same_age pairs of near-equal age.

    cost_days is the life, summed over the cells, of what is fitted beyond that of the cells soonest to expire: what
    spreading leaves to age on the shelf. empty lists slots for which no cell is left. proven tells that no better plan
    exists.
    """

    placements: tuple[Placement, ...]
    empty: tuple[OpenSlot, ...]
    same_lot: int
    same_age: int
    cost_days: int
    proven: bool


def spread_cells(
    stock: Sequence[StockCell], slots: Sequence[OpenSlot], staying: Sequence[FittedCell], today: date
) -> SpreadPlan:
    """Placement of stock cells that fills most slots, then costs least, all told in days of life.

    Every cell beyond the first of a lot in a head counts ``LOT_WORTH_DAYS``, every pair of near-equal age of different
    lots ``AGE_WORTH_DAYS``, and each fitted cell its remaining days, so that among equals the one soonest to expire
    goes first. Cells past their last good day on ``today`` are never proposed. An unknown lot counts as one lot with
    every other unknown, for it could be. A mixed-integer program solved by scipy's HiGHS.
    """
    usable = sorted(
        (cell for cell in stock if cell.last_good_day >= today), key=lambda cell: (cell.last_good_day, cell.key)
    )
    if len({cell.key for cell in usable}) != len(usable):
        raise ValueError(say("stock: a cell stands twice in it; keep one row for each serial"))
    ordered = list(slots)
    pairs = [
        (c, s) for c, cell in enumerate(usable) for s, slot in enumerate(ordered) if cell.part_type in slot.part_types
    ]
    if not pairs:
        return SpreadPlan((), empty=tuple(ordered), same_lot=0, same_age=0, cost_days=0, proven=True)
    chosen, proven = _solve(_Model(usable, slots=ordered, staying=list(staying), pairs=pairs, today=today))
    return _plan(usable, ordered, list(staying), chosen, proven)


@dataclass(frozen=True, slots=True)
class _Model:
    stock: list[StockCell]
    slots: list[OpenSlot]
    staying: list[FittedCell]
    pairs: list[tuple[int, int]]
    today: date


def _near(first: date, second: date) -> bool:
    return abs((first - second).days) <= NEAR_AGE_DAYS


def _rows(model: _Model) -> tuple[list[dict[int, float]], list[float], list[float]]:
    """Constraints as (coefficients by column, upper bound) and the cost of each added column.

    Columns: one a pair (cell, slot), then one an excess: rows read  sum - excess <= bound.
    """
    columns = len(model.pairs)
    rows: list[dict[int, float]] = []
    upper: list[float] = []
    costs: list[float] = []
    for kind, size in ((0, len(model.stock)), (1, len(model.slots))):
        for index in range(size):
            row = {k: 1.0 for k, pair in enumerate(model.pairs) if pair[kind] == index}
            rows.append(row)
            upper.append(1.0)

    def excess(row: dict[int, float], bound: float, cost: float) -> None:
        row[columns + len(costs)] = -1.0
        rows.append(row)
        upper.append(bound)
        costs.append(cost)

    for head in dict.fromkeys(slot.head for slot in model.slots):
        inside = [k for k, (_, s) in enumerate(model.pairs) if model.slots[s].head == head]
        by_cell: dict[int, list[int]] = {}
        for k in inside:
            by_cell.setdefault(model.pairs[k][0], []).append(k)
        stay = [cell for cell in model.staying if cell.head == head]
        for lot in dict.fromkeys(model.stock[c].lot for c in by_cell):
            row = {k: 1.0 for c, ks in by_cell.items() if model.stock[c].lot == lot for k in ks}
            excess(row, max(1.0 - sum(cell.lot == lot for cell in stay), 0.0), LOT_WORTH_DAYS)
        cells = list(by_cell)
        for place, c in enumerate(cells):
            one = model.stock[c]
            near_fixed = sum(_near(one.made, cell.made) and cell.lot != one.lot for cell in stay)
            if near_fixed:
                excess({k: float(near_fixed) for k in by_cell[c]}, 0.0, AGE_WORTH_DAYS)
            for other_c in cells[place + 1 :]:
                other = model.stock[other_c]
                if other.lot != one.lot and _near(one.made, other.made):
                    excess({k: 1.0 for k in by_cell[c] + by_cell[other_c]}, 1.0, AGE_WORTH_DAYS)
    return rows, upper, costs


def _solve(model: _Model) -> tuple[list[tuple[int, int]], bool]:
    # scipy is slow to import and only this plan needs it
    from scipy import optimize, sparse

    rows, upper, costs = _rows(model)
    columns = len(model.pairs) + len(costs)
    entries = [(r, c, value) for r, row in enumerate(rows) for c, value in row.items()]
    matrix = sparse.csr_array(
        ([value for _, _, value in entries], ([r for r, _, _ in entries], [c for _, c, _ in entries])),
        shape=(len(rows), columns),
    )
    life = [(model.stock[c].last_good_day - model.today).days - _EMPTY_DAYS for c, _ in model.pairs]
    solved = optimize.milp(
        np.array([*life, *costs], dtype=float),
        constraints=optimize.LinearConstraint(matrix, -np.inf, np.array(upper)),
        integrality=np.array([1] * len(model.pairs) + [0] * len(costs)),
        bounds=optimize.Bounds(0.0, np.array([1.0] * len(model.pairs) + [np.inf] * len(costs))),
        options={"time_limit": _TIME_LIMIT_S, "mip_rel_gap": 0.0},
    )
    if solved.x is None:
        raise ValueError(say("stock: no placement was found in time; plan fewer heads at once"))
    return [pair for pair, on in zip(model.pairs, solved.x, strict=False) if on > 0.5], solved.status == 0


def _plan(
    stock: list[StockCell],
    slots: list[OpenSlot],
    staying: list[FittedCell],
    chosen: list[tuple[int, int]],
    proven: bool,
) -> SpreadPlan:
    by_slot = {s: c for c, s in chosen}
    placements = tuple(
        Placement(stock[by_slot[s]].key, slot.head, slot.position) for s, slot in enumerate(slots) if s in by_slot
    )
    heads: dict[str, list[tuple[str | None, date]]] = {}
    for fixed in staying:
        heads.setdefault(fixed.head, []).append((fixed.lot, fixed.made))
    for s, c in by_slot.items():
        heads.setdefault(slots[s].head, []).append((stock[c].lot, stock[c].made))
    touched = {slot.head for slot in slots}
    counted = [shared_causes(members) for head, members in heads.items() if head in touched]
    return SpreadPlan(
        placements=placements,
        empty=tuple(slot for s, slot in enumerate(slots) if s not in by_slot),
        same_lot=sum(lots for lots, _ in counted),
        same_age=sum(ages for _, ages in counted),
        cost_days=_cost_days(stock, slots, by_slot),
        proven=proven,
    )


def _cost_days(stock: list[StockCell], slots: list[OpenSlot], by_slot: dict[int, int]) -> int:
    """Days of life fitted beyond those of the soonest-to-expire cells that could have filled the same slots."""
    # scipy is slow to import and only this plan needs it
    from scipy import optimize

    if not by_slot:
        return 0
    filled = sorted(by_slot)
    today = min(cell.last_good_day for cell in stock)
    life = np.array([(cell.last_good_day - today).days for cell in stock], dtype=float)
    barred = float(life.sum() + 1.0) * 10.0
    matrix = np.array(
        [[life[c] if cell.part_type in slots[s].part_types else barred for c, cell in enumerate(stock)] for s in filled]
    )
    rows, columns = optimize.linear_sum_assignment(matrix)
    fitted = sum(life[by_slot[s]] for s in filled)
    return round(float(fitted - matrix[rows, columns].sum()))


def shared_causes(cells: Sequence[tuple[str | None, date]]) -> tuple[int, int]:
    """Cells beyond the first of their lot in one head, and pairs of near-equal age of different lots.

    Cells of one lot, or made within ``NEAR_AGE_DAYS``, can fail of one cause at one time: common practice, no published
    source.
    """
    lots = len(cells) - len({lot for lot, _ in cells})
    pairs = sum(
        first[0] != second[0] and _near(first[1], second[1])
        for place, first in enumerate(cells)
        for second in cells[place + 1 :]
    )
    return lots, pairs
