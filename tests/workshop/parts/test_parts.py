"""One part with its limits, where it has been, and what it was used."""

from typing import Any

import pytest
from sqlalchemy import select

from fleetbench.records.core.errors import NotFound
from fleetbench.records.parts.tables import Fitting
from fleetbench.workshop.cells.list import list_cells
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.list import part_page
from fleetbench.workshop.parts.stock import list_shelf
from fleetbench.workshop.units.list import unit_page
from tests.centres.ready_centre import Centre, counted


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> Centre:
    """The small centre, its units fit to leave."""
    return Centre(workplace, clock)


def test_a_fitted_part_shows_its_unit_slot_limits_and_use(centre: Centre) -> None:
    fill = centre.pack(10)
    centre.run(centre.one, fill, 5, 90, dives=2)
    page = part_page(centre.workplace, centre.part("inh-LK-01"))
    assert (page.unit, page.slot, page.part.state) == ("LK-01", "inhale one-way valve", "fitted")
    assert (page.hours, page.dives) == (1.5, 2)
    # Its storage limit says nothing of a fitted part.
    assert [limit.basis for limit in page.limits] == ["fitted"]
    assert page.fittings[0].host == "LOOP-L-LK-01"


def test_a_part_taken_out_keeps_its_story(centre: Centre) -> None:
    battery = centre.part("BATT-L-LK-01")
    with centre.act() as act:
        row = act.session.scalars(select(Fitting).where(Fitting.part_id == battery)).one()
        act.change(row, removed_at=centre.ago(1), why_removed="fault")
    page = part_page(centre.workplace, battery)
    assert (page.unit, page.slot, page.units_touched) == (None, None, ("LK-01",))
    assert page.fittings[0].why_removed == "fault"
    with pytest.raises(NotFound):
        part_page(centre.workplace, 999_999)


def test_the_page_takes_a_fixed_number_of_statements(centre: Centre, sample_workplace: Workplace) -> None:
    counts = []
    for workplace in (centre.workplace, sample_workplace):
        with counted(workplace) as seen:
            part_page(workplace, 1)
        counts.append(len(seen))
    assert counts[0] == counts[1]


def test_every_cell_and_every_part_on_the_shelf_has_one_condition_on_every_list_and_page(
    sample_workplace: Workplace,
) -> None:
    cells = {row.part.part_id: row.condition for row in list_cells(sample_workplace)}
    shelf = {row.part.part_id: row.condition for row in list_shelf(sample_workplace)}
    fitted = {
        part.part_id: part.condition for tag in ("B-07", "C-05") for part in unit_page(sample_workplace, tag).fitted
    }
    assert {part_id: found.state for part_id, found in cells.items() if part_id in shelf} == {
        part_id: state for part_id, state in shelf.items() if part_id in cells
    }
    asked = [part_id for part_id in fitted if part_id is not None]
    asked += sorted(cells)[::6]
    for part_id in asked:
        known = fitted.get(part_id) or cells[part_id]
        assert known is not None and part_page(sample_workplace, part_id).condition == known
    assert "rejected" in {found.state for found in fitted.values() if found is not None}
