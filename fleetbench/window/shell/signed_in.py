"""Who is signed in, one for the whole window, and the one chooser of it, in the window's head.

No key and no turn of the wheel changes the user while the list is closed.
"""

import threading
from collections.abc import Callable, Mapping, Sequence
from operator import attrgetter
from typing import TYPE_CHECKING, TypeVar

from PySide6.QtCore import QEvent, QModelIndex, QObject, QPoint, QStringListModel, Qt, Signal, Slot
from PySide6.QtGui import QHideEvent, QKeyEvent
from PySide6.QtWidgets import QFrame, QLineEdit, QListView, QPushButton, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import folded_name, say, shown, strung, worded
from fleetbench.calc.people.permits import may, who_may
from fleetbench.window.look.buttons import as_button_text, plain_button, put_hint, text_label
from fleetbench.window.look.theme import APART, CLOSE, GRID, Theme

if TYPE_CHECKING:
    # Only named here: they read the tables' definitions, which takes longer than showing the window.
    from fleetbench.records.people.reads import PersonRecord
    from fleetbench.workshop.core.workplace import Workplace

T = TypeVar("T")

ROLES = ("technician", "manager", "instructor")
"""Roles that work at a bench; common practice, no published source."""


class SignedIn(QObject):
    """The signed-in user; nobody at first, and never another one but by choose().

    Signals:
        changed: the key of the person, or None; also when their name or role was changed.
        people_changed: others may sign in.
        wanted: something needs a signed-in user first.
    """

    changed = Signal(object)
    people_changed = Signal()
    wanted = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._person_id: int | None = None
        self._people: tuple[PersonRecord, ...] = ()
        self._by_key: dict[int, PersonRecord] = {}
        self._bound = threading.local()
        self._then: list[tuple[Callable[[], object], Callable[[], object]]] = []

    @property
    def person_id(self) -> int | None:
        """The key of the signed-in user: inside work on its way, of the one who was when it was handed over."""
        held: tuple[int | None] | None = getattr(self._bound, "held", None)
        return held[0] if held is not None else self._person_id

    @property
    def person(self) -> "PersonRecord | None":
        """The signed-in user as recorded."""
        return self._by_key.get(self._person_id) if self._person_id is not None else None

    @property
    def role(self) -> str | None:
        """The role of the signed-in user; None where nobody is signed in."""
        return self.person.role if self.person is not None else None

    @property
    def name(self) -> str:
        """The name of the signed-in user; empty where nobody is signed in."""
        return self.person.name if self.person is not None else ""

    @property
    def offered(self) -> "tuple[PersonRecord, ...]":
        """Who may sign in: the active staff, technicians first."""
        staff = [each for each in self._people if each.active and each.role in ROLES]
        return tuple(sorted(staff, key=lambda each: (ROLES.index(each.role), folded_name(each.name))))

    @property
    def is_missing(self) -> bool:
        """True where nobody is signed in though somebody could be."""
        return self._person_id is None and bool(self.offered)

    def show_people(self, people: "Sequence[PersonRecord]") -> None:
        """Know these people; who may no longer sign in is signed out."""
        before = self.person
        self._people = tuple(people)
        self._by_key = {each.person_id: each for each in self._people}
        if self._person_id not in {None, *(each.person_id for each in self.offered)}:
            self.choose(None)
        elif self.person != before:
            self.changed.emit(self._person_id)
        self.people_changed.emit()

    def choose(self, person_id: int | None) -> None:
        """Sign this person in, or nobody; what waited for it is done now."""
        if person_id != self._person_id:
            self._person_id = person_id
            self.changed.emit(person_id)
        if not self.is_missing:
            waiting, self._then = self._then, []
            for then, _else in waiting:
                then()

    def first(self, then: Callable[[], object], otherwise: Callable[[], object]) -> None:
        """Do this at once, or as soon as somebody is signed in; otherwise: where nobody chose to."""
        if not self.is_missing:
            then()
            return
        self._then.append((then, otherwise))
        self.wanted.emit()

    def give_up(self) -> None:
        """Nobody signed in: what waited for it is not done."""
        waiting, self._then = self._then, []
        for _then, otherwise in waiting:
            otherwise()

    def bound(self, work: Callable[..., T]) -> Callable[..., T]:
        """The work as the person who is signed in now, whoever is when a thread comes to it."""
        holds = (self.person_id,)

        def as_they_were(*given: object) -> T:
            before = getattr(self._bound, "held", None)
            self._bound.held = holds
            try:
                return work(*given)
            finally:
                self._bound.held = before

        return as_they_were

    def at(self, workplace: "Workplace") -> "Workplace":
        """The workshop in which the signed-in user acts."""
        # The workshop is open by now, and what reads its tables' definitions is read.
        from fleetbench.workshop.core.workplace import WorkplaceOfSignedIn

        return (
            workplace
            if isinstance(workplace, WorkplaceOfSignedIn)
            else WorkplaceOfSignedIn(workplace, attrgetter("person_id"), self)
        )


CHOOSE = say("Choose who is signed in")
NOBODY_RECORDED = say("Nobody is recorded yet")
SIGN_OUT = say("Nobody (sign out)")
PASSED_ON = (Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_PageUp, Qt.Key.Key_PageDown)


def grey(buttons: Mapping[str, QPushButton], needs: Mapping[str, str], role: str | None) -> None:
    """Grey what a role may not do, with the roles that may; until a user is signed in nothing is greyed."""
    for word, act in needs.items():
        allowed = role is None or may(role, act)
        buttons[word].setEnabled(allowed)
        buttons[word].setToolTip("" if allowed else worded(say("For a {act}", act=strung(" or ", who_may(act)))))


class PersonList(QFrame):
    """The list of who may sign in: typed letters narrow it, without accents too; Enter or a click chooses.

    Signals:
        left: it was closed.
    """

    left = Signal()

    def __init__(self, signed_in: SignedIn, parent: QWidget) -> None:
        super().__init__(parent, Qt.WindowType.Popup)
        self.setObjectName("popup")
        self._signed_in = signed_in
        self._keys: list[int | None] = []
        self._chosen: tuple[int | None] | None = None
        self.why = text_label(say("Choose your name first"), "strong", self)
        self.field = QLineEdit(self)
        put_hint(self.field, worded("Name or code"))
        self.field.setAccessibleName(worded("name or code of the user"))
        self.names = QListView(self)
        self.names.setAccessibleName(worded("people who may sign in"))
        self.names.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.names.setEditTriggers(QListView.EditTrigger.NoEditTriggers)
        self._model = QStringListModel(self)
        self.names.setModel(self._model)
        self.setFocusProxy(self.field)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(APART, APART, APART, APART)
        layout.setSpacing(CLOSE)
        for widget in (self.why, self.field, self.names):
            layout.addWidget(widget)
        self.field.textChanged.connect(self.show_names)
        self.field.returnPressed.connect(self._on_return)
        self.field.installEventFilter(self)
        self.names.clicked.connect(self._choose)
        signed_in.people_changed.connect(self.show_names)

    def open_at(self, corner: QPoint, width: int, *, asked: bool) -> None:
        """Open with the right upper corner there; asked: an act waits for it."""
        self._chosen = None
        self.why.setVisible(asked)
        self.field.clear()
        self.show_names()
        self.resize(max(width, 64 * GRID), 80 * GRID)
        self.move(corner - QPoint(self.width(), 0))
        self.show()
        self.field.setFocus()

    @Slot()
    def show_names(self) -> None:
        """Offer those whose name or code holds what was typed."""
        wanted = folded_name(self.field.text())
        found = [each for each in self._signed_in.offered if wanted in folded_name(f"{each.name} {each.code}")]
        self._keys = [each.person_id for each in found]
        names = [each.name for each in found]
        if not wanted and self._signed_in.person_id is not None:
            self._keys.append(None)
            names.append(SIGN_OUT)
        self._model.setStringList(names)
        now = self._signed_in.person_id
        row = self._keys.index(now) if now in self._keys else 0
        self.names.setCurrentIndex(self._model.index(row))

    @Slot()
    def _on_return(self) -> None:
        self._choose(self.names.currentIndex())

    @Slot(QModelIndex)
    def _choose(self, index: QModelIndex) -> None:
        if not index.isValid():
            return
        self._chosen = (self._keys[index.row()],)
        self.hide()

    # Qt overrides

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        self.left.emit()
        if self._chosen is None:
            self._signed_in.give_up()
        else:
            self._signed_in.choose(self._chosen[0])

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.hide()
            return
        super().keyPressEvent(event)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress and event.key() in PASSED_ON:
            self.names.keyPressEvent(event)
            return True
        return super().eventFilter(watched, event)


class PersonChooser(QWidget):
    """Who is signed in, with the list to choose another.

    Signals:
        opened: the list is shown; whose names it holds may be loaded again.
        left: the list was closed; the keyboard belongs to the page again.
    """

    opened = Signal()
    left = Signal()

    def __init__(self, theme: Theme, signed_in: SignedIn, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._signed_in = signed_in
        self.button: QPushButton = plain_button(theme, CHOOSE, "", self)
        self.button.setMinimumWidth(48 * GRID)
        self.button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.list = PersonList(signed_in, self)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.button)
        self.button.clicked.connect(self.open_list)
        self.list.left.connect(self.left)
        signed_in.changed.connect(self.show_person)
        signed_in.people_changed.connect(self.show_person)
        signed_in.wanted.connect(self._on_wanted)
        self.show_person()

    @property
    def text(self) -> str:
        """What the head says of who is signed in."""
        name = self._signed_in.name
        if name:
            return shown(say("Signed in: {name}", name=name))
        return worded(CHOOSE if self._signed_in.offered else NOBODY_RECORDED)

    @Slot()
    def show_person(self) -> None:
        """Say who is signed in; until a user is, the button stands out."""
        self.button.setText(as_button_text(self.text))
        self.button.setAccessibleName(self.text)
        self.button.setProperty("role", "lead" if self._signed_in.is_missing else "plain")
        self.button.style().unpolish(self.button)
        self.button.style().polish(self.button)

    @Slot()
    def open_list(self) -> None:
        """Open the list."""
        self._open(asked=False)

    @Slot()
    def _on_wanted(self) -> None:
        self._open(asked=True)

    def _open(self, *, asked: bool) -> None:
        corner = self.button.mapToGlobal(QPoint(self.button.width(), self.button.height()))
        self.list.open_at(corner, self.button.width(), asked=asked)
        self.opened.emit()
