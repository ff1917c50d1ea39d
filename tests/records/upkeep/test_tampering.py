"""Single bytes and single rows that were tampered with are all found; so are fittings and tickets that break a rule."""

from pathlib import Path
from typing import Any, cast

import pytest
from sqlalchemy import Table, text

from fleetbench.records.core.database import Database
from fleetbench.records.parts.tables import Fitting
from fleetbench.records.tickets.tables import Ticket
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.tickets.work import open_ticket
from tests.centres.bench_centre import Keys, write_centre
from tests.fuzz_tampering import tamper

SHORT = 40


@pytest.fixture
def workplace(database: Database, clock: Any) -> Workplace:
    """An empty workplace on either database."""
    return Workplace(database, clock)


@pytest.fixture
def keys(workplace: Workplace, clock: Any) -> Keys:
    """The small centre, written."""
    return write_centre(workplace.database, clock())


def test_random_single_bytes_and_rows_tampered_with_are_all_found(tmp_path: Path) -> None:
    assert tamper(tmp_path, SHORT) == []


def test_a_part_written_into_two_places_is_named_where_the_database_lost_its_own_rule(
    workplace: Workplace, keys: Keys
) -> None:
    table = cast("Table", Fitting.__table__)
    with workplace.database.engine.begin() as connection:
        for index in table.indexes:
            if index.unique:
                connection.execute(text(f"DROP INDEX {index.name}"))
    with workplace.transaction("write", "fitting") as act:
        first = act.get(Fitting, 1, "fitting")
        act.add(Fitting(part_id=first.part_id, slot_id=keys.cell_slots[0], unit_id=keys.units[1], fitted_at=act.at))
        part = first.part_id
    assert verify(workplace.database).first_break == f"part row {part}: sits in two places at once"


def test_a_part_that_came_out_before_it_went_in_is_named(workplace: Workplace, keys: Keys, clock: Any) -> None:
    with workplace.transaction("write", "fitting") as act:
        first = act.get(Fitting, 1, "fitting")
        act.change(first, removed_at=first.fitted_at.replace(year=2001))
    assert verify(workplace.database).first_break == "fitting row 1: the part was removed before it was fitted"


def test_a_ticket_number_that_was_left_out_is_named(workplace: Workplace, keys: Keys) -> None:
    bench = workplace.as_person(keys.technician)
    open_ticket(bench, "LK-01", cause="by hand", reason="look")
    assert verify(workplace.database).whole
    with workplace.transaction("write", "ticket") as act:
        act.add(Ticket(year=2026, number=3, unit_id=keys.units[0], cause="by hand", reason="look", opened_at=act.at,
                       opened_by_id=keys.technician))  # fmt: skip
    assert verify(workplace.database).first_break == "ticket 2026-002: is missing; the next one is 2026-003"
