"""Hires and courses, the units that went out on them, and what came back with them."""

from datetime import date, datetime

from sqlalchemy import UniqueConstraint, and_
from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.calc.core.languages import LANGUAGES
from fleetbench.calc.hires.log import READINGS
from fleetbench.calc.hires.promises import BOOKING_ENDS, BookingKind, CallAnswer
from fleetbench.calc.readiness.limits import HandoverKind
from fleetbench.records.core.schema import Base, Key, OwnWord, Ref, Salt, Words, one_of, to

PARTIES = ("diver", "centre")
SIGNED_HOW = ("drawn", "paper")


class Booking(Base):
    """A unit promised to a renter, or units promised to a class, from one date to another.

    cancelled_at: it holds no unit from then on; ended_as and ended_for say how and why. language: of its pages,
    None is English; back_by: the hour of return on the last day, as 17:00, None is not agreed.
    """

    __tablename__ = "booking"
    id: Mapped[Key]
    ref: Mapped[Ref]
    kind: Mapped[str] = mapped_column(OwnWord(8))
    code: Mapped[str] = mapped_column(Words(40), unique=True)
    unit_type_id: Mapped[int] = to("unit_type")
    starts_on: Mapped[date] = mapped_column(index=True)
    ends_on: Mapped[date] = mapped_column(index=True)
    units_wanted: Mapped[int] = mapped_column(default=1)
    renter_id: Mapped[int | None] = to("person", nullable=True)
    instructor_id: Mapped[int | None] = to("person", nullable=True)
    planned_minutes: Mapped[float | None]
    planned_depth_m: Mapped[float | None]
    planned_water_c: Mapped[float | None]
    planned_co2_l_min: Mapped[float | None]
    cancelled_at: Mapped[datetime | None]
    ended_as: Mapped[str | None] = mapped_column(OwnWord(12))
    ended_for: Mapped[str | None] = mapped_column(Words(200))
    language: Mapped[str | None] = mapped_column(Words(5))
    back_by: Mapped[str | None] = mapped_column(Words(5))
    version: Mapped[int] = mapped_column(default=1)
    __table_args__ = (
        one_of("kind", BookingKind),
        one_of("ended_as", BOOKING_ENDS),
        one_of("language", LANGUAGES),
    )
    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute


class BookingUnit(Base):
    """One unit on one booking: promised, out, received, and its hand-back details.

    taken_off_at: it was taken off before it left, for that reason, and is promised no more. put_on_for: the plan
    that chose it.
    """

    __tablename__ = "booking_unit"
    id: Mapped[Key]
    ref: Mapped[Ref]
    booking_id: Mapped[int] = to("booking")
    unit_id: Mapped[int] = to("unit")
    diver_id: Mapped[int | None] = to("person", nullable=True)
    hand_over: Mapped[str | None] = mapped_column(OwnWord(16))
    out_at: Mapped[datetime | None]
    out_by_id: Mapped[int | None] = to("person", nullable=True)
    received_at: Mapped[datetime | None]
    received_by_id: Mapped[int | None] = to("person", nullable=True)
    wet: Mapped[bool | None]
    flooded: Mapped[bool | None]
    fault: Mapped[bool | None]
    loop_minutes: Mapped[float | None]
    dives: Mapped[int | None]
    taken_off_at: Mapped[datetime | None]
    taken_off_for: Mapped[str | None] = mapped_column(Words(200))
    put_on_for: Mapped[str | None] = mapped_column(Words(60))
    version: Mapped[int] = mapped_column(default=1)
    __table_args__ = (one_of("hand_over", HandoverKind),)
    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute


IS_OUT = and_(BookingUnit.out_at.is_not(None), BookingUnit.received_at.is_(None))
"""Of the lines of bookings those whose unit is out now."""


class HireNote(Base):
    """Free words about a hire, apart and erasable, since they may speak of a renter."""

    __tablename__ = "hire_note"
    __table_args__ = {"info": {"erasable": True}}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute
    id: Mapped[Key]
    salt: Mapped[Salt]
    booking_unit_id: Mapped[int] = to("booking_unit")
    at: Mapped[datetime]
    text: Mapped[str]


class BookingTerms(Base):
    """What a booking asks besides its days: spare units, and since when it stands on the waiting list, if it does.

    waited_since: since when it had waited before it got its units.
    bailout: whether a bailout set is to go along. diluent_oxygen, diluent_helium: the diluent wished for, in percent;
    None is not said. altitude_m: height of the water where it is dived, None is the centre's own. price_terms:
    price, deposit and late terms in the centre's own words.
    """

    __tablename__ = "booking_terms"
    id: Mapped[Key]
    ref: Mapped[Ref]
    booking_id: Mapped[int] = to("booking", unique=True)
    spares: Mapped[int] = mapped_column(default=0)
    waiting_since: Mapped[datetime | None]
    waited_since: Mapped[datetime | None]
    bailout: Mapped[bool | None]
    diluent_oxygen: Mapped[float | None]
    diluent_helium: Mapped[float | None]
    altitude_m: Mapped[float | None]
    price_terms: Mapped[str | None] = mapped_column(Words(400))
    version: Mapped[int] = mapped_column(default=1)
    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute


class KeptPlan(Base):
    """A plan that was accepted: its changes, tickets and orders carry its code; undone_at: it was taken back."""

    __tablename__ = "accepted_plan"
    id: Mapped[Key]
    ref: Mapped[Ref]
    code: Mapped[str] = mapped_column(Words(40), unique=True)
    at: Mapped[datetime]
    person_id: Mapped[int] = to("person")
    undone_at: Mapped[datetime | None]
    undone_for: Mapped[str | None] = mapped_column(Words(200))
    version: Mapped[int] = mapped_column(default=1)
    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute


class BookingDiver(Base):
    """Somebody who dives on a booking, in the order in which units are given to them.

    harness: the size that fits. last_dive_on: the last dive on the unit type as they state it; None is not asked.
    left_at: no longer one of its divers.
    """

    __tablename__ = "booking_diver"
    id: Mapped[Key]
    ref: Mapped[Ref]
    booking_id: Mapped[int] = to("booking")
    person_id: Mapped[int] = to("person")
    ordinal: Mapped[int]
    harness: Mapped[str | None] = mapped_column(Words(20))
    last_dive_on: Mapped[date | None]
    left_at: Mapped[datetime | None]


class HandOver(Base):
    """What went along when a unit left on a booking; None is not noted. absorbent_kg: in date, sent with a kit."""

    __tablename__ = "hand_over"
    id: Mapped[Key]
    ref: Mapped[Ref]
    booking_unit_id: Mapped[int] = to("booking_unit", unique=True)
    at: Mapped[datetime]
    person_id: Mapped[int] = to("person")
    harness: Mapped[str | None] = mapped_column(Words(20))
    accessories: Mapped[int | None]
    deposit: Mapped[float | None]
    absorbent_kg: Mapped[float | None]


class Accessory(Base):
    """One thing that goes along with every unit of a type, and how many of it."""

    __tablename__ = "accessory"
    id: Mapped[Key]
    ref: Mapped[Ref]
    unit_type_id: Mapped[int] = to("unit_type")
    name: Mapped[str] = mapped_column(Words(80))
    count: Mapped[int] = mapped_column(default=1)
    ordinal: Mapped[int]


class AccessoryCount(Base):
    """How many of one accessory left with a unit and came back with it; back None is not counted yet."""

    __tablename__ = "accessory_count"
    id: Mapped[Key]
    ref: Mapped[Ref]
    booking_unit_id: Mapped[int] = to("booking_unit")
    accessory_id: Mapped[int] = to("accessory")
    sent: Mapped[int]
    back: Mapped[int | None]
    __table_args__ = (UniqueConstraint("booking_unit_id", "accessory_id"),)


class SheetSignature(Base):
    """That a hand-over sheet was signed, by the diver or for the centre; digest: SHA-256 of what was drawn."""

    __tablename__ = "sheet_signature"
    id: Mapped[Key]
    ref: Mapped[Ref]
    booking_unit_id: Mapped[int] = to("booking_unit")
    party: Mapped[str] = mapped_column(OwnWord(8))
    how: Mapped[str] = mapped_column(OwnWord(8))
    at: Mapped[datetime]
    person_id: Mapped[int] = to("person")
    digest: Mapped[str | None] = mapped_column(Words(64))
    __table_args__ = (one_of("party", PARTIES), one_of("how", SIGNED_HOW))


class SignatureDrawing(Base):
    """The strokes of a drawn signature, apart and erasable, since a hand gives its owner away."""

    __tablename__ = "signature_drawing"
    __table_args__ = {"info": {"erasable": True}}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute
    id: Mapped[Key]
    salt: Mapped[Salt]
    sheet_signature_id: Mapped[int] = to("sheet_signature", unique=True)
    strokes: Mapped[str]


class SignedPage(Base):
    """The page that a signature stands under, as it was signed: the PDF is the file of that SHA-256.

    Erasable, and its file with it, since it holds the diver's name and hand. state: SHA-256 of what the page stated.
    """

    __tablename__ = "signed_page"
    __table_args__ = {"info": {"erasable": True}}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute
    id: Mapped[Key]
    salt: Mapped[Salt]
    sheet_signature_id: Mapped[int] = to("sheet_signature", unique=True)
    sha256: Mapped[str] = mapped_column(Words(64))
    size: Mapped[int]
    state: Mapped[str] = mapped_column(Words(64))


class HandBack(Base):
    """The details of a return, noted after it was received; remarks stand apart, since they may speak of a renter."""

    __tablename__ = "hand_back"
    id: Mapped[Key]
    ref: Mapped[Ref]
    booking_unit_id: Mapped[int] = to("booking_unit", unique=True)
    at: Mapped[datetime]
    person_id: Mapped[int] = to("person")
    missing: Mapped[str | None] = mapped_column(Words(300))
    damaged: Mapped[bool | None]
    deposit_back: Mapped[float | None]


class LogReading(Base):
    """One figure of a renter's log: a cylinder's pressure before or after a dive, or what a handset showed of a cell.

    It is the renter's own reading and calibrates nothing. quantity says the unit. dive: its line of the log; on_day,
    started_at: None is not known. run_id: the run of the same line, where a fill was charged. part_id: the cylinder
    or cell that sat there. handset, position: as on the log. note: that it was doubted and kept.
    """

    __tablename__ = "log_reading"
    id: Mapped[Key]
    ref: Mapped[Ref]
    booking_unit_id: Mapped[int] = to("booking_unit")
    unit_id: Mapped[int] = to("unit")
    run_id: Mapped[int | None] = to("run", nullable=True)
    part_id: Mapped[int | None] = to("part", nullable=True)
    dive: Mapped[int]
    on_day: Mapped[date | None]
    started_at: Mapped[datetime | None]
    quantity: Mapped[str] = mapped_column(Words(20))
    handset: Mapped[str | None] = mapped_column(Words(60))
    position: Mapped[str | None] = mapped_column(Words(60))
    value: Mapped[float]
    note: Mapped[str | None] = mapped_column(Words(120))
    __table_args__ = (one_of("quantity", READINGS),)


class HireCall(Base):
    """A call to a diver who is out with a unit: what was told, what came of it, and when to ring again.

    What was said beyond that stands in a hire note of the same moment, since it may speak of a renter.
    """

    __tablename__ = "hire_call"
    id: Mapped[Key]
    ref: Mapped[Ref]
    booking_unit_id: Mapped[int] = to("booking_unit")
    at: Mapped[datetime]
    person_id: Mapped[int] = to("person")
    told: Mapped[str] = mapped_column(Words(120))
    answer: Mapped[str] = mapped_column(OwnWord(30))
    again_at: Mapped[datetime | None]
    __table_args__ = (one_of("answer", CallAnswer),)


class UnitSwap(Base):
    """One unit taken in and another given out in its place in the middle of a booking."""

    __tablename__ = "unit_swap"
    id: Mapped[Key]
    ref: Mapped[Ref]
    failed_id: Mapped[int] = to("booking_unit", unique=True)
    instead_id: Mapped[int] = to("booking_unit", unique=True)
    at: Mapped[datetime]
    person_id: Mapped[int] = to("person")
    reason: Mapped[str] = mapped_column(Words(300))


class Acceptance(Base):
    """A manager's acceptance of one check's advice on one unit, through its last day inclusive."""

    __tablename__ = "acceptance"
    id: Mapped[Key]
    ref: Mapped[Ref]
    unit_id: Mapped[int] = to("unit")
    check_name: Mapped[str] = mapped_column(Words(60))
    until: Mapped[date]
    at: Mapped[datetime]
    person_id: Mapped[int] = to("person")
    reason: Mapped[str] = mapped_column(Words(300))
