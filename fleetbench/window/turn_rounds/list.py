"""The list of units whose turn-round card is open, with the bath of several loops and the look that finds one dry."""

from collections.abc import Sequence
from functools import partial
from zoneinfo import ZoneInfo

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QWidget

from fleetbench.window.detail.detail import Detail, Fact, Section
from fleetbench.window.lists.list_page import Choice, ListPage, ListSpec
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import Emptiness, plain_button
from fleetbench.window.look.marks import ADVISE, STOP, Mark
from fleetbench.window.look.words import NONE, counted, moment, said
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import Place
from fleetbench.window.turn_rounds.acts import BathDialog
from fleetbench.workshop.turn_rounds.baths import Bathed, mark_dry
from fleetbench.workshop.turn_rounds.page import TurnRoundRow, list_turn_rounds

EMPTY = Emptiness(
    "No turn-round is open",
    "A unit that is received at the hire desk, key R there, stands here with its card until the card is signed.",
    "valves",
)
SIBLINGS = (("Tickets", Place("tickets")), ("Turn-rounds", Place("turn_rounds")))


def state_of(row: TurnRoundRow) -> Mark:
    """Flooded, hanging to dry, or open."""
    if row.flooded:
        return STOP.worded("flooded")
    return ADVISE.worded("hangs to dry" if row.dry_from is not None else "open")


def columns(zone: ZoneInfo) -> tuple[Column[TurnRoundRow], ...]:
    """The columns of the list."""
    return (
        Column("unit", "Unit", lambda row: row.unit),
        Column("state", "Card", lambda row: state_of(row).word, lambda row: -state_of(row).rank, state=state_of),
        Column("done", "Settled", lambda row: f"{row.done} of {row.lines}", lambda row: row.done, align_right=True),
        Column("next", "Next", lambda row: row.next, gives_way=True),
        Column("since", "Since", lambda row: moment(row.opened_at, zone), lambda row: row.opened_at),
        Column("dry", "Hangs until", lambda row: moment(row.dry_from, zone, NONE), _dries),
        Column("booking", "Booking", lambda row: said(row.booking, NONE)),
        Column("ticket", "Ticket", lambda row: said(row.ticket, NONE)),
    )


def _dries(row: TurnRoundRow) -> float:
    return row.dry_from.timestamp() if row.dry_from is not None else 0.0


def describe(row: TurnRoundRow, zone: ZoneInfo) -> Detail:
    """What the list's own row says of a card."""
    return Detail(
        row.unit,
        f"back since {moment(row.opened_at, zone)}",
        (state_of(row),),
        (
            Section(
                "Turn-round",
                (
                    Fact("Next", row.next, leads_to=Place("turn_rounds", row.unit)),
                    Fact("Settled", f"{row.done} of {row.lines}"),
                    Fact("Hangs until", moment(row.dry_from, zone, NONE), note="at the least" if row.dry_from else ""),
                    Fact("Unit", row.unit, leads_to=Place("units", row.unit)),
                    Fact("Ticket", said(row.ticket, NONE),
                         leads_to=Place("ticket_work", row.ticket) if row.ticket else None),
                ),
            ),
        ),
    )  # fmt: skip


def sum_up(rows: Sequence[TurnRoundRow]) -> str:
    """'3 turn-rounds open, 1 of them after a flood, 2 loops hang to dry'."""
    floods = sum(row.flooded for row in rows)
    hang = sum(row.dry_from is not None for row in rows)
    flooded = f", {floods} of them after a flood" if floods else ""
    return f"{counted(len(rows), 'turn-round')} open{flooded}, {counted(hang, 'loop')} hang to dry"


class TurnRoundList(ListPage[TurnRoundRow]):
    """The list page with the bath of several loops, and the look that finds a loop dry.

    Signals:
        recorded: one line that says what was done.
    """

    recorded = Signal(str)

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        spec = ListSpec(
            "Turn-rounds",
            columns(context.zone),
            key=lambda row: row.unit,
            load=partial(list_turn_rounds, context.shop),
            describe=partial(describe, zone=context.zone),
            empty=EMPTY,
            sum_up=sum_up,
            place=lambda row: Place("turn_rounds", row.unit),
            choices=(
                Choice("flooded", lambda row: row.flooded, STOP.worded("flooded")),
                Choice("hangs to dry", lambda row: row.dry_from is not None, ADVISE.worded("hangs to dry")),
            ),
            sort_column="since",
            siblings=SIBLINGS,
        )
        super().__init__(context.theme, context.background, spec, parent)
        self._background, self._shop, self._zone = context.background, context.shop, context.zone
        self.dialog: BathDialog | None = None
        self.bath_button = plain_button(self.theme, "Bath…   B", "", self)
        self.dry_button = plain_button(self.theme, "Found dry   D", "", self)
        for widget in (self.bath_button, self.dry_button):
            self.heading.addWidget(widget)
        for key, button, act in (("B", self.bath_button, self.bath), ("D", self.dry_button, self.found_dry)):
            button.clicked.connect(act)
            shortcut = QShortcut(QKeySequence(key), self.table)
            shortcut.setContext(Qt.ShortcutContext.WidgetShortcut)
            shortcut.activated.connect(button.click)

    @Slot()
    def bath(self) -> None:
        """Ask for a bath of every loop that waits."""
        self.dialog = BathDialog(self.theme, self._background, self._shop, self._zone, "", self.window())
        self.dialog.done_with.connect(self._on_bathed)
        self.dialog.finished.connect(self._on_dialog_left)
        self.dialog.open()

    @Slot()
    def _on_dialog_left(self) -> None:
        self.window().activateWindow()
        self.table.setFocus()

    @Slot(object)
    def _on_bathed(self, done: Bathed) -> None:
        line = bathed_words(done, self._zone)
        self.banner.say_note(line)
        self.recorded.emit(line)
        self.refresh()

    @Slot()
    def found_dry(self) -> None:
        """Note that the chosen unit's loop was found dry."""
        row = self.table.currentIndex().row()
        if not 0 <= row < len(self.model.rows):
            self.banner.say_refused("unit: none is chosen; choose the unit whose loop was looked at")
            return
        tag, shop = self.model.rows[row].unit, self._shop
        job = self._background.run(lambda: mark_dry(shop, [tag]), self)
        job.succeeded.connect(partial(self._on_dry, tag))
        job.refused.connect(self.banner.say_refused)

    def _on_dry(self, tag: str, _value: object) -> None:
        line = f"The loop of {tag} was found dry."
        self.banner.say_note(line)
        self.recorded.emit(line)
        self.refresh()


def bathed_words(done: Bathed, zone: ZoneInfo) -> str:
    """What was recorded of a bath, in one line."""
    rinse = "" if done.rinsed else " The agent is still to be rinsed off."
    return (
        f"{', '.join(done.units)} disinfected in one bath; hang to dry until {moment(done.dry_from, zone)} at the "
        f"least.{rinse}"
    )
