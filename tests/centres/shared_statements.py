"""One cache of compiled statements for all the databases that the tests open, which saves most of their time.

SQLAlchemy keeps compiled SQL with each engine, and every test opens a database of its own: without this each test
compiles the same few hundred statements again. Only tests do so; the program opens one database.
"""

from typing import Any

from sqlalchemy import Engine, create_engine, event

from fleetbench.records.core import database as opening

_FIRST: dict[str, Engine] = {}
"""By dialect, the first engine that has connected: its dialect knows its server, its cache is everybody's."""


def _sharing(url: Any, **options: Any) -> Engine:
    engine = create_engine(url, **options)
    first = _FIRST.get(engine.dialect.name)
    if first is None:
        event.listen(engine, "engine_connect", lambda _: _FIRST.setdefault(engine.dialect.name, engine), once=True)
        return engine
    engine.dialect = first.dialect
    engine._compiled_cache = first._compiled_cache  # the public option would hide the cache from a session's writes
    return engine


opening.create_engine = _sharing  # type: ignore[attr-defined]
