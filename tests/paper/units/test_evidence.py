"""The evidence folder holds every reading of the unit in its days, and its manifest proves each file."""

import csv
import hashlib
import io
from datetime import date
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from sqlalchemy import select, text

from fleetbench.paper.units.evidence import write_evidence
from fleetbench.printing import sign_handover
from fleetbench.records.cells.tables import Calibration, CalibrationReading
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.parts.tables import Part
from fleetbench.records.tickets.photographs import photograph_folder
from fleetbench.records.units.tables import Reader, Slot
from fleetbench.records.upkeep.verify import journal_head, verify
from fleetbench.workshop.bench.tests import record_test
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.handback import HandBackEntry, hand_back
from fleetbench.workshop.hires.handover import Accepting, Handing, hand_over, look_before
from fleetbench.workshop.hires.receive import receive
from fleetbench.workshop.parts.fit import fit_part
from fleetbench.workshop.tickets.work import add_finding, open_ticket
from tests.centres.bench_centre import write_centre
from tests.centres.hire_centre import HireCentre

DAY = date(2026, 5, 4)


@pytest.fixture
def bench(sqlite_database: Database, clock: Any) -> Workplace:
    """A bench at which two units were worked on, one of them on the next day too."""
    workplace = Workplace(sqlite_database, clock)
    bench = workplace.as_person(write_centre(sqlite_database, clock()).technician)
    ticket = open_ticket(bench, "LK-01", cause="by hand", reason="look")
    add_finding(bench, ticket, "=HYPERLINK(1)")
    record_test(bench, "LK-01", "loop negative", held=True, watched_minutes=3, ticket_id=ticket)
    record_test(bench, "LK-02", "loop positive", held=True, watched_minutes=3)
    fit_part(bench, "C-NEW", "LK-01", "cell 1", why_old="age", ticket_id=ticket)
    clock.advance(days=1)
    record_test(bench, "LK-01", "loop negative", held=False, watched_minutes=1)
    return bench


def rows_of(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(path.read_bytes().decode("utf-8-sig"), newline="")))


def test_the_manifest_gives_every_files_digest_and_the_printed_head(bench: Workplace, tmp_path: Path) -> None:
    folder = tmp_path / "evidence"
    files = write_evidence(bench, "LK-01", DAY, DAY, folder)
    assert {path.name for path in files} == {path.name for path in folder.iterdir()}
    manifest = (folder / "manifest.txt").read_text()
    digests = {name: digest for digest, name in (line.split("  ") for line in manifest.splitlines() if line[0] != "#")}
    assert digests == {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in files if path.name != "manifest.txt"
    }
    head = journal_head(bench.database)
    assert f"# journal head {head}" in manifest and "no break found" in manifest
    assert verify(bench.database, head).whole


def test_only_the_units_own_records_of_those_days_are_there(bench: Workplace, tmp_path: Path) -> None:
    write_evidence(bench, "LK-01", DAY, DAY, tmp_path / "one")
    (test,) = rows_of(tmp_path / "one" / "bench_tests.csv")
    assert (test["kind"], test["held"], test["watched_minutes"]) == ("loop negative", "True", "3.0")
    acts = [row["act"] for row in rows_of(tmp_path / "one" / "journal.csv")]
    # the first wrote the centre, the unit among its rows, and moved a part in: subjects do not tell it
    assert acts == ["begin", "open ticket", "finding", "bench test: loop negative", "fit part"]
    write_evidence(bench, "LK-01", DAY, date(2026, 5, 5), tmp_path / "both")
    assert len(rows_of(tmp_path / "both" / "bench_tests.csv")) == 2


def test_the_page_tells_what_was_done_and_the_head(bench: Workplace, tmp_path: Path) -> None:
    write_evidence(bench, "LK-01", DAY, DAY, tmp_path / "one")
    document = pypdfium2.PdfDocument(tmp_path / "one" / "evidence.pdf")
    said = "".join(page.get_textpage().get_text_bounded() for page in document)
    document.close()
    assert "Evidence" in said and "LK-01" in said and "loop negative" in said and "page 1 of 1" in said
    assert str(journal_head(bench.database))[:20] in said


def test_evidence_is_never_overwritten_and_nothing_is_left_of_a_refusal(bench: Workplace, tmp_path: Path) -> None:
    (tmp_path / "old").mkdir()
    with pytest.raises(Refused, match="exists already; choose a new folder"):
        write_evidence(bench, "LK-01", DAY, DAY, tmp_path / "old")
    with pytest.raises(NotFound, match=r"^unit LK-99"):
        write_evidence(bench, "LK-99", DAY, DAY, tmp_path / "new")
    with pytest.raises(Refused, match=r"^last day"):
        write_evidence(bench, "LK-01", DAY, date(2026, 5, 3), tmp_path / "new")
    with pytest.raises(OSError, match="No such file"):
        write_evidence(bench, "LK-01", DAY, DAY, tmp_path / "nowhere" / "new")
    assert {path.name for path in tmp_path.iterdir() if not path.name.startswith("fleet.db")} == {"old"}


def test_every_figure_that_a_reader_showed_is_in_the_readings(bench: Workplace, tmp_path: Path) -> None:
    with bench.transaction("write", "calibration") as act:
        calibration = act.add(
            Calibration(unit_id=1, at=act.at, made="workshop", pressure_mbar=1008.5, pressure_source="measured",
                        temperature_c=21.0, head="dry", vented="yes", settled="yes")
        ).id  # fmt: skip
        slot, part, reader = (act.session.scalars(select(kind.id)).first() for kind in (Slot, Part, Reader))
        for point, mv in (("air", 10.1), ("oxygen", 48.7)):
            act.add(CalibrationReading(calibration_id=calibration, slot_id=slot, part_id=part, reader_id=reader,
                                       point=point, mv=mv))  # fmt: skip
    write_evidence(bench, "LK-01", date(2026, 5, 5), date(2026, 5, 5), tmp_path / "one")
    rows = rows_of(tmp_path / "one" / "cell_readings.csv")
    assert [(row["point"], row["mV"], row["pressure_mbar"]) for row in rows] == [
        ("air", "10.1", "1008.5"),
        ("oxygen", "48.7", "1008.5"),
    ]


def _rows(workplace: Workplace, query: str) -> list[tuple[Any, ...]]:
    with workplace.database.engine.connect() as connection:
        return [tuple(row) for row in connection.execute(text(query))]


@pytest.fixture
def signed(sqlite_database: Database, clock: Any) -> HireCentre:
    """A unit that was filled, calibrated, handed over, signed for, dived, received and handed back."""
    made = HireCentre(Workplace(sqlite_database, clock), clock)
    made.make_fit()
    handing = Handing(unit="LK-01", kind="kit", harness="M", absorbent_kg=7.5)
    look = look_before(made.workplace, "LK-01", "H-7", "kit", handing.along)
    accepted = [Accepting("LK-01", check, made.day(20), "seen") for check in look.to_accept]
    (line,) = hand_over(made.workplace, "H-7", [handing], accepting=accepted, manager_id=made.manager, pin="2468")
    sign_handover(made.workplace, "H-7", "LK-01", "diver")
    clock.advance(hours=6)
    receive(made.workplace, "LK-01", wet=True, flooded=False, fault=False)
    hand_back(made.workplace, [HandBackEntry(line_id=line, loop_minutes=70, dives=2, remarks="the diver was cold")])
    return made


def test_every_row_of_every_table_that_names_the_unit_is_in_the_folder_or_told_as_left_out(
    signed: HireCentre, tmp_path: Path
) -> None:
    """Held against the database's own list of its foreign keys (SQLite's PRAGMA foreign_key_list)."""
    folder, workplace = tmp_path / "all", signed.workplace
    write_evidence(workplace, "LK-01", date(2020, 1, 1), signed.day(400), folder)
    manifest = (folder / "manifest.txt").read_text()
    tables = [name for (name,) in _rows(workplace, "SELECT name FROM sqlite_master WHERE type = 'table'")]
    names = {"unit": {1}}
    for step in ("unit", "booking_unit", "sheet_signature"):
        for table in tables:
            for key in _rows(workplace, f"PRAGMA foreign_key_list({table})"):
                if key[2] == step and names.get(step):
                    listed = ",".join(map(str, names[step]))
                    found = {row for (row,) in _rows(workplace, f"SELECT id FROM {table} WHERE {key[3]} IN ({listed})")}
                    if found:
                        names.setdefault(table, set()).update(found)
    assert {"acceptance", "bench_test", "hand_back", "hand_over", "sheet_signature", "run", "hold"} & set(names)
    for table, wanted in names.items():
        path = folder / f"rows_{table}.csv"
        if not path.exists():
            assert f"# left out: {table}: {len(wanted)} rows" in manifest or table == "signed_page", table
        else:
            assert wanted <= {int(row["id"]) for row in rows_of(path)}, table
    assert {"hire_note"} <= {line.split()[3].rstrip(":") for line in manifest.splitlines() if "left out" in line}
    (page,) = folder.glob("signed-page-*.pdf")
    assert page.read_bytes() == next(photograph_folder(workplace.database.path).glob("*.pdf")).read_bytes()


def test_the_journal_holds_every_entry_that_wrote_a_row_of_the_unit_whatever_its_subject(
    signed: HireCentre, tmp_path: Path
) -> None:
    write_evidence(signed.workplace, "LK-01", date(2020, 1, 1), signed.day(400), tmp_path / "all")
    kept = {int(row["entry"]) for row in rows_of(tmp_path / "all" / "journal.csv")}
    entries = {number: content for number, content in _rows(signed.workplace, "SELECT id, content FROM journal")}
    acts = dict(_rows(signed.workplace, "SELECT id, act FROM journal"))
    named = ('"unit_id":1,', '"unit_id":1}', '"booking_unit_id":1,')
    naming = {number for number, content in entries.items() if any(each in content for each in named)}
    assert naming and naming <= kept
    assert {"hand over", "sign sheet", "receive", "hand back"} <= {acts[number] for number in kept}
    gas = {"cylinder_fill", "gas_analysis"} & {path.stem.removeprefix("rows_") for path in (tmp_path / "all").iterdir()}
    assert gas or not _rows(signed.workplace, "SELECT id FROM cylinder_fill")


def test_what_another_unit_alone_wrote_is_not_in_the_folder(signed: HireCentre, tmp_path: Path) -> None:
    record_test(signed.workplace, "LK-02", "loop positive", held=True, watched_minutes=3)
    write_evidence(signed.workplace, "LK-01", date(2020, 1, 1), signed.day(400), tmp_path / "all")
    units = {row["unit_id"] for row in rows_of(tmp_path / "all" / "rows_bench_test.csv")}
    assert units == {"1"}
    last = max(number for (number,) in _rows(signed.workplace, "SELECT id FROM journal"))
    assert last not in {int(row["entry"]) for row in rows_of(tmp_path / "all" / "journal.csv")}
