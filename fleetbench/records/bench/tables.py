"""Openings of the loop and the measured checks that follow them.

What measurements are made with.
"""

from datetime import date, datetime

from sqlalchemy import UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.calc.bench.leak_places import LEAK_METHODS
from fleetbench.calc.core.plausible import Tool
from fleetbench.calc.core.verdict import Verdict
from fleetbench.calc.parts.kinds import OpeningKind
from fleetbench.calc.tickets.signing import TEST_KINDS
from fleetbench.records.core.schema import Base, Key, OwnWord, Ref, Words, one_of, to

TESTS = TEST_KINDS
"""Kinds of bench test, as the rules name them."""


DIRECTIONS = ("inhale", "exhale", "both")


class Opening(Base):
    """A loop or gas side was opened: workshop work (a release test must follow) or routine."""

    __tablename__ = "opening"
    id: Mapped[Key]
    ref: Mapped[Ref]
    unit_id: Mapped[int] = to("unit")
    at: Mapped[datetime]
    kind: Mapped[str] = mapped_column(OwnWord(10))
    what: Mapped[str] = mapped_column(Words(200))
    person_id: Mapped[int | None] = to("person", nullable=True)
    ticket_id: Mapped[int | None] = to("ticket", nullable=True)
    __table_args__ = (one_of("kind", OpeningKind),)


class BenchTest(Base):
    """A measured check other than a calibration; held or fell is full evidence, the figure is extra."""

    __tablename__ = "bench_test"
    id: Mapped[Key]
    ref: Mapped[Ref]
    unit_id: Mapped[int] = to("unit")
    part_id: Mapped[int | None] = to("part", nullable=True)
    kind: Mapped[str] = mapped_column(OwnWord(24))
    direction: Mapped[str | None] = mapped_column(OwnWord(10))
    at: Mapped[datetime]
    person_id: Mapped[int | None] = to("person", nullable=True)
    ticket_id: Mapped[int | None] = to("ticket", nullable=True)
    equipment_id: Mapped[int | None] = to("test_equipment", nullable=True)
    held: Mapped[bool | None]
    watched_minutes: Mapped[float | None]
    value: Mapped[float | None]
    unit: Mapped[str | None] = mapped_column(Words(12))
    supply_bar: Mapped[float | None]
    result: Mapped[str] = mapped_column(OwnWord(8))
    supersedes_id: Mapped[int | None] = to("bench_test", nullable=True)
    note: Mapped[str | None]
    expanded_u: Mapped[float | None]
    finding: Mapped[str | None] = mapped_column(Words(600))
    __table_args__ = (
        one_of("kind", TESTS),
        one_of("direction", DIRECTIONS),
        one_of("result", Verdict),
    )


class BenchReading(Base):
    """One raw figure of a measured test as it was read: what, when, with which equipment."""

    __tablename__ = "bench_reading"
    id: Mapped[Key]
    bench_test_id: Mapped[int] = to("bench_test", index=False)
    ordinal: Mapped[int]
    at: Mapped[datetime]
    quantity: Mapped[str] = mapped_column(Words(24))
    value: Mapped[float]
    unit: Mapped[str] = mapped_column(Words(12))
    equipment_id: Mapped[int | None] = to("test_equipment", nullable=True)
    __table_args__ = (UniqueConstraint("bench_test_id", "ordinal"),)


class LoopLeak(Base):
    """Where a loop leaked and how that was found, under the loop test that did not hold.

    slot_id: the slot of the drawing, None where the place is told in words alone.
    """

    __tablename__ = "leak"
    id: Mapped[Key]
    ref: Mapped[Ref]
    bench_test_id: Mapped[int] = to("bench_test")
    slot_id: Mapped[int | None] = to("slot", nullable=True)
    place: Mapped[str | None] = mapped_column(Words(120))
    method: Mapped[str] = mapped_column(OwnWord(30))
    at: Mapped[datetime]
    person_id: Mapped[int | None] = to("person", nullable=True)
    ticket_id: Mapped[int | None] = to("ticket", nullable=True)
    supersedes_id: Mapped[int | None] = to("leak", nullable=True)
    __table_args__ = (one_of("method", LEAK_METHODS),)


class TestEquipment(Base):
    """An analyser, barometer, gauge or scale with its uncertainty and last good day.

    uncertainty: standard, of one reading; digit: what the last place of its display stands for; both in `unit`, as are
    range_low and range_high. Of one that is read by itself: its VISA address, the query of a reading, the unit of its
    answers, and what it answers to *IDN?.
    """

    __test__ = False
    __tablename__ = "test_equipment"
    id: Mapped[Key]
    ref: Mapped[Ref]
    kind: Mapped[str] = mapped_column(OwnWord(20))
    name: Mapped[str] = mapped_column(Words(120))
    serial: Mapped[str] = mapped_column(Words(60), unique=True)
    uncertainty: Mapped[float | None]
    unit: Mapped[str | None] = mapped_column(Words(12))
    last_good_day: Mapped[date | None]
    digit: Mapped[float | None]
    address: Mapped[str | None] = mapped_column(Words(120))
    query: Mapped[str | None] = mapped_column(Words(80))
    answer_unit: Mapped[str | None] = mapped_column(Words(12))
    range_low: Mapped[float | None]
    range_high: Mapped[float | None]
    idn: Mapped[str | None] = mapped_column(Words(256))
    __table_args__ = (one_of("kind", Tool),)
