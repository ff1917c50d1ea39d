"""What must hold within a row and between rows, told as faults of the sheet before anything is written.

Judging every calibration of an import from its raw readings, in order of time, before anything is written.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import date
from typing import Any

from fleetbench.calc.cells.readings import CellPoint
from fleetbench.calc.core.languages import say
from fleetbench.calc.core.plausible import OF_POINT, OF_TEST, Likely, Plausible, plausible, typed_twice
from fleetbench.calc.core.verdict import WorkState
from fleetbench.calc.core.wall_time import MarkedDate, Precision
from fleetbench.calc.parts.kinds import PART_KINDS, PartState
from fleetbench.calc.readiness.limits import Scope, limit_fault, not_known
from fleetbench.calc.tickets.service_plan import EVENTS, PlanTask
from fleetbench.calc.tickets.steps import PlanStep
from fleetbench.records.cells.reads import CalibrationFacts, calibration_facts, read_calibrations_of, reading_facts
from fleetbench.records.parts.reads import LifeRecord
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.cells.judging import bench_book_of, judge_in_turn
from fleetbench.workshop.import_export.columns import SHEETS
from fleetbench.workshop.import_export.import_plan import UNSURE, ImportPlan, Row
from fleetbench.workshop.parts.lives import life_limit

ORDERED: dict[str, tuple[tuple[str, str], ...]] = {
    "units": (("in_service_on", "retired_on"),),
    "fittings": (("fitted_at", "removed_at"),),
    "absences": (("left_at", "back_at"),),
    "holds": (("placed_at", "lifted_at"),),
    "bookings": (("starts_on", "ends_on"),),
    "hire_lines": (("out_at", "received_at"),),
    "tickets": (("opened_at", "signed_at"),),
    "sessions": (("started_at", "ended_at"),),
    "fills": (("packed_at", "discarded_at"), ("packed_at", "wetted_at")),
    "disinfections": (("at", "dry_at"),),
    "qualifications": (("seen_on", "valid_until"),),
    "ticket_times": (("began_at", "ended_at"),),
    "turn_rounds": (("opened_at", "finished_at"),),
    "baths": (("mixed_at", "at"), ("mixed_at", "use_by")),
}
"""Pairs of dates that come one after the other."""

TOGETHER: dict[str, tuple[tuple[str, str], ...]] = {
    "tickets": (("signed_at", "signed_by"), ("signed_by", "signed_at")),
    "holds": (("lifted_at", "lifted_by"), ("lifted_by", "lifted_at")),
    "fittings": (("why_removed", "removed_at"), ("removed_by", "removed_at")),
    "hire_lines": (("received_at", "out_at"),),
    "turn_rounds": (("finished_at", "finished_by"), ("finished_by", "finished_at")),
}
"""Where the first is filled in, the second must be."""

CURRENCY = re.compile("[A-Z]{3}")
"""ISO 4217: three capital letters."""

Told = Iterable[tuple[str, str]]
"""Column and message of each fault of one row."""


def check(plan: ImportPlan) -> None:
    """Note every fault that a row has on its own or with others."""
    for name, sheet in plan.plans.items():
        for row in (*sheet.new, *plan.corrected(name)):
            for column, message in row_faults(plan, name, row):
                plan.fault(name, row["id"], column, message)
    _slots_named_once(plan)
    _no_two_at_once(plan)
    _states_of_parts(plan)
    _read_once(plan)


def row_faults(plan: ImportPlan, sheet: str, row: Row) -> Told:
    """What is wrong with one row of a sheet, by itself and with what it points at."""
    yield from _common(sheet, row)
    if sheet in _OWN:
        yield from _OWN[sheet](plan, row)


def _common(sheet: str, row: Row) -> Told:
    for first, second in ORDERED.get(sheet, ()):
        earlier, later = row.get(first), row.get(second)
        if earlier is not None and later is not None and later < earlier:
            yield second, say("lies before {first}; correct one of them", first=first)
    for filled, needed in TOGETHER.get(sheet, ()):
        if _cell(sheet, filled, row) is not None and _cell(sheet, needed, row) is None:
            yield needed, say("is empty though {filled} is not; enter it", filled=filled)


def _cell(sheet: str, column: str, row: Row) -> Any:
    return row.get(SHEETS[sheet].column(column).field or "")


def _life(_plan: ImportPlan, row: Row) -> Told:
    try:
        life_limit(LifeRecord(**{name: row[name] for name in LifeRecord.__dataclass_fields__}))
    except ValueError as fault:
        column, _, message = str(fault).partition(": ")
        yield {"test_kind": "test"}.get(column, column), message or str(fault)


def _limit(_plan: ImportPlan, row: Row) -> Told:
    if row["unit_type_id"] is not None and row["part_type_id"] is not None:
        yield "part_type", say("a limit belongs to a unit type or to a part type; leave one of them empty")
        return
    fault = limit_fault(row["name"], row["unit"], _scope(row))
    if fault is not None:
        yield fault


def _slot_part_type(plan: ImportPlan, row: Row) -> Told:
    slot = plan.plans["slots"].known.get(row["slot_id"] or 0)
    kind = plan.plans["part_types"].known.get(row["part_type_id"] or 0)
    if slot is not None and kind is not None and slot["kind"] != kind["kind"]:
        yield (
            "part_type",
            say(
                "{code} is a {kind}, the slot takes a {slot_kind}; correct one",
                code=kind["code"],
                kind=say(kind["kind"]),
                slot_kind=say(slot["kind"]),
            ),
        )


def _scope(row: Row) -> Scope:
    if row["part_type_id"] is not None:
        return Scope.PART_TYPE
    return Scope.CENTRE if row["unit_type_id"] is None else Scope.UNIT_TYPE


def _centre(_plan: ImportPlan, row: Row) -> Told:
    said = row.get("currency")
    if said is not None and not CURRENCY.fullmatch(said):
        yield (
            "currency",
            say(
                "'{said}' is no code of a currency; write its three letters as in ISO 4217, for instance EUR", said=said
            ),
        )


def _kind(_plan: ImportPlan, row: Row) -> Told:
    if row["kind"] not in PART_KINDS:
        yield "kind", not_known(row["kind"], PART_KINDS, say("kind of part"))


def _slot(plan: ImportPlan, row: Row) -> Told:
    yield from _kind(plan, row)
    if (row["unit_type_id"] is None) == (row["assembly_type_id"] is None):
        yield "unit_type", say("a slot belongs to a unit type or to an assembly; fill in just one of them")


def _part(_plan: ImportPlan, row: Row) -> Told:
    made, opened, received = (_marked(row, name) for name in ("made", "opened", "received"))
    if made and opened and opened.last_day < made.first_day:
        yield "opened_on", say("lies before made_on; correct one of them")
    if made and received and received.last_day < made.first_day:
        yield "received_on", say("lies before made_on; correct one of them")


def _marked(row: Row, name: str) -> MarkedDate | None:
    day = row.get(f"{name}_on")
    return MarkedDate(day, Precision(row.get(f"{name}_precision", "day"))) if isinstance(day, date) else None


def _kind_of(plan: ImportPlan, part_id: int | None) -> str | None:
    """Kind of a part, None where it is unknown or named in a faulty row."""
    part = plan.plans["parts"].known.get(part_id or 0)
    kind = plan.plans["part_types"].known.get(part["part_type_id"]) if part is not None else None
    return None if kind is None else str(kind["kind"])


def _must_be(column: str, ending: str) -> Callable[[ImportPlan, Row], Told]:
    def told(plan: ImportPlan, row: Row) -> Told:
        kind = _kind_of(plan, row["part_id"])
        if kind is not None and not kind.endswith(ending):
            yield (
                column,
                say(
                    "{label} is a {kind}, not a {ending}; correct it",
                    label=plan.label("parts", row["part_id"]),
                    kind=say(kind),
                    ending=say(ending),
                ),
            )

    return told


def _hold(_plan: ImportPlan, row: Row) -> Told:
    if row["unit_id"] is None and row["part_id"] is None:
        yield "unit", say("is empty and so is part; enter what is on hold")


def _container(_plan: ImportPlan, row: Row) -> Told:
    if row["left_kg"] > row["received_kg"]:
        yield "left_kg", say("is more than was received; correct one of them")


def _mixture(column: str, oxygen: str, helium: str, most: float) -> Callable[[ImportPlan, Row], Told]:
    def told(_plan: ImportPlan, row: Row) -> Told:
        if (row[oxygen] or 0.0) + (row[helium] or 0.0) > most:
            yield column, say("oxygen and helium are more than {most:g} % together; correct one of them", most=most)

    return told


def _service_task(_plan: ImportPlan, row: Row) -> Told:
    try:
        PlanTask(row["text"] or "", row["basis"], row["amount"], row["source"] or "")
    except ValueError as fault:
        column, _, message = str(fault).partition(": ")
        yield column, message or str(fault)


def _service_need(_plan: ImportPlan, row: Row) -> Told:
    if (row["test"] is None) == (row["part_type_id"] is None):
        yield "test", say("a need is a test or a part type; fill in just one of them")


def _service_step(plan: ImportPlan, row: Row) -> Told:
    yield from PlanStep(**{name: row[name] for name in PlanStep.__dataclass_fields__}).faults()
    task = plan.plans["service_tasks"].known.get(row["service_task_id"])
    if task is not None and task["basis"] in EVENTS:
        yield (
            "service_task",
            say(
                "is done at every {basis} on a card, which has no steps; choose another task", basis=say(task["basis"])
            ),
        )
    part_type = plan.plans["part_types"].known.get(row["part_type_id"] or 0)
    if part_type is not None and part_type["stocked_in"] != "piece":
        yield (
            "part_type",
            say("is stocked in {unit}; choose one that is counted in pieces", unit=part_type["stocked_in"]),
        )


def _step_result(plan: ImportPlan, row: Row) -> Told:
    if (row["state"] == WorkState.TO_DO) != (row["settled_at"] is None):
        yield "settled_at", say("stands with a step that is settled, and with no other; correct it or the state")
    task = plan.plans["tasks"].known.get(row["task_id"])
    if task is not None and row["ticket_id"] not in (UNSURE, task["ticket_id"]):
        yield "ticket", say("is not the ticket of the task; correct one of them")


def _turn_round_line(_plan: ImportPlan, row: Row) -> Told:
    if (row["state"] == WorkState.TO_DO) != (row["settled_at"] is None):
        yield "settled_at", say("stands with a line that is settled, and with no other; correct it or the state")
    if row["step"] == "service" and row["service_task_id"] is None:
        yield "service_task", say("is empty; enter which task of the plan the line is")


def _reading(plan: ImportPlan, row: Row) -> Told:
    yield from _must_be("cell", "cell")(plan, row)
    if row["point"] == CellPoint.POT and row["pot_bar"] is None:
        yield "pot_bar", say("is empty; enter the oxygen pressure in the pot")
    if row["mv"] is not None and row["point"] in OF_POINT:
        yield from _refused("mv", plausible(OF_POINT[row["point"]], row["mv"]))
    if row["point"] == CellPoint.SETTLING and row["seconds"] is None:
        yield "seconds", say("is empty; enter when the digit was seen")
    calibration = plan.plans["calibrations"].known.get(row["calibration_id"])
    if calibration is not None and UNSURE not in (row["part_id"], row["slot_id"]):
        yield from _sat_there(plan, row, calibration)


def _refused(column: str, found: Plausible) -> Told:
    if found.likely is Likely.REFUSE:
        yield column, found.words


def _bench_test(_plan: ImportPlan, row: Row) -> Told:
    """A figure that a person would be asked about needs its remark, as the program writes it."""
    if row["value"] is None or row["kind"] not in OF_TEST:
        return
    found = plausible(OF_TEST[row["kind"]], row["value"])
    yield from _refused("value", found)
    if found.likely is Likely.ASK and not row["note"]:
        again = typed_twice(OF_TEST[row["kind"]], row["value"])
        yield "value", say("{found}; correct it, or write '{again}' as the note", found=found.words, again=again)


def _sat_there(plan: ImportPlan, row: Row, calibration: Row) -> Told:
    for fitting in plan.seats().get(row["part_id"], ()):
        ended = fitting["removed_at"]
        if not (fitting["fitted_at"] <= calibration["at"] and (ended is None or calibration["at"] <= ended)):
            continue
        if fitting["slot_id"] not in (row["slot_id"], UNSURE):
            where = plan.plans["slots"].known.get(fitting["slot_id"], {}).get("name", say("another slot"))
            yield (
                "slot",
                say(
                    "{label} sat in {where} then; correct one of them",
                    label=plan.label("parts", row["part_id"]),
                    where=where,
                ),
            )
        return


def _fitting(plan: ImportPlan, row: Row) -> Told:
    if (row["unit_id"] is None) == (row["host_part_id"] is None):
        yield "unit", say("a part sits in a unit or in another part; fill in just one of unit and host_part")
        return
    if row["host_part_id"] == row["part_id"] != UNSURE:
        yield "host_part", say("a part cannot sit in itself; correct it")
    kind = _kind_of(plan, row["part_id"])
    slot = plan.plans["slots"].known.get(row["slot_id"])
    if kind is not None and slot is not None and slot["kind"] != kind:
        yield (
            "part",
            say(
                "{label} is a {kind}, the slot takes a {slot_kind}; correct one",
                label=plan.label("parts", row["part_id"]),
                kind=say(kind),
                slot_kind=say(slot["kind"]),
            ),
        )


_OWN: dict[str, Callable[[ImportPlan, Row], Told]] = {
    "centre": _centre,
    "service_tasks": _service_task,
    "service_needs": _service_need,
    "service_steps": _service_step,
    "step_results": _step_result,
    "bench_tests": _bench_test,
    "turn_round_lines": _turn_round_line,
    "part_type_lives": _life,
    "limits": _limit,
    "part_types": _kind,
    "slots": _slot,
    "slot_part_types": _slot_part_type,
    "parts": _part,
    "cylinders": _must_be("part", "cylinder"),
    "cylinder_fills": _mixture("helium_asked", "oxygen_asked", "helium_asked", 100.0),
    "gas_analyses": _mixture("helium_percent", "oxygen_percent", "helium_percent", 101.0),
    "holds": _hold,
    "containers": _container,
    "fills": _must_be("canister", "canister"),
    "fittings": _fitting,
    "readings": _reading,
}


# ---- between rows --------------------------------------------------------------------------------------------------


def _slots_named_once(plan: ImportPlan) -> None:
    named = (("slots", ("unit_type_id", "assembly_type_id", "name")), ("readers", ("unit_type_id", "name")))
    for sheet, names in named:
        seen: dict[tuple[Any, ...], int] = {}
        for key, row in plan.plans[sheet].known.items():
            value = tuple(row[name] for name in names)
            if seen.setdefault(value, key) != key and UNSURE not in value:
                plan.fault(
                    sheet, key, "name", say("{name} stands there twice; give each its own name", name=row["name"])
                )


def _no_two_at_once(plan: ImportPlan) -> None:
    """A part in two places, or two parts in one slot, at the same time."""
    fittings = [row for row in plan.plans["fittings"].known.values() if UNSURE not in row.values()]
    places: dict[tuple[Any, ...], list[Row]] = {}
    for row in fittings:
        places.setdefault(("part", row["part_id"]), []).append(row)
        places.setdefault(("slot", row["unit_id"], row["host_part_id"], row["slot_id"]), []).append(row)
    for (what, *_), rows in places.items():
        for earlier, later in _overlapping(rows):
            _tell_overlap(plan, what, earlier, later)


def _overlapping(rows: list[Row]) -> Iterator[tuple[Row, Row]]:
    ordered = sorted(rows, key=lambda row: (row["fitted_at"], row["id"]))
    lasting = ordered[0]
    for row in ordered[1:]:
        if lasting["removed_at"] is None or row["fitted_at"] < lasting["removed_at"]:
            yield lasting, row
        ends, last = row["removed_at"], lasting["removed_at"]
        if last is not None and (ends is None or ends > last):
            lasting = row


def _tell_overlap(plan: ImportPlan, what: str, earlier: Row, later: Row) -> None:
    new = plan.plans["fittings"].row_of
    told, other = (later, earlier) if later["id"] in new else (earlier, later)
    if told["id"] not in new:
        return  # both are recorded; a sheet cannot mend that
    where = say("row {row}", row=new[other["id"]]) if other["id"] in new else plan.label("fittings", other["id"])
    if what == "part":
        message = say(
            "{label} sits in another place at that time ({where}); correct one",
            label=plan.label("parts", told["part_id"]),
            where=where,
        )
        plan.fault("fittings", told["id"], "part", message)
    else:
        message = say("another part sits there at that time ({where}); enter when it was removed", where=where)
        plan.fault("fittings", told["id"], "slot", message)


def _states_of_parts(plan: ImportPlan) -> None:
    seated = {row["part_id"] for row in plan.plans["fittings"].known.values() if row["removed_at"] is None}
    unsure = bool(plan.sheets.unread & {"fittings"}) or any(fault.sheet == "fittings" for fault in plan.faults.found)
    for row in plan.plans["parts"].new:
        if row["id"] in seated and row["state"] != PartState.FITTED:
            plan.fault(
                "parts",
                row["id"],
                "state",
                say("is {state} though a fitting is open; correct one of them", state=say(row["state"])),
            )
        elif row["state"] == PartState.FITTED and row["id"] not in seated and not unsure:
            plan.fault("parts", row["id"], "state", say("is fitted though no fitting is open; correct one of them"))


def _read_once(plan: ImportPlan) -> None:
    seen: dict[tuple[Any, ...], int] = {}
    others = (CellPoint.POT, CellPoint.SETTLING)
    for row in (each for each in plan.plans["readings"].new if each["point"] not in others):
        value = tuple(row[name] for name in ("calibration_id", "part_id", "reader_id", "point"))
        if UNSURE not in value and seen.setdefault(value, row["id"]) != row["id"]:
            where = plan.plans["readings"].row_of[seen[value]]
            why = say("was read in row {where} already; keep one of them", where=where)
            plan.fault("readings", row["id"], "point", why)


OF_A_CELL = re.compile(r"(?P<point>air|oxygen|zero)_mv.* of (?P<cell>.+) on (?P<reader>[^:]+): ")
CONDITION_COLUMNS = {"oxygen_fraction": "oxygen_shown_percent"}
EVERY = 50

Outcomes = dict[int, tuple[Mapping[str, Any], ...]]
"""Rows for calibration_outcome by calibration."""


def judge_new(connection: Connection, plan: ImportPlan, told: Callable[[str, float], None]) -> Outcomes:
    """What each new calibration says of its cells; what cannot be judged is a fault of its sheet."""
    facts = _facts(connection, plan)
    new = plan.plans["calibrations"].row_of
    judged: Outcomes = {}
    if not new:
        return judged
    book = bench_book_of(plan.rows, plan.sheets.site.zone)
    turns = judge_in_turn(facts, book, lambda each, fault: _refuse(plan, each, str(fault)))
    for count, (each, outcome) in enumerate(turns):
        if count % EVERY == 0:
            told(say("judging calibrations"), count / len(facts))
        if each.calibration_id in new:
            judged[each.calibration_id] = outcome.rows
    return judged


def _facts(connection: Connection, plan: ImportPlan) -> list[CalibrationFacts]:
    """New calibrations and the recorded ones of the same cells, oldest first, those that have readings."""
    readings: dict[int, list[Mapping[str, Any]]] = {}
    for row in plan.plans["readings"].new:
        if UNSURE not in row.values():
            readings.setdefault(row["calibration_id"], []).append(row)
    superseded = {row["supersedes_id"] for row in plan.plans["calibrations"].new if row["supersedes_id"] is not None}
    new = [
        replace(
            calibration_facts(row, tuple(reading_facts(each) for each in readings[row["id"]])),
            superseded=row["id"] in superseded,
        )
        for row in plan.plans["calibrations"].new
        if row["id"] in readings
    ]
    cells = {row["part_id"] for rows in readings.values() for row in rows}
    any_recorded = len(plan.plans["calibrations"].known) > len(plan.plans["calibrations"].new)
    recorded = read_calibrations_of(connection, cells) if any_recorded else ()
    listed = [*(each for each in recorded if each.calibration_id not in superseded), *new]
    # One that was put right counts for nothing, but its outcome is still told: it goes before those in force.
    return sorted(listed, key=lambda each: (each.at, each.calibration_id not in superseded, each.calibration_id))


def _refuse(plan: ImportPlan, facts: CalibrationFacts, said: str) -> None:
    key = facts.calibration_id
    if key not in plan.plans["calibrations"].row_of:
        return
    match = OF_A_CELL.match(said)
    if match is None:
        field, _, message = said.partition(": ")
        known = {column.name for column in plan.plans["calibrations"].spec.columns}
        column = CONDITION_COLUMNS.get(field, field)
        plan.fault("calibrations", key, column if column in known else "record", message if column in known else said)
        return
    slots, readers = plan.plans["slots"].known, plan.plans["readers"].known
    for row in plan.plans["readings"].new:
        names = (slots.get(row["slot_id"], {}).get("name"), readers.get(row["reader_id"], {}).get("name"))
        if row["calibration_id"] == key and (row["point"], *names) == match.group("point", "cell", "reader"):
            plan.fault("readings", row["id"], "mv", said[match.end() :])
            return
