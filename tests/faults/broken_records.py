"""Broken sheets, exports and texts that are brought into records, of either database: taken in whole, or not at all."""

import hashlib
import json
import random
import struct
import zlib
from collections.abc import Callable
from contextlib import AbstractContextManager, closing
from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.upkeep.records_folder import MANIFEST, TABLES, export_records, import_records
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.bench.tests import record_test
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.import_folder import import_folder
from fleetbench.workshop.parts.stock import add_owner, add_place
from fleetbench.workshop.people.acts import enter_person
from fleetbench.workshop.places.amend import correct
from fleetbench.workshop.tickets.page import add_minutes
from fleetbench.workshop.tickets.work import add_finding, open_ticket
from fleetbench.workshop.units.holds import place_hold
from tests.faults.places import Places, keys_of, moment, rows_in, wall

Files = dict[str, bytes]
Read = Callable[[Path], object]
"""Reads a broken file; Refused where it cannot be read."""
EVERY = 50
"""After so many texts the journal is held against every row."""


def sheets(places: Places) -> Files:
    """A sound folder of a centre's own files."""
    return {path.name: path.read_bytes() for path in sorted(places.sheets.glob("*.csv"))}


def export(places: Places) -> Files:
    """A sound export of the small centre."""
    folder = places.room() / "out"
    with closing(Database(places.whole)) as database:
        export_records(database, folder, desk=folder.parent, at=moment(60))
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


TEXTS: Files = {"text.txt": "Ångström’s note: the sealing face is nicked\nand =SUM(A1) <b>stays</b>".encode()}


def resigned(folder: Path) -> None:
    """Make a manifest that fits whatever the files hold now, signed with another key, as a forger would."""
    said = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
    for name, told in said["tables"].items():
        data = (folder / TABLES / f"{name}.jsonl").read_bytes()
        told.update(bytes=len(data), sha256=hashlib.sha256(data).hexdigest(), rows=data.count(b"\n"))
    key = Ed25519PrivateKey.generate()
    said.pop("signature")
    said["key"] = key.public_key().public_bytes_raw().hex()
    text = json.dumps(said, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    said["signature"] = key.sign(b"records of a centre\n" + text.encode()).hex()
    (folder / MANIFEST).write_text(json.dumps(said), encoding="utf-8")


class Empty:
    """An empty database, the same one until something was taken in: whatever is refused leaves it as it was."""

    def __init__(self, places: Places, kind: str) -> None:
        self._make = lambda: places.database(kind, filled=False)
        self._kept: AbstractContextManager[str | Path] | None = None
        self._where: str | Path = ""

    def __enter__(self) -> str:
        if self._kept is None:
            self._kept = self._make()
            self._where = self._kept.__enter__()
        return str(self._where)

    def __exit__(self, *fault: object) -> None:
        with closing(Database(self._where)) as database:
            holds = rows_in(database) > 0
        if holds and self._kept is not None:
            self._kept.__exit__(None, None, None)
            self._kept = None


def brought_in(places: Places, kind: str) -> Read:
    """Brings the folder of the broken sheet into an empty database."""
    empty = Empty(places, kind)

    def read(path: Path) -> None:
        with empty as where, closing(Database(where)) as database:
            try:
                written = import_folder(Workplace(database, wall), path.parent).written
            except Refused:
                assert not rows_in(database), "a part of a folder that was refused"
                raise
            _whole_or_nothing(database, bool(written))

    return read


def carried_in(places: Places, kind: str) -> Read:
    """Brings the broken export into an empty database; every other one is signed again, so that it seems sound."""
    empty = Empty(places, kind)

    def read(path: Path) -> None:
        folder = path.parent if path.name == MANIFEST else path.parent.parent
        if path.name != MANIFEST and zlib.crc32(path.read_bytes()) % 2:
            resigned(folder)
        with empty as where:
            taken = False
            try:
                import_records(folder, where, clock=lambda: moment(90))
                taken = True
            finally:
                with closing(Database(where)) as database:
                    _whole_or_nothing(database, taken)

    return read


def _whole_or_nothing(database: Database, taken: bool) -> None:
    if not taken:
        assert not rows_in(database), "a part of what was refused"
    else:
        said = verify(database).first_break
        assert said is None, f"taken in, and then: {said}"


Act = Callable[[Workplace, str, Any], object]
ACTS: tuple[Act, ...] = (
    lambda here, said, _keys: add_finding(here, _ticket(here, said), said),
    lambda here, said, _keys: enter_person(here, f"P{zlib.crc32(said.encode(errors='replace'))}", "renter", said, said),
    lambda here, said, _keys: enter_person(here, said, "renter", "Somebody"),
    lambda here, said, _keys: place_hold(here, "LK-02", said),
    lambda here, said, _keys: add_place(here, said, "shelf"),
    lambda here, said, _keys: add_owner(here, said, "loan"),
    lambda here, said, _keys: correct(here, "centre", 1, {"name": said, "address": said}, said),
    lambda here, said, _keys: correct(here, "centre", 1, {"usual_water_c": _figure(said)}, "Measured again"),
    lambda here, said, _keys: open_ticket(here, said, cause="by hand", reason="Look"),
    lambda here, said, keys: add_minutes(here, keys, _whole(said)),
    lambda here, said, _keys: record_test(here, "LK-01", "loop negative", held=True, watched_minutes=_figure(said)),
    lambda here, said, _keys: record_test(here, said, said, held=False, watched_minutes=3),
)
"""Acts that are given a text, or the figure that its first bytes are."""


def _ticket(here: Workplace, said: str) -> int:
    return int(open_ticket(here, "LK-02", cause="by hand", reason=said, tasks=(said,)))


def _figure(said: str) -> float:
    return float(struct.unpack("<d", said.encode(errors="replace")[:8].ljust(8, b"\xff"))[0])


def _whole(said: str) -> int:
    return int.from_bytes(said.encode(errors="replace")[:9], "little", signed=True)


def typed(places: Places, kind: str) -> Read:
    """Gives the text to an act of a filled database, and now and then looks whether every row is what was recorded."""
    kept = places.database(kind)
    database = Database(kept.__enter__())  # for as long as this process
    people = keys_of(database)
    desks = [Workplace(database, wall).as_person(people[code]) for code in ("T1", "M1")]
    ticket, count = open_ticket(desks[0], "LK-01", cause="by hand", reason="Look it over"), 0

    def read(path: Path) -> None:
        nonlocal count
        data, count = path.read_bytes(), count + 1
        said, before = data.decode("utf-8", "surrogateescape"), rows_in(database)
        try:
            random.Random(data).choice(ACTS)(desks[count % 2], said, ticket)
        except Refused:
            assert rows_in(database) == before, "a part of an act that was refused"
            raise
        finally:
            if count % EVERY == 0:
                found = verify(database).first_break
                assert found is None, f"after {EVERY} texts: {found}"

    return read
