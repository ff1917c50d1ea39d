"""Stock by part type, and the cylinders."""

from datetime import date
from typing import Any

import pytest

from fleetbench.records.parts.tables import Part
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.orders import order_list
from fleetbench.workshop.parts.stock import StockRow, list_stock
from fleetbench.workshop.people.list import list_people
from fleetbench.workshop.tickets.work import open_ticket
from tests.centres.ready_centre import Centre, counted
from tests.conftest import Clock


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> Centre:
    """The small centre, its units fit to leave."""
    return Centre(workplace, clock)


def row(centre: Centre, code: str) -> StockRow:
    return next(each for each in list_stock(centre.workplace) if each.code == code)


def test_what_is_past_or_unknown_on_the_shelf_is_not_usable(centre: Centre) -> None:
    cells = row(centre, "CELL-L")
    assert (cells.on_hand, cells.usable, cells.expired, cells.unknown, cells.fitted) == (3, 1, 1, 1, 6)


def test_a_held_or_quarantined_part_is_not_on_hand(centre: Centre) -> None:
    centre.hold(part_id=centre.part("C-NEW"))
    centre.change(Part, centre.part("C-OLD"), state="quarantine")
    cells = row(centre, "CELL-L")
    assert (cells.on_hand, cells.usable, cells.quarantine) == (1, 0, 2)


def test_elastomer_storage_ends_on_the_shelf_and_the_soonest_is_named(centre: Centre) -> None:
    # Storage counts from the last day of the cure quarter (SAE ARP5316, second-hand): 2Q2021 plus 60 months.
    centre.change(Part, centre.part("V-NEW"), made_on=date(2021, 4, 1), made_precision="quarter")
    valves = row(centre, "OWV-L")
    assert (valves.first_to_expire, valves.expiring, valves.usable) == (date(2026, 6, 29), 1, 1)


def test_absorbent_is_counted_in_kilograms_by_its_containers(centre: Centre) -> None:
    lime = row(centre, "LIME-F")
    assert (lime.stocked_in, lime.on_hand, lime.usable, lime.expired, lime.unknown) == ("kg", 51.0, 26.0, 5.0, 20.0)


def test_absorbent_opened_too_long_ago_is_not_usable_though_in_date(centre: Centre, clock: Clock) -> None:
    # The canister type allows 336 hours since opening; the container of 6 kg was opened two days ago.
    clock.advance(days=13)
    lime = row(centre, "LIME-F")
    assert (lime.usable, lime.expired) == (20.0, 11.0)


def test_open_tickets_reserve_what_they_will_replace_and_say_for_what(centre: Centre) -> None:
    bench = centre.workplace.as_person(centre.keys.centre.technician)
    tasks = ("Replace cell 2 and calibrate", "Test valves")
    open_ticket(bench, "LK-01", cause="failed test", reason="low", tasks=tasks)
    cells = row(centre, "CELL-L")
    assert (cells.usable, cells.reserved, cells.free) == (1, 1, 0)
    assert cells.reserved_for == ("2026-001: LK-01, cell 2",)
    open_ticket(bench, "LK-02", cause="failed test", reason="low", tasks=("Replace all cells",))
    cells = row(centre, "CELL-L")
    assert (cells.reserved, cells.free) == (4, -3)
    lines = {line.code: line.reserved for line in order_list(centre.workplace)}
    assert {each.code: each.reserved for each in list_stock(centre.workplace) if each.code in lines} == lines


def test_the_lists_take_a_fixed_number_of_statements(centre: Centre, sample_workplace: Workplace) -> None:
    counts = []
    technician = next(each.person_id for each in list_people(sample_workplace) if each.role == "technician")
    for at, tag in ((centre.workplace.as_person(centre.keys.centre.technician), "LK-01"),
                    (sample_workplace.as_person(technician), "B-01")):  # fmt: skip
        open_ticket(at, tag, cause="failed test", reason="low", tasks=("Replace cell 2",))
    for workplace in (centre.workplace, sample_workplace):
        with counted(workplace) as seen:
            list_stock(workplace)
        counts.append(len(seen))
    assert counts[0] == counts[1]


def test_the_sample_fleet_has_cells_in_stock(sample_workplace: Workplace) -> None:
    cells = [each for each in list_stock(sample_workplace) if each.kind == "cell"]
    assert sum(each.on_hand for each in cells) >= 10
    assert sum(each.fitted for each in cells) == 42
