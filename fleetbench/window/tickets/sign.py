"""Signing tickets off under the signer's PIN, with a second person's where one is asked for.

Several finished tickets signed with one PIN, each shown with what its signature stands for.
"""

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QCheckBox, QComboBox, QLineEdit, QScrollArea, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.records.core.errors import Clash, Refused
from fleetbench.window.forms.fields import with_unit
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.look.buttons import ChoiceBox, text_label
from fleetbench.window.look.theme import APART, CLOSE, GRID, TIGHT, Theme, put_font
from fleetbench.window.look.words import counted
from fleetbench.window.shell.background import Background
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.tickets.list import TicketPage
from fleetbench.workshop.tickets.page import Signer
from fleetbench.workshop.tickets.work import SecondPerson, sign_tickets

NO_PIN = say("{person} has no PIN yet; set one under People, on their page, with a manager present")
HAS_PIN = say("The signature closes the ticket; it cannot change afterwards.")
NOT_SEEN = say("no qualification for this type seen")


class SignDialog(ActDialog):
    """Asks who signs and for the PIN, and for a second person's; says: what the signature stands for, a line each.

    Signals:
        done_with: the hash of the journal entry that holds the signature.
    """

    def __init__(
        self,
        theme: Theme,
        background: Background,
        workplace: Workplace,
        ticket_ids: Sequence[int],
        title: str,
        signers: Sequence[Signer],
        *,
        needs_second: bool = False,
        says: Sequence[str] = (),
        as_of: int | None = None,
        parent: QWidget | None = None,
    ) -> None:
        """as_of: the journal's last entry when the tickets were read; what was added since is shown before they are
        signed."""
        super().__init__(theme, background, title, "Sign", parent)
        self._as_of = as_of
        for words in says:
            line = text_label(words, "body", self)
            line.setWordWrap(True)
            self.body.addWidget(line)
        self._workplace, self._ticket_ids = workplace, tuple(ticket_ids)
        self._signers = {signer.person_id: signer for signer in signers}
        self.signer = self._people_box("signer", signers)
        mine = workplace.person_id
        self.signer.setCurrentIndex(max(self.signer.findData(mine), 0) if mine is not None else 0)
        self.pin = self._pin_field("PIN")
        self.wants_second = QCheckBox(worded("A second person looked at the work and signs too"), self)
        self.wants_second.setChecked(needs_second)
        self.wants_second.setVisible(not needs_second)
        self.second = self._people_box(say("second person"), signers)
        self.second_pin = self._pin_field(say("PIN of the second person"))
        self._second_label = text_label(say("Second person, another one"), "label", self)
        self._second_pin = self._alone(self.second_pin, say("PIN of the second person"))
        self.body.addWidget(text_label(say("Signed by"), "label", self))
        self.body.addWidget(self.signer)
        self.body.addLayout(with_unit(self.pin, "PIN", "", self))
        for widget in (self.wants_second, self._second_label, self.second, self._second_pin):
            self.body.addWidget(widget)
        self.signer.currentIndexChanged.connect(self._on_signer)
        self.wants_second.toggled.connect(self._on_second)
        self.pin.returnPressed.connect(self._on_pin)
        self.second_pin.returnPressed.connect(self.act)
        self._on_signer(self.signer.currentIndex())
        self._on_second(needs_second)
        (self.pin if self.chosen is not None else self.signer).setFocus()

    def _people_box(self, name: str, signers: Sequence[Signer]) -> QComboBox:
        box = ChoiceBox(self)
        box.setAccessibleName(worded(name))
        box.addItem(worded("choose"), None)
        for signer in signers:
            box.addItem(
                shown(signer.name if signer.qualified else strung("", (signer.name, " (", NOT_SEEN, ")"))),
                signer.person_id,
            )
        return box

    def _pin_field(self, name: str) -> QLineEdit:
        field = QLineEdit(self)
        field.setEchoMode(QLineEdit.EchoMode.Password)
        field.setAccessibleName(worded(name))
        field.setMaxLength(12)
        field.setMaximumWidth(48 * GRID)
        return field

    def _alone(self, field: QLineEdit, label: str) -> QWidget:
        """A field with its label that can be hidden together."""
        around = QWidget(self)
        column = with_unit(field, label, "", around)
        column.setContentsMargins(0, 0, 0, 0)
        around.setLayout(column)
        return around

    @property
    def chosen(self) -> Signer | None:
        """Who is chosen to sign."""
        return self._chosen(self.signer)

    def _chosen(self, box: QComboBox) -> Signer | None:
        key = box.currentData()
        return self._signers.get(int(key)) if key is not None else None

    def work(self) -> Callable[[], object]:
        """The signature."""
        signer, pin = self.chosen, self.pin.text()
        if signer is None:
            raise Refused(say("signer: choose who signs"))
        if not signer.has_pin:
            raise Refused(say("signer: {signer}", signer=say(str(NO_PIN), person=signer.name)))
        second = self._second()
        workplace, ticket_ids = self._workplace, self._ticket_ids

        def sign() -> str:
            try:
                return sign_tickets(
                    workplace, ticket_ids, signer_id=signer.person_id, pin=pin, second=second, as_of=self._as_of
                )
            except Clash as added:  # it is shown now, and the next signature stands for it too
                self._as_of = added.now
                raise

        return sign

    def _second(self) -> SecondPerson | None:
        if not self.wants_second.isChecked():
            return None
        other = self._chosen(self.second)
        if other is None:
            raise Refused(say("second person: choose who looked at the work; it must be another one"))
        if not other.has_pin:
            raise Refused(say("second person: {other}", other=say(str(NO_PIN), person=other.name)))
        return SecondPerson(other.person_id, self.second_pin.text())

    @Slot(int)
    def _on_signer(self, _index: int) -> None:
        chosen = self.chosen
        has_pin = chosen is None or chosen.has_pin
        lacks = "" if chosen is None else say("{finding}.", finding=say(str(NO_PIN), person=chosen.name))
        self.note.setText(shown(HAS_PIN if has_pin else lacks))

    @Slot(bool)
    def _on_second(self, asked: bool) -> None:
        for widget in (self._second_label, self.second, self._second_pin):
            widget.setVisible(asked)

    @Slot()
    def _on_pin(self) -> None:
        if self.wants_second.isChecked():
            self.second.setFocus()
        else:
            self.act()


class SignManyDialog(SignDialog):
    """Shows every finished ticket; those that stay ticked are signed together or not at all.

    Signals:
        done_with: the hash of the journal entry that holds the signatures.
    """

    def __init__(
        self,
        theme: Theme,
        background: Background,
        workplace: Workplace,
        finished: Sequence[TicketPage],
        signers: Sequence[Signer],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(
            theme, background, workplace, (), say("Sign {count}", count=counted(len(finished), 'finished ticket')),
                signers,
            needs_second=any(each.needs_second for each in finished),
            as_of=min((each.as_of for each in finished if each.as_of is not None), default=None), parent=parent,
        )  # fmt: skip
        self.setMinimumWidth(180 * GRID)
        self.ticks: dict[int, QCheckBox] = {}
        listed = QWidget()
        listed.setObjectName("scrolled")
        lines = QVBoxLayout(listed)
        lines.setSpacing(TIGHT)
        for each in finished:
            tick = QCheckBox(f"{each.row.number}   {each.row.ticket.unit}", listed)
            put_font(tick, "strong")
            tick.setChecked(True)
            tick.toggled.connect(self._on_ticked)
            self.ticks[each.row.ticket.ticket_id] = tick
            lines.addWidget(tick)
            for words in finished_words(each):
                label = text_label(words, "small", listed)
                label.setWordWrap(True)
                label.setContentsMargins(6 * GRID, 0, 0, 0)
                lines.addWidget(label)
            lines.addSpacing(CLOSE)
        lines.addStretch(1)
        scroll = QScrollArea(self)
        scroll.setWidgetResizable(True)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setMinimumHeight(min(80 * GRID, listed.sizeHint().height() + APART))
        scroll.setWidget(listed)
        self.body.insertWidget(0, scroll, 1)

    @property
    def ticked(self) -> tuple[int, ...]:
        """Keys of the tickets that stay ticked."""
        return tuple(key for key, tick in self.ticks.items() if tick.isChecked())

    def work(self) -> Callable[[], object]:
        """The signatures of all that is ticked."""
        self._ticket_ids = self.ticked
        if not self._ticket_ids:
            raise Refused(say("tickets: none is ticked; tick what is to be signed"))
        return super().work()

    @Slot(bool)
    def _on_ticked(self, _on: bool) -> None:
        self.act_button.setEnabled(bool(self.ticked))


def finished_words(each: TicketPage) -> tuple[str, ...]:
    """What a signature stands for, a line each: why it was opened, findings, tasks, parts, tests, time."""
    lines = [each.row.ticket.reason]
    tasks = [strung("", (line.task.text, ": ", line.state, f', {why}' if (why := line.task.put_off_reason) else ''))
             for line in each.tasks]  # fmt: skip
    for title, said in (
        ("found", [finding.text for finding in each.findings]),
        ("tasks", tasks),
        (say("stays due"), each.not_counted),
        ("parts", [strung("", (line.way, " ", line.move.slot, ": ", line.move.label)) for line in each.moves]),
        ("tests", [strung(": ", (test.record.kind, test.record.result)) for test in each.tests]),
    ):
        if said:
            lines.append(strung(": ", (title, "; ".join(said))))
    return (*lines, say("{minutes:.0f} min", minutes=each.row.ticket.minutes))
