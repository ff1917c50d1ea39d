"""What is recorded already, found by the words that people use for it."""

import re
from typing import Any

from fleetbench.calc.core.languages import in_row
from fleetbench.calc.parts.kinds import PART_KINDS
from fleetbench.records.gas.tables import Cylinder
from fleetbench.records.hires.tables import Booking
from fleetbench.records.parts.tables import Fitting, Part, PartTest, PartType
from fleetbench.records.people.tables import Person, PersonPrivate
from fleetbench.records.places.tables import Owner, Place
from fleetbench.records.units.tables import Slot, Unit, UnitType
from fleetbench.records.upkeep.tables import Connection, rows_of

Row = dict[str, Any]


class Known:
    """What is recorded, found by the words that people use."""

    def __init__(self, connection: Connection) -> None:
        self.units = {same_words(row["tag"]): row for row in rows_of(connection, Unit)}
        self.unit_of = {row["id"]: row for row in self.units.values()}
        self.former = {same_words(row["former_tag"]): row for row in self.units.values() if row["former_tag"]}
        self.unit_types = _by_words(rows_of(connection, UnitType), "code", "name")
        self.slots: dict[tuple[str, int], list[Row]] = {}
        for row in sorted(rows_of(connection, Slot), key=lambda each: (each["ordinal"], each["id"])):
            owner = ("unit", row["unit_type_id"]) if row["unit_type_id"] else ("part", row["assembly_type_id"])
            self.slots.setdefault(owner, []).append(row)
        self.part_types = _by_words(rows_of(connection, PartType), "code", "name")
        self.type_of = {row["id"]: row for row in self.part_types.values()}
        self.parts = {row["id"]: row for row in rows_of(connection, Part)}
        self.by_serial: dict[str, list[Row]] = {}
        self.by_lot: dict[str, list[Row]] = {}
        for row in self.parts.values():
            if row["serial"]:
                self.by_serial.setdefault(same_words(row["serial"]), []).append(row)
            elif row["lot"]:
                self.by_lot.setdefault(same_words(row["lot"]), []).append(row)
        self.seats: dict[tuple[str, int, int], Row] = {}
        self.seat_of: dict[int, Row] = {}
        for row in rows_of(connection, Fitting, Fitting.removed_at.is_(None)):
            owner = ("unit", row["unit_id"]) if row["unit_id"] else ("part", row["host_part_id"])
            self.seats[(*owner, row["slot_id"])] = row
            self.seat_of[row["part_id"]] = row
        self.cylinders = {row["part_id"] for row in rows_of(connection, Cylinder)}
        self.tests = {(row["part_id"], row["kind"], row["done_on"]) for row in rows_of(connection, PartTest)}
        self.owners = _by_words(rows_of(connection, Owner), "name")
        self.places = _by_words(rows_of(connection, Place), "name")
        self.people = _by_words(rows_of(connection, Person), "code")
        people = {row["id"]: row for row in self.people.values()}
        self.named = {same_words(row["name"]): people[row["person_id"]] for row in rows_of(connection, PersonPrivate)}
        self.bookings = rows_of(connection, Booking)

    def first_owner(self) -> str:
        """The centre as an owner, by the name that is recorded."""
        own = (row["name"] for row in self.owners.values() if row["kind"] == "centre")
        return next(own, in_row("The centre"))


def _by_words(rows: list[Row], *names: str) -> dict[str, Row]:
    found: dict[str, Row] = {}
    for name in reversed(names):
        found |= {same_words(row[name]): row for row in rows if row[name]}
    return found


def same_words(text: str) -> str:
    """Words that mean the same: without case, double blanks and blanks around."""
    return " ".join(text.casefold().split())


def called(row: Row) -> str:
    """The name by which other rows point at this one."""
    return str(row.get("ref") or f"#{row['id']}")


def slot_name(slot: str | None, kind: str | None) -> str:
    """The slot that a position means: '2' of a cell is cell 2."""
    said = same_words(slot or "")
    if re.fullmatch(r"\d", said):
        return f"{kind_named(kind or '') or 'cell'} {said}"
    match = re.fullmatch(r"(?:c|cell|sensor|pos|position)\.?\s*#?(\d)", said)
    return f"cell {match[1]}" if match else said


def kind_named(said: str) -> str:
    """The kind of part that a word means; empty where none is meant."""
    plain = same_words(said)
    also = {"sensor": "cell", "o2 cell": "cell", "oxygen cell": "cell", "o2 sensor": "cell", "oxygen sensor": "cell",
            "scrubber": "canister", "computer": "handset", "controller": "handset", "display": "handset"}  # fmt: skip
    for each in (plain, plain.rstrip("s")):
        if each in PART_KINDS:
            return each
        if each in also:
            return also[each]
    return ""


def gas_named(said: str | None) -> str:
    """The role of a cylinder that a word for its gas means; empty where none is meant."""
    words = (("oxygen", ("o2", "ox", "sauerstoff")), ("bailout", ("bail", "bo", "oc")),
             ("diluent", ("dil", "air", "trimix", "tmx", "luft", "heliox")), ("drive gas", ("drive",)))  # fmt: skip
    return next((role for role, begins in words if said and same_words(said).startswith(begins)), "")


def matching_slot(slots: list[Row], kind: str, slot: str) -> Row | None:
    """The slot of that name, or the one of that kind in that place of the order."""
    for row in slots:
        if same_words(row["name"]) == same_words(slot):
            return row
    alike = [row for row in slots if row["kind"] == kind]
    if any(re.fullmatch(rf"{kind} \d+", same_words(row["name"])) for row in alike):
        return None  # they are numbered as here, so this one is not among them
    number = re.search(r"\d+", slot)
    place = int(number[0]) - 1 if number else 0
    return alike[place] if place < len(alike) and (number or len(alike) == 1) else None
