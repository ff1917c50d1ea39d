"""What readiness asks of what goes along with a hire, from the records of one unit: gas, cylinders, diver, gear."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time

from fleetbench.calc.cells.uncertainty import pressure_at_altitude_mbar
from fleetbench.calc.core.languages import say, say_ref, strung
from fleetbench.calc.gas.cylinders import GasRole
from fleetbench.calc.gas.real import Mixture
from fleetbench.calc.hires.promises import BookingKind
from fleetbench.calc.parts.life import Governing, governing
from fleetbench.calc.readiness.judge import (
    AbsorbentKitFact,
    AccessoryFact,
    BailoutFact,
    BailoutSetFact,
    BatteryFact,
    CylinderStateFact,
    DiluentFact,
    DiverFact,
    GasCylinderFact,
    OxygenCleanFact,
)
from fleetbench.records.hires.reads import BookedUnit
from fleetbench.records.people.reads import QualificationRecord
from fleetbench.records.readiness.reads import AccessoryRecord, CheckRecords
from fleetbench.records.units.reads import ReturnRecord, UnitRecord
from fleetbench.workshop.canisters.absorbent import Absorbent
from fleetbench.workshop.gas.state import (
    CYLINDER_TESTS,
    CylinderBook,
    GasState,
    against_words,
    mixture,
    unanalysed_words,
    unread_words,
)
from fleetbench.workshop.parts.conditions import root_unit
from fleetbench.workshop.turn_rounds.handsets import batteries_of
from fleetbench.workshop.units.fleet import Fleet, Seat, by_unit

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


CYLINDER_SLOTS = ("oxygen cylinder", "diluent cylinder", "bailout cylinder", "drive gas cylinder")
REGULATOR = "bailout regulator"
DILUENT_LIMIT = "diluent po2 limit"
DILUENT_LIMIT_BAR = 1.2
"""Oxygen pressure of a diluent at depth where unit type and centre state none: common practice, no published source."""

_NOON = time(12, 0)


def diluent_wished(promise: BookedUnit | None) -> Mixture | None:
    """The diluent that a booking asks for; None where it states none, or what no gas is."""
    if promise is None or promise.diluent_oxygen is None:
        return None
    return mixture(promise.diluent_oxygen, promise.diluent_helium)


class GasSide:
    """Gas, cylinders, oxygen side, bailout and batteries of each unit of a fleet."""

    def __init__(self, fleet: Fleet, returns: Iterable[ReturnRecord]) -> None:
        self._fleet = fleet
        self._returns = {each.unit_id: each.received_at for each in returns}

    @property
    def book(self) -> CylinderBook:
        """Every cylinder in a unit, with when its unit last came back."""
        return self._fleet.once("cylinders", self._book)

    def _book(self) -> CylinderBook:
        back, sits = {}, self._fleet.conditions.sits
        for each in self._fleet.records.gas.cylinders:
            fitting = sits.get(each.part_id)
            came = self._returns.get(root_unit(fitting, sits) or 0)
            if came is not None and fitting is not None and fitting.fitted_at < came:
                back[each.part_id] = came
        return CylinderBook(self._fleet.records.gas, self._fleet.day.zone, self._fleet.catalogue.limits, back)

    def states(self, unit_id: int) -> Iterator[tuple[Seat, GasState]]:
        """Each cylinder in a unit, with the seat it sits in."""
        for seat in self._fleet.seats(unit_id):
            state = self.book.state(seat.part.part_id) if seat.part is not None else None
            if state is not None:
                yield seat, state

    def _has(self, unit_id: int, *kinds: str) -> bool:
        return any(seat.slot.kind in kinds for seat in self._fleet.seats(unit_id)) or any(
            f"{state.facts.role} cylinder" in kinds for _, state in self.states(unit_id)
        )

    # gas

    def gas(self, unit_id: int, promise: BookedUnit | None) -> tuple[GasCylinderFact, ...] | None:
        """Every cylinder that goes along with its gas; None where the unit type has no cylinder.

        A diluent is held against the one that the booking asks for, where it states one.
        """
        if not self._has(unit_id, *CYLINDER_SLOTS):
            return None
        wish = diluent_wished(promise)
        return tuple(self._gas(seat, state, wish) for seat, state in self.states(unit_id))

    @staticmethod
    def _gas(seat: Seat, state: GasState, wish: Mixture | None) -> GasCylinderFact:
        analysis, fill = state.analysis, state.fill
        asked = wish if wish is not None and state.facts.role == GasRole.DILUENT else state.asked
        return GasCylinderFact(
            serial=seat.part.label if seat.part is not None else "",
            role=state.facts.role,
            filled_at=fill.at if fill is not None else None,
            analysed_at=analysis.at if analysis is not None else None,
            analysed=state.gas,
            booked=None if state.facts.role == GasRole.OXYGEN else asked,
            gauge_bar=state.now_bar,
            working_bar=state.facts.working_bar,
            temperature_c=state.temperature_c,
            unread=unread_words(state),
            unanalysed=unanalysed_words(state),
            against=tuple(against_words(state)),
            record=say_ref("analysis {ref}", analysis.ref or analysis.analysis_id) if analysis is not None else "",
        )

    def diluent(self, unit: UnitRecord, promise: BookedUnit | None) -> DiluentFact | None:
        """The diluent at the depth planned, or at the centre's usual depth where nothing is planned."""
        if not self._has(unit.unit_id, "diluent cylinder"):
            return None
        found = next((state for _, state in self.states(unit.unit_id) if state.facts.role == GasRole.DILUENT), None)
        centre, limit = self._fleet.catalogue.centre, self._diluent_limit(unit.unit_type_id)
        usual = centre.usual_depth_m if centre is not None else None
        planned = promise.planned_depth_m if promise is not None else None
        return DiluentFact(
            diluent=found.gas if found is not None else None,
            depth_m=planned if planned is not None else usual,
            # Without a set-point on record the limit stands for it, so that the advice comes too early, never too late.
            set_point_bar=unit.set_point_high_bar if unit.set_point_high_bar is not None else limit,
            limit_bar=limit,
        )

    def _diluent_limit(self, unit_type_id: int) -> float:
        named = [each for each in self._fleet.catalogue.limits if each.name == DILUENT_LIMIT]
        mine = [each.amount for each in named if each.unit_type_id == unit_type_id]
        centres = [each.amount for each in named if each.unit_type_id is None and each.part_type_id is None]
        return (mine or centres or [DILUENT_LIMIT_BAR])[0]

    # cylinders and the oxygen side

    def cylinders(self, unit_id: int) -> tuple[CylinderStateFact, ...] | None:
        """Tests of every cylinder in the unit, with its oxygen-clean status where it needs one."""
        if not self._has(unit_id, *CYLINDER_SLOTS):
            return None
        return tuple(self._cylinder(seat, state, unit_id) for seat, state in self.states(unit_id))

    def _cylinder(self, seat: Seat, state: GasState, unit_id: int) -> CylinderStateFact:
        part_id = state.facts.part_id
        needs = state.facts.role == GasRole.OXYGEN or seat.slot.oxygen_side or self.book.must_be_clean(part_id)
        return CylinderStateFact(
            serial=seat.part.label if seat.part is not None else "",
            tests=self._tests(seat, unit_id, CYLINDER_TESTS),
            oxygen_side=needs,
            oxygen_clean=state.clean.clean,
            visual_at=self._looked_into(part_id),
            cleaned_at=state.clean.cleaned_at,
            clean_words=state.clean.words,
        )

    def _tests(self, seat: Seat, unit_id: int, kinds: tuple[str, ...]) -> Governing:
        """The limits of a part that are tests of these kinds."""
        if seat.part is None or seat.fitting is None:
            return Governing(None)
        days = self._fleet.book.last_good_days(seat.part, seat.fitting.fitted_at, unit_id)
        return governing(each for each in days if each.limit.test_kind in kinds)

    def _looked_into(self, part_id: int) -> datetime | None:
        """Noon of the day of the last internal visual; a hydrostatic test holds one."""
        tests = self._fleet.book.tests_of(part_id)
        days = [mark.first_day for kind, mark in tests.items() if kind in CYLINDER_TESTS]
        return datetime.combine(max(days), _NOON, tzinfo=self._fleet.day.zone) if days else None

    def oxygen_side(self, unit_id: int) -> tuple[OxygenCleanFact, ...] | None:
        """Every other part on the oxygen side that must be oxygen-clean or ever was; None where there is none."""
        found = []
        for seat in self._fleet.seats(unit_id):
            if seat.part is None or self.book.state(seat.part.part_id) is not None:
                continue
            part_id = seat.part.part_id
            status = self.book.clean(part_id)
            if self.book.must_be_clean(part_id) or (seat.slot.oxygen_side and status.clean is False):
                name = strung(" ", (seat.slot.name, seat.part.label))
                found.append(OxygenCleanFact(name, status.clean, status.cleaned_at, status.words))
        return tuple(found) or None

    # bailout and batteries

    def bailout(self, unit_id: int, promise: BookedUnit | None) -> BailoutFact | None:
        """The bailout sets in the unit; None where its type has none, none is fitted and the booking asks for none."""
        asked_for = promise is not None and promise.bailout is True
        if not asked_for and not self._has(unit_id, "bailout cylinder", REGULATOR):
            return None
        seats = [seat for seat in self._fleet.seats(unit_id) if seat.part is not None and seat.slot.kind == REGULATOR]
        sets = [each for each in self.states(unit_id) if each[1].facts.role == GasRole.BAILOUT]
        return BailoutFact(asked_for, tuple(self._set(seat, state, seats, unit_id) for seat, state in sets))

    def _set(self, seat: Seat, state: GasState, regulators: list[Seat], unit_id: int) -> BailoutSetFact:
        # In an assembly the regulator of the same set counts; outside one, any regulator of the unit.
        hosts = (seat.host.part_id if seat.host is not None else None, state.facts.part_id)
        own = [each for each in regulators if each.host is not None and each.host.part_id in hosts]
        regulator = next(iter(own or [each for each in regulators if each.host is None]), None)
        return BailoutSetFact(
            serial=seat.part.label if seat.part is not None else "",
            tests=self._tests(seat, unit_id, CYLINDER_TESTS),
            service=self._tests(regulator, unit_id, ("service",)) if regulator is not None else Governing(None),
            analysed=state.gas is not None,
        )

    def batteries(self, unit: UnitRecord) -> tuple[BatteryFact, ...] | None:
        """The battery of each device; None where the unit type has no battery."""
        lines = batteries_of(self._fleet, unit.unit_id, unit.unit_type_id)
        if not lines:
            return None
        return tuple(
            BatteryFact(
                each.device,
                volts=each.volts,
                replace_volts=each.replace_volts,
                read_at=each.read_at,
                fitted_at=each.fitted_at,
                own_life=each.replaced_by_life,
            )
            for each in lines
            # An empty slot is told with the part lives; a reading cannot be asked of nothing.
            if each.part_id is not None
        )
