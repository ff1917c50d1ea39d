"""The measured forecast kept in the suite by a short form of its benchmark, on invented centres."""

from tests.benchmarks.demand import LEVEL, busy, run, score


def test_the_forecast_of_hidden_days_errs_less_than_ordering_what_the_last_quarter_used() -> None:
    cases = busy(run(units=14, seeds=2, backs=(90, 180)))
    forecast, naive = score(cases, "forecast"), score(cases, "last quarter")
    assert len(cases) >= 20
    assert forecast.root_error < 0.8 * naive.root_error
    assert forecast.mean_error < naive.mean_error


def test_stock_for_a_level_is_enough_about_as_often_as_the_level_says() -> None:
    cases = run(units=14, seeds=2, backs=(90, 180))
    # A share of 0.95 in some hundred cases: under 0.89 would be seen once in a thousand (binomial).
    assert score(cases, "forecast").covered >= LEVEL - 0.06
