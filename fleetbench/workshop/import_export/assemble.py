"""The rows of a centre's own table as rows of the documented files, beside what is recorded already.

A place, owner or type that is named and not recorded becomes a row of its own; a part is the one that is recorded in
that slot, or the one with that serial. What a cell does not say is left as it is recorded.

assemble(known, layout, read, site, now) -> Sheets
"""

import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, time
from typing import Any

from fleetbench.calc.core.languages import say
from fleetbench.calc.core.wall_time import MarkedDate, Precision
from fleetbench.calc.import_export.columns import Meaning, Subject, kind_of_slot
from fleetbench.workshop.import_export.columns import SHEETS
from fleetbench.workshop.import_export.files import Faults, Sheet, Sheets
from fleetbench.workshop.import_export.spreadsheet import Layout, ReadRows
from fleetbench.workshop.import_export.values import (
    Known,
    Row,
    Site,
    called,
    gas_named,
    kind_named,
    matching_slot,
    read_cell,
    same_words,
    slot_name,
)

TOKEN = "~new "
"""Begins the name that a new row bears while the import is planned; it is not kept."""

EVERY = 1000
NOT_KNOWN = "not known"
NOT_RECORDED = "not recorded"
Values = Mapping[Meaning, Any]
_DEFAULTS = {name: {column.name: column.default for column in spec.columns} for name, spec in SHEETS.items()}
_GAS_OF_SLOT = {"oxygen cylinder": "oxygen", "diluent cylinder": "diluent"}


class CannotBeTaken(Exception):  # noqa: N818 - it carries what is asked of one cell
    """One thing of a row that cannot be taken as it stands."""

    def __init__(self, meaning: Meaning, message: str) -> None:
        super().__init__(message)
        self.meaning = meaning


def assemble(
    known: Known, layout: Layout, read: ReadRows, site: Site, now: datetime, told: Callable[[str, float], None] | None
) -> Sheets:
    """The documented rows that the read rows make; each stands in the row of the table that it comes from."""
    return _Assembly(known, layout, site, now).sheets(read, told)


@dataclass(slots=True)
class _Rows:
    """Rows of one documented file as they are gathered."""

    at: list[int] = field(default_factory=list)
    cells: list[Row] = field(default_factory=list)


@dataclass(slots=True)
class _Item:
    """One part as a row describes it."""

    kind: str
    values: Row
    slot: str = ""


class _Assembly:
    def __init__(self, known: Known, layout: Layout, site: Site, now: datetime) -> None:
        self.known, self.layout, self.site, self.now = known, layout, site, now
        self.rows = {name: _Rows() for name in SHEETS}
        self.faults = Faults(most=None)
        self.made: dict[tuple[str, str], str] = {}
        self._fresh: list[tuple[str, str]] = []
        self._written: list[str] = []
        self._cells: dict[tuple[str, str, Any], Any] = {}
        self.spent: set[int] = set()
        self.codes = {each["code"] for each in known.people.values()}
        self.codes |= {each["code"] for each in known.bookings}

    def sheets(self, read: ReadRows, told: Callable[[str, float], None] | None) -> Sheets:
        take: dict[Subject, Callable[[int, Values], None]] = {
            Subject.UNITS: self._unit, Subject.PARTS: self._part_row, Subject.CYLINDERS: self._cylinder_row,
            Subject.PEOPLE: self._person_row, Subject.BOOKINGS: self._booking_row,
        }  # fmt: skip
        for count, (row, values) in enumerate(read.values.items()):
            if told is not None and not count % EVERY:
                told(say("comparing rows with what is recorded"), count / len(read.values))
            if row in read.asks:
                continue
            self._fresh, self._written = [], []
            try:
                take[self.layout.subject](row, values)
            except CannotBeTaken as fault:
                for name in self._written:  # never half a row
                    self.rows[name].at.pop()
                    self.rows[name].cells.pop()
                for key in self._fresh:
                    del self.made[key]
                self.faults.add(self.layout.subject.name, row, _key(fault.meaning), str(fault))
        found = {name: _sheet(name, rows) for name, rows in self.rows.items()}
        return Sheets(self.site, found, self.faults, partial=True)

    def _unit(self, at: int, values: Values) -> None:
        tag = values.get(Meaning("tag"))
        if tag is None:
            raise CannotBeTaken(Meaning("tag"), say("is empty; type what is written on the unit"))
        unit = self.known.units.get(same_words(tag)) or self.known.former.get(same_words(tag))
        said = values.get(Meaning("unit_type"))
        kind = self._unit_type(at, said) if said is not None or unit is None else None
        cells = {
            "record": called(unit) if unit else TOKEN + same_words(tag), "tag": unit["tag"] if unit else tag,
            "unit_type": kind, **self._plain("units", values, "serial", "former_tag", "in_service_on", "harness"),
            "owner": self._owner(at, values, new=unit is None), "place": self._place(at, values),
            "retired_on": self._day("units", "retired_on", values, Meaning("retired_on")),
        }  # fmt: skip
        if unit and cells["former_tag"] and same_words(tag) == same_words(unit["former_tag"] or ""):
            cells["former_tag"] = None
        self._put("units", at, cells, new=unit is None)
        slots = dict.fromkeys(meaning.slot for meaning in values if meaning.slot)
        for slot in slots:
            inside = {meaning.field: value for meaning, value in values.items() if meaning.slot == slot}
            try:
                self._in_slot(at, cells, unit, kind, _Item(kind_of_slot(slot), inside, slot))
            except CannotBeTaken as fault:
                raise CannotBeTaken(Meaning(fault.meaning.field, slot), str(fault)) from fault

    def _part_row(self, at: int, values: Values) -> None:
        inside = {meaning.field: value for meaning, value in values.items()}
        slot, tag = inside.pop("slot", None), inside.pop("unit", None)
        said = inside.pop("kind", None)
        item = _Item(self._kind(said, slot, inside.get("part_type")), inside, slot_name(slot, said))
        if not inside.get("part_serial") and not inside.get("part_lot") and tag is None:
            raise CannotBeTaken(Meaning("part_serial"), say("no serial, no lot and no unit; type one of them"))
        self._seated(at, tag, item, values)

    def _cylinder_row(self, at: int, values: Values) -> None:
        inside = {meaning.field: value for meaning, value in values.items()}
        tag, role = inside.pop("unit", None), gas_named(inside.pop("role", None))
        if not role:
            raise CannotBeTaken(Meaning("role"), say("type which gas it holds: oxygen, diluent, bailout or drive gas"))
        inside["role"] = role
        kinds = {"oxygen": "oxygen cylinder", "diluent": "diluent cylinder", "bailout": "bailout cylinder"}
        item = _Item(kinds.get(role, "drive gas cylinder"), inside, kinds.get(role, ""))
        if inside.get("part_serial") is None:
            raise CannotBeTaken(Meaning("part_serial"), say("is empty; type the serial stamped on the cylinder"))
        self._seated(at, tag, item, values)

    def _person_row(self, at: int, values: Values) -> None:
        name = " ".join(values[each] for each in (Meaning("first_name"), Meaning("name")) if each in values)
        code = values.get(Meaning("code"))
        person = self.known.people.get(same_words(code)) if code else self.known.named.get(same_words(name))
        if person is None and not name:
            raise CannotBeTaken(Meaning("name"), say("is empty; type the name, it can be erased later"))
        self._person(at, name or None, code, person, values)

    def _person(self, at: int, name: str | None, code: str | None, person: Row | None, values: Values) -> str:
        new = person is None
        bears = str(person["code"]) if person else code or self._new_code(name or "")
        role = values.get(Meaning("role"))
        cells = {
            "record": called(person) if person else TOKEN + bears, "code": bears,
            "name": self._text("people", "name", name),
            "contact": self._text("people", "contact", values.get(Meaning("contact"))),
            "role": self._word("people", "role", role, Meaning("role")) if role else ("renter" if new else None),
            "active": True if new else None,
        }  # fmt: skip
        self._put("people", at, cells, new=new)
        return bears

    def _booking_row(self, at: int, values: Values) -> None:
        days = {
            name: self._day("bookings", name, values, Meaning(name), whole=True) for name in ("starts_on", "ends_on")
        }
        for name, value in days.items():
            if value is None:
                raise CannotBeTaken(Meaning(name), say("is empty; a booking needs its first and its last day"))
        renter = self._some_person(at, values.get(Meaning("renter")), "renter")
        code = values.get(Meaning("code"))
        booking = self._booking(code, days, renter)
        kinds = values.get(Meaning("kind"))
        wanted = values.get(Meaning("units_wanted"))
        said = values.get(Meaning("unit_type"))
        unit_type = self._unit_type(at, said) if said else None if booking else self._only_type()
        cells = {
            "record": called(booking) if booking else TOKEN + f"booking {at}",
            "code": booking["code"] if booking else code or self._new_code(f"{days['starts_on']:%y%m%d}"),
            "kind": self._word("bookings", "kind", kinds, Meaning("kind")) if kinds else None if booking else "hire",
            "unit_type": unit_type, **days, "units_wanted": round(wanted) if wanted else None, "renter": renter,
            "instructor": self._some_person(at, values.get(Meaning("instructor")), "instructor"),
        }  # fmt: skip
        self._put("bookings", at, cells, new=booking is None)

    def _seated(self, at: int, tag: str | None, item: _Item, values: Values) -> None:
        """A part of a row of its own: in a unit where one is named, else in stock."""
        unit = self.known.units.get(same_words(tag)) if tag else None
        if tag and unit is None:
            raise CannotBeTaken(Meaning("unit"),
                say("no unit '{tag}' is recorded; import the units first or correct it", tag=tag[:30]))  # fmt: skip
        item.values["place"] = self._place(at, values)
        item.values["owner"] = self._owner(at, values, new=False)
        if unit is not None:
            if not item.slot:
                raise CannotBeTaken(Meaning("slot"), say("is empty; type where in {tag} it sits, as 'cell 1'",
                    tag=unit["tag"]))  # fmt: skip
            cells = {"record": called(unit), "tag": unit["tag"]}
            self._in_slot(at, cells, unit, None, item)
            return
        part = self._recorded(item)
        self._part(at, item, part, "stock" if part is None else None)

    def _in_slot(self, at: int, unit_cells: Row, unit: Row | None, kind: str | None, item: _Item) -> None:
        slot, host, seated = self._slot(at, unit, kind, item)
        part = self.known.parts.get(seated["part_id"]) if seated else None
        elsewhere = self._recorded(item) if part is None else None
        if elsewhere is not None:
            label = elsewhere["serial"] or elsewhere["lot"]
            where = Meaning(
                "part_serial", item.slot if Meaning("part_serial", item.slot) in self.layout.meanings else ""
            )
            raise CannotBeTaken(where,
                say("{label} is recorded already and sits elsewhere or in stock; fit it in the program",
                label=label))  # fmt: skip
        fitted = item.values.pop("fitted_on", None)
        record = self._part(at, item, part, "fitted" if part is None else None)
        if part is None:
            cells = {
                "record": f"{TOKEN}fit {record}", "part": record, "slot": slot,
                "unit": unit_cells["record"] if host is None else None, "host_part": host,
                "fitted_at": self._midnight(fitted) if fitted else self.now,
                "since_unknown": None if fitted else True,
            }  # fmt: skip
            self._put("fittings", at, cells, new=True)
        elif seated and fitted and seated["since_unknown"]:
            self._put("fittings", at, {"record": called(seated), "fitted_at": self._midnight(fitted)}, new=False)

    def _slot(self, at: int, unit: Row | None, kind: str | None, item: _Item) -> tuple[str, str | None, Row | None]:
        """The slot's name in its type, the record of the assembly it is in, and what sits there now."""
        if unit is None:
            recorded = self.known.unit_types.get(same_words(kind or ""))
        else:
            recorded = next(row for row in self.known.unit_types.values() if row["id"] == unit["unit_type_id"])
        listed = self.known.slots.get(("unit", recorded["id"]), []) if recorded else []
        found = matching_slot(listed, item.kind, item.slot)
        if found is not None:
            return found["name"], None, self.known.seats.get(("unit", unit["id"], found["id"])) if unit else None
        for each in listed if unit else ():
            seat = self.known.seats.get(("unit", unit["id"], each["id"]))  # type: ignore[index]
            host = self.known.parts[seat["part_id"]] if seat else None
            inside = self.known.slots.get(("part", host["part_type_id"]), []) if host else []
            inner = matching_slot(inside, item.kind, item.slot)
            if host is not None and inner is not None:
                return inner["name"], called(host), self.known.seats.get(("part", host["id"], inner["id"]))
        if recorded is not None and listed and recorded["build"] != NOT_KNOWN:
            where = next(each for each in self.layout.meanings if each.slot == item.slot or each.field == "slot")
            raise CannotBeTaken(where, say("units of type {code} have no slot '{slot}'; correct it",
                code=recorded["code"], slot=item.slot))  # fmt: skip
        return self._new_slot(at, str(recorded["code"] if recorded else kind), item), None, None

    def _new_slot(self, at: int, unit_type: str, item: _Item) -> str:
        key = f"slots of {unit_type}", item.slot
        if key not in self.made:
            number = re.search(r"\d+", item.slot)
            cells = {
                "record": f"{TOKEN}slot {unit_type} {item.slot}", "unit_type": unit_type, "name": item.slot,
                "kind": item.kind, "critical": True, "ordinal": int(number[0]) if number else 0,
                "oxygen_side": item.kind == "oxygen cylinder",
            }  # fmt: skip
            self._put("slots", at, cells, new=True)
            self._note(key, item.slot)
        return item.slot

    def _recorded(self, item: _Item) -> Row | None:
        """The recorded part with that serial and kind; of those known by their lot alone, one that is not taken yet."""
        serial, lot = item.values.get("part_serial"), item.values.get("part_lot")
        listed = self.known.by_serial if serial else self.known.by_lot
        for row in listed.get(same_words(serial or lot or ""), []):
            if self.known.type_of[row["part_type_id"]]["kind"] == item.kind and (serial or row["id"] not in self.spent):
                if not serial:
                    self.spent.add(row["id"])
                return row
        return None

    def _part(self, at: int, item: _Item, part: Row | None, state: str | None) -> str:
        said = item.values
        record = called(part) if part else f"{TOKEN}part {at} {item.slot}"
        values = {Meaning(name, ""): value for name, value in said.items()}
        dates = self._plain("parts", values, "made_on", "opened_on", "fixed_on")
        typed = part is None or said.get("part_type")
        cells = {
            "record": record, "part_type": self._part_type(at, said.get("part_type"), item) if typed else None,
            "serial": self._text("parts", "serial", said.get("part_serial"), Meaning("part_serial")),
            "lot": self._text("parts", "lot", said.get("part_lot"), Meaning("part_lot")), **dates,
            "received_on": self._day("parts", "received_on", values, Meaning("received_on")),
            "owner": said.get("owner") or (self._owner(at, {}, new=True) if part is None else None),
            "place": said.get("place"), "state": state,
            **self._plain("parts", values, "firmware", "supplier"), "price": said.get("price"),
        }  # fmt: skip
        self._put("parts", at, cells, new=part is None)
        if item.kind.endswith("cylinder"):
            self._cylinder(at, item, part, record)
        for kind in ("hydrostatic", "visual"):
            done = said.get(kind)
            if done is not None and (part is None or (part["id"], kind, done.date) not in self.known.tests):
                cells = {
                    "record": f"{TOKEN}{kind} {record}",
                    "part": record,
                    "kind": kind,
                    "done_on": done,
                    "passed": True,
                }
                self._put("part_tests", at, cells, new=True)
        return record

    def _cylinder(self, at: int, item: _Item, part: Row | None, record: str) -> None:
        known = part is not None and part["id"] in self.known.cylinders
        size, working = item.values.get("size_l"), item.values.get("working_bar")
        if not known and (size is None or working is None):
            return  # its size is not known, so nothing is calculated with it yet
        values = {Meaning(name): value for name, value in item.values.items()}
        role = item.values.get("role") or _GAS_OF_SLOT.get(item.kind, "bailout")
        figures = {"size_l": self._figure("size_l", size), "working_bar": self._figure("working_bar", working)}
        cells = {"part": record, "role": role, **figures, **self._plain("cylinders", values, "material", "marking")}
        self._put("cylinders", at, cells, new=not known)

    def _unit_type(self, at: int, said: str | None) -> str:
        found = self.known.unit_types.get(same_words(said or NOT_KNOWN))
        if found is not None:
            return str(found["code"])
        name = self._text("unit_types", "code", said, Meaning("unit_type")) or NOT_KNOWN
        return self._named(
            "unit_types", at, name, {"code": name, "name": name, "build": NOT_KNOWN, "manual": NOT_RECORDED}
        )

    def _only_type(self) -> str:
        codes = {str(row["code"]) for row in self.known.unit_types.values()}
        if len(codes) != 1:
            raise CannotBeTaken(Meaning("unit_type"), say("is empty; type which: {codes}",
                codes=", ".join(sorted(codes)) or say("none yet")))  # fmt: skip
        return codes.pop()

    def _part_type(self, at: int, said: str | None, item: _Item) -> str:
        found = self.known.part_types.get(same_words(said or ""))
        where = Meaning("part_type", item.slot if self.layout.subject is Subject.UNITS else "")
        if found is not None:
            if found["kind"] != item.kind:
                raise CannotBeTaken(where, say("'{said}' is a {kind}, not a {wanted}; correct it", said=said,
                    kind=say(found["kind"]), wanted=say(item.kind)))  # fmt: skip
            return str(found["code"])
        name = self._text("part_types", "code", said, where) or f"{item.kind}, type {NOT_KNOWN}"
        cells = {"code": name, "name": name, "kind": item.kind, "source": NOT_RECORDED}
        if same_words(name) in self.known.part_types:
            return str(self.known.part_types[same_words(name)]["code"])
        return self._named("part_types", at, name, cells)

    def _owner(self, at: int, values: Values, *, new: bool) -> str | None:
        said = values.get(Meaning("owner"))
        if said is None and not new:
            return None
        name = said or self.known.first_owner()
        found = self.known.owners.get(same_words(name))
        if found is not None:
            return str(found["name"])
        kind = "centre" if said is None or not self.known.owners else "loan"
        name = self._text("owners", "name", name, Meaning("owner")) or name
        return self._named("owners", at, name, {"name": name, "kind": kind})

    def _place(self, at: int, values: Values) -> str | None:
        said = values.get(Meaning("place"))
        if said is None:
            return None
        found = self.known.places.get(same_words(said))
        if found is not None:
            return str(found["name"])
        name = self._text("places", "name", said, Meaning("place")) or said
        return self._named("places", at, name, {"name": name, "kind": "shelf"})

    def _named(self, sheet: str, at: int, name: str, cells: Row) -> str:
        """The name of a row that other rows point at, made once."""
        key = sheet, same_words(name)
        if key not in self.made:
            if any(column.name == "record" for column in SHEETS[sheet].columns):
                cells = {"record": TOKEN + same_words(name), **cells}
            self._put(sheet, at, cells, new=True)
            self._note(key, name)
        return self.made[key]

    def _note(self, key: tuple[str, str], name: str) -> None:
        self.made[key] = name
        self._fresh.append(key)

    def _some_person(self, at: int, said: str | None, role: str) -> str | None:
        if said is None:
            return None
        found = self.known.people.get(same_words(said)) or self.known.named.get(same_words(said))
        if found is not None:
            return str(found["code"])
        key = "people", same_words(said)
        if key not in self.made:
            self._note(key, self._person(at, said, None, None, {Meaning("role"): role}))
        return self.made[key]

    def _booking(self, code: str | None, days: Row, renter: str | None) -> Row | None:
        person = self.known.people.get(same_words(renter or ""))
        for row in self.known.bookings:
            if code is not None and same_words(row["code"]) == same_words(code):
                return row
            same_days = all(row[name] == value for name, value in days.items())
            if code is None and same_days and row["renter_id"] == (person["id"] if person else None):
                return row
        return None

    def _kind(self, said: str | None, slot: str | None, part_type: str | None) -> str:
        recorded = self.known.part_types.get(same_words(part_type or ""))
        tried = [said, kind_of_slot(slot_name(slot, None)), recorded["kind"] if recorded else None, self.layout.kind]
        for each in tried:
            kind = kind_named(each or "")
            if kind:
                return kind
            if each and each is said:
                break
        raise CannotBeTaken(Meaning("kind" if said else "part_type"),
            say("the kind of part is not known; type it, as cell or hose"))  # fmt: skip

    def _new_code(self, name: str) -> str:
        # A code is typed on any keyboard: Å becomes A, and a name in another script begins with X.
        plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
        letters = "".join(word[0] for word in re.findall(r"[^\W_]+", plain)).upper()[:4] or "X"
        stem = letters if not name[:6].isdigit() else f"B{name}"
        for number in range(1, 1_000_000):
            code = f"{stem}{number}" if stem == letters else f"{stem}-{number}"
            if code not in self.codes:
                self.codes.add(code)
                return code
        raise CannotBeTaken(Meaning("code"), say("no code is free; type one"))

    def _plain(self, sheet: str, values: Values, *names: str) -> Row:
        """Columns that hold what the table says, checked as a documented cell is."""
        return {name: self._text(sheet, name, values.get(Meaning(name)), Meaning(name)) for name in names}

    def _text(self, sheet: str, name: str, said: Any, meaning: Meaning | None = None) -> Any:
        if said is None:
            return None
        key = sheet, name, said
        if key not in self._cells:
            try:
                self._cells[key] = read_cell(SHEETS[sheet].column(name), str(said), self.site)
            except ValueError as fault:
                raise CannotBeTaken(meaning or Meaning(name), str(fault)) from fault
        return self._cells[key]

    def _word(self, sheet: str, name: str, said: str, meaning: Meaning) -> str:
        words = SHEETS[sheet].column(name).words
        near = next((each for each in words if same_words(said).rstrip("s") in (each, each[:4])), said)
        return str(self._text(sheet, name, near, meaning))

    def _figure(self, name: str, said: float | None) -> float | None:
        return None if said is None else self._text("cylinders", name, repr(round(said, 4)), Meaning(name))

    def _day(self, sheet: str, name: str, values: Values, meaning: Meaning, *, whole: bool = False) -> Any:
        marked = values.get(meaning)
        if marked is None:
            return None
        if whole and marked.precision is not Precision.DAY:
            raise CannotBeTaken(meaning, say("{marked} is no day; type the day, as 2025-03-14", marked=marked))
        return self._text(sheet, name, marked.first_day.isoformat(), meaning)

    def _midnight(self, fitted: MarkedDate) -> datetime:
        """The first moment of what is marked, so that a life from fitting is never longer than it can be."""
        return datetime.combine(fitted.first_day, time(), self.site.zone).astimezone(UTC)

    def _put(self, sheet: str, at: int, cells: Row, *, new: bool) -> None:
        self._written.append(sheet)
        said = {name: value for name, value in cells.items() if value is not None}
        row = {**_DEFAULTS[sheet], **said} if new else cells
        self.rows[sheet].at.append(at)
        self.rows[sheet].cells.append({**row, "": tuple(cells)})


def _sheet(name: str, rows: _Rows) -> Sheet:
    spec = SHEETS[name]
    said = {column for cells in rows.cells for column in cells[""]}
    values = {column.name: [cells.get(column.name) for cells in rows.cells] for column in spec.columns}
    absent = {column.name for column in spec.columns if column.name not in said} | {"record"}
    return Sheet(spec, rows.at, values, frozenset(absent))


def _key(meaning: Meaning) -> str:
    return f"{meaning.slot}|{meaning.field}"
