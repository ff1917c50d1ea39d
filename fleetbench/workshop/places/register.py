"""What a centre states of itself, as lists: which columns are entered and corrected, and every row in words.

register_rows(workplace, sheet)          every row in words, with the values that a form begins with
link_choices(workplace, sheet)           what a column that points at another list may point at
history_of(workplace, sheet, key)        who entered and corrected a row, when and why
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from fleetbench.calc.core.languages import folded, say, say_ref, strung
from fleetbench.calc.core.measures import BAR, CELSIUS, METRE, Measure, in_unit
from fleetbench.calc.core.wall_time import MarkedDate, Precision
from fleetbench.calc.readiness.limits import unit_of_limit
from fleetbench.records.upkeep.lookups import entries_about
from fleetbench.records.upkeep.tables import Connection, count_of, row_of, rows_of
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.columns import SHEETS, UNIT_COLUMNS, Kind, SheetColumn, SheetSpec
from fleetbench.workshop.import_export.import_plan import Row
from fleetbench.workshop.import_export.values import Site, write_cell


@dataclass(frozen=True, slots=True)
class Register:
    """One list of what a centre states of itself: what a row is called, which columns are entered and corrected.

    entered: empty where another act enters such a row. of_stock: corrected by those who manage the stock.
    """

    sheet: str
    thing: str
    entered: tuple[str, ...] = ()
    corrected: tuple[str, ...] = ()
    of_stock: bool = False

    @property
    def spec(self) -> SheetSpec:
        """Its file, of which it has every rule."""
        return SHEETS[self.sheet]

    @property
    def versioned(self) -> bool:
        """Whether a correction ends the row and another takes its place, for what tickets hold by reference."""
        return {"began_at", "ended_at", "supersedes_id"} <= set(self.spec.fields)

    def subject(self, key: int) -> str:
        """What the journal calls a row."""
        return f"{self.thing} {key}"


def _register(sheet: str, thing: str, names: str, *more: str, entered: bool = True, of_stock: bool = False) -> Register:
    """more: what is entered for good and never corrected, such as the type that a slot belongs to."""
    corrected = tuple(names.split(","))
    return Register(
        sheet, thing=thing, entered=(*more, *corrected) if entered else (), corrected=corrected, of_stock=of_stock
    )


REGISTERS: Mapping[str, Register] = {each.sheet: each for each in (
    _register("centre", say("centre"), "name,code,timezone,altitude_m,usual_water_c,usual_depth_m,"
        f"telephone,emergency_telephone,address,currency,{UNIT_COLUMNS}"),
    _register("unit_types", say("unit type"),
              "code,name,build,loop_volume_l,head_volume_l,flush_l_min,first_stage_blocked,set_point_low_bar,"
              "set_point_high_bar,manual"),
    _register("slots", say("slot"), "name,kind,critical,ordinal,flow_place,oxygen_side", "unit_type", "assembly_type"),
    _register("slot_part_types", say("part type of a slot"), "part_type", "slot"),
    _register("readers", say("handset"), "name,kind,slot,ordinal,zero_offset_mv", "unit_type"),
    _register("reader_cells", say("reading of a handset"), "cell_slot,shows,resolution", "reader"),
    _register("part_types", say("part type"),
              "code,name,kind,assembly,grade,stocked_in,lead_days,pack_size,price,source"),
    _register("part_type_lives", say("life"), "basis,amount,unit,test,source", "part_type"),
    _register("limits", say("limit"), "name,amount,unit,source,maker", "unit_type", "part_type"),
    _register("rating_rows", say("rating"), "grade,water_c,depth_m,co2_l_min,minutes,source", "part_type"),
    _register("service_tasks", say("service task"),
              "text,basis,amount,minutes,roles,qualification,second_person,critical,source,ordinal", "unit_type"),
    _register("service_needs", say("need of a service task"), "test,part_type,quantity", "service_task"),
    _register("service_steps", say("step of a service task"),
              "ordinal,kind,text,what,size,unit,low,high,amount,tolerance,before,replace,oxygen,part_type,source",
              "service_task"),
    _register("disinfectants", say("disinfectant"), "name,strength,contact_minutes,use_within_hours,source",
        "unit_type"),
    _register("approved_firmware", say("approved firmware"), "version,source", "unit_type"),
    _register("accessories", say("accessory"), "name,count,ordinal", "unit_type"),
    _register("units", say("unit"),
              "tag,former_tag,unit_type,serial,owner,place,in_service_on,retired_on,harness"),
    _register("absences", say("absence"), "place,why,left_at,expected_on,back_at", entered=False),
    _register("people", say("person"), "role", entered=False),
    _register("parts", say("part"),
              "serial,lot,made_on,opened_on,received_on,fixed_on,owner,place,firmware,supplier,price",
              entered=False, of_stock=True),
    _register("part_tests", say("test of a part"), "done_on,done_by,how", entered=False, of_stock=True),
    _register("cylinders", say("cylinder"), "role,size_l,working_bar,material,marking", entered=False, of_stock=True),
    _register("containers", say("container of absorbent"), "lot,received_on,last_good_day,place", entered=False,
              of_stock=True),
    _register("equipment", say("test equipment"), "kind,name,serial,uncertainty,unit,digit", entered=False),
    _register("owners", say("owner"), "name,kind", entered=False, of_stock=True),
    _register("places", say("place"), "name,kind", entered=False, of_stock=True),
)}  # fmt: skip
"""What may be entered and corrected, by the name of its file: one table, one mechanism."""

WORDS: Mapping[str, tuple[str, str | Measure]] = {
    "code": (say("Code"), ""), "emergency_telephone": (say("Emergency number"), ""),
    "timezone": (say("Time zone"), ""), "altitude_m": (say("Altitude"), METRE),
    "usual_water_c": (say("Usual water temperature"), CELSIUS), "usual_depth_m": (say("Usual depth"), METRE),
    "measures": (say("Units"), ""), "pressure_unit": (say("Pressure in"), ""),
        "temperature_unit": (say("Temperature in"), ""),
    "length_unit": (say("Depth and altitude in"), ""), "mass_unit": (say("Mass in"), ""),
    "loop_volume_l": (say("Loop volume"), "L"), "head_volume_l": (say("Head volume"), "L"),
    "flush_l_min": (say("Flush flow"), "L/min"),
    "first_stage_blocked": (say("First stage blocked from water"), ""), "set_point_low_bar": (say("Low set-point"),
        "bar"),
    "set_point_high_bar": (say("High set-point"), "bar"), "manual": (say("Manual and edition"), ""),
    "unit_type": (say("Unit type"), ""), "assembly_type": (say("Assembly"), ""),
        "oxygen_side": (say("On the oxygen side"), ""),
    "critical": (say("Must be filled"), ""), "ordinal": (say("Position in lists"), ""),
        "flow_place": (say("Place in the flow"), ""),
    "part_type": (say("Part type"), ""), "zero_offset_mv": (say("Zero offset"), "mV"),
        "cell_slot": (say("Cell position"), ""),
    "reader": (say("Handset"), ""), "resolution": (say("Display resolution"), ""), "stocked_in": (say("Counted in"),
        ""),
    "lead_days": (say("Delivery time"), "days"), "pack_size": (say("Pieces in a pack"), ""),
        "basis": (say("Counted from"), ""),
    "source": (say("Source"), ""), "maker": (say("By the maker"), ""),
    "water_c": (say("Water temperature"), CELSIUS), "depth_m": (say("Depth"), METRE),
        "co2_l_min": (say("Carbon dioxide"), "L/min"),
    "minutes": (say("Minutes"), "min"), "contact_minutes": (say("Contact time"), "min"),
        "second_person": (say("Second person"), ""),
    "use_within_hours": (say("Use within"), "h"), "tag": (say("Tag"), ""), "former_tag": (say("Former tag"), ""),
    "in_service_on": (say("In service since"), ""), "retired_on": (say("Retired on"), ""), "made_on": (say("Made"), ""),
    "opened_on": (say("Opened"), ""), "received_on": (say("Received on"), ""), "fixed_on": (say("Use-by date"), ""),
    "left_at": (say("Left"), ""), "expected_on": (say("Expected back"), ""), "back_at": (say("Came back"), ""),
        "why": (say("Why"), ""),
    "done_on": (say("Done on"), ""), "done_by": (say("Done by"), ""), "how": (say("How"), ""),
        "size_l": (say("Water volume"), "L"),
    "working_bar": (say("Working pressure"), BAR), "last_good_day": (say("Last valid day"), ""),
    "digit": (say("Display resolution"), ""), "service_task": (say("Service task"), ""), "part": (say("Part"), ""),
    "what": (say("Quantity, place of the seal, or lubricant"), ""), "size": (say("Size of the seal"), ""),
    "low": (say("Lowest allowed"), ""), "high": (say("Highest allowed"), ""), "tolerance": (say("Tolerance, ±"), "N·m"),
    "before": (say("Before the work too"), ""), "replace": (say("Replace the seal"), ""),
    "oxygen": (say("Allowed for oxygen"), ""),
    "test": (say("Test"), ""), "text": (say("What is done"), ""), "contact": (say("Telephone or e-mail"), ""),
}  # fmt: skip
"""What a column is called on screen, with its unit; others by their own name with a capital."""


@dataclass(frozen=True, slots=True)
class RegisterRow:
    """One row of a register: its key and name, its values by column as a form begins with them, and each in words."""

    sheet: str
    key: int
    label: str
    values: Mapping[str, Any] = field(default_factory=dict)
    shown: Mapping[str, str] = field(default_factory=dict)


def figure_words(sheet: str, column: str, row: Row) -> str:
    """A figure of a row with its unit, in the unit in use."""
    if sheet == "limits" and column == "amount":
        return in_unit(row["amount"], unit_of_limit(row["name"], row["unit"]))
    return in_unit(row[column], row["unit"] if column == "amount" and "unit" in row else WORDS.get(column, ("", ""))[1])


def label_of(column: str) -> str:
    """What a column is called on screen."""
    return WORDS[column][0] if column in WORDS else say(column.replace("_", " ").capitalize())


# ---- reading -------------------------------------------------------------------------------------------------------


def register_rows(workplace: Workplace, sheet: str, key: int | None = None) -> tuple[RegisterRow, ...]:
    """Every row of a register that no correction ended, or the one with that key, in the order of entry."""
    spec, site = SHEETS[sheet], Site(workplace.zone())
    with workplace.database.reading() as connection:
        found = row_of(connection, spec.table, key) if key is not None else None
        rows = rows_of(connection, spec.table) if key is None else [found] if found is not None else []
        if key is None and REGISTERS[sheet].versioned:
            rows = [row for row in rows if row["ended_at"] is None]
        names = {each.target: labels_of(connection, each.target or "") for each in links_of(spec, asked_of(sheet))}
        own = labels_of(connection, sheet, rows)
    return tuple(row_words(spec, row, own[row["id"]], names, site) for row in rows)


def count_rows(workplace: Workplace, sheets: Iterable[str]) -> dict[str, int]:
    """How many rows each of these lists has; one statement a list."""
    with workplace.database.reading() as connection:
        return {
            sheet: count_of(connection, SHEETS[sheet].table, in_force=sheet in REGISTERS and REGISTERS[sheet].versioned)
            for sheet in sheets
        }


def asked_of(sheet: str) -> tuple[str, ...]:
    """The columns that a register shows: what is entered, then what is corrected besides."""
    register = REGISTERS[sheet]
    return tuple(dict.fromkeys((*register.entered, *register.corrected)))


def link_choices(workplace: Workplace, sheet: str, names: Sequence[str]) -> dict[str, list[tuple[str, int]]]:
    """For each of these columns that points at another list: what it may point at, by name."""
    spec = SHEETS[sheet]
    with workplace.database.reading() as connection:
        found = {each.name: labels_of(connection, each.target or "") for each in links_of(spec, names)}
    return {
        name: sorted(((label, key) for key, label in labels.items()), key=_by_label) for name, labels in found.items()
    }


def history_of(workplace: Workplace, sheet: str, key: int) -> tuple[tuple[datetime, str, str, str], ...]:
    """Moment, who, what and why of every entry and correction of a row that was made in the program, newest first."""
    register = REGISTERS[sheet]
    with workplace.database.reading() as connection:
        found = list(entries_about(connection, register.subject(key)))
        row = row_of(connection, register.spec.table, key) if register.versioned else None
        while row is not None and row["supersedes_id"] is not None:
            found += entries_about(connection, register.subject(row["supersedes_id"]))
            row = row_of(connection, register.spec.table, row["supersedes_id"])
    return tuple((at, code or say("the program"), *_entry_words(act, content)) for at, code, act, content in found)


def _entry_words(act: str, content: str) -> tuple[str, str]:
    why = json.loads(content).get("why")
    if why is None:
        return say(act), ""
    return strung(
        "; ",
        (
            strung("", (say(name), ": ", old or NOTHING, " → ", new or NOTHING))
            for name, (old, new) in why["changed"].items()
        ),
    ), why["reason"]


def _by_label(choice: tuple[str, int]) -> str:
    return folded(choice[0])


def links_of(spec: SheetSpec, names: Iterable[str]) -> list[SheetColumn]:
    """Those of the columns that point at another list."""
    return [each for each in spec.columns if each.kind is Kind.LINK and each.name in names]


def labels_of(connection: Connection, sheet: str, rows: Iterable[Row] | None = None) -> dict[int, str]:
    """What each row of a list is called, by key; those of the rows, or all."""
    found = rows if rows is not None else rows_of(connection, SHEETS[sheet].table)
    owners: dict[str, dict[int, str]] = {
        name: labels_of(connection, target) for name, target in _NAMED_WITH.get(sheet, ())
    }
    return {row["id"]: row_label(row, owners) for row in found}


_NAMED_WITH: Mapping[str, tuple[tuple[str, str], ...]] = {
    "slots": (("unit_type_id", "unit_types"), ("assembly_type_id", "part_types")),
    "readers": (("unit_type_id", "unit_types"),),
    "reader_cells": (("reader_id", "readers"), ("cell_slot_id", "slots")),
    "part_type_lives": (("part_type_id", "part_types"),),
    "limits": (("unit_type_id", "unit_types"), ("part_type_id", "part_types")),
    "rating_rows": (("part_type_id", "part_types"),),
    "slot_part_types": (("slot_id", "slots"), ("part_type_id", "part_types")),
    "service_tasks": (("unit_type_id", "unit_types"),),
    "service_steps": (("service_task_id", "service_tasks"),),
    "service_needs": (("service_task_id", "service_tasks"), ("part_type_id", "part_types")),
    "disinfectants": (("unit_type_id", "unit_types"),),
    "approved_firmware": (("unit_type_id", "unit_types"),),
    "accessories": (("unit_type_id", "unit_types"),),
    "absences": (("unit_id", "units"),),
}
"""Whose name stands before that of a row."""


NOTHING = say("not recorded")
"""Where a value is none."""
OWN_NAMES = ("tag", "code", "serial", "name", "text", "version", "basis", "why", "lot")
"""Columns by which a row is called, the first that is filled in."""


def row_label(row: Row, owners: Mapping[str, Mapping[int, str]]) -> str:
    """What a row is called: whose it is, then its own name."""
    whose = [names[row[column]] for column, names in owners.items() if row.get(column) is not None]
    own = next((str(row[name]) for name in OWN_NAMES if row.get(name)), "").replace("test_interval", "test interval")
    return strung(": ", [*whose, *([own] if own else [])]) or say("number {number}", number=row["id"])


def row_words(
    spec: SheetSpec, row: Row, label: str, names: Mapping[str | None, Mapping[int, str]], site: Site
) -> RegisterRow:
    """A row with its values as a form begins with them, and each in words."""
    values: dict[str, Any] = {}
    shown: dict[str, str] = {}
    for name in asked_of(spec.name):
        column = spec.column(name)
        value = row[column.field or ""]
        if column.precision_field and value is not None:
            value = MarkedDate(value, Precision(row[column.precision_field] or "day"))
        values[name] = value
        shown[name] = in_words(column, value, names, site)
    if spec.name == "limits" and row["amount"] is not None:
        unit = unit_of_limit(row["name"], row["unit"])
        shown |= {"amount": in_unit(row["amount"], unit).removesuffix(f" {unit}"), "unit": str(unit)}
    return RegisterRow(spec.name, key=row["id"], label=label, values=values, shown=shown)


def in_words(column: SheetColumn, value: Any, names: Mapping[str | None, Mapping[int, str]], site: Site) -> str:
    """A value as a list shows it; empty where nothing is recorded."""
    if value is None:
        return ""
    if column.kind is Kind.LINK:
        return names.get(column.target, {}).get(value, say_ref("number {ref}", value))
    unit = WORDS.get(column.name, ("", ""))[1]
    if isinstance(unit, Measure):
        return unit.words(value)
    text = write_cell(column, value, site).removeprefix("'")
    return text.replace("_", " ") if column.kind is Kind.WORD else text
