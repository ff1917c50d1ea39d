"""What is known of each cylinder and of the oxygen side: what was filled, analysed, read and cleaned, and what follows.

Contents are calculated as a real gas (calc.gas). A cylinder that was out since its pressure was last read has no known
pressure, and one filled since its last analysis has no known gas.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from functools import cached_property

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import BAR
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.gas.cylinders import (
    SPECIFICATIONS,
    Cleaning,
    CleanStatus,
    CylinderFinding,
    GasLimits,
    GasRole,
    Loss,
    PurityLimit,
    Specification,
    analysed_mixture,
    check_certificate,
    clean_status,
    differences,
)
from fleetbench.calc.gas.depth import (
    DENSITY_ADVISED_G_L,
    DENSITY_MOST_G_L,
    density_at_depth_g_l,
    depth_of_density_m,
    equivalent_air_depth_m,
    equivalent_narcotic_depth_m,
    maximum_operating_depth_m,
)
from fleetbench.calc.gas.real import Mixture, content_l, oxygen_endurance_min
from fleetbench.calc.parts.life import LastGoodDay
from fleetbench.records.gas.reads import (
    AnalysisRecord,
    CertificateRecord,
    CylinderFillRecord,
    CylinderRecord,
    GasRecords,
    GaugeRecord,
)
from fleetbench.records.places.reads import LimitRecord

COVERAGE = 2.0
"""Expanded uncertainty is twice the standard one (JCGM 100:2008, 6.2 and G.6.6)."""

DEPTH_LIMITS = {"oxygen": 1.6, "diluent": 1.2, "bailout": 1.4, "drive gas": 1.4}
"""Oxygen pressure in bar that a gas's maximum operating depth is calculated to, by role.

1.6 and 1.4 bar: from memory; a diluent's 1.2 bar, well under any set-point: common practice, no published source. The
centre's limit `depth po2 <role>` stands above them, a diluent's `diluent po2 limit` too.
"""

UPTAKE_L_MIN = 1.4
"""Oxygen uptake for planning, 0.049 scfm: US Navy Diving Manual Rev 4 Change A, p. 17-11."""

RESERVE_BAR = 35.0
"""Reserve of an oxygen cylinder, 500 psig: US Navy Diving Manual Rev 4 Change A, p. 17-11."""

TYPED_C = 20.0
"""Temperature that a gauge is taken to have been read at where none was taken; common practice, no published source."""

CYLINDER_TESTS = ("hydrostatic", "visual")


@dataclass(frozen=True, slots=True)
class GasDepths:
    """How deep an analysed gas may go; figures None are not known.

    maximum_depth_m: to limit_bar oxygen. density_g_l: at that depth, dry, at 0 C; dense_at_m: where it reaches 5.2 and
    6.2 g/L. equivalent_m: equivalent air depth and equivalent narcotic depth there, None of oxygen.
    """

    limit_bar: float | None
    limit_source: str = ""
    maximum_depth_m: float | None = None
    density_g_l: float | None = None
    dense_at_m: tuple[float | None, float | None] = (None, None)
    equivalent_m: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class GasState:
    """One cylinder as its records leave it; None is not known.

    analysis: the last since the fill; diver_analysis: the diver's own. bar at temperature_c: the last pressure known
    to be in it; used_at: when it came back from being used since then, so that bar is what it held before.
    """

    facts: CylinderRecord
    fill: CylinderFillRecord | None
    analysis: AnalysisRecord | None
    diver_analysis: AnalysisRecord | None
    bar: float | None
    temperature_c: float
    pressure_at: datetime | None
    used_at: datetime | None
    clean: CleanStatus
    against_batch: str = ""

    @property
    def stale(self) -> bool:
        """Whether nobody analysed it since the last fill; of one never filled, ever."""
        return self.analysis is None

    @property
    def asked(self) -> Mixture | None:
        """The gas that the last fill was asked to be."""
        if self.fill is None:
            return None
        return mixture(self.fill.oxygen_asked, self.fill.helium_asked)

    @property
    def gas(self) -> Mixture | None:
        """The gas as analysed since the fill; None too where helium was asked for and not analysed."""
        return self._gas_of(self.analysis)

    @property
    def divers_gas(self) -> Mixture | None:
        """The gas as the diver analysed it since the fill."""
        return self._gas_of(self.diver_analysis)

    def _gas_of(self, analysis: AnalysisRecord | None) -> Mixture | None:
        if analysis is None or analysis.oxygen_percent is None:
            return None
        if analysis.helium_percent is None and self.asked is not None and self.asked.helium > 0.0:
            return None
        return mixture(analysis.oxygen_percent, analysis.helium_percent)

    @property
    def now_bar(self) -> float | None:
        """The pressure in it now; None where it is not known, or was used since it was read."""
        return None if self.used_at is not None else self.bar

    @property
    def content_l(self) -> float | None:
        """Free gas in it in litres at 15 C and 1.01325 bar, as a real gas of what was analysed, else asked for."""
        gas, bar = self.gas or self.asked, self.now_bar
        if gas is None or bar is None:
            return None
        try:
            return content_l(gas, water_volume_l=self.facts.size_l, gauge_bar=bar, temperature_c=self.temperature_c)
        except ValueError:
            # A pressure outside what the equations cover says nothing, and is no reason to lose the whole list.
            return None

    def endurance_min(self, uptake_l_min: float, reserve_bar: float) -> float | None:
        """Minutes that oxygen lasts on the loop at an uptake, down to a reserve; None for other gas or not known."""
        gas, bar = self.gas, self.now_bar
        if self.facts.role != GasRole.OXYGEN or gas is None or bar is None:
            return None
        return oxygen_endurance_min(
            water_volume_l=self.facts.size_l,
            gauge_bar=bar,
            reserve_gauge_bar=reserve_bar,
            uptake_l_min=uptake_l_min,
            temperature_c=self.temperature_c,
            mixture=gas,
        )

    def _maximum_depth_m(self, limit_bar: float) -> float | None:
        """Maximum operating depth in m of the analysed gas, oxygen at the upper end of the analysis."""
        gas = self.gas
        if gas is None or self.analysis is None or gas.oxygen <= 0.0:
            return None
        spread = COVERAGE * (self.analysis.uncertainty or 0.0) / 100.0
        try:
            return maximum_operating_depth_m(min(1.0, gas.oxygen + spread), limit_bar)
        except ValueError:
            return None

    def _density_g_l(self, depth_m: float | None) -> float | None:
        """Density in g/L of the analysed gas at a depth, dry, at 0 C."""
        if self.gas is None or depth_m is None:
            return None
        try:
            return density_at_depth_g_l(self.gas, depth_m)
        except ValueError:
            return None

    def _density_depths_m(self) -> tuple[float | None, float | None]:
        """Depths in m to which the analysed gas stays under the density advised, and under the most; None not known.

        Dry, at 0 C; of a gas that stays under both to 300 m, 300.
        """
        gas = self.gas
        if gas is None:
            return None, None
        advised, most = (depth_of_density_m(gas, limit) for limit in (DENSITY_ADVISED_G_L, DENSITY_MOST_G_L))
        return 300.0 if advised is None else advised, 300.0 if most is None else most

    def _equivalent_m(self, depth_m: float | None) -> tuple[float, float] | None:
        if self.gas is None or depth_m is None or self.facts.role == GasRole.OXYGEN:
            return None
        return equivalent_air_depth_m(self.gas, depth_m), equivalent_narcotic_depth_m(self.gas, depth_m)

    def depths(self, limit_bar: float, limit_source: str) -> GasDepths:
        """How deep the analysed gas may go by an oxygen limit in bar, and what it is like there."""
        depth = self._maximum_depth_m(limit_bar)
        return GasDepths(
            limit_bar,
            limit_source=limit_source,
            maximum_depth_m=depth,
            density_g_l=self._density_g_l(depth),
            dense_at_m=self._density_depths_m(),
            equivalent_m=self._equivalent_m(depth),
        )


class CylinderBook:
    """Every cylinder asked for and every oxygen-side part, indexed by part."""

    def __init__(
        self,
        records: GasRecords,
        zone: tzinfo,
        limits: Iterable[LimitRecord] = (),
        back_at: Mapping[int, datetime] | None = None,
    ) -> None:
        """back_at: by part, when it last came back from a hire."""
        self._records, self._zone = records, zone
        self._limits = {each.name: each for each in limits if each.unit_type_id is None and each.part_type_id is None}
        self._back = back_at or {}
        self.kept = records.kept
        self._cylinders = {each.part_id: each for each in records.cylinders}
        self._known: dict[int, GasState] = {}

    @property
    def states(self) -> dict[int, GasState]:
        """Each cylinder's state by part, in order of key."""
        return {part_id: state for part_id in self._cylinders if (state := self.state(part_id)) is not None}

    def state(self, part_id: int) -> GasState | None:
        """The state of one cylinder; None where it is none."""
        if part_id not in self._known and part_id in self._cylinders:
            self._known[part_id] = self._state(self._cylinders[part_id])
        return self._known.get(part_id)

    @cached_property
    def _fills(self) -> dict[int, CylinderFillRecord]:
        return {each.part_id: each for each in self._records.fills}

    @cached_property
    def _gauges(self) -> dict[int, GaugeRecord]:
        return {each.part_id: each for each in self._records.gauges}

    @cached_property
    def _analyses(self) -> dict[int, list[AnalysisRecord]]:
        found: dict[int, list[AnalysisRecord]] = defaultdict(list)
        for each in self._records.analyses:
            found[each.part_id].append(each)
        return found

    @cached_property
    def _cleanings(self) -> dict[int, list[Cleaning]]:
        found: dict[int, list[Cleaning]] = defaultdict(list)
        for each in self._records.cleanings:
            found[each.part_id].append(Cleaning(each.done_on, each.passed, each.at))
        return found

    @cached_property
    def _losses(self) -> dict[int, list[Loss]]:
        found: dict[int, list[Loss]] = defaultdict(list)
        for each in self._records.losses:
            # A flood of the unit says nothing of a part that keeps no status, such as a cell.
            if not each.of_unit or self.must_be_clean(each.part_id):
                found[each.part_id].append(Loss(each.at, each.why))
        return found

    def clean(self, part_id: int) -> CleanStatus:
        """The oxygen-clean status of a part."""
        return clean_status(self._cleanings.get(part_id, ()), self._losses.get(part_id, ()), self._zone)

    def must_be_clean(self, part_id: int) -> bool:
        """Whether a part needs that status, or has ever had it."""
        return part_id in self.kept or part_id in self._cleanings

    def _state(self, facts: CylinderRecord) -> GasState:
        fill, gauge = self._fills.get(facts.part_id), self._gauges.get(facts.part_id)
        analyses = self._analyses.get(facts.part_id, [])
        divers = [each for each in analyses if each.by_diver]
        bar: float | None = None
        read_at: datetime | None = None
        warm: float | None = None
        if fill is not None:
            bar, read_at, warm = fill.end_bar, fill.at, fill.temperature_c
        if gauge is not None and (read_at is None or gauge.at >= read_at):
            bar, read_at, warm = gauge.bar, gauge.at, gauge.temperature_c
        back = self._back.get(facts.part_id)
        used = back if back is not None and read_at is not None and back > read_at else None
        return GasState(
            facts=facts,
            fill=fill,
            analysis=analyses[-1] if analyses else None,
            diver_analysis=divers[-1] if divers else None,
            bar=bar,
            temperature_c=TYPED_C if warm is None else warm,
            pressure_at=read_at,
            used_at=used,
            clean=self.clean(facts.part_id),
            against_batch=self.against_batch(fill.batch if fill is not None else None),
        )

    def depths(self, state: GasState) -> GasDepths:
        """How deep the gas of a cylinder may go, by the limit of its role."""
        return state.depths(*self._depth_limit(state.facts.role))

    def clean_where_kept(self, part_id: int) -> CleanStatus | None:
        """The oxygen-clean status of a part that needs one; None of any other."""
        return self.clean(part_id) if self.must_be_clean(part_id) else None

    def _depth_limit(self, role: str) -> tuple[float, str]:
        """The oxygen pressure in bar that a role's maximum operating depth is calculated to, and its source."""
        for name in (f"depth po2 {role}", *(("diluent po2 limit",) if role == GasRole.DILUENT else ())):
            if name in self._limits:
                return self._limits[name].amount, self._limits[name].source
        source = say("from memory") if role != GasRole.DILUENT else say("common practice, no published source")
        return DEPTH_LIMITS[role], source

    def uptake(self) -> tuple[float, str]:
        """The oxygen uptake in L/min (STPD) that endurance is calculated at, and its source."""
        return self._limit("oxygen uptake", UPTAKE_L_MIN, say("US Navy Diving Manual Rev 4 Change A, p. 17-11"))

    def reserve(self) -> tuple[float, str]:
        """The reserve in bar that endurance leaves, and its source."""
        return self._limit("oxygen reserve", RESERVE_BAR, say("US Navy Diving Manual Rev 4 Change A, p. 17-11"))

    def _limit(self, name: str, default: float, source: str) -> tuple[float, str]:
        found = self._limits.get(name)
        return (found.amount, found.source) if found is not None else (default, source)

    def against_batch(self, batch: str | None) -> str:
        """Why gas of a batch may not be used, by its newest certificate; empty where nothing is known against it."""
        found = [each for each in self._records.certificates if batch and each.batch == batch]
        if not found:
            return ""
        bad = [each for each in self.certificate_findings(found[-1]) if each.result is Result.STOP]
        told = strung("; ", (strung(" ", (say(each.field), each.words)) for each in bad))
        return say("batch {batch}: {told}", batch=batch, told=told) if told else ""

    def certificate_findings(self, certificate: CertificateRecord) -> tuple[CylinderFinding, ...]:
        """One finding a line of the specification of its gas, with the centre's own limits where it states them."""
        return check_certificate(dict(certificate.values), self.specification(certificate.gas))

    def specification(self, gas: str) -> Specification:
        """The specification of a gas; the centre's limits `<gas> <line> least` and `most` stand above its own."""
        base = SPECIFICATIONS[gas]
        lines = tuple(self._line(gas, line) for line in base.lines)
        own = lines != base.lines
        return Specification(
            base.name, lines, strung("; ", (base.source, say("the centre's own limits"))) if own else base.source
        )

    def _line(self, gas: str, line: PurityLimit) -> PurityLimit:
        least, most = (self._limits.get(f"{gas} {line.what} {end}") for end in ("least", "most"))
        if least is None and most is None:
            return line
        return PurityLimit(
            line.what, line.unit, least.amount if least else line.least, most.amount if most else line.most
        )


def unread_words(state: GasState) -> str:
    """Why the pressure of a cylinder is not known; empty where it is."""
    if state.bar is None:
        return say("pressure never recorded")
    if state.used_at is not None:
        return say("used since it held {bar}: pressure not known", bar=BAR.words(state.bar, 0))
    return ""


def unanalysed_words(state: GasState) -> str:
    """Why the gas of a cylinder is not known; empty where it is."""
    if state.gas is not None:
        return ""
    if state.analysis is not None:
        missing = "oxygen" if state.analysis.oxygen_percent is None else "helium"
        return say("{missing} not analysed since it was filled", missing=missing)
    return (
        say("not analysed since it was filled") if state.fill is not None else say("no fill and no analysis on record")
    )


def against_words(state: GasState) -> Iterator[tuple[str, str]]:
    """What else stops the gas of a cylinder, each with its remedy."""
    if state.against_batch:
        yield state.against_batch, say("do not use the gas; ask the supplier")
    if state.gas is not None and state.divers_gas is not None:
        for each in differences(state.gas, state.divers_gas, GasLimits()):
            yield say("the diver analysed otherwise: {words}", words=each.words), say("analyse again, both together")


def tests_last(days: Iterable[LastGoodDay]) -> date | None:
    """The earlier last good day of hydrostatic test and internal visual; None where one is not known, or none is set.

    A hydrostatic day never moves with a late visual: each counts from its own kind of test.
    """
    tests = [each for each in days if each.limit.test_kind in CYLINDER_TESTS]
    if not tests or any(each.day is None for each in tests):
        return None
    return min(each.day for each in tests if each.day is not None)


def mixture(oxygen_percent: float, helium_percent: float | None) -> Mixture | None:
    """The gas of two percentages; None where no gas has them, which an import may have let through."""
    try:
        return analysed_mixture(oxygen_percent, helium_percent)
    except ValueError:
        return None
