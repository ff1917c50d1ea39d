"""What a fitted cell's own calibrations foretell ends it: in the list of cells, in the due list and in readiness."""

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from fleetbench.calc.cells.drift import forecast
from fleetbench.records.cells.tables import Calibration, CalibrationOutcome
from fleetbench.records.core.database import Database
from fleetbench.records.parts.tables import FORECAST_OF, Fitting
from fleetbench.workshop.cells.list import CellRow, cell_page, list_cells
from fleetbench.workshop.cells.outlook import IN_AIR, LINEARITY, refresh_forecasts
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import FORECAST, REJECT, DueItem, list_due
from fleetbench.workshop.parts.fit import fit_part, remove_part
from fleetbench.workshop.parts.lives import rebuild_lives
from fleetbench.workshop.parts.refit import move_fitted, undo_fitting
from fleetbench.workshop.readiness.ready import HandoverKind, assess_unit
from tests.centres.ready_centre import Centre
from tests.independent.drift import last_good_day

CELL = "C-NEW"


def with_a_new_cell(workplace: Workplace, clock: Any) -> Centre:
    """The small centre, with a cell in a head that nobody calibrated yet."""
    found = Centre(workplace, clock)
    remove_part(found.workplace, "LK-01", "cell 2", why="moved")
    fit_part(found.workplace, CELL, "LK-01", "cell 2")
    return found


@pytest.fixture
def centre(sqlite_database: Database, clock: Any) -> Centre:
    """Such a centre on a file; one test looks at both kinds of database."""
    return with_a_new_cell(Workplace(sqlite_database, clock), clock)


def calibrated(centre: Centre, linearity: list[float], every: int = 30, last: float = 1, verdict: str = "pass") -> None:
    """Workshop calibrations of the cell, the last of them yesterday."""
    with centre.act() as act:
        for back, value in enumerate(reversed(linearity)):
            row = act.add(
                Calibration(
                    unit_id=centre.one, at=centre.ago(last + every * back), made="workshop", pressure_mbar=1008.0,
                    pressure_source="measured", temperature_c=21.0, head="dry", vented="yes", settled="yes",
                    oxygen_shown_percent=99.6,
                )
            )  # fmt: skip
            act.add(
                CalibrationOutcome(
                    calibration_id=row.id, part_id=centre.part(CELL), slot_id=centre.keys.centre.cell_slots[1],
                    verdict=verdict, linearity=value, expanded_u=1.1, margin=3.0, air_mv=11.0, oxygen_mv=50.0,
                    verified_up_to_bar=1.0, finding="invented", next_step="none",
                )
            )  # fmt: skip
        refresh_forecasts(act, (centre.part(CELL),))


def row_of(centre: Centre, cell: str = CELL) -> CellRow:
    return next(row for row in list_cells(centre.workplace) if row.part.label == cell)


def item_of(centre: Centre, cell: str = CELL) -> DueItem:
    (item,) = (item for item in list_due(centre.workplace) if item.part == cell)
    return item


def kept(centre: Centre, cell: str = CELL) -> tuple[object, object]:
    with centre.workplace.database.reading() as connection:
        query = select(Fitting.forecast_day, Fitting.forecast_of)
        found = connection.execute(query.where(Fitting.part_id == centre.part(cell), Fitting.removed_at.is_(None)))
        day, measure = found.one()
        return day, measure


def test_the_day_that_is_foretold_governs_in_the_list_the_due_list_and_readiness(
    workplace: Workplace, clock: Any
) -> None:
    centre = with_a_new_cell(workplace, clock)
    # By hand: the cell falls 1 % in every 30 days to 97 %, so it meets 95 % for 60 days more. The last calibration was
    # yesterday.
    calibrated(centre, [100.0, 99.0, 98.0, 97.0])
    ends = centre.today + timedelta(days=59)
    row, item = row_of(centre), item_of(centre)
    assert (row.last_good_day, row.basis, row.projected, row.forecast_day) == (ends, FORECAST, True, ends)
    assert (item.last_good_day, item.basis, item.projected, item.days_left) == (ends, FORECAST, True, 59)
    assert "lower bound of linearity" in item.why
    page = cell_page(centre.workplace, row.part.part_id)
    assert (page.row.last_good_day, page.row.basis) == (ends, FORECAST)
    assert [(line.basis, line.projected) for line in page.limits if line.projected] == [(FORECAST, True)]

    def age_through(last: int) -> tuple[str, str]:
        answer = assess_unit(
            centre.workplace, "LK-01", centre.today, centre.today + timedelta(days=last), HandoverKind.KIT
        )
        (check,) = (check for check in answer.checks if check.check == "cell age")
        return str(check.result), check.evidence

    assert age_through(20)[0] == "ok"
    assert age_through(40)[0] == "advise"
    result, evidence = age_through(60)
    assert result == "stop"
    assert f"projected {ends} by forecast from its own calibrations" in evidence


def test_an_estimate_never_lengthens_a_life_and_a_reject_ends_the_cell_before_it(centre: Centre) -> None:
    aged = item_of(centre)
    calibrated(centre, [100.0, 99.8, 99.6, 99.4])
    assert item_of(centre) == aged
    assert row_of(centre).forecast_day > aged.last_good_day
    calibrated(centre, [99.0, 98.0, 97.0, 96.0], every=29, last=0.5)
    assert item_of(centre).basis == FORECAST
    centre.clock.advance(hours=1)
    calibrated(centre, [94.0], last=0, verdict="reject")
    assert (item_of(centre).basis, row_of(centre).basis) == (REJECT, REJECT)


def test_too_little_foretells_nothing_and_says_so(centre: Centre) -> None:
    aged = item_of(centre)
    calibrated(centre, [99.0, 98.0, 97.0], every=14)
    assert row_of(centre).forecast == "No forecast: 3 calibrations, and 4 are needed."
    calibrated(centre, [96.0], last=0)
    assert row_of(centre).forecast == "No forecast: calibrations span 29 days, and 30 are needed."
    assert (item_of(centre), kept(centre)) == (aged, (None, None))


def test_a_diver_s_calibrations_foretell_nothing(centre: Centre) -> None:
    for back, verdict in enumerate(("pass",) * 5):
        centre.calibrate(centre.one, 3 + 20 * back, verdict, made="diver")
    with centre.act() as act:
        act.change(act.get(Calibration, 1, "calibration"), note="so that something is written")
        assert refresh_forecasts(act) == 0
    assert row_of(centre, "C-LK-01-1").forecast.startswith("No forecast: 1 calibrations")


def test_what_is_foretold_moves_with_the_cell_and_a_rebuild_finds_what_differs(centre: Centre) -> None:
    calibrated(centre, [100.0, 99.0, 98.0, 97.0])
    before = kept(centre)
    remove_part(centre.workplace, "LK-01", "cell 2", why="moved")
    stored = row_of(centre)
    assert (stored.forecast_day, stored.forecast) == (None, "No forecast while it sits in no head.")
    remove_part(centre.workplace, "LK-02", "cell 2", why="moved")
    fit_part(centre.workplace, CELL, "LK-02", "cell 2")
    assert kept(centre) == before
    assert [each for each in rebuild_lives(centre.workplace) if "forecast" in str(each)] == []
    with centre.act() as act:
        query = select(Fitting).where(Fitting.forecast_day.is_not(None), Fitting.removed_at.is_(None))
        act.change(act.session.scalars(query).one(), forecast_day=None, forecast_of=None)
    (difference,) = (each for each in rebuild_lives(centre.workplace) if "forecast" in str(each))
    assert str(difference).endswith(f"none (no forecast) is kept, {before[0]} (forecast of linearity) follows from the "
                                    "records")  # fmt: skip


def test_what_is_foretold_goes_along_where_a_cell_is_moved_and_where_the_move_is_taken_back(centre: Centre) -> None:
    calibrated(centre, [100.0, 99.0, 98.0, 97.0])
    before = kept(centre)
    assert before != (None, None)
    move_fitted(centre.workplace, "LK-01", "cell 2", "LK-02", "cell 2", why_old="age")
    assert kept(centre) == before
    centre.clock.advance(minutes=1)
    undo_fitting(centre.workplace, "LK-02", "cell 2", "wrong unit")
    assert kept(centre) == before


def test_the_records_know_the_words_of_the_forecast() -> None:
    assert (LINEARITY, IN_AIR) == FORECAST_OF


SERIES = st.lists(
    st.tuples(st.integers(0, 40), st.integers(940, 1040).map(lambda tenths: tenths / 10)), min_size=3, max_size=25
)


@settings(max_examples=300, deadline=None)
@given(SERIES)
def test_the_forecast_day_is_that_of_a_calculation_over_all_pairs(steps: list[tuple[int, float]]) -> None:
    # Sen, J. Am. Stat. Assoc. 63 (1968) 1379, calculated apart in tests/independent/drift.py.
    day, on, values = date(2025, 1, 1), [], []
    for gap, value in steps:
        day += timedelta(days=gap)
        on.append(day)
        values.append(value)
    assert forecast(on, values, 95.0).last_good_day == last_good_day(on, values, 95.0)
