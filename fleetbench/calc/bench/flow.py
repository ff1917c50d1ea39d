"""Constant-mass-flow injectors, solenoid pulses and intermediate pressure: expected figures and verdicts.

Choked flow of an ideal gas: mass flow = Cd A C* p0 / sqrt(Rs T0), choked while the downstream pressure is at most
(2/(k+1))**(k/(k-1)) of p0; k is the ratio of specific heats. For oxygen at 10 bar it lies 0.45 % under the real
gas at 20 C and 0.56 % at 5 C.
Pressures are absolute unless the name says gauge; flows are L/min of free gas at a stated reference condition.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import BAR, METRE
from fleetbench.calc.core.plausible import require_between
from fleetbench.calc.core.verdict import Verdict
from fleetbench.calc.gas.depth import METRES_PER_BAR
from fleetbench.calc.gas.real import ATMOSPHERE_BAR, FREE_15_C, GAS_CONSTANT, OXYGEN, Mixture, Reference

# Ideal-gas heat capacities at constant pressure over the gas constant near 20 C: 7/2 for two atoms, 5/2 for one.
_DIATOMIC, _MONATOMIC = 3.5, 2.5


def heat_capacity_ratio(mixture: Mixture) -> float:
    """Ratio of specific heats of an ideal mixture of oxygen, nitrogen and helium: 1.4 to 1.667."""
    capacity = _DIATOMIC * (1.0 - mixture.helium) + _MONATOMIC * mixture.helium
    return capacity / (capacity - 1.0)


def critical_ratio(ratio: float) -> float:
    """Downstream over upstream pressure at and under which flow is choked, for a ratio of specific heats."""
    require_between("ratio", ratio, 1.01, 2.0)
    return float((2.0 / (ratio + 1.0)) ** (ratio / (ratio - 1.0)))


def critical_flow_factor(ratio: float) -> float:
    """Critical flow factor C*, dimensionless, for a ratio of specific heats."""
    require_between("ratio", ratio, 1.01, 2.0)
    return float(math.sqrt(ratio) * (2.0 / (ratio + 1.0)) ** ((ratio + 1.0) / (2.0 * (ratio - 1.0))))


def choked_mass_flow_kg_s(
    *, diameter_mm: float, discharge: float, upstream_bar: float, temperature_c: float, mixture: Mixture = OXYGEN
) -> float:
    """Choked mass flow in kg/s through a bore, from absolute upstream pressure in bar and gas temperature."""
    require_between("diameter_mm", diameter_mm, 0.005, 20.0)
    require_between("discharge", discharge, 0.1, 1.0)
    require_between("upstream_bar", upstream_bar, 1.0, 300.0)
    require_between("temperature_c", temperature_c, -40.0, 80.0)
    area = math.pi / 4.0 * (diameter_mm * 1e-3) ** 2
    specific = GAS_CONSTANT / (mixture.molar_mass_g_mol * 1e-3)
    factor = critical_flow_factor(heat_capacity_ratio(mixture))
    return discharge * area * factor * upstream_bar * 1e5 / math.sqrt(specific * (temperature_c + 273.15))


def free_flow_l_min(mass_flow_kg_s: float, mixture: Mixture = OXYGEN, reference: Reference = FREE_15_C) -> float:
    """Volume flow in L/min of ideal gas at the reference condition for a mass flow in kg/s."""
    moles = mass_flow_kg_s / (mixture.molar_mass_g_mol * 1e-3)
    litres_a_mole = GAS_CONSTANT * (reference.temperature_c + 273.15) / (reference.pressure_bar * 100.0)
    return 60.0 * moles * litres_a_mole


@dataclass(frozen=True, slots=True)
class RatedInjector:
    """A constant-mass-flow injector as its unit type states it.

    rated_l_min with `mixture` at rated_upstream_bar (absolute) and rated_temperature_c; tolerance: relative, both
    ways. blocked_from_ambient: whether the first stage is blocked from ambient pressure; None is not known.
    """

    rated_l_min: float
    rated_upstream_bar: float
    tolerance: float
    source: str
    rated_temperature_c: float = 20.0
    mixture: Mixture = OXYGEN
    blocked_from_ambient: bool | None = None

    def __post_init__(self) -> None:
        """Refuse figures out of reason, naming the field."""
        require_between("rated_l_min", self.rated_l_min, 0.05, 100.0)
        require_between("rated_upstream_bar", self.rated_upstream_bar, 2.0, 50.0)
        require_between("tolerance", self.tolerance, 0.001, 0.5)
        require_between("rated_temperature_c", self.rated_temperature_c, -40.0, 80.0)


def expected_l_min(
    injector: RatedInjector, *, upstream_bar: float, temperature_c: float, mixture: Mixture | None = None
) -> float:
    """Flow in L/min that the injector should give at a measured absolute pressure, temperature and gas.

    The rated flow scaled as choked flow does: by pressure, by C* over the root of molar mass and temperature, in free
    litres at the reference condition of the rating.
    """
    require_between("upstream_bar", upstream_bar, 1.0, 50.0)
    require_between("temperature_c", temperature_c, -40.0, 80.0)
    gas = mixture or injector.mixture
    by_gas = _volume_factor(gas) / _volume_factor(injector.mixture)
    by_heat = math.sqrt((injector.rated_temperature_c + 273.15) / (temperature_c + 273.15))
    return injector.rated_l_min * upstream_bar / injector.rated_upstream_bar * by_heat * by_gas


@dataclass(frozen=True, slots=True)
class InjectorCheck:
    """A measured injector flow beside what was expected, L/min; limits on both sides."""

    measured_l_min: float
    expected_l_min: float
    low_l_min: float
    high_l_min: float
    verdict: Verdict
    words: str


def check_injector(
    injector: RatedInjector, *, measured_l_min: float, u_l_min: float, upstream_bar: float, temperature_c: float
) -> InjectorCheck:
    """Verdict of a measured flow with its expanded uncertainty: outside either limit reject, across one repeat.

    Too little starves the diver and too much wastes gas and raises pO2, so both sides count.
    """
    require_between("measured_l_min", measured_l_min, 0.0, 200.0)
    require_between("u_l_min", u_l_min, 0.0, 50.0)
    expected = expected_l_min(injector, upstream_bar=upstream_bar, temperature_c=temperature_c)
    low, high = expected * (1.0 - injector.tolerance), expected * (1.0 + injector.tolerance)
    if not low <= measured_l_min <= high:
        verdict = Verdict.REJECT
    elif low <= measured_l_min - u_l_min and measured_l_min + u_l_min <= high:
        verdict = Verdict.PASS
    else:
        verdict = Verdict.REPEAT
    words = say(
        "{measured_l_min:.3g} ± {u_l_min:.2g} L/min measured, {low:.3g} to {high:.3g} expected ({source})",
        measured_l_min=measured_l_min,
        u_l_min=u_l_min,
        low=low,
        high=high,
        source=injector.source,
    )
    return InjectorCheck(
        measured_l_min, expected_l_min=expected, low_l_min=low, high_l_min=high, verdict=verdict, words=words
    )


def choked_depth(
    *,
    upstream_bar: float,
    blocked_from_ambient: bool | None,
    mixture: Mixture = OXYGEN,
    surface_bar: float = ATMOSPHERE_BAR,
) -> tuple[float | None, str]:
    """Depth in m of sea water to which an injector's flow stays choked, from the absolute pressure before it; in words.

    None where it cannot be stated, and the words say why.

    Only with a first stage blocked from ambient pressure is there such a depth; otherwise the supply rises with depth.
    Never deeper than the depth calculated; 0 where the flow is not even choked at the surface.
    """
    require_between("upstream_bar", upstream_bar, 1.0, 50.0)
    require_between("surface_bar", surface_bar, 0.5, 1.1)
    if blocked_from_ambient is None:
        return None, say("the unit type does not say whether the first stage is blocked from ambient pressure")
    if not blocked_from_ambient:
        return None, say("the first stage follows ambient pressure, so there is no such depth")
    downstream = upstream_bar * critical_ratio(heat_capacity_ratio(mixture))
    depth = max(0.0, (downstream - surface_bar) * METRES_PER_BAR)
    before = BAR.words(float(f"{upstream_bar:.4g}"))
    words = say(
        "choked down to {depth}: {downstream} behind {before}",
        depth=METRE.whole(depth),
        downstream=BAR.words(downstream, 2),
        before=before,
    )
    return depth, words


def check_pulses(
    *, volume_ml: float, pulses: int, u_volume_ml: float, least_ml: float, most_ml: float
) -> tuple[float, Verdict]:
    """Gas per pulse of a solenoid in mL at the reference condition, and its verdict against the type's two limits."""
    require_between("volume_ml", volume_ml, 0.0, 1e6)
    require_between("u_volume_ml", u_volume_ml, 0.0, 1e5)
    if not 1 <= pulses <= 10_000:
        raise ValueError(say("pulses: {pulses!r}; count 1 to 10000", pulses=pulses))
    if not 0.0 <= least_ml < most_ml:
        raise ValueError(say("least_ml: not under most_ml; give the type's two limits in order"))
    each, uncertainty = volume_ml / pulses, u_volume_ml / pulses
    if not least_ml <= each <= most_ml:
        return each, Verdict.REJECT
    inside = least_ml <= each - uncertainty and each + uncertainty <= most_ml
    return each, Verdict.PASS if inside else Verdict.REPEAT


class LockUp(StrEnum):
    """What an intermediate pressure does after lock-up."""

    SETTLES = "settles"
    CREEPS = "creeps"
    FALLS = "falls"
    TOO_SHORT = "not watched long enough"


@dataclass(frozen=True, slots=True)
class PressureReading:
    """One reading of an intermediate pressure: seconds since lock-up, gauge pressure in bar."""

    seconds: float
    gauge_bar: float


@dataclass(frozen=True, slots=True)
class LockUpLimit:
    """A unit type's limits: least and most gauge pressure, most creep, and how long to watch.

    Watching for 5 minutes and 0.05 bar a minute of creep: common practice, no published source.
    """

    least_bar: float
    most_bar: float
    source: str
    creep_bar_min: float = 0.05
    watch_minutes: float = 5.0

    def __post_init__(self) -> None:
        """Refuse limits the wrong way round."""
        require_between("least_bar", self.least_bar, 0.5, 50.0)
        require_between("most_bar", self.most_bar, 0.5, 50.0)
        require_between("creep_bar_min", self.creep_bar_min, 1e-4, 10.0)
        require_between("watch_minutes", self.watch_minutes, 0.1, 120.0)
        if not self.least_bar < self.most_bar:
            raise ValueError(say("least_bar: not under most_bar; give the type's two limits in order"))


@dataclass(frozen=True, slots=True)
class LockUpCheck:
    """What the pressure did after lock-up.

    rate_bar_min: slope over the last half of the watch, u_bar_min its expanded uncertainty; last_bar: last reading.
    """

    state: LockUp
    rate_bar_min: float
    u_bar_min: float
    last_bar: float
    verdict: Verdict
    words: str


def check_lock_up(readings: Sequence[PressureReading], limit: LockUpLimit, *, resolution_bar: float) -> LockUpCheck:
    """Whether an intermediate pressure settles, creeps or falls after lock-up, and its verdict.

    The rate is the least-squares slope over the last half of the watch, where the first settling is over; its
    uncertainty that of the gauge's resolution (rectangular) or of the scatter, whichever is larger, times 2. Reject
    outside the two limits or where the rate, and repeat where only its interval, is over the limit, or where it was
    not watched long enough. Above the most, a solenoid may fail to open. Raises ValueError for fewer than three
    readings or time that does not go forward.
    """
    _require_lock_up(readings, resolution_bar)
    seconds = np.array([reading.seconds for reading in readings])
    bar = np.array([reading.gauge_bar for reading in readings])
    rate, expanded = _late_rate(seconds, bar, resolution_bar)
    watched = float(seconds[-1] - seconds[0]) / 60.0
    last = float(bar[-1])
    state = _lock_up_state(rate, expanded, limit.creep_bar_min)
    outside = not (limit.least_bar <= last <= limit.most_bar and bar.max() <= limit.most_bar)
    if outside or abs(rate) > limit.creep_bar_min:
        verdict = Verdict.REJECT
    elif watched < limit.watch_minutes:
        state, verdict = LockUp.TOO_SHORT, Verdict.REPEAT
    else:
        verdict = Verdict.PASS if abs(rate) + expanded <= limit.creep_bar_min else Verdict.REPEAT
    crept = f"{BAR.spread(rate, '+.3f')} ± {BAR.spread(expanded, '.3f')} {BAR}/min"
    span = BAR.span(limit.least_bar, limit.most_bar)
    ends = strung(", ", (span, f"{BAR.spread(limit.creep_bar_min, '.4g')} {BAR}/min"))
    words = say(
        "{state}: {last} after {watched:.1f} min, {crept}; limits {ends} ({source})",
        state=say(state),
        last=BAR.words(last, 2),
        watched=watched,
        crept=crept,
        ends=ends,
        source=limit.source,
    )
    return LockUpCheck(state, rate_bar_min=rate, u_bar_min=expanded, last_bar=last, verdict=verdict, words=words)


def _late_rate(seconds: np.ndarray, bar: np.ndarray, resolution_bar: float) -> tuple[float, float]:
    half = seconds >= (seconds[0] + seconds[-1]) / 2.0
    # Three points at least, so that scatter can be told from slope.
    late = half if int(half.sum()) >= 3 else np.arange(len(seconds)) >= len(seconds) - 3
    minutes, pressure = seconds[late] / 60.0, bar[late]
    centred = minutes - minutes.mean()
    square = float(centred @ centred)
    rate = float(centred @ pressure) / square
    residual = pressure - pressure.mean() - rate * centred
    scatter = math.sqrt(float(residual @ residual) / (len(pressure) - 2))
    each = max(scatter, resolution_bar / math.sqrt(12.0))
    return rate, 2.0 * each / math.sqrt(square)


def _lock_up_state(rate: float, expanded: float, creep_bar_min: float) -> LockUp:
    if abs(rate) <= expanded or abs(rate) <= creep_bar_min / 2.0:
        return LockUp.SETTLES
    return LockUp.CREEPS if rate > 0.0 else LockUp.FALLS


def _require_lock_up(readings: Sequence[PressureReading], resolution_bar: float) -> None:
    if len(readings) < 3:
        raise ValueError(say("readings: three at least after lock-up; read the gauge again"))
    require_between("resolution_bar", resolution_bar, 1e-5, 5.0)
    for reading in readings:
        require_between("seconds", reading.seconds, 0.0, 1e6)
        require_between("gauge_bar", reading.gauge_bar, 0.0, 60.0)
    if any(after.seconds <= before.seconds for before, after in pairwise(readings)):
        raise ValueError(say("seconds: time does not go forward; enter the readings in the order they were taken"))


def _volume_factor(mixture: Mixture) -> float:
    """What a choked volume flow is proportional to, beyond pressure and temperature: C* over root molar mass."""
    return critical_flow_factor(heat_capacity_ratio(mixture)) / math.sqrt(mixture.molar_mass_g_mol)
