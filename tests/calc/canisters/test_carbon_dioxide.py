"""Carbon dioxide made and bound, against law, handbooks and stoichiometry."""

import math

import pytest

from fleetbench.calc.canisters.packing import (
    CALCIUM_HYDROXIDE_G_PER_MOL,
    CARBON_DIOXIDE_G_PER_MOL,
    WORK_RATES,
    co2_capacity_l,
    co2_production_l_min,
    respiratory_quotient,
)


def test_molar_masses_and_grams_bound_follow_the_atomic_weights():
    # IUPAC abridged standard atomic weights 2021 (from memory): 74.092 and 44.009 g/mol, 593.98 g CO2 a kilogram.
    assert pytest.approx(74.092, abs=1e-9) == CALCIUM_HYDROXIDE_G_PER_MOL
    assert pytest.approx(44.009, abs=1e-9) == CARBON_DIOXIDE_G_PER_MOL
    assert pytest.approx(593.98, abs=0.005) == 1000.0 * CARBON_DIOXIDE_G_PER_MOL / CALCIUM_HYDROXIDE_G_PER_MOL


@pytest.mark.parametrize(
    ("temperature_c", "pressure_mbar", "purity", "litres"),
    [
        # Stoichiometry with the ideal gas at the stated conditions, litres a kilogram; tolerance 0.05.
        (0, 1013.25, 1.0, 302.52), (15, 1013.25, 1.0, 319.13), (20, 1013.25, 1.0, 324.67), (25, 1013.25, 1.0, 330.20),
        (37, 1013.25, 1.0, 343.49), (0, 1000.0, 1.0, 306.52), (0, 1013.25, 0.8, 242.01), (20, 1013.25, 0.8, 259.73),
    ],
)  # fmt: skip
def test_a_kilogram_binds_what_stoichiometry_says(temperature_c, pressure_mbar, purity, litres):
    found = co2_capacity_l(1000.0, purity=purity, temperature_c=temperature_c, pressure_mbar=pressure_mbar)
    assert found == pytest.approx(litres, abs=0.05)


@pytest.mark.parametrize(("mass_g", "minutes"), [(2640.0, 202.0), (2380.0, 138.0)])
def test_real_canisters_stay_far_under_the_ceiling(mass_g, minutes):
    # Harvey, Pollock, Gant, Hart, Mesley and Mitchell, Diving Hyperb Med 46(2) 2016 92-97: at 2 L/min CO2.
    assert 0.3 < 2.0 * minutes / co2_capacity_l(mass_g, temperature_c=20.0) < 0.5


@pytest.mark.parametrize(("uptake", "made"), [(2.50, 2.50), (2.00, 1.80), (1.35, 1.15)])
def test_production_is_that_of_the_capacity_tests(uptake, made):
    # 42 CFR 84.304 Table 2.
    assert co2_production_l_min(uptake) == pytest.approx(made, abs=1e-9)


def test_between_two_steps_the_harder_ones_quotient_counts():
    assert respiratory_quotient(1.36) == 0.9
    assert respiratory_quotient(2.01) == 1.0
    assert respiratory_quotient(3.5) == 1.0


def test_every_work_rate_uses_the_quotient_of_its_own_or_a_harder_step():
    assert all(
        rate.respiratory_quotient >= respiratory_quotient(rate.oxygen_l_min) - 1e-12 and rate.source
        for rate in WORK_RATES
    )


@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf, 11.0])
def test_an_uptake_out_of_reason_is_refused(value):
    with pytest.raises(ValueError, match=r"^oxygen_l_min"):
        co2_production_l_min(value)


def test_a_quotient_mass_or_temperature_out_of_reason_is_refused():
    with pytest.raises(ValueError, match=r"^respiratory_quotient"):
        co2_production_l_min(1.0, 2.0)
    with pytest.raises(ValueError, match=r"^mass_g"):
        co2_capacity_l(0.0)
    with pytest.raises(ValueError, match=r"^temperature_c"):
        co2_capacity_l(1.0, temperature_c=math.nan)
    with pytest.raises(ValueError, match=r"^purity"):
        co2_capacity_l(1.0, purity=1.2)
