"""Cells: the list, and the page of one cell with its limits, calibrations, places and lot."""

from collections import Counter
from collections.abc import Sequence
from datetime import date, datetime
from functools import partial
from zoneinfo import ZoneInfo

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QDialog, QWidget

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import Verdict
from fleetbench.window.cells.plots import CellRecord
from fleetbench.window.detail.detail import Detail, Fact, Line, Section, Table
from fleetbench.window.lists.list_page import ListPage, ListSpec, QuickFilter
from fleetbench.window.lists.rows import Column, before_judged
from fleetbench.window.look.buttons import nothing_recorded, plain_button
from fleetbench.window.look.marks import ADVISE, PASS, REJECT, REPEAT, WATCH, Mark, mark_for
from fleetbench.window.look.words import NONE, counted, day, figure, moment, plus_minus, said, spaced
from fleetbench.window.parts.page import condition_facts, condition_mark, fittings_table, limits_table, readings_table
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.cells import list as cells
from fleetbench.workshop.cells.list import CellPage, CellRow, LotMate, OutcomeLine
from fleetbench.workshop.core.known import listed_at_once

EMPTY = nothing_recorded("No cells are recorded yet", "cells", "Every cell stands here with its readings and its end.")
WHERE_WORDS = {"quarantine": say("set aside")}
NOT_CALIBRATED = say("not calibrated")
SHARED = say("Cells of one lot or age can fail of one cause at one time: spread them when they are next replaced.")


class CellList(ListPage[CellRow]):
    """The list page with the way to the proposal for stock cells and to the life of cells."""

    def __init__(self, context: PageContext, spec: ListSpec[CellRow], parent: QWidget | None = None) -> None:
        super().__init__(context.theme, context.background, spec, parent)
        self._context = context
        self.dialog: QDialog | None = None
        self.spread_button = plain_button(context.theme, "Stock cells to fit", "", self)
        self.life_button = plain_button(context.theme, "How long cells last", "", self)
        for button, opens in ((self.spread_button, self.spread), (self.life_button, self.lives)):
            self.heading.addWidget(button)
            button.clicked.connect(opens)

    @Slot()
    def spread(self) -> None:
        """Open the proposal which stock cells to fit where."""
        from fleetbench.window.cells.acts import SpreadDialog  # with numpy, which the start does without

        dialog = SpreadDialog(self._context.theme, self._context.background, self._context.workplace, self)
        dialog.fitted.connect(self._on_fitted)
        self._open(dialog)

    @Slot()
    def lives(self) -> None:
        """Open the life of cells by part type and lot."""
        from fleetbench.window.cells.acts import LifeDialog  # likewise

        self._open(LifeDialog(self._context.theme, self._context.background, self._context.workplace, self))

    def _open(self, dialog: QDialog) -> None:
        self.dialog = dialog
        dialog.open()

    @Slot(str)
    def _on_fitted(self, words: str) -> None:
        self.banner.say_note(words)
        self.refresh()


def list_page(context: PageContext) -> CellList:
    """The list of cells, fitted and in stock."""
    spec = ListSpec(
        "Cells",
        columns(context.zone),
        key=lambda row: str(row.part.part_id),
        load=partial(cells.list_cells, context.workplace),
        describe=partial(describe, zone=context.zone),
        empty=EMPTY,
        sum_up=sum_up,
        place=lambda row: PageKey("cells", str(row.part.part_id)),
        choices=(
            QuickFilter("reject", lambda row: row.verdict == Verdict.REJECT, REJECT),
            QuickFilter("repeat", lambda row: row.verdict == Verdict.REPEAT, REPEAT),
            QuickFilter("watch", lambda row: row.verdict == Verdict.WATCH, WATCH),
            QuickFilter("pass", lambda row: row.verdict == Verdict.PASS, PASS),
            QuickFilter("shared lot or age", lambda row: row.shared is not None, ADVISE),
            QuickFilter("fitted", lambda row: row.unit is not None),
            QuickFilter("in stock", lambda row: row.unit is None),
        ),
    )
    at_once = partial(listed_at_once, context.workplace, cells.list_cells, cells.cells_listed)
    return CellList(context, before_judged(spec, "cells", "cell", at_once))


def record_page(context: PageContext) -> CellRecord:
    """The page of one cell."""
    return CellRecord(context, cell_detail)


def sum_up(rows: Sequence[CellRow]) -> str:
    """'56 cells, 42 fitted: 36 pass, 3 watch, 2 repeat, 1 reject'."""
    verdicts = Counter(row.verdict or NOT_CALIBRATED for row in rows)
    fitted = sum(row.unit is not None for row in rows)
    words = ("pass", "watch", "repeat", "reject", NOT_CALIBRATED)
    return say(
        "{cells}, {fitted} fitted: {verdicts}",
        cells=counted(len(rows), "cell"),
        fitted=fitted,
        verdicts=strung(", ", (strung(" ", (str(verdicts[word]), say(word))) for word in words if verdicts[word])),
    )


def verdict_mark(row: CellRow) -> Mark:
    """The verdict of the last outcome; a cell without one is not calibrated, never a pass."""
    return mark_for(row.verdict) if row.verdict else mark_for("").worded(NOT_CALIBRATED)


def life_mark(row: CellRow) -> Mark:
    """The gravest of its condition and of its life, which a forecast may have shortened: never green beside a doubt."""
    return max(mark_for(row.life_state), condition_mark(row.condition), key=_rank)


def _rank(mark: Mark) -> int:
    return mark.rank


def where(row: CellRow) -> str:
    """Unit and position, or that the cell is not fitted."""
    lies = WHERE_WORDS.get(row.part.state, say(row.part.state))
    return strung(", ", (row.unit, row.position or say("position not recorded"))) if row.unit else lies


def columns(zone: ZoneInfo) -> tuple[Column[CellRow], ...]:
    """The columns of the list."""
    return (
        Column("serial", "Serial", lambda row: row.part.label),
        Column(
            "verdict", "Verdict", lambda row: verdict_mark(row).word, lambda row: -verdict_mark(row).rank,
            state=verdict_mark, tooltip=lambda row: said(row.finding, say("no finding is recorded")),
        ),
        Column("where", "Where", where),
        Column(
            "last", "Last valid day", lambda row: day(row.last_good_day),
            lambda row: day(row.last_good_day, "0"), state=life_mark,
            tooltip=lambda row: governed(row.basis, projected=row.projected),
        ),
        Column(
            "governs", "Set by", lambda row: spaced(row.basis, NONE),
            tooltip=lambda row: governed(row.basis, projected=row.projected),
        ),
        Column(
            "ages", "Age, days left", ages_words, least_left, gives_way=True,
            heading_tip="Age against each limit of the part type, and days left of it",
        ),
        Column("air", title="Air, mV", text=lambda row: figure(in_air(row), missing=NONE), sort_key=in_air,
            align_right=True),
        Column(
            "oxygen", title="Oxygen, mV", text=lambda row: figure(in_oxygen(row), missing=NONE), sort_key=in_oxygen,
            align_right=True,
        ),
        Column(
            "linearity", title="Linearity, %", text=linearity,
            sort_key=lambda row: row.outcome and row.outcome.linearity, align_right=True,
            heading_tip="Sensitivity in oxygen over sensitivity in air, with its expanded uncertainty (k = 2)",
        ),
        Column("trend", "Trend", trend_words, lambda row: row.outcome and row.outcome.linearity, trend=trend),
        Column(
            "forecast", "Forecast day", forecast_words, lambda row: row.forecast_day and row.forecast_day.isoformat(),
            tooltip=lambda row: strung(" ", filter(None, (row.forecast, row.sudden))),
            heading_tip="Last day on which the lower bound of its own trend meets a limit",
        ),
        Column("shared", "Shared in its head", lambda row: said(row.shared, NONE), gives_way=True),
        Column("calibrated", "Calibrated", lambda row: moment(calibrated_at(row), zone), calibrated_at),
        Column("lot", "Lot", lambda row: said(row.part.lot)),
        Column("type", "Part type", lambda row: row.part_type, shown=False),
        Column("made", "Made", lambda row: said(row.made), shown=False),
        Column("opened", "Opened", lambda row: said(row.opened), shown=False),
        Column("head", "Head", lambda row: said(row.head, NONE), shown=False),
        Column("finding", "Finding", lambda row: said(row.finding, NONE), shown=False),
    )  # fmt: skip


def in_air(row: CellRow) -> float | None:
    """Normalised mV in air."""
    return row.outcome and row.outcome.air_mv


def in_oxygen(row: CellRow) -> float | None:
    """Normalised mV in oxygen."""
    return row.outcome and row.outcome.oxygen_mv


def calibrated_at(row: CellRow) -> datetime | None:
    """When it was last calibrated where it sits."""
    return row.outcome and row.outcome.at


def ages_words(row: CellRow) -> str:
    """'opened 61, 304 left; made 90, 450 left': each limit with the age against it."""
    known = (
        say(
            "{basis} {age}, {left}",
            basis=spaced(age.basis),
            age=say("age not known") if age.age_days is None else age.age_days,
            left=say("left not known") if age.days_left is None else say("{days} left", days=age.days_left),
        )
        for age in row.ages
    )
    return strung("; ", known) or say("no limit")


def least_left(row: CellRow) -> int:
    """Fewest days left of its limits, for sorting; what is not known comes first."""
    return min((-100_000 if age.days_left is None else age.days_left for age in row.ages), default=100_000)


def forecast_words(row: CellRow) -> str:
    """The forecast's day, or that there is none; why stands in the tool tip."""
    return day(row.forecast_day, say("no forecast") if row.forecast.startswith("No forecast") else say("none in sight"))


def linearity(row: CellRow) -> str:
    """Linearity with its uncertainty, without the unit that stands in the heading."""
    if row.outcome is None or row.outcome.linearity is None:
        return NONE
    return plus_minus(row.outcome.linearity, row.outcome.expanded_u, "").strip()


def trend(row: CellRow) -> tuple[float, ...]:
    """Linearity over time, oldest first."""
    return tuple(value for _day, value in row.trend)


def trend_words(row: CellRow) -> str:
    """The trend as text, for copying: first and last linearity and how many there are."""
    values = trend(row)
    return (
        say("{values:.1f} to {values_2:.1f} % in {count}", values=values[0], values_2=values[-1], count=len(values))
        if values
        else NONE
    )


def describe(row: CellRow, zone: ZoneInfo) -> Detail:
    """What the list's own row says of a cell."""
    last = row.outcome
    return Detail(
        row.part.label,
        strung(", ", (row.part_type, where(row))),
        (
            condition_mark(row.condition),
            verdict_mark(row).worded(say("calibration: {state}", state=say(verdict_mark(row).word))),
        ),
        (
            Section("Condition", condition_facts(row.condition)),
            Section(
                "Last calibration",
                (
                    Fact("Finding", said(row.finding)),
                    Fact("Next step", said(last.next_step, NONE)),
                    Fact("In air", figure(last.air_mv, "mV")),
                    Fact("In oxygen", figure(last.oxygen_mv, "mV")),
                    Fact("Linearity", plus_minus(last.linearity, last.expanded_u, "%")),
                    Fact("Margin", figure(last.margin, "%")),
                    Fact("Verified up to", figure(last.verified_up_to_bar, "bar", 2)),
                    Fact("When", moment(last.at, zone)),
                )
                if last is not None
                else (),
                "Not calibrated where it sits: calibrate it before it is relied on.",
            ),
            Section(
                "Age",
                (
                    Fact(
                        "Last valid day", day(row.last_good_day), life_mark(row),
                        governed(row.basis, projected=row.projected),
                    ),
                    Fact("Forecast", forecast_words(row), note=strung(" ", filter(None, (row.forecast, row.sudden)))),
                    *(
                        Fact(spaced(age.basis), age.limit, note=age_words(age.age_days, age.days_left))
                        for age in row.ages
                    ),
                ),
            ),
            Section(
                "Where",
                (
                    Fact("Unit", row.unit, leads_to=PageKey("units", row.unit)) if row.unit else Fact("Unit",
                        say("none")),
                    Fact("Position", said(row.position, NONE)),
                    Fact("Head", said(row.head, NONE)),
                    Fact("Lot", said(row.part.lot)),
                    *((Fact("Shared in its head", row.shared, ADVISE.worded("shared cause"), SHARED),)
                      if row.shared else ()),
                ),
            ),
        ),
    )  # fmt: skip


def governed(basis: str | None, *, projected: bool = False) -> str:
    """Which limit governs a last good day, and that a forecast is only projected."""
    return say(
        "set by: {basis}{what}",
        basis=spaced(basis),
        what=say(", projected from its own calibrations") if projected else "",
    )


def age_words(age: int | None, left: int | None) -> str:
    """'412 days old, 31 days left'."""
    old = say("age not known") if age is None else say("{age} old", age=counted(age, "day"))
    if left is None:
        return strung(", ", (old, say("what is left is not known")))
    return strung(", ", (old, say("{days} left", days=left) if left >= 0 else say("{days} past", days=-left)))


def cell_detail(page: CellPage, zone: ZoneInfo, today: date) -> Detail:
    """Everything on one cell's page."""
    summary = describe(page.row, zone)
    return Detail(
        summary.title,
        summary.subtitle,
        (*summary.marks, life_mark(page.row).worded(say("life: {state}", state=say(life_mark(page.row).word)))),
        (
            *summary.parts,
            _lot(page.lot_mates),
            _calibrations(page.calibrations, zone),
            readings_table(page.renters, zone, say("No renter's log states a reading of this cell.")),
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
                    moment(line.outcome.at, zone),
                    line.outcome.verdict,
                    figure(line.outcome.air_mv, "mV"),
                    figure(line.outcome.oxygen_mv, "mV"),
                    plus_minus(line.outcome.linearity, line.outcome.expanded_u, "%"),
                    strung(", ", (line.outcome.unit, line.outcome.position)),
                    line.outcome.finding,
                ),
                mark_for(line.outcome.verdict),
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
                strung(", ", filter(None, (mate.unit, mate.position))) if mate.unit else spaced(mate.part.state),
                mate.part.label,
                mark_for(mate.verdict) if mate.verdict else None,
                leads_to=PageKey("cells", str(mate.part.part_id)),
            )
            for mate in mates
        ),
        "No other cell of its lot is here.",
    )
