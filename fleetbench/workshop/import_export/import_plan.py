"""What an import would write: every row of the sheets matched with what is recorded, its links resolved, its key given.

Nothing is written here, so that a dry run and the faults of a broken folder cost no lock.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from fleetbench.calc.core.doors import where_corrected
from fleetbench.calc.core.languages import say
from fleetbench.calc.core.wall_time import MarkedDate, Precision
from fleetbench.records.core.schema import Base
from fleetbench.records.hires.tables import HireNote
from fleetbench.records.people.tables import PersonPrivate
from fleetbench.records.upkeep.tables import Connection, rows_of, unique_sets
from fleetbench.workshop.import_export.columns import SHEETS, Kind, SheetColumn, SheetSpec
from fleetbench.workshop.import_export.files import BAD, Faults, Sheets
from fleetbench.workshop.import_export.values import MAY_CHANGE, Change, MayChange, names_of, write_cell

Row = dict[str, Any]
UNSURE = -1
"""Key of what is named in a faulty row: it is there, so nothing that points at it is a fault of its own."""

TYPES_OWN = ("slots", "readers", "reader_cells")
"""Sheets whose rows count within a unit type or an assembly, not in the whole centre."""
BY_RECORD = ("reader_cells", "slot_part_types")
"""Sheets of types that name a slot by its record, since they speak of no unit."""


@dataclass(slots=True)
class SheetPlan:
    """What becomes of one sheet: new rows with their keys and where they stand, and how many were recorded already.

    known: every row of the table by key, recorded and new. row_of: where in the sheet a new row stands; matched: where
    one that was recorded already does.
    """

    spec: SheetSpec
    known: dict[int, Row] = field(default_factory=dict)
    new: list[Row] = field(default_factory=list)
    row_of: dict[int, int] = field(default_factory=dict)
    by_key: dict[str, int] = field(default_factory=dict)
    matched: dict[int, int] = field(default_factory=dict)
    unchanged: int = 0
    next_id: int = 1


@dataclass(slots=True)
class Extra:
    """Rows of the erasable tables that go with new rows: names of people, words about hires."""

    people: list[Row] = field(default_factory=list)
    notes: list[Row] = field(default_factory=list)


class ImportPlan:
    """The whole import, sheet by sheet in the order in which rows may point at each other."""

    def __init__(self, connection: Connection, sheets: Sheets, may_change: MayChange = MAY_CHANGE) -> None:
        self.sheets = sheets
        self._may = may_change
        self.faults: Faults = sheets.faults
        self.plans = {name: SheetPlan(spec) for name, spec in SHEETS.items()}
        self.extra = Extra()
        self.changes: list[Change] = []
        self._held: dict[tuple[str, tuple[str, ...]], dict[tuple[Any, ...], int]] = {}
        self._names = {row["person_id"]: row for row in rows_of(connection, PersonPrivate)}
        self._notes: dict[int, set[str]] = {}
        for row in rows_of(connection, HireNote):
            self._notes.setdefault(row["booking_unit_id"], set()).add(row["text"].strip())
        self._slots: dict[tuple[str, int, str], int] = {}
        self._readers: dict[tuple[int, str], int] = {}
        self._seats: dict[int, list[Row]] = {}
        self._read_by: dict[tuple[int, str], set[int]] = {}
        for plan in self.plans.values():
            self._take_recorded(plan, rows_of(connection, plan.spec.table))

    def rows(self, kind: type[Base]) -> Iterable[Row]:
        """Every row of a table, recorded and new."""
        return next(plan for plan in self.plans.values() if plan.spec.table is kind).known.values()

    def fault(self, sheet: str, key: int, column: str, message: str) -> None:
        """Note a fault of a new row."""
        plan = self.plans[sheet]
        self.faults.add(sheet, plan.row_of.get(key) or plan.matched.get(key, 0), column, message)

    def row_words(self, at: int) -> str:
        """A row as the spreadsheet counts it; those of a centre's own table stand from 0."""
        return say("row {at}", at=at + 1 if self.sheets.partial else at)

    def corrected(self, sheet: str) -> list[Row]:
        """The recorded rows that would change, as they would be."""
        rows: dict[int, Row] = {}
        for each in self.changes:
            if each.sheet == sheet:
                rows.setdefault(each.key, dict(self.plans[sheet].known[each.key])).update(each.values)
        return list(rows.values())

    def label(self, sheet: str, key: int | None) -> str:
        """What a row is called in its own sheet."""
        row = self.plans[sheet].known.get(key or 0, {})
        for name in ("tag", "code", "ref", "name"):
            if row.get(name):
                return str(row[name])
        return f"#{key}"

    def seats(self) -> dict[int, list[Row]]:
        """Fittings by part, once the sheet of fittings was matched."""
        if not self._seats:
            for row in self.plans["fittings"].known.values():
                self._seats.setdefault(row["part_id"], []).append(row)
        return self._seats

    def match(self, told: Callable[[str, float], None] | None = None) -> None:
        """Take every sheet in turn."""
        for place, name in enumerate(SHEETS):
            if told is not None:
                told(say("checking {name}", name=name), place / len(SHEETS))
            self._match_sheet(self.plans[name])

    def _take_recorded(self, plan: SheetPlan, rows: list[Row]) -> None:
        for row in rows:
            plan.known[row["id"]] = row
            for key in names_of(plan.spec, row):
                plan.by_key.setdefault(key, row["id"])
            self._index(plan.spec.name, row)
        plan.next_id = max(plan.known, default=0) + 1

    def _index(self, sheet: str, row: Row) -> None:
        if sheet == "slots":
            owner = ("unit", row["unit_type_id"]) if row["unit_type_id"] else ("part", row["assembly_type_id"])
            self._slots.setdefault((*owner, row["name"]), row["id"])
        elif sheet == "readers":
            self._readers.setdefault((row["unit_type_id"], row["name"]), row["id"])
        elif sheet == "reader_cells":
            reader, slot = (self.plans[name].known.get(row[key]) for name, key in _READER_CELL)
            if reader is not None and slot is not None:
                self._read_by.setdefault((reader["unit_type_id"], slot["name"]), set()).add(slot["id"])

    def _match_sheet(self, plan: SheetPlan) -> None:
        sheet = self.sheets.sheets[plan.spec.name]
        if plan.spec.name == "centre":
            self._one_centre(plan)
        if plan.spec.name == "readings":
            self._match_readings(plan)
            return
        unique = _Unique(plan)
        for place in self._order(plan.spec):
            cells, at = sheet.cells(place), sheet.rows[place]
            row = self._resolve(plan.spec, cells, at)
            known = self._known_key(plan, cells, row)
            earlier = plan.row_of.get(known or 0, plan.matched.get(known or 0))
            if earlier is not None:
                twice = say("stands in {row} already", row=self.row_words(earlier))
                self.faults.add(plan.spec.name, at, plan.spec.columns[0].name, twice)
            elif row is None:
                self._hold_place(plan, cells)
            elif known is None and unique.clash(self, row, at) is None:
                self._take_new(plan, row, cells, at)
            elif known is None:
                self._hold_place(plan, cells)
            elif known != UNSURE:
                plan.matched[known] = at
                self._compare(plan, known, row, cells, at)

    def _match_readings(self, plan: SheetPlan) -> None:
        """Readings have no number of their own: those of a calibration are recorded all together, or not at all."""
        sheet = self.sheets.sheets["readings"]
        calibrations = self.plans["calibrations"]
        said: dict[int, list[tuple[Any, ...]]] = {key: [] for key in calibrations.matched}
        first_row: dict[int, int] = {}
        for place, at in enumerate(sheet.rows):
            cells = sheet.cells(place)
            row = self._resolve(plan.spec, cells, at)
            if row is None or row["calibration_id"] == UNSURE:
                continue
            key = row["calibration_id"]
            first_row.setdefault(key, at)
            if key in calibrations.row_of:
                self._take_new(plan, row, cells, at)
            else:
                said.setdefault(key, []).append(_reading(row))
        recorded: dict[int, list[tuple[Any, ...]]] = {}
        for key, row in plan.known.items():
            if key not in plan.row_of:
                recorded.setdefault(row["calibration_id"], []).append(_reading(row))
        for key, rows in said.items():
            if Counter(rows) == Counter(recorded.get(key, [])):
                plan.unchanged += len(rows)
            elif "readings" in self.sheets.given - self.sheets.unread:
                name = calibrations.known[key]["ref"]
                message = say("the readings of {name} differ from what is recorded; {remedy}", name=name,
                    remedy=where_corrected("readings"))  # fmt: skip
                self.faults.add("readings", first_row.get(key, 0), "calibration", message)

    def _one_centre(self, plan: SheetPlan) -> None:
        rows = self.sheets.sheets["centre"].rows
        for row in rows[1:]:
            self.faults.add("centre", row, "name", say("only one centre can stand here; take this row out"))
        told = any(fault.sheet == "centre" for fault in self.faults.found)
        if not rows and not plan.known and not told and not self.sheets.partial and self._moments():
            message = say("nothing says in which time zone these hours are; fill in the file centre.csv")
            self.faults.add("centre", 2, "timezone", message)

    def _moments(self) -> bool:
        """Whether any sheet holds an hour, which means nothing without the centre's time zone."""
        return any(
            isinstance(value, datetime)
            for sheet in self.sheets.sheets.values()
            for column in sheet.spec.columns
            if column.kind is Kind.MOMENT
            for value in sheet.values[column.name]
        )

    def _order(self, spec: SheetSpec) -> list[int]:
        """Places of the rows, each after the row of the same sheet that it points at."""
        sheet = self.sheets.sheets[spec.name]
        own = next((each.name for each in spec.columns if each.target == spec.name and each.kind is Kind.LINK), None)
        count = len(sheet.rows) if spec.name != "centre" else min(len(sheet.rows), 1)
        if own is None or not any(isinstance(each, str) for each in sheet.values[own]):
            return list(range(count))
        first = spec.columns[0].name
        place_of = {name: place for place, name in enumerate(sheet.values[first]) if isinstance(name, str)}
        ordered: list[int] = []
        state: dict[int, int] = {}
        for start in range(count):
            chain, place = [], start
            while place not in state:
                state[place] = start
                chain.append(place)
                place = place_of.get(sheet.values[own][place], place)
            if state[place] == start and place not in chain[-1:]:
                self.faults.add(spec.name, sheet.rows[place], own,
                    say("rows point at each other in a circle; correct one"))  # fmt: skip
                for each in chain:
                    self.plans[spec.name].by_key.setdefault(sheet.values[first][each], UNSURE)
            ordered += reversed(chain)
        return ordered

    def _known_key(self, plan: SheetPlan, cells: Mapping[str, Any], row: Row | None) -> int | None:
        """Key of the row, recorded or earlier in the sheet, that a sheet's row stands for."""
        if plan.spec.name == "centre":
            return 1 if 1 in plan.known else None
        if plan.spec.identity:
            return plan.by_key.get(names_of(plan.spec, row)[0]) if row is not None else None
        said = cells[plan.spec.columns[0].name]
        found = plan.by_key.get(said) if isinstance(said, str) else None
        return self._entered_here(plan, cells) if found is None else found

    def _entered_here(self, plan: SheetPlan, cells: Mapping[str, Any]) -> int | None:
        """Key of a row entered in the program: it has no record name, and is known by its code, tag or name."""
        for name in plan.spec.keys:
            key = plan.by_key.get(cells[name]) if isinstance(cells.get(name), str) else None
            if key in plan.known and not plan.known[key].get("ref", "-") and key not in plan.row_of:
                return key
        return None

    def _hold_place(self, plan: SheetPlan, cells: Mapping[str, Any]) -> None:
        for name in plan.spec.keys:
            if isinstance(cells.get(name), str):
                plan.by_key.setdefault(cells[name], UNSURE)
        if plan.spec.name in TYPES_OWN:
            self.plans[plan.spec.name].by_key.setdefault("", UNSURE)

    def _take_new(self, plan: SheetPlan, row: Row, cells: Mapping[str, Any], at: int) -> None:
        row["id"] = key = plan.next_id
        plan.next_id += 1
        plan.new.append(row)
        plan.known[key], plan.row_of[key] = row, at
        for name in names_of(plan.spec, row):
            plan.by_key.setdefault(name, key)
        self._index(plan.spec.name, row)
        if plan.spec.name == "people" and row.get("erased_at") is None:
            name, contact = cells["name"], cells["contact"]
            if name is None:
                self.faults.add("people", at, "name", say("is empty; enter the name, it can be erased later"))
            self.extra.people.append({"person_id": key, "name": name, "contact": contact})
        if plan.spec.name == "hire_lines" and cells["note"]:
            self.extra.notes.append({"booking_unit_id": key, "text": cells["note"]})

    def _resolve(self, spec: SheetSpec, cells: Mapping[str, Any], at: int) -> Row | None:
        """The table's row, links as keys; None where a cell of it is faulty."""
        row: Row = {}
        sound = True
        for column in spec.columns:
            value = cells[column.name]
            if value is BAD:
                sound = False
                continue
            if isinstance(value, MarkedDate):
                row[column.precision_field or ""] = value.precision.value
                value = value.date
            elif column.precision_field:
                row[column.precision_field] = "day"
            if column.kind is Kind.LINK and value is not None:
                value = self._link(spec, column, value, row, at)
                sound = sound and value is not None
            if column.field is not None:
                row[column.field] = value
        return row if sound else None

    def _link(self, spec: SheetSpec, column: SheetColumn, said: str, row: Row, at: int) -> int | None:
        found = self._find(spec.name, column, said, row)
        if found is None:
            self.faults.add(spec.name, at, column.name, self._unknown(spec.name, column, said, row))
        return found

    def _find(self, sheet: str, column: SheetColumn, said: str, row: Row) -> int | None:
        target = column.target or ""
        if target in self.sheets.unread:
            return self.plans[target].by_key.get(said, UNSURE)
        if target == "slots" and sheet not in BY_RECORD:
            return self._slot(sheet, said, row)
        if target == "readers" and sheet != "reader_cells":
            unit_type = self._unit_type(sheet, row)
            return UNSURE if unit_type == UNSURE else self._readers.get((unit_type, said), self._unsure("readers"))
        return self.plans[target].by_key.get(said)

    def _unsure(self, sheet: str) -> int | None:
        return self.plans[sheet].by_key.get("")

    def _unit_type(self, sheet: str, row: Row) -> int:
        """Key of the unit type that a row of a sheet speaks of."""
        if sheet == "readers":
            return int(row.get("unit_type_id") or UNSURE)
        unit_id = row.get("unit_id")
        if sheet == "readings":
            unit_id = self.plans["calibrations"].known.get(row.get("calibration_id") or 0, {}).get("unit_id")
        return int(self.plans["units"].known.get(unit_id or 0, {}).get("unit_type_id", UNSURE))

    def _slot(self, sheet: str, said: str, row: Row) -> int | None:
        if sheet == "fittings" and row.get("host_part_id") is not None:
            host = self.plans["parts"].known.get(row["host_part_id"], {}).get("part_type_id", UNSURE)
            return UNSURE if host == UNSURE else self._slots.get(("part", host, said), self._unsure("slots"))
        if sheet == "fittings" and row.get("unit_id") is None:
            return UNSURE  # that neither unit nor host is named is told on its own
        unit_type = self._unit_type(sheet, row)
        if unit_type == UNSURE:
            return UNSURE
        if sheet != "readings":
            return self._slots.get(("unit", unit_type, said), self._unsure("slots"))
        read = self._read_by.get((unit_type, said))
        if read:
            return min(read)
        unsure = self.sheets.unread & set(TYPES_OWN) or any(self._unsure(name) for name in TYPES_OWN)
        return self._slots.get(("unit", unit_type, said), UNSURE if unsure else None)

    def _unknown(self, sheet: str, column: SheetColumn, said: str, row: Row) -> str:
        short = said if len(said) <= 40 else f"{said[:40]}…"
        if column.target in TYPES_OWN and sheet not in BY_RECORD:
            where = say("the assembly it sits in") if row.get("host_part_id") is not None else say("the unit's type")
            return say("'{short}' is not a name that {where} has in {target}; correct it or add it there",
                short=short, where=where, target=column.target)  # fmt: skip
        return say("'{short}' is neither in {target} nor recorded; correct it or add it there", short=short,
            target=column.target)  # fmt: skip

    def _compare(self, plan: SheetPlan, key: int, row: Row, cells: Mapping[str, Any], at: int) -> None:
        """Count a row as recorded already; what differs is a fault, since nothing recorded is edited by a sheet."""
        recorded = plan.known[key]
        same = True
        for column in plan.spec.columns:
            if column.field is None or column.name in self.sheets.sheets[plan.spec.name].absent:
                continue
            if column.field == "ref" and not recorded["ref"]:
                continue  # entered in the program: the record's name in the sheet is the sheet's own
            marks = {column.precision_field: "day"} if column.precision_field else {}
            fields = {column.field: None, **marks}
            if self.sheets.partial and row.get(column.field) is None:
                continue
            if any(not _same(recorded[name], row.get(name), empty) for name, empty in fields.items()):
                same = False
                if self._may_change(plan, key, column, {name: row.get(name) for name in fields}, at):
                    continue
                message = _differs(plan.spec.name, column, recorded[column.field], self)
                self.faults.add(plan.spec.name, at, column.name, message)
        same = self._compare_private(plan.spec.name, key, cells, at) and same
        plan.unchanged += same

    def _may_change(self, plan: SheetPlan, key: int, column: SheetColumn, values: Row, at: int) -> bool:
        """Whether the difference is one to accept; it is noted then, unless another row has the same already."""
        name = plan.spec.name
        if column.name not in self._may.get(name, ()):
            return False
        would_be = {**plan.known[key], **values}
        for fields in unique_sets(plan.spec.table):
            mine = _value(would_be, fields)
            if mine is not None and set(fields) & set(values):
                other = self._holders(plan, fields).setdefault(mine, key)
                if other != key:
                    message = say("{label} is recorded with the same already; correct one of them",
                        label=self.label(name, other))  # fmt: skip
                    self.faults.add(name, at, column.name, message)
                    return True
        before, after = (self._told(column, row) for row in (plan.known[key], would_be))
        values |= {"since_unknown": None} if name == "fittings" else {}
        label = (name == "parts" and plan.known[key]["serial"]) or self.label(name, key)
        self.changes.append(Change(name, key, at, column.name, before=before, after=after, values=values, label=label))
        return True

    def _holders(self, plan: SheetPlan, fields: tuple[str, ...]) -> dict[tuple[Any, ...], int]:
        """Which row holds what may stand once only."""
        wanted = plan.spec.name, fields
        if wanted not in self._held:
            self._held[wanted] = {value: key for key, row in plan.known.items() if (value := _value(row, fields))}
        return self._held[wanted]

    def _told(self, column: SheetColumn, row: Row) -> str:
        value = row[column.field or ""]
        if column.kind is Kind.MARKED and value is not None:
            value = MarkedDate(value, Precision(row[column.precision_field or ""] or "day"))
        linked = column.kind is Kind.LINK and value is not None
        said = self.label(column.target or "", value) if linked else write_cell(column, value, self.sheets.site)
        return said or "not known"

    def _compare_private(self, sheet: str, key: int, cells: Mapping[str, Any], at: int) -> bool:
        said: dict[str, Any] = {}
        if sheet == "people" and key in self._names:
            said = {name: self._names[key][name] for name in ("name", "contact")}
        elif sheet == "hire_lines" and cells["note"] and self._notes.get(key) and cells["note"] not in self._notes[key]:
            said = {"note": say("other words")}
        wrong = [name for name, value in said.items() if not _same(value, cells[name])]
        if self.sheets.partial:
            wrong = [name for name in wrong if cells[name] is not None]
        for name in wrong:
            if name in self._may.get(sheet, ()) and (cells[name] is not None or name != "name"):
                before, after, new = said[name] or "not known", cells[name] or "not known", {name: cells[name]}
                self.changes.append(Change(sheet, key, at, name, before=before, after=after, values=new))
                continue
            self.faults.add(sheet, at, name, say("differs from what is recorded; {remedy}",
                remedy=where_corrected(sheet, name)))  # fmt: skip
        return not wrong


_READER_CELL = (("readers", "reader_id"), ("slots", "cell_slot_id"))


class _Unique:
    """What may stand only once in a table, held against every row."""

    def __init__(self, plan: SheetPlan) -> None:
        self.plan = plan
        self.sets = [names for names in unique_sets(plan.spec.table) if names != ("ref",)]
        self.seen: list[dict[tuple[Any, ...], int]] = [
            {value: key for key, row in plan.known.items() if (value := _value(row, names))} for names in self.sets
        ]

    def clash(self, plan: ImportPlan, row: Row, at: int) -> int | None:
        """Key of the row that this one doubles, with its fault noted; None where it doubles none."""
        found = None
        for names, seen in zip(self.sets, self.seen, strict=True):
            value = _value(row, names)
            if value is None:
                continue
            if value in seen:
                found = seen[value]
                self._tell(plan, names, found, at)
            else:
                seen[value] = self.plan.next_id
        for name in ("tag", "former_tag"):
            other = self.plan.by_key.get(row.get(name) or "", None) if self.plan.spec.name == "units" else None
            if other is not None and other != UNSURE and found is None:
                found = other
                plan.faults.add("units", at, name, say("{row} names another unit already; give each its own tag",
                    row=row[name]))  # fmt: skip
        return found

    def _tell(self, plan: ImportPlan, names: tuple[str, ...], other: int, at: int) -> None:
        column = next(each for each in self.plan.spec.columns if each.field == names[-1])
        where, name = self.plan.row_of.get(other), self.plan.spec.name
        place = (say("{label}, recorded already,", label=plan.label(name,
            other)) if where is None else plan.row_words(where))  # fmt: skip
        plan.faults.add(name, at, column.name, say("{place} has the same; correct one of them", place=place))


def _value(row: Row, names: tuple[str, ...]) -> tuple[Any, ...] | None:
    value = tuple(row.get(name) for name in names)
    return None if None in value or UNSURE in value else value


def _same(recorded: Any, said: Any, empty: Any = None) -> bool:
    if recorded is None:
        recorded = empty
    if isinstance(recorded, str):
        recorded = recorded.strip() or None
    return bool(recorded == said) or UNSURE in (recorded, said)


def _differs(sheet: str, column: SheetColumn, recorded: Any, plan: ImportPlan) -> str:
    shown = recorded
    if column.kind is Kind.LINK and recorded is not None:
        shown = plan.label(column.target or "", recorded)
    return say("differs from what is recorded ({shown}); {remedy}", shown=shown, remedy=where_corrected(sheet))


def _reading(row: Mapping[str, Any]) -> tuple[Any, ...]:
    names = ("slot_id", "part_id", "reader_id", "point", "mv", "po2_shown_bar", "pot_bar", "seconds")
    return tuple(row[name] for name in names)
