"""Turn-rounds: the card with its lines, the disinfection bath, and whether a loop was found dry.

Firmware that a unit type allows and its changes, and how handsets were left for the next diver.
"""

from datetime import datetime

from sqlalchemy import UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.calc.core.verdict import LINE_STATES, WorkState
from fleetbench.calc.turn_rounds.card import PREVIOUS_DATA, Step
from fleetbench.records.core.schema import Base, Key, OwnWord, Ref, Words, one_of, to


class TurnRound(Base):
    """What is done to one unit between two divers; finished where every line is settled and somebody signed.

    flooded_at: when the flood was found, None for a unit that was not flooded. ticket_id: opened for what was found.
    """

    __tablename__ = "turn_round"
    id: Mapped[Key]
    ref: Mapped[Ref]
    unit_id: Mapped[int] = to("unit")
    booking_unit_id: Mapped[int | None] = to("booking_unit", nullable=True)
    opened_at: Mapped[datetime]
    opened_by_id: Mapped[int | None] = to("person", nullable=True)
    flooded_at: Mapped[datetime | None]
    finished_at: Mapped[datetime | None]
    finished_by_id: Mapped[int | None] = to("person", nullable=True)
    ticket_id: Mapped[int | None] = to("ticket", nullable=True)
    version: Mapped[int] = mapped_column(default=1)
    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute


class TurnRoundLine(Base):
    """One line of a card: to do, done, or left out with a reason; how: by which record it was settled."""

    __tablename__ = "turn_round_line"
    id: Mapped[Key]
    ref: Mapped[Ref]
    turn_round_id: Mapped[int] = to("turn_round", index=False)
    ordinal: Mapped[int]
    step: Mapped[str] = mapped_column(Words(24))
    service_task_id: Mapped[int | None] = to("service_task", nullable=True)
    state: Mapped[str] = mapped_column(OwnWord(8), default=WorkState.TO_DO)
    settled_at: Mapped[datetime | None]
    person_id: Mapped[int | None] = to("person", nullable=True)
    how: Mapped[str | None] = mapped_column(Words(200))
    __table_args__ = (
        UniqueConstraint("turn_round_id", "ordinal"),
        one_of("step", tuple(Step)),
        one_of("state", LINE_STATES),
    )


class Disinfectant(Base):
    """An agent and its figures as its maker states them; of one unit type where that type's maker names it."""

    __tablename__ = "disinfectant"
    id: Mapped[Key]
    ref: Mapped[Ref]
    unit_type_id: Mapped[int | None] = to("unit_type", nullable=True)
    name: Mapped[str] = mapped_column(Words(80))
    strength: Mapped[str] = mapped_column(Words(40))
    contact_minutes: Mapped[float]
    use_within_hours: Mapped[float | None]
    source: Mapped[str] = mapped_column(Words(300))


class Bath(Base):
    """One bath of an agent, in which the loops of one to eight units lay together."""

    __tablename__ = "bath"
    id: Mapped[Key]
    ref: Mapped[Ref]
    disinfectant_id: Mapped[int] = to("disinfectant")
    at: Mapped[datetime]
    mixed_at: Mapped[datetime]
    use_by: Mapped[datetime]
    contact_minutes: Mapped[float]
    rinsed: Mapped[bool]
    person_id: Mapped[int | None] = to("person", nullable=True)


class BathLoop(Base):
    """One loop in a bath: the disinfection it is, and the loop set that lay in it."""

    __tablename__ = "bath_loop"
    id: Mapped[Key]
    ref: Mapped[Ref]
    bath_id: Mapped[int] = to("bath")
    disinfection_id: Mapped[int] = to("disinfection", unique=True)
    part_id: Mapped[int | None] = to("part", nullable=True)


class Drying(Base):
    """A loop was looked at after its disinfection and found dry, or still damp."""

    __tablename__ = "drying"
    id: Mapped[Key]
    ref: Mapped[Ref]
    disinfection_id: Mapped[int] = to("disinfection")
    at: Mapped[datetime]
    dry: Mapped[bool]
    person_id: Mapped[int | None] = to("person", nullable=True)


class ApprovedFirmware(Base):
    """One firmware version that handsets of a unit type may carry, with its source."""

    __tablename__ = "approved_firmware"
    id: Mapped[Key]
    ref: Mapped[Ref]
    unit_type_id: Mapped[int] = to("unit_type")
    version: Mapped[str] = mapped_column(Words(40))
    source: Mapped[str] = mapped_column(Words(300))


class FirmwareChange(Base):
    """A handset got another firmware; before None is not known."""

    __tablename__ = "firmware_change"
    id: Mapped[Key]
    ref: Mapped[Ref]
    part_id: Mapped[int] = to("part")
    at: Mapped[datetime]
    before: Mapped[str | None] = mapped_column(Words(40))
    after: Mapped[str] = mapped_column(Words(40))
    person_id: Mapped[int | None] = to("person", nullable=True)


class HandsetLook(Base):
    """What was done to a unit's handsets for the next diver; None is not looked at.

    previous_data: the last diver's decompression and oxygen-exposure data: cleared, stated on the sheet, or present.
    """

    __tablename__ = "handset_look"
    id: Mapped[Key]
    ref: Mapped[Ref]
    unit_id: Mapped[int] = to("unit")
    at: Mapped[datetime]
    person_id: Mapped[int | None] = to("person", nullable=True)
    settings_reset: Mapped[bool | None]
    previous_data: Mapped[str | None] = mapped_column(OwnWord(8))
    __table_args__ = (one_of("previous_data", PREVIOUS_DATA),)
