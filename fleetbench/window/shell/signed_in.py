"""Who is signed in: one for the whole window, read at the moment an act is handed over, and kept nowhere else."""

import threading
from collections.abc import Callable, Sequence
from operator import attrgetter
from typing import TYPE_CHECKING, TypeVar

from PySide6.QtCore import QObject, Signal

from fleetbench.calc.core.letters import folded_name

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
