"""Taking in a folder of a centre's sheets, whole or not at all.

import_folder(workplace, folder, dry_run=False, shift_to=None, progress=None, may_change={}, correct=None)
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from types import MappingProxyType, SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

from fleetbench.calc.core.languages import in_row, say, say_count, strung
from fleetbench.calc.core.measures import in_unit
from fleetbench.calc.readiness.limits import in_force, unit_of_limit
from fleetbench.records.cells.tables import CalibrationOutcome, CalibrationReading
from fleetbench.records.core.database import learn_sizes
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.hires.tables import HireNote
from fleetbench.records.parts.reads import LifeRecord, PartRecord, PartTestRecord
from fleetbench.records.people.reads import anybody_active, managers_with_pin
from fleetbench.records.people.tables import Person, PersonPrivate
from fleetbench.records.places.tables import centre_timezone
from fleetbench.records.upkeep.tables import Connection
from fleetbench.records.upkeep.verify import head_of
from fleetbench.workshop.cells.outlook import refresh_forecasts
from fleetbench.workshop.core.known import no_cycle_search
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.acts_rules import obey
from fleetbench.workshop.import_export.checks import Outcomes, check, judge_new
from fleetbench.workshop.import_export.columns import SHEETS
from fleetbench.workshop.import_export.files import Cancelled, Fault, Faults, Progress, Sheets, read_folder
from fleetbench.workshop.import_export.import_plan import ImportPlan, Row
from fleetbench.workshop.import_export.values import Change, Corrects, MayChange, Watches
from fleetbench.workshop.parts.lives import CalendarBook, last_passed, limits_by_type, refresh_lives
from fleetbench.workshop.people.acts import check_pin

__all__ = ["Cancelled", "Fault", "ImportReport", "import_folder"]

ENTRY_ROWS = 500
"""Rows of one sheet in one journal entry."""

AT_ONCE = 200
"""Calibrations whose rows go to the database in one statement a table."""


@dataclass(frozen=True, slots=True)
class ImportReport:
    """What an import did, or would do: rows by sheet, and every fault. With one fault nothing was written.

    notes: what to know of the rows though they are sound, such as a limit that is looser than the one in force.
    changes: recorded rows that the files state otherwise; nothing is written until they are accepted. said: what those
    that were accepted moved.
    """

    added: dict[str, int]
    unchanged: dict[str, int]
    faults: tuple[Fault, ...]
    written: bool
    entries: int = 0
    notes: tuple[str, ...] = ()
    changes: tuple[Change, ...] = ()
    corrected: int = 0
    said: tuple[str, ...] = ()

    def lines(self) -> Iterator[str]:
        """Everything of it, a line each."""
        for fault in self.faults:
            yield say(
                "{file}, row {row}, {column}: {message}",
                file=fault.sheet,
                row=fault.row,
                column=fault.column,
                message=fault.message,
            )
        for note in self.notes:
            yield say("note: {note}", note=note)
        for each in self.changes:
            yield say(
                "{file}, row {row}, {column}: {before} -> {after}",
                file=each.sheet,
                row=each.row,
                column=each.column,
                before=each.before,
                after=each.after,
            )
        yield from self.said
        for sheet, count in self.added.items():
            if count:
                yield (say("{file}: {count} added", file=sheet, count=count) if self.written
                       else say("{file}: {count} would be added", file=sheet, count=count))  # fmt: skip
        counts = sum(self.added.values()), sum(self.unchanged.values())
        yield strung(
            ", ",
            (say("{new} new, {unchanged} unchanged", new=counts[0], unchanged=counts[1]), _faults(len(self.faults))),
        )

    def refusal(self, *, dry_run: bool) -> str:
        """Why nothing was written though it was asked for, with the remedy; empty where nothing stood against it."""
        if self.faults:
            return say("{faults} in the files; correct them", faults=_faults(len(self.faults)))
        if not self.changes or self.written or dry_run:
            return ""
        told = say("accept them with --accept-changes --reason WHY, or take the rows out of the files")
        return strung(
            "; ",
            (
                say_count(
                    "{count} value stated otherwise than recorded",
                    "{count} values stated otherwise than recorded",
                    len(self.changes),
                ),
                told,
            ),
        )


def _faults(number: int) -> str:
    return say_count("{count} fault", "{count} faults", number)


class _Faulty(Exception):  # noqa: N818 - it carries faults, it is none
    """The records changed meanwhile so that the sheets no longer fit."""


@dataclass(slots=True)
class PreparedImport:
    """A plan with its outcomes, and the journal's head that it holds for."""

    plan: ImportPlan
    outcomes: Outcomes
    head: tuple[int, str | None]


@dataclass(slots=True)
class _Stage:
    """One stage of the work as a part of the whole, for whoever watches."""

    progress: Progress | None
    begins: float
    ends: float

    def __call__(self, what: str, done: float) -> None:
        """Tell how far this stage is."""
        if self.progress is not None:
            self.progress(what, self.begins + (self.ends - self.begins) * min(done, 1.0))


def import_folder(
    workplace: Workplace,
    folder: Path | str,
    *,
    dry_run: bool = False,
    shift_to: date | None = None,
    progress: Progress | None = None,
    pin: str = "",
    may_change: MayChange = MappingProxyType({}),
    correct: Corrects | None = None,
    trial: Watches | None = None,
) -> ImportReport:
    """What was taken in, by sheet; every row of the folder in one transaction, or none and the list of faults.

    shift_to: move every date by the days from the folder's stated day to this one. progress is told the work and the
    part done from 0 to 1 and may raise Cancelled. pin: of the manager who brings them in, once anybody is recorded.
    may_change: columns of recorded rows that may be stated otherwise, by sheet; such rows are changes to accept, and
    `correct` writes them. Without it nothing is written while there are any. trial: under the same rules, nothing of it
    stays, and what it would move is said.
    Raises Refused where there is no such folder.
    """
    with no_cycle_search():
        return _import_folder(workplace, folder, dry_run, shift_to, progress, pin, may_change, correct, trial)


def _import_folder(
    workplace: Workplace,
    folder: Path | str,
    dry_run: bool,
    shift_to: date | None,
    progress: Progress | None,
    pin: str,
    may_change: MayChange,
    correct: Corrects | None,
    trial: Watches | None,
) -> ImportReport:
    with workplace.database.reading() as connection:
        zone = centre_timezone(connection)
    recorded = ZoneInfo(zone) if zone else None
    sheets = read_folder(Path(folder), shift_to=shift_to, progress=_Stage(progress, 0.0, 0.1), zone=recorded)
    today = max(workplace.clock().astimezone(sheets.site.zone).date(), shift_to or date.min)
    with workplace.database.reading() as connection:
        prepared = _prepare(connection, sheets, today, progress, may_change)
    if sheets.faults or dry_run or not _to_write(prepared.plan, correct):
        return _report(prepared.plan, written=False)
    try:
        name = Path(folder).name[:120]
        with workplace.trying("import", name) if trial else workplace.transaction("import", name) as act:
            moved = trial(act) if trial is not None else tuple
            connection = act.session.connection()
            if head_of(connection) != prepared.head:
                prepared = _prepare(connection, sheets, today, progress, may_change)
                if sheets.faults or not _to_write(prepared.plan, correct):
                    raise _Faulty
            if trial is None:
                refuse_stranger(act, pin)
            write_prepared(act, prepared, _Stage(progress, 0.5, 1.0))
            changes = prepared.plan.changes
            said = (*(correct(act, changes) if correct is not None and changes else ()), *moved())
    except _Faulty:
        return _report(prepared.plan, written=False)
    if trial is not None:
        return replace(_report(prepared.plan, written=False), said=said)
    report = _report(prepared.plan, written=True, entries=act.entries)
    return replace(report, corrected=len(changes), said=said)


def refuse_stranger(act: Transaction, pin: str) -> None:
    """Nothing where nobody is recorded yet, or where a manager brings the sheets and gives their PIN; else Refused.

    Where no manager has a PIN yet there is none to give.
    """
    if not anybody_active(act.session):
        return
    if act.person_id is None:
        raise Refused(say("person: files are imported by a manager; name who with --person, or sign in at the window"))
    if managers_with_pin(act.session):
        check_pin(act.get(Person, act.person_id, "person"), pin)


def _prepare(
    connection: Connection, sheets: Sheets, today: date, progress: Progress | None,
    may_change: MayChange,
) -> PreparedImport:  # fmt: skip
    head = head_of(connection)
    plan = ImportPlan(connection, sheets, may_change)
    plan.match(_Stage(progress, 0.1, 0.2))
    check(plan)
    obey(plan, today)
    # Readings can only be judged by sound limits, readers and equipment: faults of those are told first.
    outcomes = {} if sheets.faults else judge_new(connection, plan, _Stage(progress, 0.2, 0.5))
    return PreparedImport(plan, outcomes, head)


def _to_write(plan: ImportPlan, correct: Corrects | None) -> bool:
    """Whether anything is to write; nothing is while changes of recorded rows are not accepted."""
    if plan.changes:
        return correct is not None
    return any(sheet.new for sheet in plan.plans.values())


def _report(plan: ImportPlan, *, written: bool, entries: int = 0) -> ImportReport:
    faults: Faults = plan.faults
    return ImportReport(
        added={name: 0 if faults else len(sheet.new) for name, sheet in plan.plans.items()},
        unchanged={name: sheet.unchanged for name, sheet in plan.plans.items()},
        faults=faults.listed(),
        written=written,
        entries=entries,
        notes=() if faults else (*_looser_limits(plan), *_looser_lives(plan)),
        changes=() if faults else tuple(plan.changes),
    )


def _looser_limits(plan: ImportPlan) -> Iterator[str]:
    """New limits beside a stricter one for the same thing, which stays in force."""
    rows = plan.plans["limits"].known
    stated = {key: SimpleNamespace(**row) for key, row in sorted(rows.items())}
    kept = {id(each) for each in in_force(stated.values())}
    for key in plan.plans["limits"].row_of:
        if id(stated[key]) not in kept:
            row = rows[key]
            unit = unit_of_limit(row["name"], row["unit"])
            told = say(
                "limit '{name}' of {owner}: {amount}",
                name=say(row["name"]),
                owner=_belongs_to(plan, row),
                amount=in_unit(row["amount"], unit),
            )
            yield say("{told} is looser than what is recorded, which stays in force", told=told)


def _looser_lives(plan: ImportPlan) -> Iterator[str]:
    """New lives beside a shorter one of the same kind, which ends the part all the same."""
    lives = plan.plans["part_type_lives"]
    shortest: dict[tuple[Any, ...], float] = {}
    for row in lives.known.values():
        key = _life_key(row)
        shortest[key] = min(row["amount"], shortest.get(key, row["amount"]))
    for row in lives.new:
        if row["amount"] > shortest[_life_key(row)]:
            kind = plan.label("part_types", row["part_type_id"])
            yield (say("life of {kind}: {amount:g} {unit} is longer than the {shortest:g} {unit} that is stated "
"as well; the shorter ends the part", kind=kind, amount=row['amount'], unit=row['unit'],
    shortest=shortest[_life_key(row)]))  # fmt: skip


def _life_key(row: Row) -> tuple[Any, ...]:
    return row["part_type_id"], row["basis"], row["unit"], row["test"]


def _belongs_to(plan: ImportPlan, row: Row) -> str:
    if row["part_type_id"] is not None:
        return plan.label("part_types", row["part_type_id"])
    return say("the centre") if row["unit_type_id"] is None else plan.label("unit_types", row["unit_type_id"])


# ---- writing -------------------------------------------------------------------------------------------------------


def write_prepared(
    act: Transaction, prepared: PreparedImport, told: Callable[[str, float], None] | None, file: str = ""
) -> int:
    """Write every new row of the plan and what rests on it; how many they are. file: where they come from, if one."""
    plan = prepared.plan
    rests_on_lives = [row for name in ("part_type_lives", "part_tests") for row in plan.plans[name].new]
    fitted_before = [
        row for key, row in plan.plans["fittings"].known.items() if key not in plan.plans["fittings"].row_of
    ]
    total = sum(len(sheet.new) for sheet in plan.plans.values()) or 1
    done = 0
    for name in SHEETS:
        if name == "readings":
            continue
        rows = plan.plans[name].new
        chunks = _calibrations(act, prepared) if name == "calibrations" else _in_entries(act, plan, name, rows, file)
        for written in chunks:
            done += written
            if told is not None:
                told(say("writing {name}", name=name), done / total)
    if refresh_forecasts(act):
        act.close_entry(subject=in_row("forecasts of cells"))
    if rests_on_lives and refresh_lives(act, {row["part_id"] for row in fitted_before if row["removed_at"] is None}):
        act.close_entry(subject=in_row("last valid days of fitted parts"))
    if done > ENTRY_ROWS:
        learn_sizes(act.session.connection())
    return done


def _in_entries(act: Transaction, plan: ImportPlan, name: str, rows: Sequence[Row], file: str) -> Iterator[int]:
    """Write a sheet's new rows, some hundreds to a journal entry."""
    sheet = plan.plans[name]
    if name == "fittings" and rows:
        _keep_lives(plan, rows)
    for start in range(0, len(rows), ENTRY_ROWS):
        chunk = rows[start : start + ENTRY_ROWS]
        _bulk(act, name, chunk)
        keys = {row["id"] for row in chunk}
        if name == "people":
            private = [{**row, "note": None} for row in plan.extra.people if row["person_id"] in keys]
            act.bulk(PersonPrivate, private)
        if name == "hire_lines":
            notes = [{**row, "at": act.at} for row in plan.extra.notes if row["booking_unit_id"] in keys]
            act.bulk(HireNote, notes)
        places = [sheet.row_of[row["id"]] for row in chunk]
        named = f"{name} of {file[:60]}" if file else f"{name}.csv"
        offset = 1 if file else 0  # a spreadsheet's rows are counted from 0 in its grid
        act.close_entry(subject=f"{named}, rows {min(places) + offset} to {max(places) + offset}")
        yield len(chunk)


def _calibrations(act: Transaction, prepared: PreparedImport) -> Iterator[int]:
    """Write each calibration with its readings and what they say of the cells, an entry each."""
    plan = prepared.plan
    readings: dict[int, list[Row]] = {}
    for row in plan.plans["readings"].new:
        readings.setdefault(row["calibration_id"], []).append(row)
    with act.gathering() as write:
        for count, row in enumerate(plan.plans["calibrations"].new, 1):
            _bulk(act, "calibrations", [row])
            taken = readings.get(row["id"], [])
            act.bulk(CalibrationReading, taken)
            act.bulk(CalibrationOutcome, list(prepared.outcomes.get(row["id"], ())))
            act.close_entry(subject=f"calibration {row['ref']}")
            if count % AT_ONCE == 0:
                write()
            yield 1 + len(taken)


def _bulk(act: Transaction, name: str, rows: Sequence[Row]) -> None:
    first = act.bulk(SHEETS[name].table, rows)
    if first != rows[0]["id"]:
        raise RuntimeError(f"{name}: key {first} was given where {rows[0]['id']} was planned")


def _keep_lives(plan: ImportPlan, rows: Sequence[Row]) -> None:
    """Put the calendar last good day on every open fitting."""
    tests = sorted(plan.plans["part_tests"].known.values(), key=lambda row: (row["done_on"], row["id"]))
    book = CalendarBook(
        limits_by_type(_record(LifeRecord, row) for row in plan.plans["part_type_lives"].known.values()),
        last_passed(_record(PartTestRecord, row) for row in tests),
        plan.sheets.site.zone,
        _first_fitted([*plan.plans["fittings"].known.values(), *rows]),
    )
    parts = plan.plans["parts"].known
    for row in rows:
        row["last_good_day"] = row["last_good_basis"] = None
        if row["removed_at"] is None:
            part = {**parts[row["part_id"]], "part_id": row["part_id"]}
            row["last_good_day"], row["last_good_basis"] = book.of(_record(PartRecord, part), row["fitted_at"])


def _first_fitted(rows: Iterable[Row]) -> dict[int, datetime | None]:
    first: dict[int, datetime | None] = {}
    for row in rows:
        earlier = first.get(row["part_id"], row["fitted_at"])
        unknown = row["since_unknown"] or earlier is None
        first[row["part_id"]] = None if unknown else min(row["fitted_at"], earlier)
    return first


def _record(kind: Callable[..., Any], row: Row) -> Any:
    return kind(**{name: row.get(name) for name in kind.__dataclass_fields__})  # type: ignore[attr-defined]
