"""What happens to a part outside its slots: received, opened, moved, set aside, sent back, scrapped, counted."""

from datetime import datetime

from sqlalchemy import CheckConstraint, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.records.core.schema import Base, Key, Ref, one_of, to

PART_EVENTS = (
    "received", "opened", "moved", "quarantine", "released", "sent back", "came back", "scrapped", "used up",
    "not found", "found", "undone",
)  # fmt: skip


class PartEvent(Base):
    """One thing that happened to a part on the shelf, with the state and place it had before, so that it can be undone.

    A slip is not taken away: an event `undone` names the one it takes back.
    """

    __tablename__ = "part_event"
    id: Mapped[Key]
    ref: Mapped[Ref]
    part_id: Mapped[int] = to("part")
    kind: Mapped[str] = mapped_column(String(12))
    at: Mapped[datetime]
    person_id: Mapped[int | None] = to("person", nullable=True)
    place_id: Mapped[int | None] = to("place", nullable=True)
    state_before: Mapped[str | None] = mapped_column(String(12))
    place_before_id: Mapped[int | None] = to("place", nullable=True)
    reason: Mapped[str | None] = mapped_column(String(300))
    ticket_id: Mapped[int | None] = to("ticket", nullable=True)
    undoes_id: Mapped[int | None] = to("part_event", nullable=True, unique=True)
    __table_args__ = (one_of("kind", PART_EVENTS),)


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
    lot: Mapped[str | None] = mapped_column(String(60))
    at: Mapped[datetime]
    person_id: Mapped[int | None] = to("person", nullable=True)
    book: Mapped[int]
    counted: Mapped[int]
    reason: Mapped[str] = mapped_column(String(300))


class KitContent(Base):
    """How many parts of a type a kit must hold at least."""

    __tablename__ = "kit_content"
    id: Mapped[Key]
    ref: Mapped[Ref]
    place_id: Mapped[int] = to("place")
    part_type_id: Mapped[int] = to("part_type")
    least: Mapped[int]
    __table_args__ = (UniqueConstraint("place_id", "part_type_id", name="uq_kit_content_place_part_type"),)
