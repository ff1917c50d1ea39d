"""Signing tickets off under the signer's PIN, with a second person's where one is asked for.

Several finished tickets signed with one PIN, each shown with what its signature stands for.
"""

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from operator import attrgetter
from typing import Any

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QCheckBox, QScrollArea, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, strung
from fleetbench.records.core.errors import Clash, Refused
from fleetbench.window.forms.form import NOTE, Field, Form, Shown
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.theme import APART, CLOSE, GRID, TIGHT, put_font
from fleetbench.window.look.words import counted
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.tickets.list import TicketPage
from fleetbench.workshop.tickets.page import Signer
from fleetbench.workshop.tickets.work import SecondPerson, sign_tickets

NO_PIN = say("{person} has no PIN yet; set one under People, on their page, with a manager present")
HAS_PIN = say("The signature closes the ticket; it cannot change afterwards.")
SECOND = say("second person")
NOT_SEEN = say("no qualification for this type seen")
CHOOSE_SECOND = say("choose who looked at the work; it must be another one")


def sign_form(
    workplace: Workplace, title: str, signers: Sequence[Signer], sign: Callable[..., object], *,
    needs_second: bool = False, says: Sequence[str] = (), above: tuple[Field, ...] = (), wide: int = 140,
) -> Form:  # fmt: skip
    """Asks who signs and for the PIN, and for a second person's; says: what the signature stands for, a line each.

    sign is given the signer's key, the PIN, the second person or None, and what the fields above ask.
    """
    known = {each.person_id: each for each in signers}
    people = [(say("choose"), None), *((each.name if each.qualified else strung("", (each.name, " (", NOT_SEEN, ")")),
                                   each.person_id) for each in signers)]  # fmt: skip
    mine = workplace.person_id if workplace.person_id in known else None

    def look(found: Mapping[str, Any]) -> Mapping[str, Shown]:
        signer, asked = known.get(found["signer"]), found.get("wants_second", True)
        lacks = signer is not None and not signer.has_pin
        note = say("{finding}.", finding=say(str(NO_PIN), person=signer.name)) if lacks and signer else HAS_PIN
        return {NOTE: note, "second": asked, "second_pin": asked}

    def act(
        signer: int, pin: str, second: int | None, second_pin: str | None, *, wants_second: bool = True, **more: Any
    ) -> object:
        if wants_second and second is None:
            raise Refused(strung(": ", (SECOND, CHOOSE_SECOND)))
        for name, key in (("signer", signer), (SECOND, second)):
            if key is not None and not known[key].has_pin:
                raise Refused(strung(": ", (say(name), say(str(NO_PIN), person=known[key].name))))
        other = SecondPerson(second, second_pin or "") if second is not None else None
        return sign(signer_id=signer, pin=pin, second=other, **more)

    return Form(
        title,
        act_words="Sign",
        note=HAS_PIN,
        fields=(
            *above,
            *(Field(str(number), kind="told", default=words) for number, words in enumerate(says)),
            Field("signer", "Signed by", "choice", choices=people, default=mine, spoken="signer",
                  wants="choose who signs"),
            Field("pin", "PIN", "pin", spoken="PIN"),
            *(() if needs_second else (
                Field("wants_second", "A second person looked at the work and signs too", "tick", aside=True),)),
            Field("second", "Second person, another one", "choice", choices=people, spoken="second person",
                  wants=CHOOSE_SECOND, hidden=not needs_second),
            Field("second_pin", "PIN of the second person", "pin", spoken="PIN of the second person",
                  hidden=not needs_second),
        ),
        act=act,
        look=look,
        first="pin" if mine is not None else "signer",
        wide=wide,
    )  # fmt: skip


def ticket_form(
    workplace: Workplace, ticket_ids: Sequence[int], title: str, signers: Sequence[Signer], *, as_of: int | None,
    **more: Any,
) -> Form:  # fmt: skip
    """Signs tickets that were read as_of this entry of the journal; what was added since is shown before."""
    read = {"as_of": as_of}

    def sign(tickets: Sequence[int] = tuple(ticket_ids), **signed: Any) -> str:
        try:
            return sign_tickets(workplace, tickets, as_of=read["as_of"], **signed)
        except Clash as added:  # it is shown now, and the next signature stands for it too
            read["as_of"] = added.now
            raise

    return sign_form(workplace, title, signers, sign, **more)


class FinishedTickets(QScrollArea):
    """Every finished ticket with what its signature stands for; those that stay ticked are signed.

    Signals:
        any_ticked: whether any is.
    """

    any_ticked = Signal(bool)

    def __init__(self, finished: Sequence[TicketPage], parent: QWidget) -> None:
        super().__init__(parent)
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
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setMinimumHeight(min(80 * GRID, listed.sizeHint().height() + APART))
        self.setWidget(listed)

    @property
    def ticked(self) -> tuple[int, ...]:
        """Keys of the tickets that stay ticked; Refused where none does."""
        keys = tuple(key for key, tick in self.ticks.items() if tick.isChecked())
        if not keys:
            raise Refused(say("tickets: none is ticked; tick what is to be signed"))
        return keys

    @Slot(bool)
    def _on_ticked(self, _on: bool) -> None:
        self.any_ticked.emit(any(tick.isChecked() for tick in self.ticks.values()))


def many_form(workplace: Workplace, finished: Sequence[TicketPage], signers: Sequence[Signer]) -> Form:
    """Shows every finished ticket; those that stay ticked are signed together or not at all."""
    return ticket_form(
        workplace, (), say("Sign {count}", count=counted(len(finished), "finished ticket")), signers,
        as_of=min((each.as_of for each in finished if each.as_of is not None), default=None),
        needs_second=any(each.needs_second for each in finished),
        above=(Field("tickets", kind="own", spoken="tickets", made=partial(FinishedTickets, finished),
                     read=attrgetter("ticked")),),
        wide=180,
    )  # fmt: skip


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
