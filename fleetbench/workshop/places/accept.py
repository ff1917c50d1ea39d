"""Changes of recorded rows that a file states, accepted with one reason for the lot and written as corrections are.

bring_accepted(workplace, table, ..., why)  a spreadsheet, with its changes
folder_looked_at(workplace, folder, why, ...)  a folder of files, with its changes
would_move(workplace, table, ...)           what the changes of a spreadsheet would move, written nowhere
answer(workplace, given)                    answers of a walk-round, each with what it settled
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

from fleetbench.calc.core.languages import say, say_count, strung
from fleetbench.calc.core.wall_time import MarkedDate, Precision
from fleetbench.calc.import_export.columns import Meaning, Subject, field_of
from fleetbench.calc.import_export.tables import FoundTable
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.parts.reads import read_ends
from fleetbench.records.parts.tables import Fitting
from fleetbench.records.people.reads import private_of
from fleetbench.records.people.tables import Person
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.core.workplace import Day, Workplace, day_of, required
from fleetbench.workshop.import_export.bring import Brought, Told, bring
from fleetbench.workshop.import_export.import_folder import ImportReport, import_folder
from fleetbench.workshop.import_export.spreadsheet import Answers, Layout, SheetTable
from fleetbench.workshop.import_export.values import Change, Site, same_words
from fleetbench.workshop.import_export.walk_round import WAITS, FleetFacts
from fleetbench.workshop.parts.lives import refresh_lives
from fleetbench.workshop.places.amend import amend_row, ends_moved, held_now, holds_moved, plural, sentence
from fleetbench.workshop.places.register import REGISTERS
from fleetbench.workshop.units.list import UnitRow, units_within

FOLDER_MAY_CHANGE: Mapping[str, frozenset[str]] = {
    **{name: frozenset(register.corrected) for name, register in REGISTERS.items()},
    "people": frozenset((*REGISTERS["people"].corrected, "name", "contact")),
}
"""What a folder of files may state otherwise of a recorded row: whatever the window corrects."""
READ_AT_THE_SHELF = say("read on the walk-round")


def bring_accepted(
    workplace: Workplace, table: SheetTable, layout: Layout, answers: Answers, *, name: str, why: str, pin: str = "",
    told: Told = None,
) -> Brought:  # fmt: skip
    """Import a spreadsheet and correct what it states otherwise; said: what now ends earlier, and which units hold."""
    reason, held = required("reason", why), held_now(workplace)
    correct = partial(correct_lot, why=reason, site=Site(workplace.zone()))
    done = bring(workplace, table, layout, answers, name=name, correct=correct, pin=pin, told=told)
    return replace(done, said=(*done.said, *holds_moved(held, held_now(workplace)))) if done.corrected else done


def folder_looked_at(workplace: Workplace, folder: Path | str, why: str | None = None, **given: Any) -> ImportReport:
    """Import a folder as `import_folder` does; rows that are recorded otherwise are changes to accept.

    why: the reason with which they were accepted, None while they were not: nothing is written while there are any, and
    what they would move is said.
    """
    if why is None:
        report = import_folder(workplace, folder, may_change=FOLDER_MAY_CHANGE, **given)
        beside = any(report.unchanged.values()) and any(report.added.values())
        if report.written or report.faults or not (report.changes or beside):
            return report
        return replace(report, said=_folder_would_move(workplace, folder, given.get("shift_to")))
    reason, held = required("reason", why), held_now(workplace)
    correct = partial(correct_lot, why=reason, site=Site(workplace.zone()))
    done = import_folder(workplace, folder, may_change=FOLDER_MAY_CHANGE, correct=correct, **given)
    return replace(done, said=(*done.said, *holds_moved(held, held_now(workplace)))) if done.corrected else done


def would_move(
    workplace: Workplace, table: SheetTable, layout: Layout, answers: Answers, *, name: str, told: Told = None
) -> tuple[str, ...]:
    """What accepting the changes of a spreadsheet would move, a sentence each; nothing of it stays."""
    correct = partial(correct_rows, why="looked at", site=Site(workplace.zone()))
    trial = partial(watch_moves, day_of(workplace))
    return bring(workplace, table, layout, answers, name=name, correct=correct, told=told, trial=trial).said


def _folder_would_move(workplace: Workplace, folder: Path | str, shift_to: date | None) -> tuple[str, ...]:
    """What importing a folder and accepting its changes would move, or why they cannot be accepted as they stand."""
    correct = partial(correct_rows, why="looked at", site=Site(workplace.zone()))
    trial = partial(watch_moves, day_of(workplace))
    try:
        return import_folder(
            workplace, folder, shift_to=shift_to, may_change=FOLDER_MAY_CHANGE, correct=correct, trial=trial
        ).said
    except Refused as refusal:
        return (sentence(str(refusal)),)


def watch_moves(day: Day, act: Transaction) -> Callable[[], tuple[str, ...]]:
    """Looks at an act as it begins; then says which last valid days it moved, what is past, and which units hold."""
    connection = act.session.connection()
    before, held = read_ends(connection), _rows_by_tag(connection, day)

    def moved() -> tuple[str, ...]:
        act.session.flush()
        after = read_ends(connection)
        holds = holds_moved(held, _rows_by_tag(connection, day))
        return (*ends_moved(before, after), *_past(before, after, day.today), *holds)

    return moved


def _rows_by_tag(connection: Connection, day: Day) -> dict[str, UnitRow]:
    return {row.tag: row for row in units_within(connection, day)}


def correct_lot(act: Transaction, changes: Sequence[Change], why: str, site: Site) -> tuple[str, ...]:
    """Write the changes as `correct_rows` does; limits that get looser, and lives that end otherwise."""
    before = read_ends(act.session.connection())
    told = correct_rows(act, changes, why, site)
    return (*told, *ends_moved(before, read_ends(act.session.connection())))


def correct_rows(act: Transaction, changes: Sequence[Change], why: str, site: Site) -> tuple[str, ...]:
    """Write the changes, a journal entry a row with the reason; limits that get looser, a sentence each.

    Refused, with the row, for a looser limit without a source of its own and for what would leave the records in
    contradiction.
    """
    rows: dict[tuple[str, int], list[Change]] = {}
    for each in changes:
        rows.setdefault((each.sheet, each.key), []).append(each)
    return tuple(filter(None, [_correct_row(act, *row, listed, why, site) for row, listed in rows.items()]))


def _correct_row(act: Transaction, sheet: str, key: int, changes: Sequence[Change], why: str, site: Site) -> str:
    """Write one row; in words that a limit of it gets looser, empty where none does."""
    write = BESIDE_THE_REGISTERS.get(sheet)
    beside = [each for each in changes if write is not None and each.column not in _corrected_by_register(sheet)]
    listed = [each for each in changes if each not in beside]
    looser = ""
    try:
        if beside and write is not None:
            write(act, key, beside, why)
            act.close_entry(subject=f"{sheet} {key}")
        if listed:
            register = REGISTERS[sheet]
            given = {each.column: _given(sheet, each) for each in listed}
            _, looser = amend_row(act, register, key, given, why, site, names=given)
            act.close_entry(subject=register.subject(key))
    except Refused as fault:
        raise Refused(
            say("{file}, row {row}: {fault}", file=say(sheet.replace("_", " ")), row=changes[0].row, fault=fault)
        ) from fault
    return (
        sentence(
            say("{file}, row {row}: {looser}", file=say(sheet.replace("_", " ")), row=changes[0].row, looser=looser)
        )
        if looser
        else ""
    )


def _corrected_by_register(sheet: str) -> tuple[str, ...]:
    return REGISTERS[sheet].corrected if sheet in REGISTERS else ()


def _given(sheet: str, change: Change) -> Any:
    """The value as a form would give it."""
    column = REGISTERS[sheet].spec.column(change.column)
    value = change.values[column.field or ""]
    if column.precision_field and value is not None:
        return MarkedDate(value, Precision(change.values[column.precision_field]))
    return value


def _name_person(act: Transaction, key: int, changes: Sequence[Change], why: str) -> None:
    """Names are erasable, so neither the old nor the new one enters the journal."""
    private = private_of(act.session, key)
    if private is not None:
        act.change(private, **{name: value for each in changes for name, value in each.values.items()})
    act.change(act.get(Person, key, "person"), named_at=act.at)
    act.explain(reason=why[:1000], changed={})


def _date_fitting(act: Transaction, key: int, changes: Sequence[Change], why: str) -> None:
    fitting = act.get(Fitting, key, "fitting")
    act.change(fitting, **{name: value for each in changes for name, value in each.values.items()})
    act.explain(reason=why[:1000], changed={"Fitted": (changes[0].before, changes[0].after)})
    refresh_lives(act, [fitting.part_id])


BESIDE_THE_REGISTERS: Mapping[str, Callable[[Transaction, int, Sequence[Change], str], None]] = {
    "people": _name_person, "fittings": _date_fitting,
}  # fmt: skip
"""What writes columns that no register corrects."""


def _past(
    before: Mapping[int, tuple[str, date | None]], after: Mapping[int, tuple[str, date | None]], today: date
) -> tuple[str, ...]:
    """'2 cells are past the last valid day then.', by kind of part."""
    kinds: dict[str, int] = {}
    for key, (kind, day) in after.items():
        was = before.get(key, (kind, None))[1]
        if day is not None and day < today and (was is None or was >= today):
            kinds[kind] = kinds.get(kind, 0) + 1
    return tuple(
        say_count(
            "{count} {kind} is past the last valid day then.",
            "{count} {kind} are past the last valid day then.",
            count,
            kind=plural(kind, count),
        )
        for kind, count in sorted(kinds.items())
    )


# ---- the walk-round -------------------------------------------------------------------------------------------------


def answer(workplace: Workplace, given: Mapping[tuple[str, str, str], str]) -> tuple[str, ...]:
    """Write answers by unit, slot and field; what each settled, in words.

    All of a unit's answers are written, or none of them: Refused says which cannot be read and why.
    """
    table, layout, answered = _as_table(given)
    done = bring_accepted(workplace, table, layout, {}, name="walk-round", why=READ_AT_THE_SHELF)
    if done.examined.asks:
        first = done.examined.asks[0]
        raise Refused(strung(": ", (table.cell(first.row, 0), first.name, first.message)))
    return tuple(_settled(workplace, key) for key in answered)


def _as_table(given: Mapping[tuple[str, str, str], str]) -> tuple[SheetTable, Layout, Sequence[tuple[str, str, str]]]:
    meanings = list(dict.fromkeys(Meaning(field, slot) for _, slot, field in given))
    tags = list(dict.fromkeys(unit for unit, _, _ in given))
    grid = [[tag, *(given.get((tag, each.slot, each.field), "") for each in meanings)] for tag in tags]
    names = ("Unit", *(f"{each.slot} {field_of(Subject.UNITS, each.field).label}".strip() for each in meanings))
    wide = len(names)
    found = FoundTable(
        say("Walk-round"), names=names, columns=tuple(range(wide)), rows=tuple(range(len(tags))), name_rows=()
    )
    none = (None,) * wide
    layout = Layout(Subject.UNITS, meanings=(Meaning("tag"), *meanings), orders=none, decimals=none, units=("",) * wide)
    return SheetTable(say("Walk-round"), grid, found), layout, list(given)


def _settled(workplace: Workplace, key: tuple[str, str, str]) -> str:
    """What is known now of what was answered: the last valid day where there is one."""
    tag, slot, _ = key
    with workplace.database.reading() as connection:
        facts = FleetFacts(connection)
    unit = facts.known.units[same_words(tag)]
    if any(line.key == key and not known for line, known in facts.of_unit(unit)):
        return strung(": ", (strung(", ", (tag, slot)), say(WAITS)))
    for each, seat, part in facts.seats(unit):
        if each["name"] == slot and seat is not None and part is not None:
            day: Any = seat["last_good_day"]
            bases = facts.lives.get(part["part_type_id"])
            if day is not None:
                return say("{tag}, {slot}: last valid day {day}", tag=tag, slot=slot, day=day)
            return (
                say("{tag}, {slot}: recorded", tag=tag, slot=slot)
                if bases
                else say("{tag}, {slot}: recorded; its type has no life recorded yet", tag=tag, slot=slot)
            )
    return say("{tag}: recorded", tag=tag)
