"""The revision that adds raw readings of bench tests, on a database of the revision before with a test in it."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine, create_engine, text
from sqlalchemy.exc import IntegrityError
from sqlalchemy.pool import NullPool

from fleetbench.records.core.database import as_url
from fleetbench.records.upkeep import migrate

ROWS = (
    "INSERT INTO owner (id, name, kind) VALUES (1, 'the centre', 'centre')",
    "INSERT INTO unit_type (id, code, name, build, manual) VALUES (1, 'T', 'Type T', 'back-mounted', 'invented')",
    "INSERT INTO unit (id, tag, unit_type_id, serial, owner_id, in_service_on, version)"
    " VALUES (1, 'U-1', 1, 'S-1', 1, '2025-01-01', 1)",
    "INSERT INTO test_equipment (id, kind, name, serial, uncertainty, unit)"
    " VALUES (1, 'gauge', 'Gauge', 'G-1', 0.05, 'bar')",
    "INSERT INTO bench_test (id, unit_id, kind, at, equipment_id, held, value, unit, result)"
    " VALUES (1, 1, 'intermediate pressure', '2026-05-04 07:30:00.000000', 1, true, 9.4, 'bar', 'pass')",
)
READING = (
    "INSERT INTO bench_reading (id, bench_test_id, ordinal, at, quantity, value, unit, equipment_id)"
    " VALUES ({0}, 1, 1, '2026-05-04 07:30:00.000000', 'pressure', 9.4, 'bar', 1)"
)


@pytest.fixture(params=["sqlite", "postgresql"])
def engine(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Engine]:
    """An empty database, once as a SQLite file and once on PostgreSQL."""
    if request.param == "sqlite":
        yield create_engine(as_url(tmp_path / "old.db"), poolclass=NullPool)
        return
    server = request.getfixturevalue("server")
    name = "bench_migration"
    yield create_engine(as_url(server.fresh(name, template=None)), poolclass=NullPool)
    server.drop(name)


def test_a_test_of_the_revision_before_keeps_its_figure_and_has_no_raw_readings(engine: Engine) -> None:
    with engine.begin() as connection:
        migrate.upgrade(connection, "0003")
        for row in ROWS:
            connection.execute(text(row))
    with engine.begin() as connection:
        migrate.upgrade(connection, "0004")
    with engine.connect() as connection:
        kept = connection.execute(text("SELECT value, unit, result, expanded_u, finding FROM bench_test")).all()
        assert [tuple(row) for row in kept] == [(9.4, "bar", "pass", None, None)]
        assert connection.scalar(text("SELECT digit FROM test_equipment")) is None
        assert connection.scalar(text("SELECT count(*) FROM bench_reading")) == 0


def test_two_raw_readings_of_one_test_never_stand_in_one_place(engine: Engine) -> None:
    with engine.begin() as connection:
        migrate.upgrade(connection, "0004")
        for row in ROWS:
            connection.execute(text(row))
        connection.execute(text(READING.format(1)))
    with pytest.raises(IntegrityError), engine.begin() as connection:
        connection.execute(text(READING.format(2)))
