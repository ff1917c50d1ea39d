"""What people name as a file is told for what it is, read no further than it may hold, and written over no database."""

import os
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from fleetbench.records.core.database import as_url
from fleetbench.records.core.errors import Refused, Unreadable
from fleetbench.records.core.plain_file import plain_bytes, put_in_place, refuse_existing, save_pdf, written
from fleetbench.records.upkeep.backup import backup, restore
from fleetbench.records.upkeep.migrate import examine, open_database
from fleetbench.records.upkeep.verify import verify

PDF = b"%PDF-1.4\nan earlier page\n"
WRONG = (
    "postgresql:/bob:S3cretPw@h/db",
    "postgres//bob:S3cretPw@h/db",
    "postgresq://bob:S3cretPw@h/db",
    "mysql://bob:S3cretPw@h/db",
    "bob:S3cretPw@h/db",
    "postgresql://bob:S3cretPw@h:port/db",
    "postgresql://bob:S3cretPw@[::1/db",
    "host=h user=bob password=S3cretPw",
    "postgresql+other://bob:S3cretPw@h/db",
)


@pytest.mark.parametrize("address", WRONG)
def test_an_address_that_is_written_wrong_is_refused_and_its_password_not_repeated(
    address: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    for ask in (as_url, examine, open_database):
        with pytest.raises(Unreadable, match="not written as postgresql") as told:
            ask(address)
        assert "S3cretPw" not in str(told.value)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "name", ["fleet.db", "a b/fleet@workplace.db", "./x:y.db", "/tmp/a:b@c/x.db", "C:/fleet.db", "C:\\f@x.db"]
)
def test_a_file_with_an_odd_name_is_a_file(name: str) -> None:
    assert as_url(name).startswith("sqlite:///")


@pytest.mark.parametrize("name", ["fleet.sqlite", "page.pdf", "photograph.jpg", "due.csv", "due.ics"])
def test_a_page_is_never_written_over_a_file_of_another_kind(name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE kept (a)")
    before = path.read_bytes()
    for write in (lambda: save_pdf(PDF, path), lambda: refuse_existing(path, overwrite=False)):
        with pytest.raises(Refused, match="another kind of file"):
            write()
    assert path.read_bytes() == before
    assert [each.name for each in tmp_path.iterdir()] == [name]


def test_an_earlier_page_is_asked_about_and_a_link_stays_a_link(tmp_path: Path) -> None:
    path, link = tmp_path / "due.pdf", tmp_path / "link.pdf"
    save_pdf(PDF, path)
    link.symlink_to(path)
    with pytest.raises(Refused, match="--overwrite"):
        refuse_existing(path, overwrite=False)
    with written(refuse_existing(link, overwrite=True)) as stream:
        stream.write(PDF + b"again")
    assert link.is_symlink() and path.read_bytes() == PDF + b"again"


def test_a_pipe_a_device_and_a_folder_are_told_and_never_read(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for path, word in ((pipe, "pipe"), (Path("/dev/zero"), "device"), (tmp_path, "folder")):
        for ask in (
            examine,
            lambda path: restore(path, tmp_path / "x.db"),
            lambda path: plain_bytes(path, 9, "photograph"),
        ):
            with pytest.raises(Refused, match=f"is a {word}, not a plain file"):
                ask(path)
    large = tmp_path / "large"
    with large.open("wb") as file:
        file.truncate(1 << 40)
    with pytest.raises(Refused, match="is the most that is read"):
        plain_bytes(large, 1000, "photograph")


def test_a_database_whose_first_page_is_torn_may_be_replaced_by_its_backup(empty_file: Path, tmp_path: Path) -> None:
    path = tmp_path / "fleet.db"
    path.write_bytes(empty_file.read_bytes())
    with closing(open_database(path)) as database:
        saved = backup(database, tmp_path / "saved.db").path
    torn = b"\x00" * 4096 + path.read_bytes()[4096:]
    path.write_bytes(torn)
    with pytest.raises(Unreadable, match=r"the beginning of .* is torn; restore a backup"):
        examine(path)
    made = restore(saved, path)
    assert made.kept is not None and made.kept.read_bytes() == torn
    with closing(open_database(path)) as database:
        assert verify(database).whole


@pytest.mark.parametrize(("says", "really"), [("0003", "head"), ("head", "0003")])
def test_a_file_that_is_not_of_the_revision_it_states_is_told_in_a_sentence(
    says: str, really: str, empty_file: Path, tmp_path: Path
) -> None:
    path = tmp_path / "fleet.db"
    path.write_bytes(empty_file.read_bytes())
    with closing(sqlite3.connect(path)) as connection, connection:
        if really == "head":
            connection.execute("UPDATE alembic_version SET version_num = ?", (says,))
        else:
            connection.execute("ALTER TABLE unit RENAME COLUMN tag TO label")
    with (
        pytest.raises(Unreadable, match="not those of the revision it states; restore a backup"),
        closing(open_database(path)) as database,
        database.reading() as connection,
    ):
        connection.exec_driver_sql("SELECT tag FROM unit")


def test_a_finished_file_takes_the_place_of_nothing_not_even_of_a_link_that_leads_nowhere(tmp_path: Path) -> None:
    part, target = tmp_path / "part", tmp_path / "target"
    part.write_bytes(b"new")
    target.symlink_to(tmp_path / "unplugged")
    with pytest.raises(FileExistsError):
        put_in_place(part, target)
    assert target.is_symlink() and part.read_bytes() == b"new"
    target.unlink()
    put_in_place(part, target)
    assert target.read_bytes() == b"new" and not part.exists()
