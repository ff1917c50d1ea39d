"""Where an act happens: the database, the clock and the person at the bench, passed in and never global."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from fleetbench.calc.people.permits import ACTS, act_word, may, who_may
from fleetbench.records.core.act import Act, acting
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.people.pins import count_wrong
from fleetbench.records.people.reads import anybody_active
from fleetbench.records.people.tables import Person
from fleetbench.records.places.tables import centre_timezone


def wall_clock() -> datetime:
    """Now, in UTC."""
    return datetime.now(UTC)


class WrongPin(Refused):
    """A PIN that did not match; the act that asked for it counts it against the person."""

    def __init__(self, said: str, person_id: int) -> None:
        super().__init__(said)
        self.person_id = person_id


@dataclass(frozen=True, slots=True)
class Shop:
    """The database, the clock and who acts; attended: at a window, where somebody must be chosen before an act.

    A centre in which nobody is recorded yet lets its first people be entered and its sheets be brought in all the same.
    """

    database: Database
    clock: Callable[[], datetime] = wall_clock
    person_id: int | None = None
    attended: bool = False

    @contextmanager
    def acting(self, name: str, subject: str) -> Iterator[Act]:
        """One act in one transaction with one journal entry; Refused where the person's role does not allow it.

        Where nobody is at the bench the program itself acts, such as an import from the command line.
        """
        try:
            with acting(self.database, self.clock, self.person_id, name, subject) as act:
                require(act, name, attended=self.attended)
                yield act
        except WrongPin as wrong:
            count_wrong(self.database, wrong.person_id, self.clock())
            raise

    def as_person(self, person_id: int | None) -> "Shop":
        """The same shop with another person at the bench."""
        return replace(self, person_id=person_id)

    def zone(self) -> ZoneInfo:
        """The site's time zone; UTC until the centre has one."""
        with self.database.reading() as connection:
            return ZoneInfo(centre_timezone(connection) or "UTC")

    def today(self) -> date:
        """The site's calendar date."""
        return self.clock().astimezone(self.zone()).date()


def require(act: Act, name: str, *, attended: bool = False) -> None:
    """Nothing where the person of the act may do what is named; Refused in one line otherwise."""
    if act.person_id is None:
        if attended and anybody_active(act.session):
            raise Refused("person: nobody is signed in; choose your name at the top of the window")
        return
    if act_word(name) not in ACTS:
        raise Refused(f"{name}: stands in no list of who may do it; this is a fault of the program, report it")
    person = act.get(Person, act.person_id, "person")
    if not person.active:
        raise Refused(f"person {person.code}: is no longer active; choose who is signed in")
    if not may(person.role, name):
        asked = " or ".join(who_may(name))
        raise Refused(f"person {person.code}: '{name}' is not for the role {person.role}; ask a {asked}")
