"""What is written as sheets is taken in again as the same facts, and no cell of it is a formula."""

import csv
import stat
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import select, text

from fleetbench.records.canisters.tables import Run
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.tables import HireNote
from fleetbench.records.people.tables import Person
from fleetbench.records.units.tables import Hold
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.shipped import shipped
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.columns import SHEETS
from fleetbench.workshop.import_export.export import export_folder
from fleetbench.workshop.import_export.files import read_folder
from fleetbench.workshop.import_export.import_folder import import_folder
from fleetbench.workshop.import_export.values import Site, read_cell, write_cell
from tests.workshop.small_folder import import_small

SITE = Site(ZoneInfo("Europe/Berlin"))
FORMULAS = ('=HYPERLINK("x")', "+49 1", "-1", "@here", "'=1", "''+2", "'quoted'", "plain")


@pytest.fixture
def filled(workplace: Workplace) -> Workplace:
    """The small invented centre as recorded."""
    import_small(workplace)
    return workplace


def contents(folder: Path) -> dict[str, str]:
    return {path.name: path.read_text(encoding="utf-8") for path in sorted(folder.iterdir())}


def taken_again(folder: Path, place: Path, workplace: Workplace) -> Workplace:
    """A new workplace with what an exported folder holds."""
    again = Workplace(open_database(place), workplace.clock)
    report = import_folder(again, folder)
    assert (report.faults, report.written) == ((), True)
    return again


def test_an_export_taken_into_a_new_database_exports_the_same_bytes(filled: Workplace, tmp_path: Path) -> None:
    export_folder(filled, tmp_path / "first")
    again = taken_again(tmp_path / "first", tmp_path / "again.db", filled)
    export_folder(again, tmp_path / "second")
    again.database.close()
    assert contents(tmp_path / "first") == contents(tmp_path / "second")


def test_an_export_taken_into_its_own_database_changes_nothing(filled: Workplace, tmp_path: Path) -> None:
    export_folder(filled, tmp_path / "out")
    report = import_folder(filled, tmp_path / "out")
    assert (report.faults, report.written) == ((), False)


def test_the_sample_fleet_comes_out_as_it_went_in(sample_workplace: Workplace, tmp_path: Path) -> None:
    paths = export_folder(sample_workplace, tmp_path / "out")
    again = import_folder(sample_workplace, tmp_path / "out")
    assert (again.faults, again.written, sum(again.added.values())) == ((), False, 0)
    rows = {name: len(sheet.rows) for name, sheet in read_folder(tmp_path / "out").sheets.items()}
    assert again.unchanged == rows, "its own export changes nothing: every row is known"
    assert {name for name, spec in SHEETS.items() if not spec.optional} <= {path.stem for path in paths}
    for path in paths:
        source = shipped("sample_fleet") / path.name
        with path.open(encoding="utf-8") as ours, source.open(encoding="utf-8") as theirs:
            out, given_in = list(csv.DictReader(ours)), list(csv.DictReader(theirs))
        spec = SHEETS[path.stem]
        for row, original in zip(out, given_in, strict=True):
            for name, cell in [each for each in row.items() if each[0] in original]:
                assert read_cell(spec.column(name), cell, SITE) == read_cell(spec.column(name), original[name], SITE)


def test_what_the_program_recorded_itself_is_exported_too(filled: Workplace, tmp_path: Path) -> None:
    with filled.transaction("place hold", "B-01") as act:
        act.add(Hold(unit_id=1, kind="manual", reason="=cmd|' /C calc'!A1", placed_at=filled.clock(), placed_by_id=1))
        act.add(HireNote(booking_unit_id=1, at=act.at, text="second note"))
    with filled.transaction("erase person", "R1") as act:
        act.change(act.get(Person, 3, "person"), erased_at=act.at)
        act.session.execute(text("DELETE FROM person_private WHERE person_id = 3"))
    export_folder(filled, tmp_path / "out")
    again = taken_again(tmp_path / "out", tmp_path / "again.db", filled)
    export_folder(again, tmp_path / "second")
    again.database.close()
    assert contents(tmp_path / "out") == contents(tmp_path / "second")
    told = contents(tmp_path / "out")
    assert "'=cmd|' /C calc'!A1" in told["holds.csv"]
    assert told["people.csv"].splitlines()[3] == "PER-3,R1,renter,,,yes,2026-05-04 09:30"
    assert '"fine\nsecond note"' in told["hire_lines.csv"]


def test_a_run_whose_start_is_not_known_comes_back_as_such(filled: Workplace, tmp_path: Path) -> None:
    with filled.transaction("log run", "test") as act:
        run = act.session.scalars(select(Run)).first()
        assert run is not None
        act.change(run, ended_by=run.started_at + timedelta(days=1))
        latest = run.ended_by
    export_folder(filled, tmp_path / "out")
    again = taken_again(tmp_path / "out", tmp_path / "again.db", filled)
    with again.database.read_session() as session:
        assert latest in session.scalars(select(Run.ended_by)).all()
    again.database.close()


def test_no_exported_text_begins_as_a_formula(filled: Workplace, tmp_path: Path) -> None:
    with filled.transaction("place hold", "B-01") as act:
        for words in FORMULAS:
            act.add(Hold(unit_id=1, kind="manual", reason=words, placed_at=filled.clock(), placed_by_id=1))
    export_folder(filled, tmp_path / "out")
    with (tmp_path / "out" / "holds.csv").open(encoding="utf-8") as file:
        reasons = [row["reason"] for row in csv.DictReader(file)][1:]
    assert not any(reason.startswith(("=", "+", "-", "@", "\t")) for reason in reasons)
    assert tuple(read_cell(SHEETS["holds"].column("reason"), reason, SITE) for reason in reasons) == FORMULAS


def test_exported_files_are_private_and_nothing_is_overwritten(filled: Workplace, tmp_path: Path) -> None:
    paths = export_folder(filled, tmp_path / "out")
    assert {stat.S_IMODE(path.stat().st_mode) for path in paths} == {0o600}
    with pytest.raises(Refused, match="not empty"):
        export_folder(filled, tmp_path / "out")
    (tmp_path / "letter").write_text("x")
    with pytest.raises(Refused, match="cannot be written"):
        export_folder(filled, tmp_path / "letter")


@given(st.datetimes(datetime(1990, 1, 1), datetime(2090, 1, 1)))
def test_any_moment_is_read_back_as_it_was_written(moment: datetime) -> None:
    column = SHEETS["openings"].column("at")
    at = moment.replace(tzinfo=UTC)
    assert read_cell(column, write_cell(column, at, SITE), SITE) == at


@pytest.mark.parametrize("minutes", range(0, 240, 30))
def test_moments_around_the_repeated_hour_stay_apart(minutes: int) -> None:
    column = SHEETS["openings"].column("at")
    # Clocks go back at 01:00 UTC on the last Sunday of October: Directive 2000/84/EC, article 3.
    at = datetime(2025, 10, 25, 23, 0, tzinfo=UTC) + timedelta(minutes=minutes)
    assert read_cell(column, write_cell(column, at, SITE), SITE) == at


@given(st.floats(0, 1))
def test_any_humidity_is_read_back_within_the_last_digit(fraction: float) -> None:
    column = SHEETS["sessions"].column("humidity")
    assert read_cell(column, write_cell(column, fraction, SITE), SITE) == pytest.approx(fraction, rel=1e-15)


@given(st.floats(-2, 200))
def test_any_figure_is_read_back_exactly(value: float) -> None:
    column = SHEETS["readings"].column("mv")
    assert read_cell(column, write_cell(column, value, SITE), SITE) == value
