"""Dialogs about people: enter, change, papers seen, PINs, legal holds, leaving and erasing."""

from abc import abstractmethod
from collections.abc import Callable, Sequence
from datetime import date

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QCheckBox, QComboBox, QLineEdit, QSpinBox, QWidget

from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import labelled, with_unit
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.theme import GRID, Theme
from fleetbench.window.shell.background import Background
from fleetbench.window.units.acts import day_in
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.people.acts import (
    change_contact,
    change_pin,
    end_service,
    enter_person,
    reset_pin,
    see_paper,
    set_pin,
)
from fleetbench.workshop.people.erasing import erase_person, lift_legal_hold, place_legal_hold, set_retention
from fleetbench.workshop.people.list import LegalHoldRow, PersonRow

ROLES = ("renter", "student", "instructor", "technician", "manager")
PAPERS = ("diver", "medical", "instructor", "technician")
NAMES_NOBODY = "It stays in the journal, so it names nobody."


class PeopleDialog(ActDialog):
    """What these dialogs share: the shop, and fields made in one place.

    Signals:
        done_with: what was done, in a sentence.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, title: str, act_words: str, parent: QWidget | None
    ) -> None:
        super().__init__(theme, background, title, act_words, parent)
        self._shop = shop

    def field(self, label: str, text: str = "") -> QLineEdit:
        """A line to write in, under its label."""
        made = QLineEdit(text, self)
        made.setAccessibleName(label.lower())
        self.body.addLayout(labelled(made, label, self))
        return made

    def choice(self, label: str, words: Sequence[tuple[str, object]]) -> QComboBox:
        """A box of choices under its label."""
        made = QComboBox(self)
        made.setAccessibleName(label.lower())
        for text, value in words:
            made.addItem(text, value)
        self.body.addLayout(labelled(made, label, self))
        return made

    def pin_field(self, label: str) -> QLineEdit:
        """A field that shows no digit."""
        made = QLineEdit(self)
        made.setEchoMode(QLineEdit.EchoMode.Password)
        made.setMaxLength(12)
        made.setMaximumWidth(48 * GRID)
        made.setAccessibleName(label)
        self.body.addLayout(with_unit(made, label, "", self))
        return made


class EnterDialog(PeopleDialog):
    """Enters somebody new."""

    def __init__(self, theme: Theme, background: Background, shop: Shop, parent: QWidget | None) -> None:
        super().__init__(theme, background, shop, "Enter somebody", "Enter", parent)
        self.note.setText("The code stays for good; name and contact can be erased.")
        self.code = self.field("Code")
        self.role = self.choice("Role", [(role, role) for role in ROLES])
        self.name = self.field("Name")
        self.contact = self.field("Telephone or e-mail")
        self.code.returnPressed.connect(self.role.setFocus)
        self.name.returnPressed.connect(self.contact.setFocus)
        self.contact.returnPressed.connect(self.act)
        self.code.setFocus()

    def work(self) -> Callable[[], object]:
        """The entry."""
        shop, code, role = self._shop, self.code.text(), str(self.role.currentData())
        name, contact = self.name.text(), self.contact.text()

        def enter() -> str:
            enter_person(shop, code, role, name, contact)
            return f"{code.strip()} is entered as {role}."

        return enter


class ContactDialog(PeopleDialog):
    """Writes another name or contact."""

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, row: PersonRow, parent: QWidget | None
    ) -> None:
        super().__init__(theme, background, shop, f"Name and contact of {row.code}", "Keep it", parent)
        self._row = row
        self.name = self.field("Name", row.name if row.name != row.code else "")
        self.contact = self.field("Telephone or e-mail", row.contact or "")
        self.name.returnPressed.connect(self.contact.setFocus)
        self.contact.returnPressed.connect(self.act)

    def work(self) -> Callable[[], object]:
        """The change."""
        shop, row, name, contact = self._shop, self._row, self.name.text(), self.contact.text()

        def change() -> str:
            change_contact(shop, row.person_id, name, contact)
            return f"Name and contact of {row.code} are kept."

        return change


class PaperDialog(PeopleDialog):
    """Notes that a paper was seen."""

    def __init__(
        self,
        theme: Theme,
        background: Background,
        shop: Shop,
        row: PersonRow,
        unit_types: Sequence[tuple[str, str]],
        today: date,
        parent: QWidget | None,
    ) -> None:
        super().__init__(theme, background, shop, f"A paper of {row.code}", "It was seen", parent)
        self._row = row
        self.note.setText("Only what it is, the day and who saw it are kept; never the paper, never a medical form.")
        self.kind = self.choice("What", [(f"{kind} qualification" if kind != "medical" else "medical statement", kind)
                                         for kind in PAPERS])  # fmt: skip
        self.kind.setCurrentIndex(max(0, self.kind.findData(row.role)))
        types: list[tuple[str, object]] = [
            ("every type", None),
            *((f"{code}: {name}", code) for code, name in unit_types),
        ]
        self.unit_type = self.choice("For the unit type", types)
        self.seen_on = self.field("Seen on", today.isoformat())
        self.until = self.field("Valid until, inclusive; empty where it states no end")
        self.seen_on.returnPressed.connect(self.until.setFocus)
        self.until.returnPressed.connect(self.act)
        self.kind.setFocus()

    def work(self) -> Callable[[], object]:
        """The note."""
        kind, shop, row = str(self.kind.currentData()), self._shop, self._row
        chosen = self.unit_type.currentData()
        unit_type = str(chosen) if chosen is not None and kind != "medical" else None
        seen_on = day_in(self.seen_on, "seen on")
        until = day_in(self.until, "valid until") if self.until.text().strip() else None

        def see() -> str:
            see_paper(shop, row.person_id, kind, unit_type=unit_type, seen_on=seen_on, valid_until=until)
            return f"{kind} of {row.code}: seen on {seen_on}."

        return see


class SetPinDialog(PeopleDialog):
    """Lets somebody without a PIN set one, twice the same, beside a manager who enters their own."""

    def __init__(
        self,
        theme: Theme,
        background: Background,
        shop: Shop,
        row: PersonRow,
        people: Sequence[PersonRow],
        parent: QWidget | None,
    ) -> None:
        super().__init__(theme, background, shop, f"PIN of {row.name}", "Set PIN", parent)
        self._row = row
        managers = [each for each in people if each.role == "manager" and each.active and each.has_pin]
        self.manager: QComboBox | None = None
        if managers or row.role != "manager":
            self.note.setText(f"{row.name} enters it beside a manager, who enters their own first. Nobody can read it.")
            self.manager = self.choice("Manager present", [(each.name, each.person_id) for each in managers])
            self.manager_pin = self.pin_field("The manager's own PIN")
            self.manager_pin.returnPressed.connect(self._to_pin)
        else:
            self.note.setText(
                f"No manager has a PIN yet: {row.name} sets the first one alone, signed in under their own name. Do so "
                "before others work here; this PIN vouches for every other."
            )
        self.pin, self.again = self.pin_field("PIN, 4 to 12 digits"), self.pin_field("The same PIN again")
        self.pin.returnPressed.connect(self.again.setFocus)
        self.again.returnPressed.connect(self.act)
        (self.pin if self.manager is None else self.manager).setFocus()

    @Slot()
    def _to_pin(self) -> None:
        self.pin.setFocus()

    def work(self) -> Callable[[], object]:
        """The setting."""
        if self.manager is not None and self.manager.currentData() is None:
            raise Refused("manager: none has a PIN yet; let a manager set theirs first, on their own page under People")
        if self.pin.text() != self.again.text():
            raise Refused("PIN: the two entries differ; enter it again")
        shop, row, pin = self._shop, self._row, self.pin.text()
        manager = int(self.manager.currentData()) if self.manager is not None else None
        manager_pin = self.manager_pin.text() if self.manager is not None else ""

        def keep() -> str:
            set_pin(shop, row.person_id, pin, manager_id=manager, manager_pin=manager_pin)
            return f"{row.code} has a PIN."

        return keep


class ChangePinDialog(PeopleDialog):
    """Lets somebody set another PIN, who enters the old one."""

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, row: PersonRow, parent: QWidget | None
    ) -> None:
        super().__init__(theme, background, shop, f"Another PIN for {row.name}", "Change PIN", parent)
        self._row = row
        self.note.setText("A PIN that was forgotten is reset by a manager.")
        self.old = self.pin_field("The old PIN")
        self.pin, self.again = self.pin_field("The new PIN, 4 to 12 digits"), self.pin_field("The new PIN again")
        self.old.returnPressed.connect(self.pin.setFocus)
        self.pin.returnPressed.connect(self.again.setFocus)
        self.again.returnPressed.connect(self.act)
        self.old.setFocus()

    def work(self) -> Callable[[], object]:
        """The change."""
        if self.pin.text() != self.again.text():
            raise Refused("PIN: the two entries differ; enter it again")
        shop, row, old, pin = self._shop, self._row, self.old.text(), self.pin.text()

        def change() -> str:
            change_pin(shop, row.person_id, old, pin)
            return f"The PIN of {row.code} is changed."

        return change


class ResetPinDialog(PeopleDialog):
    """Takes a lost PIN away under the manager's own."""

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, row: PersonRow, parent: QWidget | None
    ) -> None:
        super().__init__(theme, background, shop, f"Lost PIN of {row.name}", "Take it away", parent)
        self._row = row
        self.note.setText(
            f"The journal holds that it was reset, and by whom. {row.name} then sets a new one with a manager present."
        )
        self.pin = self.pin_field("Your own PIN, as the manager at the desk")
        self.pin.returnPressed.connect(self.act)
        self.pin.setFocus()

    def work(self) -> Callable[[], object]:
        """The reset."""
        shop, row, pin = self._shop, self._row, self.pin.text()

        def reset() -> str:
            reset_pin(shop, row.person_id, pin=pin)
            return f"The PIN of {row.code} is reset; they set a new one with a manager present."

        return reset


class LegalHoldDialog(PeopleDialog):
    """Keeps somebody's records from being erased."""

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, row: PersonRow, parent: QWidget | None
    ) -> None:
        super().__init__(theme, background, shop, f"Legal hold on {row.code}", "Hold", parent)
        self._row = row
        self.note.setText(f"Nothing of theirs is erased while it stands. {NAMES_NOBODY}")
        self.reason = self.field("Why, for instance the number of the claim")
        self.reason.returnPressed.connect(self.act)

    def work(self) -> Callable[[], object]:
        """The hold."""
        shop, row, reason = self._shop, self._row, self.reason.text()

        def hold() -> str:
            place_legal_hold(shop, row.person_id, reason)
            return f"Records of {row.code} are held."

        return hold


class LiftLegalDialog(PeopleDialog):
    """Lifts a legal hold."""

    def __init__(
        self,
        theme: Theme,
        background: Background,
        shop: Shop,
        row: PersonRow,
        holds: Sequence[LegalHoldRow],
        parent: QWidget | None,
    ) -> None:
        super().__init__(theme, background, shop, f"Lift a legal hold on {row.code}", "Lift it", parent)
        self._row = row
        self.hold = self.choice("Hold", [(hold.reason[:100], hold.hold_id) for hold in holds])

    def work(self) -> Callable[[], object]:
        """The lifting."""
        shop, row, key = self._shop, self._row, self.hold.currentData()

        def lift() -> str:
            lift_legal_hold(shop, int(key))
            return f"The legal hold on {row.code} is lifted."

        return lift


class SureDialog(PeopleDialog):
    """An act that cannot be undone: it is ticked first."""

    sentence = ""
    done_words = ""

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, row: PersonRow, parent: QWidget | None
    ) -> None:
        super().__init__(theme, background, shop, f"{self.windowed(row)}", self.button, parent)
        self._row = row
        self.note.setText(self.sentence)
        self.sure = QCheckBox(f"Yes, {row.name}", self)
        self.body.addWidget(self.sure)
        self.sure.setFocus()

    button = ""

    @abstractmethod
    def windowed(self, row: PersonRow) -> str:
        """The title."""

    @abstractmethod
    def do(self, shop: Shop, person_id: int) -> None:
        """The act."""

    def work(self) -> Callable[[], object]:
        """The act, once it is ticked."""
        if not self.sure.isChecked():
            raise Refused("sure: tick that it is meant; it cannot be undone")
        shop, row = self._shop, self._row

        def act() -> str:
            self.do(shop, row.person_id)
            return f"{row.code} {self.done_words}."

        return act


class LeaveDialog(SureDialog):
    """Somebody no longer works or hires here."""

    sentence = "They can be chosen nowhere any more; what they did stays under their name."
    button = "No longer here"
    done_words = "is no longer active"

    def windowed(self, row: PersonRow) -> str:
        """The title."""
        return f"{row.code} is no longer here"

    def do(self, shop: Shop, person_id: int) -> None:
        """The act."""
        end_service(shop, person_id)


class EraseDialog(SureDialog):
    """Erases a renter."""

    sentence = (
        "Name, contact, PIN and words about their hires are deleted for good. Units, times and readings stay under the "
        "code alone. Backups taken before still hold the name."
    )
    button = "Erase"
    done_words = "is erased; the history stays, nameless"

    def windowed(self, row: PersonRow) -> str:
        """The title."""
        return f"Erase {row.code}"

    def do(self, shop: Shop, person_id: int) -> None:
        """The act."""
        erase_person(shop, person_id)


class YearsDialog(PeopleDialog):
    """Sets for how many years each kind of erasable record is kept, and by which rule."""

    def __init__(
        self,
        theme: Theme,
        background: Background,
        shop: Shop,
        years: Sequence[tuple[str, int | None, str]],
        parent: QWidget | None,
    ) -> None:
        super().__init__(theme, background, shop, "Years that records of people are kept", "Set them", parent)
        self.note.setText("Local law and your privacy notice say how long. Nothing is erased by itself.")
        self.years: dict[str, QSpinBox] = {}
        self.sources: dict[str, QLineEdit] = {}
        for kind, kept, source in years:
            box = QSpinBox(self)
            box.setRange(-1, 100)
            box.setSpecialValueText("not set")
            box.setValue(-1 if kept is None else kept)
            box.setAccessibleName(f"years of {kind}")
            self.body.addWidget(text_label(kind.capitalize(), "strong", self))
            self.body.addLayout(labelled(box, "Years after the last booked day", self))
            self.years[kind], self.sources[kind] = box, self.field("By which rule", source)
            self.sources[kind].setAccessibleName(f"rule for {kind}")

    def work(self) -> Callable[[], object]:
        """The setting of each kind that has years."""
        wanted = [
            (kind, box.value(), self.sources[kind].text()) for kind, box in self.years.items() if box.value() >= 0
        ]
        if not wanted:
            raise Refused("years: none is set; give the years of at least one kind")
        shop = self._shop

        def keep() -> str:
            for kind, years, source in wanted:
                set_retention(shop, kind, years, source)
            return "The years are set."

        return keep
