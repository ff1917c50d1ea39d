"""What can be erased is bound all the same: a changed, exchanged, planted or deleted row is found, an erasure is told.

The digest is made again here with Python's own hashlib, over the text that the journal's module describes.
"""

import gzip
import hashlib
import json
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select, text

from fleetbench.records.core.database import Database
from fleetbench.records.core.journal import Journal, bound_columns
from fleetbench.records.hires.tables import BookingUnit, HireNote, SheetSignature, SignatureDrawing
from fleetbench.records.people.tables import PersonPrivate, digest_of
from fleetbench.records.upkeep.backup import backup
from fleetbench.records.upkeep.migrate import open_database, opened_to_read
from fleetbench.records.upkeep.tables import metadata
from fleetbench.records.upkeep.verify import BOUND_FROM_HERE, OLDER, verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.people.acts import change_contact, change_pin, erase_person
from tests.centres.pins import give_pin
from tests.records.few_rows import write_few_rows
from tests.workshop.people.test_erasing import Desk

SCHEMAS = Path(__file__).parents[1] / "schemas"


@pytest.fixture
def desk(database: Database, clock: Any) -> Desk:
    """A centre with a renter, a note, a PIN and a drawn signature, on either database."""
    made = Desk(Workplace(database, clock), clock)
    give_pin(made.workplace, made.renter, "4711")
    with made.system.transaction("write", "signature") as act:
        line = act.session.scalars(select(BookingUnit.id)).first()
        signed = act.add(SheetSignature(booking_unit_id=line, party="diver", how="drawn", at=act.at,
                                        person_id=made.renter, digest=digest_of("1,1 9,9")))  # fmt: skip
        act.add(SignatureDrawing(sheet_signature_id=signed.id, strokes="1,1 9,9"))
        act.add(HireNote(booking_unit_id=line, at=act.at, text="asked for a long hose"))
    return made


def breaks_after(desk: Desk, *statements: str) -> tuple[str, ...]:
    with desk.workplace.database.engine.begin() as connection:
        for statement in statements:
            connection.execute(text(statement))
    return verify(desk.workplace.database).breaks


def test_what_is_bound_can_be_calculated_again_from_row_and_salt(desk: Desk) -> None:
    change_contact(desk.workplace, desk.renter, "Mirko Lindqvara-Öst", "")
    with desk.workplace.database.reading() as connection:
        content = connection.scalar(select(Journal.content).order_by(Journal.id.desc()).limit(1))
        row = connection.execute(select(PersonPrivate.__table__).where(PersonPrivate.person_id == desk.renter)).one()
    said = ["person_private", dict(row._mapping)]
    digest = hashlib.sha256(json.dumps(said, sort_keys=True, separators=(",", ":")).encode()).hexdigest()
    assert json.loads(str(content))["bound"] == [["person_private", row.id, digest]]
    assert len(row.salt) == 32
    assert "Lindqvara" not in str(content) and row.salt not in str(content)


def test_names_that_were_swapped_and_what_was_rewritten_planted_or_deleted_is_named(desk: Desk) -> None:
    assert verify(desk.workplace.database).breaks == ()
    swapped = "CASE name WHEN 'Tamsin Orrel' THEN 'Jarek Vinthe' WHEN 'Jarek Vinthe' THEN 'Tamsin Orrel' ELSE name END"
    found = breaks_after(
        desk,
        f"UPDATE person_private SET name = {swapped}",
        "UPDATE hire_note SET text = 'gave the unit back dry' WHERE id = 1",
        "DELETE FROM hire_note WHERE id = 2",
        "INSERT INTO hire_note (id, salt, booking_unit_id, at, text)"
        " SELECT 7, salt, booking_unit_id, at, text FROM hire_note WHERE id = 1",
        "UPDATE signature_drawing SET strokes = '1,1 8,8'",
        "UPDATE person_pin SET salt = '00'",
    )
    changed = "is not what entry 1 binds; it was changed or exchanged"
    for each in (
        f"person_private row 1: {changed}",
        f"person_private row 2: {changed}",
        "hire_note row 7: no journal entry binds it; it was planted",
    ):
        assert each in found, found
    assert [each.split(":")[0] for each in found if "not what" in each] == [
        "person_pin row 1", "person_private row 1", "person_private row 2", "hire_note row 1",
        "signature_drawing row 1",
    ]  # fmt: skip
    assert any(each.startswith("hire_note row 2: entry ") and "gone without an erasure" in each for each in found)
    assert not any("Orrel" in each or "dry" in each for each in found)


def test_a_pin_that_was_changed_and_a_wrong_one_break_nothing(desk: Desk) -> None:
    change_pin(desk.workplace, desk.renter, "4711", "0815")
    found = breaks_after(desk, "UPDATE person_pin SET tries = 3")
    assert found == ()
    assert verify(desk.workplace.database).notes == ()


def test_an_erasure_leaves_a_gap_that_says_who_and_when_and_whoever_comes_back_is_named(desk: Desk) -> None:
    database = desk.workplace.database
    with database.reading() as connection:
        row = dict(connection.execute(select(PersonPrivate.__table__).filter_by(person_id=desk.renter)).one()._mapping)
    erase_person(desk.workplace, desk.renter)
    report = verify(database)
    with database.reading() as connection:
        number = connection.scalar(select(Journal.id).where(Journal.act == "erase person"))
    gap = f"entry {number} (person {desk.renter}): erased on 2026-05-04 by person row {desk.keys.manager}: "
    assert report.breaks == ()
    assert report.notes == (gap + "2 of hire_note, 1 of person_pin, 1 of person_private, 1 of signature_drawing",)
    with database.engine.begin() as connection:
        connection.execute(PersonPrivate.__table__.insert().values(row))
    assert verify(database).breaks == (
        f"person_private row {row['id']}: entry {number} erased it, and it stands there again",
    )


def test_names_of_an_older_file_are_bound_by_the_upgrade_and_a_copy_that_is_looked_at_keeps_its_head(
    tmp_path: Path,
) -> None:
    path = tmp_path / "kept.db"
    path.write_bytes(gzip.decompress((SCHEMAS / "0019.db.gz").read_bytes()))
    was = path.read_bytes()
    with opened_to_read(path) as copy:
        report = verify(copy)
    assert (report.breaks, report.notes, report.head_number) == ((), (OLDER,), 15)
    assert path.read_bytes() == was
    with closing(open_database(path)) as database:
        upgraded = verify(database)
        assert (upgraded.breaks, upgraded.notes) == ((), (f"entry 16: {BOUND_FROM_HERE}",))
        assert verify(database, f"15:{report.head_hash}").whole
        with database.engine.begin() as connection:
            connection.execute(text("UPDATE person_private SET name = 'Ada'"))
        (said,) = verify(database).breaks
        assert said == "person_private row 1: is not what entry 16 binds; it was changed or exchanged"


def test_what_is_bound_of_each_table_stays_as_it_was_when_rows_were_bound() -> None:
    """A digest binds these columns: a migration that changes them binds the rows again, in an entry of its own."""
    found = {table.name: bound_columns(table) for table in metadata.sorted_tables if table.info.get("erasable")}
    assert found == {
        "hire_note": ("id", "salt", "booking_unit_id", "at", "text"),
        "person_pin": ("id", "salt", "person_id", "pin_hash"),
        "person_private": ("id", "salt", "person_id", "name", "contact", "note"),
        "signature_drawing": ("id", "salt", "sheet_signature_id", "strokes"),
        "signed_page": ("id", "salt", "sheet_signature_id", "sha256", "size", "state"),
    }


def test_a_write_protected_copy_is_verified_without_a_byte_or_a_file_beside_it(
    sqlite_database: Database, tmp_path: Path
) -> None:
    write_few_rows(sqlite_database)
    (tmp_path / "evidence").mkdir()
    path = backup(sqlite_database, tmp_path / "evidence" / "copy.sqlite").path
    path.chmod(0o444)
    was = path.read_bytes()
    with opened_to_read(path) as copy:
        report = verify(copy)
    assert (report.breaks, report.entries) == ((), 15)
    assert path.read_bytes() == was and list(path.parent.iterdir()) == [path]
