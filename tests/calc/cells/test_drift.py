"""Trend, control chart and forecast against scipy, the NIST/SEMATECH e-Handbook and hand-made series."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from fleetbench.calc.cells.drift import ewma_chart, forecast, theil_sen

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4: lambda 0.3, target 50, s 2.0539 (second-hand).
EWMA_X = [
    52.0,
    47.0,
    53.0,
    49.3,
    50.1,
    47.0,
    51.0,
    50.1,
    51.2,
    50.5,
    49.6,
    47.6,
    49.9,
    51.3,
    47.8,
    51.2,
    52.6,
    52.4,
    53.6,
    52.1,
]
EWMA_OUT = [
    *(50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33),
    *(50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99),
]
# e-Handbook, 6.3.2.2, individuals: mean 50.81, mean moving range 1.8778.
FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


def test_readings_that_are_all_alike_twice_on_one_day_have_a_level_trend() -> None:
    days = [date(2026, 1, 1) + timedelta(days=gap) for gap in (0, 0, 20, 40, 60)]
    ahead = forecast(days, [11.0] * 5, 8.0)
    assert ahead.trend is not None
    assert (ahead.trend.slope_low, ahead.trend.slope_high, ahead.crosses) == (0.0, 0.0, False)
    fallen = theil_sen([0, 0, 0, 0, 30], [11.0, 11.0, 11.0, 11.0, 10.7])
    assert (fallen.slope_low, fallen.slope_high) == pytest.approx((-0.01, -0.01))


def test_ewma_chart_is_that_of_the_e_handbook() -> None:
    chart = ewma_chart(EWMA_X, centre=50.0, sigma=2.0539, weight=0.3)
    assert [point.mean for point in chart.points] == pytest.approx(EWMA_OUT, abs=0.0051)
    assert chart.high == pytest.approx(52.5884, abs=1e-4)
    assert chart.low == pytest.approx(47.4116, abs=1e-4)
    assert chart.sudden is None


def test_sigma_from_moving_ranges_is_that_of_the_e_handbook() -> None:
    # 6.3.2.2 prints UCL 55.8041 for mean 50.81 with MR 1.8778 / 1.128 over 1.128.
    chart = ewma_chart(FLOW[:5], weight=1.0)
    moving_range = np.mean(np.abs(np.diff(FLOW[:5])))
    assert chart.high == pytest.approx(np.mean(FLOW[:5]) + 3 * moving_range / 1.128)
    whole = ewma_chart([50.81, 50.81 + 1.8778], centre=50.81, weight=1.0)
    assert whole.high == pytest.approx(55.8041, abs=1e-4)


def test_a_sudden_drop_of_a_cell_is_flagged_where_it_happens() -> None:
    chart = ewma_chart([48.0, 48.2, 47.9, 48.1, 48.0, 48.1, 45.0, 45.1])
    assert chart.sudden == 6


def test_theil_sen_is_the_median_of_pairwise_slopes_and_sens_interval() -> None:
    rng = np.random.default_rng(7)
    t = np.sort(rng.uniform(0, 300, 12))
    v = 50 - 0.02 * t + rng.normal(0, 0.3, 12)
    slopes = sorted((v[j] - v[i]) / (t[j] - t[i]) for i in range(12) for j in range(i + 1, 12))
    found = theil_sen(list(t), list(v))
    assert found.slope == pytest.approx(np.median(slopes))
    # Sen, J. Am. Stat. Assoc. 63 (1968) 1379: ranks (N -+ z sqrt(n (n-1) (2n+5) / 18)) / 2 of the N slopes.
    half = 1.959964 * np.sqrt(12 * 11 * 29 / 18)
    low, high = round((66 - half) / 2), round((66 + half) / 2)
    assert found.slope_low == pytest.approx(slopes[low - 1])
    assert found.slope_high == pytest.approx(slopes[high])


@settings(max_examples=150)
@given(
    st.lists(st.tuples(st.integers(0, 40), st.integers(0, 12)), min_size=3, max_size=25).filter(
        lambda points: len({day for day, _ in points}) > 1
    )
)
def test_theil_sen_with_ties_is_that_of_scipy(points: list[tuple[int, int]]) -> None:
    days, values = [float(day) for day, _ in points], [40 + step / 10 for _, step in points]
    with np.errstate(invalid="ignore"):
        theirs = stats.theilslopes(values, days, alpha=0.95)
    found = theil_sen(days, values)
    assert found.slope == theirs.slope
    if np.isfinite(theirs.low_slope):
        assert (found.slope_low, found.slope_high) == (theirs.low_slope, theirs.high_slope)
    else:  # ranks leave no interval there: that of every pair
        slopes = [(v - w) / (t - u) for t, v in zip(days, values, strict=True)
                  for u, w in zip(days, values, strict=True) if t > u]  # fmt: skip
        assert (found.slope_low, found.slope_high) == (min(slopes), max(slopes))


@settings(max_examples=25)
@given(st.floats(-0.05, 0.05), st.floats(30, 60), st.integers(0, 11), st.floats(-20, 20))
def test_one_wild_calibration_hardly_moves_the_trend(slope: float, level: float, place: int, jump: float) -> None:
    days = np.arange(0.0, 240.0, 20.0)
    values = level + slope * days
    values[place] += jump
    assert theil_sen(list(days), list(values)).slope == pytest.approx(slope, abs=1e-6)


FIRST = date(2031, 1, 6)


def series(count: int, step_days: int, per_day: float, noise: float = 0.0) -> tuple[list[date], list[float]]:
    """An invented cell that starts at 50 and drifts evenly."""
    rng = np.random.default_rng(count)
    days = [FIRST + timedelta(days=step_days * i) for i in range(count)]
    return days, [50.0 + per_day * step_days * i + float(rng.normal(0, noise)) for i in range(count)]


def test_an_even_drift_crosses_on_the_day_that_arithmetic_gives() -> None:
    on, values = series(8, 30, -0.02)
    found = forecast(on, values, 45.0)
    # 50 - 0.02 * day = 45 on day 250, the last day on which it is still met.
    assert found.last_good_day == FIRST + timedelta(days=250)
    assert found.expected_day == found.latest_day == found.last_good_day


def test_noise_can_only_bring_the_last_good_day_forward() -> None:
    on, values = series(8, 30, -0.02, noise=0.2)
    found = forecast(on, values, 45.0)
    assert found.last_good_day is not None and found.expected_day is not None
    assert found.last_good_day < found.expected_day


@pytest.mark.parametrize(("count", "step", "word"), [(3, 30, "3 calibrations"), (8, 4, "28 days")])
def test_too_little_history_gives_no_forecast_and_says_so(count: int, step: int, word: str) -> None:
    on, values = series(count, step, -0.02)
    found = forecast(on, values, 45.0)
    assert not found.known and found.last_good_day is None
    assert word in found.sentence


def test_a_steady_cell_crosses_nothing_and_is_given_no_day() -> None:
    on, values = series(8, 30, 0.0)
    found = forecast(on, values, 45.0)
    assert found.known and not found.crosses and found.last_good_day is None


def test_a_cell_already_under_its_limit_has_no_day_after_its_last_calibration() -> None:
    on, values = series(8, 30, -0.04)
    assert forecast(on, values, 45.0).last_good_day == on[-1]


@settings(max_examples=20)
@given(st.lists(st.floats(40, 55), min_size=5, max_size=9), st.floats(0.0, 2.0))
def test_a_higher_limit_never_gives_a_later_day(values: list[float], more: float) -> None:
    on = [FIRST + timedelta(days=25 * i) for i in range(len(values))]
    far = date.max
    lower, higher = forecast(on, values, 42.0), forecast(on, values, 42.0 + more)
    assert (higher.last_good_day or far) <= (lower.last_good_day or far)


def bending(rng: np.random.Generator, kind: str) -> tuple[list[date], list[float], date]:
    """An invented cell that bends downward, calibrated while it is in limits, and the last day on which it truly is."""
    if kind == "knee":
        knee, fast = float(rng.uniform(80, 200)), float(rng.uniform(0.03, 0.08))
        days = np.sort(rng.choice(np.arange(0, int(knee + 4.0 / fast)), size=14, replace=False))
        true = 100.0 - 0.005 * np.minimum(days, knee) - fast * np.maximum(days - knee, 0.0)
        last = int(knee + (5.0 - 0.005 * knee) / fast)
    else:
        tau = float(rng.uniform(40, 120))
        days = np.sort(rng.choice(np.arange(0, int(tau * np.log(41.0))), size=14, replace=False))
        true, last = 100.0 - 0.1 * np.expm1(days / tau), int(tau * np.log(51.0))
    values = true + rng.normal(0.0, 0.3, days.size)
    return [FIRST + timedelta(days=int(day)) for day in days], list(values), FIRST + timedelta(days=last)


@pytest.mark.parametrize("kind", ["knee", "exponential end"])
def test_a_cell_whose_calibrations_bend_downward_is_seldom_forecast_beyond_its_end(kind: str) -> None:
    # Truth known, fixed seed. One straight line through all of it comes after the true end in most of these cells.
    rng = np.random.default_rng(17)
    late = one_line = given = 0
    for _ in range(200):
        on, values, end = bending(rng, kind)
        found = forecast(on, values, 95.0)
        whole = theil_sen([(day - on[0]).days for day in on], values)
        at_end = whole.level + whole.slope_low * ((end - on[0]).days - whole.middle_day) - 2.0 * whole.scatter
        one_line += at_end >= 95.0
        late += found.last_good_day is None or found.last_good_day > end
        given += 1
    assert given == 200
    assert one_line > 80, "the cells bend enough for one line to be wrong"
    assert late < 0.15 * given


def test_a_bend_is_said_and_the_faster_fall_counts() -> None:
    on = [FIRST + timedelta(days=20 * i) for i in range(16)]
    values = [100.0 - 0.05 * i - 0.6 * max(0, i - 11) for i in range(16)]
    found = forecast(on, values, 95.0)
    assert found.last_good_day is not None
    # The last five fall by 0.65 in 20 days and end at 96.85: 95 is met (1.85 / 0.65) x 20 = 56 days longer at most.
    assert on[-1] < found.last_good_day <= on[-1] + timedelta(days=56)
    assert "calibrations, which fall faster" in found.sentence
    assert forecast(on, [100.0] * 16, 95.0).last_good_day is None


def test_every_forecast_says_that_it_takes_a_straight_line_to_go_on() -> None:
    for per_day in (-0.02, 0.0):
        assert "if its drift goes on in a straight line" in forecast(*series(8, 30, per_day), 45.0).sentence


def test_a_straight_cell_is_not_much_shortened_by_its_later_calibrations() -> None:
    shares = []
    for seed in range(20):
        rng = np.random.default_rng(seed)
        on = [FIRST + timedelta(days=30 * i) for i in range(12)]
        values = [50.0 - 0.01 * 30 * i + float(rng.normal(0, 0.05)) for i in range(12)]
        found = forecast(on, values, 45.0)
        assert found.last_good_day is not None
        shares.append((found.last_good_day - on[-1]).days / 170)  # crossed 500 days after the first, 170 after the last
    assert np.median(shares) > 0.6
    assert min(shares) > 0.4


def test_the_control_chart_takes_its_centre_and_spread_from_the_first_five_values_alone() -> None:
    # e-Handbook 6.3.2.2: sigma is the mean moving range over 1.128, here of 48.0 48.2 47.9 48.1 48.0 only.
    base = [48.0, 48.2, 47.9, 48.1, 48.0]
    chart = ewma_chart([*base, 30.0, 60.0])
    sigma = np.mean(np.abs(np.diff(base))) / 1.128
    assert chart.centre == pytest.approx(np.mean(base))
    assert chart.high == pytest.approx(np.mean(base) + 3.0 * sigma * np.sqrt(0.3 / 1.7))


def test_the_bounds_stand_twice_the_scatter_from_the_line() -> None:
    # 1.4826 times the median absolute residual estimates a normal standard deviation.
    on = [FIRST + timedelta(days=30 * i) for i in range(5)]
    values = [50.1, 49.9, 50.2, 49.8, 50.05]
    trend = forecast(on, values, 45.0).trend
    assert trend is not None
    assert trend.scatter > 0.05
    unscattered = trend.level + trend.slope_low * ((on[-1] - on[0]).days - trend.middle_day)
    assert forecast(on, values, unscattered - 1.9 * trend.scatter).last_good_day == on[-1]
    assert forecast(on, values, unscattered - 2.1 * trend.scatter).last_good_day != on[-1]


def test_a_crossing_is_looked_for_three_years_ahead_and_no_farther() -> None:
    # 50 falls to 45 in 5 / rate days, the last calibration is on day 210: 1040 and 1219 days ahead, of 1095.
    for per_day, crosses in ((-0.004, True), (-0.0035, False)):
        on, values = series(8, 30, per_day)
        assert forecast(on, values, 45.0).crosses is crosses


def test_bad_series_are_refused_by_name() -> None:
    on, values = series(5, 30, -0.01)
    with pytest.raises(ValueError, match="on"):
        forecast(on[::-1], values, 45.0)
    with pytest.raises(ValueError, match="values"):
        forecast(on, values[:-1], 45.0)
    with pytest.raises(ValueError, match="values"):
        forecast(on, [*values[:-1], float("nan")], 45.0)
    with pytest.raises(ValueError, match="limit"):
        forecast(on, values, float("nan"))


def test_a_cell_measured_under_its_limit_now_has_no_day_to_come() -> None:
    # Common practice, no published source: nine months at 100 % do not outweigh a cell that reads 89.6 % today.
    on = [date(2026, 1, 1) + timedelta(days=30 * n) for n in range(10)]
    found = forecast(on, [*(100.0 + 0.1 * (-1) ** n for n in range(9)), 89.6], 95.0)
    assert found.last_good_day == on[-1]
    assert "is under 95 already at the last calibration" in found.sentence
