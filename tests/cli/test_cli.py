"""The command line as a script meets it: data, files, exit codes and one clear line."""

import json
import shutil
import sqlite3
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path

import openpyxl
import pypdfium2
import pytest
from sqlalchemy import select

from fleetbench import cli
from fleetbench.paper.core.document import letterhead
from fleetbench.records.parts.tables import Fitting
from fleetbench.records.people.tables import Person
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.verify import journal_head
from fleetbench.settings import SETTINGS, Settings, data_folder, write_settings
from fleetbench.shipped import shipped
from fleetbench.workshop.core.workplace import Workplace
from tests.cli.conftest import Run
from tests.conftest import SAMPLE_NOW
from tests.records.few_rows import AT, write_few_rows
from tests.workshop.small_folder import small_rows, write_folder

STATED = "2026-06-15"
DUE_FIELDS = {"unit", "slot", "part_type", "part", "item", "last_good_day", "basis", "days_left", "state"}


def pdf_text(path: Path) -> str:
    document = pypdfium2.PdfDocument(path)
    try:
        return "\n".join(page.get_textpage().get_text_range() for page in document)
    finally:
        document.close()


def test_due_prints_past_items_and_those_within_the_days(run: Run, sample: Path) -> None:
    ran = run("due", "--within", 60, "--on", STATED, "--format", "json", "--db", sample)
    items = json.loads(ran.out)
    assert ran.code == 0
    assert items
    assert all(set(item) == DUE_FIELDS for item in items)
    last = date.fromisoformat(STATED) + timedelta(days=60)
    dated = [item for item in items if item["last_good_day"]]
    assert all(date.fromisoformat(item["last_good_day"]) <= last for item in dated)
    assert all(
        (date.fromisoformat(item["last_good_day"]) - date.fromisoformat(STATED)).days == item["days_left"]
        for item in dated
    )
    assert any(item["days_left"] < 0 and item["state"] == "past" for item in dated)


def test_due_in_words_names_day_unit_and_limit(run: Run, sample: Path) -> None:
    ran = run("due", "--within", 30, "--on", STATED, "--db", sample)
    assert ran.code == 0
    assert any(line.startswith("2026-0") for line in ran.out.splitlines())


@pytest.mark.parametrize("ending", ["pdf", "csv", "xlsx", "ics"])
def test_due_writes_the_file_that_its_ending_names(run: Run, sample: Path, tmp_path: Path, ending: str) -> None:
    target = tmp_path / f"due.{ending}"
    assert run("due", "--within", 30, "--on", STATED, "--out", target, "--db", sample).code == 0
    assert target.stat().st_size > 0


def test_due_refuses_an_ending_that_it_does_not_write(run: Run, sample: Path, tmp_path: Path) -> None:
    ran = run("due", "--out", tmp_path / "due.doc", "--db", sample)
    assert ran.code == 1
    assert ".pdf" in ran.err
    assert not (tmp_path / "due.doc").exists()


def test_ready_answers_check_by_check(run: Run, sample: Path) -> None:
    ran = run("ready", "B-01", "--from", STATED, "--to", "2026-06-18", "--format", "json", "--db", sample)
    answer = json.loads(ran.out)
    assert ran.code == 0
    assert set(answer) == {"unit", "from", "to", "kind", "verdict", "checks"}
    assert answer["verdict"] in ("ready", "hold")
    assert answer["kind"] == "assembled"
    for check in answer["checks"]:
        assert set(check) == {"check", "moment", "result", "evidence", "remedy"}
        assert check["result"] in ("ok", "advise", "stop")
        assert check["evidence"]
    assert (answer["verdict"] == "hold") == any(check["result"] == "stop" for check in answer["checks"])


@pytest.mark.parametrize("kind", ["kit", "not-for-diving"])
def test_ready_takes_the_other_kinds_of_hand_over(run: Run, sample: Path, kind: str) -> None:
    ran = run("ready", "B-01", "--from", STATED, "--to", STATED, "--as", kind, "--format", "json", "--db", sample)
    assert json.loads(ran.out)["kind"] == kind.replace("-", " ")


@pytest.mark.parametrize(
    "words",
    [
        ("ready", "B-01", "--from", "15/06/2026", "--to", STATED),
        ("ready", "B-01", "--from", STATED, "--to", "2026-06-01"),
        ("ready", "B-01", "--from", STATED, "--to", STATED, "--as", "loan"),
        ("due", "--format", "yaml"),
        ("due", "--within", "-3"),
        ("polish",),
    ],
)
def test_wrong_usage_ends_with_2(run: Run, sample: Path, words: tuple[str, ...]) -> None:
    assert run(*words, *(() if words == ("polish",) else ("--db", sample))).code == 2


def test_unknown_unit_is_one_clear_line(run: Run, sample: Path) -> None:
    ran = run("ready", "NO-99", "--from", STATED, "--to", STATED, "--db", sample)
    assert ran.code == 1
    assert len(ran.err.strip().splitlines()) == 1
    assert "NO-99" in ran.err


def test_days_that_are_over_are_refused(run: Run, sample: Path) -> None:
    ran = run("ready", "B-01", "--from", "2026-06-01", "--to", "2026-06-03", "--db", sample)
    assert ran.code == 1
    assert "is over" in ran.err


def test_missing_database_is_one_clear_line_and_makes_no_file(run: Run, tmp_path: Path) -> None:
    ran = run("due", "--db", tmp_path / "nowhere.sqlite")
    assert ran.code == 1
    assert len(ran.err.strip().splitlines()) == 1
    assert list(tmp_path.iterdir()) == []


def test_database_may_be_named_before_the_command(run: Run, sample: Path) -> None:
    assert run("--db", sample, "due", "--within", 1, "--on", STATED).code == 0


def test_ticket_page_holds_the_tag_and_the_number(run: Run, sample: Path, tmp_path: Path) -> None:
    from fleetbench.records.upkeep.migrate import open_database
    from fleetbench.workshop.core.workplace import Workplace
    from fleetbench.workshop.tickets.list import list_tickets

    database = open_database(sample)
    row = next(ticket for ticket in list_tickets(Workplace(database)) if ticket.ticket.signed_at)
    database.close()
    target = tmp_path / "ticket.pdf"
    assert run("ticket", row.number, "--out", target, "--db", sample).code == 0
    text = pdf_text(target)
    assert row.number in text
    assert row.ticket.unit in text


def test_hand_over_sheet_has_front_and_back_with_tag_and_cell_serials(run: Run, sample: Path, tmp_path: Path) -> None:
    target = tmp_path / "sheet.pdf"
    assert run("handover", "B-01", "--out", target, "--db", sample).code == 0
    document = pypdfium2.PdfDocument(target)
    pages = len(document)
    document.close()
    text = pdf_text(target)
    assert text.count("B-01") >= pages and "CELL" in text and "What you state by signing" in text
    assert text.index("Hand-over sheet") < text.index("Technical record") < text.index(f"page {pages} of {pages}")


def test_import_twice_changes_nothing_the_second_time(run: Run, sample: Path) -> None:
    ran = run("import", shipped("sample_fleet"), "--format", "json", "--db", sample)
    report = json.loads(ran.out)
    assert ran.code == 0
    assert sum(report["added"].values()) == 0
    assert sum(report["unchanged"].values()) > 10_000


def test_import_with_faults_lists_them_and_writes_nothing(run: Run, tmp_path: Path) -> None:
    database = tmp_path / "new.sqlite"
    ran = run("import", shipped("sample_fleet") / "dirty", "--db", database)
    assert ran.code == 1
    assert "row" in ran.out
    assert run("verify", "--format", "json", "--db", database).out.count('"entries": 0') == 1


def test_backup_restore_and_verify_agree_on_the_head(run: Run, sample: Path, tmp_path: Path) -> None:
    head = json.loads(run("verify", "--format", "json", "--db", sample).out)
    copied = run("backup", tmp_path / "copy.sqlite", "--db", sample)
    assert head["head_hash"] in copied.out
    restored = run("restore", tmp_path / "copy.sqlite", "--db", tmp_path / "back.sqlite")
    assert restored.code == 0
    assert run("verify", "--head", head["head_hash"], "--db", tmp_path / "back.sqlite").code == 0


def test_stored_last_good_days_equal_a_new_calculation(run: Run, sample: Path) -> None:
    assert run("verify", "--rebuild", "--db", sample).code == 0


def test_what_verify_finds_stale_it_offers_to_store_as_calculated(run: Run, sample: Path, tmp_path: Path) -> None:
    spoiled = Path(shutil.copy(sample, tmp_path / "spoiled.sqlite"))
    workplace = Workplace(open_database(spoiled), lambda: SAMPLE_NOW)
    with workplace.transaction("spoil", "a fitting") as act:
        query = select(Fitting).where(Fitting.removed_at.is_(None), Fitting.last_good_day.is_not(None)).limit(1)
        act.change(act.session.scalars(query).one(), last_good_day=None, last_good_basis=None)
    workplace.database.close()
    found = run("verify", "--rebuild", "--db", spoiled)
    assert found.code == 1 and "--rebuild --write" in found.err
    assert run("verify", "--write", "--db", spoiled).code == 2
    stored = run("verify", "--rebuild", "--write", "--db", spoiled)
    assert stored.code == 0 and "1 stored again as calculated" in stored.out
    assert run("verify", "--rebuild", "--db", spoiled).code == 0


def test_an_upgrade_calculates_what_an_older_program_did_not_keep_though_it_was_cut_short(
    run: Run, sample: Path, tmp_path: Path
) -> None:
    older = Path(shutil.copy(sample, tmp_path / "older.sqlite"))
    workplace = Workplace(open_database(older), lambda: SAMPLE_NOW)
    with workplace.transaction("spoil", "a fitting") as act:
        query = select(Fitting).where(Fitting.removed_at.is_(None), Fitting.last_good_day.is_not(None)).limit(1)
        act.change(act.session.scalars(query).one(), last_good_day=None, last_good_basis=None)
    workplace.database.close()
    with closing(sqlite3.connect(older)) as connection:
        connection.execute("PRAGMA user_version = 1")  # what the upgrade notes in its own transaction
    assert run("verify", "--rebuild", "--db", older).code == 1
    assert run("upgrade", "--db", older).out == "brought up to this program\n"
    assert run("verify", "--rebuild", "--db", older).code == 0
    assert run("upgrade", "--db", older).out == "is up to date\n"


def test_a_dry_run_where_no_database_is_makes_none(run: Run, tmp_path: Path) -> None:
    sheets = write_folder(tmp_path / "sheets", small_rows())
    (tmp_path / "place").mkdir()
    assert run("import", sheets, "--dry-run", "--db", tmp_path / "place" / "new.sqlite").code == 0
    assert list((tmp_path / "place").iterdir()) == []


def test_records_are_exported_looked_at_and_imported_into_a_new_centre_alone(
    run: Run, empty_file: Path, tmp_path: Path
) -> None:
    here, there, out = tmp_path / "here.db", tmp_path / "there.db", tmp_path / "out"
    shutil.copy(empty_file, here)
    shutil.copy(empty_file, there)
    with closing(open_database(here)) as database:
        write_few_rows(database)
        head = journal_head(database)
    assert head is not None
    told = run("export", out, "--records", "--db", here)
    assert (told.code, told.out.splitlines()[2]) == (0, f"journal entry {head.replace(':', ', ')}")
    assert run("import", out, "--dry-run", "--db", there).out == told.out
    assert run("import", out, "--db", there).out == told.out
    assert run("verify", "--head", head, "--db", there).code == 0
    again = run("import", out, "--db", there)
    assert (again.code, again.err.count("\n")) == (1, 1) and "into an empty centre only" in again.err


def test_export_taken_in_again_gives_the_same_facts(run: Run, sample: Path, tmp_path: Path) -> None:
    assert run("export", tmp_path / "sheets", "--db", sample).code == 0
    ran = run("import", tmp_path / "sheets", "--format", "json", "--db", sample)
    assert sum(json.loads(ran.out)["added"].values()) == 0


def test_file_that_is_no_database_is_left_as_it_is(run: Run, tmp_path: Path) -> None:
    strange = tmp_path / "letter.txt"
    strange.write_bytes(b"dear renter, " * 500)
    ran = run("due", "--db", strange)
    assert ran.code == 1
    assert strange.read_bytes() == b"dear renter, " * 500


def test_evidence_is_one_new_folder_whose_printed_head_verify_finds(run: Run, sample: Path, tmp_path: Path) -> None:
    words = ("evidence", "B-07", "--from", "2026-06-01", "--to", "2026-06-15", tmp_path / "evidence", "--db", sample)
    assert run(*words).code == 0
    manifest = (tmp_path / "evidence" / "manifest.txt").read_text()
    head = next(line.split()[-1] for line in manifest.splitlines() if "journal head" in line)
    assert run("verify", "--head", head, "--db", sample).code == 0
    assert run("verify", "--head", head.split(":")[0] + ":" + "0" * 64, "--db", sample).code == 1
    again = run(*words)
    assert again.code == 1 and "exists already; choose a new folder" in again.err
    frozen = run("incident", "B-07", "--out", tmp_path / "sheet.pdf", "--db", sample)
    assert frozen.code == 1 and "is not frozen" in frozen.err


def test_a_backup_keeps_the_head_in_the_folders_of_witnesses_and_verify_compares_it(
    run: Run, empty_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    (tmp_path / "share").mkdir()
    write_settings(data_folder() / SETTINGS, Settings({"witness_folders": f"{tmp_path / 'share'};{tmp_path / 'gone'}"}))
    place = shutil.copy(empty_file, tmp_path / "few.sqlite")
    database = open_database(place)
    write_few_rows(database)
    made = run("backup", tmp_path / "copy.sqlite", "--db", place)
    assert made.code == 0 and f"could not be kept in {tmp_path / 'gone'}" in made.err
    head = letterhead(Workplace(database))
    database.close()
    assert head.desk_key is not None
    words = ("verify", "--witness", tmp_path / "share", "--db", place)
    whole = run(*words, "--key", head.desk_key)
    assert whole.code == 0 and f"their key {head.desk_key} is this desk's" in whole.out
    with closing(sqlite3.connect(place)) as connection, connection:
        connection.execute("UPDATE part SET price = 13.25, version = 1 WHERE id = 2")
        connection.execute("DELETE FROM journal WHERE id = 15")
    cut = run(*words)
    assert cut.code == 1 and "the database is shorter: entry 15 was witnessed" in cut.err
    assert run("verify", "--witness", tmp_path / "gone", "--db", place).err.endswith("or a file of heads in it\n")


def test_a_fault_of_the_program_is_told_without_what_it_was_about(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    about = "Zelda Quinesson, zelda@mail.invalid"

    def broken(*_: object, **__: object) -> None:
        raise ValueError(about)

    monkeypatch.setattr("fleetbench.records.upkeep.migrate.examine", broken)
    ran = run("due", "--db", tmp_path / "fleet.sqlite")
    assert ran.code == 1 and ran.err.startswith("fleetbench: fault of the program")
    assert "ValueError" in ran.err and "elda" not in ran.err and str(tmp_path) not in ran.err


def test_the_command_line_asks_who_may_as_the_window_does(
    run: Run, empty_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FLEETBENCH_PIN", "")
    monkeypatch.setattr(cli, "_now", lambda: AT)
    place = shutil.copy(empty_file, tmp_path / "few.sqlite")
    with closing(open_database(place)) as database:
        write_few_rows(database)
        workplace = Workplace(database, lambda: AT)
        with workplace.transaction("write", "people") as act:
            for role in ("renter", "instructor"):
                act.add(Person(code=f"X-{role}", role=role))
            act.change(act.get(Fitting, 1, "fitting"), last_good_day=date(2030, 1, 1))
        before = journal_head(database)
    folder = tmp_path / "files"
    folder.mkdir()
    (folder / "owners.csv").write_text("record,name,kind\nOWN-9,Another,loan\n")
    for words in (("import", folder), ("clock", "--correct"), ("verify", "--rebuild", "--write")):
        for person in ("X-renter", "X-instructor", "T1", None):
            if person is None and words[0] == "verify":
                continue  # stored again as calculated: what the program does by itself after an upgrade, too
            ran = run(*words, *(("--person", person) if person else ()), "--db", place)
            assert ran.code == 1 and ran.err.startswith("fleetbench: person"), (words, person, ran)
    with closing(open_database(place)) as database:
        assert journal_head(database) == before


def test_use_and_cost_says_the_same_days_on_the_terminal_as_data_and_as_a_file(
    run: Run, sample: Path, tmp_path: Path
) -> None:
    last = SAMPLE_NOW.date()
    span = ("--from", last - timedelta(days=3), "--to", last, "--db", sample)
    shown, data, book = run("use-and-cost", *span), run("use-and-cost", *span, "--format", "json"), tmp_path / "u.xlsx"
    assert run("use-and-cost", *span, "--out", book).code == shown.code == data.code == 0
    whole = json.loads(data.out)["types"][0]
    assert sum(whole["days"].values()) == 4 * whole["units"]
    sheet = openpyxl.load_workbook(book)["Units and types"]
    titles, row = ([cell.value for cell in line] for line in sheet.iter_rows(max_row=2))
    of_file = dict(zip(titles, row, strict=True))
    assert {name: of_file[name] for name in whole["days"]} == whole["days"]
    words = next(line for line in shown.out.splitlines() if line.startswith("All units")).split()[2:]
    states = ("out", "fit, not out", "waiting for work", "lost", "not known")
    assert words[:6] == [str(whole["promised"]), *(str(whole["days"][name]) for name in states)]
    ran = run("use-and-cost", "--from", last, "--to", last - timedelta(days=1), "--db", sample)
    assert ran.code == 1 and "last day" in ran.err
