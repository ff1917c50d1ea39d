"""The one assessment that every way of a unit to a diver goes through: hand-over, swap, and a hire made longer."""

from dataclasses import dataclass

from fleetbench.calc.core.languages import say
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.readiness.judge import Assessment, Check, HandoverKind, Leaving, asked_of
from fleetbench.records.core.errors import NotFound
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.hires.tables import Booking
from fleetbench.records.readiness.reads import read_fleet
from fleetbench.records.units.reads import read_units
from fleetbench.records.units.tables import Unit
from fleetbench.workshop.core.workplace import Day
from fleetbench.workshop.readiness.hire import Along
from fleetbench.workshop.readiness.ready import Question, Readiness
from fleetbench.workshop.units.fleet import Fleet


@dataclass(frozen=True, slots=True)
class LeavingLook:
    """What is seen before a unit leaves or stays out: the answer as of now, and what stands against it on this way.

    against: stops first; an advice among them goes once a manager accepts it.
    """

    unit: str
    assessment: Assessment
    against: tuple[Check, ...]

    @property
    def stops(self) -> tuple[Check, ...]:
        """What nobody can accept."""
        return tuple(each for each in self.against if each.result is Result.STOP)

    @property
    def to_accept(self) -> tuple[str, ...]:
        """Checks whose advice no manager has accepted yet."""
        return tuple(each.check for each in self.against if each.result is Result.ADVISE)

    @property
    def shown(self) -> tuple[Check, ...]:
        """What is shown beside the act: what stands against it, and what a manager accepted."""
        return (*self.against, *self.assessment.accepted)

    @property
    def reasons(self) -> tuple[str, ...]:
        """Every reason against it as a refusal says it; empty where it may go."""
        cure = say("a manager may accept this with a reason and a last day")
        return tuple(
            say(
                "unit {unit}: {check}: {evidence}; {remedy}",
                unit=self.unit,
                check=each.check,
                evidence=each.evidence,
                remedy=each.remedy if each.result is Result.STOP else cure,
            )
            for each in self.against
        )


def look_of(tag: str, answer: Assessment, way: Leaving) -> LeavingLook:
    """An answer as it is seen on one way."""
    return LeavingLook(tag, answer, asked_of(answer, way))


def look_within(
    act: Transaction,
    unit: Unit,
    booking: Booking,
    kind: HandoverKind,
    day: Day,
    way: Leaving,
    along: Along | None = None,
) -> LeavingLook:
    """The answer for a unit at the act itself, for its diver on this booking, read in the act's own transaction.

    It is asked through the booking's last day, or today where that is over.
    """
    connection = act.session.connection()
    found = read_units(connection, unit.tag)
    if not found:
        raise NotFound(say("unit {tag}: no unit has this tag; check the tag or look it up with find", tag=unit.tag))
    last = max(booking.ends_on, day.today)
    question = Question(day.today, last=last, kind=kind, at_act=True, along=along or Along(), booking=booking.code)
    return look_of(unit.tag, Readiness(Fleet(read_fleet(connection, found[0]), day)).assess(found[0], question), way)
