"""What a file states otherwise is a change to accept, written as a correction is, with one reason for the lot."""

from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import select

from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.journal import Journal
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.bring import bring
from fleetbench.workshop.import_export.import_folder import ImportReport
from fleetbench.workshop.import_export.spreadsheet import Layout, SheetTable, guessed, open_spreadsheet
from fleetbench.workshop.parts.lives import rebuild_lives
from fleetbench.workshop.people.list import list_people
from fleetbench.workshop.places.accept import bring_accepted, folder_looked_at, would_move
from fleetbench.workshop.places.register import history_of, register_rows
from fleetbench.workshop.units.list import list_units, unit_page
from tests.conftest import Clock
from tests.workshop.small_folder import Rows, import_small, spoiled

WHY = "labels read again"
FILE = """Unit,Type,S/N,Cell 1,Cell 1 made,Cell 2,Cell 2 made
B-01,TYPE-B,1001,C177,2024-08,C277,2024-08
B-02,TYPE-B,1020,,,,
"""


@pytest.fixture
def workplace(database: Database, clock: Clock) -> Workplace:
    """The small invented centre, with its manager signed in."""
    plain = Workplace(database, clock)
    import_small(plain)
    manager = next(each for each in list_people(plain) if each.role == "manager")
    return plain.as_person(manager.person_id)


def opened(tmp_path: Path, text: str) -> tuple[SheetTable, Layout]:
    path = tmp_path / "fleet.csv"
    path.write_text(text, encoding="utf-8")
    (table,) = open_spreadsheet(path).tables
    return table, guessed(table)


def entries(workplace: Workplace) -> int:
    with workplace.database.reading() as connection:
        return len(connection.execute(select(Journal.id)).all())


def test_changes_of_a_spreadsheet_need_a_reason_and_tell_what_ends_earlier(
    workplace: Workplace, tmp_path: Path
) -> None:
    """Cells of August 2024 end 18 months on, at the end of January 2026, which is past on 4 May 2026."""
    table, layout = opened(tmp_path, FILE)
    before = entries(workplace)
    told = would_move(workplace, table, layout, {}, name="fleet.csv")
    assert told == ("2 cells now end earlier.", "2 cells are past the last valid day then.")
    with pytest.raises(Refused, match="reason: is empty"):
        bring_accepted(workplace, table, layout, {}, name="fleet.csv", why=" ")
    assert bring(workplace, table, layout, {}, name="fleet.csv").corrected == 0
    assert entries(workplace) == before  # neither looking, nor refusing, nor leaving changes alone writes anything
    done = bring_accepted(workplace, table, layout, {}, name="fleet.csv", why=WHY)
    assert (done.corrected, done.written) == (3, 0)
    assert sorted(each.label for each in done.examined.changes) == ["B-02", "C177", "C277"]
    assert done.said[0] == "2 cells now end earlier."
    unit = next(row for row in register_rows(workplace, "units") if row.shown["tag"] == "B-02")
    (_, who, what, why) = history_of(workplace, "units", unit.key)[0]
    assert (who, what, why) == ("M1", "Serial: 1002 → 1020", WHY)
    assert rebuild_lives(workplace) == [] and verify(workplace.database).whole


def changed(sheet: str, at: int, /, **cells: str) -> Callable[[Rows], object]:
    return lambda rows: rows[sheet][at].update(cells)


def looked(
    workplace: Workplace, tmp_path: Path, change: Callable[[Rows], object], why: str | None = None
) -> ImportReport:
    return folder_looked_at(workplace, spoiled(tmp_path / "again", change), why)


def test_a_changed_row_of_a_folder_is_a_change_to_accept(workplace: Workplace, tmp_path: Path) -> None:
    """Opened in February 2026 with one month to live, two cells end with February 2026."""
    shorter = changed("part_type_lives", 0, amount="1")
    report = looked(workplace, tmp_path, shorter)
    assert (report.written, report.faults) == (False, ())
    (change,) = report.changes
    assert report.said == ("2 cells now end earlier.", "2 cells are past the last valid day then.")
    assert (change.sheet, change.row, change.column, change.before, change.after) == (
        "part_type_lives", 2, "amount", "12", "1",
    )  # fmt: skip
    done = looked(workplace, tmp_path, shorter, WHY)
    assert (done.written, done.corrected, done.said[0]) == (True, 1, "2 cells now end earlier.")
    assert rebuild_lives(workplace) == [] and verify(workplace.database).whole
    assert looked(workplace, tmp_path, shorter).changes == ()


def test_what_is_told_before_a_change_is_accepted_is_what_its_act_does(
    sample_workplace: Workplace, tmp_path: Path
) -> None:
    manager = next(each for each in list_people(sample_workplace) if each.role == "manager")
    sample_workplace = sample_workplace.as_person(manager.person_id)
    page = unit_page(sample_workplace, "B-01")
    assert page.row.fit == "ready"
    serials = [each.part.label for each in page.cells if each.part is not None]
    text = "Serial,Kind,Made,Opened\n" + "".join(f"{serial},cell,2023-01,2023-01-09\n" for serial in serials)
    table, layout = opened(tmp_path, text)
    held = [row.tag for row in list_units(sample_workplace) if row.fit == "hold"]
    told = would_move(sample_workplace, table, layout, {}, name="cells.csv")
    assert told == (
        f"{len(serials)} cells now end earlier.", f"{len(serials)} cells are past the last valid day then.",
        "1 unit is on hold now: B-01.",
    )  # fmt: skip
    assert [row.tag for row in list_units(sample_workplace) if row.fit == "hold"] == held
    done = bring_accepted(sample_workplace, table, layout, {}, name="cells.csv", why=WHY)
    assert done.said == (told[0], told[2])
    assert unit_page(sample_workplace, "B-01").row.fit == "hold"


def test_a_looser_limit_of_a_folder_asks_for_a_source_and_is_told_as_looser(
    workplace: Workplace, tmp_path: Path
) -> None:
    before = looked(workplace, tmp_path, changed("limits", 0, amount="7"))
    assert before.said[0].startswith("Limits, row 2: source: the limit gets looser, 8.5 mV to 7 mV; name the document")
    with pytest.raises(Refused, match=r"limits, row 2: source: the limit gets looser, 8\.5 mV to 7 mV; name the doc"):
        looked(workplace, tmp_path, changed("limits", 0, amount="7"), WHY)
    done = looked(
        workplace, tmp_path, changed("limits", 0, amount="7", source="invented manual, edition 2, page 31"), WHY
    )
    assert done.said == ("Limits, row 2: the limit gets looser, 8.5 mV to 7 mV.",)


def test_what_was_recorded_of_work_done_stays_a_fault(workplace: Workplace, tmp_path: Path) -> None:
    report = looked(workplace, tmp_path, changed("hire_lines", 0, dives="3"), WHY)
    assert [fault.message for fault in report.faults] == [
        "differs from what is recorded (2); what was recorded of work done stays; take the row out of the file"
    ]


def test_names_are_corrected_and_neither_of_them_enters_the_journal(workplace: Workplace, tmp_path: Path) -> None:
    done = looked(workplace, tmp_path, changed("people", 0, name="Tamsin Orrell"), WHY)
    assert done.corrected == 1
    assert next(each for each in list_people(workplace) if each.code == "T1").name == "Tamsin Orrell"
    with workplace.database.reading() as connection:
        assert "Orrel" not in " ".join(connection.scalars(select(Journal.content)))
