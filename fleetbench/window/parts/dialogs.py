"""What acts on parts that sit in no slot ask, and those on counted stock, kits and places."""

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QListWidget, QListWidgetItem, QWidget

from fleetbench.calc.core.languages import say, say_count, strung, worded
from fleetbench.calc.parts.kinds import KITS, NOT_TO_FIT, OwnerKind, PlaceKind
from fleetbench.records.core.errors import Refused
from fleetbench.records.parts.lookups import ProofRecord
from fleetbench.window.forms.fields import labelled
from fleetbench.window.forms.form import REFUSED, Choices, Field, Form, replacing
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.theme import BLOCK, GRID
from fleetbench.window.look.words import in_currency
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.entry import TESTS, record_test
from fleetbench.workshop.parts.acts import move_parts, open_part, release_asked, release_part, send_back
from fleetbench.workshop.parts.counted import count_stock, counted_stock, set_kit_content, use_up
from fleetbench.workshop.parts.list import part_story
from fleetbench.workshop.parts.receive import Delivery, Received, receive_lot, receive_serials
from fleetbench.workshop.parts.stock import add_owner, add_place, receiving_choices

MARK_HINT = say("2026-03-14, 2026-03 or 1Q2026")


class ScannedField(QWidget):
    """Serials scanned one after the other; Enter on nothing leads on, Enter on one in the list removes it.

    Signals:
        entered: nothing more is scanned.
        refused: why a serial is not listed.
    """

    entered, refused = Signal(), Signal(str)

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.serial, self.serials = QLineEdit(self), QListWidget(self)
        self.serial.setAccessibleName(worded("serial"))
        self.serial.setAccessibleDescription(worded("scan or type, Enter"))
        self.serials.setAccessibleName(worded("serials scanned; Delete removes one"))
        self.serials.setMaximumHeight(20 * GRID)
        self.setFocusProxy(self.serial)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(BLOCK)
        scanning = labelled(self.serial, "Serial", self)
        scanning.addWidget(text_label(self.serial.accessibleDescription(), "small", self))
        for column in (scanning, labelled(self.serials, "Scanned", self)):
            column.addStretch(1)
            row.addLayout(column, 1)
        self.serial.returnPressed.connect(self._on_serial)
        self.serials.itemActivated.connect(self._on_serial_taken_out)

    def scanned(self) -> tuple[str, ...]:
        """The serials in the order in which they were scanned, with the one that still stands in the field."""
        typed = self.serial.text().strip()
        listed = (self.serials.item(number).text() for number in range(self.serials.count()))
        return tuple(dict.fromkeys((*listed, *([typed] if typed else []))))

    @Slot()
    def _on_serial(self) -> None:
        serial = self.serial.text().strip()
        self.serial.clear()
        if not serial:
            self.entered.emit()
            return
        if serial in self.scanned():
            self.refused.emit(say("serial {serial}: is in the list already; scan the next one", serial=serial))
        else:
            self.serials.addItem(serial)
        self.serial.setFocus()

    @Slot(QListWidgetItem)
    def _on_serial_taken_out(self, item: QListWidgetItem) -> None:
        self.serials.takeItem(self.serials.row(item))


def receive_form(workplace: Workplace, code: str = "", currency: str = "") -> Form:
    """Takes parts in: serials scanned one after the other, or a lot and how many; code: the part type at first."""

    def choices() -> Mapping[str, Choices]:
        found = receiving_choices(workplace)
        places = (place for place in found.places if place.kind not in NOT_TO_FIT)
        return {
            "code": [(f"{kind.name}, {kind.code}", kind.code) for kind in found.types],
            "place_id": [(place.name, place.place_id) for place in places],
            "owner_id": [(owner.name, owner.place_id) for owner in found.owners],
        }

    def receive(code: str, serials: Sequence[str], lot: str, pieces: int | None, **more: Any) -> Received:
        delivery = Delivery(lot=lot.strip() or None, **more)
        if serials:
            return receive_serials(workplace, code, serials, delivery)
        if pieces is None:
            raise Refused(say("serial: scan at least one, or give a lot and the number of pieces"))
        return receive_lot(workplace, code, delivery.lot or "", pieces, delivery)

    return Form(
        say("Receive parts"),
        act_words="Receive parts",
        note="Scan each serial, or leave the list empty and give a lot with the number of pieces. A "
        "date is entered as finely as it is marked; what is not marked stays empty.",
        fields=(
            Field("code", "Part type", "choice", default=code, share=2, wants="choose what was delivered",
                  nothing="No part type is in the catalogue; import the centre's files first."),
            Field("place_id", "Place", "choice", beside=True),
            Field("owner_id", "Owner", "choice", beside=True),
            Field("serials", kind="own", made=ScannedField, read=ScannedField.scanned, spoken="serial"),
            Field("lot", "Lot", share=2),
            Field("pieces", "Pieces without serial", "whole", spoken="pieces", beside=True),
            Field("price", in_currency(say("Price each"), currency), "figure", spoken="price", beside=True),
            Field("made", "Made", "marked", MARK_HINT),
            Field("opened", "Opened", "marked", "empty: sealed", beside=True),
            Field("fixed", "Last valid day", "marked", "empty: not marked", beside=True),
            Field("supplier", "Supplier", beside=True),
        ),
        act=receive,
        load=choices,
        first="serials",
        wide=190,
    )  # fmt: skip


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
        found = [place for place in receiving_choices(workplace).places if place.kind not in NOT_TO_FIT]
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


OWNER_WORDS: dict[str, str] = {
    OwnerKind.CENTRE: say("the centre's own"),
    OwnerKind.LOAN: say("on loan"),
    OwnerKind.RENTER: say("a renter's own, never hired out"),
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
        fields=(Field("name", "Name"), Field("kind", "Kind", "choice", choices=[(kind, kind) for kind in PlaceKind])),
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
            Field("kind", "Kind", "choice", choices=[(OWNER_WORDS[kind], kind) for kind in OwnerKind]),
        ),
        act=partial(add_owner, workplace),
    )
