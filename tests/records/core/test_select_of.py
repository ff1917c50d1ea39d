"""Records are filled by the names of their fields, and what a field says of its column is true of the column."""

import ast
import importlib
import inspect
import pkgutil
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, is_dataclass
from datetime import UTC, date, datetime, tzinfo
from pathlib import Path
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

import pytest
from sqlalchemy import (
    BinaryExpression,
    Case,
    Connection,
    FromClause,
    FunctionElement,
    Join,
    Label,
    Null,
    Over,
    ScalarSelect,
    event,
    func,
    insert,
    null,
    select,
    true,
)
from sqlalchemy.sql.elements import BindParameter, ExpressionClauseList, FunctionFilter, Grouping, UnaryExpression
from sqlalchemy.sql.functions import count
from sqlalchemy.types import NullType

import fleetbench.records
from fleetbench.records.core.database import Database
from fleetbench.records.core.schema import (
    KeptReads,
    Query,
    columns_of,
    read_if_changed,
    record_of,
    record_or_none,
    records_of,
    select_of,
)
from fleetbench.records.due.reads import HardLives
from fleetbench.records.parts.reads import read_fitted
from fleetbench.records.parts.tables import Part
from fleetbench.records.places.tables import Owner, Place
from fleetbench.workshop.core.workplace import Workplace


@dataclass(frozen=True, slots=True)
class _Owned:
    owner_id: int
    name: str
    kind: str


@dataclass(frozen=True, slots=True)
class _Swapped:
    kind: str
    name: str
    owner_id: int


@dataclass(frozen=True, slots=True)
class _Pair:
    number: int
    owner: _Owned
    place: str


def _invented(database: Database) -> Connection:
    connection = database.engine.connect()
    connection.execute(insert(Owner).values(id=7, name="Invented Bay", kind="loan"))
    connection.execute(insert(Place).values(id=3, name="Invented shelf", kind="shelf"))
    return connection


def test_a_record_is_filled_by_name_whatever_the_order_of_its_fields(sqlite_database: Database) -> None:
    with _invented(sqlite_database) as connection:
        assert records_of(connection, select_of(_Owned, Owner), _Owned) == (_Owned(7, "Invented Bay", "loan"),)
        assert record_or_none(connection, select_of(_Swapped, Owner), _Swapped) == _Swapped("loan", "Invented Bay", 7)
        assert record_or_none(connection, select_of(_Owned, Owner).where(Owner.id == 8), _Owned) is None


def test_a_record_that_holds_another_and_a_subquery_are_filled_by_name(sqlite_database: Database) -> None:
    held = _Owned(7, "Invented Bay", "loan")
    with _invented(sqlite_database) as connection:
        beside = select_of(_Pair, Place, number=Place.id, owner=columns_of(_Owned, Owner), place=Place.name)
        assert records_of(connection, beside.join(Owner, true()), _Pair) == (_Pair(3, held, "Invented shelf"),)
        inner = select(*columns_of(_Swapped, Owner), func.count().label("of")).group_by(Owner.id).subquery()
        assert records_of(connection, select_of(_Owned, inner), _Owned) == (held,)


def test_an_unknown_field_a_missing_column_and_a_statement_of_another_record_raise(sqlite_database: Database) -> None:
    with pytest.raises(TypeError, match="_Owned: has no field colour"):
        select_of(_Owned, Owner, colour=Owner.name)
    with pytest.raises(TypeError, match=r"_Owned\.owner_id: no column of that name"):
        select_of(_Owned, Place)
    with _invented(sqlite_database) as connection:
        for query in (select_of(_Swapped, Owner), select(Owner.id, Owner.name, Owner.kind)):
            with pytest.raises(TypeError, match="_Owned: the statement was not made for it"):
                records_of(connection, query, _Owned)


EXCEPTIONS: dict[tuple[str, str], str] = {
    ("AsideRecord", "at"): "only fittings that ended",
    ("CompetenceRecord", "valid_until"): "only qualifications with an end",
    ("FillUseRecord", "container_id"): "only fills of the containers asked for",
    ("JudgementRecord", "part_id"): "only tests of a part that one rejected",
    ("LastDiveRecord", "at"): "only lines that are back",
    ("LastDiveRecord", "person_id"): "only divers of bookings",
    ("ReleaseRecord", "signed_at"): "only what was signed",
    ("ReturnRecord", "received_at"): "only lines that are back",
    ("StampRecord", "mv"): "only readings in mV",
    ("StampRecord", "seconds"): "only stamped readings",
    ("TrendRecord", "linearity"): "only outcomes with a linearity",
    ("UsedRecord", "unit_id"): "only canisters that sit in a unit",
}
"""Fields that say they hold something, over a column that may hold nothing, each with why it always does."""


def test_what_a_field_says_of_its_column_is_true_of_the_column(sqlite_database: Database) -> None:
    made = _statements(sqlite_database)
    assert {kind.__name__ for kind, _ in made} >= _filled_classes()
    untrue = {fault for kind, query in made for fault in _faults(kind, query)}
    assert sorted(untrue) == sorted(EXCEPTIONS)


def _modules() -> list[Any]:
    found = pkgutil.walk_packages(fleetbench.records.__path__, "fleetbench.records.")
    return [importlib.import_module(each.name) for each in found]


def _filled_classes() -> set[str]:
    """The record classes named in a call of records_of, or that a read is made for."""
    return {
        kind.id
        for module in _modules()
        for node in ast.walk(ast.parse(inspect.getsource(module)))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
        if node.func.id in ("records_of", "record_or_none", "reads")
        if isinstance(kind := node.args[-1], ast.Name) and kind.id != "kind"
    }


def _statements(database: Database) -> list[tuple[type[Any], Any]]:
    """Every statement that a read over a connection makes for a record."""
    made: list[tuple[type[Any], Any]] = []

    def note(_connection: Any, query: Any, *_more: Any) -> None:
        kind = record_of(query)
        if kind is not None:
            made.append((kind, query))

    event.listen(database.engine, "before_execute", note)
    with database.engine.connect() as connection:
        for read, asked in _reads():
            read(connection, **{each.name: _value(each.annotation) for each in asked if each.default is each.empty})
    event.remove(database.engine, "before_execute", note)
    return made


def _reads() -> Iterator[tuple[Callable[..., Any], list[inspect.Parameter]]]:
    """Every read, with what it asks for beside the connection."""
    for module in _modules():
        for name, read in inspect.getmembers(module, inspect.isfunction):
            asked = list(inspect.signature(read).parameters.values())
            mine = read.__module__ == module.__name__ and not module.__name__.endswith(("upkeep.tables", "core.schema"))
            if not mine or name.startswith("_"):
                continue
            if "reads.<locals>" in read.__code__.co_qualname:
                yield read, asked
            elif asked and asked[0].annotation is Connection:
                yield read, asked[1:]


_VALUES: dict[Any, Any] = {
    tzinfo: UTC, int: 1, str: "1", bool: True, date: date(2026, 7, 1), datetime: datetime(2026, 7, 1, tzinfo=UTC),
    HardLives: HardLives((1,), (1,), (1,), (1,), (1,)), Path: Path("invented"), Query: select(Part.id),
}  # fmt: skip


def _value(kind: Any) -> Any:
    """A value of that type."""
    if get_origin(kind) in (UnionType, Union):
        kind = next(each for each in get_args(kind) if each in _VALUES or get_origin(each) in _MANY)
    return (_value(get_args(kind)[0]),) if get_origin(kind) in _MANY else _VALUES[kind]


_MANY = {get_origin(each) for each in (tuple[int], Sequence[int], Iterable[int], Collection[int])}


def _faults(kind: type[Any], query: Any) -> Iterator[tuple[str, str]]:
    """Class and field wherever the type is not the column's, or the column may hold nothing and the field not."""
    outer = {table for each in query.get_final_froms() for table in _outer(each)}
    columns = list(query._raw_columns)
    said = list(_typed(kind))
    assert len(columns) == len(said), kind
    for (owner, name, typed), column in zip(said, columns, strict=True):
        allowed = set(get_args(typed)) if get_origin(typed) in (UnionType, Union) else {typed}
        held = NoneType if isinstance(column.type, NullType) else getattr(column.type, "impl", column.type).python_type
        if held not in allowed or (_may_be_none(column, outer) and NoneType not in allowed):
            yield owner, name


def _typed(kind: type[Any]) -> Iterator[tuple[str, str, Any]]:
    for name, typed in get_type_hints(kind).items():
        if isinstance(typed, type) and is_dataclass(typed):
            yield from _typed(typed)
        else:
            yield kind.__name__, name, typed


def _outer(each: FromClause) -> Iterator[FromClause]:
    """Tables of which a row may be missing."""
    if isinstance(each, Join):
        yield from _outer(each.left)
        yield from each.right._from_objects if each.isouter else _outer(each.right)


def _may_be_none(column: Any, outer: set[FromClause]) -> bool:
    if isinstance(column, Null):
        return True
    parts = _parts(column)
    if parts is not None:
        found = [_may_be_none(each, outer) for each in parts]
        return all(found) if getattr(column, "name", None) == "coalesce" else any(found)
    if column.table in outer:
        return True
    return any(_may_be_none(base, set()) if base is not column else base.nullable for base in column.base_columns)


def _parts(column: Any) -> list[Any] | None:
    """What decides whether an expression may be nothing; None for a column, which says so itself."""
    match column:
        case BindParameter() | ScalarSelect() | count():
            return []
        case Label(element=inner) | Grouping(element=inner) | FunctionFilter(func=inner) | Over(element=inner):
            return [inner]
        case Case():
            return [*(result for _, result in column.whens), null() if column.else_ is None else column.else_]
        case BinaryExpression() | UnaryExpression():
            return [] if column.type.python_type is bool else list(column.get_children())
        case FunctionElement() | ExpressionClauseList():
            return list(column.clauses)
    return None


def test_what_was_read_is_known_until_a_table_of_it_is_changed(sqlite_database: Database) -> None:
    """A read within another makes the outer one hang on its tables too, also when it was known already."""
    asked: list[str] = []

    @read_if_changed
    def owners(connection: Connection) -> list[str]:
        asked.append("owners")
        return list(connection.scalars(select(Owner.name).order_by(Owner.id)))

    @read_if_changed
    def told(connection: Connection, place: str) -> str:
        asked.append("told")
        names = owners(connection)
        count = connection.scalar(select(func.count()).select_from(Place)) or 0
        return f"{place}: {count} of {len(names)}"

    with sqlite_database.engine.connect() as connection:
        _hold_known(connection, asked, owners, told)


def _hold_known(
    empty: Connection, asked: list[str], owners: Callable[[Connection], list[str]], told: Callable[..., str]
) -> None:
    assert (told(empty, "a"), asked) == ("a: 0 of 0", ["told", "owners"]), "without what is kept each is asked"
    kept = KeptReads(empty)
    assert [owners(empty), told(empty, "a"), told(empty, "a"), told(empty, "b")] == [
        [],
        *["a: 0 of 0"] * 2,
        "b: 0 of 0",
    ]
    assert asked[2:] == ["owners", "told", "told"]
    empty.execute(insert(Owner).values(id=1, name="the centre", kind="centre"))
    assert told(empty, "a") == "a: 0 of 0", "it is told what changed"
    kept.changed(["unit"])
    assert told(empty, "a") == "a: 0 of 0"
    kept.changed(["owner"])
    assert (told(empty, "a"), owners(empty)) == ("a: 0 of 1", ["the centre"])


def test_equal_words_days_and_moments_of_many_rows_are_one_object(sample_workplace: Workplace) -> None:
    """A fleet holds a hundred thousand of them, and most columns one of a few."""
    with sample_workplace.database.reading() as connection:
        rows = read_fitted(connection)
    for values in (
        [row.part.state for row in rows],
        [row.part.made_on for row in rows],
        [row.fitting.fitted_at for row in rows],
    ):
        assert len({id(each) for each in values}) == len(set(values)) < len(values)
