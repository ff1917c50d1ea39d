"""Choked flow against tables, CoolProp and public-law worked examples; lock-up against invented regulators."""

import math

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from fleetbench.calc.bench.flow import (
    LockUp,
    LockUpLimit,
    PressureReading,
    RatedInjector,
    check_injector,
    check_lock_up,
    check_pulses,
    choked_depth,
    choked_mass_flow_kg_s,
    critical_flow_factor,
    critical_ratio,
    expected_l_min,
    free_flow_l_min,
    heat_capacity_ratio,
)
from fleetbench.calc.core.verdict import Verdict
from fleetbench.calc.gas.real import FREE_15_C, FREE_20_C, OXYGEN, STPD, Mixture

PASS, REPEAT, REJECT = Verdict.PASS, Verdict.REPEAT, Verdict.REJECT


@pytest.mark.parametrize(
    ("ratio", "factor", "pressure_ratio"),
    [
        # Isentropic relations for an ideal gas, computed from the closed form; 0.528 for air is the textbook value.
        (1.4, 0.684731, 0.528282), (1.395, 0.683886, 0.529125), (1.667, 0.726232, 0.487092),
        (1.289, 0.665267, 0.547724),
    ],
)  # fmt: skip
def test_critical_ratio_and_flow_factor_are_those_of_the_tables(ratio, factor, pressure_ratio):
    assert critical_flow_factor(ratio) == pytest.approx(factor, abs=5e-7)
    assert critical_ratio(ratio) == pytest.approx(pressure_ratio, abs=5e-7)


def real_gas_choked_flux(bar: float, kelvin: float) -> tuple[float, float]:
    """Mass flux in kg/(m2 s) and p*/p0 of real oxygen by CoolProp, where isentropic flow reaches sound speed."""
    entropy = PropsSI("S", "P", bar * 1e5, "T", kelvin, "Oxygen")
    enthalpy = PropsSI("H", "P", bar * 1e5, "T", kelvin, "Oxygen")

    def excess(pressure):
        drop = enthalpy - PropsSI("H", "P", pressure, "S", entropy, "Oxygen")
        return math.sqrt(2.0 * drop) - PropsSI("A", "P", pressure, "S", entropy, "Oxygen")

    throat = brentq(excess, 0.4 * bar * 1e5, 0.7 * bar * 1e5)
    flux = PropsSI("D", "P", throat, "S", entropy, "Oxygen") * PropsSI("A", "P", throat, "S", entropy, "Oxygen")
    return flux, throat / (bar * 1e5)


# The ideal gas lies 0.45 % under the real one at 10 bar and 20 C; cold and pressure widen that a little.
@pytest.mark.parametrize(
    ("bar", "celsius", "within"), [(5.0, 20.0, 5e-3), (10.0, 20.0, 5e-3), (11.0, 30.0, 5e-3), (10.0, 5.0, 6e-3)]
)
def test_choked_oxygen_flow_stays_just_under_that_of_the_real_gas(bar, celsius, within):
    flux, ratio = real_gas_choked_flux(bar, celsius + 273.15)
    expected = flux * math.pi / 4.0 * 1e-8
    ours = choked_mass_flow_kg_s(diameter_mm=0.1, discharge=1.0, upstream_bar=bar, temperature_c=celsius)
    assert expected * (1.0 - within) < ours < expected
    assert critical_ratio(heat_capacity_ratio(OXYGEN)) == pytest.approx(ratio, rel=5e-3)


@pytest.mark.parametrize(
    ("bar", "discharge", "celsius", "kilograms", "litres", "reference"),
    [
        # Computed independently from the closed form for oxygen, M 31.9988, 0.100 mm.
        (10.0, 1.0, 20.0, 1.948565e-5, 0.86391, FREE_15_C), (10.0, 1.0, 20.0, 1.948565e-5, 0.81894, STPD),
        (10.0, 1.0, 20.0, 1.948565e-5, 0.87890, FREE_20_C), (11.0, 0.9, 20.0, 1.929080e-5, 0.85527, FREE_15_C),
        (10.0, 1.0, 5.0, 2.000416e-5, 0.88690, FREE_15_C),
    ],
)  # fmt: skip
def test_an_oxygen_bore_flows_what_the_formula_says(bar, discharge, celsius, kilograms, litres, reference):
    flow = choked_mass_flow_kg_s(diameter_mm=0.1, discharge=discharge, upstream_bar=bar, temperature_c=celsius)
    assert flow == pytest.approx(kilograms, rel=1e-5)
    assert free_flow_l_min(flow, OXYGEN, reference) == pytest.approx(litres, rel=1e-4)


def test_the_molar_flow_law_is_that_of_40_cfr_1065_642():
    # 40 CFR 1065.642(c): Cd Cf At p/sqrt(Z M R T) = 33.690 mol/s with Cf 0.7219, At 0.00456 m2, 98836 Pa, 378.15 K,
    # M 28.7805 g/mol, R 8.314472. The same law with another factor: scale our flow by the two factors and masses. The
    # ideal factor sqrt(k) (2/(k+1))^((k+1)/(2(k-1))) is computed here for k = 1.4, so that a wrong one does not cancel.
    area_mm = 2000.0 * math.sqrt(0.00456 / math.pi)
    gas = Mixture(0.21)
    ours = choked_mass_flow_kg_s(diameter_mm=10.0, discharge=0.985, upstream_bar=10.0, temperature_c=20.0, mixture=gas)
    moles = ours / (gas.molar_mass_g_mol * 1e-3) * (area_mm / 10.0) ** 2 * 98836.0 / 1e6
    ideal_factor = math.sqrt(1.4) * (2.0 / 2.4) ** (2.4 / 0.8)
    moles *= 0.7219 / ideal_factor * math.sqrt(gas.molar_mass_g_mol / 28.7805 * 293.15 / 378.15)
    assert moles == pytest.approx(33.690, abs=0.005)


def test_heat_capacity_ratio_runs_from_two_atoms_to_one():
    assert heat_capacity_ratio(OXYGEN) == pytest.approx(1.4)
    assert heat_capacity_ratio(Mixture(0.0, 1.0)) == pytest.approx(5.0 / 3.0)


def test_a_blocked_first_stage_at_10_bar_chokes_down_to_about_42_metres():
    # Computed: choked to 5.2828 bar downstream, about 42.8 m with 1 bar at the surface.
    depth_m, words = choked_depth(upstream_bar=10.0, blocked_from_ambient=True, surface_bar=1.0)
    assert depth_m == pytest.approx(42.83, abs=0.01)
    assert "42 m" in words


@pytest.mark.parametrize(("blocked", "words"), [(False, "follows ambient"), (None, "does not say")])
def test_without_a_blocked_first_stage_there_is_no_such_depth(blocked, words):
    depth_m, said = choked_depth(upstream_bar=10.0, blocked_from_ambient=blocked)
    assert depth_m is None
    assert words in said


INJECTOR = RatedInjector(0.8, 10.0, 0.08, "invented for this test")


def test_expected_flow_follows_pressure_and_temperature():
    # Computed: 5 C gives sqrt(293.15/278.15) = 2.66 % more than 20 C.
    assert expected_l_min(INJECTOR, upstream_bar=11.0, temperature_c=20.0) == pytest.approx(0.88)
    assert expected_l_min(INJECTOR, upstream_bar=10.0, temperature_c=5.0) == pytest.approx(0.8 * 1.02661, rel=1e-4)


def test_expected_flow_of_another_gas_is_that_of_the_choked_formula():
    def by_formula(gas):
        mass = choked_mass_flow_kg_s(diameter_mm=0.1, discharge=1, upstream_bar=10, temperature_c=20, mixture=gas)
        return free_flow_l_min(mass, gas)

    other = Mixture(0.2, 0.6)
    scaled = expected_l_min(INJECTOR, upstream_bar=10.0, temperature_c=20.0, mixture=other) / 0.8
    assert scaled == pytest.approx(by_formula(other) / by_formula(OXYGEN))


@pytest.mark.parametrize(
    ("measured", "verdict"),
    [(0.80, PASS), (0.86, REPEAT), (0.87, REJECT), (0.74, REPEAT), (0.73, REJECT)],
)
def test_an_injector_is_judged_on_both_sides(measured, verdict):
    found = check_injector(INJECTOR, measured_l_min=measured, u_l_min=0.02, upstream_bar=10.0, temperature_c=20.0)
    assert found.verdict is verdict
    assert "invented for this test" in found.words


@pytest.mark.parametrize(("volume", "verdict"), [(500.0, PASS), (602.0, REJECT), (398.0, REJECT), (596.0, REPEAT)])
def test_a_solenoid_is_judged_by_gas_a_pulse(volume, verdict):
    found = check_pulses(volume_ml=volume, pulses=10, u_volume_ml=10.0, least_ml=40.0, most_ml=60.0)
    assert found == (volume / 10, verdict)


LIMIT = LockUpLimit(8.5, 10.5, "invented for this test")


def lock_up(bar_at, minutes=6.0, every=20.0, resolution=0.01):
    seconds = np.arange(0.0, minutes * 60.0 + 1.0, every)
    rounded = [round(bar_at(time / 60.0) / resolution) * resolution for time in seconds]
    rows = [PressureReading(time, bar) for time, bar in zip(seconds, rounded, strict=True)]
    return check_lock_up(rows, LIMIT, resolution_bar=resolution)


@pytest.mark.parametrize(
    ("bar_at", "state", "verdict"),
    [
        (lambda minutes: 9.5, LockUp.SETTLES, PASS),
        (lambda minutes: 9.7 - 0.3 * math.exp(-minutes / 0.4), LockUp.SETTLES, PASS),
        (lambda minutes: 9.3 + 0.1 * minutes, LockUp.CREEPS, REJECT),
        (lambda minutes: 9.5 - 0.1 * minutes, LockUp.FALLS, REJECT),
        (lambda minutes: 10.6, LockUp.SETTLES, REJECT),
        (lambda minutes: 8.4, LockUp.SETTLES, REJECT),
        (lambda minutes: 10.7 if minutes < 0.5 else 10.0, LockUp.SETTLES, REJECT),
    ],
)
def test_a_regulator_settles_creeps_or_falls_within_two_ended_limits(bar_at, state, verdict):
    found = lock_up(bar_at)
    assert (found.state, found.verdict) == (state, verdict)


def test_a_regulator_watched_too_short_is_not_passed():
    found = lock_up(lambda minutes: 9.5, minutes=3.0)
    assert (found.state, found.verdict) == (LockUp.TOO_SHORT, REPEAT)


def test_a_gauge_too_coarse_to_see_the_creep_cannot_pass_it():
    assert lock_up(lambda minutes: 9.5, resolution=0.5).verdict is REPEAT


@given(creep=st.floats(0.056, 0.14))
def test_a_creeping_regulator_is_always_found(creep):
    found = lock_up(lambda minutes: 9.0 + creep * minutes)
    assert (found.state, found.verdict) == (LockUp.CREEPS, REJECT)
    assert found.rate_bar_min == pytest.approx(creep, abs=0.005)


@pytest.mark.parametrize(
    ("make", "field"),
    [
        (lambda: critical_ratio(1.0), "ratio"),
        (
            lambda: choked_mass_flow_kg_s(diameter_mm=0.0, discharge=1, upstream_bar=10, temperature_c=20),
            "diameter_mm",
        ),
        (
            lambda: choked_mass_flow_kg_s(diameter_mm=0.1, discharge=1, upstream_bar=math.nan, temperature_c=20),
            "upstream_bar",
        ),
        (
            lambda: choked_mass_flow_kg_s(diameter_mm=0.1, discharge=1, upstream_bar=10, temperature_c=293.15),
            "temperature_c",
        ),
        (lambda: RatedInjector(0.8, 10000.0, 0.08, "x"), "rated_upstream_bar"),
        (lambda: expected_l_min(INJECTOR, upstream_bar=-1, temperature_c=20), "upstream_bar"),
        (
            lambda: check_injector(INJECTOR, measured_l_min=-1, u_l_min=0, upstream_bar=10, temperature_c=20),
            "measured_l_min",
        ),
        (lambda: check_pulses(volume_ml=1, pulses=0, u_volume_ml=0, least_ml=1, most_ml=2), "pulses"),
        (lambda: check_pulses(volume_ml=1, pulses=1, u_volume_ml=0, least_ml=2, most_ml=1), "least_ml"),
        (lambda: LockUpLimit(10.0, 9.0, "x"), "least_bar"),
        (lambda: check_lock_up([PressureReading(0, 9)] * 2, LIMIT, resolution_bar=0.1), "readings"),
        (lambda: check_lock_up([PressureReading(0, 9)] * 3, LIMIT, resolution_bar=0.1), "seconds"),
        (lambda: check_lock_up([PressureReading(i, 900) for i in range(3)], LIMIT, resolution_bar=0.1), "gauge_bar"),
        (lambda: choked_depth(upstream_bar=math.inf, blocked_from_ambient=True), "upstream_bar"),
    ],
)
def test_bad_input_is_refused_with_its_field(make, field):
    with pytest.raises(ValueError, match=rf"^{field}:"):
        make()
