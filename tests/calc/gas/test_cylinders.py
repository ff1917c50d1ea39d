"""Checks of fills and certificates; tolerances are common practice, no published source, unless said otherwise."""

import math
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from fleetbench.calc.core.verdict import Result
from fleetbench.calc.gas.cylinders import BREATHING_AIR, DIVER_OXYGEN, FillFact, check_certificate, check_fill
from fleetbench.calc.gas.real import Mixture

TODAY = date(2026, 5, 4)
FILLED = datetime(2026, 5, 3, 9, 0, tzinfo=UTC)
SOUND = FillFact(
    asked=Mixture(0.32),
    analysed=Mixture(0.318),
    filled_at=FILLED,
    analysed_at=FILLED + timedelta(hours=1),
    gauge_bar=200.0,
    working_bar=200.0,
    temperature_c=15.0,
    test_last_good_day=date(2027, 1, 1),
)


def test_a_sound_fill_is_ok():
    (found,) = check_fill(SOUND, on=TODAY)
    assert found.result is Result.OK


@pytest.mark.parametrize(
    ("change", "field", "result", "words"),
    [
        ({"analysed": None}, "analysis", Result.STOP, "not analysed"),
        ({"analysed_at": FILLED}, "analysis", Result.STOP, "filled after"),
        ({"analysed": Mixture(0.28)}, "oxygen", Result.STOP, "28.0% analysed, 32.0% asked"),
        ({"analysed": Mixture(0.32, 0.05)}, "helium", Result.STOP, "5.0% analysed"),
        ({"asked": Mixture(0.1, 0.7), "analysed": Mixture(0.1, 0.7)}, "oxygen", Result.ADVISE, "not breathable"),
        ({"gauge_bar": 220.0}, "pressure", Result.STOP, "over the working pressure"),
        ({"gauge_bar": 140.0}, "pressure", Result.ADVISE, "under 75%"),
        ({"gauge_bar": None}, "pressure", Result.ADVISE, "not known"),
        ({"test_last_good_day": TODAY - timedelta(days=1)}, "test", Result.STOP, "out of test"),
        ({"test_last_good_day": None}, "test", Result.STOP, "not known"),
    ],
)
def test_each_fault_of_a_fill_is_found_alone(change, field, result, words):
    (found,) = check_fill(replace(SOUND, **change), on=TODAY)
    assert (found.field, found.result) == (field, result)
    assert words in found.words
    assert found.remedy


def test_a_hot_fill_is_judged_at_15_degrees():
    assert check_fill(replace(SOUND, gauge_bar=220.0, temperature_c=45.0), on=TODAY)[0].result is Result.OK


def test_a_cylinder_is_in_test_on_its_last_good_day():
    assert check_fill(replace(SOUND, test_last_good_day=TODAY), on=TODAY)[0].result is Result.OK


# US Navy Diving Manual Table 4-3 (MIL-PRF-27210, type I gaseous): a certificate exactly at every limit.
AT_THE_LIMIT = {
    "oxygen": 99.5, "carbon dioxide": 10, "methane": 50, "acetylene": 0.1, "ethylene": 0.4, "ethane and others": 6.0,
    "nitrous oxide": 4.0, "halogenated refrigerants": 1.0, "halogenated solvents": 0.10, "water": 7,
}  # fmt: skip


def test_oxygen_at_every_limit_meets_the_specification():
    assert {each.result for each in check_certificate(AT_THE_LIMIT, DIVER_OXYGEN)} == {Result.OK}


@pytest.mark.parametrize("line", AT_THE_LIMIT)
def test_oxygen_beyond_any_one_limit_stops(line):
    worse = AT_THE_LIMIT[line] * (0.999 if line == "oxygen" else 1.01)
    found = check_certificate(AT_THE_LIMIT | {line: worse}, DIVER_OXYGEN)
    assert [each.field for each in found if each.result is Result.STOP] == [line]


def test_a_line_that_the_certificate_does_not_state_is_never_ok():
    found = check_certificate({"oxygen": 99.6}, DIVER_OXYGEN)
    assert [each.result for each in found] == [Result.OK] + [Result.ADVISE] * 9


def test_breathing_air_has_limits_on_both_sides_of_oxygen():
    # EN 12021, second-hand: 21 ± 1 % oxygen, CO 5 ppm, CO2 500 ppm, oil 0.5 mg/m3, water 25 mg/m3 at the outlet.
    good = {"oxygen": 20.9, "carbon monoxide": 5, "carbon dioxide": 500, "oil": 0.5, "water": 25}
    assert {each.result for each in check_certificate(good, BREATHING_AIR)} == {Result.OK}
    for oxygen in (19.9, 22.1):
        assert check_certificate(good | {"oxygen": oxygen}, BREATHING_AIR)[0].result is Result.STOP


@pytest.mark.parametrize("values", [{"oxygen": math.nan}, {"oxygen": -1.0}, {"luck": 1.0}])
def test_a_certificate_that_cannot_be_read_is_refused_with_its_line(values):
    with pytest.raises(ValueError, match=rf"^{next(iter(values))}:"):
        check_certificate(values, DIVER_OXYGEN)
