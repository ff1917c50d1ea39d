"""The catalogue of part types, the parts, and where each part sat from when to when.

What happens to a part outside its slots: received, opened, moved, set aside, sent back, scrapped, counted.
"""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.calc.core.wall_time import Precision
from fleetbench.calc.parts.kinds import PartState, ShelfEvent
from fleetbench.calc.parts.life import RECORDED_BASES, LimitUnit
from fleetbench.records.core.schema import Base, Key, OwnWord, Ref, Words, one_of, one_while, to

PART_TESTS = ("hydrostatic", "visual", "service", "oxygen clean", "calibration")
FORECAST_OF = ("linearity", "mV in air")
WHY_REMOVED = ("age", "low output", "fault", "service", "moved", "wrong part", "other")


class PartType(Base):
    """A catalogue entry; its life limits and ratings hang on it."""

    __tablename__ = "part_type"
    id: Mapped[Key]
    ref: Mapped[Ref]
    code: Mapped[str] = mapped_column(Words(40), unique=True)
    name: Mapped[str] = mapped_column(Words(120))
    kind: Mapped[str] = mapped_column(OwnWord(40), index=True)
    assembly: Mapped[bool] = mapped_column(default=False)
    grade: Mapped[str | None] = mapped_column(Words(40))
    stocked_in: Mapped[str] = mapped_column(OwnWord(10), default="piece")
    lead_days: Mapped[int | None]
    pack_size: Mapped[float | None]
    price: Mapped[float | None]
    source: Mapped[str] = mapped_column(Words(300))
    __table_args__ = (one_of("stocked_in", ("piece", "kg")),)


class PartTypeLife(Base):
    """One life limit of a part type, with its source."""

    __tablename__ = "part_type_life"
    id: Mapped[Key]
    ref: Mapped[Ref]
    part_type_id: Mapped[int] = to("part_type")
    basis: Mapped[str] = mapped_column(OwnWord(20))
    amount: Mapped[float]
    unit: Mapped[str] = mapped_column(OwnWord(10))
    test: Mapped[str | None] = mapped_column(Words(20))
    source: Mapped[str] = mapped_column(Words(300))
    __table_args__ = (
        one_of("basis", RECORDED_BASES),
        one_of("unit", LimitUnit),
    )


class Part(Base):
    """One physical item, with serial or lot; dates keep the precision that is marked."""

    __tablename__ = "part"
    id: Mapped[Key]
    ref: Mapped[Ref]
    part_type_id: Mapped[int] = to("part_type")
    serial: Mapped[str | None] = mapped_column(Words(60))
    lot: Mapped[str | None] = mapped_column(Words(60), index=True)
    made_on: Mapped[date | None]
    made_precision: Mapped[str] = mapped_column(Words(10), default="day")
    opened_on: Mapped[date | None]
    opened_precision: Mapped[str] = mapped_column(Words(10), default="day")
    received_on: Mapped[date | None]
    fixed_on: Mapped[date | None]
    fixed_precision: Mapped[str] = mapped_column(Words(10), default="day")
    owner_id: Mapped[int] = to("owner")
    place_id: Mapped[int | None] = to("place", nullable=True)
    state: Mapped[str] = mapped_column(OwnWord(12), default="stock")
    firmware: Mapped[str | None] = mapped_column(Words(30))
    supplier: Mapped[str | None] = mapped_column(Words(120))
    price: Mapped[float | None]
    version: Mapped[int] = mapped_column(default=1)
    __table_args__ = (
        UniqueConstraint("part_type_id", "serial", name="uq_part_type_serial"),
        one_of("made_precision", Precision),
        one_of("opened_precision", Precision),
        one_of("fixed_precision", Precision),
        one_of("state", PartState),
    )
    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute


class Fitting(Base):
    """A part sat in a slot of a unit, or of an assembly, from one moment to another.

    since_unknown: it was found there at fitted_at, and how long it had sat there is not known.
    """

    __tablename__ = "fitting"
    id: Mapped[Key]
    ref: Mapped[Ref]
    part_id: Mapped[int] = to("part")
    slot_id: Mapped[int] = to("slot")
    unit_id: Mapped[int | None] = to("unit", nullable=True)
    host_part_id: Mapped[int | None] = to("part", nullable=True)
    fitted_at: Mapped[datetime]
    since_unknown: Mapped[bool | None]
    fitted_by_id: Mapped[int | None] = to("person", nullable=True)
    ticket_id: Mapped[int | None] = to("ticket", nullable=True)
    removed_at: Mapped[datetime | None]
    removed_by_id: Mapped[int | None] = to("person", nullable=True)
    removal_ticket_id: Mapped[int | None] = to("ticket", nullable=True)
    why_removed: Mapped[str | None] = mapped_column(OwnWord(20))
    last_good_day: Mapped[date | None]
    last_good_basis: Mapped[str | None] = mapped_column(Words(40))
    forecast_day: Mapped[date | None]
    forecast_of: Mapped[str | None] = mapped_column(OwnWord(20))
    __table_args__ = (
        one_of("why_removed", WHY_REMOVED),
        one_of("forecast_of", FORECAST_OF),
        one_while("uq_fitting_one_place", "part_id", where="removed_at IS NULL"),
        one_while("uq_fitting_unit_slot", "unit_id", "slot_id", where="removed_at IS NULL AND unit_id IS NOT NULL"),
        one_while(
            "uq_fitting_host_slot", "host_part_id", "slot_id", where="removed_at IS NULL AND host_part_id IS NOT NULL"
        ),
    )


class PartTest(Base):
    """A periodic test or service of a part: hydrostatic, visual, service, oxygen clean, calibration.

    at: the moment, where more than the day is known. how: method, for instance how it was cleaned.
    """

    __tablename__ = "part_test"
    id: Mapped[Key]
    ref: Mapped[Ref]
    part_id: Mapped[int] = to("part")
    kind: Mapped[str] = mapped_column(OwnWord(20))
    done_on: Mapped[date]
    precision: Mapped[str] = mapped_column(Words(10), default="day")
    passed: Mapped[bool]
    done_by: Mapped[str | None] = mapped_column(Words(120))
    at: Mapped[datetime | None]
    how: Mapped[str | None] = mapped_column(Words(120))
    person_id: Mapped[int | None] = to("person", nullable=True)
    ticket_id: Mapped[int | None] = to("ticket", nullable=True)
    __table_args__ = (
        one_of("kind", PART_TESTS),
        one_of("precision", Precision),
    )


class PartOrder(Base):
    """Pieces of one type on order; the oldest order is settled first by what is received.

    made_for: the booking or the plan that asked for them. arrived: pieces received of it so far.
    """

    __tablename__ = "part_order"
    id: Mapped[Key]
    ref: Mapped[Ref]
    part_type_id: Mapped[int] = to("part_type")
    pieces: Mapped[int]
    ordered_at: Mapped[datetime]
    ordered_by_id: Mapped[int] = to("person")
    expected_on: Mapped[date]
    made_for: Mapped[str | None] = mapped_column(Words(60))
    arrived: Mapped[int] = mapped_column(default=0)
    cancelled_at: Mapped[datetime | None]
    version: Mapped[int] = mapped_column(default=1)
    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute


class PartEvent(Base):
    """One thing that happened to a part on the shelf, with the state and place it had before, so that it can be undone.

    An entry error is not removed: an event `undone` names the one it undoes. step_result_id: the step of a service that
    used it up.
    """

    __tablename__ = "part_event"
    id: Mapped[Key]
    ref: Mapped[Ref]
    part_id: Mapped[int] = to("part")
    kind: Mapped[str] = mapped_column(OwnWord(12))
    at: Mapped[datetime]
    person_id: Mapped[int | None] = to("person", nullable=True)
    place_id: Mapped[int | None] = to("place", nullable=True)
    state_before: Mapped[str | None] = mapped_column(Words(12))
    place_before_id: Mapped[int | None] = to("place", nullable=True)
    reason: Mapped[str | None] = mapped_column(Words(300))
    ticket_id: Mapped[int | None] = to("ticket", nullable=True)
    undoes_id: Mapped[int | None] = to("part_event", nullable=True, unique=True)
    step_result_id: Mapped[int | None] = to("step_result", nullable=True)
    __table_args__ = (one_of("kind", ShelfEvent),)


class PartProof(Base):
    """A reading or test that a part's return or scrapping rests on."""

    __tablename__ = "part_proof"
    id: Mapped[Key]
    ref: Mapped[Ref]
    part_event_id: Mapped[int] = to("part_event")
    outcome_id: Mapped[int | None] = to("calibration_outcome", nullable=True)
    bench_test_id: Mapped[int | None] = to("bench_test", nullable=True)
    __table_args__ = (CheckConstraint("(outcome_id IS NULL) <> (bench_test_id IS NULL)", name="one_proof"),)


class StockCount(Base):
    """Pieces of a lot counted on the shelf, with what the book said; what is missing or over is an event a part."""

    __tablename__ = "stock_count"
    id: Mapped[Key]
    ref: Mapped[Ref]
    part_type_id: Mapped[int] = to("part_type")
    lot: Mapped[str | None] = mapped_column(Words(60))
    at: Mapped[datetime]
    person_id: Mapped[int | None] = to("person", nullable=True)
    book: Mapped[int]
    counted: Mapped[int]
    reason: Mapped[str] = mapped_column(Words(300))


class KitContent(Base):
    """How many parts of a type a kit must hold at least."""

    __tablename__ = "kit_content"
    id: Mapped[Key]
    ref: Mapped[Ref]
    place_id: Mapped[int] = to("place")
    part_type_id: Mapped[int] = to("part_type")
    least: Mapped[int]
    __table_args__ = (UniqueConstraint("place_id", "part_type_id", name="uq_kit_content_place_part_type"),)
