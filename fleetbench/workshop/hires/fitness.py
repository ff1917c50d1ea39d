"""Which units may be counted on for days to come, judged as a hand-over is, and a manager's booking of others.

A fixed number of statements, whatever the number of units and days: what is recorded is read once.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from fleetbench.calc.core.languages import in_row, say, strung
from fleetbench.calc.hires.availability import Span
from fleetbench.calc.hires.sell import MINUTES
from fleetbench.calc.people.permits import Role
from fleetbench.calc.readiness.judge import Assessment, Check, Fitness
from fleetbench.calc.readiness.limits import CheckFinding
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.hires.reads import BookedUnit, read_promises, read_wanted
from fleetbench.records.hires.tables import Acceptance
from fleetbench.records.people.tables import Person
from fleetbench.records.places.reads import LimitRecord
from fleetbench.records.readiness.reads import read_fleet
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.core.workplace import Day, Workplace, day_of, required
from fleetbench.workshop.people.acts import check_pin
from fleetbench.workshop.readiness.ready import Question, Readiness, leaving_way, way_of
from fleetbench.workshop.units.fleet import Fleet, Seat

BOOKED_UNFIT = in_row("booked unfit")
"""How a manager's booking of a unit that is not fit is named among the acceptances; no check has this name."""


@dataclass(frozen=True, slots=True)
class BookUnfit:
    """A manager's decision to book what is not fit: who, by PIN where somebody else is at the desk, and why."""

    reason: str
    manager_id: int | None = None
    pin: str = ""


class FitUnits:
    """The readiness of each unit for days to come, as its booking's hand-over will ask for it."""

    def __init__(
        self, connection: Connection, day: Day, *, booking_id: int | None = None, way: str | None = None,
        fleet: Fleet | None = None,
    ) -> None:  # fmt: skip
        """booking_id: the booking that is moved or extended. way: how units are asked for that are on none yet.

        fleet: what is known of all units; without it they are read, as within an act, which has changed them.
        """
        self._readiness = Readiness(Fleet(read_fleet(connection), day) if fleet is None else fleet)
        self._units = {each.tag: each for each in self._readiness.fleet.records.units}
        self._today, self._booking_id, self._way = day.today, booking_id, leaving_way(way)
        self.cured: frozenset[str] = frozenset()
        """Units that planned bench work makes fit in time."""
        self._known: dict[tuple[str, Span], tuple[Question, Assessment]] = {}
        self._booked: dict[tuple[str, str], BookedUnit] = {}
        for tag, unit in self._units.items():
            for each in self._readiness.fleet.promises.get(unit.unit_id, ()):
                for code in (each.code, *([""] if booking_id == each.booking_id else [])):
                    self._booked.setdefault((tag, code), each)
        self._unfit_from: dict[str, Span] = {}
        """Days on which a unit that is on no booking was found unfit, and so is on any later ones."""

    def answer(self, tag: str, span: Span) -> Assessment:
        """The answer for a unit on these days, from today on, for the way in which its booking says that it leaves."""
        key = tag, span
        if key not in self._known:
            mine = self._promise(tag, span)
            running = mine is not None and mine.out_at is not None
            first = max(span.first, self._today)
            way = way_of(mine) if mine is not None else self._way
            code = mine.code if mine is not None else ""
            question = Question(first, max(first, span.last), way, running=running, booking=code)
            self._known[key] = question, self._readiness.assess(self._units[tag], question)
        return self._known[key][1]

    def stand(self, fleet: Fleet) -> bool:
        """Whether every answer that was given is still the answer at another moment of the same day."""
        now = Readiness(fleet)
        answers = ((now.assess(self._units[tag], asked), answer) for (tag, _), (asked, answer) in self._known.items())
        return all(one is answer or one == answer for one, answer in answers)

    def _promise(self, tag: str, span: Span) -> BookedUnit | None:
        """Of the booking that is moved, or of that which is named."""
        return self._booked.get((tag, "")) or self._booked.get((tag, span.name))

    def fits(self, tag: str, span: Span) -> bool:
        """Whether the unit may be counted on."""
        if tag not in self._units or tag in self.cured:
            return tag in self._units
        if self.stays_unfit(tag, span):
            return False
        answer = self.answer(tag, span)
        if answer.stays_unfit and self._promise(tag, span) is None:
            self._unfit_from[tag] = span
        return answer.fitness is not Fitness.UNFIT

    def stays_unfit(self, tag: str, span: Span) -> bool:
        """Whether a unit that is on no booking was found unfit for these days and any that begin and end later."""
        before = self._unfit_from.get(tag)
        found = before is not None and before.first <= span.first and before.last <= span.last
        return found and self._promise(tag, span) is None

    def faults(self, tag: str, span: Span) -> tuple[tuple[str, CheckFinding], ...]:
        """What stops a unit on these days that no ordinary turn-round or hand-over clears: each check's findings."""
        answer = self.answer(tag, span)
        stopped = frozenset(each.check for each in answer.unfit)
        return self._readiness.faults(self._units[tag], Question(*answer.span, answer.kind), stopped)

    def seats(self, tag: str) -> tuple[Seat, ...]:
        """Every slot of a unit."""
        return self._readiness.fleet.seats(self._units[tag].unit_id)

    def dries(self, tag: str) -> bool:
        """Whether its loop was disinfected and hangs to dry."""
        unit = self._units[tag]
        fact = self._readiness.turn_side.disinfection(unit, self._readiness.fleet.day.now)
        return fact is not None and fact.disinfected_at is not None and fact.dry is not True

    def why_unfit(self, tag: str, span: Span) -> tuple[str, bool]:
        """Why a unit may not be counted on, a manual hold first and in full, and whether it is on one."""
        unfit = sorted(self.answer(tag, span).unfit, key=_after_holds)
        words = strung("; ", (each.why_unfit for each in unfit))
        return words, any("manual hold" in each.why_unfit for each in unfit if each.check == "holds")

    def with_work(self, tag: str, span: Span) -> bool:
        """Whether it is fit only once ordinary work on it is done."""
        return self.answer(tag, span).fitness is Fitness.WITH_WORK


def _after_holds(check: Check) -> bool:
    return check.check != "holds"


def bench_minutes(limits: Iterable[LimitRecord]) -> dict[str, float]:
    """Hands' minutes of each kind of work: the centre's own by a limit called `bench minutes: KIND`, else as usual."""
    said = {each.name.removeprefix("bench minutes: "): each.amount for each in limits
            if each.unit_type_id is None and each.part_type_id is None}  # fmt: skip
    return {kind: said.get(kind, usual) for kind, usual in MINUTES.items()}


def left_unmet(workplace: Workplace, days: int) -> tuple[str, ...]:
    """Bookings that begin within so many days and lack units, or whose units are not fit, in words."""
    day = day_of(workplace)
    last = day.today + timedelta(days=days - 1)
    with workplace.database.reading() as connection:
        fit, promised = FitUnits(connection, day), read_promises(connection)
        wanted = [each for each in read_wanted(connection, day.today) if each.lacking > 0]
    short = [say("{code}: lacks {lacking} of {units_wanted} units", code=each.code, lacking=each.lacking,
        units_wanted=each.units_wanted) for each in wanted
             if each.starts_on <= last]  # fmt: skip
    coming = [each for each in promised if each.out_at is None and day.today <= each.ends_on and each.starts_on <= last]
    unfit = [say("{code}: unit {unit} is not fit", code=each.code, unit=each.unit) for each in coming
             if not fit.fits(each.unit, Span(each.starts_on, each.ends_on, each.code))]  # fmt: skip
    return (*short, *unfit)


def write_booked_unfit(act: Transaction, code: str, tags: Sequence[str], last: date, unfit: BookUnfit) -> None:
    """Note that a manager booked units that are not fit, on each of them; Refused without a manager or a reason."""
    manager = accepting_manager(act, unfit.manager_id, unfit.pin)
    reason = required("reason", unfit.reason)[:300]
    if not tags:
        raise Refused(say("units: no unit of this type is free on these days; choose other days or the waiting list"))
    for tag in dict.fromkeys(tags):
        act.add(
            Acceptance(
                unit_id=unit_by_tag(act.session, tag).id,
                check_name=f"{BOOKED_UNFIT}: {code}"[:60],
                until=last,
                at=act.at,
                person_id=manager.id,
                reason=reason,
            )
        )


def accepting_manager(act: Transaction, manager_id: int | None, pin: str) -> Person:
    """The manager who takes a decision, by PIN; Refused where there is none."""
    manager = act.get(Person, manager_id if manager_id is not None else act.person_id, "manager")
    if manager.role != Role.MANAGER or not manager.active:
        raise Refused(say("manager: only an active manager may accept a recommendation or book a unit that is not fit"))
    check_pin(manager, pin)  # at the desk too: a name is chosen there by anybody
    return manager
