"""Cylinders: what was filled into each last, what an analyser said since, and its tests."""

from collections.abc import Sequence
from functools import partial
from zoneinfo import ZoneInfo

from fleetbench.window.detail import Detail, Fact, Section
from fleetbench.window.empty_state import nothing_recorded
from fleetbench.window.list_page import Choice, ListPage, ListSpec
from fleetbench.window.marks import STOP, UNKNOWN, Mark, mark_for
from fleetbench.window.pages import PageContext
from fleetbench.window.place import Place
from fleetbench.window.rows import Column
from fleetbench.window.stock import SIBLINGS
from fleetbench.window.words import NONE, counted, day, figure, moment, said, spaced
from fleetbench.workshop import stock
from fleetbench.workshop.stock import CylinderRow

EMPTY = nothing_recorded("No cylinders are recorded yet", "stock")


def list_page(context: PageContext) -> ListPage[CylinderRow]:
    """The list of cylinders."""
    spec = ListSpec(
        "Cylinders",
        columns(context.zone),
        key=lambda row: str(row.part_id),
        load=partial(stock.list_cylinders, context.shop),
        describe=partial(describe, zone=context.zone),
        empty=EMPTY,
        sum_up=sum_up,
        place=lambda row: Place("parts", str(row.part_id)),
        choices=(
            Choice("test past", lambda row: life_mark(row).rank == STOP.rank, STOP),
            Choice("not analysed since filled", not_analysed, UNKNOWN),
        ),
        siblings=SIBLINGS,
    )
    return ListPage(context.theme, context.background, spec)


def life_mark(row: CylinderRow) -> Mark:
    """How its tests stand."""
    return mark_for(row.life_state)


def not_analysed(row: CylinderRow) -> bool:
    """Filled, and nobody has analysed it since."""
    return row.filled_at is not None and (row.analysed_at is None or row.analysed_at < row.filled_at)


def sum_up(rows: Sequence[CylinderRow]) -> str:
    """'70 cylinders: 3 not analysed since they were filled'."""
    return f"{counted(len(rows), 'cylinder')}: {sum(map(not_analysed, rows))} not analysed since they were filled"


def gas(oxygen: float | None, helium: float | None, missing: str) -> str:
    """Oxygen and helium in percent as 'O2 32.0 %, He 0.0 %'; helium only where it was asked for or analysed."""
    if oxygen is None:
        return missing
    return f"O2 {oxygen:.1f} %, He {helium:.1f} %" if helium is not None else f"O2 {oxygen:.1f} %"


def describe(row: CylinderRow, zone: ZoneInfo) -> Detail:
    """What the list's own row says of a cylinder."""
    return Detail(
        row.serial,
        f"{row.role}, {row.size_l:g} L, {row.working_bar:g} bar",
        (life_mark(row).worded(f"tests: {row.life_state}"),),
        (
            Section(
                "Gas",
                (
                    Fact("Filled", moment(row.filled_at, zone), note=figure(row.end_bar, "bar", 0)),
                    Fact("Asked for", gas(row.oxygen_asked, row.helium_asked, "not recorded")),
                    Fact("Analysed", gas(row.oxygen_percent, row.helium_percent, "not analysed")),
                    Fact("When", moment(row.analysed_at, zone), note=spaced(row.analysis)),
                ),
            ),
            Section(
                "Cylinder",
                (
                    Fact("Last good day", day(row.last_good_day), note=f"governed by: {spaced(row.basis)}"),
                    Fact("Unit", said(row.unit, NONE), leads_to=Place("units", row.unit) if row.unit else None),
                    Fact("Slot", said(row.slot, NONE)),
                    Fact("Place", said(row.place)),
                    Fact("Material", said(row.material)),
                    Fact("Marking", said(row.marking)),
                ),
            ),
        ),
    )


def columns(zone: ZoneInfo) -> tuple[Column[CylinderRow], ...]:
    """The columns of the list."""
    return (
        Column("serial", "Serial", lambda row: row.serial),
        Column("role", "Role", lambda row: row.role),
        Column("tests", "Tests", lambda row: row.life_state, lambda row: -life_mark(row).rank, state=life_mark),
        Column("last", "Last good day", lambda row: day(row.last_good_day), lambda row: day(row.last_good_day, "0")),
        Column("where", "Where", lambda row: said(row.unit, said(row.place, NONE))),
        Column("bar", "Bar", lambda row: figure(row.end_bar, "", 0, NONE), lambda row: row.end_bar, align_right=True),
        Column("gas", "Analysed", lambda row: gas(row.oxygen_percent, row.helium_percent, "not analysed")),
        Column("analysed", "When", lambda row: moment(row.analysed_at, zone, NONE), lambda row: row.analysed_at),
        Column("filled", "Filled", lambda row: moment(row.filled_at, zone, NONE), lambda row: row.filled_at),
        Column("size", "Litres", lambda row: f"{row.size_l:g}", lambda row: row.size_l, align_right=True),
        Column("basis", "Limit that governs", lambda row: spaced(row.basis, NONE), shown=False),
        Column("marking", "Marking", lambda row: said(row.marking, NONE), shown=False),
    )
