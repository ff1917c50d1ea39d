"""Oxygen partial pressure of room air and of calibration gas, and the ambient pressure they follow from.

Pressures in mbar, partial pressures in bar, temperatures in degrees C, humidity and gas as fractions of one. Every
function takes numbers or numpy arrays that broadcast, and gives a float64 array (0-d for numbers).
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleetbench.calc.core.languages import say
from fleetbench.calc.core.measures import METRE

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
