"""Texts that would steer, run or forge, in every text of a centre, through everything that leaves the program.

Terminals are steered by the control characters of ECMA-48 (5.2 and 5.3, C0 and C1); spreadsheets run what begins with
the signs of OWASP ASVS 4.0.3, 5.3.10 and CWE-1236; a PDF opens what an action of ISO 32000-1, 12.6 names; calendars
fold or escape line ends by RFC 5545, 3.1 and 3.3.11; reserved names of devices are those of Windows file names.
"""

import csv
import io
import json
import re
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import icalendar
import numpy as np
import openpyxl
import pikepdf
import pytest
from sqlalchemy import String, Table

from fleetbench.paper.core.marks import qr_runs
from fleetbench.records.core.database import Database
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.tables import metadata
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.import_folder import import_folder
from tests.cli.conftest import Run
from tests.conftest import SAMPLE_NOW
from tests.faults.stranger import REFUSED, Stranger
from tests.paper.qr_reader import read
from tests.workshop.small_folder import small_rows, write_folder

FORGED = "FORGED LINE: no break found"
HOSTILE = (
    "<b>bold</b><img src='file:///etc/hostname'/>", "<para><font size=80>x</font></para>&amp;<a href='http://x.invalid'>",
    "=cmd|' /C calc'!A0", "+1+1", "-1+1", "@SUM(A1)", "\t=1+1", "\r=1+1", "\x1b]0;owned\x07\x1b[31m", "\x9b31m",
    "\u202eexe.fdp\u202c", f"line\n{FORGED}", "zero\x00byte", "../../../outside", "..\\..\\outside", "CON", "{0} %s %n",
    "x" * 300, "END:VEVENT\r\nBEGIN:VALARM", "\u2028sep\u2029",
)  # fmt: skip
KEPT = ("hash", "sha256", "salt", "digest", "previous", "content", "language", "timezone", "currency", "version_num")
"""Columns that hold no words of anybody's, or words of our own."""
CONTROLS = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\u2028\u2029]")
OPENS = ("/Launch", "/URI", "/JavaScript", "/GoToR", "/SubmitForm", "/ImportData", "/GoToE", "/Rendition")


def texts_of(table: Table) -> list[str]:
    """Columns in which a user's words stand: no key, no word of ours."""
    return [
        each.name
        for each in table.columns
        if isinstance(each.type, String) and not any(word in each.name for word in KEPT)
    ]


def written_in(path: Path) -> set[str]:
    """Every text of the file replaced by a hostile one, where the file itself would have it; the columns that were."""
    done = set[str]()
    with closing(Stranger(str(path))) as stranger:
        # Words of ours are held by checks, which stand here: only what anybody may write is replaced.
        stranger.does("PRAGMA ignore_check_constraints = OFF")
        stranger.does("UPDATE hold SET kind = 'incident', lifted_at = NULL")
        for table in metadata.sorted_tables:
            if table.name == "journal":
                continue
            for place, column in enumerate(texts_of(table)):
                for key in stranger.keys(table.name):
                    said = HOSTILE[(key + place) % len(HOSTILE)]
                    unique = f"{said}{key}" if column in ("tag", "code", "number", "serial", "name", "ref") else said
                    try:
                        stranger.does(
                            f'UPDATE "{table.name}" SET "{column}" = ? WHERE id = ? AND "{column}" IS NOT NULL',
                            unique, key,
                        )  # fmt: skip
                        done.add(f"{table.name}.{column}")
                    except REFUSED:
                        break
    return done


@pytest.fixture
def hostile(tmp_path: Path) -> Path:
    """A small centre, every text of which is hostile."""
    path = tmp_path / "hostile.db"
    with closing(open_database(path)) as database:
        report = import_folder(Workplace(database, lambda: SAMPLE_NOW), write_folder(tmp_path / "sheets", small_rows()))
        assert report.written
    done = written_in(path)
    assert len(done) > 60 and {"unit.tag", "finding.text", "person_private.name"} <= done
    return path


def values(path: Path, query: str) -> list[Any]:
    with closing(Database(path)) as database, database.reading() as connection:
        return [tuple(row) for row in connection.exec_driver_sql(query)]


def commands(path: Path, out: Path) -> Iterator[list[object]]:
    """Every command that tells or writes anything of the records."""
    tags, tickets = (
        [tag for (tag,) in values(path, "SELECT tag FROM unit")],
        [f"{year}-{number:03d}" for year, number in values(path, "SELECT year, number FROM ticket")],
    )
    days = ["--from", "2026-06-16", "--to", "2026-06-20"]
    for ending in ("csv", "xlsx", "ics", "pdf"):
        yield ["due", "--out", out / f"due.{ending}"]
    for form in ("text", "json"):
        yield ["due", "--format", form]
        yield ["verify", "--format", form]
        yield ["import", path.parent / "sheets", "--dry-run", "--format", form]
        yield from (["ready", tag, *days, "--format", form] for tag in tags)
    yield from (["ticket", each, "--format", "json"] for each in tickets)
    yield from (["ticket", each] for each in tickets)
    yield from (["handover", tag] for tag in tags)
    yield from (["incident", tag] for tag in tags)
    past = ["--from", "2026-01-01", "--to", "2026-06-15"]
    yield from (["evidence", tag, *past, out / f"evidence{place}"] for place, tag in enumerate(tags))
    yield ["export", out / "sheets"]
    yield ["export", out / "records", "--records"]
    yield ["backup", out / "copy.sqlite"]
    yield ["clock"]
    yield ["verify", "--rebuild"]


WORK = {"due", "ready", "ticket", "handover", "incident", "evidence", "export", "backup", "clock"}
"""Commands that must have something to say of such records; `verify` and `import` tell what is wrong with them."""


def test_no_hostile_text_of_any_record_steers_runs_or_forges_anything_that_leaves(
    hostile: Path, run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    out.mkdir()
    monkeypatch.chdir(out)
    before = {path for path in tmp_path.parent.rglob("*") if out not in path.parents}
    wrong, worked, not_worked = [], set[str](), list[str]()
    for words in commands(hostile, out):
        ran = run(*words, "--db", hostile)
        worked |= {str(words[0])} if ran.code == 0 else set()
        not_worked += [f"{words}: {ran.err[:200]}"] if ran.code else []
        for said in (ran.out, ran.err):
            wrong += [f"{words[0]}: steers by {sign!r}" for sign in CONTROLS.findall(said)]
            wrong += [f"{words[0]}: a forged line" for line in said.splitlines() if line.startswith(FORGED)]
            if "--format" in words and words[-1] == "json" and said is ran.out and ran.code == 0:
                json.loads(said)
        if ran.code and (not ran.err.startswith("fleetbench: ") or ran.err.count("\n") != 1 or "fault of" in ran.err):
            wrong.append(f"{words[0]}: no sentence: {ran.err[:300]!r}")
    assert not wrong, wrong[:8]
    assert worked == WORK, not_worked
    assert {path for path in tmp_path.parent.rglob("*") if out not in path.parents} - before <= {
        hostile.with_name(f"{hostile.name}{end}") for end in ("-wal", "-shm", "-journal")
    }
    assert [fault for path in sorted(out.rglob("*")) if path.is_file() for fault in faults_of(path, out)][:20] == []


def test_a_scanner_types_no_key_that_steers_for_any_hostile_tag() -> None:
    for text in (each[:20] for each in HOSTILE):
        squares, runs = qr_runs(text)
        modules = np.zeros((squares, squares), bool)
        for row, column, length in runs:
            modules[row, column : column + length] = True
        typed = read(modules)
        assert typed.isprintable() and len(typed) == len(text), text
        assert [one for one in zip(text, typed, strict=True) if one[0] != one[1] and one[0].isprintable()] == []


def faults_of(path: Path, out: Path) -> Iterator[str]:
    """What a file that was written holds and may not."""
    inside = path.relative_to(out)
    if CONTROLS.search(path.name) or not path.name.isprintable() or path.stem.upper() in ("CON", "NUL", "PRN", "AUX"):
        yield f"{inside}: a name that no folder should hold"
    match path.suffix:
        case ".csv":
            try:
                rows = list(csv.reader(io.StringIO(path.read_bytes().decode("utf-8-sig"), newline="")))
            except csv.Error as fault:
                yield f"{inside}: {fault}"
                return
            cells = [cell for row in rows[1:] for cell in row if cell.lstrip()[:1] in ("=", "+", "-", "@")]
            runs = [cell for cell in cells if not re.fullmatch(r"[+-]?[\d.,:e+-]+", cell)]
            yield from (f"{inside}: the cell {cell[:30]!r} runs" for cell in runs[:2])
        case ".xlsx":
            for sheet in openpyxl.load_workbook(path):
                yield from (
                    f"{inside}: {cell.coordinate} runs" for row in sheet for cell in row if cell.data_type == "f"
                )
        case ".ics":
            read = icalendar.Calendar.from_ical(path.read_bytes())
            # The list reminds of a thing once at most: any other alarm came out of a text.
            own = sum(min(1, len(each.walk("VALARM"))) for each in read.walk("VEVENT"))
            alarms = read.walk("VALARM")
            if len(alarms) > own or any(each.get("ACTION") != "DISPLAY" for each in alarms):
                yield f"{inside}: an alarm nobody wrote"
        case ".pdf":
            with pikepdf.open(path) as document:
                said = str([each for each in document.objects if isinstance(each, pikepdf.Dictionary)])
            yield from (f"{inside}: opens {word}" for word in OPENS if f"{word}'" in said or f'{word}"' in said)
