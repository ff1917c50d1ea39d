"""The dialogs of the hire desk that ask a few things: a booking, a unit received."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date
from functools import partial

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QWidget

from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.calc.core.measures import CELSIUS, METRE
from fleetbench.calc.readiness.judge import USUAL_WAY
from fleetbench.records.core.errors import Clash, Refused
from fleetbench.window.forms.fields import AnswerKey, DecimalField, QuestionField, labelled, with_unit
from fleetbench.window.forms.form import PRESS_YES_NO, YES_NO_KEYS, YES_NO_WORDS, ActDialog, Field, Form
from fleetbench.window.forms.form_dialog import FormDialog, Names
from fleetbench.window.hires.sell import ManagerFields, answer_words, sell_form
from fleetbench.window.look.buttons import ChoiceBox, put_hint, quiet_button, text_label
from fleetbench.window.look.theme import BLOCK, GRID, Theme
from fleetbench.window.people.acts import enter_form
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.booking import (
    BookingEntry,
    BookingLook,
    UnitTypeChoice,
    book,
    booking_choices,
    look_ahead,
    units_asked,
)
from fleetbench.workshop.hires.edit import edit_booking
from fleetbench.workshop.hires.receive import receive
from fleetbench.workshop.hires.sell import SalePage, sale_page
from fleetbench.workshop.hires.sold import Sold
from fleetbench.workshop.people.list import person_id

KINDS = (AnswerKey("1", "hire", "hire"), AnswerKey("2", "course", "course"), AnswerKey("3", "try day", "try day"))
FULL = (AnswerKey("1", "refuse", "refuse"), AnswerKey("2", "waiting list", "wait"))
WAYS = (
    AnswerKey("1", "assembled", "assembled"),
    AnswerKey("2", "kit", "kit"),
    AnswerKey("3", "not for diving", "not for diving"),
)
"""How units leave."""
YES_NO = (AnswerKey("y", "yes", "yes"), AnswerKey("n", "no", "no"), AnswerKey("/", "not known", "not known"))
SAID = {"yes": True, "no": False}


class BookingDialog(ActDialog):
    """Books a hire, a course or a try day; what stands in the way is said before it is booked.

    Where more is asked for than can go, it tells the cheapest ways for what lacks, and leads on to book one of them.

    Signals:
        done_with: the Booked, or the Sold of a way that was chosen.
    """

    TITLE, WORDS = say("New booking"), say("Save booking")

    def __init__(
        self, theme: Theme, background: Background, workplace: Workplace, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, self.TITLE, self.WORDS, parent)
        self._workplace = workplace
        self._wanted_type = ""
        self.code: str | None = None
        self.setMinimumWidth(240 * GRID)
        self.kind = QuestionField(theme, "What", KINDS, self)
        self.kind.show_given("hire")
        self.leaves = QuestionField(theme, "Leaves as", WAYS, self)
        self.leaves.show_given(USUAL_WAY.value)
        self.unit_type = ChoiceBox(self)
        self.unit_type.setAccessibleName(worded("unit type"))
        self.first, self.last = text_field(say("first day"), self), text_field(say("last day"), self)
        today = workplace.today().isoformat()
        self.first.setText(today)
        self.last.setText(today)
        self.renter, self.instructor = text_field("renter", self), text_field("instructor", self)
        self.divers, self.units = text_field("students", self), text_field("units", self)
        self.harnesses, self.dived = text_field(say("harness sizes"), self), text_field(say("last dives"), self)
        self.altitude = DecimalField("altitude of the dive site", self)
        self.spares, self.minutes, self.planned_depth, self.water = (
            DecimalField(name, self)
            for name in (say("spare units"), say("planned minutes"), say("planned depth"), say("planned water"))
        )
        self.bailout = QuestionField(theme, "Bailout set wanted?", YES_NO, self)
        self.oxygen, self.helium = DecimalField("diluent oxygen", self), DecimalField("diluent helium", self)
        self.when_full = QuestionField(theme, "If not enough units", FULL, self)
        self.when_full.show_given("refuse")
        self.manager = ManagerFields(background, workplace, self)
        self.manager.hide()
        self.price_terms = text_field(say("price terms"), self)
        put_hint(self.price_terms, worded("price, deposit, late return; no names"))
        self.new_renter = quiet_button(theme, "New renter…", "", self)
        self.new_renter.clicked.connect(self.enter_renter)
        self._begin_answer()
        self.names = Names(background, workplace, (self.renter, self.instructor, self.divers), self)
        self._build()
        self._types = Refresher(background, self)
        self._types.loaded.connect(self.show_types)
        self._conflicts = Refresher(background, self)
        self._conflicts.loaded.connect(self._on_conflicts)
        self._answers = Refresher(background, self)
        self._answers.loaded.connect(self._on_answer)
        self._question: BookingEntry | None = None
        for field in (self.first, self.last, self.units, self.divers, self.spares):
            field.editingFinished.connect(self.look_for_conflicts)
        for question in (self.kind, self.leaves):
            question.answered.connect(self._on_kind)
        self.unit_type.currentIndexChanged.connect(self.look_for_conflicts)
        self._types.ask(lambda: booking_choices(workplace))
        self.kind.setFocus()

    def _begin_answer(self) -> None:
        """What can go where too many are asked for, and the way on to book one of the ways."""
        self.answer = text_label("", "small", self)
        self.answer.setWordWrap(True)
        self.other_way = quiet_button(self.theme, "Book another way…", "", self)
        self.other_way.setToolTip(worded("The same question with its ways: bench work, parts, other bookings moved"))
        self.other_way.clicked.connect(self.book_another_way)
        for widget in (self.answer, self.other_way):
            widget.hide()

    def prefill(self, unit_type: str, first: date, last: date, units: tuple[str, ...]) -> None:
        """Begin with these days and units, and say at once what stands in their way."""
        self._wanted_type = unit_type
        self.first.setText(first.isoformat())
        self.last.setText(last.isoformat())
        self.units.setText(strung(", ", units))

    def _build(self) -> None:
        self.body.addWidget(self.answer)
        self.body.addWidget(self.other_way, 0, Qt.AlignmentFlag.AlignLeft)
        ways = QHBoxLayout()
        ways.setSpacing(BLOCK)
        ways.addWidget(self.kind, 1)
        ways.addWidget(self.leaves, 1)
        self.body.addLayout(ways)
        for fields in (
            ((say("Unit type"), self.unit_type), (say("First day"), self.first), (say("Last day"), self.last)),
            ((say("Renter, by code or name"), self.renter), ("Instructor", self.instructor)),
            ((say("Students, with commas between"), self.divers), (say("Units, if chosen already"), self.units)),
        ):
            row = QHBoxLayout()
            row.setSpacing(BLOCK)
            for words, widget in fields:
                row.addLayout(labelled(widget, words, self), 1)
            self.body.addLayout(row)
        figures = QHBoxLayout()
        figures.setSpacing(BLOCK)
        for field, words, unit in (
            (self.spares, say("Spare units"), ""),
            (self.minutes, say("Loop minutes a fill"), "min"),
            (self.planned_depth, "Deepest", METRE),
            (self.water, "Water", CELSIUS),
        ):
            figures.addLayout(with_unit(field, words, unit, self))
        figures.addLayout(with_unit(self.altitude, "Altitude of the dive site", METRE, self))
        figures.addStretch(1)
        self.body.addLayout(figures)
        stated = QHBoxLayout()
        stated.setSpacing(BLOCK)
        for line, words in (
            (self.harnesses, say("Harness sizes, in the divers' order")),
            (self.dived, say("Last dives on the type, in the divers' order")),
        ):
            stated.addLayout(labelled(line, words, self), 1)
        self.body.addLayout(stated)
        gas = QHBoxLayout()
        gas.setSpacing(BLOCK)
        gas.addWidget(self.bailout)
        for field, words in ((self.oxygen, say("Diluent wanted, O2")), (self.helium, say("and He"))):
            column = with_unit(field, words, "%", self)
            column.addStretch(1)
            gas.addLayout(column)
        gas.addStretch(1)
        self.body.addLayout(gas)
        terms = QHBoxLayout()
        terms.setSpacing(BLOCK)
        terms.addLayout(labelled(self.price_terms, "Price terms", self), 1)
        terms.addWidget(self.new_renter, 0, Qt.AlignmentFlag.AlignBottom)
        self.body.addLayout(terms)
        self.body.addWidget(self.when_full)
        self.body.addWidget(self.manager)

    @Slot(object)
    def show_types(self, choices: tuple[UnitTypeChoice, ...]) -> None:
        """Offer these unit types."""
        self.unit_type.clear()
        for each in choices:
            self.unit_type.addItem(each.name, each.code)
        wanted = self.unit_type.findData(self._wanted_type)
        if wanted >= 0:
            self.unit_type.setCurrentIndex(wanted)

    @Slot()
    def look_for_conflicts(self) -> None:
        """Say what stands in the way of the days and units as they stand."""
        kind = self.unit_type.currentData()
        try:
            first, last = _day(say("first day"), self.first), _day(say("last day"), self.last)
        except Refused as refusal:
            self.note.setText(shown(str(refusal)))
            return
        if kind is not None:
            workplace, units = self._workplace, _listed(self.units)
            wanted = units_asked(self.kind.given or "hire", len(_listed(self.divers)), self._spares(), len(units))
            way, code = self.leaves.given or "", self.code
            self._question = None
            if code is None and not units and way != "not for diving":
                self._question = BookingEntry(
                    kind=self.kind.given or "hire", unit_type=kind, first=first, last=last, wanted=wanted, way=way
                )
            self._conflicts.ask(
                lambda: look_ahead(workplace, kind, first, last, units=units, wanted=wanted, way=way, code=code)
            )

    def _spares(self) -> int | None:
        spares = self.spares.value()
        return int(spares) if spares is not None else None

    @Slot(str)
    def _on_kind(self, _kind: str) -> None:
        self.look_for_conflicts()

    @Slot(object)
    def _on_conflicts(self, look: BookingLook) -> None:
        count = look.count.words if look.count is not None else ""
        said = [*look.refused, *([look.unfit] if look.unfit else []), *([count] if count not in look.unfit else [])]
        self.note.setText(shown(say("{findings}.", findings=strung("; ", said))))
        self.manager.setVisible(bool(look.unfit) and not look.refused)
        workplace, question = self._workplace, self._question
        self.answer.hide()
        self.other_way.setVisible(question is not None and bool(look.unfit or look.refused))
        if question is not None and self.other_way.isVisibleTo(self):
            self._answers.ask(lambda: sale_page(workplace, question))

    @Slot(object)
    def _on_answer(self, page: SalePage) -> None:
        if self._question == page.question:
            self.answer.setText(shown(answer_words(page)))
            self.answer.show()

    @Slot()
    def book_another_way(self) -> None:
        """Choose one of the ways for what stands in the fields, and book it in one act."""
        question = self._question
        if question is None:
            return
        try:
            begun = replace(self._entry_of_fields(), wanted=question.wanted)
        except Refused as refusal:
            self.banner.say_refused(str(refusal))
            return
        names = {"renter": self.renter.text(), "instructor": self.instructor.text(), "students": self.divers.text()}
        form = sell_form(self._workplace, begun.first, begun, names)
        self.dialog = FormDialog(self.theme, self._background, form, self)
        self.dialog.done_with.connect(self._on_sold)
        self.dialog.open()

    @Slot(object)
    def _on_sold(self, sold: Sold) -> None:
        self.done_with.emit(sold)
        self.accept()

    def work(self) -> Callable[[], object]:
        """Booking what stands in the fields."""
        bare = self._entry_of_fields()
        workplace, renter, instructor = self._workplace, self.renter.text().strip(), self.instructor.text().strip()
        divers = _listed(self.divers)

        def act() -> object:
            entry = replace(
                bare,
                renter_id=person_id(workplace, renter) if renter else None,
                instructor_id=person_id(workplace, instructor) if instructor else None,
                divers=tuple(person_id(workplace, each) for each in divers),
            )
            return self.do(workplace, entry)

        return act

    def _entry_of_fields(self) -> BookingEntry:
        """What stands in the fields, but for its people."""
        return BookingEntry(
            kind=self.kind.given or "hire",
            unit_type=self.unit_type.currentData() or "",
            first=_day(say("first day"), self.first),
            last=_day(say("last day"), self.last),
            units=_listed(self.units),
            spares=self._spares(),
            planned_minutes=self.minutes.value(),
            planned_depth_m=self.planned_depth.value(),
            planned_water_c=self.water.value(),
            bailout=SAID.get(self.bailout.given or ""),
            diluent_oxygen=self.oxygen.value(),
            diluent_helium=self.helium.value(),
            when_full=self.when_full.given or "refuse",
            harnesses=tuple(each.strip() for each in self.harnesses.text().split(",")),
            last_dives=tuple(_days_or_none(say("last dive"), self.dived)),
            altitude_m=self.altitude.value(),
            unfit=self.manager.decision(),
            way=self.leaves.given or "",
            price_terms=self.price_terms.text(),
        )

    @Slot()
    def enter_renter(self) -> None:
        """Enter a renter who is not recorded yet, and put them in."""
        form = new_renter_form(self._workplace)
        self.dialog = FormDialog(self.theme, self._background, form, self)
        self.dialog.done_with.connect(self._on_renter)
        self.dialog.open()

    @Slot(object)
    def _on_renter(self, code: str) -> None:
        self.renter.setText(code)
        self.renter.setFocus()

    def do(self, workplace: Workplace, entry: BookingEntry) -> object:
        """The act itself."""
        return book(workplace, entry)


class EditBookingDialog(BookingDialog):
    """Changes what a booking says; its units are put on and taken off by acts of their own.

    Signals:
        done_with: the EditedBooking.
    """

    TITLE, WORDS = say("Edit booking"), say("Save booking")

    def __init__(
        self,
        theme: Theme,
        background: Background,
        workplace: Workplace,
        entry: BookingEntry,
        codes: Mapping[int, str],
        code: str,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(theme, background, workplace, parent)
        self.code = code
        self.heading.setText(worded(say("Edit {code}", code=code)))
        self._entry = entry
        for fixed in (self.kind, self.leaves, self.unit_type, self.units, self.when_full):
            fixed.setEnabled(False)
        self.when_full.hide()
        self.leaves.hide()
        self.kind.show_given(entry.kind)
        self._show(entry, codes)
        self.prefill(entry.unit_type, entry.first, entry.last, entry.units)
        self.first.setFocus()

    def _show(self, entry: BookingEntry, codes: Mapping[int, str]) -> None:
        for line, people in ((self.renter, (entry.renter_id,)), (self.instructor, (entry.instructor_id,)),
                             (self.divers, entry.divers)):  # fmt: skip
            line.setText(strung(", ", (codes[each] for each in people if each is not None)))
        for field, value in (
            (self.spares, entry.spares), (self.minutes, entry.planned_minutes),
            (self.planned_depth, entry.planned_depth_m), (self.water, entry.planned_water_c),
            (self.altitude, entry.altitude_m), (self.oxygen, entry.diluent_oxygen), (self.helium, entry.diluent_helium),
        ):  # fmt: skip
            field.show_value(value, 0 if value is None or float(value).is_integer() else 1)
        self.price_terms.setText(entry.price_terms)
        bailout = {True: "yes", False: "no", None: say("not known")}
        self.bailout.show_given(bailout[entry.bailout])
        if any(entry.harnesses):
            self.harnesses.setText(strung(", ", entry.harnesses))
        if any(entry.last_dives):
            self.dived.setText(strung(", ", (each.isoformat() if each else "" for each in entry.last_dives)))

    def do(self, workplace: Workplace, entry: BookingEntry) -> object:
        """Saving it; as many units are wanted as were, where its divers and spares stay as many.

        What another desk changed too is shown beside what stands here, and replaced by the next save.
        """
        before = self._entry
        same = (len(entry.divers), entry.spares) == (len(before.divers), before.spares)
        entry = replace(entry, wanted=before.wanted if same else None)
        try:
            return edit_booking(workplace, self.code or "", entry, before)
        except Clash as clash:
            self._entry = replace(before, **clash.now)
            raise


def new_renter_form(workplace: Workplace) -> Form:
    """Enters a renter, and gives the code."""
    form = enter_form(workplace)

    def act(**values: str) -> str:
        form.act(role="renter", **values)
        return values["code"].strip()

    asked = tuple(each for each in form.fields if each.name != "role")
    return replace(form, title="New renter", fields=asked, act=act)


def return_form(workplace: Workplace, out: Sequence[str] = ()) -> Form:
    """Receives a unit that comes back: its tag and four answers; out: units of the chosen booking that are out."""

    def asked(name: str, words: str) -> Field:
        return Field(name, words, "question", choices=YES_NO_WORDS, keys=YES_NO_KEYS, spoken=words, wants=PRESS_YES_NO)

    return Form(
        "Return",
        act_words="Receive unit",
        note="The unit goes on hold with its turn-round to do. Details can follow later, on the grid.",
        fields=(
            Field("tag", "Unit", hint=out_words(out), default=only_one(out), wants="scan or type its tag"),
            asked("wet", "Wet?"),
            asked("flooded", say("Flooded?")),
            asked("fault", say("A fault reported?")),
            asked("missing", say("Anything missing?")),
        ),
        act=partial(receive, workplace),
        first="tag",
    )


def only_one(out: Sequence[str]) -> str | None:
    """The unit that is meant where the chosen booking has one out."""
    return out[0] if len(out) == 1 else None


def out_words(out: Sequence[str]) -> str:
    """What to do in a field for a unit, with those that are out on the chosen booking."""
    if len(out) < 2:
        return say("scan or type its tag")
    return say("scan or type its tag; out on this booking: {units}", units=strung(", ", out))


def text_field(name: str, parent: QWidget) -> QLineEdit:
    """A line to write in, named for those who do not see it."""
    field = QLineEdit(parent)
    field.setAccessibleName(worded(name))
    field.setMaxLength(400)
    return field


def _listed(field: QLineEdit) -> tuple[str, ...]:
    return tuple(each.strip() for each in field.text().split(",") if each.strip())


def _days_or_none(name: str, field: QLineEdit) -> Iterator[date | None]:
    """The days with commas between; a place left empty is not known."""
    for each in field.text().split(","):
        text = each.strip()
        try:
            yield date.fromisoformat(text) if text else None
        except ValueError:
            raise Refused(
                say("{name}: {text!r} is not a date; enter 2026-05-04, or leave its place empty", name=name, text=text)
            ) from None


def _day(name: str, field: QLineEdit) -> date:
    try:
        return date.fromisoformat(field.text().strip())
    except ValueError:
        raise Refused(
            say("{name}: {text!r} is not a date; enter one such as 2026-05-04", name=name, text=field.text())
        ) from None
