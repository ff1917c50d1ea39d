"""Erased means erased: no byte of a person is left in a file of the data folder, and what still holds them is told.

SQLite may be built so that it leaves deleted rows in free pages: here every connection begins like that.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select, text

from fleetbench.records.core.database import Database
from fleetbench.records.hires.tables import Booking, BookingUnit, HireNote, SheetSignature, SignatureDrawing
from fleetbench.records.people.tables import PersonPin, digest_of
from fleetbench.records.upkeep.backup import backup
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.drafts import Drafts
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.people.acts import change_contact, enter_person, erase_person
from tests.centres.bench_centre import write_centre
from tests.centres.pins import give_pin
from tests.conftest import Clock

NAME, CONTACT, WORDS, STROKES = (
    "Zelda Quinesson",
    "zelda@mail.invalid, +49 555 0192837",
    "was seasick",
    "77,7 88,8 91,91",
)


@pytest.fixture
def careless_sqlite(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every connection to SQLite begins with deleted rows left as they are, as some builds have it."""
    connect = sqlite3.connect

    def careless(*args: Any, **more: Any) -> sqlite3.Connection:
        connection = connect(*args, **more)
        connection.execute("PRAGMA secure_delete = OFF")
        return connection

    for module in (sqlite3, sqlite3.dbapi2):
        monkeypatch.setattr(module, "connect", careless)


class Desk:
    """A centre with a renter of whom everything is kept that can be."""

    def __init__(self, database: Database, clock: Clock) -> None:
        keys = write_centre(database, clock())
        self.database, self.workplace = database, Workplace(database, clock, keys.manager)
        self.renter = enter_person(self.workplace, "R-7", "renter", NAME, CONTACT)
        with Workplace(database, clock).transaction("write", "hire") as act:
            booking = act.add(
                Booking(
                    kind="hire",
                    code="H-1",
                    unit_type_id=keys.unit_type,
                    units_wanted=1,
                    starts_on=date(2026, 4, 1),
                    ends_on=date(2026, 4, 3),
                    renter_id=self.renter,
                )
            )
            line = act.add(
                BookingUnit(
                    booking_id=booking.id,
                    unit_id=keys.units[0],
                    diver_id=self.renter,
                    out_at=act.at,
                    received_at=act.at,
                )
            )
            act.add(HireNote(booking_unit_id=line.id, at=act.at, text=WORDS))
            signed = act.add(
                SheetSignature(
                    booking_unit_id=line.id,
                    party="diver",
                    how="drawn",
                    at=act.at,
                    person_id=self.renter,
                    digest=digest_of(STROKES),
                )
            )
            act.add(SignatureDrawing(sheet_signature_id=signed.id, strokes=STROKES))  # fmt: skip
        give_pin(self.workplace, self.renter, "4711")
        with database.read_session() as session:
            pin = session.scalars(select(PersonPin.pin_hash).where(PersonPin.person_id == self.renter)).one()
        self.secrets = (NAME, "zelda@", "0192837", WORDS, STROKES, pin.rsplit("$", 1)[1])


def held_in(folder: Path, secrets: tuple[str, ...]) -> dict[str, list[str]]:
    """Which of the secrets stand in which file, byte for byte."""
    files = [path for path in folder.rglob("*") if path.is_file()]
    found = {path.name: [each for each in secrets if each.encode() in path.read_bytes()] for path in files}
    return {name: kept for name, kept in found.items() if kept}


@pytest.fixture
def desk(careless_sqlite: None, empty_file: Path, tmp_path: Path, clock: Clock) -> Iterator[Desk]:
    """The desk on a file in a data folder of its own."""
    (tmp_path / "data").mkdir()
    path = tmp_path / "data" / "fleet.db"
    path.write_bytes(empty_file.read_bytes())
    database = open_database(path)
    yield Desk(database, clock)
    database.close()


def test_no_byte_of_an_erased_person_is_left_in_any_file_of_the_data_folder(desk: Desk, tmp_path: Path) -> None:
    data = tmp_path / "data"
    with closing(sqlite3.connect(data / "fleet.db", isolation_level=None)) as careless:
        # What an earlier program without secure_delete left in free pages.
        careless.execute("CREATE TABLE old AS SELECT name || ' Sr ' || name AS n FROM person_private, journal, part")
        careless.execute("DROP TABLE old")
        careless.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    Drafts(data / "to-finish").save(
        "bookings", {"cells": [["B-7", NAME.upper(), "zelda@mail.invalid"]]}, desk.workplace.clock()
    )
    (data / "faults.log").write_text(f"refused: {NAME}\n")
    assert {"fleet.db", "faults.log"} <= held_in(data, desk.secrets).keys()
    told = erase_person(desk.workplace, desk.renter)
    assert held_in(data, desk.secrets) == {}
    (said,) = told
    assert said.startswith("Printed pages, exported files and backups kept elsewhere may hold the name")
    (left,) = Drafts(data / "to-finish").listed()
    assert left.content == {"cells": [["B-7", "R-7", "R-7"]]}
    assert verify(desk.database).breaks == ()
    desk.database.close()
    assert held_in(data, desk.secrets) == {}


def test_what_still_holds_the_person_is_told_by_name_and_what_does_not_is_left_out(desk: Desk, tmp_path: Path) -> None:
    data, stick = tmp_path / "data", tmp_path / "stick"
    stick.mkdir()
    backup(desk.database, stick / "before.sqlite")
    backup(desk.database, data / "fleet.db.20260101T000000Z.replaced")
    (data / "list.csv").write_text(f"code,name\nR-7,{NAME.lower()}\n")
    (data / "other.csv").write_text("code,name\nR-8,Ada\n")
    change_contact(desk.workplace, desk.renter, NAME, "")
    told = erase_person(desk.workplace, desk.renter, (stick, tmp_path / "gone"))
    backup(desk.database, stick / "after.sqlite")
    names = [data / "fleet.db.20260101T000000Z.replaced", data / "list.csv", stick / "before.sqlite"]
    assert (
        told[0]
        == f"These still hold the person: {', '.join(map(str, names))}; delete them once nothing else needs them."
    )
    assert held_in(stick, desk.secrets).keys() == {"before.sqlite"}


def test_another_desk_that_reads_meanwhile_is_told(desk: Desk) -> None:
    with desk.database.reading() as connection:
        connection.execute(text("SELECT count(*) FROM journal"))
        told = erase_person(desk.workplace, desk.renter)
    assert told[0].startswith("What was erased may stand in the records' log until every desk is closed once")


def test_a_server_is_compacted_and_told_what_it_may_still_hold(server_database: Database, clock: Clock) -> None:
    desk = Desk(server_database, clock)
    with server_database.engine.begin() as connection:
        connection.execute(text("CREATE SCHEMA fleetbench_0018_x"))
        connection.execute(text("CREATE TABLE fleetbench_0018_x.person_private AS TABLE person_private"))
    told = erase_person(desk.workplace, desk.renter)
    with server_database.engine.begin() as connection:
        connection.execute(text("DROP SCHEMA fleetbench_0018_x CASCADE"))
    assert told[0] == "Copies of older tables on the server still hold the person: schemas fleetbench_0018_x."
    assert "ask who runs the server" in told[1]
    assert verify(server_database).breaks == ()
