"""What is typed in a centre's own unit is stored in SI and read again as it was typed, at the display's resolution.

Factors: NIST Special Publication 811 (2008), appendix B.8 and B.9, which gives them to seven digits or as exact.
"""

from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetbench.calc.core import measures
from fleetbench.calc.core.measures import BAR, CELSIUS, CHOICES, GRAM, KILOGRAM, METRE, Measure, StatedUnits
from fleetbench.calc.core.plausible import CYLINDER_PRESSURE, DEPTH, WATER, plausible

IMPERIAL = StatedUnits("imperial")
ALL = (BAR, CELSIUS, METRE, KILOGRAM, GRAM)


@pytest.fixture
def imperial() -> Iterator[None]:
    """In imperial units for one test."""
    with measures.using(IMPERIAL):
        yield


@pytest.mark.parametrize(
    ("measure", "typed", "stored"),
    [
        (BAR, 1.0, 6.894757e-2),  # pound-force per square inch: 6.894 757 E+03 Pa (SP 811, B.8)
        (METRE, 1.0, 3.048e-1),  # foot, exact (SP 811, B.8)
        (KILOGRAM, 1.0, 4.5359237e-1),  # pound, avoirdupois, exact (SP 811, B.8, note 22)
        (GRAM, 1.0, 2.834952e1),  # ounce, avoirdupois (SP 811, B.8)
        (CELSIUS, 212.0, 100.0),  # t/°C = (t/°F - 32)/1.8 (SP 811, B.8)
        (CELSIUS, -40.0, -40.0),
    ],
)
def test_a_unit_is_stored_by_the_published_factor(
    imperial: None, measure: Measure, typed: float, stored: float
) -> None:
    assert measure.typed(typed) == pytest.approx(stored, rel=2e-7)


@given(st.sampled_from(ALL), st.integers(0, 4), st.integers(-5_000_000, 5_000_000))
def test_what_was_typed_is_read_again(measure: Measure, places: int, digits: int) -> None:
    with measures.using(IMPERIAL):
        typed = digits / 10**places
        text = measure.number(measure.typed(typed))
        assert float(text) == typed
        assert len(text.partition(".")[2]) <= places
        assert float(measure.number(measure.typed(round(typed)), 1)) == round(typed)


@given(st.sampled_from(ALL), st.floats(-300, 5000))
def test_metric_figures_are_untouched(measure: Measure, value: float) -> None:
    assert (measure.typed(value), measure.shown(value)) == (value, value)
    assert (measure.number(value), measure.number(value, 2)) == (f"{value:g}", f"{value:.2f}")


@given(st.sampled_from(ALL), st.floats(-50, 400), st.floats(0.1, 400))
def test_both_ends_of_a_range_that_is_told_may_be_typed(measure: Measure, low: float, wide: float) -> None:
    with measures.using(IMPERIAL):
        ends = [float(each) for each in (measure.least(low), measure.most(low + wide))]
        stored = [measure.typed(each) for each in ends]
        assert all(low - 1e-6 <= each <= low + wide + 1e-6 for each in stored) or ends[0] > ends[1]


def test_a_greatest_depth_is_rounded_down(imperial: None) -> None:
    assert METRE.whole(40.0) == "131 ft"  # 40 / 0.3048 = 131.23
    assert METRE.whole(40.0, up=True) == "132 ft"


def test_a_difference_of_temperatures_has_no_zero_point(imperial: None) -> None:
    assert (CELSIUS.words(1.0), CELSIUS.difference.words(1.0)) == ("33.8 °F", "1.8 °F")


def test_the_figures_tell_as_much_as_the_stored_ones() -> None:
    with measures.using(IMPERIAL):
        for measure in ALL:
            assert 10.0 ** -measure.decimals(1) * float(measure.unit.size) <= 0.1, measure


def test_a_refusal_names_figure_and_range_in_the_unit_typed(imperial: None) -> None:
    assert (
        plausible(CYLINDER_PRESSURE, BAR.typed(6000)).words == "6000 is outside 0 to 5076 psi; read the gauge, in psi"
    )
    assert plausible(WATER, CELSIUS.typed(95)).words == "95 °F is unusual, 28.4 to 93.2 °F is usual"
    assert plausible(DEPTH, METRE.typed(2)).words == "2 ft is unusual, 10 to 328 ft is usual"


def test_each_unit_is_stated_by_itself() -> None:
    with measures.using(StatedUnits("metric", pressure="psi")):
        assert (str(BAR), str(METRE)) == ("psi", "m")
    with measures.using(StatedUnits("imperial", mass="kg")):
        assert (str(BAR), str(CELSIUS), str(METRE), str(KILOGRAM), str(GRAM)) == ("psi", "°F", "ft", "kg", "g")
    assert tuple(map(str, (BAR, CELSIUS, METRE, KILOGRAM))) == tuple(signs[0] for signs in CHOICES.values())
