"""The absorbent in stock: each container with kilograms left, when it runs out at the booked pace, and its use.

Use of absorbent by month and lot: a bar a month, its parts the lots, told apart by shade and by their names.

Absorbent: the containers as bought, how much is left in each, and when they run out.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QVBoxLayout, QWidget

from fleetbench.calc.core.doors import at as door
from fleetbench.calc.core.languages import say, shown, strung
from fleetbench.calc.core.measures import KILOGRAM
from fleetbench.calc.core.plausible import CONTAINER_MASS, COUNTED_MASS
from fleetbench.calc.core.verdict import due_state
from fleetbench.records.parts.reads import PartTypeRecord
from fleetbench.window.detail.detail import Detail, Fact, Section
from fleetbench.window.forms.form import NEW, Choices, Field, Form
from fleetbench.window.lists.act_bar import ActBar, ActList, ActSpec, at_any_time
from fleetbench.window.lists.list_page import ListSpec, QuickFilter
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import nothing_recorded, still_plot, text_label
from fleetbench.window.look.marks import ADVISE, OK, STOP, UNKNOWN, mark_for
from fleetbench.window.look.theme import GRID, Theme, font, put_font
from fleetbench.window.look.words import NONE, counted, day, figure, last_day, moment, number, said
from fleetbench.window.parts.stock import SIBLINGS
from fleetbench.window.places.forms import ask_correction
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.canisters.containers import (
    AbsorbentStock,
    ContainerOutlook,
    UseMonth,
    absorbent_choices,
    absorbent_stock,
    date_container,
    open_container,
    receive_container,
    stock_take,
)
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.lives import DUE_SOON_DAYS

SHADES = (0.95, 0.7, 0.48, 0.3)
_LEAST_NAMED_SHARE = 0.1


class UsePlot(QWidget):
    """Plots the kilograms packed a month; pyqtgraph is loaded with the first use shown."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._plot: Any = None
        self._use: tuple[UseMonth, ...] = ()
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        self._layout.setSpacing(0)
        self.summary = text_label("", "small", self)
        self.summary.setWordWrap(True)
        self._layout.addWidget(self.summary)
        self.setMinimumHeight(24 * GRID)
        self.setMaximumHeight(46 * GRID)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        theme.changed.connect(self._draw)

    @property
    def use(self) -> tuple[UseMonth, ...]:
        """What is drawn."""
        return self._use

    def show_use(self, use: Sequence[UseMonth]) -> None:
        """Draw this use, oldest month first; nothing is drawn again where it is the same."""
        as_before, self._use = tuple(use) == self._use, tuple(use)
        self.summary.setText(shown(use_words(self._use)))
        if not as_before:
            self._draw()

    def _made(self) -> Any:
        if self._plot is None:
            self._plot = still_plot(self)
            self._layout.addWidget(self._plot, 1)
        return self._plot

    @Slot()
    def _draw(self) -> None:
        if not self._use:
            return
        import pyqtgraph

        plot = self._made()
        ink, muted, ground = (self._theme.colour(name) for name in ("ink", "muted", "raised"))
        plot.setBackground(ground)
        plot.clear()
        months = sorted({each.month for each in self._use})
        lots = sorted({each.lot for each in self._use})
        heights = dict.fromkeys(months, 0.0)
        tallest = max(sum(each.kg for each in self._use if each.month == month) for month in months)
        shades = [shade(self._theme.colour("accent"), ground, each) for each in SHADES]
        bars: list[tuple[int, float, float, QColor]] = []
        names = []
        for each in sorted(self._use, key=lambda each: each.lot):
            place, foot, high = months.index(each.month), heights[each.month], KILOGRAM.shown(each.kg)
            brush, heights[each.month] = shades[lots.index(each.lot) % len(SHADES)], foot + high
            bars.append((place, foot, high, brush))
            if each.kg >= _LEAST_NAMED_SHARE * tallest:
                name = pyqtgraph.TextItem(each.lot, color=readable_on(brush, ink, ground), anchor=(0.5, 0.5))
                put_font(name, "small")
                name.setPos(place, foot + high / 2)
                names.append(name)
        x, y0, height, brushes = map(list, zip(*bars, strict=True))
        bar_item = pyqtgraph.BarGraphItem(x=x, y0=y0, height=height, brushes=brushes, width=0.72, pen=ground)
        for item in (bar_item, *names):  # what is added later lies above
            plot.addItem(item)
        bottom = plot.getAxis("bottom")
        bottom.setTicks([list(enumerate(months))])
        for name in ("bottom", "left"):
            axis = plot.getAxis(name)
            axis.setPen(muted)
            axis.setTextPen(muted)
            axis.setStyle(tickFont=font("small"))
        # pyqtgraph 0.14 writes 860 for 0.86 though told not to, unless no range at all is left to it.
        plot.getAxis("left").setLabel(shown(say("{kilogram} packed", kilogram=KILOGRAM)), siPrefixEnableRanges=())
        plot.setYRange(0, KILOGRAM.shown(tallest) * 1.08, padding=0)
        plot.setXRange(-0.6, max(len(months), 6) - 0.4, padding=0)


def use_words(use: Sequence[UseMonth]) -> str:
    """The sum in words, with what was not weighed said."""
    if not use:
        return say("Nothing was packed yet: use per month and lot is plotted here.")
    kg, packings = sum(each.kg for each in use), sum(each.packings for each in use)
    unweighed = sum(each.unweighed for each in use)
    words = say(
        "Use per month and lot, {month} to {month_2}: {kg} in {packings} fills",
        month=use[0].month,
        month_2=use[-1].month,
        kg=KILOGRAM.words(kg, 1),
        packings=packings,
    )
    return (
        say("{words}; {unweighed} were not weighed and count as full ones.", words=words, unweighed=unweighed)
        if unweighed
        else f"{words}."
    )


def shade(colour: QColor, ground: QColor, share: float) -> QColor:
    """The colour thinned towards its ground."""
    return QColor(
        *(round(share * mine + (1 - share) * under) for mine, under in zip(_parts(colour), _parts(ground), strict=True))
    )


def readable_on(brush: QColor, ink: QColor, ground: QColor) -> QColor:
    """Of ink and ground the one that differs more in lightness from what it stands on."""
    return max((ink, ground), key=lambda each: abs(each.lightness() - brush.lightness()))


def _parts(colour: QColor) -> tuple[int, int, int]:
    return colour.red(), colour.green(), colour.blue()


EMPTY = nothing_recorded(
    "No absorbent is recorded yet", "canisters", "Containers of absorbent stand here.", "receive", "Receive"
)


@dataclass(frozen=True, slots=True)
class ContainerEntry:
    """A container among all that are in stock."""

    row: ContainerOutlook
    stock: AbsorbentStock

    @property
    def state(self) -> str:
        """How its last valid day stands."""
        return due_state(self.row.container.last_good_day, self.stock.today, DUE_SOON_DAYS)

    @property
    def days_left(self) -> int | None:
        """Days to its last good day."""
        last = self.row.container.last_good_day
        return None if last is None else (last - self.stock.today).days


def receive_form(workplace: Workplace) -> Form:
    """Receives a container: which absorbent, lot, kilograms and the last valid day marked on it."""

    def absorbents() -> Mapping[str, Choices]:
        return {"code": [(_absorbent_words(each), each.code) for each in absorbent_choices(workplace)]}

    return Form(
        "Receive absorbent",
        act_words="Receive container",
        note="",
        fields=(
            Field("code", "Absorbent", "choice", wants="is missing; add it to the catalogue first",
                  nothing=say("No absorbent is in the catalogue; add one counted in kilograms first {what}.",
                      what=door('part type'))),
            Field("lot", "Lot"),
            Field("kg", "Net mass", "figure", unit=KILOGRAM, quantity=CONTAINER_MASS, expects=NEW, beside=True,
                  spoken="net mass", wants="is missing; enter the net mass of absorbent"),
            Field("last_good_day", "Last valid day, as marked", "day", "2028-01-31", spoken="last valid day",
                  beside=True),
        ),
        act=partial(receive_container, workplace),
        load=absorbents,
        first="lot",
    )  # fmt: skip


def _absorbent_words(each: PartTypeRecord) -> str:
    told = each.grade is not None and f"grade {each.grade}" in each.name
    return each.name if told else say("{each}, grade {value}", each=each.name, value=each.grade or "not known")


def count_form(workplace: Workplace, row: ContainerOutlook) -> Form:
    """Corrects a container's kilograms by what was weighed, with the reason."""
    left = row.container.left_kg
    return Form(
        say("Stock-take of lot {lot}", lot=row.container.lot),
        act_words="Correct count",
        note=say("{left_kg} on record; the count on record stays in the journal.",
            left_kg=KILOGRAM.words(row.container.left_kg, 3)),
        fields=(
            Field("counted_kg", "Counted", "figure", unit=KILOGRAM, spoken="counted", quantity=COUNTED_MASS,
                  expects={"last": left, "usual": (0.0, left), "known_as": say("on record")},
                  wants=say("is missing; weigh what is left and enter {kilogram}", kilogram=KILOGRAM.word)),
            Field("reason", "Why", hint="for instance: weighed, spilled, discarded", spoken="reason", beside=True),
        ),
        act=partial(stock_take, workplace, row.container.container_id),
    )  # fmt: skip


def date_form(workplace: Workplace, row: ContainerOutlook) -> Form:
    """Enters the last valid day marked on a container."""
    return Form(
        say("Last valid day of lot {lot}", lot=row.container.lot),
        act_words="Save day",
        note="As marked on the container. A day that is known moves only to an earlier one.",
        fields=(Field("last_good_day", "Last valid day", "day", "2028-01-31", wants="is missing; enter 2028-01-31"),),
        act=partial(date_container, workplace, row.container.container_id),
    )


def _sealed(entry: ContainerEntry | None) -> bool:
    return entry is not None and entry.row.container.opened_at is None


def _said(words: str, entry: ContainerEntry, _value: object) -> str:
    return say(str(words), lot=entry.row.container.lot)


def _open(bar: ActBar, entry: ContainerEntry) -> None:
    said_of = partial(bar.say, partial(_said, say("The container of lot {lot} was opened."), entry))
    bar.run(partial(open_container, bar.workplace, entry.row.container.container_id), said_of)


ACTS = (
    ActSpec("receive", "Receive", "N", "add", "receive absorbent", at_any_time,
            lambda bar, _row: receive_form(bar.workplace), "Received."),
    ActSpec("open_one", "Open", "O", act="open container", needs=_sealed, form=_open),
    ActSpec("count", "Stock-take", "Shift+S", "take stock", "stock-take",
            form=lambda bar, entry: count_form(bar.workplace, entry.row),
            said=partial(_said, say("The count of lot {lot} was corrected."))),
    ActSpec("correct", "Correct the container", "F4", "correct", "correct stock record",
            form=lambda bar, row: ask_correction(bar, "containers", row.container_id)),
    ActSpec("date_one", "Last valid day", "Shift+D", act="date container",
            form=lambda bar, entry: date_form(bar.workplace, entry.row),
            said=partial(_said, say("The last valid day of lot {lot} was entered."))),
)  # fmt: skip


class ContainerList(ActList[ContainerEntry]):
    """The list page with its acts above the rows and the plot of use below."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        super().__init__(context, _spec(context), ACTS, parent)
        self.pace = text_label("", "body", self)
        self.plot = UsePlot(context.theme, self)
        self.content.insertWidget(3, self.pace)
        self.content.addWidget(self.plot)
        self.rows_shown.connect(self._show_use)

    @Slot(int)
    def _show_use(self, _count: int) -> None:
        if self.model.rows:
            stock = self.model.row_at(0).stock
            self.pace.setText(shown(pace_words(stock)))
            self.plot.show_use(stock.use)
        self.plot.setVisible(self.model.total > 0)


def pace_words(stock: AbsorbentStock) -> str:
    """The booked pace of each grade, and where it cannot be told."""
    if not stock.pace_kg_a_day:
        return say("Nothing is booked: no day can be forecast on which a container is empty.")
    said_of = (
        say("grade {grade}: {pace} a day", grade=grade or say("not known"), pace=KILOGRAM.words(pace, 2))
        if pace is not None
        else say("grade {grade}: a canister type states no full mass, so not known", grade=grade or say("not known"))
        for grade, pace in sorted(stock.pace_kg_a_day.items())
    )
    return say("Booked pace over 90 days, a fill for each diving day: {said_of}.", said_of=strung("; ", said_of))


def describe(entry: ContainerEntry, zone: ZoneInfo) -> Detail:
    """What the list's own row says of a container."""
    row = entry.row
    return Detail(
        say("Lot {lot}", lot=row.container.lot),
        row.container.part_type,
        (mark_for(entry.state),),
        (
            Section(
                "Container",
                (
                    Fact(
                        "Left",
                        figure(row.container.left_kg, KILOGRAM, 2),
                        note=say("of {received_kg} received", received_kg=KILOGRAM.words(row.container.received_kg, 1)),
                    ),
                    Fact("Empty on", empty_words(entry)),
                    Fact("Usable until", day(entry.row.usable_until)),
                    Fact("Last valid day", last_day(row.container.last_good_day, entry.days_left)),
                    Fact("Opened", moment(row.container.opened_at, zone, say("not opened"))),
                    Fact("Counted last", said(row.counted, say("never"))),
                    Fact("Place", said(row.container.place)),
                ),
            ),
        ),
    )


def empty_words(entry: ContainerEntry) -> str:
    """The day on which it is empty at the booked pace, or why none is told."""
    if entry.row.ended:
        return say("not usable: {ended}", ended=entry.row.ended)
    if entry.row.empty_on is not None:
        return day(entry.row.empty_on)
    if not entry.stock.pace_kg_a_day.get(entry.row.container.grade or ""):
        return say("nothing booked")
    return say(
        "{wasted_kg} left over on {usable_until}",
        wasted_kg=KILOGRAM.words(entry.row.wasted_kg, 2),
        usable_until=day(entry.row.usable_until),
    )


def columns(zone: ZoneInfo) -> tuple[Column[ContainerEntry], ...]:
    """The columns of the list."""
    return (
        Column("lot", "Lot", lambda entry: entry.row.container.lot),
        Column("left", title=say("Left, {kilogram}", kilogram=KILOGRAM),
            text=lambda entry: number(entry.row.container.left_kg,
            KILOGRAM, 2),
               sort_key=lambda entry: entry.row.container.left_kg, align_right=True),
        Column("empty", "Empty on", empty_words, lambda entry: entry.row.empty_on,
               heading_tip="The day whose use empties it at the booked pace, one container after the other"),
        Column("last", "Last valid day", lambda entry: day(entry.row.container.last_good_day),
               lambda entry: day(entry.row.container.last_good_day, "0"), state=lambda entry: mark_for(entry.state)),
        Column("opened", "Opened", lambda entry: moment(entry.row.container.opened_at, zone, say("not opened")),
               lambda entry: entry.row.container.opened_at),
        Column("grade", "Grade", lambda entry: said(entry.row.container.grade), shown=False),
        Column("type", "Part type", lambda entry: entry.row.container.part_type, gives_way=True),
        Column("place", "Place", lambda entry: said(entry.row.container.place, NONE)),
    )  # fmt: skip


def sum_up(entries: object) -> str:
    """'12 containers, 86.5 kg left'."""
    assert isinstance(entries, tuple | list)
    left = sum(entry.row.container.left_kg for entry in entries)
    return say("{count}, {left} left", count=counted(len(entries), "container"), left=KILOGRAM.words(left, 1))


def _spec(context: PageContext) -> ListSpec[ContainerEntry]:
    def load() -> tuple[ContainerEntry, ...]:
        stock = absorbent_stock(context.workplace)
        return tuple(ContainerEntry(row, stock) for row in stock.containers)

    return ListSpec(
        "Absorbent",
        columns(context.zone),
        key=lambda entry: str(entry.row.container.container_id),
        load=load,
        describe=partial(describe, zone=context.zone),
        empty=EMPTY,
        sum_up=sum_up,
        choices=(
            QuickFilter("past", lambda entry: mark_for(entry.state).rank == STOP.rank, STOP),
            QuickFilter("due soon", lambda entry: mark_for(entry.state).rank == ADVISE.rank, ADVISE),
            QuickFilter("not known", lambda entry: entry.row.container.last_good_day is None, UNKNOWN),
            QuickFilter("usable", lambda entry: not entry.row.ended, OK),
            QuickFilter("sealed", lambda entry: entry.row.container.opened_at is None),
        ),
        siblings=SIBLINGS,
        sort_column="empty",
    )


def list_page(context: PageContext) -> ContainerList:
    """The list of containers."""
    return ContainerList(context)
