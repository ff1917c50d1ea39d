"""A manager accepts an advice of readiness on one unit, with a reason and an end date, and counts what stands."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from fleetbench.calc.readiness.judge import CHECKS
from fleetbench.records.core.act import Act
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.lookups import read_acceptances
from fleetbench.records.hires.tables import Acceptance
from fleetbench.records.people.reads import read_names
from fleetbench.records.people.tables import Person
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.people.pins import check_pin
from fleetbench.workshop.tickets.work import required

LONGEST_ACCEPTANCE_DAYS = 90
"""An acceptance is looked at again after a quarter of a year: common practice, no published source."""


@dataclass(frozen=True, slots=True)
class Accepting:
    """A manager accepts the advice of one check on one unit, with a reason, through a last day inclusive."""

    unit: str
    check: str
    until: date
    reason: str


@dataclass(frozen=True, slots=True)
class StandingAcceptance:
    """One acceptance that stands today, for the manager's count."""

    unit: str
    check: str
    until: date
    by: str
    reason: str


def standing_acceptances(shop: Shop) -> tuple[StandingAcceptance, ...]:
    """Every acceptance that stands today, newest first: how many there are is the manager's count."""
    today = shop.today()
    with shop.database.reading() as connection:
        found, names = read_acceptances(connection, today), read_names(connection)
    return tuple(
        StandingAcceptance(each.unit, each.check_name, each.until, names.get(each.person_id, ""), each.reason)
        for each in found
    )


def accepting_manager(act: Act, manager_id: int | None, pin: str) -> Person:
    """The manager who takes a decision, by PIN unless they are signed in; Refused where there is none."""
    at_desk = act.person_id
    manager = act.get(Person, manager_id if manager_id is not None else at_desk, "manager")
    if manager.role != "manager" or not manager.active:
        raise Refused("manager: only an active manager may accept an advice or book a unit that is not fit")
    if manager.id != at_desk:
        check_pin(manager, pin)
    return manager


def accept_within(
    act: Act, accepting: Sequence[Accepting], manager_id: int | None, pin: str, last: date, today: date
) -> None:
    if not accepting:
        return
    manager = accepting_manager(act, manager_id, pin)
    for each in accepting:
        if each.check not in {row.check for row in CHECKS}:
            raise Refused(f"check: {each.check!r} is not known; choose an advice from the list")
        if each.until < last:
            raise Refused(f"accepted until: {each.until} is before the last day {last}; give that day or a later one")
        if each.until > today + timedelta(days=LONGEST_ACCEPTANCE_DAYS):
            raise Refused(f"accepted until: is more than {LONGEST_ACCEPTANCE_DAYS} days ahead; give an earlier day")
        act.add(
            Acceptance(
                unit_id=unit_by_tag(act.session, each.unit).id,
                check_name=each.check,
                until=each.until,
                at=act.at,
                person_id=manager.id,
                reason=required("reason", each.reason)[:300],
            )
        )
