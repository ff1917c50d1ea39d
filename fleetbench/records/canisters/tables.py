"""Absorbent: rated minutes, containers, fills and the runs that use them up."""

from datetime import date, datetime

from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.records.core.schema import Base, Key, OwnWord, Ref, Words, one_of, to

RUN_CLOCKS = ("loop", "dive")
FILL_EVENTS = ("given", "closed up", "flooded")


class RatingRow(Base):
    """One row of a canister type's table of rated minutes."""

    __tablename__ = "rating_row"
    id: Mapped[Key]
    ref: Mapped[Ref]
    part_type_id: Mapped[int] = to("part_type")
    grade: Mapped[str] = mapped_column(Words(40))
    water_c: Mapped[float]
    depth_m: Mapped[float]
    co2_l_min: Mapped[float]
    minutes: Mapped[float]
    source: Mapped[str] = mapped_column(Words(300))


class Container(Base):
    """A container of absorbent as bought; its kilograms go down with each pack."""

    __tablename__ = "container"
    id: Mapped[Key]
    ref: Mapped[Ref]
    part_type_id: Mapped[int] = to("part_type")
    lot: Mapped[str] = mapped_column(Words(60), index=True)
    received_kg: Mapped[float]
    left_kg: Mapped[float]
    received_on: Mapped[date | None]
    opened_at: Mapped[datetime | None]
    last_good_day: Mapped[date | None]
    place_id: Mapped[int | None] = to("place", nullable=True)
    version: Mapped[int] = mapped_column(default=1)
    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute


class Fill(Base):
    """One packing of a canister; it serves one diver and one hire.

    mass_u_g: expanded uncertainty (k = 2) of the mass, by the scale as its certificate stood then.
    """

    __tablename__ = "fill"
    id: Mapped[Key]
    ref: Mapped[Ref]
    part_id: Mapped[int] = to("part")
    container_id: Mapped[int | None] = to("container", nullable=True)
    packed_at: Mapped[datetime]
    packed_by_id: Mapped[int | None] = to("person", nullable=True)
    tare_g: Mapped[float | None]
    filled_g: Mapped[float | None]
    mass_g: Mapped[float | None]
    scale_id: Mapped[int | None] = to("test_equipment", nullable=True)
    mass_u_g: Mapped[float | None]
    checked: Mapped[bool | None]
    diver_id: Mapped[int | None] = to("person", nullable=True)
    booking_unit_id: Mapped[int | None] = to("booking_unit", nullable=True)
    wetted_at: Mapped[datetime | None]
    closed_up_at: Mapped[datetime | None]
    discarded_at: Mapped[datetime | None]
    discarded_by_id: Mapped[int | None] = to("person", nullable=True)
    why_discarded: Mapped[str | None] = mapped_column(Words(200))


class Run(Base):
    """One use of a fill: loop minutes, or dive minutes with the dives that 10 minutes each are added for.

    ended_by: the latest it can have ended, where its start is not known; started_at is then no start but the earliest
    it can have begun. None: started_at is when it began. note: figures that were asked about and kept all the same.
    """

    __tablename__ = "run"
    id: Mapped[Key]
    ref: Mapped[Ref]
    fill_id: Mapped[int] = to("fill")
    unit_id: Mapped[int] = to("unit")
    booking_unit_id: Mapped[int | None] = to("booking_unit", nullable=True)
    diver_id: Mapped[int | None] = to("person", nullable=True)
    started_at: Mapped[datetime]
    minutes: Mapped[float]
    clock: Mapped[str] = mapped_column(OwnWord(6))
    dives: Mapped[int] = mapped_column(default=1)
    coldest_c: Mapped[float | None]
    deepest_m: Mapped[float | None]
    co2_l_min: Mapped[float | None]
    seen_at_6m_bar: Mapped[float | None]
    ended_by: Mapped[datetime | None]
    note: Mapped[str | None] = mapped_column(Words(300))
    __table_args__ = (one_of("clock", RUN_CLOCKS),)


class FillEvent(Base):
    """What happened to a fill between packing and the bin, besides its runs; the fill keeps the latest of each."""

    __tablename__ = "fill_event"
    id: Mapped[Key]
    ref: Mapped[Ref]
    fill_id: Mapped[int] = to("fill")
    kind: Mapped[str] = mapped_column(OwnWord(10))
    at: Mapped[datetime]
    person_id: Mapped[int | None] = to("person", nullable=True)
    diver_id: Mapped[int | None] = to("person", nullable=True)
    booking_unit_id: Mapped[int | None] = to("booking_unit", nullable=True)
    note: Mapped[str | None] = mapped_column(Words(200))
    __table_args__ = (one_of("kind", FILL_EVENTS),)


class RunCorrection(Base):
    """A run that was entered wrongly and no longer counts, with the run that stands in its place, if any."""

    __tablename__ = "run_correction"
    id: Mapped[Key]
    ref: Mapped[Ref]
    run_id: Mapped[int] = to("run", unique=True)
    instead_id: Mapped[int | None] = to("run", nullable=True)
    at: Mapped[datetime]
    person_id: Mapped[int | None] = to("person", nullable=True)
    reason: Mapped[str] = mapped_column(Words(200))


class StockTake(Base):
    """A container weighed or counted anew, with what the book said before."""

    __tablename__ = "stock_take"
    id: Mapped[Key]
    ref: Mapped[Ref]
    container_id: Mapped[int] = to("container")
    at: Mapped[datetime]
    person_id: Mapped[int | None] = to("person", nullable=True)
    book_kg: Mapped[float]
    counted_kg: Mapped[float]
    reason: Mapped[str] = mapped_column(Words(200))
