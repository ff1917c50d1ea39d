"""The daily log of a unit: typed, as a table or as a filled form it is one thing, checked line by line."""

import csv
import io
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from fleetbench.calc.hires.log import ReadLine, read_line
from fleetbench.paper.turn_rounds.pages import UnitForm, write_daily_log
from fleetbench.records.canisters.tables import Fill, Run
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.tables import BookingUnit, HandBack, HireNote, LogReading
from fleetbench.records.tickets.tables import Ticket
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.canisters.runs import RunEntry, correct_run
from fleetbench.workshop.cells.list import cell_page
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.handback import (
    OpenLog,
    hand_back,
    log_entry,
    log_template,
    open_log,
    open_returns,
    read_log_file,
)
from fleetbench.workshop.hires.handover import Accepting, Handing, hand_over, look_before
from fleetbench.workshop.hires.receive import receive
from fleetbench.workshop.units.list import unit_page
from tests.centres.hire_centre import HireCentre
from tests.centres.kept_centres import kept
from tests.paper.sample_pages import LETTERHEAD


@pytest.fixture
def centre(sqlite_database: Database, clock: Any) -> HireCentre:
    """LK-01 is packed, and promised on H-7 from today for three days."""
    made = HireCentre(Workplace(sqlite_database, clock), clock)
    made.make_fit()
    made.make_fit("LK-01", pack=True)
    return made


@kept
def came_back(centre: HireCentre, tag: str = "LK-01", kind: str = "assembled") -> OpenLog:
    """The log of a unit that left and came back after thirty hours."""
    look = look_before(centre.workplace, tag, "H-7", kind)
    accepting = [Accepting(tag, check, centre.day(20), "seen, and known") for check in look.to_accept]
    hand_over(centre.workplace, "H-7", [Handing(unit=tag, kind=kind)], accepting=accepting,
              manager_id=centre.manager, pin="2468")  # fmt: skip
    centre.clock.advance(hours=30)
    receive(centre.workplace, tag, wet=True, flooded=False, fault=False)
    (about,) = open_returns(centre.workplace)
    return open_log(centre.workplace, about)


def dives(log: OpenLog) -> list[dict[str, str]]:
    """Two dives of the day of return: one with its start and readings, one whose start is not known."""
    day = str(log.span.last.day)
    (fill,) = log.span.fills
    air = next(each.key for each in log.columns if each.key.endswith("|air"))
    return [
        {"day": day, "start": "01:10", "minutes": "62", "deepest_m": "22,5", "coldest_c": "11", "fill": fill,
         "oxygen_in": "200", "oxygen_out": "150", "valves": "y", air: "10.4", "fault": "handset 2 went blank"},
        {"day": log.span.last.isoformat(), "start": "?", "minutes": "40"},
    ]  # fmt: skip


def table_of(log: OpenLog, rows: Sequence[dict[str, str]], sign: str = ",") -> bytes:
    """The template as it was saved, its lines filled in by a spreadsheet."""
    head = list(csv.reader(io.StringIO(log_template(log).decode("utf-8-sig"), newline="")))[:2]
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, delimiter=sign)
    writer.writerows(head)
    writer.writerows([number, *(row.get(each.key, "") for each in log.columns)] for number, row in enumerate(rows, 1))
    return stream.getvalue().encode("utf-8-sig")


def form_of(log: OpenLog, rows: Sequence[dict[str, str]]) -> bytes:
    """The printed form, its fields filled in by another library."""
    readings = [each for each in log.columns if each.group]
    facts = UnitForm(
        letterhead=LETTERHEAD, record="LOG-1", unit=log.about.unit, booking=log.about.booking,
        cells=tuple(dict.fromkeys(each.short for each in readings)),
        handsets=tuple(dict.fromkeys(each.group for each in readings)),
    )  # fmt: skip
    stream, filled = io.BytesIO(), io.BytesIO()
    write_daily_log(facts, stream, fields=True)
    texts = {
        f"line {number} column {place}": row[each.key]
        for number, row in enumerate(rows, 1)
        for place, each in enumerate(log.columns)
        if each.key in row
    }
    with pikepdf.open(stream) as document:
        for field in document.Root.AcroForm.Fields:
            if (text := texts.pop(str(field.T), None)) is not None:
                field.V = pikepdf.String(text)
        document.save(filled)
    assert texts == {}, "the form has a field for each cell"
    return filled.getvalue()


def kept(centre: HireCentre) -> list[tuple[Any, ...]]:
    """The readings that a log left as figures, as recorded."""
    return [(each.dive, each.run_id, each.part_id, each.quantity, each.handset, each.value, each.on_day,
             each.started_at) for each in centre.rows(LogReading)]  # fmt: skip


def fitted(centre: HireCentre, slot: str, tag: str = "LK-01") -> int | None:
    """The part that sits in a slot of the unit or of its head, as the unit's page lists it."""
    return next((each.part_id for each in unit_page(centre.workplace, tag).fitted if each.slot == slot), None)


def lines_of(log: OpenLog, rows: Sequence[dict[str, str]]) -> list[ReadLine]:
    read = [read_line(log.columns, row, log.span) for row in rows]
    assert [each.wrong for each in read] == [{}] * len(rows)
    return read


@pytest.mark.parametrize("kind", ["table", "table with semicolons", "form"])
def test_a_filled_form_and_a_table_say_what_was_typed(centre: HireCentre, tmp_path: Path, kind: str) -> None:
    """Form fields: ISO 32000-1, 12.7, filled in by another library; the table: RFC 4180."""
    log = came_back(centre)
    path = tmp_path / "log.any"
    made = {"table": table_of(log, dives(log)), "table with semicolons": table_of(log, dives(log), ";")}
    path.write_bytes(made[kind] if kind in made else form_of(log, dives(log)))
    assert list(read_log_file(log, path)) == dives(log)


def test_a_log_reaches_the_ledger_with_its_readings_and_a_start_not_known_governs_from_the_earliest(
    centre: HireCentre,
) -> None:
    log = came_back(centre)
    (done,) = hand_back(centre.workplace, [log_entry(log, lines_of(log, dives(log)), remarks="cold")])
    first, second = sorted(centre.rows(Run), key=lambda run: run.minutes, reverse=True)
    zone = centre.workplace.zone()
    assert first.started_at == datetime(log.span.last.year, log.span.last.month, log.span.last.day, 1, 10, tzinfo=zone)
    assert (first.deepest_m, first.coldest_c, first.ended_by) == (22.5, 11, None)
    assert first.fill_id == centre.rows(Fill)[-1].id
    assert first.note is not None
    assert first.note == "log: valves tested"
    cell, cylinder = fitted(centre, "cell 1"), fitted(centre, "oxygen cylinder")
    assert kept(centre) == [
        (1, first.id, cylinder, "oxygen bar before", None, 200.0, log.span.last, first.started_at),
        (1, first.id, cylinder, "oxygen bar after", None, 150.0, log.span.last, first.started_at),
        (1, first.id, cell, "air mV", "handset 1", 10.4, log.span.last, first.started_at),
    ]
    midnight = datetime.combine(log.span.last, datetime.min.time(), tzinfo=zone)
    assert (second.started_at, second.ended_by) == (midnight, centre.rows(BookingUnit)[0].received_at)
    assert [each.reason for each in centre.rows(Ticket)] == ["Back from H-7: dive 1: handset 2 went blank"]
    assert (done.runs, done.unlogged_minutes, centre.rows(BookingUnit)[0].loop_minutes) == (2, 0.0, 102)
    assert verify(centre.workplace.database).first_break is None


def test_readings_of_a_kit_whose_fills_nobody_recorded_are_a_note_of_the_hire(centre: HireCentre) -> None:
    with centre.workplace.transaction("write", "test") as act:
        for fill in centre.rows(Fill):
            act.change(act.get(Fill, fill.id, "fill"), discarded_at=act.at, why_discarded="taken out")
    log = came_back(centre, kind="kit")
    rows = [{"day": "?", "start": "?", "minutes": "50", "diluent_in": "190", "diluent_out": "90"}]
    hand_back(centre.workplace, [log_entry(log, lines_of(log, rows))])
    assert centre.rows(Run) == []
    assert [note.text for note in centre.rows(HireNote)] == []
    assert [row[:6] for row in kept(centre)] == [
        (1, None, fitted(centre, "diluent cylinder"), "diluent bar before", None, 190.0),
        (1, None, fitted(centre, "diluent cylinder"), "diluent bar after", None, 90.0),
    ]
    assert [row[6:] for row in kept(centre)] == [(None, None)] * 2


@pytest.mark.parametrize("make", [table_of, form_of])
def test_a_file_of_another_unit_or_hire_is_refused_by_its_own_name(
    centre: HireCentre, tmp_path: Path, make: Any
) -> None:
    log = came_back(centre)
    for other in ({"unit": "LK-02"}, {"booking": "H-8"}):
        about = log.about.__class__(**{name: getattr(log.about, name) for name in log.about.__slots__} | other)
        path = tmp_path / "log.any"
        path.write_bytes(make(OpenLog(about, log.columns, log.span), dives(log)))
        with pytest.raises(Refused, match=f"is the log of {about.booking} {about.unit}, not of H-7 LK-01"):
            read_log_file(log, path)


@pytest.mark.parametrize(
    "data, words",
    [
        (b"", "does not begin with 'log of'"),
        (b"%PDF-1.7 torn", "cannot be read as PDF"),
        (b"log of,H-7 LK-01\r\nline,day\r\n", "has no line filled in"),
        (b"log of,H-7 LK-01\r\nline,day,tide\r\n1,3,high\r\n", "column 'tide' is not in this log"),
        ("log of,H-7 LK-01\r\nline,day\r\n1,3".encode("utf-16"), "is no text in UTF-8"),
        (b"log of,H-7 LK-01\nline,day\n" + b"1,3\n" * 61, "more than 60"),
    ],
)
def test_another_file_is_refused_with_what_to_do(centre: HireCentre, tmp_path: Path, data: bytes, words: str) -> None:
    log = came_back(centre)
    path = tmp_path / "log.any"
    path.write_bytes(data)
    with pytest.raises(Refused, match=words):
        read_log_file(log, path)
    with pytest.raises(Refused, match="cannot be read"):
        read_log_file(log, tmp_path / "none.csv")


def test_a_run_that_the_records_refuse_leaves_nothing_of_its_log(centre: HireCentre) -> None:
    log = came_back(centre)
    rows = [*dives(log), {"day": str(log.span.first.day), "start": "?", "minutes": "1400"}]
    with pytest.raises(Refused, match="do not fit"):
        hand_back(centre.workplace, [log_entry(log, lines_of(log, rows))])
    assert (centre.rows(Run), centre.rows(HandBack), centre.rows(Ticket)) == ([], [], [])


@pytest.mark.parametrize("way", ["typed", "table", "form"])
def test_whichever_way_a_log_comes_in_the_same_figures_are_kept_and_shown_as_the_renters_own(
    centre: HireCentre, tmp_path: Path, way: str
) -> None:
    log = came_back(centre)
    texts = dives(log)
    if way != "typed":
        path = tmp_path / "log.any"
        path.write_bytes((table_of if way == "table" else form_of)(log, texts))
        texts = list(read_log_file(log, path))
    before = cell_page(centre.workplace, fitted(centre, "cell 1") or 0)
    hand_back(centre.workplace, [log_entry(log, lines_of(log, texts))])
    assert [(row[3], row[5]) for row in kept(centre)] == [
        ("oxygen bar before", 200.0), ("oxygen bar after", 150.0), ("air mV", 10.4)
    ]  # fmt: skip
    page = cell_page(centre.workplace, fitted(centre, "cell 1") or 0)
    assert [(each.booking, each.unit, each.handset, each.value) for each in page.renters] == [
        ("H-7", "LK-01", "handset 1", 10.4)
    ]
    assert (page.calibrations, page.row.outcome, page.drift) == (before.calibrations, before.row.outcome, before.drift)
    (told,) = [each for each in unit_page(centre.workplace, "LK-01").history if each.kind == "renter's log"]
    when = f"{log.span.last} 01:10"
    assert told.words == (f"renter's log of H-7, dive 1, {when}: oxygen 200 to 150 bar; handset 1: air cell 1 10.4 mV")


def test_the_readings_of_a_run_that_was_taken_out_are_shown_no_more_and_of_a_corrected_one_they_stay(
    centre: HireCentre,
) -> None:
    log = came_back(centre)
    hand_back(centre.workplace, [log_entry(log, lines_of(log, dives(log)))])
    cell = fitted(centre, "cell 1") or 0
    first = max(centre.rows(Run), key=lambda run: run.minutes)
    choices = RunEntry(minutes=61, started_at=first.started_at, diver_id=first.diver_id, unit="LK-01")
    right = correct_run(centre.workplace, "CAN-L-LK-01", first.id, reason="a minute too much", instead=choices)
    assert len(cell_page(centre.workplace, cell).renters) == 1
    correct_run(centre.workplace, "CAN-L-LK-01", right or 0, reason="of another unit")
    assert cell_page(centre.workplace, cell).renters == ()
    assert verify(centre.workplace.database).first_break is None
