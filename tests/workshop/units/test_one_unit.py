"""What is read of one unit, or of one part, says what the whole fleet's records say of it, and reads far less.

A part carries the use of every unit in which it ever sat, itself or inside an assembly: the random fleets move parts
and heads between units.
"""

import random
from collections import defaultdict
from pathlib import Path

import pytest

from fleetbench.calc.cells.spread import NEAR_AGE_DAYS
from fleetbench.records.parts.lives import read_life_records
from fleetbench.records.parts.reads import read_fitted, read_fittings_of, read_parts, read_slots
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.workshop.cells.list import list_cells
from fleetbench.workshop.core.workplace import Workplace, day_of
from fleetbench.workshop.import_export.import_folder import import_folder
from fleetbench.workshop.parts.lives import book_of, calendar_book, marked
from fleetbench.workshop.tickets.service_plan import ServiceBook, service_lines
from fleetbench.workshop.units.fleet import one_unit, plan_in, unit_of_tag, whole_fleet
from tests.centres.random_fleet import NOW, RandomFleet


@pytest.fixture(params=["sample", 3, 7])
def fleet_workplace(request: pytest.FixtureRequest, tmp_path: Path) -> Workplace:
    """The sample's centre, and random fleets of which parts were moved about."""
    if request.param == "sample":
        return request.getfixturevalue("sample_workplace")
    folder = RandomFleet(random.Random(request.param)).with_more(3).write(tmp_path / "sheets")
    workplace = Workplace(open_database(tmp_path / "fleet.sqlite"), lambda: NOW)
    request.addfinalizer(workplace.database.close)
    assert not import_folder(workplace, folder).faults
    return workplace


def test_lives_and_use_of_one_unit_are_those_of_the_whole_fleet(fleet_workplace: Workplace) -> None:
    fleet = whole_fleet(fleet_workplace)
    for unit in fleet.records.units:
        alone = one_unit(fleet_workplace, unit.tag)
        key = unit.unit_id
        assert alone.seats(key) == fleet.seats(key)
        assert [alone.life(seat, key) for seat in alone.seats(key)] == [
            fleet.life(seat, key) for seat in fleet.seats(key)
        ]
        assert alone.book.use.of_unit(key) == fleet.book.use.of_unit(key)
        assert alone.book.use.pace(key) == fleet.book.use.pace(key)
        with fleet_workplace.database.reading() as connection:
            found = unit_of_tag(connection, unit.tag)
            for plan in (plan_in(connection, key), plan_in(connection)):
                assert tuple(plan.of_unit(found)) == fleet.seats(key)


def test_the_life_of_one_part_is_the_one_it_has_among_all(fleet_workplace: Workplace) -> None:
    day = day_of(fleet_workplace)
    with fleet_workplace.database.reading() as connection:
        parts, fitted = read_parts(connection), {part.part_id: fitting for fitting, part in read_fitted(connection)}
        stays = read_fittings_of(connection, tuple(part.part_id for part in parts))
        everything = book_of(read_life_records(connection), day, stays)
        calendar = calendar_book(connection)
        for part in parts[:: max(1, len(parts) // 60)]:
            own = tuple(each for each in stays if each.part_id == part.part_id)
            alone = book_of(read_life_records(connection, (part.part_id,)), day, own)
            assert alone.use.of_part(part.part_id) == everything.use.of_part(part.part_id)
            assert alone.use.units_of(part.part_id) == everything.use.units_of(part.part_id)
            at = fitted[part.part_id].fitted_at if part.part_id in fitted else None
            assert alone.last_good_days(part, at, None) == everything.last_good_days(part, at, None)
            if at is not None:
                assert calendar_book(connection, (part.part_id,)).of(part, at) == calendar.of(part, at)


def test_the_plan_of_one_unit_is_due_as_the_whole_fleet_says(sample_workplace: Workplace) -> None:
    fleet = whole_fleet(sample_workplace)
    turn = fleet.records.turn
    book = ServiceBook(turn.service, fleet.book.use, fleet.day)
    for unit in fleet.records.units:
        due = book.due(unit.unit_id, unit.unit_type_id, turn.floods.get(unit.unit_id))
        expected = {task.service_task_id: (one.day, one.due, one.why) for task, one in due}
        found = service_lines(sample_workplace, unit.tag)
        assert {each.service_task_id: (each.last_good_day, each.due, each.why) for each in found} == expected


def test_a_cell_shares_what_every_pair_of_its_head_says(sample_workplace: Workplace) -> None:
    with sample_workplace.database.reading() as connection:
        fitted, slots = read_fitted(connection), read_slots(connection)
    shared: dict[int, set[str]] = defaultdict(set)
    cells = [(sits, part) for sits, part in fitted if slots[sits.slot_id].kind == "cell"]
    for sits, part in cells:
        for other, mate in cells:
            if other.host_part_id != sits.host_part_id or mate.part_id == part.part_id:
                continue
            made = [marked(each.made_on, each.made_precision) for each in (part, mate)]
            near = None not in made and abs((made[0].first_day - made[1].first_day).days) <= NEAR_AGE_DAYS
            if (part.lot is not None and part.lot == mate.lot) or near:
                shared[part.part_id].add(slots[other.slot_id].name)
    rows = {row.part.part_id: row.shared for row in list_cells(sample_workplace)}
    assert {key: words is not None for key, words in rows.items()} == {key: key in shared for key in rows}
    for key, names in shared.items():
        if rows.get(key):
            assert all(name in rows[key] for name in names)
