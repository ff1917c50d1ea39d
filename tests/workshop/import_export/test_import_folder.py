"""A centre's sheets are taken in whole or not at all, and the same folder twice changes nothing."""

import hashlib
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from dateutil.relativedelta import relativedelta
from sqlalchemy import event, func, select, text

from fleetbench.records.cells.tables import Calibration, CalibrationOutcome, CalibrationReading
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.journal import Journal
from fleetbench.records.hires.tables import HireNote
from fleetbench.records.parts.tables import Fitting, Part, PartTest
from fleetbench.records.people.tables import Person, PersonPrivate
from fleetbench.records.places.reads import read_limits
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.tables import column_facts, metadata, table_name
from fleetbench.records.upkeep.verify import verify
from fleetbench.shipped import shipped
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import list_due
from fleetbench.workshop.import_export.columns import NOT_IN_SHEETS, SHEETS
from fleetbench.workshop.import_export.export import write_template
from fleetbench.workshop.import_export.files import read_folder
from fleetbench.workshop.import_export.import_folder import Cancelled, import_folder
from fleetbench.workshop.parts.lives import rebuild_lives
from fleetbench.workshop.people.acts import enter_person
from tests.fleet_maker.sheets import COLUMNS
from tests.fuzz_import import rows_in
from tests.workshop.small_folder import small_rows, spoiled, write_folder

MANAGER = 2
"""Key of M1 in the small folder."""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The small invented folder."""
    return write_folder(tmp_path / "sheets", small_rows())


def one(workplace: Workplace, query: object) -> tuple[object, ...]:
    with workplace.database.reading() as connection:
        return tuple(connection.execute(query).one())  # type: ignore[call-overload]


def test_the_sheets_have_the_columns_that_the_invented_centre_writes() -> None:
    for name, columns in COLUMNS.items():
        needed = [column.name for column in SHEETS[name].columns if not column.optional]
        written = columns.split(",")
        assert written[: len(needed)] == needed, name
        assert set(written[len(needed) :]) <= {column.name for column in SHEETS[name].columns if column.optional}, name
    assert {name for name, spec in SHEETS.items() if not spec.optional} <= set(COLUMNS) <= set(SHEETS)


def test_every_table_has_a_sheet_or_a_reason_why_none() -> None:
    told = {table_name(spec.table) for spec in SHEETS.values()} | set(NOT_IN_SHEETS)
    assert told | {"person_private", "hire_note"} == set(metadata.tables)
    for spec in SHEETS.values():
        kept = {"id", "ref", "version", "pin_digest", "named_at"}
        calculated = {"last_good_day", "last_good_basis", "forecast_day", "forecast_of"}
        assert set(column_facts(spec.table)) - set(spec.fields) <= kept | calculated


def test_a_sheet_that_may_be_left_out_is_not_missed(workplace: Workplace, tmp_path: Path) -> None:
    rows = {name: each for name, each in small_rows().items() if not SHEETS[name].optional}
    report = import_folder(workplace, write_folder(tmp_path / "sheets", rows))
    assert (report.faults, report.written) == ((), True)


def test_every_row_is_taken_in_with_a_journal_that_verifies(workplace: Workplace, folder: Path) -> None:
    report = import_folder(workplace, folder)
    assert report.faults == ()
    assert report.written
    assert report.added == {name: len(rows) for name, rows in small_rows().items()}
    found = verify(workplace.database)
    assert (found.first_break, found.entries) == (None, report.entries)
    assert rebuild_lives(workplace) == []


def test_the_same_folder_twice_changes_nothing_the_second_time(workplace: Workplace, folder: Path) -> None:
    first = import_folder(workplace, folder)
    before = rows_in(workplace.database)
    second = import_folder(workplace, folder)
    assert not second.written
    assert sum(second.added.values()) == 0
    assert second.unchanged == first.added
    assert rows_in(workplace.database) == before


def test_a_dry_run_says_what_would_change_and_writes_nothing(workplace: Workplace, folder: Path) -> None:
    report = import_folder(workplace, folder, dry_run=True)
    assert (report.written, report.faults) == (False, ())
    assert sum(report.added.values()) == sum(len(rows) for rows in small_rows().values())
    assert rows_in(workplace.database) == 0


def test_a_folder_that_grew_adds_only_what_is_new(workplace: Workplace, folder: Path) -> None:
    import_folder(workplace, folder)
    rows = small_rows()
    rows["units"].append({**rows["units"][1], "record": "UNI-3", "tag": "B-03", "serial": "1003"})
    rows["holds"].append({**rows["holds"][0], "record": "HOL-2", "unit": "B-03"})
    report = import_folder(workplace.as_person(MANAGER), write_folder(folder, rows))
    assert report.faults == ()
    assert {name: count for name, count in report.added.items() if count} == {"units": 1, "holds": 1}
    assert verify(workplace.database).first_break is None


def test_values_arrive_in_the_units_and_zone_of_the_records(workplace: Workplace, folder: Path) -> None:
    import_folder(workplace, folder)
    # Berlin is two hours ahead of UTC in May: Regulation of the European Parliament on summer time, 2000/84/EC.
    assert one(workplace, select(Calibration.at, Calibration.humidity).where(Calibration.ref == "CAL-2")) == (
        datetime(2026, 5, 4, 6, 40, tzinfo=UTC), 0.55,
    )  # fmt: skip
    made = select(Part.made_on, Part.made_precision).where(Part.ref == "PRT-H1")
    assert one(workplace, made) == (date(2023, 4, 1), "quarter")
    assert one(workplace, select(PartTest.done_on, PartTest.precision)) == (date(2025, 3, 1), "month")


def test_names_and_words_about_hires_stay_out_of_the_journal(workplace: Workplace, folder: Path) -> None:
    import_folder(workplace, folder)
    with workplace.database.reading() as connection:
        journal = "".join(connection.scalars(select(Journal.content)))
        names = list(connection.scalars(select(PersonPrivate.name).order_by(PersonPrivate.person_id)))
        notes = list(connection.scalars(select(HireNote.text)))
    assert names == ["Tamsin Orrel", "Jarek Vinthe", "Žofia Ångqvist"]
    assert notes == ["fine"]
    assert not any(word in journal for word in ("Orrel", "mail.invalid", "Ångqvist"))


def test_an_erased_person_is_not_brought_back_by_the_same_sheet(workplace: Workplace, folder: Path) -> None:
    import_folder(workplace, folder)
    with workplace.transaction("erase person", "R1") as act:
        person = act.get(Person, 3, "person")
        act.change(person, erased_at=act.at)
        act.session.execute(text("DELETE FROM person_private WHERE person_id = 3"))
    report = import_folder(workplace, folder)
    assert (report.faults, report.written) == ((), False)
    with workplace.database.reading() as connection:
        assert connection.scalar(select(func.count()).select_from(PersonPrivate)) == 2


def test_every_calibration_is_an_entry_of_its_own_with_readings_and_outcomes(
    workplace: Workplace, folder: Path
) -> None:
    import_folder(workplace, folder)
    with workplace.database.reading() as connection:
        named = select(Journal.subject).where(Journal.subject.like("calibration %")).order_by(Journal.id)
        subjects = list(connection.scalars(named))
        kinds = (CalibrationReading, CalibrationOutcome)
        counts = [connection.scalar(select(func.count()).select_from(kind)) for kind in kinds]
    assert subjects == ["calibration CAL-1", "calibration CAL-2"]
    assert counts == [16, 4]


def test_open_fittings_get_their_calendar_last_good_day(workplace: Workplace, folder: Path) -> None:
    import_folder(workplace, folder)
    # 12 months from opening on 1 February 2026 end before 18 months from making in January 2026: common practice,
    # no published source.
    assert one(workplace, select(Fitting.last_good_day, Fitting.last_good_basis).where(Fitting.ref == "FIT-2")) == (
        date(2027, 1, 31), "opened",
    )  # fmt: skip
    assert one(workplace, select(Fitting.last_good_day).where(Fitting.ref == "FIT-5")) == (None,)


def test_a_shorter_life_that_comes_later_ends_what_is_fitted_already(workplace: Workplace, tmp_path: Path) -> None:
    rows = small_rows()
    import_folder(workplace, write_folder(tmp_path / "first", rows))
    life = rows["part_type_lives"][0]
    rows["part_type_lives"].append({**life, "record": "LIF-9", "amount": "6", "source": "invented manual, revision 2"})
    report = import_folder(workplace.as_person(MANAGER), write_folder(tmp_path / "second", rows))
    assert report.written and report.notes == ()
    assert rebuild_lives(workplace) == []
    asked = select(Part.id, Part.opened_on, Fitting.last_good_day).join(Fitting, Fitting.part_id == Part.id)
    part_id, opened, kept = one(workplace, asked.where(Fitting.ref == "FIT-2"))
    # The day before the anniversary, by dateutil's own month arithmetic.
    assert isinstance(opened, date)
    assert kept == opened + relativedelta(months=6, days=-1)
    assert kept in {each.last_good_day for each in list_due(workplace) if each.part_id == part_id}


def test_a_test_of_a_fitted_part_that_comes_later_moves_its_day_in_the_same_act(
    workplace: Workplace, tmp_path: Path
) -> None:
    rows = small_rows()
    yearly = {"part_type": "CAN-B", "basis": "test_interval", "test": "service", "amount": "12"}
    rows["part_type_lives"].append({**rows["part_type_lives"][0], "record": "LIF-9", **yearly})
    import_folder(workplace, write_folder(tmp_path / "first", rows))
    kept = select(Fitting.last_good_day).where(Fitting.ref == "FIT-4")
    assert one(workplace, kept) == (None,)
    made = rows["part_tests"][0]
    # Twelve months from 10 March 2026, the day before the anniversary; a test not passed since leaves no day.
    for number, (done_on, passed, day) in enumerate(
        (("2026-03-10", "yes", date(2027, 3, 9)), ("2026-04-02", "no", None))
    ):
        told = {"part": "PRT-K1", "kind": "service", "done_on": done_on, "passed": passed}
        rows["part_tests"].append({**made, **told, "record": f"PTE-{number + 8}"})
        report = import_folder(workplace.as_person(MANAGER), write_folder(tmp_path / done_on, rows))
        assert report.written, report.faults
        assert one(workplace, kept) == (day,)
        assert rebuild_lives(workplace) == []


def test_a_looser_limit_or_life_is_told_and_changes_nothing(workplace: Workplace, tmp_path: Path) -> None:
    rows = small_rows()
    import_folder(workplace, write_folder(tmp_path / "first", rows))
    limit, life = rows["limits"][0], rows["part_type_lives"][0]
    rows["limits"].append({**limit, "record": "LIM-9", "amount": "7", "source": "a looser page"})
    rows["part_type_lives"].append({**life, "record": "LIF-9", "amount": "24", "source": "a looser page"})
    report = import_folder(workplace.as_person(MANAGER), write_folder(tmp_path / "second", rows))
    assert [note.split(":")[0] for note in report.notes] == ["limit 'cell air low' of CELL-A", "life of CELL-A"]
    with workplace.database.reading() as connection:
        low = [each.amount for each in read_limits(connection) if each.name == "cell air low"]
    assert low == [8.5]
    assert rebuild_lives(workplace) == []


def test_dates_are_shifted_from_the_stated_day_and_plain_import_never_shifts(
    workplace: Workplace, folder: Path
) -> None:
    import_folder(workplace, folder, shift_to=date(2026, 8, 12))
    # 4 May to 12 August 2026 are 100 days; 1 January 2026 plus 100 days is 11 April, 1 April 2023 is 10 July.
    assert one(workplace, select(Unit.in_service_on).where(Unit.tag == "B-01")) == (date(2024, 6, 9),)
    assert one(workplace, select(Part.made_on).where(Part.ref == "PRT-C1")) == (date(2026, 4, 1),)
    assert one(workplace, select(Part.made_on).where(Part.ref == "PRT-H1")) == (date(2023, 7, 1),)
    calibrated = select(Calibration.at).where(Calibration.ref == "CAL-2")
    assert one(workplace, calibrated) == (datetime(2026, 8, 12, 6, 40, tzinfo=UTC),)


def test_a_unit_may_be_named_by_its_former_tag(workplace: Workplace, tmp_path: Path) -> None:
    report = import_folder(workplace, spoiled(tmp_path / "s", lambda rows: rows["runs"][0].update(unit="OLD-1")))
    assert report.faults == ()


def test_columns_may_stand_in_any_order_and_empty_lines_between_rows(workplace: Workplace, folder: Path) -> None:
    lines = (folder / "owners.csv").read_text().splitlines()
    turned = [",".join(reversed(line.split(","))) for line in lines]
    (folder / "owners.csv").write_text("\n\n".join(["\ufeff" + turned[0], *turned[1:], ",,", ""]), encoding="utf-8")
    assert import_folder(workplace, folder).faults == ()


def test_a_cancelled_import_writes_nothing(workplace: Workplace, folder: Path) -> None:
    told: list[tuple[str, float]] = []

    def stop(what: str, done: float) -> None:
        told.append((what, done))
        if what == "writing calibrations":
            raise Cancelled("import: stopped; nothing was written")

    with pytest.raises(Cancelled):
        import_folder(workplace, folder, progress=stop)
    assert rows_in(workplace.database) == 0
    assert [done for _, done in told] == sorted(done for _, done in told)
    assert 0.5 < told[-1][1] < 1


def test_what_another_desk_recorded_meanwhile_is_seen_before_anything_is_written(
    workplace: Workplace, folder: Path
) -> None:
    other = Workplace(Database(workplace.database.url), workplace.clock)
    waiting = [True]

    def meanwhile(what: str, _done: float) -> None:
        if what == "judging calibrations" and waiting:
            waiting.clear()
            assert import_folder(other, folder).written

    report = import_folder(workplace, folder, progress=meanwhile)
    other.database.close()
    assert (report.written, report.faults) == (False, ())
    assert verify(workplace.database).first_break is None


def test_a_folder_that_is_not_there_is_refused(workplace: Workplace, tmp_path: Path) -> None:
    with pytest.raises(Refused, match="is not there"):
        import_folder(workplace, tmp_path / "nowhere")


def test_matching_a_folder_runs_no_statement_a_row(sample_workplace: Workplace, folder: Path) -> None:
    counted: list[str] = []
    event.listen(sample_workplace.database.engine, "before_cursor_execute", lambda *given: counted.append(given[2]))
    import_folder(sample_workplace, folder, dry_run=True)
    assert len(counted) < 2 * len(SHEETS) + 20


def test_the_sample_fleet_is_taken_in_without_a_fault_and_twice_the_same(sample_workplace: Workplace) -> None:
    folder = shipped("sample_fleet")
    again = import_folder(sample_workplace, folder)
    assert (again.faults, again.written) == ((), False)
    assert again.unchanged == {name: len(sheet.rows) for name, sheet in read_folder(folder).sheets.items()}
    assert verify(sample_workplace.database).first_break is None
    assert rebuild_lives(sample_workplace) == []


def test_importing_leaves_the_folder_as_it_was(workplace: Workplace, folder: Path) -> None:
    def prints() -> dict[str, str]:
        return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.iterdir()}

    before = prints()
    import_folder(workplace, folder)
    assert prints() == before


def only(folder: Path, name: str, text: str) -> Path:
    """A folder with one file."""
    folder.mkdir()
    (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


def test_one_file_alone_can_be_imported(workplace: Workplace, tmp_path: Path) -> None:
    report = import_folder(workplace, only(tmp_path / "one", "owners", "record,name,kind\nOWN-1,The centre,centre\n"))
    assert (report.faults, report.added["owners"], report.written) == ((), 1, True)


def test_hours_without_a_time_zone_are_a_fault(workplace: Workplace, tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "sheets", small_rows())
    (folder / "centre.csv").unlink()
    assert [(each.sheet, each.column) for each in import_folder(workplace, folder).faults] == [("centre", "timezone")]


def test_the_recorded_time_zone_holds_where_no_file_states_it(workplace: Workplace, tmp_path: Path) -> None:
    import_folder(workplace, write_folder(tmp_path / "sheets", small_rows()))
    folder = write_folder(tmp_path / "again", small_rows())
    (folder / "centre.csv").unlink()
    report = import_folder(workplace, folder)
    assert (report.faults, report.written) == ((), False)


def test_a_person_entered_in_the_window_is_the_one_in_the_file(workplace: Workplace, tmp_path: Path) -> None:
    enter_person(workplace, code="M1", role="manager", name="Mara Example")
    header = "record,code,role,name,contact,active\n"
    for number, record in enumerate(("PER-7", "#1")):
        folder = only(tmp_path / str(number), "people", f"{header}{record},M1,manager,Mara Example,,yes\n")
        report = import_folder(workplace, folder)
        assert (report.faults, report.unchanged["people"], report.written) == ((), 1, False)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("record;name;kind\nOWN-1;The centre;centre\n", "is divided by semicolons"),
        ("Our owners,,\n\nrecord,name,kind\nOWN-1,The centre,centre\n", "take the 2 rows above them out"),
        ("record,name,kind\n,The centre,centre\n", "is empty; type the text"),
    ],
)
def test_a_file_of_another_form_is_told_in_one_line(workplace: Workplace, tmp_path: Path, text: str, said: str) -> None:
    (fault,) = import_folder(workplace, only(tmp_path / "one", "owners", text)).faults
    assert said in fault.message


def test_the_empty_files_are_read_back_and_every_column_is_described(workplace: Workplace, tmp_path: Path) -> None:
    write_template(tmp_path / "template")
    report = import_folder(workplace, tmp_path / "template")
    assert (report.faults, report.written) == ((), False)
    described = (tmp_path / "template" / "columns.txt").read_text(encoding="utf-8")
    assert all(f"    {column.name}: " in described for spec in SHEETS.values() for column in spec.columns)
