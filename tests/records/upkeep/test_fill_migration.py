"""The revision that adds what happens to a fill, on a database of the revision before with a fill in it."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine, create_engine, text
from sqlalchemy.pool import NullPool

from fleetbench.records.core.database import as_url
from fleetbench.records.upkeep import migrate

ROWS = (
    "INSERT INTO owner (id, name, kind) VALUES (1, 'the centre', 'centre')",
    "INSERT INTO part_type (id, code, name, kind, assembly, stocked_in, source)"
    " VALUES (1, 'CAN', 'Canister', 'canister', false, 'piece', 'invented')",
    "INSERT INTO part (id, part_type_id, serial, made_precision, opened_precision, fixed_precision, owner_id, state,"
    " version) VALUES (1, 1, 'K-1', 'day', 'day', 'day', 1, 'stock', 1)",
    "INSERT INTO fill (id, part_id, packed_at, mass_g) VALUES (1, 1, '2026-05-04 07:30:00.000000', 2480.5)",
)


@pytest.fixture(params=["sqlite", "postgresql"])
def engine(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Engine]:
    """An empty database, once as a SQLite file and once on PostgreSQL."""
    if request.param == "sqlite":
        yield create_engine(as_url(tmp_path / "old.db"), poolclass=NullPool)
        return
    server = request.getfixturevalue("server")
    name = "fill_migration"
    yield create_engine(as_url(server.fresh(name, template=None)), poolclass=NullPool)
    server.drop(name)


def test_a_fill_of_the_revision_before_keeps_its_mass_and_has_no_tare(engine: Engine) -> None:
    with engine.begin() as connection:
        migrate.upgrade(connection, "0001")
        for row in ROWS:
            connection.execute(text(row))
    with engine.begin() as connection:
        migrate.upgrade(connection, "0002")
    with engine.connect() as connection:
        kept = connection.execute(text("SELECT id, mass_g, tare_g, filled_g FROM fill")).all()
        assert [tuple(row) for row in kept] == [(1, 2480.5, None, None)]
        for table in ("fill_event", "run_correction", "stock_take"):
            assert connection.scalar(text(f"SELECT count(*) FROM {table}")) == 0
