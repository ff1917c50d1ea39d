"""Which units a change of what is read reaches: its own, those of its parts, or all where that is unsure."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from fleetbench.records.readiness.reads import FleetRecords, read_fleet
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.units.fleet import ALL, MADE_ONCE, REACH, fields_of, units_changed
from tests.centres.ready_centre import Centre


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> Centre:
    return Centre(workplace, clock)


@pytest.fixture
def records(centre: Centre) -> FleetRecords:
    return read_again(centre)


def read_again(centre: Centre) -> FleetRecords:
    with centre.workplace.database.reading() as connection:
        return read_fleet(connection)


def with_field(records: Any, place: str, value: Any) -> Any:
    """The records with another value in one place."""
    name, _, within = place.partition(".")
    return replace(records, **{name: with_field(getattr(records, name), within, value) if within else value})


def test_every_field_that_is_read_of_the_fleet_has_its_reach(records: FleetRecords) -> None:
    assert {place for place, _ in fields_of(records)} == REACH.keys() | MADE_ONCE


def test_what_was_read_again_and_is_equal_reaches_no_unit(centre: Centre, records: FleetRecords) -> None:
    assert units_changed(records, read_again(centre)) == set()


def filled(records: FleetRecords) -> Iterator[tuple[str, Any]]:
    return ((place, value) for place, value in fields_of(records) if place not in MADE_ONCE and value)


def test_a_row_that_goes_or_comes_is_noticed_in_every_field(records: FleetRecords) -> None:
    """Rows of parts on a shelf, and of people who have nothing to do with a unit, reach none."""
    units, reached = {each.unit_id for each in records.units}, dict[str, Any]()
    for place, value in filled(records):
        if isinstance(value, (tuple, list)):
            fewer: Any = value[1:]
        elif isinstance(value, dict):
            fewer = dict([*value.items()][1:])
        elif isinstance(value, frozenset):
            fewer = value - {min(value)}
        else:
            fewer = None
        less = with_field(records, place, fewer)
        reached[place] = units_changed(records, less)
        assert units_changed(less, records) == reached[place], place
    of_all = {place for place, found in reached.items() if found is None}
    assert of_all == {place for place, _ in filled(records) if REACH[place] == ALL}
    assert all(found <= units for found in reached.values() if found is not None)
    lead_nowhere = {place for place, found in reached.items() if found == set()}
    assert lead_nowhere <= {"catalogue.names", "checks.papers", "lives.first_fitted", "lives.test_rows", "gas.kept"}


def test_a_field_that_nobody_thought_of_reaches_every_unit(
    records: FleetRecords, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delitem(REACH, "holds")
    assert units_changed(records, replace(records, holds=(*records.holds, "another"))) is None


def test_use_of_a_unit_reaches_those_in_which_what_it_wore_sits_now(centre: Centre, records: FleetRecords) -> None:
    """A part carries the hours of every unit in which it sat, also inside a head that sat there."""
    moved = next(part.part_id for fitting, part in records.fitted if fitting.unit_id == centre.two)
    key, run = records.lives.key, (centre.one, None, records.lives.key(centre.ago(30)), 60.0, 1, 0)
    alone = replace(records, lives=replace(records.lives, runs=[*records.lives.runs, run]))
    stays = [*records.lives.stays, (moved, centre.one, None, key(centre.ago(40)), key(centre.ago(20)))]
    sat = replace(records, lives=replace(records.lives, stays=stays))
    head = 10_001
    inside = [*records.lives.stays, (moved, None, head, key(centre.ago(40)), key(centre.ago(20))),
              (head, centre.one, None, key(centre.ago(50)), None)]  # fmt: skip
    sat_inside = replace(records, lives=replace(records.lives, stays=inside))
    for before in (sat, sat_inside):
        ran = replace(before, lives=replace(before.lives, runs=[*before.lives.runs, run]))
        assert units_changed(before, ran) == {centre.one, centre.two}
    assert units_changed(records, alone) >= {centre.one}
    assert units_changed(sat_inside, replace(records, lives=replace(records.lives, stays=inside[:-1]))) == {centre.two}


def test_rows_of_a_unit_in_another_order_are_another_state(centre: Centre, records: FleetRecords) -> None:
    mine = [each for each in records.tests if each.unit_id == centre.one]
    others = [each for each in records.tests if each.unit_id != centre.one]
    assert units_changed(records, replace(records, tests=(*others, *mine))) == set()
    turned = [mine[1], mine[0], *mine[2:]]
    assert centre.one in (units_changed(records, replace(records, tests=(*turned, *others))) or ())


def test_a_part_that_moved_reaches_the_unit_it_left_and_the_one_it_is_in(centre: Centre, records: FleetRecords) -> None:
    fitting, part = next(each for each in records.fitted if each.fitting.unit_id == centre.one)
    there = replace(fitting, unit_id=centre.two, fitted_at=fitting.fitted_at + timedelta(hours=1))
    fitted = tuple(type(each)(there, part) if each.fitting is fitting else each for each in records.fitted)
    assert units_changed(records, replace(records, fitted=fitted)) == {centre.one, centre.two}
