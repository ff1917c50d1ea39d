"""The bench for valves, loop and regulators: choose unit and test, read, and record what was seen and measured."""

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QLineEdit, QPushButton, QScrollArea, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.calc.core.verdict import Verdict
from fleetbench.records.core.errors import Refused
from fleetbench.window.bench.dialog import leak_form
from fleetbench.window.bench.measure import MeasureCard
from fleetbench.window.bench.readings import group_words, offer_words, recorded_words, wanting_words
from fleetbench.window.bench.release import ReleaseCard, ReleaseForm, WorksCard
from fleetbench.window.bench.valves import BENCH_SIBLINGS
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.forms.photographs import PhotographBeside
from fleetbench.window.look.buttons import PlaceButton, listed_button, plain_button, put_hint, text_label
from fleetbench.window.look.marks import HOLD, OK
from fleetbench.window.look.theme import APART, CLOSE, GRID, TIGHT, Theme, put_tone, scaled
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.window.shell.pages import Page, PageContext, drafts_of
from fleetbench.window.shell.place import HALF_DONE, TEST, PageKey
from fleetbench.workshop.bench.measured import judged, record_measured
from fleetbench.workshop.bench.offers import LOOP_KINDS, BenchPlan, Method, TestOffer, bench_plan
from fleetbench.workshop.bench.tests import RecordedTest, record_release, record_test
from fleetbench.workshop.core.workplace import Workplace

Card = ReleaseCard | WorksCard | MeasureCard


def list_page(context: PageContext) -> "BenchPage":
    """The bench before a unit is chosen."""
    return BenchPage(context.theme, context.background, context.workplace, context.zone)


def record_page(context: PageContext) -> "BenchPage":
    """The bench with a unit on it."""
    return BenchPage(context.theme, context.background, context.workplace, context.zone)


class BenchPage(Page):
    """One unit at a time: its tests at the left, the one that is made at the right.

    Signals:
        opened: the unit's tests stand on the page.
        judged_anew: the answer to what was read so far was worked out.
        recorded: what was recorded, a tuple of RecordedTest.
        ticket_wanted: tag and reason, when a ticket is asked for after a test failed.
    """

    opened = Signal()
    judged_anew = Signal()
    recorded = Signal(object)
    ticket_wanted = Signal(str, str)

    def __init__(
        self, theme: Theme, background: Background, workplace: Workplace, zone: ZoneInfo, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, "Bench", parent)
        self._background, self._workplace, self._zone = background, workplace, zone
        self.plan: BenchPlan | None = None
        self.card: Card | None = None
        self._in_hand: tuple[int, ...] = ()
        self._put_down: set[int] = set()
        self._last: tuple[RecordedTest, ...] = ()
        self._form: ReleaseForm | None = None
        self._drafts = drafts_of(workplace)
        self._half_done: dict[str, Mapping[str, Any]] = {}
        self._typed_tag = False
        self._asked = ""
        self._loader, self._judge, self._keeper = (Refresher(background, self) for _ in range(3))
        self._build()
        self._give_list_room()
        theme.text_size_changed.connect(self._give_list_room)
        self._loader.loaded.connect(self._on_loaded)
        self._loader.refused.connect(self._on_refused)
        self._judge.loaded.connect(self._on_judged)
        self._judge.refused.connect(self._on_not_judged)
        self._keeper.refused.connect(self.banner.say_refused)

    def _build(self) -> None:
        self.tag_field = QLineEdit(self)
        put_hint(self.tag_field, worded("Unit: tag or scan"), whole=True)
        self.tag_field.setAccessibleName(worded("unit"))
        self.tag_field.setMaximumWidth(80 * GRID)
        self.tag_field.returnPressed.connect(self._on_tag)
        self.photograph = PhotographBeside(self, self._background, self._workplace)
        self.photograph.changed.connect(self._keep_half_done)
        self.heading.addWidget(self.tag_field)
        for title, place in BENCH_SIBLINGS:
            button = PlaceButton(worded(title), place, self)
            button.setProperty("role", "choice")
            button.setCheckable(True)
            button.setChecked(title == self.title)
            button.clicked.connect(partial(button.setChecked, title == self.title))
            button.place_requested.connect(self.place_requested)
            self.heading.addWidget(button)
        self._empty = text_label(say("Scan or type the tag of the unit to test."), "body", self)
        self._empty.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.wanting = text_label("", "strong", self)
        self.wanting.setWordWrap(True)
        self.ticket_button = plain_button(self.theme, "Open a ticket for what failed", "tickets", self)
        self.ticket_button.hide()
        self.ticket_button.clicked.connect(self._on_ticket)
        self.leak_button = plain_button(self.theme, "Note where it leaks", "", self)
        self.leak_button.hide()
        self.leak_button.clicked.connect(self._on_leak)
        self.dialog: FormDialog | None = None
        line = QHBoxLayout()
        line.setSpacing(APART)
        line.addWidget(self.wanting, 1)
        line.addWidget(self.leak_button)
        line.addWidget(self.ticket_button)
        self.tests = QButtonGroup(self)
        self.tests.idClicked.connect(self._on_test)
        self._list = QScrollArea(self)
        self._list.setWidgetResizable(True)
        self._list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._list.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._list.hide()
        self._room = QScrollArea(self)
        self._room.setWidgetResizable(True)
        self._room.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._room.hide()
        body = QHBoxLayout()
        body.setSpacing(APART)
        body.addWidget(self._list)
        body.addWidget(self._room, 1)
        self.content.addWidget(self._empty)
        self.content.addLayout(line)
        self.content.addLayout(body, 1)

    @Slot()
    def _give_list_room(self) -> None:
        self._list.setFixedWidth(max(min(scaled(80 * GRID), self.width() - 165 * GRID), 40 * GRID))

    # what the window asks

    def show_key(self, key: str) -> None:
        """Put the unit with that tag on the bench, unless it stands there already."""
        if self.plan is None or self.plan.tag != key:
            self.open_tag(key)

    def open_tag(self, tag: str) -> None:
        """Load the unit with this tag and begin with what was left half-done of it, else with its valves and loop."""
        self._keep_half_done()
        self.card, self.plan, self._last = None, None, ()
        self.photograph.offer()
        self.banner.clear()
        self._load(tag)

    def refresh(self) -> None:
        """Load the unit again, where nothing was entered that would be lost."""
        if self.plan is not None and not self._has_entries():
            self._load(self.plan.tag)
        self.is_loaded = True

    def holds_entries(self) -> bool:
        """Whether the test at hand is begun."""
        return self._has_entries() or super().holds_entries()

    def follow(self) -> None:
        """Load again since another desk wrote; what was just recorded stays in view."""
        if self.card is None or self.card.record_button.isEnabled():
            super().follow()

    def focus_first(self) -> None:
        """Put the keyboard where the work goes on."""
        if self.card is None:
            self.tag_field.setFocus()
        else:
            self.card.focus_first()

    def _has_entries(self) -> bool:
        return self.card is not None and (self.card.is_begun or bool(self.photograph.held and not self._last))

    def call_off(self) -> None:
        """Load no further; what was entered is on disk as a draft before the page is left."""
        super().call_off()
        self._keep_half_done()
        try:
            self._drafts.write()
        except Refused as refusal:
            self.banner.say_refused(str(refusal))

    @Slot()
    def _keep_half_done(self) -> None:
        """Keep what was entered of the test at hand, so that it comes back as it was; drop what was emptied."""
        # What is being corrected stands on record already.
        if self.plan is None or self.card is None or self._last:
            return
        key = self._key_of(self.card)
        if self._has_entries():
            began, minutes = self.card.watch or (None, None)
            self._half_done[key] = {
                "unit": self.plan.tag, "test": key, "words": self._words_of(self.card), "kept": self.card.kept(),
                "photographs": list(self.photograph.held),
                "began": began.isoformat() if began is not None else None, "watch_minutes": minutes,
            }  # fmt: skip
            self._drafts.later(self._draft_tag(key), self._half_done[key], self._workplace.clock())
        elif self._half_done.pop(key, None) is not None:
            self._drafts.later(self._draft_tag(key), None, self._workplace.clock())
        self._keeper.ask(self._drafts.write)

    def _forget_half_done(self) -> None:
        """What was recorded is half done no more."""
        if self.card is not None and self._half_done.pop(self._key_of(self.card), None) is not None:
            self._drafts.later(self._draft_tag(self._key_of(self.card)), None, self._workplace.clock())
            self._keeper.ask(self._drafts.write)

    def _draft_tag(self, key: str) -> str:
        assert self.plan is not None, "a unit stands on the page"
        return f"{self.plan.tag} {key}"

    def _bring_back(self, plan: BenchPlan, card: Card) -> None:
        kept = self._half_done.get(self._key_of(card))
        if kept is None:
            return
        try:
            card.bring_back(kept["kept"])
            self.photograph.expect(kept.get("photographs", ()))
        except (KeyError, TypeError, ValueError):
            self.banner.say_refused(say("draft: what was left half-done cannot be read; begin this test again"))
            return
        self.banner.say_note(
            say("{tag}: what was left half-done stands here again. It is not recorded yet.", tag=plan.tag)
        )

    def _words_of(self, card: Card) -> str:
        return say("One-way valves and loop") if isinstance(card, ReleaseCard) else offer_words(card.offer)

    def _key_of(self, card: Card) -> str:
        return "release" if isinstance(card, ReleaseCard) else card.offer.key

    def begin_at(self, place: PageKey) -> None:
        """Begin the test that is asked for; what was left half-done comes back by itself, other places lead away."""
        if place.page == TEST:
            self._asked = place.key or ""
            if self.plan is not None and not self._loader.is_loading:
                self._begin_asked(self.plan)
        elif place.page != HALF_DONE:
            super().begin_at(place)

    def _begin_asked(self, plan: BenchPlan) -> bool:
        """Show the test that was asked for, if one was; a valve or a loop is tried by breath and by eye."""
        asked, self._asked = self._asked, ""
        if asked:
            found = [n for n, offer in enumerate(plan.offers) if offer.answers(asked)]
            self.choose_test(found[0] if found else 0)
        return bool(asked)

    # the unit and its tests

    def _load(self, tag: str) -> None:
        workplace, drafts = self._workplace, self._drafts

        def load() -> tuple[BenchPlan, dict[str, Mapping[str, Any]]]:
            plan = bench_plan(workplace, tag)
            drafts.write()  # what waits to be written is the newest of it
            of_unit = (each.content for each in drafts.listed() if each.content.get("unit") == plan.tag)
            return plan, {each["test"]: each for each in of_unit if "test" in each}

        self._loader.ask(load)

    @Slot(object)
    def _on_loaded(self, loaded: tuple[BenchPlan, dict[str, Mapping[str, Any]]]) -> None:
        plan, self._half_done = loaded
        chosen = self.tests.checkedId() if self.plan is not None and self.plan.tag == plan.tag else 0
        used = (key for key in (*self._in_hand, *plan.in_use) if key not in self._put_down)
        self._in_hand = tuple(dict.fromkeys(used))
        self.plan = plan
        self.is_loaded = True
        self.set_title(say("Bench: {tag}", tag=plan.tag))
        self.set_summary(
            say(
                "{unit_type}; {manual} stands above every figure shown here",
                unit_type=plan.unit_type,
                manual=plan.manual,
            )
        )
        self.tag_field.clear()
        self._empty.hide()
        self.wanting.setText(shown(wanting_words(plan, self._zone)))
        tone = HOLD if plan.wanting or plan.held else OK
        put_tone(self.wanting, tone.tone)
        self._list_tests(plan.offers)
        self._list.show()
        self._room.show()
        begun = [number for number, offer in enumerate(plan.offers) if self._is_kept(offer)]
        if not self._begin_asked(plan):
            self.choose_test(begun[0] if begun else max(0, chosen))
        self.opened.emit()
        if self._typed_tag:
            # The window then comes back to this unit, and not to the one that stood here before.
            self._typed_tag = False
            self.place_requested.emit(PageKey("bench", plan.tag))

    def _is_kept(self, offer: TestOffer) -> bool:
        return ("release" if offer.method is Method.BREATH else offer.key) in self._half_done

    def _list_tests(self, offers: Sequence[TestOffer]) -> None:
        for button in self.tests.buttons():
            self.tests.removeButton(button)
        held = QWidget()
        held.setObjectName("scrolled")
        column = QVBoxLayout(held)
        column.setContentsMargins(0, 0, CLOSE, 0)
        column.setSpacing(TIGHT)
        group = ""
        # A key is a place in the plan's own order, whatever the order on the page.
        for number, offer in sorted(enumerate(offers), key=lambda each: _GROUPS.index(group_words(each[1]))):
            if group_words(offer) != group:
                group = group_words(offer)
                column.addWidget(text_label(group, "label", held))
            button = listed_button(offer_words(offer), held)
            self.tests.addButton(button, number)
            column.addWidget(button)
        column.addStretch(1)
        self._list.setWidget(held)

    def choose_test(self, number: int) -> None:
        """Show the card of a test by its place in the plan."""
        button = self.tests.button(number)
        if button is not None:
            button.setChecked(True)
        self._on_test(number)

    def test_button(self, words: str) -> QPushButton:
        """The button of the test with these words; raises KeyError where there is none."""
        for button in self.tests.buttons():
            offer = self.plan.offers[self.tests.id(button)] if self.plan is not None else None
            if offer is not None and offer_words(offer) == words and isinstance(button, QPushButton):
                return button
        raise KeyError(words)

    @Slot(int)
    def _on_test(self, number: int) -> None:
        plan = self.plan
        if plan is None or not 0 <= number < len(plan.offers):
            return
        offer = plan.offers[number]
        self._keep_half_done()
        self._last, self._form = (), None
        for each in (self.ticket_button, self.leak_button):
            each.hide()
        self.photograph.expect()
        self.card = self._make_card(plan, offer)
        self.card.refused.connect(self.banner.say_refused)
        self.card.correct_requested.connect(self._on_correct)
        self._room.setWidget(self.card)
        self._bring_back(plan, self.card)
        self.card.focus_first()
        if isinstance(self.card, MeasureCard):
            self._ask()

    def _make_card(self, plan: BenchPlan, offer: TestOffer) -> Card:
        if offer.method is Method.BREATH:
            release = ReleaseCard(self.theme, self._workplace, plan)
            release.record_requested.connect(self._on_release)
            release.changed.connect(self._keep_half_done)
            return release
        if offer.method is Method.WORKS:
            works = WorksCard(self.theme, offer)
            works.record_requested.connect(self._on_works)
            return works
        measure = MeasureCard(self.theme, self._workplace, plan, offer, self._zone, in_hand=self._in_hand)
        measure.changed.connect(self._ask)
        measure.changed.connect(self._keep_half_done)
        measure.record_requested.connect(self._on_measured)
        measure.tool_chosen.connect(self._on_tool)
        return measure

    # answers while readings come in

    @Slot()
    def _ask(self) -> None:
        card, plan = self.card, self.plan
        if not isinstance(card, MeasureCard) or plan is None:
            return
        try:
            set_up = card.set_up()
        except Refused as refusal:
            card.show_undecided(str(refusal))
            return
        self._judge.ask(partial(judged, card.offer, set_up, card.readings, plan.equipment))

    @Slot(object)
    def _on_judged(self, measured: object) -> None:
        if isinstance(self.card, MeasureCard) and self.card.record_button.isEnabled():
            self.card.show_measured(measured)  # type: ignore[arg-type]
        self.judged_anew.emit()

    @Slot(str)
    def _on_not_judged(self, line: str) -> None:
        if isinstance(self.card, MeasureCard) and self.card.record_button.isEnabled():
            self.card.show_undecided(line)
        self.judged_anew.emit()

    # recording

    @Slot(object)
    def _on_release(self, form: ReleaseForm) -> None:
        if self.plan is None:
            return
        self._form = form
        instead = tuple(test.test_id for test in self._last)
        work = partial(
            record_release,
            self._workplace,
            self.plan.tag,
            inhale=form.inhale,
            exhale=form.exhale,
            negative=form.negative,
            positive=form.positive,
            instead_of=instead,
            photographs=self._held(),
        )
        self._run(work)

    @Slot(bool, str)
    def _on_works(self, works: bool, note: str) -> None:
        if self.plan is None or not isinstance(self.card, WorksCard):
            return
        workplace, tag, offer, instead = self._workplace, self.plan.tag, self.card.offer, self._instead_of()
        made = partial(record_test, workplace, tag, offer.kind, held=works, slot=offer.slot, note=note)
        held = self._held()
        self._run(lambda: (made(supersedes=instead, photographs=held),))

    @Slot()
    def _on_measured(self) -> None:
        card = self.card
        if self.plan is None or not isinstance(card, MeasureCard):
            return
        try:
            set_up = card.set_up()
        except Refused as refusal:
            self.banner.say_refused(str(refusal))
            return
        workplace, tag, key = self._workplace, self.plan.tag, card.offer.key
        readings, instead, held = card.readings, self._instead_of(), self._held()
        self._run(
            lambda: (record_measured(workplace, tag, key, set_up, readings, supersedes=instead, photographs=held),)
        )

    def _held(self) -> tuple[str, ...]:
        """Photographs for the record that is made now; what takes a record's place is given that one's."""
        return () if self._last else self.photograph.held

    def _instead_of(self) -> int | None:
        return self._last[0].test_id if self._last else None

    def _run(self, work: Callable[[], tuple[RecordedTest, ...]]) -> None:
        try:
            self.photograph.require_settled()
        except Refused as refusal:
            self.banner.say_refused(str(refusal))
            return
        job = self._background.run(work, self)
        job.succeeded.connect(self._on_recorded)
        job.refused.connect(self.banner.say_refused)

    @Slot(object)
    def _on_recorded(self, tests: tuple[RecordedTest, ...]) -> None:
        self._forget_half_done()
        self._last = tests
        rejected = any(test.answer.verdict is Verdict.REJECT for test in tests)
        self.photograph.offer("bench test", tests[-1].test_id)
        self.banner.say_recorded(recorded_words(tests), rejected=rejected)
        if isinstance(self.card, ReleaseCard) and self._form is not None:
            self.card.show_recorded(self._form, tests)
        elif self.card is not None and not isinstance(self.card, ReleaseCard):
            self.card.show_recorded(tests[0])
        self.ticket_button.setVisible(any(test.answer.verdict == Verdict.REJECT for test in tests))
        on_loop = isinstance(self.card, ReleaseCard) or (self.card is not None and self.card.offer.kind in LOOP_KINDS)
        self.leak_button.setVisible(rejected and on_loop)
        self._reload_state()
        self.recorded.emit(tests)

    def _reload_state(self) -> None:
        """Bring the line on top up to date without touching the card."""
        if self.plan is None:
            return
        job = self._background.run(partial(bench_plan, self._workplace, self.plan.tag), self)
        job.succeeded.connect(self._on_state)

    @Slot(object)
    def _on_state(self, plan: BenchPlan) -> None:
        if self.plan is not None and plan.tag == self.plan.tag:
            self.wanting.setText(shown(wanting_words(plan, self._zone)))
            tone = HOLD if plan.wanting else OK
            put_tone(self.wanting, tone.tone)

    @Slot()
    def _on_correct(self) -> None:
        if self.card is not None:
            self.banner.say_note(say("Enter it again and record: it replaces what was recorded."))
            self.card.open_again()

    @Slot(str, object)
    def _on_tool(self, kind: str, key: int | None) -> None:
        if key is not None:
            self._put_down.discard(key)
            self._in_hand = (key, *(each for each in self._in_hand if each != key))
        elif self.plan is not None:
            self._put_down |= {row.tool.equipment_id for row in self.plan.equipment if row.tool.kind == kind}
            self._in_hand = tuple(each for each in self._in_hand if each not in self._put_down)

    @Slot()
    def _on_ticket(self) -> None:
        failed = next((test for test in self._last if test.answer.verdict == Verdict.REJECT), None)
        if self.plan is not None and failed is not None and self.card is not None:
            offer = self.plan.offers[self.tests.checkedId()]
            self.ticket_wanted.emit(self.plan.tag, strung(": ", (offer_words(offer), failed.answer.sentence)))

    @Slot()
    def _on_leak(self) -> None:
        if self.plan is not None:
            form = leak_form(self._workplace, self.plan.tag)
            self.dialog = FormDialog(self.theme, self._background, form, self.window())
            self.dialog.done_with.connect(self._on_leak_noted)
            self.dialog.open()

    @Slot(object)
    def _on_leak_noted(self, words: object) -> None:
        self.banner.say_note(str(words))

    @Slot()
    def _on_tag(self) -> None:
        if self.tag_field.text().strip():
            self._typed_tag = True
            self.open_tag(self.tag_field.text().strip())

    @Slot(str)
    def _on_refused(self, line: str) -> None:
        self.is_loaded = True
        self._typed_tag = False
        self.banner.say_refused(line)

    # Qt overrides

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._give_list_room()


_GROUPS = (say("By breath and by eye"), say("Function check"), "Measured")
