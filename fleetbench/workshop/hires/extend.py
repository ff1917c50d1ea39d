"""A hire is made longer while its units are out: what runs out before the new last day is said before it is done."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from fleetbench.calc.readiness.judge import Leaving
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.hires.lookups import booking_by_code
from fleetbench.records.units.tables import Unit
from fleetbench.workshop.core.workplace import Workplace, day_of, require_person
from fleetbench.workshop.hires.booking import lines_still_out, move_within
from fleetbench.workshop.hires.handover import Accepting, accept_within
from fleetbench.workshop.readiness.leaving import LeavingLook, look_within
from fleetbench.workshop.readiness.ready import leaving_way


@dataclass(frozen=True, slots=True)
class Extended:
    """A hire that ends later now; units: those that are out, whose sheets name the last day as it was before."""

    code: str
    last: date
    units: tuple[str, ...]


def extend_hire(
    workplace: Workplace,
    code: str,
    last: date,
    *,
    accepting: Sequence[Accepting] = (),
    manager_id: int | None = None,
    pin: str = "",
) -> Extended:
    """Let the units of a booking that are out stay with their divers through another last day.

    Each is assessed through that day: a stop refuses, an advice must be accepted by a manager. Raises Refused with
    every reason, also where one of the units is promised to others, or none is out.
    """
    require_person(workplace)
    with workplace.transaction("move booking", f"booking {code}") as act:
        accept_within(act, accepting, manager_id, pin, last, workplace.today())
        looks = _extend_within(workplace, act, code, last)
        against = [words for look in looks for words in look.reasons]
        if against:
            raise Refused("; ".join(against))
        return Extended(code, last, tuple(look.unit for look in looks))


def look_before_extending(workplace: Workplace, code: str, last: date) -> tuple[LeavingLook, ...]:
    """Every check of the units that are out on a booking, through another last day; nothing is recorded."""
    with workplace.trying("move booking", f"booking {code}") as act:
        return _extend_within(workplace, act, code, last)


def _extend_within(workplace: Workplace, act: Transaction, code: str, last: date) -> tuple[LeavingLook, ...]:
    booking, day = booking_by_code(act.session, code), day_of(workplace)
    if last <= booking.ends_on:
        raise Refused(f"last day: the hire ends on {booking.ends_on} as it is; give a later day")
    gone = lines_still_out(act, booking)
    if not gone:
        raise Refused(f"booking {code}: none of its units is out; hand them over first")
    move_within(act, code, booking.starts_on, last, day.today)
    return tuple(
        look_within(
            act, act.get(Unit, each.unit_id, "unit"), booking, leaving_way(each.hand_over), day,
            Leaving.EXTENSION,
        )
        for each in gone
    )  # fmt: skip
