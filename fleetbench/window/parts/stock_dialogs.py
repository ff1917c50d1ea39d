"""Counted stock, kits and places: what asks for a lot and a count, what is used up, contents, and new places."""

from collections.abc import Callable

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QWidget

from fleetbench.records.core.errors import Refused
from fleetbench.records.places.tables import OWNER_KINDS, PLACE_KINDS
from fleetbench.window.forms.fields import DecimalField
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.look.theme import BLOCK, Theme
from fleetbench.window.parts.part_dialogs import labelled, line_field
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.parts.counted import KITS, set_kit_content
from fleetbench.workshop.parts.places import add_owner, add_place
from fleetbench.workshop.parts.shelf import ReceivingChoices, receiving_choices
from fleetbench.workshop.parts.stock_takes import CountedStock, count_stock, counted_stock, use_up

OWNER_WORDS = {"centre": "the centre's own", "loan": "on loan", "renter": "a renter's own, never hired out"}
NO_LOT = "no lot marked"


def chooser(name: str, parent: QWidget) -> QComboBox:
    """A box of choices."""
    box = QComboBox(parent)
    box.setAccessibleName(name)
    return box


def whole(field: DecimalField) -> int:
    """The whole number that stands in a field; Refused names it."""
    value = field.value()
    if value is None:
        raise Refused(f"{field.name}: is empty; give the number of pieces")
    if value != int(value):
        raise Refused(f"{field.name}: {value:g} is not a whole number of pieces")
    return int(value)


class CountDialog(ActDialog):
    """Corrects the pieces of a lot by what was counted on the shelf.

    Signals:
        done_with: counted less the book.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, code: str, name: str, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, f"Count {name}", "Enter the count", parent)
        self._shop, self._code = shop, code
        self.note.setText(
            "Pieces without a serial are counted by lot. What is missing leaves stock as not found; what is over must "
            "be received with its marks."
        )
        self.lot, self.counted = chooser("lot", self), DecimalField("counted", self)
        self.reason = line_field("reason", self, "yearly count, box fell over, ...")
        row = QHBoxLayout()
        row.setSpacing(BLOCK)
        row.addLayout(labelled("Lot, pieces by the book", self.lot, self), 1)
        row.addLayout(labelled("Counted", self.counted, self))
        self.body.addLayout(row)
        self.body.addLayout(labelled("Reason", self.reason, self))
        self.counted.returnPressed.connect(self.reason.setFocus)
        self.reason.returnPressed.connect(self.act)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_stock)
        self._loader.refused.connect(self.banner.say_refused)
        self._loader.ask(lambda: counted_stock(shop, code))
        self.counted.setFocus()

    @Slot(object)
    def show_stock(self, stock: CountedStock) -> None:
        """Offer these lots."""
        for each in stock.lots:
            self.lot.addItem(f"{each.lot or NO_LOT}, {each.pieces}", each.lot)
        if not stock.lots:
            self.banner.say_refused("Every piece of it has a serial of its own: set aside or scrap what is missing.")

    def work(self) -> Callable[[], object]:
        """The count."""
        if self.lot.currentIndex() < 0:
            raise Refused("lot: nothing is kept by lot here; receive pieces with a lot first")
        shop, code, lot = self._shop, self._code, self.lot.currentData()
        counted, reason = whole(self.counted), self.reason.text()
        return lambda: count_stock(shop, code, lot, counted, reason)


class UseUpDialog(ActDialog):
    """Takes pieces of a consumable from the shelf, oldest usable first.

    Signals:
        done_with: keys of the pieces.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, code: str, name: str, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, f"Use up {name}", "Use up", parent)
        self._shop, self._code = shop, code
        self.note.setText(
            "The oldest usable pieces without a serial leave the shelf. What sits in a slot of a unit is fitted there "
            "instead, so that its life is watched."
        )
        self.quantity, self.ticket = DecimalField("quantity", self), chooser("ticket", self)
        self.reason = line_field("reason", self, "what it was used for")
        self.ticket.addItem("for no ticket", None)
        row = QHBoxLayout()
        row.setSpacing(BLOCK)
        row.addLayout(labelled("Pieces", self.quantity, self))
        row.addLayout(labelled("Ticket", self.ticket, self), 1)
        self.body.addLayout(row)
        self.body.addLayout(labelled("Reason", self.reason, self))
        self.quantity.returnPressed.connect(self.reason.setFocus)
        self.reason.returnPressed.connect(self.act)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_stock)
        self._loader.refused.connect(self.banner.say_refused)
        self._loader.ask(lambda: counted_stock(shop, code))
        self.quantity.setFocus()

    @Slot(object)
    def show_stock(self, stock: CountedStock) -> None:
        """Offer these tickets."""
        for key, number in stock.tickets:
            self.ticket.addItem(f"ticket {number}", key)

    def work(self) -> Callable[[], object]:
        """Using it up."""
        shop, code, ticket = self._shop, self._code, self.ticket.currentData()
        quantity, reason = whole(self.quantity), self.reason.text()
        return lambda: use_up(shop, code, quantity, reason, ticket_id=ticket)


class KitDialog(ActDialog):
    """Says how many parts of a type a kit must hold at least.

    Signals:
        done_with: nothing.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, parent: QWidget | None = None, *,
        place_id: int | None = None, code: str = "", least: int | None = None,
    ) -> None:  # fmt: skip
        super().__init__(theme, background, "Least contents of a kit", "Set it", parent)
        self._shop, self._place, self._code = shop, place_id, code
        self.note.setText("A kit or a van must hold so many usable pieces; nought takes the part type off its list.")
        self.kit, self.kind = chooser("kit", self), chooser("part type", self)
        self.least = DecimalField("least", self)
        self.least.show_value(least, 0)
        row = QHBoxLayout()
        row.setSpacing(BLOCK)
        row.addLayout(labelled("Kit", self.kit, self), 1)
        row.addLayout(labelled("Part type", self.kind, self), 2)
        row.addLayout(labelled("At least", self.least, self))
        self.body.addLayout(row)
        self.least.returnPressed.connect(self.act)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_choices)
        self._loader.refused.connect(self.banner.say_refused)
        self._loader.ask(lambda: receiving_choices(shop))
        self.least.setFocus()

    @Slot(object)
    def show_choices(self, choices: ReceivingChoices) -> None:
        """Offer kits and part types, with what was chosen in the list."""
        for place in choices.places:
            if place.kind in KITS:
                self.kit.addItem(place.name, place.place_id)
        for kind in choices.types:
            self.kind.addItem(f"{kind.name}, {kind.code}", kind.code)
        self.kit.setCurrentIndex(max(0, self.kit.findData(self._place)))
        self.kind.setCurrentIndex(max(0, self.kind.findData(self._code)))
        if not self.kit.count():
            self.banner.say_refused("There is no kit and no van yet: enter one under Places first.")

    def work(self) -> Callable[[], object]:
        """Setting it."""
        shop, place, code, least = self._shop, self.kit.currentData(), self.kind.currentData(), whole(self.least)
        if place is None or code is None:
            raise Refused("kit: choose a kit and a part type")
        return lambda: set_kit_content(shop, int(place), code, least)


class PlaceDialog(ActDialog):
    """Enters a place, or an owner.

    Signals:
        done_with: its key.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, what: str, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, f"New {what}", "Enter it", parent)
        self._shop, self._what = shop, what
        self.name, self.kind = line_field("name", self), chooser("kind", self)
        kinds = PLACE_KINDS if what == "place" else OWNER_KINDS
        for kind in kinds:
            self.kind.addItem(kind if what == "place" else OWNER_WORDS[kind], kind)
        self.note.setText(
            "Parts lie in places; quarantine and sent back hold what may not be fitted."
            if what == "place"
            else "Write no person's name here: it stays in the records for good. 'A renter's own' will do."
        )
        self.body.addLayout(labelled("Name", self.name, self))
        self.body.addLayout(labelled("Kind", self.kind, self))
        self.name.returnPressed.connect(self.act)
        self.name.setFocus()

    def work(self) -> Callable[[], object]:
        """Entering it."""
        shop, name, kind = self._shop, self.name.text(), self.kind.currentData()
        if self._what == "place":
            return lambda: add_place(shop, name, kind)
        return lambda: add_owner(shop, name, kind)
