"""Twenty kinds of tampering with a file, more on a server: each found by `verify`, or named as not to be found."""

import math
import random
import time

from tests.faults.places import SERVER, Places
from tests.faults.stranger import Stranger
from tests.faults.table import Outcome
from tests.fuzz_tampering import (
    Copies,
    Tamper,
    emptied,
    filled_in,
    is_found,
    one_byte,
    row_gone,
    row_twice,
    rows_exchanged,
    turned,
)


def entry_changed(stranger: Stranger, chance: random.Random) -> str | None:
    """One bit of what a journal entry states."""
    key = chance.choice(stranger.keys("journal"))
    row = stranger.row("journal", key)
    column = chance.choice([name for name in row if name != "id"])
    return turned(stranger, chance, ("journal", key, column), row[column])


def entry_gone(stranger: Stranger, chance: random.Random) -> str | None:
    """An entry within the chain."""
    *keys, _last = stranger.keys("journal")
    key = chance.choice(keys)
    stranger.does("DELETE FROM journal WHERE id = ?", key)
    return f"journal {key} dropped"


def entries_exchanged(stranger: Stranger, chance: random.Random) -> str | None:
    """Two neighbours change places."""
    key = chance.choice(stranger.keys("journal")[:-1])
    for was, becomes in ((key, -1), (key + 1, key), (-1, key + 1)):
        stranger.does("UPDATE journal SET id = ? WHERE id = ?", becomes, was)
    return f"journal {key} and {key + 1}"


def last_entry_gone(stranger: Stranger, _chance: random.Random) -> str | None:
    """The last entry alone, while its rows stay."""
    stranger.does("DELETE FROM journal WHERE id = (SELECT max(id) FROM journal)")
    return "last entry dropped"


def _schema(*statements: str) -> Tamper:
    """What changes the tables themselves; `{table}` is any of them."""

    def change(stranger: Stranger, chance: random.Random) -> str | None:
        table = chance.choice(stranger.tables())
        for each in statements:
            stranger.does(each.format(table=table))
        return statements[-1].format(table=table)

    return change


def index_gone(stranger: Stranger, chance: random.Random) -> str | None:
    """An index is dropped."""
    (name,) = chance.choice(stranger.asks(INDEXES[stranger.server]))
    stranger.does(f'DROP INDEX "{name}"')
    return f"index {name} dropped"


INDEXES = {
    True: "SELECT c.relname FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace AND n.nspname = 'public'"
    " WHERE c.relkind = 'i' AND NOT EXISTS (SELECT FROM pg_constraint k WHERE k.conindid = c.oid) ORDER BY 1",
    False: "SELECT name FROM sqlite_master WHERE type = 'index' AND sql IS NOT NULL ORDER BY 1",
}
CHECKS = {
    True: "SELECT conrelid::regclass::text, conname FROM pg_constraint WHERE contype = 'c' ORDER BY 1, 2",
    False: "SELECT name, sql FROM sqlite_master WHERE type = 'table' AND sql LIKE '%CHECK (%' ORDER BY 1",
}


def check_loosened(stranger: Stranger, chance: random.Random) -> str | None:
    """A CHECK of a table is written away."""
    table, said = chance.choice(stranger.asks(CHECKS[stranger.server]))
    if stranger.server:
        stranger.does(f'ALTER TABLE {table} DROP CONSTRAINT "{said}", ADD CONSTRAINT "{said}" CHECK (true)')
        return f"check {said} of {table}"
    stranger.does("PRAGMA writable_schema = ON")
    stranger.does("UPDATE sqlite_master SET sql = ? WHERE name = ?", said.replace("CHECK (", "CHECK (1 OR ", 1), table)
    return f"check of {table}"


def keys_out_of_force(stranger: Stranger, chance: random.Random) -> str | None:
    """The server no longer looks at the keys of a table, where it has any."""
    table = chance.choice(stranger.tables())
    stranger.does(f'ALTER TABLE "{table}" DISABLE TRIGGER ALL')
    off = stranger.asks("SELECT 1 FROM pg_trigger WHERE tgenabled = 'D' LIMIT 1")
    return f"keys of {table}" if off else None


def names_exchanged(stranger: Stranger, chance: random.Random) -> str | None:
    """Two people are given each other's names."""
    rows = stranger.asks("SELECT person_id, name FROM person_private WHERE name IS NOT NULL ORDER BY 1")
    (one, name), (two, other) = chance.sample(rows, 2)
    for key, said in ((one, other), (two, name)):
        stranger.does("UPDATE person_private SET name = ? WHERE person_id = ?", said, key)
    return f"names of {one} and {two}"


def pin_changed(stranger: Stranger, chance: random.Random) -> str | None:
    """The hash of a PIN is another."""
    key = chance.choice(stranger.keys("person_pin"))
    column = next(name for name in stranger.row("person_pin", key) if "hash" in name)
    stranger.does(f"UPDATE person_pin SET {column} = {column} || 'x' WHERE id = ?", key)
    return f"PIN of {key}"


def revision_changed(stranger: Stranger, chance: random.Random) -> str | None:
    """The file says that it is of another revision."""
    stranger.does("UPDATE alembic_version SET version_num = ?", f"{chance.randrange(30, 9999):04d}")
    return "revision"


IN_TABLES: dict[str, Tamper] = {
    "a byte of a value": one_byte,
    "a value taken away": emptied,
    "a value filled in": filled_in,
    "a row dropped": row_gone,
    "a row copied": row_twice,
    "rows exchanged": rows_exchanged,
    "a journal entry changed": entry_changed,
    "a journal entry dropped": entry_gone,
    "journal entries exchanged": entries_exchanged,
    "the last entry dropped": last_entry_gone,
    "a planted view": _schema('CREATE VIEW planted AS SELECT * FROM "{table}"'),
    "a planted table": _schema('CREATE TABLE planted AS SELECT * FROM "{table}"'),
    "a planted column": _schema('ALTER TABLE "{table}" ADD COLUMN planted INTEGER'),
    "a dropped index": index_gone,
    "a check written away": check_loosened,
    "names exchanged": names_exchanged,
    "a PIN changed": pin_changed,
    "another revision": revision_changed,
}
IN_FILE: dict[str, Tamper] = {
    "a planted trigger": _schema('CREATE TRIGGER planted AFTER INSERT ON "{table}" BEGIN SELECT 1; END'),
}
ON_SERVER: dict[str, Tamper] = {
    "a planted trigger": _schema(
        "CREATE SCHEMA elsewhere",
        "CREATE FUNCTION elsewhere.quiet() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NULL; END'",
        'CREATE TRIGGER planted BEFORE DELETE ON "{table}" FOR EACH ROW EXECUTE FUNCTION elsewhere.quiet()',
    ),
    "a planted rule": _schema('CREATE RULE planted AS ON DELETE TO "{table}" DO INSTEAD NOTHING'),
    "keys out of force": keys_out_of_force,
    "rows hidden by a policy": _schema(
        'ALTER TABLE "{table}" ENABLE ROW LEVEL SECURITY', 'CREATE POLICY planted ON "{table}" USING (id > 1)'
    ),
    "a table that a crash empties": _schema('ALTER TABLE "{table}" SET UNLOGGED'),
    "a child table elsewhere": _schema(
        "CREATE SCHEMA elsewhere", 'CREATE TABLE elsewhere.planted () INHERITS ("{table}")'
    ),
}
"""What only the one or the other can be made to hold."""
LATEST = "the last act undone whole"
"""What no chain can show by itself: it is found by a head that was printed or kept elsewhere."""


def kinds_of(server: bool) -> dict[str, Tamper]:
    """Every tampering that such a database can suffer, by its kind."""
    return IN_TABLES | (ON_SERVER if server else IN_FILE)


def tamperings(places: Places, tries: int, seed: int) -> list[Outcome]:
    """So many tamperings of each database, shared out among the kinds."""
    return [each for kind in places.kinds for each in _of(places, kind, tries, seed)]


def _of(places: Places, kind: str, tries: int, seed: int) -> list[Outcome]:
    tampers = kinds_of(kind == SERVER)
    each = max(1, math.ceil(tries / len(tampers)))
    with Copies(places.room(), places.server if kind == SERVER else None) as copies:
        found = [_tampered(copies, kind, name, each, random.Random(f"{seed} {name}")) for name in tampers]
        return [*found, _undone(copies, kind)]


def _tampered(copies: Copies, kind: str, name: str, tries: int, chance: random.Random) -> Outcome:
    outcome = Outcome(
        f"tampering, {kind}: {name}", "written by another program, foreign keys and triggers not in force"
    )
    begun, change = time.monotonic(), kinds_of(kind == SERVER)[name]
    while outcome.tries < tries:
        said, found = copies.tampered(change, chance)
        if said is not None:
            outcome.tries += 1
            outcome.hold(found, f"not found: {said}")
    outcome.seconds = time.monotonic() - begun
    return outcome


def _undone(copies: Copies, kind: str) -> Outcome:
    """An earlier copy in the place of a later one fits together; the head that was kept of the later one tells."""
    how = "an earlier copy put in the place of the records; NOT to be found without --head"
    outcome = Outcome(f"tampering, {kind}: {LATEST}", how, tries=1)
    number, _, digest = copies.head.partition(":")
    with copies.fresh() as where:
        outcome.hold(not is_found(where), "an untouched copy was found broken")
        outcome.hold(is_found(where, f"{int(number) + 1}:{digest}"), "an earlier copy was not told by a later head")
    outcome.hear("the head that was printed names an entry that is no longer there")
    return outcome
