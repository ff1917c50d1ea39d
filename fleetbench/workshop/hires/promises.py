"""Every booking judged as things stand now: fit, at risk or not to be kept; and who is to be rung about it.

Nothing is stored: a hold, a failed cell, an expiry, a late return, a recall or a changed limit shows at the next look.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import cast

from fleetbench.calc.core.languages import parted, say, strung
from fleetbench.calc.hires.availability import CountedOn, Span
from fleetbench.calc.hires.promises import Keeping, PromisedUnit, PromiseJudgement, judged_promise
from fleetbench.calc.hires.sell import bench_work
from fleetbench.records.hires.lookups import signed_lines
from fleetbench.records.hires.reads import BookedUnit, BookingRecord, read_promises, read_wanted
from fleetbench.records.people.reads import read_names
from fleetbench.workshop.core.known import no_cycle_search
from fleetbench.workshop.core.workplace import Day, Workplace
from fleetbench.workshop.hires.booking import Promises
from fleetbench.workshop.hires.fitness import FitUnits
from fleetbench.workshop.hires.sell import NearDays
from fleetbench.workshop.people.list import list_people, why_no_contacts
from fleetbench.workshop.units.fleet import Fleet, known_fleet, whole_fleet

AHEAD = 60
"""Days ahead that are judged."""
RING_AHEAD = 14
"""Days before the first within which a booking at risk is rung about; common practice, no published source."""


@dataclass(frozen=True, slots=True)
class PromiseLine:
    """One booking that stands to be kept or not. why: unit by unit; offer: what to offer; sign_again: units by tag.

    who: whom to ring, with the number where the signed-in user may see it.
    """

    booking: BookingRecord
    judgement: PromiseJudgement
    why: tuple[str, ...]
    who: str
    offer: str
    sign_again: tuple[str, ...]

    @property
    def state(self) -> Keeping:
        """How it stands."""
        return self.judgement.state

    @property
    def words(self) -> str:
        """'at risk until 2026-05-09: LK-03: cell 2 reject'; empty where it is fit."""
        if self.state is Keeping.FIT:
            return ""
        state, until = say(self.state.value), self.judgement.until
        told = say("{state} until {day}", state=state, day=until) if until is not None else state
        return strung(": ", (told, strung("; ", self.why)))


@no_cycle_search()
def judged_promises(workplace: Workplace, *, days: int = AHEAD) -> dict[str, PromiseLine]:
    """Every booking that ends today or later and begins within so many days, by its code; waiting ones left out.

    A spare unit is offered to one booking alone, those that begin first before all others. What was judged before of
    the same records stands while every answer on a unit that it rests on does, since some move with the clock.
    """
    fleet, shown = whole_fleet(workplace), _contacts(workplace)
    day, known = fleet.day, _known(fleet, shown, days)
    if known is not None:
        return known
    with workplace.database.read_session() as session:
        connection = session.connection()
        promises = Promises(session, day.today, day=day, fleet=fleet)
        lines: dict[int, list[BookedUnit]] = defaultdict(list)
        for each in read_promises(connection):
            lines[each.booking_id].append(each)
        signed = signed_lines(session, [each.line_id for listed in lines.values() for each in listed])
        asked = [each for each in read_wanted(connection, day.today) if is_judged(each, day.today, days)]
        made = _Judge(promises, day, read_names(connection), *shown, signed)
        asked.sort(key=lambda each: (each.starts_on, each.booking_id))
        found = {each.code: made.line(each, lines[each.booking_id], each.lacking) for each in asked}
    fleet.answers["promises", days] = made.fit, shown, found
    return found


def known_promises(workplace: Workplace, *, days: int = AHEAD) -> dict[str, PromiseLine] | None:
    """The same without judging, where all of it is known to hold; None where any is to be judged first."""
    fleet = known_fleet(workplace)
    return None if fleet is None else _known(fleet, _contacts(workplace), days)


def is_judged(booking: BookingRecord, today: date, days: int = AHEAD) -> bool:
    """Whether its promise is looked at: it neither waits nor is over, and begins within so many days."""
    stands = booking.cancelled_at is None and booking.waiting_since is None
    return stands and booking.ends_on >= today and (booking.starts_on - today).days <= days


def _contacts(workplace: Workplace) -> tuple[dict[int, str], str]:
    """By person, and why the signed-in user may see none."""
    return {each.person_id: each.contact or "" for each in list_people(workplace)}, why_no_contacts(workplace)


def _known(fleet: Fleet, shown: tuple[dict[int, str], str], days: int) -> dict[str, PromiseLine] | None:
    """What was judged of the same records and contacts, where every answer that it rests on is still the answer."""
    if ("promises", days) not in fleet.answers:
        return None
    kept = fleet.answers["promises", days]
    fit, shown_before, known = cast("tuple[FitUnits, object, dict[str, PromiseLine]]", kept)
    return known if shown_before == shown and fit.stand(fleet) else None


def to_ring(lines: Sequence[PromiseLine], today: date) -> tuple[PromiseLine, ...]:
    """Those whose renter is to be rung now: not to be kept, or soon and only with another unit."""
    return tuple(
        each
        for each in lines
        if each.state is Keeping.NOT_KEPT
        or (each.judgement.instead and (each.booking.starts_on - today).days <= RING_AHEAD)
    )


class _Judge:
    """Judges bookings one after the other, giving each spare unit out once."""

    def __init__(
        self, promises: Promises, day: Day, names: dict[int, str], contacts: dict[int, str], why_none: str,
        signed: frozenset[int],
    ) -> None:  # fmt: skip
        assert promises.fit is not None
        self.promises, self.fit, self.day = promises, promises.fit, day
        self._known = defaultdict[int, CountedOn](lambda: CountedOn(self.fit.stays_unfit))
        """Of the units of each type: a bit stands for another unit in each."""
        self._near: dict[int, NearDays] = {}
        self._names, self._contacts, self._why_none, self._signed = names, contacts, why_none, signed

    def line(self, booking: BookingRecord, units: Sequence[BookedUnit], lacking: int) -> PromiseLine:
        """One booking."""
        span = Span(max(booking.starts_on, self.day.today), booking.ends_on, booking.code)
        named = tuple(_promised(self.fit, each.unit, span) for each in units)
        against = {each.tag: each.why for each in named if each.why}
        kind = booking.unit_type_id
        spare: list[str] = []
        if against or lacking > 0:
            wanted = len(against) + max(0, lacking)
            spare = [*self.promises.diaries(kind, (span,)).spare(span, wanted, self.fit.fits, self._known[kind])]
        found = judged_promise(self.day.today, booking.starts_on, named, max(0, lacking), spare)
        for tag in (*spare[: max(0, lacking - found.lacking)], *(new for _, new in found.instead if new)):
            self.promises.give(tag, span)
        why = [strung(": ", pair) for pair in against.items()]
        why += (
            [say("{lacking} of {units_wanted} units lack", lacking=found.lacking, units_wanted=booking.units_wanted)]
            if found.lacking
            else []
        )
        again = tuple(each.unit for each in units if each.unit in against and each.line_id in self._signed)
        return PromiseLine(
            booking,
            judgement=found,
            why=tuple(why),
            who=self._who(booking),
            offer=self._offer(booking, found),
            sign_again=again,
        )

    def _offer(self, booking: BookingRecord, found: PromiseJudgement) -> str:
        swaps = [say("{new} in place of {tag}", new=new, tag=tag) for tag, new in found.instead if new]
        if found.state is not Keeping.NOT_KEPT:
            return strung(", ", swaps)
        span = Span(max(booking.starts_on, self.day.today), booking.ends_on, booking.code)
        kind = booking.unit_type_id
        near = self._near.setdefault(kind, NearDays(self.promises, kind, self.fit.fits, self._known[kind]))
        others = [
            say("from {first}", first=first) if first == last else say("{first} to {last}", first=first, last=last)
            for first, last in near.of(span, booking.units_wanted)[:2]
        ]
        lack = found.lacking + sum(not new for _, new in found.instead)
        fewer = (
            [say("{fewer} instead of {wanted}", fewer=booking.units_wanted - lack, wanted=booking.units_wanted)]
            if 0 < lack < booking.units_wanted
            else []
        )
        return strung("; ", (*swaps, *others, *fewer)) or say("nothing of the centre's own near by: borrow, or cancel")

    def _who(self, booking: BookingRecord) -> str:
        who = booking.renter_id if booking.renter_id is not None else booking.instructor_id
        if who is None:
            return say("the renter")
        name, contact = self._names.get(who, say("the renter")), self._contacts.get(who, "")
        if self._why_none:
            return strung("", (name, " (", self._why_none, ")"))
        return strung(", ", (name, contact or say("no number recorded")))


def _promised(fit: FitUnits, tag: str, span: Span) -> PromisedUnit:
    if fit.fits(tag, span):
        return PromisedUnit(tag)
    curable = all(bench_work(check, finding) is not None for check, finding in fit.faults(tag, span))
    return PromisedUnit(tag, parted(fit.why_unfit(tag, span)[0])[0], curable)
