"""Linearity and normalised readings with their uncertainty, combined by JCGM 100:2008, for one or for millions at once.

Everything is a numpy array that broadcasts; the judgement of one head and the simulation of many use the same code.
Uncertainties named ``_u`` are standard, ``expanded`` are with k = 2. Relative quantities are fractions of the value.
"""

from dataclasses import dataclass

import numpy as np

from fleetbench.calc.cells.atmosphere import (
    MBAR_PER_BAR,
    OXYGEN_IN_DRY_AIR,
    SATURATION_RELATIVE_U,
    STANDARD_PRESSURE_MBAR,
    Array,
    air_po2_bar,
    gas_po2_bar,
    saturation_pressure_mbar,
    saturation_slope_mbar_per_k,
)

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
