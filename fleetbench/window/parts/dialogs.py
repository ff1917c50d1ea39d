"""What acts on parts that sit in no slot ask, and those on counted stock, kits and places."""

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from itertools import pairwise

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLineEdit, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, say_count, strung, worded
from fleetbench.calc.core.wall_time import MarkedDate
from fleetbench.records.core.errors import Refused
from fleetbench.records.parts.lookups import ProofRecord
from fleetbench.records.places.tables import OWNER_KINDS, PLACE_KINDS
from fleetbench.window.forms.fields import DecimalField
from fleetbench.window.forms.form import REFUSED, ActDialog, Choices, Field, Form, mark_of, replacing
from fleetbench.window.look.buttons import ChoiceBox, text_label
from fleetbench.window.look.theme import BLOCK, GRID, Theme
from fleetbench.window.look.words import in_currency
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.entry import TESTS, record_test
from fleetbench.workshop.parts.acts import move_parts, open_part, release_asked, release_part, send_back
from fleetbench.workshop.parts.counted import KITS, count_stock, counted_stock, set_kit_content, use_up
from fleetbench.workshop.parts.list import part_story
from fleetbench.workshop.parts.receive import Delivery, Received, receive_lot, receive_serials
from fleetbench.workshop.parts.stock import ReceivingChoices, add_owner, add_place, receiving_choices

_NAME = "field_name"
"""The property that holds the name of a field as a refusal gives it."""
MARK_HINT = say("2026-03-14, 2026-03 or 1Q2026")
SET_ASIDE_PLACES = ("quarantine", say("sent back"), "away")


def labelled(words: str, field: QWidget, parent: QWidget) -> QVBoxLayout:
    """A field under its label, and its hint under it: what is typed must not hide how it is typed."""
    column = QVBoxLayout()
    column.setSpacing(2)
    column.addWidget(text_label(worded(words), "label", parent))
    column.addWidget(field)
    if field.accessibleDescription():
        hint = text_label(field.accessibleDescription(), "small", parent)
        hint.setWordWrap(True)
        column.addWidget(hint)
    column.addStretch(1)
    return column


def line_field(name: str, parent: QWidget, hint: str = "") -> QLineEdit:
    """A line to type or scan into; its hint is shown by `labelled`."""
    field = QLineEdit(parent)
    field.setAccessibleName(worded(name))
    field.setAccessibleDescription(worded(hint))
    field.setProperty(_NAME, str(name))
    return field


def chooser(name: str, parent: QWidget) -> QComboBox:
    """A box of choices."""
    box = ChoiceBox(parent)
    box.setAccessibleName(worded(name))
    return box


def marked_of(field: QLineEdit) -> MarkedDate | None:
    """The date as marked, None for an empty field; Refused names the field."""
    return mark_of(field.text(), str(field.property(_NAME)))


class ReceiveDialog(ActDialog):
    """Takes parts in: serials scanned one after the other, or a lot and how many.

    Signals:
        done_with: the Received.
    """

    def __init__(
        self,
        theme: Theme,
        background: Background,
        workplace: Workplace,
        parent: QWidget | None = None,
        *,
        code: str = "",
        currency: str = "",
    ) -> None:
        super().__init__(theme, background, say("Receive parts"), say("Receive parts"), parent)
        self.setMinimumWidth(190 * GRID)
        self._workplace, self._code, self._currency = workplace, code, currency
        self.note.setText(
            worded(
                "Scan each serial, or leave the list empty and give a lot with the number of pieces. A "
                "date is entered as finely as it is marked; what is not marked stays empty."
            )
        )
        self._build()
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_choices)
        self._loader.refused.connect(self.banner.say_refused)
        self._loader.ask(lambda: receiving_choices(workplace))
        self.serial.setFocus()

    def _build(self) -> None:
        self.kind, self.place, self.owner = ChoiceBox(self), ChoiceBox(self), ChoiceBox(self)
        self.kind.setAccessibleName(worded("part type"))
        self.place.setAccessibleName(worded("place"))
        self.owner.setAccessibleName(worded("owner"))
        self.serial = line_field("serial", self, say("scan or type, Enter"))
        self.serials = QListWidget(self)
        self.serials.setAccessibleName(worded("serials scanned; Delete removes one"))
        self.serials.setMaximumHeight(20 * GRID)
        self.lot, self.quantity = line_field("lot", self), DecimalField("pieces", self)
        self.made, self.opened = line_field("made", self, MARK_HINT), line_field("opened", self, say("empty: sealed"))
        self.fixed = line_field(say("last valid day"), self, say("empty: not marked"))
        self.supplier = line_field("supplier", self)
        self.price = DecimalField("price", self)
        paid = in_currency(say("Price each"), self._currency)
        for fields in (
            ((say("Part type"), self.kind), ("Place", self.place), ("Owner", self.owner)),
            (("Serial", self.serial), ("Scanned", self.serials)),
            (
                ("Lot", self.lot),
                (say("Pieces without serial"), self.quantity),
                (paid, self.price),
            ),
            (
                ("Made", self.made),
                ("Opened", self.opened),
                (say("Last valid day"), self.fixed),
                ("Supplier", self.supplier),
            ),
        ):
            row = QHBoxLayout()
            row.setSpacing(BLOCK)
            for words, field in fields:
                row.addLayout(labelled(words, field, self), 2 if field is self.kind else 1)
            self.body.addLayout(row)
        order = (self.lot, self.quantity, self.price, self.made, self.opened, self.fixed, self.supplier)
        for before, after in pairwise(order):
            before.returnPressed.connect(after.setFocus)
        self.supplier.returnPressed.connect(self.act)
        self.serial.returnPressed.connect(self._on_serial)
        self.serials.itemActivated.connect(self._on_serial_taken_out)

    @Slot(object)
    def show_choices(self, choices: ReceivingChoices) -> None:
        """Offer these part types and places."""
        for kind in choices.types:
            self.kind.addItem(f"{kind.name}, {kind.code}", kind.code)
        for place in choices.places:
            if place.kind not in SET_ASIDE_PLACES:
                self.place.addItem(place.name, place.place_id)
        for owner in choices.owners:
            self.owner.addItem(owner.name, owner.place_id)
        if self._code:
            self.choose_type(self._code)
        if not choices.types:
            self.banner.say_refused(say("No part type is in the catalogue; import the centre's files first."))

    def choose_type(self, code: str) -> None:
        """Choose the part type beforehand."""
        self.kind.setCurrentIndex(max(0, self.kind.findData(code)))

    def scanned(self) -> list[str]:
        """The serials in the order in which they were scanned."""
        return [self.serials.item(number).text() for number in range(self.serials.count())]

    def work(self) -> Callable[[], object]:
        """Receiving what stands in the fields."""
        workplace, code = self._workplace, self.kind.currentData()
        if code is None:
            raise Refused(say("part type: choose what was delivered"))
        if self.serial.text().strip():
            self._on_serial()
        delivery = Delivery(
            lot=self.lot.text().strip() or None, made=marked_of(self.made), opened=marked_of(self.opened),
            fixed=marked_of(self.fixed), place_id=self.place.currentData(), supplier=self.supplier.text(),
            price=self.price.value(), owner_id=self.owner.currentData(),
        )  # fmt: skip
        serials, pieces = self.scanned(), self.quantity.value()
        if serials:
            return lambda: receive_serials(workplace, code, serials, delivery)
        if pieces is None:
            raise Refused(say("serial: scan at least one, or give a lot and the number of pieces"))
        if pieces != int(pieces):
            raise Refused(say("pieces: give a whole number"))
        return lambda: receive_lot(workplace, code, delivery.lot or "", int(pieces), delivery)

    @Slot()
    def _on_serial(self) -> None:
        serial = self.serial.text().strip()
        if not serial:
            self.lot.setFocus()
            return
        if serial in self.scanned():
            self.banner.say_refused(say("serial {serial}: is in the list already; scan the next one", serial=serial))
        else:
            self.serials.addItem(serial)
        self.serial.clear()
        self.serial.setFocus()

    @Slot(QListWidgetItem)
    def _on_serial_taken_out(self, item: QListWidgetItem) -> None:
        self.serials.takeItem(self.serials.row(item))


def received_words(received: Received) -> str:
    """'2 parts received.', with what was set aside and what is not known."""
    count = len(received.part_ids)
    words = say_count("{count} part received.", "{count} parts received.", count)
    if received.set_aside:
        words += say(" Set aside: {set_aside}.", set_aside=strung("; ", received.set_aside))
    if received.warnings:
        words += say(" Not known: {warnings}.", warnings=strung("; ", received.warnings))
    return words


def open_form(workplace: Workplace, part_id: int, name: str) -> Form:
    """Says when a sealed part was opened."""
    return Form(
        say("Open {name}", name=name),
        act_words="Save opening",
        note="Its life from opening begins on this day. Empty means today.",
        fields=(Field("opened", "Opened on", "marked", MARK_HINT, spoken="opened"),),
        act=partial(open_part, workplace, part_id),
    )


def move_form(workplace: Workplace, part_ids: Sequence[int], what: str) -> Form:
    """Puts parts into another place."""

    def places() -> Mapping[str, Choices]:
        found = [place for place in receiving_choices(workplace).places if place.kind not in SET_ASIDE_PLACES]
        return {"place_id": [(strung(", ", (place.name, say(place.kind))), place.place_id) for place in found]}

    return Form(
        say("Move {what}", what=what),
        act_words="Move",
        note="",
        fields=(Field("place_id", "To", "choice", spoken="place", wants="choose where they go"),),
        act=partial(move_parts, workplace, tuple(part_ids)),
        load=places,
    )


def test_form(workplace: Workplace, part_id: int, name: str) -> Form:
    """Records a periodic test or service of a part; what sits in an assembly keeps its own."""
    kinds = ("service", *(each for each in TESTS if each != "service"))
    return Form(
        say("Service or test of {name}", name=name),
        act_words="Save test",
        note="The interval of its kind counts from this day. One that was not passed puts the part on hold. What sits "
        "in an assembly keeps tests of its own; the maker's manual says what a service is.",
        fields=(
            Field("kind", "Kind", "choice", choices=[(kind, kind) for kind in kinds]),
            Field("passed", "Result", "choice", choices=(("passed", True), ("not passed", False)), beside=True),
            Field("done", "Done on", "marked", say("empty: today; {mark_hint}", mark_hint=MARK_HINT), spoken="done"),
            Field("done_by", "Done by", hint="workshop or person", beside=True),
            Field("how", "How, or its certificate", hint="empty: not recorded", spoken="how"),
        ),
        act=partial(record_test, workplace, [part_id]),
    )


def reason_form(title: str, act_words: str, note: str, act: Callable[[str], object]) -> Form:
    """An act that asks for a reason alone; an empty one is refused by the act itself."""
    return Form(
        title, act_words=act_words, note=note, fields=(Field("reason", "Reason", hint="why, in a few words"),), act=act
    )


def release_form(workplace: Workplace, part_id: int, name: str) -> Form:
    """Puts a part that was set aside back into stock; shows first what it overrules and what it rests on."""

    def asked() -> Mapping[str, str]:
        found, evidence = release_asked(workplace, part_id)
        if found.refused:
            return {"rests": "", REFUSED: strung("; ", found.refused)}
        lines = [say("Overrules: {words}.", words=words) for words in found.overrules]
        return {"rests": strung("\n", [*lines, *(say("Shown by: {words}.", words=words) for words in evidence)])}

    return Form(
        say("Release {name}", name=name),
        act_words="Release part",
        note="It goes back to stock. What the release overrules and what it rests on stand in the journal with it.",
        fields=(Field("rests", kind="told"), Field("reason", "Reason", hint="why, in a few words")),
        act=partial(release_part, workplace, part_id),
        load=asked,
    )


def _found_words(each: ProofRecord) -> str:
    words = strung(": ", (strung("  ", (f"{each.at:%Y-%m-%d}", say(each.kind))), say(each.result)))
    return strung(", ", (words, each.words)) if each.words else words


def send_back_form(workplace: Workplace, part_id: int, name: str) -> Form:
    """Sends a part back under warranty with the readings that prove the fault."""

    def readings() -> Mapping[str, Choices]:
        return {
            "readings": [
                (_found_words(each),
                 (each.outcome_id, each.test_id), each.result in ("reject", "repeat", "failed"))
                for each in part_story(workplace, part_id).readings
            ]
        }  # fmt: skip

    def send(reason: str, readings: Sequence[tuple[int | None, int | None]]) -> object:
        outcomes = [outcome for outcome, _ in readings if outcome is not None]
        tests = [test for _, test in readings if test is not None]
        return send_back(workplace, part_id, reason, outcomes=outcomes, tests=tests)

    return Form(
        say("Send {name} back", name=name),
        act_words="Send part back",
        note="Tick the calibrations or tests that prove the fault; they are printed with the return.",
        fields=(
            Field("reason", "Reason", hint="what is wrong with it"),
            Field("readings", "Readings that prove it, newest first; a number ticks one", "ticks", spoken="readings",
                  nothing="No calibration or test of it is recorded: measure it first, a return needs proof."),
        ),
        act=send,
        load=readings,
        wide=170,
    )  # fmt: skip


OWNER_WORDS = {
    "centre": say("the centre's own"),
    "loan": say("on loan"),
    "renter": say("a renter's own, never hired out"),
}
NO_LOT = say("no lot marked")
NO_COUNT = say("is empty; give the number of pieces")


def count_form(workplace: Workplace, code: str, name: str) -> Form:
    """Corrects the pieces of a lot by what was counted on the shelf."""

    def lots() -> Mapping[str, Choices]:
        lots = counted_stock(workplace, code).lots
        return {"lot": [(strung(", ", (each.lot or NO_LOT, str(each.pieces))), each.lot or NO_LOT) for each in lots]}

    def count(lot: str, counted: int, reason: str) -> int:
        return count_stock(workplace, code, None if lot == NO_LOT else lot, counted, reason)

    return Form(
        say("Count {name}", name=name),
        act_words="Save count",
        note="Pieces without a serial are counted by lot. What is missing leaves stock as not found; what is over must "
        "be received with its marks.",
        fields=(
            Field("lot", "Lot, pieces on record", "choice", spoken="lot",
                  wants="nothing is kept by lot here; receive pieces with a lot first",
                  nothing="Every piece of it has a serial of its own: set aside or scrap what is missing."),
            Field("counted", "Counted", "whole", beside=True, wants=NO_COUNT),
            Field("reason", "Reason", hint="yearly count, box fell over, ..."),
        ),
        act=count,
        load=lots,
        first="counted",
    )  # fmt: skip


def use_up_form(workplace: Workplace, code: str, name: str) -> Form:
    """Takes pieces of a consumable from the shelf, oldest usable first."""

    def tickets() -> Mapping[str, Choices]:
        named = [(say("ticket {number}", number=number), key) for key, number in counted_stock(workplace, code).tickets]
        return {"ticket_id": [(say("for no ticket"), None), *named]}

    return Form(
        say("Use up {name}", name=name),
        act_words="Use up pieces",
        note="The oldest usable pieces without a serial leave the shelf. What sits in a slot of a unit is fitted there "
        "instead, so that its life is watched.",
        fields=(
            Field("quantity", "Pieces", "whole", spoken="quantity", wants=NO_COUNT),
            Field("ticket_id", "Ticket", "choice", choices=(("for no ticket", None),), beside=True),
            Field("reason", "Reason", hint="what it was used for"),
        ),
        act=partial(use_up, workplace, code),
        load=tickets,
    )


def kit_form(workplace: Workplace, *, place_id: int | None = None, code: str = "", least: int | None = None) -> Form:
    """Says how many parts of a type a kit must hold at least; with what was chosen in the list."""

    def choices() -> Mapping[str, Choices]:
        found = receiving_choices(workplace)
        return {
            "place_id": [(place.name, place.place_id) for place in found.places if place.kind in KITS],
            "code": [(f"{kind.name}, {kind.code}", kind.code) for kind in found.types],
        }

    return Form(
        "Least contents of a kit",
        act_words="Save contents",
        note="A kit or a van must hold so many usable pieces; zero takes the part type off its list.",
        fields=(
            Field("place_id", "Kit", "choice", default=place_id, wants="choose a kit and a part type",
                  nothing="There is no kit and no van yet: enter one under Places first."),
            Field("code", "Part type", "choice", default=code, beside=True, wants="choose a part type"),
            Field("least", "At least", "whole", spoken="least", default=least, beside=True, wants=NO_COUNT),
        ),
        act=replacing({"place_id": place_id, "code": code, "least": least}, partial(set_kit_content, workplace)),
        load=choices,
        first="least",
    )  # fmt: skip


def place_form(workplace: Workplace) -> Form:
    """Enters a place."""
    return Form(
        "New place",
        act_words="Save place",
        note="Parts lie in places; quarantine and sent back hold what may not be fitted.",
        fields=(Field("name", "Name"), Field("kind", "Kind", "choice", choices=[(kind, kind) for kind in PLACE_KINDS])),
        act=partial(add_place, workplace),
    )


def owner_form(workplace: Workplace) -> Form:
    """Enters an owner."""
    return Form(
        "New owner",
        act_words="Save owner",
        note="Write no person's name here: it stays in the records for good. 'A renter's own' will do.",
        fields=(
            Field("name", "Name"),
            Field("kind", "Kind", "choice", choices=[(OWNER_WORDS[kind], kind) for kind in OWNER_KINDS]),
        ),
        act=partial(add_owner, workplace),
    )
