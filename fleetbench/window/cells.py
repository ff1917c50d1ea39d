"""Cells: the list, and the page of one cell with its limits, calibrations, places and lot."""

from collections import Counter
from collections.abc import Sequence
from datetime import date
from functools import partial
from zoneinfo import ZoneInfo

from fleetbench.window.detail import Detail, Fact, Line, Section, Table
from fleetbench.window.empty_state import nothing_recorded
from fleetbench.window.list_page import Choice, ListPage, ListSpec
from fleetbench.window.marks import PASS, REJECT, REPEAT, WATCH, Mark, mark_for
from fleetbench.window.pages import PageContext
from fleetbench.window.parts import fittings_table, limits_table
from fleetbench.window.place import Place
from fleetbench.window.record_page import RecordPage
from fleetbench.window.rows import Column
from fleetbench.window.words import NONE, counted, day, figure, moment, plus_minus, said, spaced
from fleetbench.workshop import cells
from fleetbench.workshop.cells import CellPage, CellRow, LotMate, OutcomeLine

EMPTY = nothing_recorded("No cells are recorded yet", "cells")
NOT_CALIBRATED = "not calibrated"


def list_page(context: PageContext) -> ListPage[CellRow]:
    """The list of cells, fitted and in stock."""
    spec = ListSpec(
        "Cells",
        columns(context.zone),
        key=lambda row: str(row.part_id),
        load=partial(cells.list_cells, context.shop),
        describe=partial(describe, zone=context.zone),
        empty=EMPTY,
        sum_up=sum_up,
        place=lambda row: Place("cells", str(row.part_id)),
        choices=(
            Choice("reject", lambda row: row.verdict == "reject", REJECT),
            Choice("repeat", lambda row: row.verdict == "repeat", REPEAT),
            Choice("watch", lambda row: row.verdict == "watch", WATCH),
            Choice("pass", lambda row: row.verdict == "pass", PASS),
            Choice("fitted", lambda row: row.unit is not None),
            Choice("in stock", lambda row: row.unit is None),
        ),
    )
    return ListPage(context.theme, context.background, spec)


def record_page(context: PageContext) -> RecordPage:
    """The page of one cell."""

    def load(key: str) -> Detail:
        return cell_detail(cells.cell_page(context.shop, int(key)), context.zone, context.shop.today())

    return RecordPage(context.theme, context.background, load)


def sum_up(rows: Sequence[CellRow]) -> str:
    """'56 cells, 42 fitted: 36 pass, 3 watch, 2 repeat, 1 reject'."""
    verdicts = Counter(row.verdict or NOT_CALIBRATED for row in rows)
    fitted = sum(row.unit is not None for row in rows)
    words = ("pass", "watch", "repeat", "reject", NOT_CALIBRATED)
    return f"{counted(len(rows), 'cell')}, {fitted} fitted: " + ", ".join(
        f"{verdicts[word]} {word}" for word in words if verdicts[word]
    )


def verdict_mark(row: CellRow) -> Mark:
    """The verdict of the last outcome; a cell without one is not calibrated, never a pass."""
    return mark_for(row.verdict) if row.verdict else mark_for("").worded(NOT_CALIBRATED)


def life_mark(row: CellRow) -> Mark:
    """How its life stands; an open reject has ended it, whatever its age."""
    return mark_for("past") if row.verdict == "reject" else mark_for(row.life_state)


def where(row: CellRow) -> str:
    """Unit and position, or that the cell is not fitted."""
    return f"{row.unit}, {row.position or 'position not recorded'}" if row.unit else spaced(row.part_state)


def columns(zone: ZoneInfo) -> tuple[Column[CellRow], ...]:
    """The columns of the list."""
    return (
        Column("serial", "Serial", lambda row: row.serial),
        Column(
            "verdict", "Verdict", lambda row: verdict_mark(row).word, lambda row: -verdict_mark(row).rank,
            state=verdict_mark, tooltip=lambda row: said(row.finding, "no finding is recorded"),
        ),
        Column("where", "Where", where),
        Column(
            "last", "Last good day", lambda row: day(row.last_good_day),
            lambda row: day(row.last_good_day, "0"), state=life_mark,
            tooltip=lambda row: governed(row.basis),
        ),
        Column("air", "Air, mV", lambda row: figure(row.air_mv, missing=NONE), lambda row: row.air_mv, True),
        Column(
            "oxygen", "Oxygen, mV", lambda row: figure(row.oxygen_mv, missing=NONE), lambda row: row.oxygen_mv, True,
        ),
        Column(
            "linearity", "Linearity, %", linearity, lambda row: row.linearity, True,
            heading_tip="Sensitivity in oxygen over sensitivity in air, with its expanded uncertainty (k = 2)",
        ),
        Column("trend", "Trend", trend_words, lambda row: row.linearity, trend=trend),
        Column("calibrated", "Calibrated", lambda row: moment(row.calibrated_at, zone), lambda row: row.calibrated_at),
        Column("lot", "Lot", lambda row: said(row.lot)),
        Column("type", "Part type", lambda row: row.part_type, shown=False),
        Column("made", "Made", lambda row: said(row.made), shown=False),
        Column("opened", "Opened", lambda row: said(row.opened), shown=False),
        Column("basis", "Limit that governs", lambda row: spaced(row.basis), shown=False),
        Column("head", "Head", lambda row: said(row.head, NONE), shown=False),
        Column("finding", "Finding", lambda row: said(row.finding, NONE), shown=False),
    )  # fmt: skip


def linearity(row: CellRow) -> str:
    """Linearity with its uncertainty, without the unit that stands in the heading."""
    return NONE if row.linearity is None else plus_minus(row.linearity, row.expanded_u, "").strip()


def trend(row: CellRow) -> tuple[float, ...]:
    """Linearity over time, oldest first."""
    return tuple(value for _day, value in row.trend)


def trend_words(row: CellRow) -> str:
    """The trend as text, for copying: first and last linearity and how many there are."""
    values = trend(row)
    return f"{values[0]:.1f} to {values[-1]:.1f} % in {len(values)}" if values else NONE


def describe(row: CellRow, zone: ZoneInfo) -> Detail:
    """What the list's own row says of a cell."""
    return Detail(
        row.serial,
        f"{row.part_type}, {where(row)}",
        (verdict_mark(row),),
        (
            Section(
                "Last calibration",
                (
                    Fact("Finding", said(row.finding)),
                    Fact("Next step", said(row.next_step, NONE)),
                    Fact("In air", figure(row.air_mv, "mV")),
                    Fact("In oxygen", figure(row.oxygen_mv, "mV")),
                    Fact("Linearity", plus_minus(row.linearity, row.expanded_u, "%")),
                    Fact("Margin", figure(row.margin, "%")),
                    Fact("Verified up to", figure(row.verified_up_to_bar, "bar", 2)),
                    Fact("When", moment(row.calibrated_at, zone)),
                )
                if row.calibrated_at is not None
                else (),
                "Not calibrated where it sits: calibrate it before it is relied on.",
            ),
            Section(
                "Age",
                (
                    Fact("Last good day", day(row.last_good_day), life_mark(row), governed(row.basis)),
                    *(
                        Fact(spaced(age.basis), age.limit, note=age_words(age.age_days, age.days_left))
                        for age in row.ages
                    ),
                ),
            ),
            Section(
                "Where",
                (
                    Fact("Unit", row.unit, leads_to=Place("units", row.unit)) if row.unit else Fact("Unit", "none"),
                    Fact("Position", said(row.position, NONE)),
                    Fact("Head", said(row.head, NONE)),
                    Fact("Lot", said(row.lot)),
                ),
            ),
        ),
    )  # fmt: skip


def governed(basis: str | None) -> str:
    """Which limit governs a last good day."""
    return f"governed by: {spaced(basis)}"


def age_words(age: int | None, left: int | None) -> str:
    """'412 days old, 31 days left'."""
    old = "age not known" if age is None else f"{counted(age, 'day')} old"
    return f"{old}, {'what is left is not known' if left is None else f'{left} left' if left >= 0 else f'{-left} past'}"


def cell_detail(page: CellPage, zone: ZoneInfo, today: date) -> Detail:
    """Everything on one cell's page."""
    summary = describe(page.row, zone)
    return Detail(
        summary.title,
        summary.subtitle,
        (*summary.marks, life_mark(page.row).worded(f"life: {life_mark(page.row).word}")),
        (
            *summary.parts,
            _lot(page.lot_mates),
            _calibrations(page.calibrations, zone),
            limits_table(page.limits, today),
            fittings_table(page.fittings, zone),
        ),
    )


def _calibrations(lines: Sequence[OutcomeLine], zone: ZoneInfo) -> Table:
    return Table(
        "Calibrations",
        ("When", "Verdict", "Air", "Oxygen", "Linearity", "Where", "Finding"),
        tuple(
            Line(
                (
                    moment(line.at, zone),
                    line.verdict,
                    figure(line.air_mv, "mV"),
                    figure(line.oxygen_mv, "mV"),
                    plus_minus(line.linearity, line.expanded_u, "%"),
                    f"{line.unit}, {line.position}",
                    line.finding,
                ),
                mark_for(line.verdict),
            )
            for line in lines
        ),
        "This cell has never been calibrated here.",
        mark_column=1,
    )


def _lot(mates: Sequence[LotMate]) -> Section:
    return Section(
        "Others of its lot",
        tuple(
            Fact(
                f"{mate.unit}, {mate.position}" if mate.unit else spaced(mate.part_state),
                mate.serial,
                mark_for(mate.verdict) if mate.verdict else None,
                leads_to=Place("cells", str(mate.part_id)),
            )
            for mate in mates
        ),
        "No other cell of its lot is here.",
    )
