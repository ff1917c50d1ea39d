"""What comes next under a ticket, with everything one key away, and the clocks that run."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from PySide6.QtCore import QTimer, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QWidget

from fleetbench.calc.people.permits import may, who_may
from fleetbench.window.forms.fields import StepCard
from fleetbench.window.look.buttons import lead_button, plain_button, quiet_button, text_label
from fleetbench.window.look.theme import CLOSE, Theme, font
from fleetbench.window.look.words import counted
from fleetbench.window.tickets.cards import nothing_against
from fleetbench.workshop.tickets.list import TimeLine
from fleetbench.workshop.tickets.page import TicketDesk

TICK_MS = 10_000
IN_A_ROW = 4
"""So many buttons stand beside each other in a small window."""

LARGE = 90
"""Letters up to which the next task is written large."""

WAYS = {
    "fit": ": key F2", "test": ": key F3 for valves and loop, F11 for other tests", "calibrate": ": key F12",
    "photograph": ": key F7",
}  # fmt: skip
"""The key that leads to what a task needs, by the way of its evidence."""

NEEDS = {
    "done": "task done", "fit": "fit part", "test": "bench test", "clock": "start work",
    "put_right": "put right finding", "photograph": "add photograph", "sign": "sign ticket",
}  # fmt: skip
"""What each button needs, by the name of an act."""


class NextCard(StepCard):
    """The next task in plain words, and a button with its key for all that is done under a ticket.

    Signals:
        wanted: the word of a button: done, fit, test, clock, put_right, photograph or sign.
    """

    wanted = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, "Next", parent)
        self.task = text_label("", "title", self)
        self.task.setWordWrap(True)
        self.needs = text_label("", "small", self)
        self.needs.setWordWrap(True)
        self.clocks = text_label("", "small", self)
        self.clocks.setWordWrap(True)
        self.buttons: dict[str, QPushButton] = {
            "done": lead_button(theme, "Done   F8", "", self),
            "clock": plain_button(theme, "Start the clock   F6", "", self),
            "fit": plain_button(theme, "Fit a part   F2", "", self),
            "test": plain_button(theme, "Valves and loop   F3", "", self),
            "photograph": plain_button(theme, "Photograph   F7", "", self),
            "put_right": quiet_button(theme, "Put right   F4", "", self),
            "sign": plain_button(theme, "Sign off   F9", "", self),
        }
        lines = (QHBoxLayout(), QHBoxLayout())
        for place, (word, button) in enumerate(self.buttons.items()):
            button.setObjectName(word)
            button.clicked.connect(self._on_clicked)
            lines[place >= IN_A_ROW].addWidget(button)
        self.body.addWidget(self.task)
        self.body.addWidget(self.needs)
        self.body.addWidget(self.clocks)
        for line in lines:
            line.setSpacing(CLOSE)
            line.addStretch(1)
            self.body.addLayout(line)
        self._times: tuple[TimeLine, ...] = ()
        self._read = (datetime.min, datetime.min)
        self._since = 0
        self._timer = QTimer(self)
        self._timer.setInterval(TICK_MS)
        self._timer.timeout.connect(self._on_tick)

    def show_desk(self, desk: TicketDesk) -> None:
        """Show what comes next, whose clock runs, and what whoever is at the bench may do."""
        waiting = [task for task in desk.page.tasks if task.state == "to do"]
        words = next_words(desk)
        self.task.setFont(font("title" if len(words) <= LARGE else "heading"))
        self.task.setText(words)
        lacks = "; ".join(waiting[0].missing) if waiting else ""
        self.needs.setText(f"{lacks[:1].upper()}{lacks[1:]}{WAYS.get(waiting[0].way, '')}" if lacks else "")
        self.needs.setVisible(bool(lacks))
        self._times = tuple(each for each in desk.page.times if each.minutes is None)
        mine = any(each.person == desk.person for each in self._times)
        self.buttons["clock"].setText(("Stop the clock" if mine else "Start the clock") + "   F6")
        slip = desk.slip
        self.buttons["put_right"].setVisible(slip is not None)
        self.buttons["put_right"].setToolTip("" if slip is None else f"{slip.kind}: {slip.said[:80]}")
        for word, button in self.buttons.items():
            self._allow(button, NEEDS[word], desk.role)
        self.buttons["done"].setEnabled(self.buttons["done"].isEnabled() and bool(waiting))
        self.buttons["sign"].setEnabled(self.buttons["sign"].isEnabled() and not desk.against)
        self._now, self._since = desk.now, 0
        self._say_clocks()
        if self._times:
            self._timer.start()
        else:
            self._timer.stop()
        self.setVisible(desk.is_open)

    def _allow(self, button: QPushButton, act: str, role: str | None) -> None:
        allowed = role is None or may(role, act)
        button.setEnabled(allowed)
        if not allowed:
            button.setToolTip(f"For a {' or '.join(who_may(act))}")
        elif button is not self.buttons["put_right"]:
            button.setToolTip("")

    def _say_clocks(self) -> None:
        now = self._now + timedelta(milliseconds=self._since)
        self.clocks.setText(clock_words(self._times, now))
        self.clocks.setVisible(bool(self._times))

    @Slot()
    def _on_tick(self) -> None:
        self._since += TICK_MS
        self._say_clocks()

    @Slot()
    def _on_clicked(self) -> None:
        self.wanted.emit(self.sender().objectName())


def next_words(desk: TicketDesk) -> str:
    """'1  Replace cell 2', or what the ticket waits for."""
    for task in desk.page.tasks:
        if task.state == "to do":
            more = sum(each.state == "to do" for each in desk.page.tasks) - 1
            return f"{task.ordinal}  {task.text}" + (f"   ({counted(more, 'task')} after it)" if more else "")
    if desk.against:
        return f"Every task is settled; {desk.against[0]}"
    words = nothing_against(desk)
    return words[0].upper() + words[1:]


def clock_words(times: Sequence[TimeLine], now: datetime) -> str:
    """'Tamsin Orrel at work for 12 min'."""
    said = (
        f"{each.person} at work for {max(0.0, (now - each.began_at).total_seconds() / 60):.0f} min" for each in times
    )
    return "; ".join(said)
