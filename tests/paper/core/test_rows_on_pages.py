"""The workshop's answers on the pages: times become the site's, nothing unknown becomes fine."""

from dataclasses import fields, replace
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from fleetbench.calc.core.verdict import DueState, Result
from fleetbench.calc.readiness.judge import Assessment, Check, HandoverKind, Moment
from fleetbench.calc.tickets.signing import TaskFact
from fleetbench.paper.core.document import Letterhead, letterhead
from fleetbench.paper.core.marks import at_site
from fleetbench.paper.due.page import DueList, write_due_list
from fleetbench.paper.hires.handover_sheet import HandoverSheet
from fleetbench.paper.hires.pages import write_handover
from fleetbench.paper.tickets.ticket import write_ticket
from fleetbench.records.bench.reads import BenchTestRecord
from fleetbench.records.canisters.reads import FillRecord
from fleetbench.records.cells.reads import OutcomeRecord
from fleetbench.records.core.database import Database
from fleetbench.records.core.journal import EntryRecord
from fleetbench.records.gas.reads import FilledCylinder
from fleetbench.records.parts.reads import PartRecord
from fleetbench.records.tickets.reads import FindingRecord, MoveRecord, TaskRecord, TicketRecord
from fleetbench.records.upkeep.verify import journal_end
from fleetbench.workshop.bench.valves import TestLine
from fleetbench.workshop.cells.list import OutcomeLine
from fleetbench.workshop.cells.outlook import CalibrationConditions, ReaderShown
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import DueItem
from fleetbench.workshop.gas.state import GasDepths
from fleetbench.workshop.hires.list import CylinderFacts, HandoverFacts, HandsetFacts
from fleetbench.workshop.tickets.list import MoveLine, TaskLine, TicketPage, TicketRow
from fleetbench.workshop.units.list import CellLine, FillLine
from tests.centres.bench_centre import write_centre
from tests.paper.distinct import Distinct
from tests.paper.pdf_reader import made, texts
from tests.paper.sample_pages import relabelled

ZONE = ZoneInfo("Europe/Athens")
NOW = datetime(2026, 5, 7, 5, 40, tzinfo=UTC)
HEAD = Letterhead("Kelpbank", "2026-05-07 08:40 EEST")
MORNING = datetime(2026, 5, 6, 22, 30, tzinfo=UTC)
TODAY = date(2026, 5, 7)


def item(**changes: object) -> DueItem:
    due = DueItem(
        "KB-07",
        "cell 2",
        "oxygen cell",
        "OC-1",
        11,
        "replace",
        date(2026, 6, 1),
        "opened",
        25,
        DueState.DUE_SOON,
        "bench",
        False,
        "why",
        "H-1",
    )
    return replace(due, **changes)  # type: ignore[arg-type]


def bench_test(**changes: Any) -> TestLine:
    nothing = dict.fromkeys(each.name for each in fields(BenchTestRecord))
    known = {
        "test_id": 5,
        "at": MORNING,
        "kind": "loop negative",
        "result": "pass",
        "held": True,
        "watched_minutes": 5.0,
    }
    return TestLine(BenchTestRecord(**{**nothing, **known, **changes}), "Ada")


def ticket() -> TicketPage:
    record = Distinct().row(
        TicketRecord, unit="KB-07", unit_type="back-mounted", unit_serial="U-1", cause="hand-back", reason="cell lags",
        opened_at=MORNING, opened_by="Ada", minutes=30.0, signed_at=MORNING, signed_by="Bo", second=None,
    )  # fmt: skip
    row = TicketRow(record, "2026-014", 0, 1, 0, None)
    said = Distinct().row(
        OutcomeRecord, calibration_id=3, at=MORNING, made="workshop", unit="KB-07", position="cell 1", verdict="reject",
        air_mv=10.4, oxygen_mv=44.0, linearity=88.7, expanded_u=1.2, verified_up_to_bar=1.01, finding="not linear",
    )  # fmt: skip
    outcome = OutcomeLine(
        said,
        "Ada",
        Distinct().row(PartRecord, serial="OC-9"),
        (ReaderShown("handset 1", 1, 10.4, 44.1), ReaderShown("handset 2", 2, 1.31, None, in_bar=True)),
        CalibrationConditions(1004.0, 21.5, 55.0, 99.4),
    )
    better = replace(
        said, calibration_id=4, at=NOW, verdict="pass", linearity=100.2, oxygen_mv=49.9, finding="in limits"
    )
    later = replace(outcome, outcome=better)
    moved = Distinct().row(MoveRecord, slot="cell 1", part_type="oxygen cell", serial="OC-9", lot="L-1")
    move = MoveLine(moved, "out", datetime(2026, 5, 7, 1, 0, tzinfo=UTC), "head H-1", "fault", "Ada")
    task = TaskRecord(1, 1, "do it", True, "done", 5.0, MORNING, 1, "Ada", None, 0, None)
    return TicketPage(
        row,
        (FindingRecord(1, MORNING, 1, "Ada", "seen"),),
        (TaskLine(task, TaskFact("do it", "done"), "done"),),
        (move, replace(move, way="in", move=replace(moved, serial=None))),
        (bench_test(),),
        (later, outcome),
        ("loop opened",),
        ("disinfected",),
        Distinct().row(EntryRecord, entry=9, hash="cd" * 32),
        Distinct().row(EntryRecord, entry=7, hash="ab"),
    )


def handover(**changes: object) -> HandoverFacts:
    cylinder = CylinderFacts(
        "oxygen cylinder",
        Distinct().row(PartRecord, serial="CY-1"),
        Distinct().row(
            FilledCylinder,
            role="oxygen",
            size_l=3.0,
            filled_at=MORNING,
            analysed_at=NOW,
            oxygen_percent=99.1,
            helium_percent=0.0,
        ),
        190.0,
        "Ada",
        (("hydrostatic", date(2021, 1, 1)), ("hydrostatic", date(2024, 1, 1)), ("visual", date(2026, 1, 1))),
        date(2027, 1, 1),
        "test_interval",
        GasDepths(1.6),
    )
    stale = relabelled(cylinder, "CY-2", "diluent")
    stale = replace(stale, filled=replace(stale.filled, analysed_at=MORNING))
    checks = (
        Check("cell age", Moment.THROUGH_RETURN, Result.ADVISE, "all of one lot", "spread the lots", accepted="by Bo"),
        Check("absorbent", Moment.HAND_OVER, Result.STOP, "fill past 24 h", "pack anew"),
        Check("loop", Moment.RELEASE, Result.OK, "held", ""),
    )
    facts = HandoverFacts(
        "Kelpbank",
        "+00 555 0134",
        "KB-07",
        "back-mounted",
        "U-1",
        "the manual",
        "L",
        "H-1",
        "hire",
        "Bo",
        "Cy",
        TODAY,
        date(2026, 5, 9),
        "assembled",
        "HIR-1",
        120.0,
        30.0,
        12.0,
        0.7,
        1.2,
        "HD-1",
        (HandsetFacts("handset 1", "HS-1", None, None, None, None, None, None),),
        (
            CellLine(
                "cell 1",
                Distinct().row(PartRecord, serial="OC-1", lot="L-1"),
                date(2026, 9, 1),
                "opened",
                Distinct().row(
                    OutcomeRecord,
                    at=MORNING,
                    air_mv=10.4,
                    oxygen_mv=49.8,
                    linearity=100.2,
                    expanded_u=1.1,
                    verified_up_to_bar=1.01,
                ),
                "pass",
                "",
            ),
            CellLine("cell 2", None, None, None, None, None, None),
        ),
        MORNING,
        "Ada",
        FillLine(
            Distinct().row(FillRecord, fill_id=17, packed_at=MORNING, mass_g=None, lot="A-1"),
            "Ada",
            "Cy",
            0.2,
            88.0,
            "rated",
            "enough for the plan",
        ),
        NOW,
        (cylinder, stale),
        (bench_test(), bench_test(kind="battery voltage", value=3.6, unit_of_value="V", held=None)),
        MORNING,
        None,
        (),
        ("dent",),
        Assessment("hold", HandoverKind.ASSEMBLED, (TODAY, TODAY), checks),
        TODAY,
    )
    return replace(facts, **changes)  # type: ignore[arg-type]


def sheet_text(**changes: object) -> str:
    sheet = HandoverSheet(facts=at_site(handover(**changes), ZONE), letterhead=HEAD)
    return " ".join(texts(made(write_handover, sheet)))


def names(*items: DueItem) -> list[str]:
    return [name for _, name in DueList(on=TODAY, through=TODAY, items=items).named]


def ticket_text(page: TicketPage) -> str:
    return " ".join(texts(made(write_ticket, at_site(page, ZONE), head=HEAD)))


def test_the_letterhead_states_the_sites_time_with_its_zone_and_the_start_of_the_journals_hash(
    sqlite_database: Database, clock: Any
) -> None:
    write_centre(sqlite_database, clock())
    head, end = letterhead(Workplace(sqlite_database, clock)), journal_end(sqlite_database)
    assert head.printed_at == "2026-05-04 09:30 CEST"
    assert (head.journal_entry, head.journal_hash) == (end[0], (end[1] or "")[:16])


def test_every_moment_within_a_row_becomes_the_sites_and_nothing_else_changes() -> None:
    there = at_site(ticket(), ZONE)
    assert there == ticket(), "the moments are the same"
    assert there.row.ticket.opened_at.hour == 1 and there.moves[0].at.hour == 4
    assert there.tasks[0].task.settled_at is not None and there.tasks[0].task.settled_at.hour == 1


def test_a_due_item_keeps_its_name_when_day_part_and_limit_change() -> None:
    replaced = item(part="OC-2", part_id=12, last_good_day=date(2027, 1, 1), basis="made", item="replace early")
    assert names(replaced) == names(item()) == ["KB-07 / cell 2"]


def test_every_due_item_has_a_name_of_its_own() -> None:
    items = [
        item(),
        item(last_good_day=None),
        item(slot="cell 3", part_id=12),
        item(unit="KB-08"),
        item(unit=None, slot=None),
        item(unit=None, slot=None, part_id=12),
        item(part_id=None, slot=None, item="workshop calibration"),
        item(part_id=None, slot=None, item="loop tests"),
        item(),
    ]
    assert len(set(names(*items))) == len(items)


def test_due_items_reach_the_page_as_they_are() -> None:
    items = (item(), item(last_good_day=None, days_left=None))
    text = texts(made(write_due_list, DueList(on=TODAY, through=date(2026, 7, 6), items=items)))[0]
    assert "2026-06-01 25 due soon KB-07 cell 2 replace OC-1 opened H-1" in text
    assert "Last valid day not recorded" in text and "record DUE-2026-05-07" in text


def test_the_ticket_tells_readings_before_from_after_the_change_of_parts() -> None:
    text = ticket_text(ticket())
    assert text.index("readings before parts were changed") < text.index("readings after parts were changed")
    assert "cell 1 OC-9 10.4 mV 44.1 mV 1.31 bar not recorded 88.7 ± 1.2 % 1.01 bar reject" in text
    assert "pressure 1004 mbar" in text and "humidity 55 %" in text and "oxygen analysed 99.4 %" in text
    assert "workshop calibration 2026-05-07 01:30, Ada" in text, "22:30 UTC is half past one at the site"
    assert "cell 1 of head H-1" in text and "OC-9" in text and "fault" in text
    assert "loop opened" in text and "disinfected" in text
    assert "journal entry 9 cdcdcdcdcdcdcdcd" in text


def test_a_signature_from_a_sheet_says_that_no_journal_entry_holds_it() -> None:
    page = replace(ticket(), signed_in=None)
    text = ticket_text(page)
    assert "told by an imported file, not signed in this program" in text


def test_the_sheet_shows_what_the_workshop_knows() -> None:
    text = sheet_text()
    for fact in (
        "Cy",
        "2026-05-09",
        "HS-1, firmware not recorded",
        "cell 1 OC-1 2026-09-01 10.4 mV 49.8 mV 100.2 ± 1.1 %",
        "fill 17",
        "2026-05-07 01:30, Ada",
        "discard by 2026-05-07 08:40",
        "enough for the plan",
        "hydrostatic 2024-01-01",
        "O2 99.1 %",
        "disinfected 2026-05-07 01:30, not marked dry",
        "dent",
    ):
        assert fact in text


def test_a_cell_without_a_calibration_is_not_recorded_and_not_calibrated() -> None:
    text = sheet_text()
    assert "cell 2 not recorded not recorded not recorded not recorded not recorded not recorded not calibrated" in text


def test_an_analysis_older_than_the_fill_reaches_the_page_as_a_warning() -> None:
    assert "filled after its last analysis: analyse it" in sheet_text()


def test_a_unit_that_something_stops_says_so_before_anything_else_on_its_sheet() -> None:
    text = sheet_text()
    band, stop, kind, fault, advice = (
        text.index(words)
        for words in (
            "ON HOLD: not to go out for diving as recorded", "absorbent: fill past", "Asked for: assembled", "dent",
            "advise: cell age",
        )
    )  # fmt: skip
    assert band < stop < kind < fault < advice
    assert "(by Bo)" in text and "loop: held" not in text and "Handed over: assembled" not in text


def test_a_unit_that_nothing_stops_is_handed_over_without_the_box() -> None:
    sound = Assessment("ready", HandoverKind.ASSEMBLED, (TODAY, TODAY), ())
    assert "ON HOLD" not in sheet_text(assessment=sound)


def test_every_stop_is_printed_however_many_there_are() -> None:
    checks = tuple(Check(f"check {n}", Moment.RELEASE, Result.STOP, "why " * 20, "do it") for n in range(60))
    text = sheet_text(assessment=Assessment("hold", HandoverKind.ASSEMBLED, (TODAY, TODAY), checks))
    assert all(f"check {n}: why" in text for n in range(60)) and text.count("why") == 60 * 20


def test_each_handset_has_its_own_column_and_one_that_does_not_read_a_cell_says_so() -> None:
    first, second = handover().cells
    shown = (ReaderShown("handset 1", 1, 10.4, 49.8), ReaderShown("handset 2", 2, 10.5, None))
    cells = (replace(first, shown=shown), replace(second, shown=shown[:1]))
    text = sheet_text(cells=cells, conditions=CalibrationConditions(1009.0, 21.5, None, 99.4))
    assert "handset 1" in text and "handset 2" in text and "normalised" not in text
    assert "10.4 mV 49.8 mV 10.5 mV not recorded" in text
    assert "10.4 mV 49.8 mV not read not read" in text
    assert "pressure 1009 mbar" in text and "humidity not recorded" in text


def test_no_check_of_fitness_speaks_on_a_sheet_that_is_not_for_diving() -> None:
    text = sheet_text(hand_over="not for diving")
    assert "dent" in text and "ON HOLD" not in text and "absorbent: fill past" not in text and "advise" not in text


@pytest.mark.parametrize("record, printed", [("HIR-1", "HIR-1"), (None, "KB-07 2026-05-07")])
def test_a_sheet_without_a_hire_is_named_by_unit_and_day(record: str | None, printed: str) -> None:
    assert f"record {printed}" in sheet_text(record=record)
