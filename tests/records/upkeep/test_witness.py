"""Heads kept outside the database: written by themselves, signed, and compared.

Ed25519 is held against RFC 8032, section 7.1, test 1; lines are checked here by `cryptography` alone.
"""

import json
import stat
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from sqlalchemy import text

from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import transaction
from fleetbench.records.people.tables import Person
from fleetbench.records.upkeep.verify import verify
from fleetbench.records.upkeep.witness import KEY_FILE, desk_fingerprint, desk_key, keep_heads, with_witness
from tests.records.few_rows import AT, write_few_rows

RFC_SECRET = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60"
RFC_PUBLIC = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"


class Desk:
    """A small database with a folder of witnesses and a data folder."""

    def __init__(self, database: Database, folder: Path) -> None:
        self.database, self.data, self.folder = database, folder / "data", folder / "witness"
        self.data.mkdir()
        self.folder.mkdir()
        write_few_rows(database)

    def keep(self, days: float = 0, *, daily: bool = False) -> tuple[str, ...]:
        return keep_heads(self.database, [self.folder], self.data, AT + timedelta(days=days), daily=daily)

    def act(self, code: str) -> None:
        with transaction(self.database, lambda: AT, None, "note", code) as act:
            act.add(Person(code=code, role="renter"))

    @property
    def file(self) -> Path:
        (found,) = self.folder.iterdir()
        return found

    def lines(self) -> list[dict[str, object]]:
        return [json.loads(line) for line in self.file.read_text().splitlines()]

    def breaks(self, *keys: str) -> tuple[str, ...]:
        report = verify(self.database)
        assert report.whole
        return with_witness(report, self.database, self.folder, own=desk_fingerprint(self.data), keys=keys).breaks


@pytest.fixture
def desk(sqlite_database: Database, tmp_path: Path) -> Desk:
    """A small centre on a file."""
    return Desk(sqlite_database, tmp_path)


def test_a_head_is_a_signed_line_and_the_key_is_its_owners_alone(desk: Desk) -> None:
    assert desk.keep() == ()
    (line,) = desk.lines()
    assert (line["entry"], line["hash"], line["at"]) == (
        15,
        verify(desk.database).head_hash,
        "2026-05-04T07:30:01.250000Z",
    )
    said = {name: line[name] for name in ("at", "database", "entry", "hash", "key")}
    signed = b"head of a journal\n" + json.dumps(said, sort_keys=True, separators=(",", ":")).encode()
    public = Ed25519PublicKey.from_public_bytes(bytes.fromhex(str(line["key"])))
    public.verify(bytes.fromhex(str(line["signature"])), signed)
    assert stat.S_IMODE((desk.data / KEY_FILE).stat().st_mode) == 0o600
    assert desk.breaks() == () == desk.breaks(str(desk_fingerprint(desk.data)))


def test_the_key_in_the_file_is_the_one_of_the_standard(tmp_path: Path) -> None:
    (tmp_path / KEY_FILE).write_text(RFC_SECRET)
    assert desk_key(tmp_path).public_key().public_bytes_raw().hex() == RFC_PUBLIC
    (tmp_path / KEY_FILE).write_text("torn")
    with pytest.raises(Refused, match="is not a key"):
        desk_key(tmp_path)
    assert desk_fingerprint(tmp_path) is None


def test_one_line_a_day_is_enough_and_closing_adds_one_only_after_an_act(desk: Desk) -> None:
    desk.keep(daily=True)
    desk.act("R1")
    desk.keep(daily=True)
    assert [line["entry"] for line in desk.lines()] == [15]
    desk.keep()
    desk.keep()
    assert [line["entry"] for line in desk.lines()] == [15, 16]
    desk.keep(1, daily=True)
    assert [line["entry"] for line in desk.lines()] == [15, 16, 16]


def test_a_folder_that_cannot_be_written_is_told_and_stops_nothing(desk: Desk, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    places = [tmp_path / "nowhere", tmp_path / "file", desk.folder]
    told = keep_heads(desk.database, places, desk.data, AT)
    assert [each.split(" (")[0] for each in told] == [
        f"The journal's head could not be kept in {tmp_path / name}" for name in ("nowhere", "file")
    ]
    assert len(desk.lines()) == 1


def _forged(line: dict[str, object]) -> str:
    return json.dumps(line | {"hash": "0" * 64})


def _of_another_key(line: dict[str, object]) -> str:
    key = Ed25519PrivateKey.generate()
    said = {**line, "key": key.public_key().public_bytes_raw().hex()}
    del said["signature"]
    signed = b"head of a journal\n" + json.dumps(said, sort_keys=True, separators=(",", ":")).encode()
    return json.dumps({**said, "signature": key.sign(signed).hex()})


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (_forged, "is not signed, or its signature is not of what it says"),
        (lambda line: json.dumps({name: line[name] for name in line if name != "signature"}), "is not signed"),
        (lambda line: json.dumps(line)[:-30], "is no head that can be read"),
        (_of_another_key, "is signed by another key"),
    ],
)
def test_a_line_that_was_changed_or_is_of_another_key_is_named(
    desk: Desk, change: Callable[[dict[str, object]], str], said: str
) -> None:
    desk.keep()
    desk.file.write_text(change(desk.lines()[0]) + "\n")
    (found,) = desk.breaks(str(desk_fingerprint(desk.data)))
    assert said in found


def test_another_desks_lines_are_told_with_their_key(desk: Desk) -> None:
    desk.keep()
    desk.file.write_text(_of_another_key(desk.lines()[0]) + "\n")
    report = with_witness(verify(desk.database), desk.database, desk.folder, own=desk_fingerprint(desk.data))
    assert report.whole and "not this desk's: compare it on paper" in report.notes[-1]


def test_dropped_entries_and_a_chain_made_again_show_by_the_witness_alone(desk: Desk) -> None:
    desk.act("R1")
    desk.keep()
    with desk.database.engine.begin() as connection:
        connection.execute(text("DELETE FROM person WHERE code = 'R1'"))
        connection.execute(text("DELETE FROM journal WHERE id = 16"))
    (found,) = desk.breaks()
    assert "the database is shorter: entry 16 was witnessed on 2026-05-04, the last one here is 15" in found
    (told,) = desk.keep(1)
    assert "holds entry 16 of 2026-05-04, and the records end at entry 15" in told
    desk.act("R2")
    assert "entry 16 is not the one witnessed on 2026-05-04" in desk.breaks()[0]


def test_a_witness_of_another_database_proves_nothing_of_this_one(desk: Desk, server_database: Database) -> None:
    write_few_rows(server_database, AT + timedelta(hours=1))
    keep_heads(server_database, [desk.folder], desk.data, AT)
    assert "no head" in desk.breaks()[0]
    desk.keep()
    report = with_witness(verify(desk.database), desk.database, desk.folder, own=None)
    assert report.whole and report.notes[-1] == "witness: 1 heads are of another database"
    with pytest.raises(Refused, match="no heads are kept at"):
        with_witness(report, desk.database, desk.data, own=None)
