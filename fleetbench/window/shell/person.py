"""Who is at the bench: chosen once on a page, and said wherever something is recorded."""

from collections.abc import Sequence

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QWidget

from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.theme import CLOSE
from fleetbench.workshop.people.list import PersonRow

ROLES = ("technician", "manager", "instructor")
"""Roles that work at a bench; common practice, no published source."""


class BenchPerson(QWidget):
    """A chooser of people who work at the bench.

    Signals:
        chosen: the key of the person, or None.
    """

    chosen = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.box = QComboBox(self)
        self.box.setAccessibleName("at the bench")
        self.box.setMinimumWidth(180)
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(CLOSE)
        line.addWidget(text_label("At the bench", "label", self))
        line.addWidget(self.box)
        self.box.activated.connect(self._on_activated)

    @property
    def person_id(self) -> int | None:
        """The key of who is chosen."""
        key = self.box.currentData()
        return int(key) if key is not None else None

    def choose(self, person_id: int | None) -> None:
        """Show this one as chosen."""
        self.box.setCurrentIndex(max(self.box.findData(person_id), 0) if person_id is not None else 0)

    def show_people(self, people: Sequence[PersonRow], person_id: int | None) -> None:
        """Offer the active people of the bench, with this one chosen."""
        self.box.clear()
        self.box.addItem("choose", None)
        for person in sorted(people, key=lambda each: (ROLES.index(each.role) if each.role in ROLES else 9, each.name)):
            if person.active and person.role in ROLES:
                self.box.addItem(person.name, person.person_id)
        self.choose(person_id)

    @Slot(int)
    def _on_activated(self, _index: int) -> None:
        self.chosen.emit(self.person_id)
