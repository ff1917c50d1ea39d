"""What readiness asks of a hire: who dives the unit and under whom, what goes along, and where it is dived."""

from dataclasses import dataclass
from datetime import date

from fleetbench.calc.cells.atmosphere import pressure_at_altitude_mbar
from fleetbench.calc.core.languages import say, say_ref
from fleetbench.calc.hires.promises import BookingKind
from fleetbench.calc.readiness.judge import AbsorbentKitFact, AccessoryFact, DiverFact
from fleetbench.records.hires.reads import BookedUnit
from fleetbench.records.people.reads import QualificationRecord
from fleetbench.records.readiness.reads import AccessoryRecord, CheckRecords
from fleetbench.records.units.reads import UnitRecord
from fleetbench.workshop.canisters.absorbent import Absorbent
from fleetbench.workshop.units.fleet import Fleet, by_unit

DIVES = ("diver", "instructor")
"""Kinds of qualification with which a unit type is dived on one's own; common practice, no published source."""

COUNT_MINUTES = 5
"""Time to count out what goes along: common practice, no published source."""


@dataclass(frozen=True, slots=True)
class Along:
    """What goes along with one unit as it is handed over; None is not looked at.

    counts: of each accessory by its key; accessories: how many things were counted in all. absorbent_kg: in date.
    fill_discarded: what stood in the canister was taken out for this hand-over.
    """

    harness: str | None = None
    accessories: int | None = None
    counts: tuple[tuple[int, int], ...] = ()
    absorbent_kg: float | None = None
    fill_discarded: bool = False


class HireSide:
    """Diver, accessories, absorbent sent along and site, of each unit of a fleet."""

    def __init__(self, fleet: Fleet, checks: CheckRecords, absorbent: Absorbent) -> None:
        self._fleet, self._checks, self._absorbent = fleet, checks, absorbent
        self._last = {(each.person_id, each.unit_type_id): each.at for each in checks.last_dives}
        self._stated = {(each.booking_id, each.person_id): each for each in checks.stated}
        self._papers = fleet.once("papers", lambda: by_unit(checks.papers, lambda each: each.person_id))

    # who

    def diver(self, unit: UnitRecord, promise: BookedUnit | None, last: date) -> DiverFact | None:
        """Who dives the unit, and under whom; None where nobody is promised it."""
        if promise is None:
            return None
        diver = promise.diver_id if promise.diver_id is not None else promise.renter_id
        record = say_ref("booking {ref}", promise.code)
        taught = promise.kind in (BookingKind.COURSE, BookingKind.TRY_DAY)
        if taught and (diver is None or diver != promise.instructor_id):
            return DiverFact(
                None,
                under_instruction=True,
                instructor_current=self._holds(promise.instructor_id, ("instructor",), unit.unit_type_id, last),
                instructor=self._fleet.name(promise.instructor_id) or "",
                record=record,
            )
        return DiverFact(
            self._holds(diver, DIVES, unit.unit_type_id, last),
            last_dive_on_type=self._last_dive(diver, promise, unit.unit_type_id),
            record=record,
        )

    def _holds(self, person: int | None, kinds: tuple[str, ...], unit_type_id: int, last: date) -> bool | None:
        """Whether a qualification holds through the last day; None where nothing was ever seen of the person."""
        if person is None:
            return None
        papers = [each for each in self._papers.get(person, ()) if each.kind in kinds]
        if not papers:
            return None
        return any(_speaks_of(each, unit_type_id) and _holds_on(each, last) for each in papers)

    def _last_dive(self, person: int | None, promise: BookedUnit, unit_type_id: int) -> date | None:
        """The later of what is recorded here and what the diver states."""
        if person is None:
            return None
        at = self._last.get((person, unit_type_id))
        stated = self._stated.get((promise.booking_id, person))
        days = [self._fleet.day.of(at)] if at is not None else []
        if stated is not None and stated.last_dive_on is not None:
            days.append(stated.last_dive_on)
        return max(days, default=None)

    # what goes along

    def accessories(
        self, unit: UnitRecord, promise: BookedUnit | None, along: Along | None
    ) -> tuple[AccessoryFact, ...]:
        """What must go along and whether it does: counted out, and a harness that fits."""
        listed = [each for each in self._checks.accessories if each.unit_type_id == unit.unit_type_id]
        record = say_ref("booking {ref}", promise.code) if promise is not None else ""
        return (*_counted(listed, along, record), self._harness(unit, promise, along, record))

    def _harness(self, unit: UnitRecord, promise: BookedUnit | None, along: Along | None, record: str) -> AccessoryFact:
        diver = (promise.diver_id if promise.diver_id is not None else promise.renter_id) if promise else None
        stated = self._stated.get((promise.booking_id, diver)) if promise is not None and diver is not None else None
        wanted = stated.harness if stated is not None else None
        sent = (along.harness if along is not None else None) or unit.harness
        if sent is None:
            minutes = None if along is not None else COUNT_MINUTES
            return AccessoryFact(say("harness size"), None, to_do_minutes=minutes, record=record)
        if wanted is not None and wanted.casefold() != sent.casefold():
            return AccessoryFact(
                "harness",
                False,
                say("is size {sent}, the diver needs {wanted}", sent=sent, wanted=wanted),
                record=record,
            )
        return AccessoryFact(say("harness size {sent}", sent=sent), True, record=record)

    def absorbent_kit(
        self, unit_id: int, promise: BookedUnit | None, first: date, last: date, along: Along | None
    ) -> AbsorbentKitFact | None:
        """Absorbent needed for the plan, a fresh fill a diving day, and what is sent; None without a canister."""
        seat = next((each for each in self._fleet.seats(unit_id) if each.slot.kind == "canister"), None)
        if seat is None or seat.part is None:
            return None
        stated = {each.name: each.amount for each in self._fleet.catalogue.limits
                  if each.part_type_id == seat.part.part_type_id}  # fmt: skip
        full = stated.get("full mass")
        days = (min(last, promise.ends_on) - max(first, promise.starts_on)).days + 1 if promise is not None else 1
        sent = along.absorbent_kg if along is not None else None
        return AbsorbentKitFact(round(full / 1000 * max(1, days), 3) if full is not None else None, sent)

    # where

    def site_pressure_mbar(self, promise: BookedUnit | None) -> float | None:
        """Pressure to be expected where the unit is dived: of the booking's height, else of the centre's (ISO 2533)."""
        centre = self._fleet.catalogue.centre
        altitude = self._checks.altitudes.get(promise.booking_id) if promise is not None else None
        if altitude is None:
            altitude = centre.altitude_m if centre is not None else None
        return pressure_at_altitude_mbar(altitude) if altitude is not None else None


def _counted(listed: list[AccessoryRecord], along: Along | None, record: str) -> tuple[AccessoryFact, ...]:
    if along is None:
        minutes, what = (
            COUNT_MINUTES,
            say("accessories of {count} kinds", count=len(listed)) if listed else say("accessories"),
        )
        return (AccessoryFact(what, present=None, words=say("not counted out"), to_do_minutes=minutes, record=record),)
    counts = dict(along.counts)
    if not listed or not counts:
        # Where the unit type has no list, the number counted is all there is to go by.
        return (AccessoryFact("accessories", True if along.accessories is not None else None, record=record),)
    return tuple(
        AccessoryFact(
            each.name, counts.get(each.accessory_id, 0) >= each.count,
            say("{accessory_id} of {count}", accessory_id=counts.get(each.accessory_id, 0), count=each.count),
                record=record,
        )
        for each in listed
    )  # fmt: skip


def _speaks_of(paper: QualificationRecord, unit_type_id: int) -> bool:
    return paper.unit_type_id in (None, unit_type_id)


def _holds_on(paper: QualificationRecord, last: date) -> bool:
    return paper.valid_until is None or paper.valid_until >= last
