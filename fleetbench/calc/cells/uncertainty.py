"""Oxygen pressures, linearity and normalised readings with their uncertainty, and the verdict of each against limits.

Combined by JCGM 100:2008, guard bands by JCGM 106; for one reading or for millions at once.

Pressures in mbar, partial pressures in bar, temperatures in degrees C, humidity and gas as fractions of one. Every
function takes numbers or numpy arrays that broadcast, and gives a float64 array (0-d for numbers).

Everything is a numpy array that broadcasts; the judgement of one head and the simulation of many use the same code.
Uncertainties named ``_u`` are standard, ``expanded`` are with k = 2. Relative quantities are fractions of the value.

Works on numpy arrays elementwise, so that the judgement of one cell and a simulation of many are the same code.
"""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleetbench.calc.core.languages import say
from fleetbench.calc.core.measures import METRE
from fleetbench.calc.core.verdict import Verdict

Array = NDArray[np.float64]

OXYGEN_IN_DRY_AIR = 0.20939
"""Mole fraction of oxygen in dry air: CIPM-2007, Picard et al., Metrologia 45 (2008) 149, table 1."""

STANDARD_PRESSURE_MBAR = 1013.25
"""Standard pressure at sea level: ISO 2533:1975."""

MBAR_PER_BAR = 1000.0

WEATHER_PRESSURE_U_MBAR = 15.0
"""Standard uncertainty of a pressure inferred from altitude alone, half of a usual ±30 mbar of weather: common
practice, no published source."""

# ISO 2533:1975, troposphere: temperature and its lapse, gravity, gas constant of air, nominal earth radius.
_STANDARD_TEMPERATURE_K = 288.15
_LAPSE_K_PER_M = 0.0065
_STANDARD_GRAVITY = 9.80665
_AIR_GAS_CONSTANT = 287.05287
_EARTH_RADIUS_M = 6_356_766.0

# WMO-No. 8 (2008), annex 4.B, saturation over water; valid -45 to 60 degrees C.
_WMO_MBAR = 6.112
_WMO_FACTOR = 17.62
_WMO_OFFSET_C = 243.12

SATURATION_RELATIVE_U = 0.002
"""Standard uncertainty of the WMO-No. 8 formula against IAPWS-95, relative: within 0.35 % from 0 to 40 degrees C
(computed with CoolProp), taken as rectangular."""


def saturation_pressure_mbar(temperature_c: ArrayLike) -> Array:
    """Saturation vapour pressure over water in mbar at a temperature in degrees C (WMO-No. 8, 2008, annex 4.B)."""
    t = np.asarray(temperature_c, dtype=float)
    return np.asarray(_WMO_MBAR * np.exp(_WMO_FACTOR * t / (_WMO_OFFSET_C + t)))


def saturation_slope_mbar_per_k(temperature_c: ArrayLike) -> Array:
    """Slope of the saturation vapour pressure in mbar/K, the derivative of the WMO-No. 8 formula."""
    t = np.asarray(temperature_c, dtype=float)
    return np.asarray(saturation_pressure_mbar(t) * _WMO_FACTOR * _WMO_OFFSET_C / (_WMO_OFFSET_C + t) ** 2)


def air_po2_bar(pressure_mbar: ArrayLike, temperature_c: ArrayLike, humidity: ArrayLike) -> Array:
    """Oxygen partial pressure of moist air in bar: 0.20939 * (p - RH * es(T)).

    Sources: fraction from CIPM-2007 (Picard et al. 2008), es from WMO-No. 8. Humidity is a fraction from 0 to 1.
    """
    dry = np.asarray(pressure_mbar, dtype=float) - np.asarray(humidity, dtype=float) * saturation_pressure_mbar(
        temperature_c
    )
    return np.asarray(OXYGEN_IN_DRY_AIR * dry / MBAR_PER_BAR)


def gas_po2_bar(
    oxygen_fraction: ArrayLike,
    pressure_mbar: ArrayLike,
    over_pressure_mbar: ArrayLike = 0.0,
    vapour_mbar: ArrayLike = 0.0,
) -> Array:
    """Oxygen partial pressure of calibration gas in bar: F * (p + over-pressure - vapour), dry gas by default."""
    total = (
        np.asarray(pressure_mbar, dtype=float)
        + np.asarray(over_pressure_mbar, dtype=float)
        - np.asarray(vapour_mbar, dtype=float)
    )
    return np.asarray(np.asarray(oxygen_fraction, dtype=float) * total / MBAR_PER_BAR)


def pressure_at_altitude_mbar(altitude_m: float) -> float:
    """Standard-atmosphere pressure in mbar at a geometric altitude in metres (ISO 2533:1975).

    Good from -500 m to 9,000 m, where people calibrate; outside it raises ValueError. The weather moves the true
    pressure by tens of mbar: use it with ``WEATHER_PRESSURE_U_MBAR`` and only where no barometer is at hand.
    """
    if not -500.0 <= altitude_m <= 9000.0:
        outside = say(
            "{altitude_m} is outside {span}", altitude_m=METRE.number(altitude_m), span=METRE.span(-500, 9000)
        )
        raise ValueError(
            say("altitude: {outside}; enter the site's height in {metre}", outside=outside, metre=METRE.word)
        )
    geopotential = _EARTH_RADIUS_M * altitude_m / (_EARTH_RADIUS_M + altitude_m)
    exponent = _STANDARD_GRAVITY / (_LAPSE_K_PER_M * _AIR_GAS_CONSTANT)
    return float(STANDARD_PRESSURE_MBAR * (1.0 - _LAPSE_K_PER_M * geopotential / _STANDARD_TEMPERATURE_K) ** exponent)


COVERAGE = 2.0
"""Coverage factor of every expanded uncertainty, about 95 % (JCGM 100:2008, 6.2.2 and 6.3.3)."""

NORMAL_AIR_BAR = OXYGEN_IN_DRY_AIR * STANDARD_PRESSURE_MBAR / MBAR_PER_BAR
NORMAL_OXYGEN_BAR = STANDARD_PRESSURE_MBAR / MBAR_PER_BAR

_OF_THE_ROOM = frozenset(["air_po2", "oxygen_po2", "shared_u"])

_SQRT3 = 3.0**0.5
_SQRT12 = 12.0**0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Ambient:
    """Room and gas at both points, arrays that broadcast: mbar, degrees C, fractions of one; ``_u`` standard.

    air_humidity is that at the cell in the air point, oxygen_humidity that in the calibration gas (nought when dry).
    Pressure, with one barometer, is common to both points, and so is the thermometer's error.
    """

    pressure: Array
    pressure_u: Array
    temperature: Array
    temperature_u: Array
    oxygen_temperature: Array
    temperature_step_u: Array
    air_humidity: Array
    air_humidity_u: Array
    oxygen_humidity: Array
    oxygen_humidity_u: Array
    fraction: Array
    fraction_u: Array
    over_pressure: Array
    over_pressure_u: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What readers showed, arrays that broadcast, mV: zero is subtracted, zero_u is its standard uncertainty.

    gain_u is relative, compensation_u_per_k relative per kelvin between the points.
    """

    air: Array
    oxygen: Array
    zero: Array
    zero_u: Array
    resolution: Array
    repeatability: Array
    gain_u: Array
    compensation_u_per_k: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What the readings say, one element a cell and reader.

    Partial pressures in bar, sensitivities in mV/bar, linearity in percent, normalised readings in mV at 1013.25 mbar
    dry air and pure oxygen; expanded uncertainties in the same units. shared_u and own_u split the relative standard
    uncertainty of linearity into what all cells and readers of the session share and what is this reader's own; own_u
    includes zero_part_u, the handset's zero; air_own_expanded and oxygen_own_expanded are the reader's own parts in mV.
    Without output in air linearity is NaN, without output in oxygen it is nought; own_u is NaN in both.
    """

    air_po2: Array
    oxygen_po2: Array
    sensitivity_air: Array
    sensitivity_oxygen: Array
    linearity: Array
    linearity_expanded: Array
    shared_u: Array
    own_u: Array
    zero_part_u: Array
    air_normal: Array
    air_normal_expanded: Array
    air_own_expanded: Array
    oxygen_normal: Array
    oxygen_normal_expanded: Array
    oxygen_own_expanded: Array

    def of_head(self, head: int, shape: tuple[int, int]) -> "Figures":
        """The figures of one head out of many by its own shape, what room and gas give of it as single values."""
        own = (head, slice(shape[0]), slice(shape[1]))
        places = {name: (head, 0, 0) if name in _OF_THE_ROOM else own for name in Figures.__slots__}
        return Figures(**{name: getattr(self, name)[place] for name, place in places.items()})


def rectangular_u(half_width: float) -> float:
    """Standard uncertainty of a value known only to lie within ± half_width (JCGM 100:2008, 4.3.7)."""
    return half_width / _SQRT3


def measured_zero_u(resolution_mv: float, repeatability_mv: float) -> float:
    """Standard uncertainty of a zero reading taken once: rounding and repeatability, in mV (JCGM 100:2008, 4.3.7)."""
    return float(np.hypot(resolution_mv / _SQRT12, repeatability_mv))


def _root_sum(*parts: Array) -> Array:
    return np.asarray(np.sqrt(sum(part * part for part in parts)))


def _shared_parts(ambient: Ambient) -> tuple[Array, Array, Array]:
    """Relative standard uncertainties common to all readers: of linearity, of the air point, of the oxygen point.

    JCGM 100:2008, 5.2: pressure, thermometer and vapour formula act on both points, so their two sensitivity
    coefficients are subtracted for the ratio before squaring; humidity, gas and over-pressure act on one point only.
    """
    air_vapour, oxygen_vapour = (
        saturation_pressure_mbar(ambient.temperature),
        saturation_pressure_mbar(ambient.oxygen_temperature),
    )
    air_total = ambient.pressure - ambient.air_humidity * air_vapour
    oxygen_total = ambient.pressure + ambient.over_pressure - ambient.oxygen_humidity * oxygen_vapour
    of_pressure = (ambient.pressure_u / air_total, ambient.pressure_u / oxygen_total)
    of_temperature = (
        -ambient.air_humidity * saturation_slope_mbar_per_k(ambient.temperature) * ambient.temperature_u / air_total,
        -ambient.oxygen_humidity
        * saturation_slope_mbar_per_k(ambient.oxygen_temperature)
        * ambient.temperature_u
        / oxygen_total,
    )
    of_formula = (
        -ambient.air_humidity * air_vapour * SATURATION_RELATIVE_U / air_total,
        -ambient.oxygen_humidity * oxygen_vapour * SATURATION_RELATIVE_U / oxygen_total,
    )
    both = (of_pressure, of_temperature, of_formula)
    of_air = air_vapour * ambient.air_humidity_u / air_total
    of_oxygen = _root_sum(
        oxygen_vapour * ambient.oxygen_humidity_u / oxygen_total,
        ambient.fraction_u / ambient.fraction,
        ambient.over_pressure_u / oxygen_total,
    )
    ratio = _root_sum(of_air, of_oxygen, *(air - oxygen for air, oxygen in both))
    air_point = _root_sum(of_air, *(air for air, _ in both))
    oxygen_point = _root_sum(of_oxygen, *(oxygen for _, oxygen in both))
    return ratio, air_point, oxygen_point


def figures(ambient: Ambient, shown: Shown) -> Figures:
    """Linearity, sensitivities and normalised readings with their uncertainty, elementwise over broadcast arrays.

    Linearity is (mV / pO2 in oxygen) / (mV / pO2 in air). The zero offset of a reader moves both points alike, so its
    relative effect on linearity is u0 * (1/V_air - 1/V_oxygen); rounding is resolution / sqrt(12) at each point and
    is not divided by repeats (JCGM 100:2008, 4.3.7, 5.2.2, F.2.2.1).
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        air_po2 = air_po2_bar(ambient.pressure, ambient.temperature, ambient.air_humidity)
        vapour = ambient.oxygen_humidity * saturation_pressure_mbar(ambient.oxygen_temperature)
        oxygen_po2 = gas_po2_bar(ambient.fraction, ambient.pressure, ambient.over_pressure, vapour)
        air, oxygen = np.maximum(shown.air - shown.zero, 0.0), np.maximum(shown.oxygen - shown.zero, 0.0)
        digit = _root_sum(shown.resolution / _SQRT12, shown.repeatability)
        shared, air_shared, oxygen_shared = _shared_parts(ambient)
        gives = (air > 0.0) & (oxygen > 0.0)
        zero_part = np.where(gives, shown.zero_u * np.abs(1.0 / air - 1.0 / oxygen), np.nan)
        step = np.hypot(ambient.oxygen_temperature - ambient.temperature, ambient.temperature_step_u)
        own = _root_sum(zero_part, digit / air, digit / oxygen, shown.compensation_u_per_k * step)
        own = np.where(gives, own, np.nan)
        sensitivity_air, sensitivity_oxygen = air / air_po2, oxygen / oxygen_po2
        linearity = np.where(air > 0.0, 100.0 * sensitivity_oxygen / sensitivity_air, np.nan)
        expanded = COVERAGE * linearity * np.hypot(shared, own)
        # No output in oxygen is a linearity of nought beyond doubt, where the relative form would give 0 * infinity.
        expanded = np.where(oxygen > 0.0, expanded, np.where(np.isnan(linearity), np.nan, 0.0))
        air_normal, oxygen_normal = sensitivity_air * NORMAL_AIR_BAR, sensitivity_oxygen * NORMAL_OXYGEN_BAR
        in_mv = np.hypot(digit, shown.zero_u)
        air_own = np.hypot(in_mv * NORMAL_AIR_BAR / air_po2, air_normal * shown.gain_u)
        oxygen_own = np.hypot(in_mv * NORMAL_OXYGEN_BAR / oxygen_po2, oxygen_normal * shown.gain_u)
        return Figures(
            air_po2=air_po2,
            oxygen_po2=oxygen_po2,
            sensitivity_air=sensitivity_air,
            sensitivity_oxygen=sensitivity_oxygen,
            linearity=linearity,
            linearity_expanded=expanded,
            shared_u=shared,
            own_u=own,
            zero_part_u=zero_part,
            air_normal=air_normal,
            air_normal_expanded=COVERAGE * np.hypot(air_own, air_normal * air_shared),
            air_own_expanded=COVERAGE * air_own,
            oxygen_normal=oxygen_normal,
            oxygen_normal_expanded=COVERAGE * np.hypot(oxygen_own, oxygen_normal * oxygen_shared),
            oxygen_own_expanded=COVERAGE * oxygen_own,
        )


Codes = NDArray[np.int8]


class Standing(IntEnum):
    """Where a value with its interval stands to a pair of limits."""

    INSIDE = 0
    ACROSS = 1
    ABOVE = 2
    BELOW = 3
    UNKNOWN = 4


_VERDICTS = tuple(Verdict)
PASS, WATCH, REPEAT, REJECT = (verdict.severity for verdict in Verdict)

LADDER = np.array(
    [
        # first, second, third and later visit; common practice, no published source
        [PASS, PASS, PASS],
        [REPEAT, WATCH, REJECT],
        [REPEAT, REJECT, REJECT],
        [REJECT, REJECT, REJECT],
        [REPEAT, REPEAT, REPEAT],
    ],
    dtype=np.int8,
)
"""Severity by standing (row) and by how many consecutive visits before ended with the same standing (column)."""


def standing(value: ArrayLike, expanded: ArrayLike, low: ArrayLike, high: ArrayLike = np.inf) -> Codes:
    """Standing of value ± expanded against limits: inside only if the whole interval is (JCGM 106:2012, 8.3.2).

    A value itself under the lower limit stands below and one over the upper limit above, whatever its interval; a value
    inside whose interval crosses a limit stands across; a value or interval that is not a number is unknown.
    """
    v, u, lo, hi = (np.asarray(a, dtype=float) for a in (value, expanded, low, high))
    whole = (v - u >= lo) & (v + u <= hi)
    code = np.where(whole, Standing.INSIDE, Standing.ACROSS)
    code = np.where(v > hi, Standing.ABOVE, code)
    code = np.where(v < lo, Standing.BELOW, code)
    return np.asarray(np.where(np.isnan(v) | np.isnan(u), Standing.UNKNOWN, code), dtype=np.int8)


def by_ladder(standings: ArrayLike, undecided_before: ArrayLike = 0, above_before: ArrayLike = 0) -> Codes:
    """Severity of each standing: undecided first repeats, then watches, then rejects; above repeats, then rejects."""
    codes = np.asarray(standings, dtype=np.int8)
    visits = np.where(codes == Standing.ABOVE, np.asarray(above_before), np.asarray(undecided_before))
    return np.asarray(LADDER[codes, np.minimum(np.maximum(visits, 0), 2)], dtype=np.int8)


def floor_severity(standings: ArrayLike, makers_floor: ArrayLike, undecided_before: ArrayLike = 0) -> Codes:
    """Severity against the floor in oxygen: a maker's floor guards like any limit, a common-practice one only watches.

    Under the default floor a linear cell is weak, not faulty: common practice, no published source.
    """
    codes = np.asarray(standings, dtype=np.int8)
    strict = by_ladder(codes, undecided_before)
    lenient = np.where(codes == Standing.INSIDE, PASS, np.where(codes == Standing.UNKNOWN, REPEAT, WATCH))
    return np.asarray(np.where(np.asarray(makers_floor, dtype=bool), strict, lenient), dtype=np.int8)


def can_never_decide(expanded: ArrayLike, low: ArrayLike, high: ArrayLike) -> NDArray[np.bool_]:
    """Whether an interval is so wide that no value at all could lie inside the limits with it."""
    wide = 2.0 * np.asarray(expanded, dtype=float) > np.asarray(high, dtype=float) - np.asarray(low, dtype=float)
    return np.asarray(wide, dtype=bool)


def margin(value: float, expanded: float, low: float, high: float) -> float:
    """Distance of the interval's nearer end to its limit, in the value's unit: negative where the interval crosses."""
    return min(value - expanded - low, high - value - expanded)


def verdict_of(severity: int) -> Verdict:
    """The word for a severity from 0 (pass) to 3 (reject)."""
    return _VERDICTS[severity]
