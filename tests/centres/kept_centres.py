"""Small centres that are written once and copied afterwards, which saves most of the suite's time.

`kept` stands over a function, a fixture, an `__init__` or a method of a centre that fills an empty database, or goes on
from what another kept function left. The first call fills it and puts a copy aside, with what the function returned and
what the object holds; later calls that start from the same journal and moment with the same options get that copy. A
database that holds anything else is left to the function itself.
"""

import functools
import io
import pickle
import sqlite3
import tempfile
from collections.abc import Callable
from contextlib import closing
from datetime import date, datetime
from itertools import count
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

from sqlalchemy import text

from fleetbench.records.core.database import Database
from fleetbench.workshop.core.workplace import Workplace
from tests.centres import lasting

P = ParamSpec("P")
R = TypeVar("R")

_ASIDE: dict[object, tuple[Path | str, bytes, datetime | None]] = {}
_NUMBERS = count(1)
_HEADS: set[str | None] = {None}
"""The hashes of the last entries that kept functions left; a hash stands for all the acts before it."""
_PUT_ASIDE = """
DO $$ DECLARE name text; filled boolean; BEGIN
    CREATE SCHEMA kept_0;
    FOR name IN SELECT tablename FROM pg_tables WHERE schemaname = 'public' AND tablename <> 'alembic_version' LOOP
        EXECUTE 'SELECT EXISTS (SELECT FROM public.' || quote_ident(name) || ')' INTO filled;
        IF filled THEN EXECUTE 'CREATE TABLE kept_0.' || quote_ident(name) || ' AS TABLE public.' || quote_ident(name);
        END IF;
    END LOOP;
END $$
"""
_TAKE = """
DO $$ DECLARE name text; filled boolean; BEGIN
    SET LOCAL session_replication_role = replica;
    FOR name IN SELECT tablename FROM pg_tables WHERE schemaname = 'public' AND tablename <> 'alembic_version' LOOP
        EXECUTE 'SELECT EXISTS (SELECT FROM public.' || quote_ident(name) || ')' INTO filled;
        IF filled THEN EXECUTE 'DELETE FROM public.' || quote_ident(name); END IF;
    END LOOP;
    FOR name IN SELECT tablename FROM pg_tables WHERE schemaname = 'kept_0' LOOP
        EXECUTE 'INSERT INTO public.' || quote_ident(name) || ' SELECT * FROM kept_0.' || quote_ident(name);
    END LOOP;
END $$
"""
_UNDER_WAY: list[object] = []


def kept(build: Callable[P, R]) -> Callable[P, R]:
    """The same function, which writes a centre once and copies it afterwards."""

    @functools.wraps(build)
    def instead(*args: P.args, **options: P.kwargs) -> R:
        scene = _Scene.of([*args, *options.values()])
        if _UNDER_WAY or scene is None or (head := scene.head()) not in _HEADS:
            return build(*args, **options)
        made = args[0] if args and _is_centre(build, args[0]) else None
        key = (build.__module__, build.__qualname__, head, type(made), scene.key(), _plain(args), _plain(options))
        if key not in _ASIDE:
            _UNDER_WAY.append(key)
            try:
                result = build(*args, **options)
            finally:
                _UNDER_WAY.pop()
            held = (result, vars(made) if made is not None else {})
            _ASIDE[key] = (scene.put_aside(), scene.packed(held), scene.now())
            _HEADS.add(scene.head())
            return result
        copy, packed, then = _ASIDE[key]
        scene.take(copy, then)
        result, holds = scene.unpacked(packed)
        if made is not None:
            vars(made).update(holds)
        return result

    return instead


def _is_centre(build: Callable[..., Any], first: object) -> bool:
    """Whether a function is a method of its first argument, whose class may be made from the one that has it."""
    return any(build.__qualname__ == f"{kind.__qualname__}.{build.__name__}" for kind in type(first).__mro__)


def _plain(values: Any) -> str:
    """What of the arguments changes what is written: not the workplace, the clock or a folder."""
    if isinstance(values, dict):
        return repr(sorted((name, each) for name, each in values.items() if _tells(each)))
    return repr([each for each in values if _tells(each)])


def _tells(value: object) -> bool:
    return isinstance(value, str | int | float | date | tuple)


class _Scene:
    """The database, the workplace and the clock among a function's arguments."""

    def __init__(self, database: Database, workplace: Workplace | None, clock: Any) -> None:
        self.database, self.workplace, self.clock = database, workplace, clock

    @classmethod
    def of(cls, values: list[Any]) -> "_Scene | None":
        held = [each for one in values for each in (one, getattr(one, "workplace", None))]
        workplace = next((each for each in held if isinstance(each, Workplace)), None)
        database = (
            workplace.database if workplace else next((each for each in values if isinstance(each, Database)), None)
        )
        if database is None or (database.is_sqlite and database.path is None):
            return None
        clock = next((each for each in values if hasattr(each, "advance") and hasattr(each, "now")), None)
        return cls(
            database,
            workplace,
            clock or (workplace.clock if workplace and hasattr(workplace.clock, "advance") else None),
        )

    def now(self) -> datetime | None:
        return self.clock.now if self.clock is not None else None

    def key(self) -> object:
        return (self.home(), self.now(), self.workplace.person_id if self.workplace else None)

    def home(self) -> object:
        """What the copies are kept in: files, or one database of a server, which a test may have had made anew."""
        if self.database.is_sqlite:
            return "files"
        with self.database.reading() as connection:
            return connection.scalar(text("SELECT oid FROM pg_database WHERE datname = current_database()"))

    def head(self) -> str | None:
        """The hash of the journal's last entry, which stands for all before it; None for an empty database."""
        with self.database.reading() as connection:
            return connection.scalar(text("SELECT hash FROM journal ORDER BY id DESC LIMIT 1"))

    def put_aside(self) -> Path | str:
        """A copy of the database as it is now."""
        self.database.engine.dispose()
        if self.database.is_sqlite:
            copy = Path(_folder()) / f"{next(_NUMBERS)}.db"
            _copy(self.database.path, copy)
            return copy
        name = f"kept_{next(_NUMBERS)}"
        self._on_server(_PUT_ASIDE.replace("kept_0", name))
        return name

    def take(self, copy: Path | str, then: datetime | None) -> None:
        """Put a copy in the place of the empty database, and the clock where it stood when the copy was made."""
        self.database.engine.dispose()
        if isinstance(copy, Path):
            _copy(copy, self.database.path)
        else:
            self._on_server(_TAKE.replace("kept_0", copy))
        if self.clock is not None:
            self.clock.now = then

    def _on_server(self, statement: str) -> None:
        lasting.ask(self.database.engine.url.render_as_string(hide_password=False), statement)

    def packed(self, held: object) -> bytes:
        """What a function returned, with its workplace, database and clock left out by name."""
        stream = io.BytesIO()
        _Packer(self, stream).dump(held)
        return stream.getvalue()

    def unpacked(self, packed: bytes) -> Any:
        return _Unpacker(self, io.BytesIO(packed)).load()


class _Packer(pickle.Pickler):
    def __init__(self, scene: _Scene, stream: io.BytesIO) -> None:
        super().__init__(stream)
        self.scene = scene

    def persistent_id(self, value: Any) -> Any:
        if isinstance(value, Workplace):
            return ("workplace", value.person_id)
        if value is self.scene.database:
            return ("database", None)
        return ("clock", None) if value is not None and value is self.scene.clock else None


class _Unpacker(pickle.Unpickler):
    def __init__(self, scene: _Scene, stream: io.BytesIO) -> None:
        super().__init__(stream)
        self.scene = scene

    def persistent_load(self, said: Any) -> Any:
        what, person = said
        if what == "workplace":
            workplace = self.scene.workplace
            assert workplace is not None
            return workplace if workplace.person_id == person else workplace.as_person(person)
        return self.scene.database if what == "database" else self.scene.clock


def _copy(source: Path | None, target: Path | None) -> None:
    assert source is not None and target is not None
    with closing(sqlite3.connect(source)) as old, closing(sqlite3.connect(target)) as new:
        old.backup(new)


@functools.cache
def _folder() -> str:
    kept_folder = tempfile.TemporaryDirectory(prefix="kept-")
    _ASIDE_FOLDERS.append(kept_folder)
    return kept_folder.name


_ASIDE_FOLDERS: list[tempfile.TemporaryDirectory[str]] = []
