"""One-way valves and loop tried by breath and by eye, each answer on one key; what is not done stays not done.

Where a loop leaks, noted on the bench and on the unit's page.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QHBoxLayout, QWidget

from fleetbench.calc.bench.leak_places import LEAK_METHODS, LeakPlace
from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.calc.core.plausible import WATCHED
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import AnswerKey, DecimalField, QuestionField, with_unit
from fleetbench.window.forms.form import REFUSED, ActDialog, Choices, Field, Form, Shown
from fleetbench.window.look.theme import BLOCK, Theme
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.bench.offers import BenchPlan, bench_plan
from fleetbench.workshop.bench.tests import WatchedLoop, record_release
from fleetbench.workshop.bench.valves import LONGEST_PLACE, leak_desk, note_leak
from fleetbench.workshop.core.workplace import Workplace

HELD = (AnswerKey("1", "Held", "held"), AnswerKey("2", "Fell", "fell"), AnswerKey("/", "Not done", "not done"))

HELD_OR_FELL = {"held": True, "fell": False}


@dataclass(frozen=True, slots=True)
class TestRow:
    """One test of the dialog: its word in the records, its direction, what is asked, and whether time is watched."""

    __test__ = False
    kind: str
    direction: str | None
    question: str
    watched: bool


ROWS = (
    TestRow(say("one-way valve"), "inhale", say("Inhale one-way valve, by breath"), False),
    TestRow(say("one-way valve"), "exhale", say("Exhale one-way valve, by breath"), False),
    TestRow(say("loop negative"), None, say("Loop under suction, by eye"), True),
    TestRow(say("loop positive"), None, say("Loop under pressure, by eye"), True),
)
"""The release tests in bench order: common practice, no published source."""


class BenchTestDialog(ActDialog):
    """Asks each test in turn and records those that were done.

    Signals:
        done_with: the recorded tests, a tuple of RecordedTest.
    """

    def __init__(
        self,
        theme: Theme,
        background: Background,
        workplace: Workplace,
        tag: str,
        *,
        ticket_id: int | None = None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(theme, background, say("Valves and loop of {tag}", tag=tag), "Record", parent)
        self._workplace, self._tag, self._ticket_id = workplace, tag, ticket_id
        self.note.setText(
            worded("A loop that held for less than the unit type asks for is to be repeated, never passed.")
        )
        self.questions: list[QuestionField] = []
        self.minutes: list[DecimalField | None] = []
        for row in ROWS:
            question = QuestionField(theme, row.question, HELD, self)
            line = QHBoxLayout()
            line.setSpacing(BLOCK)
            line.addWidget(question)
            field: DecimalField | None = None
            if row.watched:
                field = DecimalField(say("minutes of {kind}", kind=row.kind), self, quantity=WATCHED)
                field.expect(known_as=say("asked for"))
                field.returnPressed.connect(self._on_minutes)
                line.addLayout(with_unit(field, "Watched", "min", self))
            line.addStretch(1)
            question.answered.connect(self._on_answered)
            self.questions.append(question)
            self.minutes.append(field)
            self.body.addLayout(line)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_asked)
        self._loader.ask(lambda: bench_plan(workplace, tag))
        self.questions[0].setFocus()

    @Slot(object)
    def show_asked(self, plan: BenchPlan) -> None:
        """Say beside each field how long the unit type asks to watch."""
        for field, limit in zip(self.minutes[2:], (plan.negative, plan.positive), strict=True):
            if field is not None and limit is not None:
                field.expect(last=limit.minutes, known_as=say("asked for"))

    def work(self) -> Callable[[], object]:
        """The record of every test that was done, in one act; Refused where none was, or where a figure is none."""
        held = [HELD_OR_FELL.get(question.given or "") for question in self.questions]
        minutes = [field.value() if field is not None else None for field in self.minutes]
        for row, answer, watched in zip(ROWS, held, minutes, strict=True):
            if row.watched and answer and watched is None:
                raise Refused(say("minutes of {kind}: say how long it was watched", kind=row.kind))
        workplace, tag, ticket_id = self._workplace, self._tag, self._ticket_id
        negative, positive = WatchedLoop(held[2], minutes[2]), WatchedLoop(held[3], minutes[3])
        return lambda: record_release(
            workplace, tag, inhale=held[0], exhale=held[1], negative=negative, positive=positive, ticket_id=ticket_id
        )

    @Slot(str)
    def _on_answered(self, value: str) -> None:
        place = next(number for number, each in enumerate(self.questions) if each is self.sender())
        field = self.minutes[place]
        if field is not None and value == "held":
            field.setFocus()
        else:
            self._go_after(place)

    @Slot()
    def _on_minutes(self) -> None:
        self._go_after(next(number for number, each in enumerate(self.minutes) if each is self.sender()))

    def _go_after(self, place: int) -> None:
        following: QWidget = self.questions[place + 1] if place + 1 < len(self.questions) else self.act_button
        following.setFocus()


IN_WORDS = say("choose it, or tell a place between in words")
METHODS: Choices = [(say("choose how"), None), *((each, each) for each in LEAK_METHODS)]


def leak_form(workplace: Workplace, tag: str) -> Form:
    """Asks where the loop leaks and how that was found, under the last loop test that did not hold."""

    def load() -> Mapping[str, Shown]:
        desk = leak_desk(workplace, tag)
        places: Choices = [(IN_WORDS, None), *((each, each) for each in desk.places)]
        recent: Choices = [(say("nothing: a further leak"), None), *((say("{place}, just noted", place=place),
            key) for key, place in
                                                                  desk.newest)]  # fmt: skip
        told: dict[str, Shown] = {"slot": places, "instead_of": recent}
        return told | ({REFUSED: strung("", (tag, ": ", desk.why_not, "."))} if desk.why_not else {})

    def note(slot: str | None, place: str, method: str, instead_of: int | None) -> str:
        found = note_leak(workplace, tag, slot=slot, method=method, place=place, instead_of=instead_of)
        return leak_words(tag, found)

    return Form(
        say("Where {tag} leaks", tag=tag),
        act_words="Save leak",
        note="It is noted under the last loop test that did not hold. Repair it, then test the loop again: only a test "
        "that holds says that it is tight.",
        fields=(
            Field("slot", "Place on the drawing of the loop", "choice"),
            Field("place", "Where exactly, in words", hint="such as second groove, or between hose and canister",
                  longest=LONGEST_PLACE),
            Field("method", "Found by", "choice", choices=METHODS, wants="is missing; choose how it was found"),
            Field("instead_of", "Takes the place of", "choice"),
        ),
        act=note,
        load=load,
        first="slot",
        wide=170,
    )  # fmt: skip


def leak_words(tag: str, found: LeakPlace) -> str:
    """'C-02: head leaked twice (once again after it had been tight), ...'."""
    return strung("", (tag, ": ", found.place, " ", found.words, "."))
