"""Firmware that a unit type allows and its changes, and how handsets were left for the next diver."""

from datetime import datetime

from sqlalchemy import String
from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.calc.turn_rounds.card import PREVIOUS_DATA
from fleetbench.records.core.schema import Base, Key, Ref, one_of, to


class ApprovedFirmware(Base):
    """One firmware version that handsets of a unit type may carry, with its source."""

    __tablename__ = "approved_firmware"
    id: Mapped[Key]
    ref: Mapped[Ref]
    unit_type_id: Mapped[int] = to("unit_type")
    version: Mapped[str] = mapped_column(String(40))
    source: Mapped[str] = mapped_column(String(300))


class FirmwareChange(Base):
    """A handset got another firmware; before None is not known."""

    __tablename__ = "firmware_change"
    id: Mapped[Key]
    ref: Mapped[Ref]
    part_id: Mapped[int] = to("part")
    at: Mapped[datetime]
    before: Mapped[str | None] = mapped_column(String(40))
    after: Mapped[str] = mapped_column(String(40))
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
    previous_data: Mapped[str | None] = mapped_column(String(8))
    __table_args__ = (one_of("previous_data", PREVIOUS_DATA),)
