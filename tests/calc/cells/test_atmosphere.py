"""Oxygen pressures of air and gas against ISO 2533, WMO-No. 8, IAPWS and CIPM-2007 values."""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from iapws import iapws97

from fleetbench.calc.cells.uncertainty import (
    OXYGEN_IN_DRY_AIR,
    SATURATION_RELATIVE_U,
    air_po2_bar,
    gas_po2_bar,
    pressure_at_altitude_mbar,
    saturation_pressure_mbar,
    saturation_slope_mbar_per_k,
)


def test_oxygen_fraction_of_dry_air_is_that_of_cipm_2007() -> None:
    # Picard, Davis, Gläser and Fujii, Metrologia 45 (2008) 149, second-hand.
    assert OXYGEN_IN_DRY_AIR == 0.20939


@pytest.mark.parametrize(
    ("celsius", "pascal"),
    # WMO-No. 8 (2008), annex 4.B, computed from its formula.
    [(0, 611.200), (10, 1226.030), (20, 2332.596), (30, 4233.724), (37, 6265.314), (40, 7367.458)],
)
def test_saturation_pressure_is_that_of_the_wmo_guide(celsius: float, pascal: float) -> None:
    assert float(saturation_pressure_mbar(celsius)) == pytest.approx(pascal / 100, rel=1e-6)


@pytest.mark.parametrize("celsius", range(1, 41, 3))
def test_saturation_pressure_agrees_with_iapws_95_and_if97_within_its_stated_uncertainty(celsius: int) -> None:
    ours = float(saturation_pressure_mbar(celsius)) * 100
    kelvin = celsius + 273.15
    # IAPWS-95 through CoolProp, IAPWS-IF97 (2007) region 4 through iapws.
    for reference in (PropsSI("P", "T", kelvin, "Q", 0, "Water"), iapws97._PSat_T(kelvin) * 1e6):
        assert ours == pytest.approx(reference, rel=0.0035)
        assert abs(ours / reference - 1) <= 2 * SATURATION_RELATIVE_U


def test_slope_of_saturation_pressure_is_its_difference_quotient() -> None:
    t = np.linspace(0.0, 40.0, 9)
    quotient = (saturation_pressure_mbar(t + 1e-4) - saturation_pressure_mbar(t - 1e-4)) / 2e-4
    assert saturation_slope_mbar_per_k(t) == pytest.approx(quotient, rel=1e-6)


@pytest.mark.parametrize(
    ("altitude_m", "pascal"),
    # ISO 2533:1975 by geometric height, computed by the library ambiance 1.3.1; 1000, 2000 and 3000 m as ISO prints
    # them in hPa (898.763, 795.014, 701.212; from memory).
    [(0, 101325.00), (250, 98357.65), (500, 95461.29), (1000, 89876.28), (2000, 79501.41), (3000, 70121.14)],
)
def test_pressure_at_altitude_is_that_of_iso_2533(altitude_m: float, pascal: float) -> None:
    assert pressure_at_altitude_mbar(altitude_m) * 100 == pytest.approx(pascal, abs=0.02)


def test_altitude_outside_the_inhabited_range_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="altitude"):
        pressure_at_altitude_mbar(20_000.0)
    with pytest.raises(ValueError, match="altitude"):
        pressure_at_altitude_mbar(float("nan"))


@pytest.mark.parametrize(
    ("celsius", "air_bar", "oxygen_bar"),
    # 0.20939 * (1.01325 - es) and 1.01325 - es with WMO-No. 8, computed by hand.
    [(20, 0.20728, 0.98992), (25, 0.20555, 0.98165), (30, 0.20330, 0.97091), (35, 0.20041, 0.95712)],
)
def test_saturated_air_and_oxygen_hold_less_oxygen(celsius: float, air_bar: float, oxygen_bar: float) -> None:
    assert float(air_po2_bar(1013.25, celsius, 1.0)) == pytest.approx(air_bar, abs=6e-6)
    vapour = saturation_pressure_mbar(celsius)
    assert float(gas_po2_bar(1.0, 1013.25, 0.0, vapour)) == pytest.approx(oxygen_bar, abs=6e-6)


def test_dry_air_at_sea_level_holds_0_21216_bar_of_oxygen() -> None:
    assert float(air_po2_bar(1013.25, 20.0, 0.0)) == pytest.approx(0.212164, abs=1e-6)


def test_ignoring_vapour_at_30_degrees_saturated_assumes_over_four_per_cent_too_much() -> None:
    ratio = float(air_po2_bar(1013.25, 30.0, 0.0) / air_po2_bar(1013.25, 30.0, 1.0))
    assert 100 * (ratio - 1) == pytest.approx(4.36, abs=0.005)


def test_over_pressure_adds_to_the_oxygen_point() -> None:
    assert float(gas_po2_bar(0.995, 1000.0, 30.0)) == pytest.approx(0.995 * 1.030)
