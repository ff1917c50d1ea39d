"""Everything from which lives are reckoned, in a fixed number of reads."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection

from fleetbench.records.cells.reads import read_forecasts
from fleetbench.records.core.record_rows import Query
from fleetbench.records.parts.judgements import JudgementRecord, read_judgements
from fleetbench.records.parts.reads import (
    LifeRecord,
    PartTestRecord,
    StayRow,
    TestRow,
    as_day,
    read_first_fitted,
    read_stays_where_use_counts,
    read_test_rows,
)
from fleetbench.records.parts.reads import read_lives as read_life_limits
from fleetbench.records.units.read_use import (
    LineRow,
    PromiseRecord,
    UseRow,
    moment_key,
    read_line_use,
    read_promises,
    read_run_use,
)


@dataclass(frozen=True, slots=True)
class LifeRecords:
    """Limits, periodic tests, and use with the fittings that say which part it wore.

    key: brings a moment into the form of the times in stays, runs and lines.
    first_fitted: when a part that was taken out since was first fitted, where a life counts from fitting.
    forecasts: day and measure that a fitted cell's own calibrations foretell.
    judgements: what measurements said of the parts that one of them ever rejected.
    Use is of every unit, since a part carries the hours of every unit in which it sat.
    """

    limits: tuple[LifeRecord, ...]
    test_rows: list[TestRow]
    stays: list[StayRow]
    runs: list[UseRow]
    lines: list[LineRow]
    promises: tuple[PromiseRecord, ...]
    key: Callable[[datetime | None], Any]
    first_fitted: Mapping[int, datetime]
    forecasts: Mapping[int, tuple[date, str]]
    judgements: tuple[JudgementRecord, ...] = ()

    @property
    def tests(self) -> tuple[PartTestRecord, ...]:
        """The periodic tests, oldest first."""
        return tuple(
            PartTestRecord(part_id, kind, as_day(done_on), precision, bool(passed), done_by)
            for part_id, kind, done_on, precision, passed, done_by in self.test_rows
        )


def read_life_records(connection: Connection, parts: Query | tuple[int, ...] | None = None) -> LifeRecords:
    """What lives are reckoned from; the tests of given parts only where they are given; eleven statements."""
    return LifeRecords(
        read_life_limits(connection),
        read_test_rows(connection, parts),
        read_stays_where_use_counts(connection),
        read_run_use(connection),
        read_line_use(connection),
        read_promises(connection),
        moment_key(connection),
        read_first_fitted(connection),
        read_forecasts(connection),
        read_judgements(connection, parts),
    )
