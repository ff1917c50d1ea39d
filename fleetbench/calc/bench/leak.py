"""Leaks by pressure change, loop tests, one-way valves and opening pressures: readings in, figure and verdict out.

Pressures are absolute in mbar, temperatures are the gas's own in degrees C, volumes litres. A leak is positive where
gas leaves a volume above ambient pressure, or enters one below it; in mL/min at a stated reference condition.
A loop with flexible counterlungs changes its volume, so a decay figure for it is indicative only: ASTM E2930 leaves
deformable vessels out. No published limit for a loop test exists: the unit type's own is needed.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise

import numpy as np

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import CELSIUS
from fleetbench.calc.core.plausible import require_between
from fleetbench.calc.core.verdict import Verdict

GAS_CONSTANT = 8.314462618
COVERAGE = 2.0
# 25 mm of water column at 9.80665 m/s2 and 1000 kg/m3.
VALVE_SUCTION_MBAR = 2.4516625
STANDING_PART = 1.0 / 3.0
"""Least part of the starting pressure that must still stand for a leak to be referred to it: under it readings cannot
tell a slow leak from a fast one that is nearly over. Common practice, no published source."""

DEFORMABLE_NOTE = say("indicative: the loop's volume changes (ASTM E2930 leaves deformable vessels out)")


class TestSign(StrEnum):
    """Which way a test volume is loaded against ambient."""

    __test__ = False

    POSITIVE = "positive"
    NEGATIVE = "negative"


@dataclass(frozen=True, slots=True)
class LeakReference:
    """Condition at which a leak is stated: degrees C and mbar absolute."""

    temperature_c: float = 20.0
    pressure_mbar: float = 1013.25


@dataclass(frozen=True, slots=True)
class Gauge:
    """What the readings were taken with.

    resolution_mbar, resolution_k: one digit of the gauge and of the thermometer. volume_u: relative standard
    uncertainty of the test volume. temperature_u_k: standard uncertainty of how well the thermometer follows the gas.
    zero_u_mbar: standard uncertainty that all readings of the gauge share.
    """

    resolution_mbar: float
    resolution_k: float = 0.1
    temperature_u_k: float = 0.0
    volume_u: float = 0.0
    zero_u_mbar: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a gauge without a digit, and uncertainties below zero."""
        require_between("zero_u_mbar", self.zero_u_mbar, 0.0, 1000.0)
        require_between("resolution_mbar", self.resolution_mbar, 1e-6, 1000.0)
        require_between("resolution_k", self.resolution_k, 0.0, 10.0)
        require_between("temperature_u_k", self.temperature_u_k, 0.0, 10.0)
        require_between("volume_u", self.volume_u, 0.0, 0.5)


@dataclass(frozen=True, slots=True)
class LeakReading:
    """One reading: seconds from the start, absolute mbar, gas temperature in degrees C."""

    seconds: float
    pressure_mbar: float
    temperature_c: float


@dataclass(frozen=True, slots=True)
class Leak:
    """A leak with its expanded uncertainty (k = 2), mL/min at the reference condition.

    ml_min: best estimate, which may lie below nought within its uncertainty. below_ml_min: set where the drop is under
    what the gauge can see; then the leak is known only to be below this. raw_ml_min: without temperature compensation.
    stands: False where too little of the starting pressure stood at the end; then ml_min is the mean over the test, and
    the leak at the starting pressure is larger by an unknown amount. notes: what to read beside the figure.
    """

    ml_min: float
    u_ml_min: float
    below_ml_min: float | None
    raw_ml_min: float
    reference: LeakReference
    notes: tuple[str, ...] = ()
    stands: bool = True

    @property
    def words(self) -> str:
        """The figure as it is shown; never zero for a leak that could not be seen."""
        at = say(
            "at {temperature_c} and {pressure_mbar:g} mbar",
            temperature_c=CELSIUS.words(self.reference.temperature_c),
            pressure_mbar=self.reference.pressure_mbar,
        )
        if not self.stands:
            return say(
                "more than {ml_min:.3g} ± {u_ml_min:.2g} mL/min {at}", ml_min=self.ml_min, u_ml_min=self.u_ml_min, at=at
            )
        if self.below_ml_min is not None:
            return say("below {below_ml_min:.2g} mL/min {at}", below_ml_min=self.below_ml_min, at=at)
        return say("{ml_min:.3g} ± {u_ml_min:.2g} mL/min {at}", ml_min=self.ml_min, u_ml_min=self.u_ml_min, at=at)


def pressure_change(
    readings: Sequence[LeakReading],
    *,
    volume_l: float,
    gauge: Gauge,
    sign: TestSign = TestSign.POSITIVE,
    deformable: bool = False,
    reference: LeakReference | None = None,
    ambient_mbar: float | None = None,
) -> Leak:
    """The leak of a volume from two or more readings, temperature compensated, at its starting pressure.

    Amount of gas p V/(R T) at each reading, its rate by least squares over time (with two readings the difference,
    as 40 CFR 1065.644 has it), taken to the reference condition. A leak is proportional to the pressure that drives it
    and dies with it, so with ambient_mbar time is counted as time at the starting pressure (``_seconds_at_first``);
    None takes the leak as constant. The uncertainty is propagated from gauge and thermometer (JCGM 100:2008, 5.1.2; a
    digit is rectangular), with the scatter about the line where that is larger. Raises ValueError for too few
    readings, time that does not go forward, a volume, pressure or temperature out of range, and a pressure that moves
    the wrong way by more than the gauge's uncertainty.
    """
    require_between("volume_l", volume_l, 1e-4, 1000.0)
    _require_readings(readings)
    used = reference or LeakReference()
    way = 1.0 if sign is TestSign.POSITIVE else -1.0
    # Litres at the reference condition that the volume holds at each reading, times 1000 for mL.
    to_ml = 1000.0 * volume_l * (used.temperature_c + 273.15) / used.pressure_mbar
    series = _Series(
        np.array([reading.seconds for reading in readings]),
        np.array([reading.pressure_mbar for reading in readings]),
        np.array([reading.temperature_c + 273.15 for reading in readings]),
        to_ml=to_ml, way=way, ambient=ambient_mbar,
    )  # fmt: skip
    stands = series.stands(COVERAGE * math.hypot(gauge.resolution_mbar / math.sqrt(12.0), gauge.zero_u_mbar))
    if not stands:
        series = replace(series, ambient=None)
    rate = series.rate()
    readings_u = max(_instruments_u(series, gauge), _scatter_u(series))
    expanded = COVERAGE * math.hypot(readings_u, rate * gauge.volume_u)
    if rate < -expanded:
        moved = (
            say("pressure_mbar: it rises in a positive test beyond the gauge's uncertainty")
            if sign is TestSign.POSITIVE
            else say("pressure_mbar: it falls in a negative test beyond the gauge's uncertainty")
        )
        look = say("look at units, the order of the readings and the gas temperature")
        raise ValueError(strung("; ", (moved, look)))
    below = max(rate, 0.0) + expanded if rate < expanded else None
    raw = replace(series, kelvin=np.full_like(series.kelvin, series.kelvin[0])).rate()
    return Leak(
        rate,
        u_ml_min=expanded,
        below_ml_min=below,
        raw_ml_min=raw,
        reference=used,
        notes=(DEFORMABLE_NOTE,) if deformable else (),
        stands=stands,
    )


def smallest_leak_ml_min(
    *, volume_l: float, seconds: float, gauge: Gauge, pressure_mbar: float = 1013.25, temperature_c: float = 20.0
) -> float:
    """Smallest leak that a two-reading test of this length can tell from none, mL/min at 20 C and 1013.25 mbar."""
    require_between("seconds", seconds, 1.0, 1e6)
    still = [LeakReading(0.0, pressure_mbar, temperature_c), LeakReading(seconds, pressure_mbar, temperature_c)]
    return pressure_change(still, volume_l=volume_l, gauge=gauge).u_ml_min


def seconds_to_see(
    leak_ml_min: float,
    *,
    volume_l: float,
    gauge: Gauge,
    pressure_mbar: float = 1013.25,
    temperature_c: float = 20.0,
) -> float:
    """Seconds that a two-reading test must last for a leak of this size to be told from none."""
    require_between("leak_ml_min", leak_ml_min, 1e-6, 1e6)
    one_second = smallest_leak_ml_min(
        volume_l=volume_l, seconds=1.0, gauge=gauge, pressure_mbar=pressure_mbar, temperature_c=temperature_c
    )
    return one_second / leak_ml_min


def judge_leak(leak: Leak, limit_ml_min: float | None) -> Verdict:
    """Pass only where the whole interval is at or under the limit; reject where the value is over it; else repeat.

    None for the limit is repeat: without the unit type's own limit nothing can be decided. Guard band after JCGM 106.
    Where too little of the starting pressure stood at the end the leak was larger than the value: never a pass.
    """
    if limit_ml_min is None:
        return Verdict.REPEAT
    require_between("limit_ml_min", limit_ml_min, 1e-9, 1e6)
    if leak.ml_min > limit_ml_min:
        return Verdict.REJECT
    if not leak.stands:
        return Verdict.REPEAT
    return Verdict.PASS if leak.ml_min + leak.u_ml_min <= limit_ml_min else Verdict.REPEAT


@dataclass(frozen=True, slots=True)
class LoopLimit:
    """How long a loop must hold, from the unit type's manual; no published figure exists."""

    minutes: float
    source: str

    def __post_init__(self) -> None:
        """Refuse a time that is not above nought."""
        require_between("minutes", self.minutes, 0.1, 240.0)


def judge_loop_by_eye(held: bool | None, *, watched_minutes: float, limit: LoopLimit | None) -> Verdict:
    """Verdict of a loop watched by eye: it fell is reject; it held for the type's time is pass; else repeat.

    held: None where it was not looked at. Full evidence, common practice, no published source.
    """
    require_between("watched_minutes", watched_minutes, 0.0, 1440.0)
    if held is False:
        return Verdict.REJECT
    if held is None or limit is None:
        return Verdict.REPEAT
    return Verdict.PASS if watched_minutes >= limit.minutes else Verdict.REPEAT


@dataclass(frozen=True, slots=True)
class BackLeakLimit:
    """Most back-leak of a one-way valve in mL/min at a suction in mbar.

    The default is that of 42 CFR 84.182, the clause of filtering masks; for closed-circuit apparatus 84.92 states the
    same figures (from memory).
    """

    ml_min: float = 30.0
    suction_mbar: float = VALVE_SUCTION_MBAR
    source: str = say("42 CFR 84.182, dry valve, 25 mm water column")


def judge_valve_by_breath(inhale_held: bool | None, exhale_held: bool | None) -> Verdict:
    """Verdict of the one-way valves tried by breath: either that does not hold is reject, either untried is repeat.

    Each direction on its own; full evidence at release, common practice, no published source.
    """
    if inhale_held is False or exhale_held is False:
        return Verdict.REJECT
    return Verdict.PASS if inhale_held and exhale_held else Verdict.REPEAT


def judge_back_leak(
    ml_min: float,
    *,
    u_ml_min: float,
    suction_mbar: float,
    limit: BackLeakLimit | None = None,
    last_suction_mbar: float | None = None,
) -> Verdict:
    """Verdict of a back-leak at suction_mbar with its expanded uncertainty; a suction under the limit's is repeat.

    last_suction_mbar: what still stood at the last reading, None where the suction was held. A leak over the limit is
    rejected where it is over it at the limit's own suction too (in proportion); at a harder one alone it is repeat.
    """
    used = limit or BackLeakLimit()
    require_between("ml_min", ml_min, 0.0, 1e5)
    require_between("u_ml_min", u_ml_min, 0.0, 1e5)
    require_between("suction_mbar", suction_mbar, 0.01, 1000.0)
    if ml_min * min(1.0, used.suction_mbar / suction_mbar) > used.ml_min:
        return Verdict.REJECT
    if too_gentle(suction_mbar if last_suction_mbar is None else last_suction_mbar, used):
        return Verdict.REPEAT
    return Verdict.PASS if ml_min + u_ml_min <= used.ml_min else Verdict.REPEAT


def too_gentle(suction_mbar: float, limit: BackLeakLimit) -> bool:
    """Whether a suction is under the limit's own by more than the 2 % to which a water column can be read."""
    return suction_mbar < 0.98 * limit.suction_mbar


@dataclass(frozen=True, slots=True)
class OpeningPressure:
    """Opening pressure over its repeats: mean, spread (largest less smallest), expanded uncertainty; all in mbar."""

    mean_mbar: float
    spread_mbar: float
    u_mbar: float
    verdict: Verdict


def opening_pressure(
    readings_mbar: Sequence[float], *, least_mbar: float, most_mbar: float, resolution_mbar: float
) -> OpeningPressure:
    """Opening pressure of a relief, addition or bailout valve from repeated trials, against a two-ended limit.

    The uncertainty is the larger of the repeats' (Student, 95.45 %) and the gauge's resolution; with one trial the
    repeats are not known, so the verdict is at best repeat. Raises ValueError for no trial or limits the wrong way.
    """
    if not readings_mbar:
        raise ValueError(say("readings_mbar: no trial given; open the valve at least twice"))
    for value in readings_mbar:
        require_between("readings_mbar", value, 0.0, 20_000.0)
    require_between("resolution_mbar", resolution_mbar, 1e-6, 1000.0)
    if not least_mbar < most_mbar:
        raise ValueError(say("least_mbar: not under most_mbar; give the type's two limits in order"))
    values = np.array(readings_mbar, dtype=float)
    mean, spread = float(values.mean()), float(np.ptp(values))
    expanded = COVERAGE * resolution_mbar / math.sqrt(12.0)
    if len(values) > 1:
        # scipy.stats is slow to import and only needed here.
        from scipy.stats import t

        repeats = float(t.ppf(0.97725, len(values) - 1)) * float(values.std(ddof=1)) / math.sqrt(len(values))
        expanded = max(expanded, repeats)
    if not least_mbar <= mean <= most_mbar:
        verdict = Verdict.REJECT
    elif len(values) > 1 and least_mbar <= mean - expanded and mean + expanded <= most_mbar:
        verdict = Verdict.PASS
    else:
        verdict = Verdict.REPEAT
    return OpeningPressure(mean, spread, expanded, verdict)


@dataclass(frozen=True, slots=True)
class _Series:
    """Readings as arrays: s, absolute mbar, K. to_ml turns mbar/K into mL at the reference condition; way is +1 over
    ambient and -1 under it; ambient in mbar, None for a leak that is taken as constant."""

    seconds: np.ndarray
    pressure: np.ndarray
    kelvin: np.ndarray
    to_ml: float
    way: float
    ambient: float | None

    @property
    def held(self) -> np.ndarray:
        """Gas held at each reading, mL at the reference condition."""
        amount: np.ndarray = self.to_ml * self.pressure / self.kelvin
        return amount

    @property
    def counted(self) -> np.ndarray:
        """Seconds over which the leak's rate is taken."""
        if self.ambient is None:
            return self.seconds
        return _seconds_at_first(self.seconds, self.way * (self.pressure - self.ambient))

    def stands(self, least_mbar: float) -> bool:
        """Whether enough of the starting pressure stood throughout; least_mbar is what the gauge cannot tell from
        none."""
        if self.ambient is None:
            return True
        load = self.way * (self.pressure - self.ambient)
        return bool(np.min(load) >= max(STANDING_PART * load[0], 2.0 * least_mbar, 1e-9))

    def rate(self) -> float:
        """The leak in mL/min by least squares, positive where the pressure is lost."""
        return -self.way * 60.0 * float(_slope_weights(self.counted) @ self.held)


def _seconds_at_first(seconds: np.ndarray, load: np.ndarray) -> np.ndarray:
    """Time that would have let as much gas through at the first pressure difference, up to each reading.

    Between two readings the pressure difference dies exponentially (leak in proportion to it, rigid volume), so its
    mean there is the logarithmic mean (a - b) / ln(a / b) of the two.
    """
    before, after = load[:-1], load[1:]
    ratio = np.log(before / after)
    small = np.abs(ratio) < 1e-4
    mean = np.where(small, (before + after) / 2.0, (before - after) / np.where(small, 1.0, ratio))
    return np.concatenate(([0.0], np.cumsum(mean * np.diff(seconds)))) / float(load[0])


def _slope_weights(seconds: np.ndarray) -> np.ndarray:
    """Weights whose product with the readings is the least-squares slope."""
    centred = seconds - seconds.mean()
    weights: np.ndarray = centred / float(centred @ centred)
    return weights


def _instruments_u(series: _Series, gauge: Gauge) -> float:
    """Standard uncertainty of the rate in mL/min from what gauge and thermometer can show, by small steps of each."""
    digit_u = gauge.resolution_mbar / math.sqrt(12.0)
    warm_u = math.hypot(gauge.resolution_k / math.sqrt(12.0), gauge.temperature_u_k)
    rate, step = series.rate(), 1e-4
    by_pressure = np.array([
        (replace(series, pressure=series.pressure + step * unit).rate() - rate) / step
        for unit in np.eye(len(series.seconds))
    ])  # fmt: skip
    by_kelvin = -60.0 * series.way * _slope_weights(series.counted) * -series.held / series.kelvin
    # All readings share the gauge's zero. In the amounts it cancels but for the temperatures; in the pressure
    # difference that drives the leak it stays.
    shared = float(np.sum(by_pressure)) * gauge.zero_u_mbar
    return math.sqrt(float(np.sum((by_pressure * digit_u) ** 2) + np.sum((by_kelvin * warm_u) ** 2)) + shared**2)


def _scatter_u(series: _Series) -> float:
    """Standard uncertainty of the rate in mL/min from scatter about the line, widened for few readings; else 0."""
    held, seconds = series.held, series.counted
    freedom = len(held) - 2
    if freedom < 1:
        return 0.0
    # scipy.stats is slow to import and only needed here.
    from scipy.stats import t

    weights = _slope_weights(seconds)
    residual = held - held.mean() - float(weights @ held) * (seconds - seconds.mean())
    deviation = math.sqrt(float(residual @ residual) / freedom)
    return 60.0 * deviation * math.sqrt(float(weights @ weights)) * float(t.ppf(0.97725, freedom)) / COVERAGE


def _require_readings(readings: Sequence[LeakReading]) -> None:
    if len(readings) < 2:
        raise ValueError(say("readings: a pressure change needs at least two; read the gauge again"))
    for reading in readings:
        require_between("seconds", reading.seconds, 0.0, 1e7)
        if math.isfinite(reading.pressure_mbar) and reading.pressure_mbar < 100.0:
            raise ValueError(
                say(
                    "pressure_mbar: {pressure_mbar!r} looks like gauge pressure, bar or kPa; give absolute mbar",
                    pressure_mbar=reading.pressure_mbar,
                )
            )
        require_between("pressure_mbar", reading.pressure_mbar, 100.0, 400_000.0)
        require_between("temperature_c", reading.temperature_c, -20.0, 80.0)
    if any(after.seconds <= before.seconds for before, after in pairwise(readings)):
        raise ValueError(say("seconds: time does not go forward; enter the readings in the order they were taken"))
    pressures = [reading.pressure_mbar for reading in readings]
    if max(pressures) > 5.0 * min(pressures):
        raise ValueError(say("pressure_mbar: readings differ fivefold; give all of them in absolute mbar"))
