"""Gas at depth against published operating depths and densities."""

import math

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from fleetbench.calc.core.verdict import Result
from fleetbench.calc.gas.depth import (
    DepthLimit,
    ambient_bar,
    breathable_at_surface,
    density_at_depth_g_l,
    density_result,
    depth_limit,
    depth_of_density_m,
    diluent_flush,
    equivalent_air_depth_m,
    equivalent_narcotic_depth_m,
    loop_mixture,
    maximum_operating_depth_ft,
    maximum_operating_depth_m,
    open_circuit_use_l_min,
    oxygen_pressure_bar,
)
from fleetbench.calc.gas.real import AIR, Mixture


@pytest.mark.parametrize(
    ("oxygen", "limit", "feet", "metres"),
    [
        # depth = (pO2/fO2 - 1) * 33 fsw or * 10 msw; feet rounded down as published: 111, 95, 187 and 13.
        (0.32, 1.4, 111.375, 33.750), (0.32, 1.6, 132.0, 40.0), (0.36, 1.4, 95.333, 28.889),
        (0.21, 1.4, 187.0, 56.667), (1.0, 1.4, 13.2, 4.0), (1.0, 1.6, 19.8, 6.0),
    ],
)  # fmt: skip
def test_operating_depths_are_the_published_ones(oxygen, limit, feet, metres):
    assert maximum_operating_depth_ft(oxygen, limit) == pytest.approx(feet, abs=5e-4)
    assert maximum_operating_depth_m(oxygen, limit) == pytest.approx(metres, abs=5e-4)


def test_a_gas_over_the_limit_at_the_surface_has_no_operating_depth():
    with pytest.raises(ValueError, match=r"^oxygen: .*at the surface"):
        maximum_operating_depth_m(1.0, 0.9)


@given(oxygen=st.floats(0.05, 1.0), limit=st.floats(1.1, 1.6))
def test_at_the_operating_depth_the_oxygen_pressure_is_the_limit(oxygen, limit):
    depth = maximum_operating_depth_m(oxygen, limit)
    assert oxygen * (1.0 + depth / 10.0) == pytest.approx(limit)


@pytest.mark.parametrize(("density", "depth"), [(5.2, 30.7), (6.2, 38.6)])
def test_air_reaches_the_density_limits_at_the_depths_that_0_c_gives(density, depth):
    # Air is 1.2762 g/L a bar at 0 C (CoolProp); limits of Anthony and Mitchell 2016 from memory.
    assert density_at_depth_g_l(AIR, depth) == pytest.approx(density, abs=0.03)


@pytest.mark.parametrize(("celsius", "low", "high"), [(0.0, 6.352, 6.396), (20.0, 5.918, 5.953)])
def test_air_at_40_metres_lies_in_the_printed_range(celsius, low, high):
    # Computed with CoolProp for 5 bar, ideal and real; tolerance for argon taken as nitrogen.
    assert low - 0.02 < density_at_depth_g_l(AIR, 40.0, celsius) < high + 0.02


@pytest.mark.parametrize("depth", [0.0, 30.0, 60.0, 100.0])
def test_a_helium_mixture_is_as_dense_as_coolprop_says(depth):
    bar = 1.0 + depth / 10.0
    fluid = "HEOS::Oxygen[0.18]&Helium[0.45]&Nitrogen[0.37]"
    expected = PropsSI("D", "T|gas", 273.15, "P", bar * 1e5, fluid)
    assert density_at_depth_g_l(Mixture(0.18, 0.45), depth) == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize(("density", "result"), [(5.2, "ok"), (5.21, "advise"), (6.2, "advise"), (6.21, "stop")])
def test_density_advises_above_the_lower_figure_and_stops_above_the_higher(density, result):
    assert density_result(density) is Result(result)


@pytest.mark.parametrize(("oxygen", "expected"), [(0.16, True), (0.159, False), (0.21, True), (0.0, False)])
def test_under_16_percent_oxygen_is_not_breathable_at_the_surface(oxygen, expected):
    # Common practice, no published source.
    assert breathable_at_surface(oxygen) is expected


@pytest.mark.parametrize(("oxygen", "helium"), [(0.21, 0.0), (0.32, 0.0), (0.18, 0.45), (0.10, 0.70)])
@pytest.mark.parametrize("limit", [5.2, 6.2])
def test_the_depth_of_a_density_is_where_coolprop_finds_that_density(oxygen, helium, limit):
    # CoolProp 8, HEOS mixture of oxygen, helium and nitrogen at 273.15 K; the two limits from memory.
    depth = depth_of_density_m(Mixture(oxygen, helium), limit)
    shares = {"Oxygen": oxygen, "Helium": helium, "Nitrogen": 1.0 - oxygen - helium}
    name = "HEOS::" + "&".join(f"{gas}[{share}]" for gas, share in shares.items() if share > 0.0)
    density = PropsSI("D", "T", 273.15, "P", (1.0 + depth / 10.0) * 1e5, name)
    assert density == pytest.approx(limit, rel=0.01)


def test_air_reaches_the_density_limits_near_thirty_and_forty_metres():
    # Ideal dry air is 1.293 g/L at 0 C and 1.01325 bar (handbook value), so 1.276 g/L a bar: 5.2 g/L at 30.7 m.
    assert depth_of_density_m(AIR, 5.2) == pytest.approx(30.6, abs=0.4)
    assert depth_of_density_m(AIR, 6.2) == pytest.approx(38.4, abs=0.4)
    assert depth_of_density_m(Mixture(0.0, 1.0), 6.2) is None


def test_equivalent_air_depth_is_that_of_the_nitrogen():
    # (D + 33) * fN2/0.79 - 33 (US Navy working fraction of 79 % nitrogen), here in metres: 32 % at 30 m.
    assert equivalent_air_depth_m(Mixture(0.32), 30.0) == pytest.approx(40.0 * 0.68 / 0.79 - 10.0)
    assert equivalent_air_depth_m(Mixture(0.21), 30.0) == pytest.approx(30.0)
    assert equivalent_air_depth_m(Mixture(1.0), 5.0) == 0.0


def test_equivalent_narcotic_depth_counts_oxygen_like_nitrogen():
    # Common practice, no published source.
    assert equivalent_narcotic_depth_m(Mixture(0.18, 0.45), 60.0) == pytest.approx(70.0 * 0.55 - 10.0)
    assert equivalent_narcotic_depth_m(AIR, 42.0) == pytest.approx(42.0)


@pytest.mark.parametrize(
    ("oxygen", "depth", "result"),
    [(0.21, 30, "ok"), (0.21, 45, "advise"), (0.21, 50, "advise"), (0.40, 30, "stop"), (0.10, 60, "ok")],
)
def test_a_flush_with_a_diluent_near_or_over_the_set_point_is_advised_against(oxygen, depth, result):
    # Common practice, no published source: set-point 1.2 bar, limit 1.4 bar.
    found = diluent_flush(Mixture(oxygen), depth_m=depth, set_point_bar=1.2, limit_bar=1.4)
    assert found.result is Result(result)
    assert found.diluent_bar == pytest.approx(oxygen * (1.0 + depth / 10.0))


@given(oxygen=st.floats(0.05, 0.5), helium=st.floats(0, 0.5), depth=st.floats(0, 100), set_point=st.floats(0.4, 1.6))
def test_the_loop_holds_the_set_point_and_keeps_the_diluents_inert_ratio(oxygen, helium, depth, set_point):
    diluent = Mixture(oxygen, helium)
    loop = loop_mixture(diluent, set_point, depth)
    pressure = oxygen_pressure_bar(loop, depth)
    assert pressure == pytest.approx(max(min(set_point, ambient_bar(depth)), oxygen * ambient_bar(depth)))
    assert loop.helium * diluent.nitrogen == pytest.approx(loop.nitrogen * diluent.helium, abs=1e-9)


def test_open_circuit_use_follows_depth():
    # US Navy Diving Manual p. 7-14: C = (D + 33)/33 * RMV; 300 fsw is 10.09 atmospheres, 1.4 scfm give 14.13 scfm.
    assert open_circuit_use_l_min(1.4, 300.0 / 33.0 * 10.0) == pytest.approx(14.13, abs=0.005)


@pytest.mark.parametrize(
    ("make", "field"),
    [
        (lambda: ambient_bar(-1.0), "depth_m"),
        (lambda: ambient_bar(math.nan), "depth_m"),
        (lambda: ambient_bar(10.0, 1013.0), "surface_bar"),
        (lambda: maximum_operating_depth_m(0.0, 1.4), "oxygen"),
        (lambda: maximum_operating_depth_m(32.0, 1.4), "oxygen"),
        (lambda: maximum_operating_depth_m(0.32, math.inf), "limit_bar"),
        (lambda: diluent_flush(AIR, depth_m=30, set_point_bar=12.0, limit_bar=1.4), "set_point_bar"),
        (lambda: density_result(math.nan), "density"),
        (lambda: depth_of_density_m(AIR, math.nan), "limit_g_l"),
        (lambda: open_circuit_use_l_min(0.0, 10.0), "breathing_l_min"),
        (lambda: equivalent_air_depth_m(AIR, 1e9), "depth_m"),
    ],
)
def test_bad_input_is_refused_with_its_field(make, field):
    with pytest.raises(ValueError, match=rf"^{field}:"):
        make()


@pytest.mark.parametrize(
    ("oxygen", "density", "depth", "by_density"),
    [(46.0, 30.4, 30.4, True), (28.0, 30.4, 28.0, False), (30.4, 30.4, 30.4, False), (6.0, None, 6.0, False)],
)
def test_the_smaller_of_the_two_depths_limits_a_gas(oxygen, density, depth, by_density):
    """That the smaller counts: common practice, no published source."""
    assert depth_limit(oxygen, density) == DepthLimit(depth, by_density)


def test_a_gas_that_was_not_analysed_has_no_depth_whatever_its_density_would_allow():
    assert depth_limit(None, 30.0) is None
