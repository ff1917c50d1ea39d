"""Bench sessions, calibrations with their raw readings, outcomes, and what was set in the handsets."""

from datetime import datetime

from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.calc.cells.decision import Reason
from fleetbench.calc.cells.readings import Answer, CellPoint, HeadState, MadeBy, PressureSource
from fleetbench.calc.core.verdict import Verdict
from fleetbench.records.core.schema import Base, Key, OwnWord, Ref, Words, one_of, to


class BenchSession(Base):
    """Conditions and gas, entered once, for all heads of a morning."""

    __tablename__ = "bench_session"
    id: Mapped[Key]
    ref: Mapped[Ref]
    started_at: Mapped[datetime]
    person_id: Mapped[int] = to("person")
    pressure_mbar: Mapped[float]
    pressure_source: Mapped[str] = mapped_column(Words(12))
    temperature_c: Mapped[float]
    humidity: Mapped[float | None]
    oxygen_shown_percent: Mapped[float | None]
    analyser_id: Mapped[int | None] = to("test_equipment", nullable=True)
    barometer_id: Mapped[int | None] = to("test_equipment", nullable=True)
    hygrometer_id: Mapped[int | None] = to("test_equipment", nullable=True)
    ended_at: Mapped[datetime | None]
    __table_args__ = (one_of("pressure_source", PressureSource),)


class Calibration(Base):
    """One session on one unit: conditions as they were, and what became of it."""

    __tablename__ = "calibration"
    id: Mapped[Key]
    ref: Mapped[Ref]
    unit_id: Mapped[int] = to("unit")
    session_id: Mapped[int | None] = to("bench_session", nullable=True)
    person_id: Mapped[int | None] = to("person", nullable=True)
    at: Mapped[datetime] = mapped_column(index=True)
    made: Mapped[str] = mapped_column(OwnWord(10))
    pressure_mbar: Mapped[float]
    pressure_source: Mapped[str] = mapped_column(Words(12))
    temperature_c: Mapped[float]
    oxygen_temperature_c: Mapped[float | None]
    humidity: Mapped[float | None]
    oxygen_shown_percent: Mapped[float | None]
    analyser_id: Mapped[int | None] = to("test_equipment", nullable=True)
    barometer_id: Mapped[int | None] = to("test_equipment", nullable=True)
    head: Mapped[str] = mapped_column(OwnWord(8))
    vented: Mapped[str] = mapped_column(OwnWord(8))
    over_pressure_mbar: Mapped[float | None]
    settled: Mapped[str] = mapped_column(OwnWord(8))
    comparison_id: Mapped[int | None] = to("calibration", nullable=True)
    ticket_id: Mapped[int | None] = to("ticket", nullable=True)
    supersedes_id: Mapped[int | None] = to("calibration", nullable=True)
    supersedes_reason: Mapped[str | None]
    note: Mapped[str | None]
    __table_args__ = (
        one_of("made", MadeBy),
        one_of("pressure_source", PressureSource),
        one_of("head", HeadState),
        one_of("vented", Answer),
        one_of("settled", Answer),
    )


class CalibrationReading(Base):
    """One figure that one reader showed of one cell at one point; nothing where it was not read."""

    __tablename__ = "calibration_reading"
    id: Mapped[Key]
    calibration_id: Mapped[int] = to("calibration")
    part_id: Mapped[int] = to("part")
    slot_id: Mapped[int] = to("slot", index=False)
    reader_id: Mapped[int] = to("reader", index=False)
    point: Mapped[str] = mapped_column(Words(8))
    mv: Mapped[float | None]
    po2_shown_bar: Mapped[float | None]
    pot_bar: Mapped[float | None]
    seconds: Mapped[float | None]
    __table_args__ = (one_of("point", CellPoint),)


class CalibrationOutcome(Base):
    """What a calibration said of one cell, with the reason and the pot pressure that the next visit's ladder counts.

    reason: None where it was judged before that was kept; such a visit is judged again from its readings.
    """

    __tablename__ = "calibration_outcome"
    id: Mapped[Key]
    calibration_id: Mapped[int] = to("calibration")
    part_id: Mapped[int] = to("part")
    slot_id: Mapped[int] = to("slot", index=False)
    verdict: Mapped[str] = mapped_column(Words(8))
    linearity: Mapped[float | None]
    expanded_u: Mapped[float | None]
    margin: Mapped[float | None]
    air_mv: Mapped[float | None]
    oxygen_mv: Mapped[float | None]
    reader_gap_bar: Mapped[float | None]
    verified_up_to_bar: Mapped[float | None]
    blame: Mapped[str | None] = mapped_column(Words(12))
    reason: Mapped[str | None] = mapped_column(Words(20))
    limited_from_bar: Mapped[float | None]
    limited_proven: Mapped[bool | None]
    finding: Mapped[str]
    next_step: Mapped[str]
    __table_args__ = (one_of("verdict", Verdict), one_of("reason", Reason))


class HandsetSetting(Base):
    """The calibration stored in a handset itself: what was set in it and what it displayed after."""

    __tablename__ = "handset_setting"
    id: Mapped[Key]
    ref: Mapped[Ref]
    calibration_id: Mapped[int | None] = to("calibration", nullable=True)
    unit_id: Mapped[int] = to("unit")
    reader_id: Mapped[int] = to("reader")
    at: Mapped[datetime]
    fraction_set: Mapped[float | None]
    pressure_set_mbar: Mapped[float | None]
    shown_oxygen_bar: Mapped[float | None]
    shown_air_bar: Mapped[float | None]
