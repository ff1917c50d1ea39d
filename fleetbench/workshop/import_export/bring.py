"""Importing a centre's own table: looked at first, then all of it or what can be read, never half a row.

Rows that could not be imported are kept as a list to finish until each of them can.

A list to finish is no record; it stands beside the records, readable by its owner only.

examine(workplace, table, layout, answers) -> Examined  what would be new, changed or unchanged, and what is asked
bring(workplace, table, layout, answers) -> Brought     the same, written in one act
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from pathlib import Path

from fleetbench.calc.core.languages import say, say_count, strung
from fleetbench.calc.import_export.columns import KEY_FIELDS, Meaning, label_of
from fleetbench.calc.import_export.tables import FoundTable
from fleetbench.records.core.errors import Refused
from fleetbench.records.upkeep.tables import Connection
from fleetbench.records.upkeep.verify import head_of
from fleetbench.workshop.core.drafts import Drafts
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.acts_rules import obey
from fleetbench.workshop.import_export.assemble import TOKEN, assemble
from fleetbench.workshop.import_export.checks import check
from fleetbench.workshop.import_export.files import Fault
from fleetbench.workshop.import_export.import_folder import PreparedImport, refuse_stranger, write_prepared
from fleetbench.workshop.import_export.import_plan import ImportPlan
from fleetbench.workshop.import_export.spreadsheet import (
    Answers,
    Ask,
    Layout,
    ReadRows,
    SheetTable,
    layout_from,
    layout_kept,
    read_rows,
)
from fleetbench.workshop.import_export.values import Change, Corrects, Known, Site, Watches

FOLDER = "to-finish"


@dataclass(frozen=True, slots=True)
class Unfinished:
    """The rows of one file that are left, where they came from, and how its columns are read."""

    table: SheetTable
    layout: Layout
    path: Path

    @property
    def label(self) -> str:
        """What is left, in a few words."""
        rows = len(self.table.found.rows)
        return say_count("{path}: {count} row to finish", "{path}: {count} rows to finish", rows, path=self.path.name)

    @classmethod
    def keep(
        cls,
        folder: Path,
        table: SheetTable,
        layout: Layout,
        path: Path,
        asks: Sequence[Ask],
        answers: Answers,
        at: datetime,
    ) -> None:
        """Keep the rows that are asked about, with what was answered already; nothing is kept where none is."""
        kept = Drafts(folder / FOLDER)
        rows = sorted({ask.row for ask in asks})
        if not rows:
            kept.drop(table.signature)
            return
        cells = [[answers.get((row, at), table.cell(row, at)) for at in table.found.columns] for row in rows]
        content = {"names": list(table.found.names), "rows": rows, "cells": cells, "layout": layout_kept(layout)}
        content |= {"path": str(path), "sheet": table.sheet, "title": table.found.title}
        kept.save(table.signature, content, at)

    @classmethod
    def listed(cls, folder: Path) -> "tuple[Unfinished, ...]":
        """Every list to finish, the newest first; a torn one is left out."""
        found = []
        for draft in Drafts(folder / FOLDER).listed():
            try:
                found.append(cls._of(dict(draft.content)))
            except (KeyError, TypeError, ValueError):
                continue
        return tuple(found)

    @classmethod
    def _of(cls, content: dict[str, object]) -> "Unfinished":
        names, rows, cells = (list(content[name]) for name in ("names", "rows", "cells"))  # type: ignore[call-overload]
        grid: list[list[str]] = [[] for _ in range(max(rows) + 1)]
        for row, texts in zip(rows, cells, strict=True):
            grid[row] = list(texts)
        wide = tuple(range(len(names)))
        found = FoundTable(str(content["title"]), names=tuple(names), columns=wide, rows=tuple(rows), name_rows=())
        layout = layout_from(content["layout"], len(names))  # type: ignore[arg-type]
        return cls(SheetTable(str(content["sheet"]), grid, found), layout, Path(str(content["path"])))


MOST_ROUNDS = 12
"""How often rows may be set aside for the faults of others before it is given up."""

Told = Callable[[str, float], None] | None


class RowState(StrEnum):
    """What becomes of a row."""

    NEW = "new"
    CHANGED = "changed"
    UNCHANGED = "unchanged"
    TO_ASK = "to finish"


@dataclass(frozen=True, slots=True)
class Examined:
    """What a table would do: the state of each of its rows, every cell to ask about, and every change to accept.

    rows are counted from 0 in the grid. made: what is named and not recorded, by what it is, as 'place: Shelf 3'.
    """

    states: Mapping[int, RowState]
    asks: tuple[Ask, ...]
    changes: tuple[Change, ...]
    made: tuple[str, ...] = ()
    skipped: int = 0

    def count(self, state: RowState) -> int:
        """How many rows are in that state."""
        return sum(each is state for each in self.states.values())


@dataclass(frozen=True, slots=True)
class Brought:
    """What was written: new rows of every kind, rows of the table by state, corrections, and what they moved."""

    examined: Examined
    written: int = 0
    corrected: int = 0
    said: tuple[str, ...] = ()


@dataclass(slots=True)
class _Planned:
    plan: ImportPlan
    read: ReadRows
    head: tuple[int, str | None]
    asks: list[Ask] = field(default_factory=list)


def examine(workplace: Workplace, table: SheetTable, layout: Layout, answers: Answers, told: Told = None) -> Examined:
    """What the table would do, written nowhere."""
    site, now = Site(workplace.zone()), workplace.clock()
    read = read_rows(table, layout, answers, workplace.today(), _part(told, 0.0, 0.3))
    with workplace.database.reading() as connection:
        return _examined(_plan(connection, table, layout, read, site, now, _part(told, 0.3, 1.0)))


def bring(
    workplace: Workplace,
    table: SheetTable,
    layout: Layout,
    answers: Answers,
    *,
    name: str,
    correct: Corrects | None = None,
    pin: str = "",
    told: Told = None,
    trial: Watches | None = None,
) -> Brought:
    """Write what can be read in one act, and leave the other rows to finish.

    correct: writes what is recorded otherwise as the file states it; nothing of it is written without. name: of the
    file, for the journal. pin: of the manager who brings it, once anybody is recorded. trial: under the same rules,
    nothing of it stays, and what it would move is said.
    """
    site, now = Site(workplace.zone()), workplace.clock()
    read = read_rows(table, layout, answers, workplace.today(), _part(told, 0.0, 0.1))
    with workplace.database.reading() as connection:
        planned = _plan(connection, table, layout, read, site, now, _part(told, 0.1, 0.5))
    changes = planned.plan.changes if correct is not None else []
    if not changes and not any(sheet.new for sheet in planned.plan.plans.values()):
        return Brought(_examined(planned))
    with workplace.trying("import", name[:120]) if trial else workplace.transaction("import", name[:120]) as act:
        moved = trial(act) if trial is not None else tuple
        if trial is None:
            refuse_stranger(act, pin)
        connection = act.session.connection()
        if head_of(connection) != planned.head:
            planned = _plan(connection, table, layout, read, site, now, None)
            changes = planned.plan.changes if correct is not None else []
        examined = _examined(planned)
        _unname(planned.plan)
        written = write_prepared(act, PreparedImport(planned.plan, {}, planned.head), _part(told, 0.5, 0.95), name)
        said = (*(correct(act, changes) if correct is not None and changes else ()), *moved())
    return Brought(examined, written, len(changes), said)


def _plan(
    connection: Connection, table: SheetTable, layout: Layout, read: ReadRows, site: Site, now: datetime, told: Told
) -> _Planned:
    """The plan of the rows that can be taken; what is wrong with the others is asked, cell by cell."""
    known = Known(connection)
    head = head_of(connection)
    read = ReadRows(read.values, {row: list(asks) for row, asks in read.asks.items()}, read.skipped)
    for turn in range(MOST_ROUNDS):
        begun = turn / (turn + 2)
        sheets = assemble(known, layout, read, site, now, _part(told, begun, begun + (1 - begun) / 4))
        plan = ImportPlan(connection, sheets)
        plan.match(_part(told, begun + (1 - begun) / 4, begun + (1 - begun) / 2))
        check(plan)
        obey(plan, now.astimezone(site.zone).date())
        if not sheets.faults:
            return _Planned(plan, read, head, [ask for asks in read.asks.values() for ask in asks])
        for fault in sheets.faults.listed():
            if fault.row not in read.values:
                raise Refused(strung("", (fault.sheet, ": ", fault.column, " ", fault.message)))
            read.asks.setdefault(fault.row, []).append(_asked(table, layout, fault))
    raise Refused(say("import: the rows contradict each other; import fewer of them at once"))


def _asked(table: SheetTable, layout: Layout, fault: Fault) -> Ask:
    """A fault of a row as a question about the cell that it most likely comes from."""
    slot, _, name = fault.column.rpartition("|")
    wanted = [Meaning(name, slot), Meaning(name), Meaning(f"part_{name}")]
    wanted += [each for each in layout.meanings if each.field in (name, f"part_{name}")]
    wanted += [Meaning(each) for each in KEY_FIELDS[layout.subject]]
    place = next((layout.meanings.index(each) for each in wanted if each in layout.meanings), 0)
    column = table.found.columns[place]
    return Ask(
        fault.row,
        column=column,
        name=table.found.names[place],
        text=table.cell(fault.row, column),
        message=fault.message,
    )


def _examined(planned: _Planned) -> Examined:
    plan, read = planned.plan, planned.read
    states = dict.fromkeys(read.values, RowState.UNCHANGED)
    own = {"units", "parts", "people", "bookings"}
    touched = {name: sheet for name, sheet in plan.plans.items() if sheet.new}
    for sheet in touched.values():
        states |= dict.fromkeys(sheet.row_of.values(), RowState.CHANGED)
    states |= {each.row: RowState.CHANGED for each in plan.changes}
    known = {row for name in own for row in plan.plans[name].matched.values()}
    for name in own & touched.keys():
        states |= {row: RowState.NEW for row in plan.plans[name].row_of.values() if row not in known}
    states |= dict.fromkeys(read.asks, RowState.TO_ASK)
    asks = sorted(planned.asks, key=lambda each: (each.row, each.column))
    return Examined(
        states, asks=tuple(asks), changes=tuple(plan.changes), made=tuple(_made(plan)), skipped=read.skipped
    )


def _made(plan: ImportPlan) -> list[str]:
    words = {"unit_types": "unit type", "part_types": "part type", "owners": "owner", "places": "place"}
    return [strung(": ", (say(word), row["name"])) for name, word in words.items() for row in plan.plans[name].new]


def _unname(plan: ImportPlan) -> None:
    """Take back the names that rows bore while they were planned."""
    for sheet in plan.plans.values():
        for row in sheet.new:
            if str(row.get("ref") or "").startswith(TOKEN):
                row["ref"] = None


def _part(told: Told, begins: float, ends: float) -> Told:
    if told is None:
        return None

    def on(what: str, done: float) -> None:
        told(what, begins + (ends - begins) * min(done, 1.0))

    return on


def finish_list(table: SheetTable, layout: Layout, examined: Examined) -> tuple[tuple[str, ...], ...]:
    """What is missing or wrong, a line a cell: row, what its row is known by, column, what it says, what is asked."""
    keys = [place for place, each in enumerate(layout.meanings) if each.field in KEY_FIELDS[layout.subject]]
    lines = []
    for ask in examined.asks:
        known_by = next((text for place in keys if (text := table.cell(ask.row, table.found.columns[place]))), "")
        place = table.found.columns.index(ask.column)
        means = label_of(layout.subject, layout.meanings[place])
        lines.append((str(ask.row + 1), known_by, f"{ask.name} ({means})", ask.text, ask.message, ask.likely))
    return tuple(lines)
