"""Photographs are kept small, upright and bare beside the database, and follow it into page, evidence and backup."""

import hashlib
import io
import subprocess
import sys
from datetime import date
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from PIL import Image, ImageDraw

from fleetbench.paper.units.evidence import write_evidence
from fleetbench.printing import print_ticket
from fleetbench.records.bench.reads import read_tests
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.tickets.photographs import ENVIRONMENT, FOLDER, photograph_folder
from fleetbench.records.tickets.reads import read_photographs
from fleetbench.records.upkeep.backup import backup, restore
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.bench.tests import record_test
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.tickets.list import ticket_page
from fleetbench.workshop.tickets.photographs import (
    LONGEST_SIDE,
    MOST_BYTES_KEPT,
    add_photograph,
    encode,
    hold_photograph,
    photograph_bytes,
    photograph_record,
    photographs_beside,
)
from fleetbench.workshop.tickets.work import add_finding, open_ticket, sign_ticket
from fleetbench.workshop.units.holds import freeze_unit
from tests.centres.bench_centre import Keys, write_centre
from tests.centres.pins import give_pin

GPS_IFD, ORIENTATION, MAKE = 0x8825, 0x0112, 0x010F
"""Tags of Exif 2.32 (CIPA DC-008-2019): section 4.6.3 pointer to the GPS attributes; 4.6.4 orientation and maker."""


def camera_file(size: tuple[int, int] = (600, 400), kind: str = "JPEG", *, turned: bool = False) -> bytes:
    """A picture as a camera writes it, with the place in it."""
    image = Image.new("RGB", size, "white")
    ImageDraw.Draw(image).rectangle((0, 0, size[0] // 2, size[1] // 2), fill="black")
    exif = Image.Exif()
    exif[MAKE] = "invented camera"
    if turned:
        exif[ORIENTATION] = 6  # the camera was held upright: rotate by 90 degrees clockwise to view
    exif.get_ifd(GPS_IFD)[2] = (54.0, 12.0, 30.0)
    stream = io.BytesIO()
    image.save(stream, kind, exif=exif, comment=b"at the lake") if kind == "JPEG" else image.save(stream, kind)
    return stream.getvalue()


@pytest.fixture
def keys(sqlite_database: Database, clock: Any) -> Keys:
    """The small centre, written."""
    return write_centre(sqlite_database, clock())


@pytest.fixture
def bench(sqlite_database: Database, clock: Any, keys: Keys) -> Workplace:
    """The technician at the bench."""
    return Workplace(sqlite_database, clock, keys.technician)


@pytest.fixture
def ticket(bench: Workplace) -> int:
    """An open ticket."""
    return open_ticket(bench, "LK-01", cause="by hand", reason="Look", tasks=())


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    """A camera's file."""
    path = tmp_path / "IMG_1.JPG"
    path.write_bytes(camera_file())
    return path


def test_what_a_camera_writes_beside_the_picture_is_left_behind() -> None:
    raw = camera_file(turned=True)
    assert Image.open(io.BytesIO(raw)).getexif().get_ifd(GPS_IFD)[2] == (54.0, 12.0, 30.0)
    made = encode(raw)
    image = Image.open(io.BytesIO(made.data))
    assert not image.getexif() and "comment" not in image.info and b"invented camera" not in made.data
    assert (image.size, image.format) == ((400, 600), "JPEG"), "it stands upright"
    grey = image.convert("L")
    assert grey.getpixel((390, 10)) < 60 and grey.getpixel((10, 590)) > 200


@pytest.mark.parametrize("kind", ["PNG", "WEBP", "BMP", "TIFF"])
def test_other_kinds_of_picture_are_taken_too(kind: str) -> None:
    assert Image.open(io.BytesIO(encode(camera_file(kind=kind)).data)).format == "JPEG"


def test_a_large_or_noisy_picture_is_made_small_enough() -> None:
    noise = Image.effect_noise((2400, 1800), 120).convert("RGB")
    stream = io.BytesIO()
    noise.save(stream, "JPEG", quality=95)
    made = encode(stream.getvalue())
    assert max(made.wide, made.high) <= LONGEST_SIDE and len(made.data) <= MOST_BYTES_KEPT


@pytest.mark.parametrize(
    ("data", "said"),
    [(b"", "no picture"), (b"%PDF-1.7 not a picture", "no picture"), (camera_file()[:200], "no picture"),
     (b"x" * (40 * 1024 * 1024 + 1), "over 40 MB")],
    ids=["empty", "pdf", "torn", "huge"],
)  # fmt: skip
def test_what_is_no_picture_is_refused(data: bytes, said: str) -> None:
    with pytest.raises(Refused, match=said):
        encode(data)


def test_a_photograph_is_kept_once_beside_the_database_and_shown_with_its_ticket(
    bench: Workplace, ticket: int, picture: Path
) -> None:
    digest = add_photograph(bench, ticket, picture, " Nick in the sealing face ")
    (line,) = ticket_page(bench, "2026-001").photographs
    kept = photograph_folder(bench.database.path) / f"{digest}.jpg"
    assert (line.sha256, line.caption, line.person) == (digest, "Nick in the sealing face", "Tamsin Orrel")
    assert hashlib.sha256(kept.read_bytes()).hexdigest() == digest and kept.stat().st_mode & 0o077 == 0
    assert photograph_bytes(bench, digest) == kept.read_bytes()
    with pytest.raises(Refused, match="kept under the ticket already"):
        add_photograph(bench, ticket, picture)
    with pytest.raises(Refused, match=r"^photograph: none.jpg cannot be read"):
        add_photograph(bench, ticket, picture.with_name("none.jpg"))
    with pytest.raises(Refused, match=r"^person: nobody is signed in"):
        add_photograph(bench.as_person(None), ticket, picture)
    assert verify(bench.database).whole


def test_a_picture_that_was_changed_or_dropped_is_found_by_verify(bench: Workplace, ticket: int, picture: Path) -> None:
    digest = add_photograph(bench, ticket, picture)
    kept = photograph_folder(bench.database.path) / f"{digest}.jpg"
    whole = kept.read_bytes()
    kept.write_bytes(whole[:-1] + b"x")
    assert verify(bench.database).first_break == "photograph row 1: its file was changed"
    with pytest.raises(Refused, match="its file was changed; restore it from a backup"):
        photograph_bytes(bench, digest)
    kept.unlink()
    assert verify(bench.database).first_break == "photograph row 1: its file is missing"


def test_photographs_are_on_the_page_and_in_the_evidence_folder(
    bench: Workplace, ticket: int, picture: Path, tmp_path: Path
) -> None:
    digest = add_photograph(bench, ticket, picture, "Nick")
    print_ticket(bench, ticket_page(bench, "2026-001"), tmp_path / "ticket.pdf")
    document = pypdfium2.PdfDocument(tmp_path / "ticket.pdf")
    said = "".join(page.get_textpage().get_text_bounded() for page in document)
    images = [each for page in document for each in page.get_objects() if each.type == 3]
    document.close()
    assert len(images) == 1 and "Nick" in said and f"SHA-256 {digest[:16]}" in said
    files = write_evidence(bench, "LK-01", date(2026, 5, 4), date(2026, 5, 4), tmp_path / "evidence")
    (copied,) = [path for path in files if path.suffix == ".jpg"]
    assert copied.name == f"photograph-2026-001-01-{digest[:12]}.jpg"
    assert f"{digest}  {copied.name}" in (tmp_path / "evidence" / "manifest.txt").read_text()


def test_a_backup_takes_the_photographs_along_and_restores_them(
    bench: Workplace, ticket: int, picture: Path, tmp_path: Path
) -> None:
    digest = add_photograph(bench, ticket, picture)
    stick, other = tmp_path / "stick", tmp_path / "other"
    stick.mkdir()
    other.mkdir()
    backup(bench.database, stick / "copy.db")
    restore(stick / "copy.db", other / "fleet.db")
    database = open_database(other / "fleet.db")
    assert verify(database).whole and photograph_bytes(Workplace(database), digest)
    database.close()


def test_a_restore_takes_no_link_and_nothing_but_pictures_from_a_backups_folder(
    bench: Workplace, ticket: int, picture: Path, tmp_path: Path
) -> None:
    add_photograph(bench, ticket, picture)
    stick, other = tmp_path / "stick", tmp_path / "other"
    stick.mkdir()
    other.mkdir()
    backup(bench.database, stick / "copy.db")
    (kept,) = (stick / FOLDER).glob("*.jpg")
    secret = tmp_path / "secret"
    secret.write_bytes(b"root:x:0:0")
    name = hashlib.sha256(secret.read_bytes()).hexdigest()
    (stick / FOLDER / f"{name}.pdf").write_bytes(secret.read_bytes())
    (stick / FOLDER / f"{name}.jpg").symlink_to(secret)
    restore(stick / "copy.db", other / "fleet.db")
    assert [path.name for path in (other / FOLDER).iterdir()] == [kept.name]


def test_a_frozen_units_ticket_still_takes_photographs_and_a_signed_one_does_not(
    bench: Workplace, keys: Keys, ticket: int, picture: Path
) -> None:
    freeze_unit(bench, "LK-01", "Diver felt unwell")
    add_photograph(bench, ticket, picture)
    other = open_ticket(bench, "LK-02", cause="by hand", reason="Look", tasks=())
    give_pin(bench, keys.technician, "4711")
    add_finding(bench, other, "Nothing found")
    sign_ticket(bench, other, signer_id=keys.technician, pin="4711")
    with pytest.raises(Refused, match="signed and closed"):
        add_photograph(bench, other, picture)


def test_a_server_needs_a_folder_that_every_desk_reaches(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    with pytest.raises(Refused, match=f"set {ENVIRONMENT} to a folder that every desk reaches"):
        photograph_folder(None)
    monkeypatch.setenv(ENVIRONMENT, str(tmp_path))
    assert photograph_folder(None) == tmp_path


def test_a_picture_is_refused_by_its_header_and_the_largest_allowed_one_fits_in_little_memory(tmp_path: Path) -> None:
    """Measured in a process of its own, whose peak the operating system tells (VmHWM of proc(5), Linux man-pages)."""
    code = (
        "import sys; from pathlib import Path; from fleetbench.records.core.errors import Refused\n"
        "from fleetbench.workshop.tickets.photographs import encode\n"
        "try: made = encode(Path(sys.argv[1]).read_bytes()); print(made.wide, made.high)\n"
        "except Refused as why: print(why)\n"
        "print(int(Path('/proc/self/status').read_text().split('VmHWM:')[1].split()[0]) // 1024)"
    )
    for size, said in (
        ((7000, 7000), "1600 1600"),
        ((8900, 8900), "over 50 million pixels"),
        ((1, 49_000_000), "over 30,000 pixels"),
    ):
        Image.new("RGB", size).save(tmp_path / "large.png")
        command = [sys.executable, "-c", code, str(tmp_path / "large.png")]
        ran = subprocess.run(command, capture_output=True, text=True, check=True)
        assert said in ran.stdout, ran.stdout
        assert int(ran.stdout.split()[-1]) < 450, f"{size}: MB at the peak"


def test_a_photograph_stands_beside_what_was_typed_on_the_unit_the_ticket_and_in_the_evidence(
    bench: Workplace, ticket: int, picture: Path, tmp_path: Path, clock: Any
) -> None:
    made = record_test(bench, "LK-01", "loop negative", held=True, watched_minutes=3, ticket_id=ticket)
    digest = photograph_record(bench, "bench test", made.test_id, picture)
    with pytest.raises(Refused, match="kept under the bench test already"):
        photograph_record(bench, "bench test", made.test_id, picture.read_bytes())
    with pytest.raises(NotFound):
        photograph_record(bench, "calibration", 7, picture)
    with pytest.raises(Refused, match=r"^person: nobody is signed in"):
        photograph_record(bench.as_person(None), "bench test", made.test_id, picture)
    (line,) = ticket_page(bench, "2026-001").photographs
    assert (line.sha256, line.caption, line.ticket_id) == (digest, "Loop negative of LK-01", None)
    folder = tmp_path / "evidence"
    files = {path.name for path in write_evidence(bench, "LK-01", clock().date(), clock().date(), folder)}
    (name,) = (each for each in files if each.startswith("photograph-"))
    assert name.startswith(f"photograph-bench-test-{made.test_id}-")
    assert hashlib.sha256((folder / name).read_bytes()).hexdigest() == digest
    with pypdfium2.PdfDocument(folder / "evidence.pdf") as pdf:
        text = " ".join(page.get_textpage().get_text_bounded() for page in pdf)
    assert "Loop negative of LK-01" in text and "1 photograph" in text
    assert verify(bench.database).whole


def test_a_held_photograph_is_recorded_with_the_figures_or_not_at_all_and_goes_over_to_what_corrects_them(
    bench: Workplace, ticket: int, picture: Path, clock: Any
) -> None:
    folder = photograph_folder(bench.database.path)
    digest = hold_photograph(bench, picture)
    with Image.open(folder / f"{digest}.jpg") as image:
        assert not image.getexif() and "comment" not in image.info, "bare before it is recorded"
    other = hold_photograph(bench, camera_file((300, 200)))
    (folder / f"{other}.jpg").rename(folder / "aside")
    with pytest.raises(Refused, match="remove it from the page"):
        record_test(bench, "LK-01", "loop negative", held=True, watched_minutes=3, photographs=(digest, other))
    with bench.database.reading() as connection:
        assert read_tests(connection, unit_id=None) == () and read_photographs(connection) == (), "neither, nor half"
    made = record_test(bench, "LK-01", "loop negative", held=True, watched_minutes=3, ticket_id=ticket,
                       photographs=(digest, digest))  # fmt: skip
    ((kept, data),) = photographs_beside(bench, tag="LK-01")
    assert (kept.sha256, kept.bench_test_id, kept.caption) == (digest, made.test_id, "Loop negative of LK-01")
    assert data is not None and hashlib.sha256(data).hexdigest() == digest
    clock.advance(seconds=60)
    again = record_test(bench, "LK-01", "loop negative", held=False, watched_minutes=3, ticket_id=ticket,
                        supersedes=made.test_id)  # fmt: skip
    ((kept, _data),) = photographs_beside(bench, tag="LK-01")
    assert kept.bench_test_id == again.test_id, "the corrected test keeps its photograph"
    (line,) = ticket_page(bench, "2026-001").photographs
    assert line.sha256 == digest
    (folder / f"{digest}.jpg").write_bytes(b"changed")
    assert [each[1] for each in photographs_beside(bench, tag="LK-01")] == [None]
    (folder / f"{digest}.jpg").write_bytes(data)
    assert verify(bench.database).whole
