"""Judging every calibration of an import from its raw readings, in order of time, before anything is written."""

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from fleetbench.records.cells.past_calibrations import (
    CalibrationFacts,
    calibration_facts,
    read_calibrations_of,
    reading_facts,
)
from fleetbench.records.upkeep.table_facts import Connection
from fleetbench.workshop.cells.judging import bench_book_of, judge_in_turn
from fleetbench.workshop.import_export.import_plan import UNSURE, Plan

OF_A_CELL = re.compile(r"(?P<point>air|oxygen|zero)_mv.* of (?P<cell>.+) on (?P<reader>[^:]+): ")
CONDITION_COLUMNS = {"oxygen_fraction": "oxygen_shown_percent"}
EVERY = 50

Outcomes = dict[int, tuple[Mapping[str, Any], ...]]
"""Rows for calibration_outcome by calibration."""


def judge_new(connection: Connection, plan: Plan, told: Callable[[str, float], None]) -> Outcomes:
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
            told("judging calibrations", count / len(facts))
        if each.calibration_id in new:
            judged[each.calibration_id] = outcome.rows
    return judged


def _facts(connection: Connection, plan: Plan) -> list[CalibrationFacts]:
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


def _refuse(plan: Plan, facts: CalibrationFacts, said: str) -> None:
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
