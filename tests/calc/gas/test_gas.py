"""Real gases against CoolProp, which holds the published equations of state, and against handbook figures."""

import math

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from fleetbench.calc.gas.real import (
    AIR,
    FREE_15_C,
    OXYGEN,
    STPD,
    Mixture,
    compressibility,
    content_l,
    density_g_l,
    density_mol_l,
    endurance_min,
    gauge_after_temperature,
    gauge_after_use,
    oxygen_endurance_min,
    pressure_bar,
    usable_l,
)

NITROGEN, HELIUM = Mixture(0.0), Mixture(0.0, 1.0)
MIXTURES = [
    OXYGEN, NITROGEN, HELIUM, Mixture(0.32), Mixture(0.5), Mixture(0.21, 0.35), Mixture(0.18, 0.45),
    Mixture(0.10, 0.70), Mixture(0.20, 0.80),
]  # fmt: skip


def coolprop_density(mixture: Mixture, bar: float, celsius: float) -> float:
    """Density in kg/m3 by CoolProp's multi-fluid model."""
    parts = [
        (name, share)
        for name, share in zip(("Oxygen", "Helium", "Nitrogen"), mixture.fractions, strict=True)
        if share > 1e-12
    ]
    fluid = parts[0][0] if len(parts) == 1 else "HEOS::" + "&".join(f"{name}[{share}]" for name, share in parts)
    return PropsSI("D", "T|gas", celsius + 273.15, "P", bar * 1e5, fluid)


@pytest.mark.parametrize("mixture", MIXTURES, ids=lambda mixture: str(mixture.fractions))
@pytest.mark.parametrize("celsius", [0.0, 15.0, 30.0, 50.0])
def test_density_is_within_one_percent_of_coolprop_up_to_300_bar(mixture, celsius):
    # The issue is 1 %; the same published equations should come far closer, so a slip cannot hide in the margin.
    for bar in (1.01325, 20.0, 100.0, 200.0, 232.0, 300.0):
        assert density_g_l(mixture, bar, celsius) == pytest.approx(coolprop_density(mixture, bar, celsius), rel=1e-4)


@pytest.mark.parametrize("celsius", [0.0, 20.0, 50.0])
def test_air_with_its_argon_taken_for_nitrogen_is_within_one_percent_of_coolprops_air(celsius):
    # CoolProp's Air: Lemmon et al., J. Phys. Chem. Ref. Data 29 (2000), pseudo-pure.
    for bar in (1.01325, 50.0, 200.0, 300.0):
        expected = PropsSI("Z", "T", celsius + 273.15, "P", bar * 1e5, "Air")
        assert compressibility(AIR, bar, celsius) == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize(
    ("bar", "factor", "density", "litres"),
    [
        # Oxygen at 293.15 K by CoolProp 8.0.0 (Schmidt and Wagner 1985): Z, kg/m3, free litres at 15 C a litre.
        (50, 0.96868, 67.765, 50.03), (100, 0.94649, 138.708, 102.42), (150, 0.93622, 210.343, 155.31),
        (200, 0.93909, 279.601, 206.44), (232, 0.94757, 321.435, 237.33), (300, 0.98021, 401.809, 296.68),
    ],
)  # fmt: skip
def test_oxygen_is_that_of_the_printed_table(bar, factor, density, litres):
    assert compressibility(OXYGEN, bar, 20.0) == pytest.approx(factor, rel=1e-4)
    assert density_g_l(OXYGEN, bar, 20.0) == pytest.approx(density, rel=1e-4)
    held = content_l(OXYGEN, water_volume_l=1.0, gauge_bar=bar - 1.01325, temperature_c=20.0, reference=FREE_15_C)
    assert held == pytest.approx(litres, rel=1e-4)


def test_an_ideal_gas_would_be_wrong_by_more_than_one_percent_so_the_check_bites():
    assert abs(compressibility(OXYGEN, 200.0, 20.0) - 1.0) > 0.05
    assert abs(compressibility(NITROGEN, 300.0, 20.0) - 1.0) > 0.05


@given(oxygen=st.floats(0, 1), helium=st.floats(0, 1), bar=st.floats(1, 300), celsius=st.floats(0, 50))
def test_pressure_and_density_undo_each_other(oxygen, helium, bar, celsius):
    mixture = Mixture(oxygen, helium * (1.0 - oxygen))
    assert pressure_bar(mixture, density_mol_l(mixture, bar, celsius), celsius) == pytest.approx(bar, rel=1e-9)


@given(bar=st.floats(1, 290), more=st.floats(0.01, 10), celsius=st.floats(0, 50))
def test_more_pressure_is_more_gas(bar, more, celsius):
    assert density_mol_l(OXYGEN, bar + more, celsius) > density_mol_l(OXYGEN, bar, celsius)


@pytest.mark.parametrize("mixture", [OXYGEN, AIR, Mixture(0.18, 0.45)])
def test_a_hot_fill_cools_to_what_coolprop_says_for_the_same_density(mixture):
    cooled = gauge_after_temperature(mixture, gauge_bar=220.0, from_c=45.0, to_c=15.0)
    hot = coolprop_density(mixture, 221.01325, 45.0)
    assert coolprop_density(mixture, cooled + 1.01325, 15.0) == pytest.approx(hot, rel=1e-4)
    assert cooled < 220.0


def test_use_takes_out_what_it_says():
    left = gauge_after_use(OXYGEN, water_volume_l=3.0, gauge_bar=200.0, used_l=250.0)
    before = content_l(OXYGEN, water_volume_l=3.0, gauge_bar=200.0)
    assert before - content_l(OXYGEN, water_volume_l=3.0, gauge_bar=left) == pytest.approx(250.0, rel=1e-6)


def test_more_than_the_cylinder_gives_is_refused():
    with pytest.raises(ValueError, match=r"^used_l"):
        gauge_after_use(OXYGEN, water_volume_l=2.0, gauge_bar=10.0, used_l=30.0)


def test_oxygen_lasts_its_usable_litres_over_the_uptake():
    # US Navy Diving Manual Rev 4 Change A, p. 17-11: 1.4 L/min for planning; litres by CoolProp's density.
    minutes = oxygen_endurance_min(water_volume_l=3.0, gauge_bar=200.0, reserve_gauge_bar=50.0, uptake_l_min=1.4)
    grams = 3.0 * (coolprop_density(OXYGEN, 201.01325, 20.0) - coolprop_density(OXYGEN, 51.01325, 20.0))
    assert minutes == pytest.approx(grams / coolprop_density(OXYGEN, 1.01325, 0.0) / 1.4, rel=1e-4)


def test_emergency_gas_lasts_as_the_navys_worked_example_has_it():
    # US Navy Diving Manual, emergency gas supply: 73.2 scf at 14.13 scfm give 5.18 minutes (units cancel).
    assert endurance_min(73.2, 14.13) == pytest.approx(5.18, abs=0.005)


def test_nothing_is_usable_under_the_reserve():
    assert usable_l(OXYGEN, water_volume_l=3.0, gauge_bar=40.0, reserve_gauge_bar=50.0) == 0.0


@pytest.mark.parametrize(
    ("make", "field"),
    [
        (lambda: Mixture(32.0), "oxygen"),
        (lambda: Mixture(-0.1), "oxygen"),
        (lambda: Mixture(math.nan), "oxygen"),
        (lambda: Mixture(0.6, 0.6), "helium"),
        (lambda: density_mol_l(OXYGEN, -1.0, 20.0), "pressure_bar"),
        (lambda: density_mol_l(OXYGEN, math.nan, 20.0), "pressure_bar"),
        (lambda: density_mol_l(OXYGEN, 3000.0, 20.0), "pressure_bar"),
        (lambda: density_mol_l(OXYGEN, 200.0, 293.15), "temperature_c"),
        (lambda: compressibility(OXYGEN, 0.0, 20.0), "pressure_bar"),
        (lambda: content_l(OXYGEN, water_volume_l=0.0, gauge_bar=200.0), "water_volume_l"),
        (lambda: content_l(OXYGEN, water_volume_l=3.0, gauge_bar=-5.0), "gauge_bar"),
        (lambda: content_l(OXYGEN, water_volume_l=3.0, gauge_bar=5.0, ambient_bar=1013.0), "ambient_bar"),
        (lambda: endurance_min(100.0, 0.0), "use_l_min"),
        (lambda: endurance_min(math.inf, 1.0), "usable_litres"),
        (lambda: pressure_bar(OXYGEN, 100.0, 20.0), "amount_mol_l"),
    ],
)
def test_bad_input_is_refused_with_its_field(make, field):
    with pytest.raises(ValueError, match=rf"^{field}:"):
        make()


def test_no_pressure_is_no_gas_and_reference_conditions_are_told_apart():
    assert density_mol_l(OXYGEN, 0.0, 20.0) == 0.0
    warm = content_l(OXYGEN, water_volume_l=3.0, gauge_bar=200.0, reference=FREE_15_C)
    assert warm / content_l(OXYGEN, water_volume_l=3.0, gauge_bar=200.0, reference=STPD) == pytest.approx(
        288.15 / 273.15, rel=1e-3
    )
