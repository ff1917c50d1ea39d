"""What readiness asks of gas, cylinders, the oxygen side, bailout and batteries, taken from the records of one unit."""

from collections.abc import Iterable, Iterator
from datetime import datetime, time

from fleetbench.calc.core.languages import say_ref, strung
from fleetbench.calc.gas.cylinders import GasRole
from fleetbench.calc.gas.real import Mixture
from fleetbench.calc.parts.life import Governing, governing
from fleetbench.calc.readiness.judge import (
    BailoutFact,
    BailoutSetFact,
    BatteryFact,
    CylinderStateFact,
    DiluentFact,
    GasCylinderFact,
    OxygenCleanFact,
)
from fleetbench.records.hires.reads import BookedUnit
from fleetbench.records.units.reads import ReturnRecord, UnitRecord
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
from fleetbench.workshop.units.fleet import Fleet, Seat

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
