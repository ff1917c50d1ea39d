"""Entering and correcting what a centre states of itself, with what rests on it calculated again in the same act.

enter(workplace, sheet, given)           a new row
correct(workplace, sheet, key, given, why)  other values in a row, with the reason; the journal keeps both
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date
from types import SimpleNamespace
from typing import Any, cast

from fleetbench.calc.core.languages import in_row, reworded, say, say_count, say_small, strung
from fleetbench.calc.core.measures import Measure
from fleetbench.calc.parts.life import LimitUnit
from fleetbench.calc.readiness.limits import is_looser
from fleetbench.calc.tickets.service_plan import EVENTS
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.parts.reads import read_ends, read_fitted, read_fitted_of
from fleetbench.records.people.reads import active_in_role
from fleetbench.records.turn_rounds.lookups import steps_in_force
from fleetbench.records.upkeep.tables import Connection, row_of, same_row, unique_sets
from fleetbench.workshop.cells.outlook import refresh_forecasts
from fleetbench.workshop.core.workplace import Workplace, figure_or_none, require_person, required, with_theirs
from fleetbench.workshop.import_export.checks import row_faults
from fleetbench.workshop.import_export.columns import SHEETS, Kind, SheetColumn, SheetSpec
from fleetbench.workshop.import_export.import_plan import ImportPlan, Row
from fleetbench.workshop.import_export.values import Site, read_cell, write_cell
from fleetbench.workshop.parts.lives import refresh_lives
from fleetbench.workshop.places.register import (
    NOTHING,
    REGISTERS,
    WORDS,
    Register,
    figure_words,
    in_words,
    label_of,
    labels_of,
    links_of,
    row_label,
    row_words,
)
from fleetbench.workshop.units.list import Fit, UnitRow, list_units

NO_EFFECT = frozenset((
    "telephone", "emergency_telephone", "address", "currency", "price", "lead_days", "pack_size", "supplier", "manual",
    "source", "text", "ordinal", "former_tag",
))  # fmt: skip
"""Columns on which no limit, life or check rests."""

DAYS_IN = {LimitUnit.DAYS: 1.0, LimitUnit.MONTHS: 365.25 / 12}
LOOSER_ABOVE = {"rating_rows": "minutes", "cylinders": "working_bar", "service_tasks": "amount"}
LOOSER_BELOW = {"disinfectants": "contact_minutes"}
"""Figures that are looser where they are higher, and where they are lower."""


def enter(workplace: Workplace, sheet: str, given: Mapping[str, Any]) -> tuple[int, tuple[str, ...]]:
    """The key of a new row and what to know of it; Refused in one line that names the field and the remedy."""
    register = REGISTERS[sheet]
    with workplace.transaction("enter master data", f"new {register.thing}") as act:
        key, said = add_row(act, register, given, Site(workplace.zone()))
    return key, said


def add_row(act: Transaction, register: Register, given: Mapping[str, Any], site: Site) -> tuple[int, tuple[str, ...]]:
    """Write a new row in an act; its key and what to know of it."""
    connection = act.session.connection()
    if register.sheet == "centre" and row_of(connection, register.spec.table, 1) is not None:
        raise Refused(say("centre: is entered already; correct it"))
    values = _read(register, register.entered, given, site)
    row: Row = {column: None for column in register.spec.fields} | values
    _refuse_faulty(connection, register, {**row, "id": 0})
    before = read_ends(connection)
    if register.versioned:
        row["began_at"] = act.at
    written = act.add(register.spec.table(**{name: value for name, value in row.items() if value is not None}))
    key = int(written.__dict__["id"])
    act.subject = register.subject(key)
    calculate_again(act, register, {**row, "id": key}, set(values))
    return key, (
        *_stricter_stands(connection, register, {**row, "id": key}),
        *ends_moved(before, read_ends(connection)),
    )


def correct(
    workplace: Workplace,
    sheet: str,
    key: int,
    given: Mapping[str, Any],
    why: str,
    seen: Mapping[str, Any] | None = None,
) -> tuple[str, ...]:
    """What changed, a sentence each; the journal keeps old and new value with the reason.

    seen: the values that the form began with: what another desk changed since stays, and Clash is raised where both
    changed the same. Refused for a looser limit without a source of its own, and for what would leave the records in
    contradiction.
    """
    require_person(workplace)
    register = REGISTERS[sheet]
    said = required("reason", why)
    held = held_now(workplace) if set(given) - NO_EFFECT else {}
    of_stock, subject = register.of_stock, register.subject(key)
    with workplace.transaction("correct stock record" if of_stock else "correct master data", subject) as act:
        lines = amend(act, register, key, given, said, Site(workplace.zone()), seen)
    return (*lines, *holds_moved(held, held_now(workplace) if held else {}))


def amend(
    act: Transaction, register: Register, key: int, given: Mapping[str, Any], why: str, site: Site,
    seen: Mapping[str, Any] | None = None,
) -> tuple[str, ...]:  # fmt: skip
    """Write other values into a row within an act, calculate again what rests on them, and say what changed."""
    before = read_ends(act.session.connection())
    words, looser = amend_row(act, register, key, given, why, site, seen)
    lines = [strung("", (name, ": ", old or NOTHING, " → ", now or NOTHING, ".")) for name, (old, now) in words.items()]
    if looser:
        lines.append(sentence(looser))
    return (*lines, *ends_moved(before, read_ends(act.session.connection())))


def sentence(words: str) -> str:
    """The words with a capital and a full stop."""
    return strung("", (reworded(f"{words[:1].upper()}{words[1:]}", words), "."))


def amend_row(
    act: Transaction, register: Register, key: int, given: Mapping[str, Any], why: str, site: Site,
    seen: Mapping[str, Any] | None = None, names: Iterable[str] = (),
) -> tuple[dict[str, tuple[str, str]], str]:  # fmt: skip
    """The old and new value by label, and in words where a limit gets looser; written, with what rests on them.

    names: columns that may change besides those that the register corrects.
    """
    connection = act.session.connection()
    spec = register.spec
    row = row_of(connection, spec.table, key)
    if row is None:
        raise Refused(say("{thing}: is not recorded; load the list again", thing=say(register.thing)))
    asked = [name for name in dict.fromkeys((*register.corrected, *names)) if name in given]
    if seen is not None:
        given = _merged(connection, register, row, given, seen, site)
    new = {**row, **_read(register, asked, given, site)}
    changed = {name: value for name, value in new.items() if row[name] != value}
    if not changed:
        raise Refused(say("{thing}: nothing was changed; change a field first", thing=say(register.thing)))
    _refuse_faulty(connection, register, new)
    for guard in GUARDS.get(register.sheet, ()):
        guard(act, row, new)
    looser = _looser(register, row, new)
    if looser and "source" in spec.fields and "source" not in changed:
        raise Refused(say("source: {looser}; name the document, edition and page that allow it", looser=looser))
    words = _changed_words(connection, register, row, new, changed, site)
    held = act.get(spec.table, key, register.thing)
    if register.versioned:
        _end(act, held, register)
        later = {**new, "id": None, "ref": None, "began_at": act.at, "ended_at": None, "supersedes_id": key}
        written = act.add(spec.table(**{name: value for name, value in later.items() if value is not None}))
        act.subject = register.subject(int(written.__dict__["id"]))
    else:
        act.change(held, **changed)
    act.explain(reason=why[:1000], changed=words)
    calculate_again(act, register, new, set(changed))
    return words, looser


def end_row(workplace: Workplace, sheet: str, key: int, why: str) -> None:
    """End a row of the plan, with the reason: new tickets no longer hold it, and those that do keep it."""
    register, said = REGISTERS[sheet], required("reason", why)
    with workplace.transaction("correct master data", register.subject(key)) as act:
        _end(act, act.get(register.spec.table, key, register.thing), register)
        act.explain(reason=said[:1000], changed={"State": (in_row("in force"), in_row("ended"))})


def _end(act: Transaction, row: Any, register: Register) -> None:
    if row.ended_at is not None:
        raise Refused(say("{thing}: was corrected or ended meanwhile; load the list again", thing=say(register.thing)))
    act.change(row, ended_at=act.at)


def _changed_words(
    connection: Connection, register: Register, row: Row, new: Row, changed: Mapping[str, Any], site: Site
) -> dict[str, tuple[str, str]]:
    names = {
        each.target: labels_of(connection, each.target or "") for each in links_of(register.spec, register.corrected)
    }
    shown = [row_words(register.spec, each, "", names, site).shown for each in (row, new)]
    columns = [name for name in register.corrected if register.spec.column(name).field in changed]
    columns += [each.name for each in register.spec.columns if each.precision_field in changed]
    return {label_of(name): (shown[0][name], shown[1][name]) for name in dict.fromkeys(columns)}


def _read(register: Register, names: Iterable[str], given: Mapping[str, Any], site: Site) -> Row:
    """The table's columns from what was typed or chosen; None where a field is left empty."""
    row: Row = {}
    for name in names:
        column = register.spec.column(name)
        value = _value(column, given.get(name), site)
        if column.precision_field:
            row[column.precision_field] = value.precision.value if value is not None else "day"
            value = value.date if value is not None else None
        row[column.field or ""] = value
    return row


def _value(column: SheetColumn, given: Any, site: Site) -> Any:
    if column.kind is Kind.LINK and given is not None:
        return given
    unit = WORDS.get(column.name, ("", ""))[1]
    if isinstance(unit, Measure) and isinstance(given, float | int) and column.low is not None:
        figure_or_none(label_of(column.name).lower(), given, column.low, column.high or given, "enter {unit}", unit)
    text = given if isinstance(given, str) else write_cell(column, given, site)
    try:
        return read_cell(column, text, site)
    except ValueError as fault:
        raise Refused(strung(": ", (say_small(label_of(column.name)), str(fault)))) from fault


def _merged(
    connection: Connection, register: Register, row: Row, given: Mapping[str, Any], seen: Mapping[str, Any], site: Site
) -> dict[str, Any]:
    """What is given with what another desk saved since; values by column, as a form begins with them."""
    spec = register.spec
    names = {each.target: labels_of(connection, each.target or "") for each in links_of(spec, seen)}

    def shown(values: Mapping[str, Any]) -> str:
        return (
            strung(", ", (in_words(spec.column(name), value, names, site) for name, value in values.items())) or NOTHING
        )

    mine = {name: _value(spec.column(name), given[name], site) for name in seen if name in given}
    now = row_words(spec, row, "", names, site).values
    together = {label_of(name).lower(): (name,) for name in mine if name in now}
    return {**given, **with_theirs(register.thing, mine, seen, now, together, shown=shown)}


def _refuse_faulty(connection: Connection, register: Register, row: Row) -> None:
    """Refused for the first thing that a file with this row would be refused for."""
    for column, message in row_faults(_recorded(connection), register.sheet, row):
        raise Refused(strung(": ", (say_small(label_of(column)), message)))
    doubles = [each for each in unique_sets(register.spec.table) if each != ("ref",)]
    for names in (*doubles, *ONE_NAME.get(register.sheet, ())):
        values = {name: row.get(name) for name in names}
        if values[names[-1]] is not None and same_row(connection, register.spec.table, values, row["id"]) is not None:
            raise Refused(
                say(
                    "{field}: {value} is recorded already; give another",
                    field=say_small(label_of(names[-1])),
                    value=values[names[-1]],
                )
            )


ONE_NAME: Mapping[str, tuple[tuple[str, ...], ...]] = {
    "slots": (("unit_type_id", "assembly_type_id", "name"),),
    "readers": (("unit_type_id", "name"),),
    "reader_cells": (("reader_id", "cell_slot_id"),),
}
"""What stands once only within its type, besides what the tables hold."""


class _Known:
    """Rows of one table, each read when a check asks for it: a list of 100 000 is not loaded for one row."""

    def __init__(self, connection: Connection, spec: SheetSpec) -> None:
        self._connection, self._spec = connection, spec

    def get(self, key: int, default: Any = None) -> Any:
        """The row, or the default."""
        return row_of(self._connection, self._spec.table, key) or default


def _recorded(connection: Connection) -> ImportPlan:
    """What is recorded, as the checks of files ask for it."""
    plans = {name: SimpleNamespace(known=_Known(connection, spec)) for name, spec in SHEETS.items()}

    def label(sheet: str, key: int | None) -> str:
        row = plans[sheet].known.get(key or 0, {})
        return row_label(row, {}) if row else say("the part")

    return cast("ImportPlan", SimpleNamespace(plans=plans, label=label))


# ---- what rests on a row -------------------------------------------------------------------------------------------


def calculate_again(act: Transaction, register: Register, row: Row, changed: set[str]) -> None:
    """Stored last valid days and forecasts that rest on these columns of a row, again, in the same act."""
    connection = act.session.connection()
    match register.sheet:
        case "centre":
            parts = [part.part_id for _, part in read_fitted(connection)] if "timezone" in changed else []
        case "part_type_lives":
            parts = list(read_fitted_of(connection, part_type_id=row["part_type_id"]))
        case "limits":
            of_type = row["part_type_id"]
            parts = list(read_fitted_of(connection, part_type_id=of_type)) if of_type is not None else []
        case "parts":
            parts = [row["id"]]
        case "part_tests":
            parts = [row["part_id"]]
        case _:
            parts = []
    if parts:
        refresh_lives(act, parts)
        refresh_forecasts(act, parts)


def ends_moved(
    before: Mapping[int, tuple[str, date | None]], after: Mapping[int, tuple[str, date | None]]
) -> list[str]:
    """'12 cells now end earlier.', by kind of part; nothing where no stored day moved."""
    moved: Counter[tuple[str, str]] = Counter()
    for key, (kind, day) in after.items():
        was = before.get(key, (kind, day))[1]
        if was == day:
            continue
        how = "none" if day is None else "later" if was and was < day else "earlier"
        moved[kind, how] += 1
    return [_moved_words(plural(kind, count), how, count) for (kind, how), count in sorted(moved.items())]


def plural(kind: str, count: int) -> str:
    """The kind of part for one or for several."""
    if count == 1:
        return say(kind)
    several = f"{kind[:-1]}ies" if kind.endswith("y") and kind[-2] not in "aeiou" else f"{kind}s"
    return reworded(several, kind)


def _moved_words(kind: str, how: str, count: int) -> str:
    if how == "none":
        return say_count(
            "{count} {kind} now has no last valid day any more.",
            "{count} {kind} now have no last valid day any more.",
            count,
            kind=kind,
        )
    if how == "later":
        return say_count("{count} {kind} now ends later.", "{count} {kind} now end later.", count, kind=kind)
    return say_count("{count} {kind} now ends earlier.", "{count} {kind} now end earlier.", count, kind=kind)


def held_now(workplace: Workplace) -> dict[str, UnitRow]:
    """Every unit by its tag, as it stands now."""
    return {row.tag: row for row in list_units(workplace)}


def holds_moved(before: Mapping[str, UnitRow], after: Mapping[str, UnitRow]) -> list[str]:
    """'2 units are on hold now: B-01, B-02.'; by key, since a tag may be what was changed."""
    was = {row.unit_id for row in before.values() if row.fit is Fit.HOLD}
    now = {row.unit_id: tag for tag, row in after.items() if row.fit is Fit.HOLD}
    known = {row.unit_id for row in before.values()}
    newly = sorted(tag for key, tag in now.items() if key not in was)
    free = sorted(tag for tag, row in after.items() if row.unit_id in was & known and row.unit_id not in now)
    held = [say_count("{count} unit is on hold now: {tags}.", "{count} units are on hold now: {tags}.",
                      len(newly), tags=_listed(newly))] if newly else []  # fmt: skip
    freed = [say_count("{count} unit is no longer on hold: {tags}.", "{count} units are no longer on hold: {tags}.",
                       len(free), tags=_listed(free))] if free else []  # fmt: skip
    return held + freed


def _listed(tags: list[str]) -> str:
    return f"{', '.join(tags[:MOST_NAMED])}{', …' if len(tags) > MOST_NAMED else ''}"


MOST_NAMED = 12
"""Units that a sentence names."""


# ---- what is looser, and what may not be -----------------------------------------------------------------------------


def _looser(register: Register, row: Row, new: Row) -> str:
    """In words that a correction makes a limit looser; empty where it does not."""
    sheet = register.sheet
    if sheet in ALIKE:
        other = any(row[name] != new[name] for name in ALIKE[sheet])
        if other or _is_looser(sheet, new, row):
            was, now = figure_words(sheet, "amount", row), figure_words(sheet, "amount", new)
            if sheet == "limits":
                return say("the limit gets looser, {was} to {now}", was=was, now=now)
            return say("the life gets longer, {was} to {now}", was=was, now=now)
    for table, sign in ((LOOSER_ABOVE, 1), (LOOSER_BELOW, -1)):
        name = table.get(sheet)
        if name and row[name] is not None and new[name] is not None and (new[name] - row[name]) * sign > 0:
            was, now = figure_words(sheet, name, row), figure_words(sheet, name, new)
            return say("{field} gets looser, {was} to {now}", field=say_small(label_of(name)), was=was, now=now)
    return ""


def _longer(new: Row, row: Row) -> bool:
    """Whether a life is longer than another one; True where they cannot be compared."""
    units = LimitUnit(new["unit"]), LimitUnit(row["unit"])
    if units[0] is units[1]:
        return bool(new["amount"] > row["amount"])
    if not set(units) <= DAYS_IN.keys():
        return True
    return bool(new["amount"] * DAYS_IN[units[0]] > row["amount"] * DAYS_IN[units[1]])


def _stricter_stands(connection: Connection, register: Register, row: Row) -> Iterator[str]:
    """A new limit or life that is looser than one recorded for the same thing has no effect, and is told so."""
    if register.sheet not in ALIKE:
        return
    other = same_row(connection, register.spec.table, {name: row[name] for name in ALIKE[register.sheet]}, row["id"])
    if other is not None and _is_looser(register.sheet, row, other):
        stands = figure_words(register.sheet, "amount", other)
        yield (say("It is looser than the {figure} recorded from {source}, which stays in force; correct "
"that one where it is wrong.", figure=stands, source=other["source"]))  # fmt: skip


ALIKE = {"limits": ("unit_type_id", "part_type_id", "name"), "part_type_lives": ("part_type_id", "basis", "test")}
"""By which columns two limits or lives speak of the same thing."""


def _is_looser(sheet: str, new: Row, old: Row) -> bool:
    return is_looser(new["name"], new["amount"], old["amount"]) if sheet == "limits" else _longer(new, old)


def _one_manager(act: Transaction, row: Row, new: Row) -> None:
    if row["role"] == "manager" != new["role"] and row["active"] and active_in_role(act.session, "manager") < 2:
        raise Refused(say("role: this is the last manager; enter another one first"))


Guard = Callable[[Transaction, Row, Row], None]


def _nothing_fitted(column: str, name: str, what: str) -> Guard:
    def guard(act: Transaction, row: Row, new: Row) -> None:
        if row[column] == new[column]:
            return
        fitted = read_fitted_of(act.session.connection(), **{name: row["id"]})
        if fitted:
            raise Refused(
                say(
                    "{field}: {count} fitted {what}; remove them first",
                    field=say_small(label_of(column.removesuffix("_id"))),
                    count=len(fitted),
                    what=what,
                )
            )

    return guard


def _no_steps_at_events(act: Transaction, _row: Row, new: Row) -> None:
    if new["basis"] in EVENTS and steps_in_force(act.session, new["id"]):
        raise Refused(
            say(
                "counted from: the task has steps, and a card of every {basis} has none; end them first",
                basis=say(new["basis"]),
            )
        )


GUARDS: Mapping[str, tuple[Guard, ...]] = {
    "people": (_one_manager,),
    "service_tasks": (_no_steps_at_events,),
    "units": (_nothing_fitted("unit_type_id", "unit_id", say("in the unit stand in slots of its type")),),
    "slots": (_nothing_fitted("kind", "slot_id", say("in this slot are of the other kind")),),
    "part_types": (_nothing_fitted("kind", "part_type_id", say("parts of it sit in slots of the other kind")),),
}
"""What would leave the records in contradiction."""
