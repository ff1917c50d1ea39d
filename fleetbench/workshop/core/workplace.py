"""Where an act happens: the database, the clock and the person at the bench, passed in and never global.

Figures as a person gives them, checked where they enter: one clear refusal that names field and remedy.

The centre itself as sheets and the window's head show it, and the day on which a question is asked.

What two desks changed at once: what both changed is shown before it is replaced.
"""

import math
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from fleetbench.calc.bench.meter import Metered
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import Measure, use
from fleetbench.calc.core.plausible import Quantity, outside
from fleetbench.calc.core.wall_time import clock_doubt
from fleetbench.calc.people.permits import ACTS, act_word, may, who_may
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Clash, NotFound, Refused
from fleetbench.records.core.transaction import Transaction, last_entry, transaction
from fleetbench.records.people.reads import anybody_active
from fleetbench.records.people.tables import Person, count_wrong
from fleetbench.records.places.reads import CentreRecord
from fleetbench.records.places.reads import read_centre as read_centre_record
from fleetbench.records.places.tables import centre_timezone, centre_units

NOBODY = say("person: nobody is signed in; choose your name at the top of the window")


def wall_clock() -> datetime:
    """Now, in UTC."""
    return datetime.now(UTC)


def usual_paper() -> str:
    """The paper of pages where none was chosen."""
    return "A4"


class WrongPin(Refused):
    """A PIN that did not match; the act that asked for it counts it against the person."""

    def __init__(self, said: str, person_id: int) -> None:
        super().__init__(said)
        self.person_id = person_id


class _OnlyTriedError(Exception):
    """Ends an act of which nothing is to stay."""


@dataclass(frozen=True, slots=True)
class Workplace:
    """The database, the clock and who acts; attended: at a window, where somebody must be chosen before an act.

    paper: the name of the paper that pages are printed on, asked for each page, as the clock is.
    A centre in which nobody is recorded yet lets its first people be entered and its sheets be brought in all the same.
    """

    database: Database
    clock: Callable[[], datetime] = wall_clock
    person_id: int | None = None
    attended: bool = False
    paper: Callable[[], str] = usual_paper

    @contextmanager
    def transaction(self, name: str, subject: str) -> Iterator[Transaction]:
        """One act in one transaction with one journal entry; Refused where the person's role does not allow it.

        Where nobody is at the bench the program itself acts, such as an import from the command line. A wrong PIN is
        counted before the act lets another one in, so that no two tries at once are looked at under one count.
        """
        with transaction(self.database, self.clock, self.person_id, name, subject) as act:
            act.mark()
            try:
                require(act, name, attended=self.attended)
                yield act
            except WrongPin as wrong:
                act.back_to_mark()
                count_wrong(act.session, wrong.person_id, act.at)
                act.session.commit()
                raise

    @contextmanager
    def trying(self, name: str, subject: str) -> Iterator[Transaction]:
        """An act of which nothing stays: what it would do can be looked at, under the same rules."""
        try:
            with self.transaction(name, subject) as act:
                yield act
                raise _OnlyTriedError
        except _OnlyTriedError:
            return

    def as_person(self, person_id: int | None) -> "Workplace":
        """The same workplace with another person at the bench."""
        return replace(self, person_id=person_id)

    def zone(self) -> ZoneInfo:
        """The site's time zone; UTC until the centre has one."""
        with self.database.reading() as connection:
            return ZoneInfo(centre_timezone(connection) or "UTC")

    def today(self) -> date:
        """The site's calendar date."""
        return self.clock().astimezone(self.zone()).date()


def in_its_units(workplace: Workplace) -> Workplace:
    """The workplace, whose centre's units are typed and read in this process from now on.

    A window takes another centre's or other units only where it makes its pages again: what was typed in a field, and
    what stands over a column, never changes its meaning under the reader's eyes.
    """
    with workplace.database.reading() as connection:
        use(centre_units(connection))
    return workplace


def clock_in_doubt(workplace: Workplace) -> str | None:
    """What a user is told of this computer's clock; None where it runs on from the last entry."""
    with workplace.database.read_session() as session:
        return clock_doubt(workplace.clock(), last_entry(session).at)


def last_number(workplace: Workplace) -> int:
    """The number of the journal's last entry; zero where nothing is recorded."""
    with workplace.database.read_session() as session:
        return last_entry(session).number


class WorkplaceOfSignedIn(Workplace):
    """A workplace whose person is asked for at every look, such as the user who is signed in at a window."""

    __slots__ = ("_holder", "_person_of")

    def __init__(self, workplace: Workplace, person_of: Callable[[Any], int | None], holder: object) -> None:
        for name, value in (
            ("database", workplace.database),
            ("clock", workplace.clock),
            ("attended", workplace.attended),
            ("paper", workplace.paper),
            ("_holder", holder),
            ("_person_of", person_of),
        ):
            object.__setattr__(self, name, value)

    @property
    def person_id(self) -> int | None:
        """The key of the person at this moment."""
        of: Callable[[Any], int | None] = object.__getattribute__(self, "_person_of")
        return of(object.__getattribute__(self, "_holder"))

    def as_person(self, person_id: int | None) -> Workplace:
        """The same workplace with one person for good, such as the signer of a ticket."""
        return Workplace(self.database, clock=self.clock, person_id=person_id, attended=self.attended, paper=self.paper)


def require(act: Transaction, name: str, *, attended: bool = False) -> None:
    """Nothing where the person of the act may do what is named; Refused in one line otherwise."""
    if act.person_id is None:
        if attended and anybody_active(act.session):
            raise Refused(NOBODY)
        return
    if act_word(name) not in ACTS:
        raise Refused(
            say("{act}: stands in no list of who may do it; this is a fault of the program, report it", act=name)
        )
    person = act.get(Person, act.person_id, "person")
    if not person.active:
        raise Refused(say("person {code}: is no longer active; choose who is signed in", code=person.code))
    if not may(person.role, name):
        asked = strung(" or ", map(say, who_may(name)))
        told = say("person {code}: '{act}' is not for the role {role}; ask a {asked}",
                   code=person.code, act=say(name), role=say(person.role), asked=asked)  # fmt: skip
        raise Refused(told)


def require_person(workplace: Workplace) -> int:
    """The person at the bench; Refused where nobody is chosen."""
    if workplace.person_id is None:
        raise Refused(NOBODY)
    return workplace.person_id


def required(field: str, text: str) -> str:
    """The text without outer blanks; Refused where nothing is left."""
    said = text.strip()
    if not said:
        raise Refused(say("{field}: is empty; write it down", field=say(field)))
    return said


def figure(field: str, value: float | None, low: float, high: float, remedy: str, unit: Measure | str = "") -> float:
    """The value where it is a number from low to high; Refused otherwise, and where it is not given.

    unit: what it was typed in; a measure's word stands in the remedy for {unit}.
    """
    asked = say(remedy, unit=unit.word) if isinstance(unit, Measure) else say(remedy)
    if value is None:
        raise Refused(say("{field}: is missing; {remedy}", field=say(field), remedy=asked))
    if isinstance(value, bool) or not math.isfinite(value) or not low <= value <= high:
        raise Refused(strung(": ", (say(field), outside(value, low, high, unit, asked))))
    return value if isinstance(value, Metered) else float(value)


def figure_or_none(
    field: str, value: float | None, low: float, high: float, remedy: str, unit: Measure | str = ""
) -> float | None:
    """The value where it is a number from low to high, None for not known; Refused otherwise."""
    return None if value is None else figure(field, value, low, high, remedy, unit)


def measured(quantity: Quantity, value: float | None, field: str | None = None) -> float:
    """The value where this quantity can be that; Refused otherwise, and where it is not given."""
    return figure(field or quantity.name, value, quantity.low, quantity.high, quantity.remedy, quantity.measure or "")


def measured_or_none(quantity: Quantity, value: float | None, field: str | None = None) -> float | None:
    """The value where this quantity can be that, None for not known; Refused otherwise."""
    return None if value is None else measured(quantity, value, field)


def require_read_with(name: str, figure: float | None, chosen: int | None) -> None:
    """Nothing where a figure was typed, or read from the piece that is chosen for it; Refused naming the field."""
    if isinstance(figure, Metered) and figure.source.equipment_id != chosen:
        raise Refused(
            say(
                "{field}: was read from another instrument than the chosen one; choose that, or read it again",
                field=say(name),
            )
        )


def one_word(field: str, word: str, words: tuple[str, ...]) -> str:
    """The word where it is one of those known; Refused otherwise."""
    if word not in words:
        raise Refused(
            say("{field}: '{word}' is not known; choose one of {words}",
                field=say(field), word=word, words=strung(", ", map(say, words)))
        )  # fmt: skip
    return word


@dataclass(frozen=True, slots=True)
class Day:
    """When a question is asked: the moment, and the site's calendar date and zone."""

    now: datetime
    today: date
    zone: ZoneInfo

    def of(self, at: datetime) -> date:
        """The site's calendar date of a moment."""
        return at.astimezone(self.zone).date()

    def midnight(self, day: date) -> datetime:
        """The moment at which a calendar day begins at the site."""
        return datetime.combine(day, time(), tzinfo=self.zone)


def day_of(workplace: Workplace, on: date | None = None) -> Day:
    """Now, or as if today were `on`, in the site's calendar; the clock is read once."""
    with workplace.database.reading() as connection:
        return day_in(workplace, centre_timezone(connection), on)


def day_in(workplace: Workplace, zone: str | None, on: date | None = None) -> Day:
    """The same where the site's zone is known; UTC where the centre has none yet."""
    place, now = ZoneInfo(zone or "UTC"), workplace.clock()
    return Day(now, on or now.astimezone(place).date(), place)


def read_centre(workplace: Workplace) -> CentreRecord:
    """The centre; NotFound before anything was entered or imported."""
    with workplace.database.reading() as connection:
        centre = read_centre_record(connection)
    if centre is None:
        raise NotFound(say("centre: nothing is recorded yet; import the centre's files first"))
    return centre


Values = Mapping[str, Any]


def in_words(values: Values) -> str:
    """Values one after the other, as a refusal shows them."""
    said = [{True: say("yes"), False: say("no")}.get(each, str(each)) for each in values.values()
            if each not in ("", None)]  # fmt: skip
    return strung(", ", said) or say("not recorded")


def with_theirs(
    about: str,
    mine: Values,
    seen: Values | None,
    now: Values,
    together: Mapping[str, tuple[str, ...]],
    *,
    shown: Callable[[Values], str] = in_words,
    plain: Callable[[Any], Any] = lambda value: value,
) -> dict[str, Any]:
    """Mine, with what another desk saved since it was seen wherever mine is as it was seen.

    together: by its word, the values that make sense together alone. plain: what of a value counts. Raises Clash, with
    what stands there now, where both changed the same: given as seen with the next try, it is replaced.
    """
    merged, twice, said = dict(mine), dict[str, Any](), list[str]()
    for word, names in together.items() if seen is not None else ():
        theirs, began, ours = ({name: plain(each.get(name)) for name in names} for each in (now, seen or {}, mine))
        if theirs in (began, ours):
            continue
        stands = {name: now.get(name) for name in names}
        if ours == began:
            merged |= stands
        else:
            twice |= stands
            told = say("{field}: {theirs} by another desk, {ours} here",
                       field=say(word), theirs=shown(theirs), ours=shown(ours))  # fmt: skip
            said.append(told)
    if said:
        told = say("{about}: {told}. Save again to replace theirs by yours", about=say(about), told=strung("; ", said))
        raise Clash(told, twice)
    return merged
