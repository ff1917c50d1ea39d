"""Use and cost: days promised, out, fit and lost, work and parts by unit and by type, over any span of days.

Kinds of day are told apart in the plot by pattern and by their order from below; colour only adds to that.
"""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import accumulate
from pathlib import Path
from typing import Any

from PySide6.QtCore import QModelIndex, Qt, Signal, Slot
from PySide6.QtGui import QBrush
from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import capital, say, shown, strung, worded
from fleetbench.calc.core.measures import KILOGRAM
from fleetbench.calc.earnings.days import WHOLE, DayState, Keep, OwnFigures, UseLine, by_cause
from fleetbench.window.cells.plots import PlotCard
from fleetbench.window.detail.detail import Detail, Fact, Line, Section, Table
from fleetbench.window.detail.export_row import DayField, ExportRow
from fleetbench.window.forms.form import Field, Form
from fleetbench.window.forms.long_work import LongWork
from fleetbench.window.hires.list import SIBLINGS
from fleetbench.window.lists.act_bar import ActBar, ActSpec, at_any_time
from fleetbench.window.lists.list_page import ListPage, ListSpec, QuickFilter
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import Emptiness, lead_button, text_label
from fleetbench.window.look.flow import FlowLayout
from fleetbench.window.look.marks import ADVISE, OK, UNKNOWN, Mark
from fleetbench.window.look.theme import GRID, Theme
from fleetbench.window.look.words import NONE, counted, figure, in_currency
from fleetbench.window.shell.background import Progress
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.earnings.report import EarningsReport, best_words, earnings, season, set_own_figures
from fleetbench.workshop.hires.booking import booking_choices

ORDER: tuple[tuple[DayState, str, Qt.BrushStyle, str], ...] = (
    (DayState.OUT, "ink", Qt.BrushStyle.SolidPattern, "filled"),
    (DayState.FIT, "muted", Qt.BrushStyle.Dense6Pattern, "dotted"),
    (DayState.WORK, "ink", Qt.BrushStyle.FDiagPattern, "hatched"),
    (DayState.LOST, "ink", Qt.BrushStyle.DiagCrossPattern, "crossed"),
    (DayState.UNKNOWN, "muted", Qt.BrushStyle.NoBrush, "empty"),
)
"""From below upwards: kind of day, colour, pattern, and the pattern's name."""

_MOST_NAMED = 40
_PLOT_HEIGHT = 26 * GRID


class DaysPlot(PlotCard):
    """A bar a unit, the days of its span stacked by what they were."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        patterns = strung(", ", (strung(" ", (say(state.value), word)) for state, _, _, word in ORDER))
        super().__init__(theme, say("Days of each unit"), say("From below: {patterns}.", patterns=patterns), parent)
        self._report: EarningsReport | None = None

    def show_report(self, report: EarningsReport) -> None:
        """Show the days of its units."""
        self._report = report
        self._draw()

    @Slot()
    def _draw(self) -> None:
        if self._report is None:
            return
        # pyqtgraph is slow to import; only a report that is shown needs it
        import pyqtgraph

        units = self._report.units
        plot = self._cleared("days", "")
        plot.setFixedHeight(_PLOT_HEIGHT)
        for number, unit in enumerate(units):
            tops = [0, *accumulate(unit.days[state] for state, *_ in ORDER)]
            for (state, colour, pattern, _), below in zip(ORDER, tops, strict=False):
                if unit.days[state]:
                    plot.addItem(
                        pyqtgraph.BarGraphItem(
                            x=[number], y0=[below], height=[unit.days[state]], width=0.7,
                            brush=QBrush(self._theme.colour(colour), pattern), pen=self._theme.colour("muted"),
                        )
                    )  # fmt: skip
        step = 1 + len(units) // _MOST_NAMED
        plot.getAxis("bottom").setTicks([[(n, each.name) for n, each in enumerate(units) if n % step == 0]])
        plot.setXRange(-0.6, max(0, len(units) - 0.4), padding=0)


TITLE = say("Use and cost")
EMPTY = Emptiness(
    "No days are judged yet", "Choose a first and a last day, then press Judge the days.",
    "hires", "judge", "Judge the days",
)  # fmt: skip
MARKS = {Keep.MORE: ADVISE, Keep.LESS: OK, Keep.NOT_KNOWN: UNKNOWN, Keep.NOT_STATED: UNKNOWN}


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the list, with the whole answer that it is of."""

    line: UseLine
    report: EarningsReport

    @property
    def is_unit(self) -> bool:
        """Whether it is one unit, not a type or all of them."""
        return self.line.name in self.report.keep


def list_page(context: PageContext) -> "EarningsPage":
    """The page."""
    return EarningsPage(context)


def rows_of(report: EarningsReport | None) -> tuple[Row, ...]:
    """All units, then each type, then each unit."""
    return () if report is None else tuple(Row(each, report) for each in (*report.types, *report.units))


class SpanBar(QWidget):
    """The span of days and what judges it; an empty list begins with its act.

    Signals:
        judge_wanted: its act was asked for.
    """

    judge_wanted = Signal()
    specs = ("judge",)

    def start(self, _name: str) -> None:
        """Ask for its act."""
        self.judge_wanted.emit()


class EarningsPage(ListPage[Row]):
    """The list with the span of days above and the days of each unit as a plot below; judging can be cancelled."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        self.report: EarningsReport | None = None
        super().__init__(context.theme, context.background, _spec(context, self), parent)
        self._workplace, self._background = context.workplace, context.background
        self.bench = ActBar(context, ACTS[1:], self.table, self)
        self.exports = ExportRow(
            context.theme, context.background, "use-and-cost", (".pdf", ".xlsx"), self._writer, self
        )
        self.plot = DaysPlot(context.theme, self)
        self._build_span()
        self.told_best = text_label("", "body", self)
        self.told_best.setWordWrap(True)
        self.content.insertWidget(2, self._span)
        self.content.insertWidget(3, self.told_best)
        self.content.addWidget(self.plot)
        for signal in (self.exports.written, self.bench.changed):
            signal.connect(self.banner.say_note)
        for signal in (self.exports.refused, self.bench.refused):
            signal.connect(self.banner.say_refused)
        self.bench.changed.connect(self.judge)
        self.table.selectionModel().currentRowChanged.connect(self._on_chosen)
        self._show_state()

    def _build_span(self) -> None:
        first, last = season(self._workplace.today())
        self.first_field, self.last_field = (
            DayField(say("first day"), first, self),
            DayField(say("last day"), last, self),
        )
        self.judge_button = lead_button(self.theme, ACTS[0].text, "", self)
        self.work = LongWork(self.theme, self._background, self.banner, self)
        self._span = SpanBar(self)
        line = FlowLayout(self._span)
        for words, field in (("From", self.first_field), ("through", self.last_field)):
            line.addWidget(text_label(worded(words), "label", self))
            line.addWidget(field)
        for widget in (self.judge_button, self.work, self.bench, self.exports):
            line.addWidget(widget)
        self._span.judge_wanted.connect(self.judge)
        self.judge_button.clicked.connect(self.judge)
        self.work.changed.connect(self._show_state)

    def focus_first(self) -> None:
        """Put the keyboard on the rows, or on the act that makes them."""
        if self.model.total:
            super().focus_first()
        else:
            self.judge_button.setFocus()

    @Slot()
    def judge(self) -> None:
        """Judge every day of the span, with progress; it can be cancelled."""
        workplace = self._workplace
        first, last = self.first_field.day, self.last_field.day

        def work(progress: Progress) -> EarningsReport:
            return earnings(workplace, first, last, progress.share)

        self.work.start(work, self._on_judged)

    @Slot(object)
    def _on_judged(self, report: EarningsReport) -> None:
        self.report = report
        self.told_best.setText(shown(best_words(report)))
        self.plot.show_report(report)
        self.refresh()
        self.table.setFocus()

    @Slot(QModelIndex, QModelIndex)
    def _on_chosen(self, current: QModelIndex, _before: QModelIndex) -> None:
        self.bench.choose(self.model.row_at(current.row()) if current.isValid() else None)

    def _show_state(self) -> None:
        busy = self.work.is_busy
        self.judge_button.setVisible(not busy)
        if busy:
            self.work.cancel_button.setFocus()
        shown = self.report is not None
        self.exports.setEnabled(shown)
        self.plot.setVisible(shown)
        self.told_best.setVisible(shown)

    def _writer(self) -> Callable[[Path], object]:
        report, workplace = self.report, self._workplace

        def write(path: Path) -> None:
            # reportlab and openpyxl are slow to import; only printing and saving wait for them
            from fleetbench.printing import print_earnings

            assert report is not None
            print_earnings(workplace, report, path)

        return write


def _figures_form(bar: ActBar, row: Row | None) -> Form:
    """Asks what another unit of a type costs, for how many years, and the income of a hire day."""
    currency = bar.context.currency
    kinds = partial(_types, bar.workplace)
    return Form(
        "Figures of a unit type",
        act_words="Save the figures",
        note="Your centre's own figures. Without all three nothing is said of keeping a unit. "
        "Empty leaves one as it is.",
        fields=(
            Field("unit_type", "Unit type", "choice", wants="choose one",
                  default=row.line.unit_type if row is not None and row.line.name != WHOLE else None),
            Field("price", in_currency(say("Price of another unit"), currency), "figure"),
            Field("years", "Years it is kept", "figure"),
            Field("a_day", in_currency(say("Income of a hire day"), currency), "figure"),
        ),
        act=partial(_state, bar.workplace),
        load=kinds,
        first="price",
    )  # fmt: skip


def _types(workplace: Workplace) -> Mapping[str, Sequence[tuple[Any, ...]]]:
    return {"unit_type": [(each.name, each.name) for each in booking_choices(workplace) if each.units]}


def _state(
    workplace: Workplace, *, unit_type: str, price: float | None, years: float | None, a_day: float | None
) -> str:
    set_own_figures(workplace, unit_type, OwnFigures(price, years, a_day))
    return unit_type


ACTS = (
    ActSpec("judge", "Judge the days"),
    ActSpec("figures", "Figures of a type", act="set unit figures", needs=at_any_time, form=_figures_form,
            said=lambda _row, kind: say("The figures of {kind} are saved.", kind=kind)),
)  # fmt: skip


def percent(span: tuple[float, float] | None) -> str:
    """'62 to 81 %', '62 %' where both ends are the same, and a dash for nothing."""
    if span is None:
        return NONE
    least, most = (f"{100 * each:.0f}" for each in span)
    return f"{least} %" if least == most else say("{least} to {most} %", least=least, most=most)


def _days(state: DayState) -> Column[Row]:
    return Column(
        state.name.lower(),
        capital(SHORT.get(state, state)),
        lambda row: str(row.line.days[state]),
        lambda row: row.line.days[state],
        align_right=True,
        heading_tip=HEADINGS[state],
        shown=state not in (DayState.WORK, DayState.UNKNOWN),  # the detail has them, and the share is a span
    )


SHORT = {DayState.FIT: "fit", DayState.WORK: "waiting"}
HEADINGS = {
    DayState.OUT: say("Days with a diver, the days of leaving and return among them"),
    DayState.FIT: say("Days on which the unit could have gone out and did not"),
    DayState.WORK: say("Days on which only ordinary bench work stood against it"),
    DayState.LOST: say("Days on which a fault, a hold, an end of life or an absence stood against it"),
    DayState.UNKNOWN: say("Days of which the records do not say enough"),
    DayState.NOT_THERE: say("Days before it came into service or after it was retired"),
}


def _keep_mark(row: Row) -> Mark | None:
    return MARKS[row.report.keep[row.line.name].keep] if row.is_unit else None


def _keep_words(row: Row) -> str:
    return row.report.keep[row.line.name].keep.value if row.is_unit else ""


COLUMNS: tuple[Column[Row], ...] = (
    Column("name", "Unit or type", lambda row: row.line.name,
           lambda row: (row.is_unit, row.line.name != WHOLE, row.line.name)),
    Column("promised", "Promised", lambda row: str(row.line.promised), lambda row: row.line.promised, align_right=True,
           shown=False),
    *(_days(state) for state in (DayState.OUT, DayState.FIT, DayState.WORK, DayState.LOST, DayState.UNKNOWN)),
    Column("available", "Available", lambda row: percent(row.line.availability), lambda row: row.line.availability,
           align_right=True, heading_tip="Days out or fit, of all in service; a span where days are not known"),
    Column("minutes", "Bench min", lambda row: f"{row.line.spent.bench_minutes:.0f}",
           lambda row: row.line.spent.bench_minutes, align_right=True, shown=False,
           heading_tip="Minutes recorded under tickets"),
    Column("parts", "Parts", lambda row: f"{row.line.spent.money:,.2f}", lambda row: row.line.spent.money,
           align_right=True, heading_tip="Price of parts that took the place of another"),
    Column("day", "A hire day", lambda row: figure(row.line.a_hire_day(row.line.spent.money), "", 2, NONE),
           lambda row: row.line.a_hire_day(row.line.spent.money), align_right=True, shown=False,
           heading_tip="Parts for each day out"),
    Column("hour", "A dive hour", lambda row: figure(row.line.a_dive_hour(row.line.spent.money), "", 2, NONE),
           lambda row: row.line.a_dive_hour(row.line.spent.money), align_right=True, shown=False,
           heading_tip="Parts for each hour on the loop"),
    Column("use", "Used", lambda row: percent(None if row.line.use is None else (row.line.use, row.line.use)),
           lambda row: row.line.use, align_right=True, shown=False, heading_tip="Days out, of all in service"),
    Column("keep", "Keeping it", _keep_words, state=_keep_mark),
)  # fmt: skip
MONEY = ("parts", "day", "hour")


def _spec(context: PageContext, page: EarningsPage) -> ListSpec[Row]:
    return ListSpec(
        TITLE,
        tuple(
            replace(each, title=in_currency(each.title, context.currency)) if each.key in MONEY else each
            for each in COLUMNS
        ),
        key=lambda row: row.line.name,
        load=lambda: rows_of(page.report),
        describe=partial(describe, currency=context.currency),
        empty=EMPTY,
        sum_up=sum_up,
        place=lambda row: PageKey("units", row.line.name) if row.is_unit else None,
        choices=(
            QuickFilter("units", lambda row: row.is_unit),
            QuickFilter("types", lambda row: not row.is_unit),
            QuickFilter(Keep.MORE.value, lambda row: row.is_unit and row.report.keep[row.line.name].keep is Keep.MORE,
                        ADVISE),
        ),
        siblings=SIBLINGS,
        saved_as=(".csv",),
    )  # fmt: skip


def sum_up(rows: Sequence[Row]) -> str:
    """'2026-06-03 to 2026-11-29: 14 units, 32 % used, available 41 to 61 %'."""
    report = rows[0].report
    whole = report.types[0]
    used = say(", {what:.0f} % used", what=100 * whole.use) if whole.use is not None else ""
    span = say("{first} to {last}", first=report.first.isoformat(), last=report.last.isoformat())
    return say(
        "{span}: {units}{used}, available {availability}",
        span=span,
        units=counted(whole.units, "unit"),
        used=used,
        availability=percent(whole.availability),
    )


def describe(row: Row, currency: str = "") -> Detail:
    """What the report says of a unit, of a type, or of all."""
    line, report = row.line, row.report
    days = [each for each in report.unit_days if line.name in (WHOLE, each.unit, each.unit_type)]
    causes = by_cause(days) if line.name != WHOLE else report.causes
    sections: list[Section | Table] = [
        Section("Days", _day_facts(line)),
        Section("Work and parts", _spent_facts(line, currency)),
    ]
    if row.is_unit:
        sections.append(Section("Keeping it", _keep_facts(row, currency)))
    sections.append(
        Table(
            "What stopped it" if row.is_unit else "What stopped them",
            ("Cause", "Days", "Alone", "Wanted", "Not known"),
            tuple(
                Line((each.what, *map(_or_dash, (each.days, each.alone, each.wanted, each.unknown)))) for each in causes
            ),
            "Nothing stood against it, as far as the records go.",
            column=0,
        )
    )
    if not row.is_unit and line.name == WHOLE:
        sections.append(_savings(report))
    marks = (MARKS[report.keep[line.name].keep].worded(_keep_words(row)),) if row.is_unit else ()
    under = line.unit_type if row.is_unit else counted(line.units, "unit")
    return Detail(line.name, under, marks, tuple(sections))


def _or_dash(count: int) -> str:
    return str(count) if count else NONE


def _day_facts(line: UseLine) -> tuple[Fact, ...]:
    counted_days = Counter(line.days)
    return (
        Fact("Promised", counted(line.promised, "day"), note=say("{kept} of them out", kept=line.kept)),
        *(Fact(capital(state), counted(counted_days[state], "day")) for state in DayState
          if counted_days[state] or state is not DayState.NOT_THERE),
        Fact("Down while wanted", counted(line.lost_wanted, "day"),
             note=say("lost or waiting while it was promised or a booking lacked a unit")),
        Fact("Available", percent(line.availability),
             note=say("from counting every day not known as down, to counting it as up")
             if counted_days[DayState.UNKNOWN] else ""),
    )  # fmt: skip


def _spent_facts(line: UseLine, currency: str) -> tuple[Fact, ...]:
    spent = line.spent
    untimed = say("{untimed} without minutes", untimed=counted(spent.untimed, "signed ticket")) if spent.untimed else ""
    unpriced = say("{unpriced} without a price", unpriced=counted(spent.unpriced, "part")) if spent.unpriced else ""
    unweighed = (
        say("{unweighed} without mass or price", unweighed=counted(spent.unweighed, "fill")) if spent.unweighed else ""
    )
    hours = f"{spent.dive_minutes / 60:.1f} h"
    return (
        Fact("On the loop", hours, note=counted(spent.dives, "dive")),
        Fact("Bench minutes", say("{bench_minutes:.0f} min", bench_minutes=spent.bench_minutes), note=untimed),
        Fact("  a hire day", figure(line.a_hire_day(spent.bench_minutes), "min", 1, NONE)),
        Fact("  a dive hour", figure(line.a_dive_hour(spent.bench_minutes), "min", 1, NONE)),
        Fact("Parts", counted(spent.priced + spent.unpriced, "part"), note=unpriced),
        Fact("  in all", figure(spent.money, currency, 2, NONE)),
        Fact("  a hire day", figure(line.a_hire_day(spent.money), currency, 2, NONE)),
        Fact("  a dive hour", figure(line.a_dive_hour(spent.money), currency, 2, NONE)),
        Fact("Absorbent", KILOGRAM.words(spent.absorbent_kg, 1), note=unweighed),
        Fact("  in all", figure(spent.absorbent_money, currency, 2, NONE)),
    )


def _keep_facts(row: Row, currency: str) -> tuple[Fact, ...]:
    keep, own = row.report.keep[row.line.name], row.report.own[row.line.unit_type]
    return (
        Fact("Verdict", say(keep.keep.value), MARKS[keep.keep], keep.why),
        Fact(
            "Keeping it, a year",
            figure(keep.a_year, currency, 2, NONE),
            note=say("parts, and hire days lost while wanted"),
        ),
        Fact(
            "Another, a year", figure(keep.another, currency, 2, NONE), note=say("its price over the years it is kept")
        ),
        Fact("Price, as the centre states", figure(own.price, currency, 2, say("not stated"))),
        Fact("Years, as the centre states", figure(own.years, "", 1, say("not stated"))),
        Fact("Hire day, as the centre states", figure(own.a_day, currency, 2, say("not stated"))),
    )


def _savings(report: EarningsReport) -> Table:
    return Table(
        "What would have saved days",
        ("Means", "Against", "Days", "Wanted", "Where first"),
        tuple(
            Line(
                (
                    each.cure.means,
                    each.what,
                    str(each.least)
                    if each.least == each.most
                    else say("{least} to {most}", least=each.least, most=each.most),
                    _or_dash(each.wanted),
                    strung(", ", (each.times[0][0], each.times[0][1].isoformat())),
                )
            )
            for each in report.savings
        ),
        "No single repair or spare would have saved a day.",
        column=0,
    )
