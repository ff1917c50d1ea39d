"""Handsets between two divers: which firmware they carry, which a type allows, and how they were left."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from fleetbench.calc.turn_rounds.card import PREVIOUS_DATA, Step
from fleetbench.records.bench.lookups import seats_of
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.lookups import unit_type_by_code
from fleetbench.records.turn_rounds.handsets import ApprovedFirmware, FirmwareChange, HandsetLook
from fleetbench.records.turn_rounds.read_handsets import read_approved_firmware, read_last_looks
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.core.figures import one_word
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.tickets.work import required, somebody
from fleetbench.workshop.turn_rounds.ticks import tick
from fleetbench.workshop.units.fleet import Fleet, one_unit

LONGEST_VERSION = 30


@dataclass(frozen=True, slots=True)
class HandsetLine:
    """One handset of a unit: its firmware, None not known, and whether the type's list has it."""

    slot: str
    part_id: int | None
    part: str | None
    firmware: str | None
    on_list: bool


@dataclass(frozen=True, slots=True)
class HandsetDesk:
    """A unit's handsets, the versions its type allows, and how they were last left; None is not on record."""

    unit: str
    handsets: tuple[HandsetLine, ...]
    allowed: tuple[str, ...]
    reset_at: datetime | None
    previous_data: str | None
    previous_at: datetime | None


def handset_desk(shop: Shop, tag: str) -> HandsetDesk:
    """A unit's handsets as the records leave them; NotFound for an unknown tag."""
    fleet = one_unit(shop, tag)
    unit = fleet.records.units[0]
    with shop.database.reading() as connection:
        allowed = tuple(
            each.version for each in read_approved_firmware(connection) if each.unit_type_id == unit.unit_type_id
        )
        looks = read_last_looks(connection, unit.unit_id)
    told = [each for each in looks if each.previous_data is not None]
    return HandsetDesk(
        unit.tag,
        tuple(_line(fleet, unit.unit_id, allowed)),
        allowed,
        max((each.at for each in looks if each.settings_reset), default=None),
        told[-1].previous_data if told else None,
        told[-1].at if told else None,
    )


def _line(fleet: Fleet, unit_id: int, allowed: tuple[str, ...]) -> list[HandsetLine]:
    return [
        HandsetLine(
            seat.slot.name,
            seat.part.part_id if seat.part is not None else None,
            seat.part.label if seat.part is not None else None,
            seat.part.firmware if seat.part is not None else None,
            seat.part is not None and seat.part.firmware in allowed,
        )
        for seat in fleet.seats(unit_id)
        if seat.slot.kind == "handset"
    ]


def previous_data_told(shop: Shop, tag: str) -> tuple[str, ...]:
    """A sentence for the next diver where the last one's data was left in the handsets; empty where it was cleared."""
    desk = handset_desk(shop, tag)
    if desk.previous_data in (None, "cleared"):
        return ()
    return ("the handsets still hold the last diver's decompression and oxygen-exposure data: look at it first",)


def leave_handsets(
    shop: Shop, tag: str, *, settings_reset: bool | None = None, previous_data: str | None = None
) -> int:
    """The key of a look at a unit's handsets, which ticks the card's lines that it settles.

    settings_reset: True reset, False not. previous_data: the last diver's decompression and oxygen-exposure data was
    cleared, stated on the next sheet, or is still present. None: not looked at.
    """
    person = somebody(shop)
    if previous_data is not None:
        one_word("previous data", previous_data, PREVIOUS_DATA)
    if settings_reset is None and previous_data is None:
        raise Refused("handsets: nothing was looked at; say what was done")
    with shop.acting("handsets for the next diver", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        row = act.add(
            HandsetLook(
                unit_id=unit.id, at=act.at, person_id=person, settings_reset=settings_reset, previous_data=previous_data
            )
        )
        if settings_reset:
            tick(act, unit.id, Step.SETTINGS, "settings reset")
        if previous_data in ("cleared", "stated"):
            tick(act, unit.id, Step.PREVIOUS_DATA, previous_data)
        return row.id


def load_firmware(shop: Shop, tag: str, versions: Mapping[str, str]) -> tuple[int, ...]:
    """The keys of the changes of firmware of a unit's handsets, by slot, all in one act.

    A change asks for a new calibration and a new test of alarms. Refused for a slot that holds no handset.
    """
    person = somebody(shop)
    if not versions:
        raise Refused("firmware: none given; enter what each handset shows")
    with shop.acting("load firmware", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        seats = {seat.slot.name: seat for seat in seats_of(act.session, unit) if seat.slot.kind == "handset"}
        written = []
        for slot, version in versions.items():
            said = required(f"{slot}: firmware", version)
            if len(said) > LONGEST_VERSION:
                raise Refused(f"{slot}: firmware: is longer than {LONGEST_VERSION} characters; enter the version alone")
            part = seats[slot].part if slot in seats else None
            if part is None:
                raise Refused(f"slot {slot}: unit {unit.tag} has no handset in a slot of that name; check the name")
            if part.firmware == said:
                continue
            before = part.firmware
            act.change(part, firmware=said)
            change = FirmwareChange(part_id=part.id, at=act.at, before=before, after=said, person_id=person)
            written.append(act.add(change).id)
        if not written:
            raise Refused(f"unit {unit.tag}: every handset carries this firmware already; nothing was recorded")
        return tuple(written)


def approve_firmware(shop: Shop, unit_type: str, version: str, source: str) -> int:
    """The key of a firmware version that handsets of a unit type may carry from now on."""
    said = required("version", version)[:LONGEST_VERSION]
    with shop.acting("approve firmware", f"unit type {unit_type}") as act:
        kind = unit_type_by_code(act.session, unit_type)
        known = [each.version for each in read_approved_firmware(act.session.connection())
                 if each.unit_type_id == kind.id]  # fmt: skip
        if said in known:
            raise Refused(f"version: {said} is on the list of {kind.code} already")
        row = ApprovedFirmware(unit_type_id=kind.id, version=said, source=required("source", source)[:300])
        return act.add(row).id
