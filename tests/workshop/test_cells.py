"""Cells in the list and on their page."""

from datetime import timedelta
from typing import Any

import pytest

from fleetbench.records.errors import NotFound
from fleetbench.records.parts import Part
from fleetbench.workshop.cells import cell_page, list_cells
from fleetbench.workshop.shop import Shop
from tests.ready_centre import Centre, counted


@pytest.fixture
def centre(shop: Shop, clock: Any) -> Centre:
    """The small centre, its units fit to leave."""
    return Centre(shop, clock)


def test_fitted_cells_come_first_with_place_ages_and_last_outcome(centre: Centre) -> None:
    first = list_cells(centre.shop)[0]
    assert (first.unit, first.head, first.position, first.verdict) == ("LK-01", "HEAD-L-LK-01", "cell 1", "pass")
    assert (first.linearity, first.expanded_u, first.air_mv) == (100.0, 1.1, 11.0)
    assert [(age.basis, age.age_days) for age in first.ages] == [("opened", 60), ("made", 60)]
    assert first.basis == "opened"
    assert [day for day, _ in first.trend] == [centre.today - timedelta(days=2)]


def test_a_cell_never_calibrated_has_no_verdict_and_one_without_dates_is_unknown(centre: Centre) -> None:
    rows = {row.serial: row for row in list_cells(centre.shop)}
    assert (rows["C-NEW"].verdict, rows["C-NEW"].life_state) == (None, "good")
    assert rows["C-OLD"].life_state == "past"
    assert (rows["C-UNDATED"].life_state, rows["C-UNDATED"].last_good_day) == ("unknown", None)


def test_a_sealed_cell_has_no_age_from_opening_but_a_used_one_without_the_date_is_unknown(centre: Centre) -> None:
    centre.change(Part, centre.part("C-LK-01-1"), opened_on=None)
    rows = {row.serial: row for row in list_cells(centre.shop)}
    assert rows["C-NEW"].basis == "made"
    assert rows["C-LK-01-1"].life_state == "unknown"


def test_the_worst_that_stands_is_shown_and_a_reject_ends_the_cell_the_day_before(centre: Centre) -> None:
    centre.calibrate(centre.one, 1, "reject")
    centre.calibrate(centre.one, 0.5, made="diver")
    row = next(row for row in list_cells(centre.shop) if row.serial == "C-LK-01-2")
    assert (row.verdict, row.basis) == ("reject", "reject")
    assert row.last_good_day == centre.today - timedelta(days=2)


def test_worn_cells_are_shown_on_request(centre: Centre) -> None:
    centre.change(Part, centre.part("C-OLD"), state="scrapped")
    assert "C-OLD" not in {row.serial for row in list_cells(centre.shop)}
    assert "C-OLD" in {row.serial for row in list_cells(centre.shop, include_worn=True)}


def test_the_page_tells_calibrations_fittings_limits_lot_mates_and_drift(centre: Centre) -> None:
    centre.calibrate(centre.one, 1, "watch")
    page = cell_page(centre.shop, centre.part("C-LK-01-2"))
    assert [line.verdict for line in page.calibrations] == ["watch", "pass"]
    assert [point.verdict for point in page.drift] == ["pass", "watch"]
    assert page.calibrations[0].person == "Tamsin Orrel"
    assert page.fittings[0].host == "HEAD-L-LK-01"
    assert {line.basis for line in page.limits} == {"opened", "made"}
    assert [(mate.serial, mate.unit) for mate in page.lot_mates] == [("C-LK-02-2", "LK-02")]
    with pytest.raises(NotFound):
        cell_page(centre.shop, centre.part("BATT-L-LK-01"))


def test_list_and_page_take_a_fixed_number_of_statements(centre: Centre, sample_shop: Shop) -> None:
    counts = []
    for shop in (centre.shop, sample_shop):
        cell = list_cells(shop)[0].part_id
        with counted(shop) as listed:
            list_cells(shop)
        with counted(shop) as opened:
            cell_page(shop, cell)
        counts.append((len(listed), len(opened)))
    assert counts[0] == counts[1]


def test_every_fitted_cell_of_the_sample_fleet_stands_once_with_an_outcome(sample_shop: Shop) -> None:
    fitted = [row for row in list_cells(sample_shop) if row.unit is not None]
    assert len(fitted) == len({(row.unit, row.position) for row in fitted}) == 42
    assert all(row.verdict is not None for row in fitted)
