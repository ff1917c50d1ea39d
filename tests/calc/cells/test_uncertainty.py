"""Uncertainty of linearity and mV against the package uncertainties and a Monte Carlo, both written anew here."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from uncertainties import ufloat, umath

from fleetbench.calc.cells.uncertainty import (
    Ambient,
    Figures,
    Shown,
    figures,
    measured_zero_u,
    rectangular_u,
)

ROOM = {
    "pressure": 1005.0,
    "pressure_u": 1.5,
    "temperature": 24.0,
    "temperature_u": 0.6,
    "oxygen_temperature": 24.8,
    "temperature_step_u": 0.3,
    "air_humidity": 0.55,
    "air_humidity_u": 0.04,
    "oxygen_humidity": 0.20,
    "oxygen_humidity_u": 0.05,
    "fraction": 0.992,
    "fraction_u": 0.004,
    "over_pressure": 12.0,
    "over_pressure_u": 2.0,
}
READING = {
    "air": 10.3,
    "oxygen": 48.1,
    "zero": 0.05,
    "zero_u": 0.06,
    "resolution": 0.1,
    "repeatability": 0.03,
    "gain_u": 0.004,
    "compensation_u_per_k": 0.002,
}


def ambient(**change: float) -> Ambient:
    """A room, invented, with changes."""
    return Ambient(**{name: np.asarray(value) for name, value in (ROOM | change).items()})


def shown(**change: float) -> Shown:
    """A reading, invented, with changes."""
    return Shown(**{name: np.asarray(value) for name, value in (READING | change).items()})


def by_package(room: dict[str, float], reading: dict[str, float]):
    """Linearity in percent and normalised mV by first-order propagation of the package ``uncertainties``.

    Variables shared by both points (pressure, thermometer, vapour formula, zero, gain) are the same objects, so the
    package keeps their correlation by itself.
    """
    p = ufloat(room["pressure"], room["pressure_u"])
    thermometer = ufloat(0.0, room["temperature_u"])
    vapour_scale = ufloat(1.0, 0.002)

    def es(celsius: float):
        t = celsius + thermometer
        return vapour_scale * 6.112 * umath.exp(17.62 * t / (243.12 + t))

    po2_air = 0.20939 * (p - ufloat(room["air_humidity"], room["air_humidity_u"]) * es(room["temperature"])) / 1000
    wet = ufloat(room["oxygen_humidity"], room["oxygen_humidity_u"]) * es(room["oxygen_temperature"])
    over = ufloat(room["over_pressure"], room["over_pressure_u"])
    po2_oxygen = ufloat(room["fraction"], room["fraction_u"]) * (p + over - wet) / 1000
    zero = ufloat(reading["zero"], reading["zero_u"])
    digit = reading["resolution"] / 12**0.5
    air = ufloat(reading["air"], np.hypot(digit, reading["repeatability"])) - zero
    oxygen = ufloat(reading["oxygen"], np.hypot(digit, reading["repeatability"])) - zero
    step = np.hypot(room["oxygen_temperature"] - room["temperature"], room["temperature_step_u"])
    residual = ufloat(1.0, reading["compensation_u_per_k"] * step)
    gain = ufloat(1.0, reading["gain_u"])
    linearity = 100 * residual * (oxygen / po2_oxygen) / (air / po2_air)
    air_normal = gain * air / po2_air * 0.20939 * 1.01325
    oxygen_normal = gain * oxygen / po2_oxygen * 1.01325
    return linearity, air_normal, oxygen_normal


@settings(max_examples=40)
@given(
    st.floats(700, 1050),
    st.floats(2, 38),
    st.floats(0.0, 1.0),
    st.floats(7.0, 13.0),
    st.floats(0.90, 1.08),
    st.floats(0.001, 0.15),
)
def test_first_order_uncertainty_is_that_of_the_package(p, t, humidity, air, ratio, zero_u) -> None:
    room = ROOM | {"pressure": p, "temperature": t, "oxygen_temperature": t + 0.5, "air_humidity": humidity}
    reading = READING | {"air": air, "oxygen": 4.7 * air * ratio, "zero_u": zero_u}
    ours = figures(
        Ambient(**{name: np.asarray(value) for name, value in room.items()}),
        Shown(**{name: np.asarray(value) for name, value in reading.items()}),
    )
    linearity, air_normal, oxygen_normal = by_package(room, reading)
    for value, expanded, reference in (
        (ours.linearity, ours.linearity_expanded, linearity),
        (ours.air_normal, ours.air_normal_expanded, air_normal),
        (ours.oxygen_normal, ours.oxygen_normal_expanded, oxygen_normal),
    ):
        assert float(value) == pytest.approx(reference.nominal_value, rel=1e-9)
        assert float(expanded) == pytest.approx(2 * reference.std_dev, rel=1e-6)


def test_interval_covers_95_per_cent_of_a_monte_carlo() -> None:
    # JCGM 101:2008: distributions propagated, rectangular where a half width is all that is known.
    rng = np.random.default_rng(101)
    n = 200_000

    def normal(name: str) -> np.ndarray:
        return rng.normal(ROOM[name], ROOM[f"{name}_u"], n)

    t_error = rng.normal(0, ROOM["temperature_u"], n)

    def es(celsius: float) -> np.ndarray:
        t = celsius + t_error
        return 6.112 * np.exp(17.62 * t / (243.12 + t))

    p = normal("pressure")
    po2_air = 0.20939 * (p - normal("air_humidity") * es(ROOM["temperature"]))
    wet = normal("oxygen_humidity") * es(ROOM["oxygen_temperature"])
    po2_oxygen = normal("fraction") * (p + normal("over_pressure") - wet)
    half = READING["zero_u"] * 3**0.5
    zero = READING["zero"] + rng.uniform(-half, half, n)

    def reading(name: str) -> np.ndarray:
        noise = rng.normal(0, READING["repeatability"], n)
        return READING[name] + rng.uniform(-0.05, 0.05, n) + noise - zero

    step = np.hypot(0.8, ROOM["temperature_step_u"])
    residual = 1 + rng.normal(0, READING["compensation_u_per_k"] * step, n)
    draws = 100 * residual * reading("oxygen") / po2_oxygen / (reading("air") / po2_air)
    ours = figures(ambient(), shown())
    value, expanded = float(ours.linearity), float(ours.linearity_expanded)
    assert value == pytest.approx(draws.mean(), abs=0.02)
    assert expanded == pytest.approx(2 * draws.std(), rel=0.02)
    assert np.mean(np.abs(draws - value) <= expanded) == pytest.approx(0.955, abs=0.01)


def test_pressure_common_to_both_points_largely_cancels() -> None:
    quiet = figures(ambient(pressure_u=0.0), shown())
    rough = figures(ambient(pressure_u=15.0), shown())
    assert float(rough.linearity_expanded) < 1.02 * float(quiet.linearity_expanded)
    assert float(rough.oxygen_normal_expanded) > 1.5 * float(quiet.oxygen_normal_expanded)


def test_a_zero_of_0_1_mv_moves_linearity_by_0_8_per_cent() -> None:
    # 0.1 * (1/10 - 1/48): common practice, no published source for the 0.1 mV.
    moved = figures(ambient(), shown(air=10.0, oxygen=48.0, zero=0.1)).linearity
    still = figures(ambient(), shown(air=10.0, oxygen=48.0, zero=0.0)).linearity
    assert 100 * (float(moved / still) - 1) == pytest.approx(0.8, abs=0.03)


def test_half_width_and_zero_reading_give_the_standard_uncertainties_of_jcgm_100() -> None:
    # JCGM 100:2008, 4.3.7: a / sqrt(3); a digit has half width resolution / 2.
    assert rectangular_u(0.1) == pytest.approx(0.1 / 3**0.5)
    assert measured_zero_u(0.1, 0.0) == pytest.approx(0.05 / 3**0.5)


@pytest.mark.parametrize(
    "name", ["pressure_u", "temperature_u", "air_humidity_u", "oxygen_humidity_u", "fraction_u", "over_pressure_u"]
)
def test_a_worse_instrument_never_narrows_the_interval(name: str) -> None:
    better, worse = figures(ambient(), shown()), figures(ambient(**{name: 2 * ROOM[name]}), shown())
    assert float(worse.linearity_expanded) >= float(better.linearity_expanded)


@pytest.mark.parametrize(("name", "sign"), [("oxygen", 1), ("air", -1)])
def test_linearity_moves_with_each_reading_as_it_should(name: str, sign: int) -> None:
    low, high = figures(ambient(), shown()), figures(ambient(), shown(**{name: READING[name] + 0.1}))
    assert sign * float(high.linearity - low.linearity) > 0


@pytest.mark.parametrize(
    ("name", "sign"), [("fraction", -1), ("over_pressure", -1), ("air_humidity", -1), ("oxygen_humidity", 1)]
)
def test_linearity_moves_with_each_condition_as_it_should(name: str, sign: int) -> None:
    step = {"fraction": -0.01, "over_pressure": 5.0, "air_humidity": 0.1, "oxygen_humidity": 0.1}[name]
    low, high = figures(ambient(), shown()), figures(ambient(**{name: ROOM[name] + step}), shown())
    assert sign * np.sign(step) * float(high.linearity - low.linearity) > 0


def test_normalised_reading_is_the_same_at_altitude_and_at_sea_level() -> None:
    # 47.133 mV/bar: 10.00 mV in dry air at 1013.25 mbar (10.00 / 0.212164), 47.758 mV in dry oxygen.
    for pressure in (780.0, 1013.25):
        dry = ambient(pressure=pressure, air_humidity=0.0, oxygen_humidity=0.0, fraction=1.0, over_pressure=0.0)
        air, oxygen = 47.133 * 0.20939 * pressure / 1000, 47.133 * pressure / 1000
        found = figures(dry, shown(air=air, oxygen=oxygen, zero=0.0))
        assert float(found.air_normal) == pytest.approx(10.00, abs=1e-3)
        assert float(found.oxygen_normal) == pytest.approx(47.758, abs=1e-3)
        assert float(found.linearity) == pytest.approx(100.0)


def test_many_cells_at_once_give_the_same_as_one_at_a_time() -> None:
    air, oxygen = np.array([9.1, 10.3, 12.2]), np.array([42.0, 48.1, 57.5])
    together: Figures = figures(ambient(), replace(shown(), air=air, oxygen=oxygen))
    for place in range(3):
        alone = figures(ambient(), shown(air=air[place], oxygen=oxygen[place]))
        assert float(together.linearity[place]) == float(alone.linearity)
        assert float(together.linearity_expanded[place]) == float(alone.linearity_expanded)


def test_no_output_in_air_has_no_linearity_and_none_in_oxygen_has_nought() -> None:
    assert np.isnan(figures(ambient(), shown(air=0.0)).linearity)
    dead = figures(ambient(), shown(oxygen=0.0))
    assert float(dead.linearity) == 0.0
    assert float(dead.linearity_expanded) == 0.0
