"""Cells in the list and on their page."""

from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from fleetbench.calc.cells.judge import DEFAULT_LIMITS
from fleetbench.records.cells.reads import TrendRecord
from fleetbench.records.core.errors import NotFound
from fleetbench.records.parts.tables import Part
from fleetbench.workshop.cells.cell_lives import life_of_cells
from fleetbench.workshop.cells.list import cell_page, list_cells
from fleetbench.workshop.cells.outlook import HeadCell, Seen, outlook_of, seen_at_the_bench, shared_in_head
from fleetbench.workshop.cells.spread import propose_spread
from fleetbench.workshop.core.workplace import Workplace
from tests.centres.ready_centre import Centre, counted


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> Centre:
    """The small centre, its units fit to leave."""
    return Centre(workplace, clock)


def test_fitted_cells_come_first_with_place_ages_and_last_outcome(centre: Centre) -> None:
    first = list_cells(centre.workplace)[0]
    assert (first.unit, first.head, first.position, first.verdict) == ("LK-01", "HEAD-L-LK-01", "cell 1", "pass")
    assert first.outcome is not None
    assert (first.outcome.linearity, first.outcome.expanded_u, first.outcome.air_mv) == (100.0, 1.1, 11.0)
    assert [(age.basis, age.age_days) for age in first.ages] == [("opened", 60), ("made", 60)]
    assert first.basis == "opened"
    assert [day for day, _ in first.trend] == [centre.today - timedelta(days=2)]


def test_a_cell_never_calibrated_has_no_verdict_and_one_without_dates_is_unknown(centre: Centre) -> None:
    rows = {row.part.label: row for row in list_cells(centre.workplace)}
    assert (rows["C-NEW"].verdict, rows["C-NEW"].life_state) == (None, "good")
    assert rows["C-OLD"].life_state == "past"
    assert (rows["C-UNDATED"].life_state, rows["C-UNDATED"].last_good_day) == ("unknown", None)


def test_a_sealed_cell_has_no_age_from_opening_but_a_used_one_without_the_date_is_unknown(centre: Centre) -> None:
    centre.change(Part, centre.part("C-LK-01-1"), opened_on=None)
    rows = {row.part.label: row for row in list_cells(centre.workplace)}
    assert rows["C-NEW"].basis == "made"
    assert rows["C-LK-01-1"].life_state == "unknown"


def test_the_worst_that_stands_is_shown_and_a_reject_ends_the_cell_the_day_before(centre: Centre) -> None:
    centre.calibrate(centre.one, 1, "reject")
    centre.calibrate(centre.one, 0.5, made="diver")
    row = next(row for row in list_cells(centre.workplace) if row.part.label == "C-LK-01-2")
    assert (row.verdict, row.basis) == ("reject", "reject")
    assert row.last_good_day == centre.today - timedelta(days=2)


def test_worn_cells_are_shown_on_request(centre: Centre) -> None:
    centre.change(Part, centre.part("C-OLD"), state="scrapped")
    assert "C-OLD" not in {row.part.label for row in list_cells(centre.workplace)}
    assert "C-OLD" in {row.part.label for row in list_cells(centre.workplace, include_worn=True)}


def test_the_page_tells_calibrations_fittings_limits_lot_mates_and_drift(centre: Centre) -> None:
    centre.calibrate(centre.one, 1, "watch")
    page = cell_page(centre.workplace, centre.part("C-LK-01-2"))
    assert [line.outcome.verdict for line in page.calibrations] == ["watch", "pass"]
    assert [point.verdict for point in page.drift] == ["pass", "watch"]
    assert page.calibrations[0].person == "Tamsin Orrel"
    assert page.fittings[0].host == "HEAD-L-LK-01"
    assert {line.basis for line in page.limits} == {"opened", "made"}
    assert [(mate.part.label, mate.unit) for mate in page.lot_mates] == [("C-LK-02-2", "LK-02")]
    with pytest.raises(NotFound):
        cell_page(centre.workplace, centre.part("BATT-L-LK-01"))


def test_list_and_page_take_a_fixed_number_of_statements(centre: Centre, sample_workplace: Workplace) -> None:
    counts = []
    for workplace in (centre.workplace, sample_workplace):
        cell = list_cells(workplace)[0].part.part_id
        with counted(workplace) as listed:
            list_cells(workplace)
        with counted(workplace) as opened:
            cell_page(workplace, cell)
        counts.append((len(listed), len(opened)))
    assert counts[0] == counts[1]


def test_every_fitted_cell_of_the_sample_fleet_stands_once_with_an_outcome(sample_workplace: Workplace) -> None:
    fitted = [row for row in list_cells(sample_workplace) if row.unit is not None]
    assert len(fitted) == len({(row.unit, row.position) for row in fitted}) == 42
    assert all(row.verdict is not None for row in fitted)


def test_a_calibration_made_again_on_the_same_day_stands_in_place_of_the_one_before() -> None:
    """A head flushed in a hurry shows all its cells low; flushed again they are right, and none of them has drifted."""
    begun = datetime(2026, 1, 5, 9, tzinfo=UTC)
    days = [begun + timedelta(days=9 * n) for n in range(5)]
    points = [TrendRecord(1, day, 100.2 + 0.2 * (-1) ** n, 11.0, "workshop") for n, day in enumerate(days)]
    hurried = TrendRecord(1, points[-1].at - timedelta(minutes=16), 95.6, 11.0, "workshop")
    seen = seen_at_the_bench([*points[:-1], hurried, points[-1]], ZoneInfo("UTC"))
    assert seen == seen_at_the_bench(points, ZoneInfo("UTC"))
    assert outlook_of(seen, DEFAULT_LIMITS) == outlook_of(seen_at_the_bench(points, ZoneInfo("UTC")), DEFAULT_LIMITS)
    still = seen_at_the_bench([*points, hurried], ZoneInfo("UTC"))
    assert still[-1].linearity == 95.6, "still low where it was the last of its day"


def falling(count: int, step: float, first: float = 100.0) -> list[Seen]:
    """One calibration every thirty days, linearity falling by so much at each."""
    return [Seen(date(2026, 1, 1) + timedelta(days=30 * n), first - step * n, 11.0) for n in range(count)]


def test_a_cell_that_falls_steadily_has_a_day_on_which_it_meets_the_limit_last() -> None:
    # By hand: 0.5 % in 30 days from 100 % meets 95 % for the last time 300 days after the first calibration.
    ahead = outlook_of(falling(6, 0.5), DEFAULT_LIMITS)
    assert ahead.day == date(2026, 1, 1) + timedelta(days=300)
    assert ahead.words.startswith("linearity: ")


def test_too_few_calibrations_make_no_forecast_and_say_so() -> None:
    ahead = outlook_of(falling(3, 0.5), DEFAULT_LIMITS)
    assert ahead.day is None and ahead.words == "No forecast: 3 calibrations, and 4 are needed."


def test_a_sudden_change_is_told_and_scatter_is_not() -> None:
    steady = [Seen(date(2026, 1, 1) + timedelta(days=9 * n), 100 + 0.2 * (-1) ** n, 11.0) for n in range(8)]
    assert outlook_of(steady, DEFAULT_LIMITS).sudden is None
    fallen = [*steady, *(Seen(date(2026, 6, 1 + n), 97.0, 11.0) for n in range(2))]
    told = outlook_of(fallen, DEFAULT_LIMITS).sudden
    assert told is not None and told.startswith("It has moved -")


def test_cells_of_one_lot_or_age_in_a_head_are_told_by_position() -> None:
    spring = date(2026, 3, 1)
    cells = [HeadCell(1, "cell 1", "A", spring), HeadCell(2, "cell 2", "A", spring),
             HeadCell(3, "cell 3", "B", spring + timedelta(days=30)), HeadCell(4, "cell 4", None, None)]  # fmt: skip
    told = shared_in_head(cells)
    assert told[1] == "same lot as cell 2; made within 30 days of cell 3"
    assert told[3] == "made within 30 days of cell 1, cell 2"
    assert 4 not in told


def test_a_rejected_cells_life_is_past_whatever_its_age(centre: Centre) -> None:
    centre.calibrate(centre.one, 1, "reject")
    row = next(row for row in list_cells(centre.workplace) if row.part.label == "C-LK-01-2")
    assert row.life_state == "past"


def test_the_spread_replaces_what_is_rejected_and_says_what_comes_out(centre: Centre) -> None:
    centre.calibrate(centre.one, 1, "reject")
    plan = propose_spread(centre.workplace)
    rejected = {line.old.part.label: line for line in plan.lines if line.old}["C-LK-01-2"]
    assert (rejected.unit, rejected.position, rejected.because) == ("LK-01", "cell 2", "it is rejected")
    assert rejected.why_old in ("fault", "low output")
    assert any("C-UNDATED" in said for said in plan.left_out) or "C-UNDATED" not in {
        each.cell.part.label for each in plan.lines
    }


def test_the_sample_fleet_has_a_life_curve_for_its_cell_types_with_an_interval(sample_workplace: Workplace) -> None:
    lines = life_of_cells(sample_workplace)
    types = [line for line in lines if line.lot is None]
    assert types and all(line.curve is not None for line in types)
    for line in lines:
        assert line.failures <= line.parts
        for _days, share, low, high in line.shares:
            assert 0 <= low <= share <= high <= 1


def test_a_forecast_shortens_a_life_and_never_lengthens_it(sample_workplace: Workplace) -> None:
    for row in list_cells(sample_workplace):
        if row.forecast_day is not None and row.last_good_day is not None:
            assert row.last_good_day <= row.forecast_day or row.life_state == "unknown"
        assert row.basis != "forecast" or row.last_good_day == row.forecast_day
