"""What a filler is told: common practice, no published source, unless a check names another."""

from dataclasses import replace
from datetime import date

import pytest
from CoolProp.CoolProp import PropsSI

from fleetbench.calc.core.verdict import Result
from fleetbench.calc.gas.cylinders import FillingFact, analysed_mixture, check_filling
from fleetbench.calc.gas.real import AIR, OXYGEN, Mixture

ON = date(2026, 5, 4)
DILUENT = FillingFact("diluent", AIR, 60.0, 200.0, 232.0, date(2027, 1, 1))
SOUND = FillingFact("oxygen", OXYGEN, 60.0, 190.0, 200.0, date(2027, 1, 1), clean=True)


def told(fact: FillingFact) -> list[tuple[str, Result]]:
    return [(each.field, each.result) for each in check_filling(fact, on=ON)]


@pytest.mark.parametrize("fact", [DILUENT, SOUND, replace(DILUENT, start_bar=None)])
def test_nothing_is_against_a_sound_fill(fact: FillingFact) -> None:
    assert check_filling(fact, on=ON) == ()


@pytest.mark.parametrize(
    ("changed", "field", "result"),
    [
        ({"test_last_good_day": date(2026, 5, 3)}, "test", Result.STOP),
        ({"test_last_good_day": None}, "test", Result.STOP),
        ({"end_bar": None}, "end", Result.STOP),
        ({"end_bar": 50.0}, "start", Result.STOP),
        ({"end_bar": 310.0}, "end", Result.STOP),
        ({"end_bar": float("nan")}, "end", Result.STOP),
        ({"end_bar": 215.0}, "end", Result.ADVISE),
        ({"clean": None}, "oxygen-clean", Result.STOP),
        ({"clean": False, "clean_words": "lost: flooded"}, "oxygen-clean", Result.STOP),
        ({"oxygen_compatible": False}, "oxygen-clean", Result.ADVISE),
        ({"asked": AIR}, "gas", Result.ADVISE),
        ({"asked": Mixture(0.99, 0.01)}, "gas", Result.ADVISE),
        ({"against_batch": "batch B7: water 12 ppm"}, "batch", Result.STOP),
    ],
)
def test_each_thing_against_a_fill_of_oxygen_is_told_alone(
    changed: dict[str, object], field: str, result: Result
) -> None:
    assert told(replace(SOUND, **changed)) == [(field, result)]  # type: ignore[arg-type]


def test_the_last_good_day_itself_may_still_be_filled() -> None:
    assert check_filling(replace(SOUND, test_last_good_day=ON), on=ON) == ()


def test_rich_gas_in_a_diluent_cylinder_is_asked_about_and_needs_a_clean_cylinder() -> None:
    rich = replace(DILUENT, asked=Mixture(0.5))
    assert told(rich) == [("oxygen-clean", Result.STOP), ("gas", Result.ADVISE)]
    assert told(replace(rich, clean=True)) == [("gas", Result.ADVISE)]


def test_a_warm_cylinder_may_stand_over_its_working_pressure_as_far_as_it_cools_back() -> None:
    """Pressure after cooling at constant density: CoolProp, Schmidt-Wagner equation of state for oxygen."""
    warm_c, end = 45.0, 215.0
    density = PropsSI("D", "P", (end + 1.01325) * 1e5, "T", warm_c + 273.15, "Oxygen")
    settled = PropsSI("P", "D", density, "T", 288.15, "Oxygen") / 1e5 - 1.01325
    assert settled < 200.0
    assert told(replace(SOUND, end_bar=end)) == [("end", Result.ADVISE)]
    assert told(replace(SOUND, end_bar=end, temperature_c=warm_c)) == []


@pytest.mark.parametrize(("shown", "fraction"), [(100.4, 1.0), (101.0, 1.0), (99.6, 0.996), (0.0, 0.0)])
def test_a_little_over_100_percent_counts_as_pure(shown: float, fraction: float) -> None:
    assert analysed_mixture(shown).oxygen == pytest.approx(fraction)


@pytest.mark.parametrize(
    ("oxygen", "helium", "field"),
    [(101.1, None, "oxygen"), (-0.1, None, "oxygen"), (float("nan"), None, "oxygen"), (18.0, 82.1, "helium"),
     (18.0, -1.0, "helium"), (100.4, 1.0, "helium")],
)  # fmt: skip
def test_figures_that_no_gas_has_are_refused_by_name(oxygen: float, helium: float | None, field: str) -> None:
    with pytest.raises(ValueError, match=f"^{field}: "):
        analysed_mixture(oxygen, helium)


def test_oxygen_and_helium_of_exactly_100_percent_are_a_gas() -> None:
    assert analysed_mixture(18.0, 82.0).nitrogen == pytest.approx(0.0, abs=1e-9)
