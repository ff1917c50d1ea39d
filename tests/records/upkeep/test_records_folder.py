"""An export of all records, imported into a new centre, is equal in every table and every photograph.

The files are JSON by RFC 8259, a row a line; digests are SHA-256 (FIPS 180-4), signatures Ed25519 (RFC 8032).
"""

import gzip
import hashlib
import json
import random
import shutil
from collections.abc import Callable
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from sqlalchemy import text

from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import transaction
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.records_folder import (
    FILES,
    MANIFEST,
    TABLES,
    check_records,
    export_records,
    import_records,
)
from fleetbench.records.upkeep.verify import verify
from fleetbench.records.upkeep.witness import keep_heads, verify_beside
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.import_folder import import_folder
from tests.centres.random_fleet import NOW, RandomFleet
from tests.conftest import Clock, Server
from tests.faults.broken_records import resigned
from tests.records.few_rows import AT, write_few_rows
from tests.round_trip import carried, contents, went_round

LATER = AT + timedelta(days=1)


def test_every_table_comes_back_with_the_same_head_and_witness(
    database: Database, empty_file: Path, tmp_path: Path
) -> None:
    write_few_rows(database)
    where = tmp_path / "new.db" if database.is_sqlite else shutil.copy(empty_file, tmp_path / "empty.db")
    (tmp_path / "heads").mkdir()
    assert keep_heads(database, [tmp_path / "heads"], tmp_path, AT) == ()
    head = verify(database)
    with carried(database, tmp_path / "out", where) as again:
        printed = f"{head.head_number}:{head.head_hash}"
        report = verify_beside(again, tmp_path, head=printed, places=[tmp_path / "heads"])
        assert (report.breaks, report.head_number) == ((), head.head_number + 1)
        assert any("all entries before it were imported" in note for note in report.notes)
        assert contents(again) == contents(database)


def test_a_fleet_goes_to_a_server_and_back_unchanged(
    sqlite_database: Database, server: Server, empty_file: Path, tmp_path: Path
) -> None:
    workplace = Workplace(sqlite_database, Clock(NOW))
    assert not import_folder(workplace, RandomFleet(random.Random(3)).write(tmp_path / "sheets")).faults
    assert (
        went_round(sqlite_database, tmp_path, [server.emptied(), shutil.copy(empty_file, tmp_path / "back.db")]) == []
    )


def test_a_server_knows_at_once_how_large_the_tables_are_that_were_brought_to_it(
    database: Database, server: Server, empty_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fleetbench.workshop.import_export.import_folder.ENTRY_ROWS", 100)  # so that these are many
    workplace = Workplace(database, Clock(NOW))
    report = import_folder(workplace, RandomFleet(random.Random(3)).write(tmp_path / "sheets"))
    assert sum(report.added.values()) > 100
    assert report.added["fittings"] > 20
    # PostgreSQL documentation, pg_class; what other tests put aside has a table of that name in a schema of its own
    sizes = text("SELECT reltuples FROM pg_class WHERE oid = 'public.fitting'::regclass")
    if not database.is_sqlite:
        with database.reading() as connection:
            assert connection.scalar(sizes) == report.added["fittings"]
        return
    export_records(database, tmp_path / "out", desk=tmp_path, at=AT)
    where = server.emptied()
    import_records(tmp_path / "out", where, clock=lambda: LATER)
    with closing(Database(where)) as again, again.reading() as connection:
        assert connection.scalar(sizes) == report.added["fittings"]


def test_the_files_are_plain_and_their_digests_and_signature_are_those_of_the_manifest(
    sqlite_database: Database, tmp_path: Path
) -> None:
    write_few_rows(sqlite_database)
    export_records(sqlite_database, tmp_path / "out", desk=tmp_path, at=AT)
    manifest = json.loads((tmp_path / "out" / MANIFEST).read_text(encoding="utf-8"))
    for name, told in manifest["tables"].items():
        data = (tmp_path / "out" / TABLES / f"{name}.jsonl").read_bytes()
        assert (len(data), hashlib.sha256(data).hexdigest()) == (told["bytes"], told["sha256"])
        assert [set(json.loads(line)) for line in data.splitlines()] == [set(told["columns"])] * told["rows"]
    parts = [json.loads(line) for line in (tmp_path / "out" / TABLES / "part.jsonl").read_text().splitlines()]
    assert (parts[0]["made_on"], parts[0]["price"], manifest["tables"]["part"]["columns"]["price"]) == (
        "2025-01-01", 12.25, "number",
    )  # fmt: skip
    signature = bytes.fromhex(manifest.pop("signature"))
    said = json.dumps(manifest, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(manifest["key"]))
    key.verify(signature, b"records of a centre\n" + said.encode())
    assert {path.stat().st_mode & 0o077 for path in (tmp_path / "out").rglob("*")} == {0}


def edited(name: str, old: str, new: str) -> Callable[[Path], None]:
    def edit(folder: Path) -> None:
        path = folder / name
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new, 1), encoding="utf-8")

    return edit


def dropped(name: str) -> Callable[[Path], None]:
    def drop(folder: Path) -> None:
        lines = (folder / TABLES / name).read_text(encoding="utf-8").splitlines(keepends=True)
        (folder / TABLES / name).write_text("".join(lines[:-1]), encoding="utf-8")

    return drop


TAMPERED: dict[str, tuple[Callable[[Path], None], str]] = {
    "a value": (edited(f"{TABLES}/part.jsonl", '"V-3"', '"V-8"'), "part.jsonl is not what the manifest says"),
    "a row gone": (dropped("part.jsonl"), "part.jsonl is not what the manifest says"),
    "a file gone": (lambda folder: (folder / TABLES / "hold.jsonl").unlink(), "hold.jsonl is missing"),
    "a file more": (lambda folder: (folder / FILES / "x.jpg").touch(), "x.jpg is not named in the manifest"),
    "the head": (edited(MANIFEST, '"entry": ', '"entry": 1'), "does not fit its signature"),
    "no manifest": (lambda folder: (folder / MANIFEST).write_text("[]"), "is not a manifest"),
}


@pytest.mark.parametrize("name", TAMPERED)
def test_a_tampered_folder_is_refused_and_nothing_is_left(name: str, sqlite_database: Database, tmp_path: Path) -> None:
    write_few_rows(sqlite_database)
    export_records(sqlite_database, tmp_path / "out", desk=tmp_path, at=AT)
    tamper, said = TAMPERED[name]
    tamper(tmp_path / "out")
    before = sorted(tmp_path.iterdir())
    with pytest.raises(Refused, match=said):
        check_records(tmp_path / "out")
    with pytest.raises(Refused, match=said):
        import_records(tmp_path / "out", str(tmp_path / "new.db"), clock=lambda: LATER)
    assert sorted(tmp_path.iterdir()) == before


FORGED: dict[str, tuple[Callable[[Path], None], str]] = {
    "a value": (edited(f"{TABLES}/part.jsonl", '"V-3"', '"V-X"'), "does not verify .part row 4: serial is 'V-X'"),
    "a name": (edited(f"{TABLES}/person_private.jsonl", "Zoë", "Zoé"), "does not verify .person_private row 1"),
    "the last entry": (dropped("journal.jsonl"), "does not verify .the printed head"),
    "a column": (edited(f"{TABLES}/part.jsonl", '"serial":', '"vetoed":'), "holds a row that is not of its columns"),
    "a kind": (edited(f"{TABLES}/part.jsonl", '"price":12.25', '"price":"12"'), "holds a row that is not of its"),
    "no number": (edited(f"{TABLES}/part.jsonl", '"price":12.25', '"price":NaN'), "holds a row that is not of its"),
    "an endless number": (edited(f"{TABLES}/part.jsonl", '"price":12.25', '"price":1e999'), "row that is not of its"),
    "a key too large": (edited(f"{TABLES}/part.jsonl", '"id":4,', f'"id":{2**64},'), "row that is not of its"),
}


@pytest.mark.parametrize("name", FORGED)
def test_a_forgery_that_fits_its_manifest_does_not_verify(
    name: str, sqlite_database: Database, empty_file: Path, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    write_few_rows(sqlite_database)
    export_records(sqlite_database, tmp_path / "out", desk=tmp_path, at=AT)
    tamper, said = FORGED[name]
    tamper(tmp_path / "out")
    resigned(tmp_path / "out")
    on_server = name == "a name"
    where = request.getfixturevalue("server").emptied() if on_server else shutil.copy(empty_file, tmp_path / "new.db")
    with pytest.raises(Refused, match=said):
        import_records(tmp_path / "out", str(where), clock=lambda: LATER)
    left = open_database(where)
    assert set(map(len, contents(left).values())) == {0}
    left.close()


def test_a_centre_that_holds_anything_is_left_alone(database: Database, tmp_path: Path) -> None:
    write_few_rows(database)
    export_records(database, tmp_path / "out", desk=tmp_path, at=AT)
    before = contents(database)
    place = str(database.path) if database.path else database.url
    with pytest.raises(Refused, match="records go into an empty centre only"):
        import_records(tmp_path / "out", place, clock=lambda: LATER)
    assert contents(database) == before


def test_an_older_export_is_brought_up_as_an_older_database_is(server: Server, tmp_path: Path) -> None:
    kept = Path(__file__).parents[1] / "schemas" / "0020.db.gz"
    (tmp_path / "old.db").write_bytes(gzip.decompress(kept.read_bytes()))
    old = Database(tmp_path / "old.db")
    export_records(old, tmp_path / "out", desk=tmp_path, at=AT)
    old.close()
    with closing(open_database(tmp_path / "old.db")) as brought_up:
        wanted = contents(brought_up)
    where = server.emptied()
    import_records(tmp_path / "out", where, clock=Clock())
    with closing(open_database(where)) as again:
        assert contents(again) == wanted and verify(again).whole


def test_a_mark_that_speaks_of_other_entries_is_a_break(sqlite_database: Database) -> None:
    write_few_rows(sqlite_database)
    with transaction(sqlite_database, lambda: LATER, None, "import records", "centre") as act:
        act.explain(entry=act.head.number - 1, hash=act.head.hash, at="2026-05-04T07:30", program="0", key="0")
    assert verify(sqlite_database).breaks == ("entry 16: says that other entries were imported than stand before it",)
