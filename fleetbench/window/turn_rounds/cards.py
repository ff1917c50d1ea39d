"""The parts of a turn-round's work sheet: what comes next, the lines in bench order, and what stands beside them."""

from collections.abc import Sequence
from zoneinfo import ZoneInfo

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.calc.core.verdict import WorkState
from fleetbench.calc.turn_rounds.card import Step
from fleetbench.window.forms.fields import StepCard, labelled
from fleetbench.window.look.buttons import for_bench, lead_button, plain_button, put_hint, quiet_button, text_label
from fleetbench.window.look.marks import ADVISE, NOTED, OK, STOP, UNKNOWN, mark_for
from fleetbench.window.look.state_delegate import MarkLabel
from fleetbench.window.look.theme import APART, CLOSE, GRID, TIGHT, Theme
from fleetbench.window.look.words import counted, moment, said
from fleetbench.window.shell.place import PageKey
from fleetbench.window.tickets.cards import LinesCard
from fleetbench.workshop.turn_rounds.page import CardLine, HangingLoop, TurnRoundCard, TurnRoundDesk

STATE_MARKS = {"to do": UNKNOWN.worded("to do"), "done": mark_for("done"), "left out": ADVISE.worded("left out")}

Answer = tuple[str, str]
"""What a button says, and the note it gives."""

BY_HAND: dict[Step, tuple[Answer, ...]] = {
    Step.DRY: ((say("Found dry"), ""), (say("Still damp"), "damp")),
    Step.ASSEMBLE: (("Assembled", "assembled"), ("Bagged", "bagged")),
    Step.PREVIOUS_DATA: (("Cleared", "cleared"), (say("Stated on the page"), "stated")),
}
WHY_LEFT_OUT = say("Why is it left out? Enter saves it, Escape leaves it to do")
DONE: tuple[Answer, ...] = (("Done", ""),)

HINTS: dict[Step, str] = {
    Step.CYLINDERS: say("Gauges read on the gas side tick this line by themselves."),
    Step.ABSORBENT: say("The fill on record is discarded with it; used absorbent never goes to another diver."),
    Step.HEAD: say("Wipe cells, contacts and electronics with a damp cloth. The head never goes into the bath."),
    Step.STRIP: say("It is a workshop opening: valves and loop must be tested afterwards."),
    Step.DISINFECT: say("One to eight loops in one bath are one act. The makers' own figures stand above all others."),
    Step.DRY: say("HangingLoop takes time and no work; the card shows how long the loop hangs."),
    Step.CELLS_OUT: say("Look at each cell's face and contacts; dry them in air, never with heat."),
    Step.CALIBRATE_AGAIN: say(
        "After a flood the cells are calibrated on two different days before the unit is released."
    ),
    Step.PREVIOUS_DATA: say("Decompression and oxygen-exposure data of the last diver must not lead the next one."),
}


def where_recorded(step: Step, tag: str) -> tuple[str, PageKey | None]:
    """The words of the button that records a step, and the place it leads to; None for a form of its own here."""
    return {
        Step.DISINFECT: ("Record the bath…", None),
        Step.TESTS: ("Test at the bench", PageKey("bench", tag)),
        Step.BATTERIES: ("Read the batteries…", None),
        Step.CALIBRATE: ("Calibrate", PageKey("calibrate", tag)),
        Step.CALIBRATE_AGAIN: ("Calibrate", PageKey("calibrate", tag)),
        Step.OXYGEN_CLEAN: ("Clean for oxygen", PageKey("unit_gas", tag)),
    }[step]


class NextLineCard(StepCard):
    """The line that comes next, in large letters, with a key for each answer.

    Signals:
        answered: key of the line and the note.
        left_out: key of the line and the reason.
        form_wanted: the step whose own form is asked for: the bath, or the batteries.
        place_requested: the Place where the line is recorded.
    """

    answered = Signal(int, str)
    left_out = Signal(int, str)
    form_wanted = Signal(object)
    place_requested = Signal(object)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, "Next", parent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.line: CardLine | None = None
        self.buttons: list[QPushButton] = []
        self._answers: tuple[Answer, ...] = ()
        self._place: PageKey | None = None
        self._early = False
        self.words = text_label("", "reading", self)
        self.words.setWordWrap(True)
        self.hint = text_label("", "small", self)
        self.hint.setWordWrap(True)
        self._row = QHBoxLayout()
        self._row.setSpacing(CLOSE)
        self.reason = QLineEdit(self)
        self.reason.setAccessibleName(worded("why it is left out"))
        self.reason.hide()
        self.reason.returnPressed.connect(self._on_reason)
        self.body.addWidget(self.words)
        self.body.addWidget(self.hint)
        self.body.addLayout(self._row)
        self.body.addWidget(self.reason)

    def show_line(
        self, line: CardLine | None, tag: str, hint: str = "", *, against: Sequence[str] = (), early: bool = False
    ) -> None:
        """Show this line as the next one, or that nothing is left to do; hint: what is known of it now.

        against: why the card cannot be signed. early: the first answer asks why it is given before its time.
        """
        self.line, self._early = line, early
        self._clear()
        self.reason.hide()
        self.reason.clear()
        if line is None:
            self._answers, self._place = (), None
            self.words.setText(
                worded("Every line is settled.") if not against else worded("The card cannot be signed yet.")
            )
            self.setAccessibleName(self.words.text())
            sign = say("Sign the card, key F9: the hold of the return is lifted with it.")
            self.hint.setText(shown(strung("; ", against) or sign))
            self.hint.show()
            return
        self.words.setText(shown(strung("  ", (str(line.line.ordinal), line.text))))
        self.setAccessibleName(worded(say("Next: {ordinal}, {line}", ordinal=line.line.ordinal, line=line.text)))
        self.hint.setText(shown(hint or strung("; ", line.lacks) or HINTS.get(line.step, "")))
        self.hint.setVisible(bool(self.hint.text()))
        if line.by_record:
            word, self._place = where_recorded(line.step, tag)
            self._answers = ((word, ""),)
        else:
            self._answers, self._place = BY_HAND.get(line.step, DONE), None
        for number, (word, _note) in enumerate(self._answers, 1):
            make = lead_button if number == 1 else plain_button
            self._add(for_bench(make(self.theme, f"{word}   {number}", "", self)), number)
        if line.may_be_left_out:
            self._add(for_bench(quiet_button(self.theme, "Leave out   /", "", self)), 0)
        self._row.addStretch(1)

    def _add(self, button: QPushButton, number: int) -> None:
        button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        button.setProperty("answer", number)
        button.clicked.connect(self._on_button)
        self.buttons.append(button)
        self._row.addWidget(button)

    def _clear(self) -> None:
        self.buttons = []
        while (item := self._row.takeAt(0)) is not None:
            if (widget := item.widget()) is not None:
                widget.hide()
                widget.deleteLater()

    @Slot()
    def _on_button(self) -> None:
        button = self.sender()
        number = button.property("answer") if button is not None else None
        if number == 0:
            self.ask_reason()
        elif isinstance(number, int):
            self.answer(number)

    def answer(self, number: int) -> None:
        """Give the answer of that number, or go where the line is recorded."""
        if self.line is None or not 1 <= number <= len(self._answers):
            return
        if self._early and number == 1:
            self._ask(say("How did it get dry before its time? Enter saves it, Escape leaves it to hang"))
        elif not self.line.by_record:
            self.answered.emit(self.line.line.line_id, self._answers[number - 1][1])
        elif self._place is None:
            self.form_wanted.emit(self.line.step)
        else:
            self.place_requested.emit(self._place)

    def ask_reason(self) -> None:
        """Ask why the line is left out, where it may be."""
        if self.line is not None and self.line.may_be_left_out:
            self._ask(WHY_LEFT_OUT)

    def _ask(self, words: str) -> None:
        put_hint(self.reason, worded(words))
        self.reason.show()
        self.reason.setFocus()

    @Slot()
    def _on_reason(self) -> None:
        if self.line is not None:
            given = self.answered if self._early else self.left_out
            given.emit(self.line.line.line_id, self.reason.text())

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self.reason.isVisible():
            self.reason.clear()
            self.reason.hide()
            self.setFocus()
            return
        if event.text() in ("1", "2", "3") and not self.reason.isVisible():
            self.answer(int(event.text()))
            return
        if event.text() == "/":
            self.ask_reason()
            return
        super().keyPressEvent(event)


class LineRow(QWidget):
    """One line of the card: its state, its words, and by whom and how it was settled.

    Signals:
        chosen: key of a line that is to be done out of its turn.
    """

    chosen = Signal(int)

    def __init__(
        self, theme: Theme, line: CardLine, zone: ZoneInfo, is_next: bool, is_open: bool, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.line = line
        state = MarkLabel(theme, STATE_MARKS.get(line.state, UNKNOWN), "strong", self)
        state.setFixedWidth(22 * GRID)
        words = text_label(strung("  ", (str(line.line.ordinal), line.text)), "strong" if is_next else "body", self)
        words.setWordWrap(True)
        said = QVBoxLayout()
        said.setSpacing(0)
        said.addWidget(words)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, TIGHT, 0, TIGHT)
        row.setSpacing(APART)
        settled = line.state != WorkState.TO_DO
        row.addWidget(state, 0, Qt.AlignmentFlag.AlignTop if settled else Qt.AlignmentFlag.AlignVCenter)
        row.addLayout(said, 1)
        self.button = quiet_button(theme, "Do it now", "", self)
        self.button.setVisible(is_open and line.state == WorkState.TO_DO and not is_next)
        self.button.setAccessibleName(worded(say("do line {ordinal} now", ordinal=line.line.ordinal)))
        self.button.clicked.connect(self._on_chosen)
        row.addWidget(self.button)
        told = [
            each
            for each in (moment(line.line.settled_at, zone, ""), line.line.person or "", line.line.how or "")
            if each
        ]
        if settled and told:
            beside = text_label(strung(", ", told), "small", self)
            beside.setWordWrap(True)
            said.addWidget(beside)

    @Slot()
    def _on_chosen(self) -> None:
        self.chosen.emit(self.line.line.line_id)


class CardLines(LinesCard):
    """Every line of the card in bench order.

    Signals:
        chosen: key of a line that is to be done out of its turn.
    """

    chosen = Signal(int)

    def __init__(self, theme: Theme, zone: ZoneInfo, parent: QWidget | None = None) -> None:
        super().__init__(theme, say("Card, in bench order"), parent)
        self._zone = zone
        self.rows: list[LineRow] = []

    def show_card(self, card: TurnRoundCard, is_open: bool) -> None:
        """Show these lines."""
        self.clear_lines()
        self.rows = []
        self.note.setText(worded(say("{done} of {count} settled", done=card.done, count=len(card.lines))))
        for line in card.lines:
            row = LineRow(self.theme, line, self._zone, line is card.next, is_open, self)
            row.chosen.connect(self.chosen)
            self.rows.append(row)
            self.add_line(row)


class BesideCard(LinesCard):
    """Sentences about one subject, with a button below where there is something to do.

    Signals:
        wanted: its button was pressed.
    """

    wanted = Signal()

    def __init__(self, theme: Theme, title: str, button: str, parent: QWidget | None = None) -> None:
        super().__init__(theme, title, parent)
        self.button = plain_button(theme, button, "", self)
        self.button.clicked.connect(self.wanted)
        self.body.addWidget(self.button, 0, Qt.AlignmentFlag.AlignLeft)


def show_drying(card: BesideCard, drying: HangingLoop | None, zone: ZoneInfo, reference: str) -> None:
    """Say how the loop hangs."""
    card.clear_lines()
    if drying is None:
        card.say("Not disinfected since it came back.")
    else:
        card.say(say("Disinfected {at}: {bath}.", at=moment(drying.disinfected_at, zone), bath=drying.bath))
        if drying.dry_at is not None:
            hours = (drying.dry_at - drying.disinfected_at).total_seconds() / 3600
            found = say("found dry {dry_at}", dry_at=moment(drying.dry_at, zone))
            early = drying.dry_at < drying.dry_from
            mark = (
                ADVISE.worded(say("{found}, after {hours:.1f} h only", found=found, hours=hours))
                if early
                else OK.worded(found)
            )
            card.add_line(MarkLabel(card.theme, mark, "strong", card))
        else:
            damp = say("Found damp {damp_at}. ", damp_at=moment(drying.damp_at, zone)) if drying.damp_at else ""
            card.say(strung("", (damp, say("Hangs to dry until {least} at the least, {most} at the most.",
                                           least=moment(drying.dry_from, zone), most=moment(drying.dry_by,
                                               zone)))))  # fmt: skip
    card.say(reference, "small")


def show_service(card: BesideCard, desk: TurnRoundDesk) -> None:
    """Say what the type's service plan asks for, what is due first."""
    card.clear_lines()
    due = [line for line in desk.service if line.due and not line.at_assembly]
    card.note.setText(
        worded(say("{count} due", count=counted(len(due), "task")))
        if due
        else worded("nothing due")
        if desk.service
        else ""
    )
    if not desk.service:
        card.add_line(MarkLabel(card.theme, STOP.worded("no service plan on record"), "strong", card))
        card.say("Import it with the file service_tasks: without a plan the unit is held.", "small")
    for line in desk.service:
        due_words = say("due, waits on a ticket or card") if line.waiting else say("due")
        if line.due and line.at_assembly:
            words = say("{line}: before the next dive, by the user who assembles it", line=line.text)
            card.add_line(MarkLabel(card.theme, ADVISE.worded(words), "strong", card))
        elif line.due:
            mark = STOP if line.critical else ADVISE
            card.add_line(MarkLabel(card.theme, mark.worded(strung(": ", (line.text, due_words))), "strong", card))
        else:
            until = (
                say("usable until {last_good_day}", last_good_day=line.last_good_day.isoformat())
                if line.last_good_day
                else ""
            )
            words = strung(", ", filter(None, (line.text, until)))
            card.say(say("{words} (projected)", words=words) if line.projected else words)
        minutes = f"{line.minutes:g} min" if line.minutes else ""
        needs = strung(", ", (*line.tests, *line.parts))
        with_what = say("needs {needs}", needs=needs) if needs else ""
        asked = strung("; ", filter(None, (strung(", ", filter(None, (line.interval, minutes, line.who))), with_what)))
        card.say(strung("", (asked, " (", line.source, ")")), "small")
    card.button.setVisible(any(not line.waiting for line in due))


def show_handsets(card: BesideCard, desk: TurnRoundDesk, zone: ZoneInfo) -> None:
    """Say which firmware each handset carries, and how they were left."""
    card.clear_lines()
    for handset in desk.handsets.handsets:
        version = handset.firmware or say("firmware not known")
        mark = OK if handset.on_list else STOP
        beside = say("on the type's list") if handset.on_list else say("not on the type's list")
        card.add_line(
            MarkLabel(
                card.theme, mark.worded(strung("", (say(handset.slot), ": ", version, ", ", beside))), "strong", card
            )
        )
    if not desk.handsets.handsets:
        card.say("This unit type has no handset slots.")
    allowed = strung(", ", desk.handsets.allowed) or say("none on record")
    card.say(say("The type allows: {allowed}.", allowed=allowed), "small")
    reset = moment(desk.handsets.reset_at, zone, say("not on record"))
    card.say(say("Settings last reset: {reset}.", reset=reset), "small")
    if desk.handsets.previous_data is not None:
        at = moment(desk.handsets.previous_at, zone)
        data = desk.handsets.previous_data
        card.say(say("Last diver's data: {data}, {at}.", data=say(data), at=at), "small")
    card.button.setVisible(bool(desk.handsets.handsets))


class FindingCard(StepCard):
    """A field for what was found; Enter opens a ticket of its own, or adds to the one that is open.

    Signals:
        found: what was found.
    """

    found = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, say("Found something?"), parent)
        self.field = QLineEdit(self)
        self.field.setAccessibleName(worded("finding"))
        self.field.setMaxLength(300)
        self.body.addLayout(labelled(self.field, "Enter opens a ticket, which holds the unit   Shift+F", self))
        self.field.returnPressed.connect(self._on_enter)

    @Slot()
    def _on_enter(self) -> None:
        self.found.emit(self.field.text())


def left_out_words(desk: TurnRoundDesk) -> tuple[str, ...]:
    """'left out: Battery of each device read, read this morning', a line for each that a reason stands in place of."""
    lines = desk.card.lines if desk.card is not None else ()
    return tuple(
        say("left out: {line}, {how}", line=line.text, how=said(line.line.how))
        for line in lines
        if line.state == WorkState.LEFT_OUT
    )


class FinishCard(LinesCard):
    """Why the card cannot be finished yet, or its signature.

    Signals:
        sign_wanted: the signature is asked for.
    """

    sign_wanted = Signal()

    def __init__(self, theme: Theme, zone: ZoneInfo, parent: QWidget | None = None) -> None:
        super().__init__(theme, say("Sign-off"), parent)
        self._zone = zone
        self.button = for_bench(lead_button(theme, "Sign card   F9", "", self))
        self.button.clicked.connect(self.sign_wanted)
        self.body.addWidget(self.button, 0, Qt.AlignmentFlag.AlignLeft)

    def show_desk(self, desk: TurnRoundDesk) -> None:
        """Show what is still in the way, or by whom it was signed."""
        self.clear_lines()
        card = desk.card
        self.button.setVisible(desk.is_open)
        if card is None:
            return
        if card.record.finished_at is not None:
            who = card.record.finished_by or say("person not recorded")
            by = say(
                "finished {finished_at} by {who}", finished_at=moment(card.record.finished_at, self._zone), who=who
            )
            self.add_line(MarkLabel(self.theme, NOTED.worded(by), "strong", self))
            return
        for words in left_out_words(desk):
            self.add_line(MarkLabel(self.theme, ADVISE.worded(words), "body", self))
        lines = sum(1 for line in card.lines if line.state == WorkState.TO_DO)
        others = [reason for reason in desk.against if not reason.endswith(": still to do")]
        if lines:
            self.say(say("{lines} still to do.", lines=counted(lines, "line")))
        for reason in () if lines else others:
            self.add_line(MarkLabel(self.theme, STOP.worded(reason), "body", self))
        if card.ticket is not None:
            found = say("What was found stands on ticket {ticket}, which is signed on its own.", ticket=card.ticket)
            self.say(found, "small")
        self.button.setEnabled(not desk.against)
