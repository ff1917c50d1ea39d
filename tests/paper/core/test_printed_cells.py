"""Every printed cell holds the value of the workshop's row that it comes from: two swapped neighbours are caught.

The rows are the workshop's own, each field with a value of its own (invented), printed as people print them.
"""

import csv
import io
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from icalendar import Calendar

from fleetbench import printing
from fleetbench.calc.canisters.fill import RatedMinutes
from fleetbench.calc.core.verdict import DueState, Result
from fleetbench.calc.earnings.days import DayState, Keep, KeepCost, UnitSpent, UseLine
from fleetbench.calc.hires.promises import HireState
from fleetbench.calc.notices.scope import NoticeFacts
from fleetbench.calc.readiness.judge import Assessment, Check
from fleetbench.calc.tickets.signing import TaskFact
from fleetbench.calc.tickets.steps import PlanStep, StepGiven
from fleetbench.paper.canisters.labels import write_fill_labels
from fleetbench.paper.core.document import Heading, Letterhead, PageSize, letterhead
from fleetbench.paper.core.flow import write_flow
from fleetbench.paper.earnings.report import SHOWN, as_data, as_lines
from fleetbench.paper.gas.label import write_cylinder_labels
from fleetbench.paper.parts.pages import write_fetch_list
from fleetbench.paper.units import evidence as evidence_pages
from fleetbench.paper.units.schematic import schematic_block
from fleetbench.records.bench.reads import BenchTestRecord
from fleetbench.records.cells.reads import OutcomeRecord
from fleetbench.records.core.database import Database
from fleetbench.records.gas.reads import FilledCylinder
from fleetbench.records.parts.lookups import ProofFigures
from fleetbench.records.tickets.reads import PhotographRecord, TicketRecord
from fleetbench.records.tickets.service_plan import TicketStep
from fleetbench.records.units.history import EvidenceTable
from fleetbench.workshop.bench.valves import TestLine
from fleetbench.workshop.canisters.history import FillLabel
from fleetbench.workshop.cells.list import OutcomeLine
from fleetbench.workshop.cells.outlook import ReaderShown
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import DueItem
from fleetbench.workshop.earnings.report import EarningsReport
from fleetbench.workshop.gas.list import CylinderLine
from fleetbench.workshop.gas.oxygen_side import UnitCylinder
from fleetbench.workshop.gas.state import GasDepths
from fleetbench.workshop.hires.handover import AccessoryLine
from fleetbench.workshop.hires.list import CylinderFacts, HandoverFacts
from fleetbench.workshop.hires.pages import Board, ReturnFacts
from fleetbench.workshop.hires.signing import Signed
from fleetbench.workshop.notices.acts import NotDone, NoticePage
from fleetbench.workshop.notices.touched import Touched, TouchedContainer, TouchedHire, TouchedPart
from fleetbench.workshop.parts.acts import ReturnPage
from fleetbench.workshop.parts.list import FittedPart, PartPage
from fleetbench.workshop.parts.orders import FetchRow, OrderLine
from fleetbench.workshop.tickets.list import MoveLine, TaskLine, TicketPage, TicketRow
from fleetbench.workshop.turn_rounds.page import CardLine, TurnRoundCard, TurnRoundDesk
from fleetbench.workshop.units.history import EvidenceRecords
from fleetbench.workshop.units.holds import StandingIncident
from fleetbench.workshop.units.list import CellLine, FillLine, UnitPage
from fleetbench.workshop.units.schematic import DrawnSide, Feed, Schematic, Station
from tests.centres.bench_centre import write_centre
from tests.paper.distinct import Distinct
from tests.paper.pdf_reader import texts
from tests.paper.sample_pages import gas_state
from tests.paper.structure import read

FIRST, LAST = date(2026, 3, 1), date(2026, 4, 2)


@pytest.fixture
def desk(sqlite_database: Database, clock: Any) -> Workplace:
    """The bench centre with its technician at the desk."""
    return Workplace(sqlite_database, clock).as_person(write_centre(sqlite_database, clock()).technician)


@pytest.fixture
def some() -> Distinct:
    """What makes the rows."""
    return Distinct()


class Page:
    """What a reader sees of one PDF."""

    def __init__(self, path: Path) -> None:
        self.text = " ".join(texts(path.read_bytes()))

    def holds(self, *cells: object) -> None:
        """The cells stand side by side in this order, and no two of them are alike."""
        words = [str(cell) for cell in cells]
        assert len(set(words)) == len(words), f"cells alike, so that a swap would pass: {words}"
        assert " ".join(words) in self.text, f"{' '.join(words)!r} is not on the page:\n{self.text}"


def printed(path: Path, write: Callable[[Path], object]) -> Page:
    """The page, which can be listened to and archived as every page can (ISO 14289-1, ISO 19005-2)."""
    write(path)
    assert read(path.read_bytes()).faults == []
    return Page(path)


def answers(monkeypatch: pytest.MonkeyPatch, where: Any, **given: object) -> None:
    """Let the workshop's functions of these names answer with these rows."""
    for name, answer in given.items():
        monkeypatch.setattr(where, name, lambda *_, _answer=answer, **__: _answer)


def dictionaries(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(path.read_text("utf-8-sig"), newline="")))


def at(workplace: Workplace, moment: datetime | None) -> str:
    """A moment at the centre, as pages say it."""
    assert moment is not None
    return f"{moment.astimezone(workplace.zone()):%Y-%m-%d %H:%M}"


def due_item(some: Distinct) -> DueItem:
    return some.row(DueItem, state=DueState.LATER, basis="test_interval", item="replace", days_left=7)


def fetched(some: Distinct) -> FetchRow:
    return some.row(FetchRow)


@pytest.mark.parametrize("ending", [".pdf", ".csv", ".xlsx", ".ics"])
def test_the_due_list(
    desk: Workplace, some: Distinct, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ending: str
) -> None:
    item, fetch = due_item(some), fetched(some)
    answers(monkeypatch, printing, fetch_list=(fetch,))
    path = tmp_path / f"due{ending}"
    printing.print_due(desk, [item], FIRST, LAST, path)
    piece = fetch.take[0]
    name = f"{item.unit} / {item.slot}"
    cells = {
        "last valid day": item.last_good_day, "days left": item.days_left, "state": item.state, "unit": item.unit,
        "slot": item.slot, "part type": item.part_type, "part": item.part, "item": item.item,
        "set by": "test interval", "projected": "yes", "place": item.place, "affects booking": item.hits,
        "record": name,
    }  # fmt: skip
    assert len(set(map(str, cells.values()))) == len(cells)
    if ending == ".csv":
        assert dictionaries(path) == [{title: str(value) for title, value in cells.items()}]
    elif ending == ".xlsx":
        book = openpyxl.load_workbook(path)
        told, to_fetch = list(book["due"].values), list(book["fetch"].values)
        assert {title: getattr(value, "date", lambda v=value: v)() for title, value in zip(*told, strict=True)} == cells
        assert dict(zip(*to_fetch, strict=True)) == {
            "part type": fetch.part_type, "wanted": fetch.wanted, "counted in": "piece",
            "take, oldest usable first": piece.part.label, "from": piece.place, "short": fetch.short,
        }  # fmt: skip
    elif ending == ".ics":
        (event,) = Calendar.from_ical(path.read_bytes()).walk("VEVENT")
        assert event.decoded("dtstart") == max(item.last_good_day, FIRST)  # past: on the day of the list
        assert str(event["summary"]) == f"{item.unit} {item.slot}: replace"
        said = str(event["description"]).splitlines()
        assert said[:4] == [
            f"Last valid day {item.last_good_day}, inclusive.",
            "Set by: test interval, projected from expected use.",
            f"Part: {item.part_type}, {item.part}.",
            f"First booking hit: {item.hits}.",
        ]
    else:
        page = Page(path)
        page.holds("last valid day", "days left", "state", "unit", "slot", "item", "part", "set by",
                   "affects booking")  # fmt: skip
        page.holds(item.last_good_day, item.days_left, item.state, item.unit, item.slot, item.item, item.part,
                   "test interval, projected", item.hits)  # fmt: skip
        page.holds("part type", "wanted", "take, oldest usable first", "from", "short")
        page.holds(fetch.part_type, fetch.wanted, piece.part.label, piece.place, f"short {fetch.short}")
        page.holds(f"{FIRST} through {LAST}")


def test_the_pick_list(desk: Workplace, some: Distinct, tmp_path: Path) -> None:
    row = replace(fetched(some), wanted_for=("LK-01, cell 1", "LK-02, cell 2"))
    head = letterhead(desk)
    path = tmp_path / "fetch.pdf"
    page = printed(path, lambda path: write_fetch_list([row], path, head=head, first=FIRST, last=LAST))
    (piece,) = row.take
    page.holds(piece.place, "take", "part type", "last valid day", "for", "got it")
    page.holds(piece.part.label, row.part_type, piece.last_good_day, "LK-01, cell 1")
    page.holds("part type", "wanted", "short", "for")
    page.holds(row.part_type, row.wanted, row.short, "LK-02, cell 2")
    page.holds(f"{FIRST} through {LAST}", "1 to take")


@pytest.mark.parametrize("stocked_in", ["piece", "kg"])
def test_the_order_list(
    desk: Workplace, some: Distinct, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stocked_in: str
) -> None:
    line = some.row(OrderLine, stocked_in=stocked_in)
    answers(monkeypatch, printing, order_list=(line,))
    unit = " kg" if stocked_in == "kg" else ""
    page = printed(tmp_path / "orders.pdf", lambda path: printing.print_orders(desk, path))
    page.holds("part type", "usable", "on hand", "reserved", "ends soon", "need", "short from", "order", "lead", "cost")
    page.holds(
        line.part_type, f"{line.usable:g}{unit}", f"{line.on_hand:g}{unit}", line.reserved, f"{line.expiring:g}{unit}",
        f"{line.need:.1f}{unit}", f"{line.short_on}, late",
        f"{line.quantity:g}{unit} ({line.packs} x {line.pack_size:g})", f"{line.lead_days} d", f"{line.cost:.2f}",
    )  # fmt: skip
    page.holds(f"Order by {line.order_on}, from {line.supplier}", "part type")
    page.holds(f"{line.part_type}:", f"{line.why[0]}.")
    printing.print_orders(desk, tmp_path / "orders.csv")
    cells = {
        "order on": line.order_on, "part type": line.part_type, "code": line.code, "order": line.quantity,
        "packs": line.packs, "pack size": line.pack_size, "counted in": line.stocked_in, "usable": line.usable,
        "on hand": line.on_hand, "reserved": line.reserved, "ends on the shelf": line.expiring, "need": line.need,
        "safety stock": line.safety, "short on": line.short_on, "days late": line.late_by,
        "lead days": line.lead_days, "cost": line.cost, "why": line.why[0],
        "supplier": line.supplier,
    }  # fmt: skip
    assert dictionaries(tmp_path / "orders.csv") == [{title: str(value) for title, value in cells.items()}]


def test_the_notices_that_are_not_done(
    desk: Workplace, some: Distinct, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    row = some.row(NotDone, notice=some.row(NoticeFacts, weight="stop"))
    notice = row.notice
    answers(monkeypatch, printing, units_not_done=(row,))
    page = printed(tmp_path / "notices.pdf", lambda path: printing.print_notices(desk, path))
    page.holds(f"{notice.number}: {notice.title}", f"stops the unit; by {notice.by_when}, past. To do: {notice.action}")
    page.holds("unit", "place", "what is named", "done on, by")
    page.holds(row.unit.unit, row.unit.place, row.unit.why[0])


def test_a_recall(desk: Workplace, some: Distinct, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    hire, renter = some.row(TouchedHire, state=HireState.OUT), some.row(TouchedHire, state=HireState.BACK, diver=None)
    shelf = some.row(TouchedPart, unit=None, slot=None)
    touched = some.row(Touched, hires=(hire, renter))
    touched = replace(touched, parts=(*touched.parts, shelf))
    recall = some.row(NoticePage, notice=some.row(NoticeFacts, weight="stop"), touched=touched)
    notice = recall.notice
    answers(monkeypatch, printing, notice_page=recall)
    page = printed(tmp_path / "recall.pdf", lambda path: printing.print_recall(desk, notice.number, path))
    page.holds(f"Notice {notice.number}", f"stops units and parts issued {notice.issued_on} by {notice.by_when}")
    page.holds("what", notice.title, "to do", notice.action, notice.text, "Out now: ring first")
    page.holds("booking", "state", "unit", "diver or renter", "dives with it", "from and to")
    for each in (hire, renter):
        page.holds(f"{each.booking}, {each.kind}", each.state, each.unit, each.diver or each.renter,
                   f"dived with it, {each.dives} dives", f"{each.starts_on} to {each.ends_on}")  # fmt: skip
    (unit,), (container,) = touched.units, touched.containers
    page.holds("unit", "state", "place", "what is named")
    page.holds(unit.unit, "hold", unit.place, unit.why[0])
    page.holds("part", "part type", "state", "where")
    part = touched.parts[0]
    page.holds(part.part, part.part_type, part.state, f"{part.unit}, {part.slot}")
    page.holds(shelf.part, shelf.part_type, shelf.state, shelf.place)
    assert isinstance(container, TouchedContainer)
    page.holds(f"lot {container.lot}", container.part_type, f"{container.left_kg:g} kg left", container.place)


def test_the_note_of_a_return(desk: Workplace, some: Distinct, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cell = some.row(ProofFigures, held=None, value=None, unit=None)
    test = some.row(ProofFigures, air_mv=None, oxygen_mv=None, linearity=None)
    found = some.row(ReturnPage, page=some.row(PartPage, limits=()), proofs=(cell, test))
    told = found.page
    answers(monkeypatch, printing, return_page=found)
    page = printed(tmp_path / "return.pdf", lambda path: printing.print_return(desk, 1, path))
    page.holds(f"Return of {found.page.part.label}", f"{found.page.kind.name} sent {at(desk, found.sent_at)}")
    for label, value in (
        ("part type", told.kind.name), ("serial", told.part.serial), ("lot", told.part.lot), ("made", told.made),
        ("opened", told.opened), ("received", told.part.received_on), ("supplier", told.lies.supplier),
        ("price", f"{told.lies.price:.2f}"), ("sent back", f"{at(desk, found.sent_at)}, {found.sent_by}"),
    ):  # fmt: skip
        page.holds(label, value)
    page.holds("What is wrong with it", found.reason, "Readings that prove it")
    page.holds("when", "what", "result", "read", "finding")
    read = (f"air {cell.air_mv} mV; oxygen {cell.oxygen_mv} mV; linearity {cell.linearity} ± {cell.expanded_u} %",
            f"held; {test.value} {test.unit}")  # fmt: skip
    for proof, figures in zip(found.proofs, read, strict=True):
        page.holds(at(desk, proof.at), proof.kind, proof.result, figures, proof.finding)
    page.holds("Where it served", found.served[0])
    page.holds(f"record RETURN-{found.event_id}")


def cell_row(line: OutcomeLine | CellLine, *before: object) -> tuple[object, ...]:
    (shown,), last = line.shown, line.outcome
    assert last is not None
    return (*before, f"{shown.air} mV", f"{shown.oxygen} mV", f"{last.linearity} ± {last.expanded_u} %",
            f"{last.verified_up_to_bar:.2f} bar", "pass")  # fmt: skip


def test_a_ticket(desk: Workplace, some: Distinct, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shown = some.row(ReaderShown, in_bar=False)
    outcome = some.row(OutcomeLine, shown=(shown,), outcome=some.row(OutcomeRecord, verdict="pass", made="workshop"))
    out, into = some.row(MoveLine, way="out"), some.row(MoveLine, way="in", host=None)
    done = some.row(TaskLine, state="done", fact=some.row(TaskFact, missing=()))
    put_off = some.row(TaskLine, state="put off")
    ticket = some.row(
        TicketPage, row=some.row(TicketRow, ticket=some.row(TicketRecord, unit="LK-01")), calibrations=(outcome,),
        moves=(out, into), tasks=(done, put_off),
    )  # fmt: skip
    answers(monkeypatch, printing, pictures_of={})
    seal, out_of, undone = (
        some.row(
            TicketStep, number=number, task_id=done.task.task_id, plan=some.row(PlanStep, kind="seal"), photograph=None,
            second=None,
            given=some.row(StepGiven, state=state, seal="replaced", pieces=pieces, before=None, after=None,
                           lubricant=None, lot=None),
        )
        for number, state, pieces in (("1.1", "done", 999), ("1.2", "left out", 0), ("1.3", "done", 0))
    )  # fmt: skip
    ticket = replace(ticket, steps=(seal, out_of, undone))
    page = printed(tmp_path / "ticket.pdf", lambda path: printing.print_ticket(desk, ticket, path))
    row, signed, record = ticket.row, ticket.signed_in, ticket.row.ticket
    assert signed is not None and outcome.conditions is not None
    page.holds(f"Service ticket {row.number}", f"cause: {row.ticket.cause} critical refers to {row.refers_to}")
    page.holds("unit serial", ticket.row.ticket.unit_serial)
    page.holds("opened", f"{at(desk, row.ticket.opened_at)}, {row.ticket.opened_by}")
    page.holds("time worked", f"{row.ticket.minutes:g} min")
    page.holds("state", f"signed {at(desk, record.signed_at)}")
    page.holds("worked by:", ticket.times[0].person, f"{ticket.times[0].minutes:g} min")
    page.holds("Why it was opened", row.ticket.reason, "Findings")
    (finding,), (test,), (photograph,) = ticket.findings, ticket.tests, ticket.photographs
    page.holds(f"{at(desk, finding.at)}, {finding.person}", finding.text)
    room = outcome.conditions
    last = outcome.outcome
    page.holds(f"calibration {last.calibration_id}", f"workshop calibration {at(desk, last.at)}, {outcome.person}"
               f", pressure {room.pressure_mbar:.0f} mbar, temperature {room.temperature_c} °C, humidity "
               f"{room.humidity_percent:.0f} %, oxygen analysed {room.oxygen_percent} %")  # fmt: skip
    page.holds(*cell_row(outcome, last.position, outcome.part and outcome.part.label))
    page.holds(f"{last.position}:", last.finding)
    page.holds("test", "result", "seen", "at supply", "with", "when, by whom")
    seen = test.record
    page.holds(f"{seen.kind}, {seen.direction}", seen.result,
               f"held, watched {seen.watched_minutes} min, {seen.value} ± {seen.expanded_u} {seen.unit_of_value}",
               f"{seen.supply_bar} bar", seen.equipment, f"{at(desk, seen.at)}, {test.person}")  # fmt: skip
    page.holds(f"{seen.kind}:", f"{seen.finding}.", seen.note)
    page.holds(f"{out.move.slot} of {out.host}", out.move.part_type, out.move.serial, out.move.lot, out.why,
               f"{at(desk, out.at)}, {out.person}")  # fmt: skip
    page.holds(
        into.move.slot, into.move.part_type, into.move.serial, into.move.lot, f"{at(desk, into.at)}, {into.person}"
    )
    page.holds("no.", "task", "weight", "state", "minutes", "settled, by")
    for task in ticket.tasks:
        page.holds(task.task.ordinal, task.task.text, "critical", task.state, task.task.minutes,
                   f"{at(desk, task.task.settled_at)}, {task.task.person}")  # fmt: skip
    page.holds(f"{put_off.task.ordinal} put off ({put_off.task.times_put_off} times): {put_off.task.put_off_reason}")
    page.holds("no.", "step", "asked for", "recorded", "state", "when, by whom")
    for step, state in ((seal, "done"), (out_of, "left out"), (undone, "no record")):
        used = () if state == "left out" else (f"replaced, 1 {step.part_type}, {step.lots[0]}",)
        page.holds(step.number, step.plan.text, f"seal at {step.plan.what}, {step.plan.size}, replaced", *used, state,
                   f"{at(desk, step.settled_at)}, {step.person}")  # fmt: skip
    page.holds(f"{out_of.number} left out: {out_of.given.reason}")
    page.holds(f"{undone.number} without its record: parts: 0 of {undone.plan.pieces} taken from stock")
    page.holds("Stays due", ticket.not_counted[0])
    page.holds("Openings", ticket.openings[0])
    page.holds("Disinfection", ticket.disinfections[0])
    page.holds(photograph.caption, f"{at(desk, photograph.at)}, {photograph.person}; SHA-256 {photograph.sha256}")
    page.holds("Notes", ticket.materials[0])
    page.holds("corrected by ticket", ticket.corrected_by[0])
    page.holds(
        "signed off",
        f"{at(desk, record.signed_at)}, {record.signed_by}",
        "signature",
        "second person",
        row.ticket.second,
    )
    page.holds(f"journal entry {signed.entry} {signed.hash}")


def sheet(some: Distinct) -> HandoverFacts:
    """A sheet with every field of its own; the checks speak, one as a stop and one as advice."""
    test = some.row(TestLine, record=some.row(BenchTestRecord, result="pass"))
    stop = some.row(Check, result=Result.STOP)
    filled = some.row(FilledCylinder, role="diluent", oxygen_percent=31.5, filled_at=None)
    advice = some.row(Check, result=Result.ADVISE, to_do_minutes=None)
    shown = some.row(ReaderShown, in_bar=False)
    tests = (("hydrostatic", FIRST), ("visual", LAST))
    return some.row(
        HandoverFacts,
        tag="LK-01",
        hand_over="assembled",
        assessment=some.row(Assessment, checks=(stop, advice)),
        cells=(some.row(CellLine, shown=(shown,), verdict="pass"),),
        cylinders=(
            some.row(CylinderFacts, filled=filled, tests=tests, depths=some.row(GasDepths, dense_at_m=(None, None))),
        ),
        tests=(test,),
        fitted=(
            some.row(FittedPart, slot_kind="canister"),
            some.row(FittedPart, slot_kind="regulator"),
        ),
        signatures=(),
        signed_page=None,
        spare=False,
        fill_against="",
        language="en",
    )  # fmt: skip


def test_the_hand_over_sheet(desk: Workplace, some: Distinct, tmp_path: Path) -> None:
    facts = sheet(some)
    page = printed(tmp_path / "sheet.pdf", lambda path: printing.print_handover(desk, facts, path))
    (handset,), (cell,), (cylinder,), (test,) = facts.handsets, facts.cells, facts.cylinders, facts.tests
    room, fill, (battery,), (along,) = facts.conditions, facts.fill, facts.batteries, facts.accessories
    assert room is not None and fill is not None and cell.last_good_day is not None and battery.fitted_at is not None
    stop, advice = facts.assessment.checks
    page.holds(f"{facts.starts_on} to {facts.ends_on}", "booking", facts.booking)
    page.holds(f"The page signed on {at(desk, facts.signed_before)} is kept as it was signed.")
    page.holds(f"– {stop.check}: {stop.evidence}")
    page.holds("Diver", facts.diver)
    page.holds("Emergency number", facts.emergency_telephone)
    page.holds(f"({facts.ends_on}) at {facts.back_by}")
    page.holds(f"Unit {facts.tag}, serial {facts.unit_serial}, {facts.unit_type}. Harness: {facts.harness}.")
    page.holds(f"Accessories: {along.sent}× {along.name}", f"Deposit: {facts.deposit:g}")
    page.holds(f"Depth: {facts.planned_depth_m:g} m. Time on one fill of absorbent: {facts.planned_minutes:g} min.")
    page.holds(f"Water: {facts.planned_water_c:g} °C.")
    page.holds(f"Absorbent: fill {fill.fill.fill_id}, packed {at(desk, fill.fill.packed_at)}, for you alone.")
    page.holds(f"Discard it by {at(desk, facts.discard_by)}.")
    for label, value in (
        ("unit serial", facts.unit_serial), ("head serial", facts.head_serial),
        (handset.slot, f"{handset.serial}, firmware {handset.firmware}"),
        ("set-points", f"low {facts.set_point_low_bar:.2f} bar, high {facts.set_point_high_bar:.2f} bar"),
        ("fill", f"fill {fill.fill.fill_id}"), ("canister", facts.fitted[0].part),
        ("packed", f"{at(desk, fill.fill.packed_at)}, {fill.packed_by}"),
        ("absorbent", f"lot {fill.fill.lot}, {fill.fill.mass_g:.0f} g"), ("discard by", at(desk, facts.discard_by)),
        ("for the plan:", fill.reason),
        ("disinfected", f"{at(desk, facts.disinfected_at)}, dry {at(desk, facts.dry_at)}"),
    ):  # fmt: skip
        page.holds(label, value)
    page.holds(f"calibration {at(desk, facts.calibrated_at)}, {facts.calibrated_by}, pressure {room.pressure_mbar:.0f} "
               f"mbar, temperature {room.temperature_c} °C, humidity {room.humidity_percent:.0f} %, oxygen analysed "
               f"{room.oxygen_percent} %")  # fmt: skip
    page.holds(*cell_row(cell, cell.position, cell.part and cell.part.label, cell.last_good_day))
    page.holds(f"planned on this hire: {facts.planned_depth_m:.0f} m, {facts.planned_minutes:.0f} min a fill")
    page.holds(cylinder.filled.role, cylinder.part.label, f"{cylinder.filled.size_l:g} L, {cylinder.end_bar:.0f} bar",
               f"O2 {cylinder.filled.oxygen_percent} %", f"He {cylinder.filled.helium_percent} %")  # fmt: skip
    depths = cylinder.depths
    assert depths.maximum_depth_m is not None
    page.holds(f"to {int(depths.maximum_depth_m)} m: oxygen {depths.limit_bar:g} bar")
    page.holds(f"hydrostatic {FIRST}, visual {LAST}, last valid day {cylinder.last_good_day}, analysed "
               f"{at(desk, cylinder.filled.analysed_at)}, {cylinder.analysed_by}")  # fmt: skip
    regulator = facts.fitted[1]
    page.holds("regulators", f"{regulator.slot} {regulator.part}, last valid day {regulator.last_good_day}")
    seen = test.record
    page.holds(f"{seen.kind}, {seen.direction}", seen.result, f"{at(desk, seen.at)[:10]}, held {seen.watched_minutes} "
               f"min, {seen.value} {seen.unit_of_value}, {test.person}")  # fmt: skip
    page.holds("batteries", f"{battery.device} {battery.volts:.2f} V on {at(desk, battery.read_at)[:10]}, fitted "
               f"{at(desk, battery.fitted_at)[:10]}")  # fmt: skip
    page.holds(f"{along.sent} ×", along.name)
    page.holds("–", facts.known_faults[0])
    page.holds("–", f"advise: {advice.check}: {advice.evidence} ({advice.accepted})")
    page.holds(f"record {facts.record}")


def test_signatures_on_a_sheet_without_a_stop(desk: Workplace, some: Distinct, tmp_path: Path) -> None:
    by_hand = some.row(Signed, party="diver", strokes=(), of_other_days=False)
    centre = some.row(Signed, party="centre", of_other_days=True)
    facts = replace(sheet(some), signatures=(by_hand, centre), assessment=some.row(Assessment, checks=()))
    page = printed(tmp_path / "sheet.pdf", lambda path: printing.print_handover(desk, facts, path))
    page.holds("Handed over by", facts.handed_over_by)
    page.holds(f"Changed since: sign again. Signed before: {at(desk, centre.at)}")
    page.holds(f"Changed since: sign again. Signed before: {at(desk, by_hand.at)}")
    page.holds("Handed over: assembled")


def test_the_daily_log(desk: Workplace, some: Distinct, tmp_path: Path) -> None:
    facts = sheet(some)
    page = printed(tmp_path / "log.pdf", lambda path: printing.print_daily_log(desk, facts, path))
    page.holds("Daily log", "booking", facts.booking, "Invented Lake Centre", facts.unit_type, facts.tag)
    page.holds("day", "start", "loop minutes")
    page.holds("air mV", "oxygen mV", facts.handsets[0].slot, facts.cells[0].position)
    page.holds(f"record {facts.record}")


def test_the_course_board(desk: Workplace, some: Distinct, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    board = some.row(Board)
    answers(monkeypatch, printing, course_board=board)
    page = printed(tmp_path / "board.pdf", lambda path: printing.print_course_board(desk, "any", path))
    (row,), booking = board.rows, board.booking
    for label, value in (
        ("instructor", booking.instructor), ("days", f"{booking.booking.starts_on} to {booking.booking.ends_on}"),
        ("planned", f"{booking.booking.planned_minutes:.0f} min a fill {booking.booking.planned_depth_m:.0f} m deep"),
        ("units wanted", f"{booking.booking.units_wanted}, of which spare {board.spares}"),
    ):  # fmt: skip
        page.holds(label, value)
    page.holds("Unit", "Who", "Leaves as", "Harness", "State", "What stops it, or what is to do")
    page.holds(row.unit, row.who, row.leaves, row.harness, row.state, row.why)
    page.holds("Without a unit:", board.without[0])
    page.holds(
        f"{booking.booking.kind.capitalize()} board", f"booking {booking.booking.code} {booking.booking.unit_type}"
    )


def test_the_receipt_of_a_return(
    desk: Workplace, some: Distinct, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    along = some.row(AccessoryLine, sent=9, back=4)
    back = some.row(ReturnFacts, accessories=(along,))
    answers(monkeypatch, printing, return_facts=back)
    page = printed(tmp_path / "receipt.pdf", lambda path: printing.print_return_receipt(desk, 1, path))
    for label, value in (
        ("renter", back.renter), ("hire", f"{back.starts_on} to {back.ends_on}"),
        ("received", f"{at(desk, back.received_at)}, {back.days_late} days late"), ("received by", back.received_by),
        ("deposit", f"{back.deposit:g}"), ("deposit given back", f"{back.deposit_back:g}"),
        ("loop minutes", f"{back.loop_minutes:.0f} min"), ("dives", back.dives), ("damage", "yes"),
        ("missing", back.missing),
    ):  # fmt: skip
        page.holds(label, value)
    page.holds("Accessory", "Went along", "Came back")
    page.holds(along.name, 9, "4, 5 lacking")
    page.holds(f"record {back.record}")
    page.holds("Return receipt", f"booking {back.booking}")


def test_use_and_cost(desk: Workplace, some: Distinct, tmp_path: Path) -> None:
    """Days, minutes, parts and money of a unit, its causes, what would have saved days, and what keeping it costs."""
    days = dict(zip((*SHOWN, DayState.NOT_THERE), (31, 32, 33, 34, 35, 36), strict=True))
    line = some.row(UseLine, days=days, spent=some.row(UnitSpent))
    keep = KeepCost(Keep.MORE, 1234.5, 678.25, "of these")
    report = some.row(EarningsReport, units=(line,), types=(), keep={line.name: keep}, own={}, unit_days=())
    page = printed(tmp_path / "use.pdf", lambda path: printing.print_earnings(desk, report, path))
    spent, (cause,), (saving,) = line.spent, report.causes, report.savings
    hours = spent.dive_minutes / 60
    page.holds("promised", "out", "fit, not out", "waiting for work", "lost", "not known", "down while wanted")
    page.holds(line.name, line.promised, 31, 32, 33, 34, 35, line.lost_wanted, "38 to 59 %")
    page.holds(
        line.name, f"{hours:.1f}", f"{spent.bench_minutes:.0f}", f"{spent.bench_minutes / 31:.1f}",
        f"{spent.bench_minutes / hours:.1f}", f"{spent.priced + spent.unpriced}, {spent.unpriced} unpriced",
        f"{spent.money:.2f}", f"{spent.money / 31:.2f}", f"{spent.money / hours:.2f}", f"{spent.absorbent_kg:.1f} kg",
    )  # fmt: skip
    page.holds(line.name, "1,234.50", "678.25", "costs more than another", "of these")
    page.holds(cause.what, cause.days, cause.alone, cause.wanted, cause.units, cause.unknown)
    ((unit, on),) = saving.times
    page.holds("one spare on the shelf", saving.what, saving.least, saving.most, saving.wanted, f"{unit}, {on}")
    assert as_data(report)["units"][0]["spent"]["bench_minutes"] == spent.bench_minutes
    said = [" ".join(each.split()) for each in as_lines(report)]
    assert f"{line.name} {line.promised} 31 32 33 34 35 {line.lost_wanted} 38 to 59 %" in said


def test_the_turn_round_card(desk: Workplace, some: Distinct, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    card = some.row(TurnRoundCard, lines=(some.row(CardLine, state="done"),))
    shown = replace(bare_desk(some), card=card)
    answers(monkeypatch, printing, turn_round_desk=shown)
    page = printed(tmp_path / "card.pdf", lambda path: printing.print_turn_round(desk, shown.unit, path))
    drying, (line,), record = card.drying, card.lines, card.record
    assert drying is not None
    for label, value in (
        ("opened", f"{at(desk, record.opened_at)}, {record.opened_by}"), ("flood found", at(desk, record.flooded_at)),
        ("disinfected", f"{at(desk, drying.disinfected_at)}, {drying.bath}"), ("found dry", at(desk, drying.dry_at)),
        ("It stands on ticket", f"{card.ticket}."),
        ("Finished", f"{at(desk, record.finished_at)}, {record.finished_by}; the hold is lifted."),
        ("Disinfection of shared breathing parts:", f"{shown.reference}."),
        ("back from", f"{record.booking} AFTER A FLOOD"), (f"record {record.number}", "printed"),
    ):  # fmt: skip
        page.holds(label, value)
    page.holds("no.", "line", "state", "how, or why left out", "when, by whom")
    page.holds(
        line.line.ordinal, line.text, "done", line.line.how, f"{at(desk, line.line.settled_at)}, {line.line.person}"
    )
    page.holds(shown.unit_type, shown.unit)


def bare_desk(some: Distinct) -> TurnRoundDesk:
    return some.row(TurnRoundDesk, service=(), handsets=None, signers=(), people=())


def test_an_incident(desk: Workplace, some: Distinct, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cylinder = some.row(UnitCylinder, state=gas_state("diluent", 96.0, 32.5, 10.5))
    handset, fill = some.row(FittedPart, slot_kind="handset"), some.row(FillLine)
    unit = some.row(UnitPage, fitted=(handset,), fill=fill, cylinders=(cylinder,), history=(), batteries=(), cells=())
    incident = some.row(StandingIncident)
    answers(monkeypatch, evidence_pages, standing_incident=incident, unit_page=unit)
    page = printed(tmp_path / "incident.pdf", lambda path: evidence_pages.print_incident(desk, "any", path))
    page.holds("What was reported", incident.reason, f"frozen {at(desk, incident.placed_at)}, {incident.placed_by}")
    page.holds("Incident: preserve", f"{unit.row.unit_type}, serial {unit.row.serial}", "Invented Lake Centre", "unit",
               unit.row.tag)  # fmt: skip
    page.holds("filled from the same batch", incident.held_beside[0])
    page.holds("what", "part", "recorded")
    assert cylinder.state.analysis is not None
    page.holds("diluent", cylinder.part.label,
               f"96 bar; O2 32.5 %, He 10.5 %, analysed {at(desk, cylinder.state.analysis.at)}")  # fmt: skip
    page.holds("absorbent", "the fill in its canister", f"packed {at(desk, fill.fill.packed_at)}, lot {fill.fill.lot}")
    page.holds(handset.slot, handset.part, f"firmware {handset.firmware}; log not to be cleared")


def test_the_evidence_of_a_unit(
    desk: Workplace, some: Distinct, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = some.row(PhotographRecord)
    readings = EvidenceTable("cells", ("air", "oxygen"), ((10.1, "=1+1"), (10.2, None)))
    found = some.row(EvidenceRecords, sheets=(readings,), photographs=(("2026-014", shown, None),))
    answers(monkeypatch, evidence_pages, gather_evidence=found)
    folder = tmp_path / "evidence"
    evidence_pages.write_evidence(desk, "any", FIRST, LAST, folder)
    page = Page(folder / "evidence.pdf")
    page.holds(
        "Evidence", f"serial {found.serial}, {found.first} to {found.last}", "Invented Lake Centre", "unit", found.tag
    )
    page.holds("Head, as `verify --head` reads it:", found.head)
    page.holds("Walk over chain and records:", found.broken)
    page.holds("cells.csv:", "2 rows")
    (line,) = found.history
    page.holds("when", "what", "recorded", "verdict", "by")
    page.holds(at(desk, line.at), line.kind, line.words, line.verdict, line.person)
    page.holds(shown.caption, f"{at(desk, shown.at)}, {shown.person}; SHA-256 {shown.sha256}")
    assert dictionaries(folder / "cells.csv") == [{"air": "10.1", "oxygen": "'=1+1"}, {"air": "10.2", "oxygen": ""}]
    manifest = (folder / evidence_pages.MANIFEST).read_text()
    assert f"# unit {found.tag}, serial {found.serial}, {found.first} to {found.last}" in manifest
    assert f"# journal head {found.head}" in manifest and f"# journal and records: {found.broken}" in manifest


def test_the_label_of_a_fill(some: Distinct, tmp_path: Path) -> None:
    label = some.row(FillLabel, shared=False, rated=(RatedMinutes(11.5, 31.5, 1.25, 141.5, "fine", "invented"),))
    page = printed(tmp_path / "fill.pdf", lambda path: write_fill_labels([label], path, centre="Lake"))
    (rated,) = label.rated
    assert label.packed_at is not None and label.discard_by is not None
    page.holds(label.fill, label.canister, "Lake", f"packed {label.packed_at:%Y-%m-%d %H:%M}, {label.packed_by}",
               f"lot {label.lot}, {label.mass_g:.0f} g")  # fmt: skip
    page.holds(f"rated {rated.minutes} min at {rated.water_c} °C, {rated.depth_m} m, {rated.co2_l_min} L/min CO2")
    page.holds(f"discard by {label.discard_by:%Y-%m-%d %H:%M}", "ONE DIVER ONLY")
    page.holds(f"diver {label.diver}", f"or {label.hours_after_first_use} h after first use, if sooner")


def test_the_label_of_a_cylinder(some: Distinct, tmp_path: Path) -> None:
    state = gas_state("diluent", 96.0, 31.5, 10.5)
    label = some.row(CylinderLine, wished=None, state=state, depths=some.row(GasDepths, dense_at_m=(None, None)))
    page = printed(tmp_path / "cylinder.pdf", lambda path: write_cylinder_labels([label], path, centre="Lake"))
    depths = label.depths
    assert state.analysis is not None and depths.maximum_depth_m is not None
    page.holds("DILUENT", "O2 31.5 % He 10.5 %")
    page.holds("96 bar", label.part.label, "Lake")
    page.holds(
        f"to {int(depths.maximum_depth_m)} m: oxygen {depths.limit_bar:g} bar", f"last valid day {label.next_test}"
    )
    page.holds(f"analysed {state.analysis.at:%Y-%m-%d %H:%M}, {label.analysed_by}")


def test_the_schematic_names_each_slot_with_its_state(some: Distinct, tmp_path: Path) -> None:
    states = ("good", "due soon", "failed", "unknown")
    stations = [some.row(Station, state=state, slot_id=place, inside=()) for place, state in enumerate(states)]
    loop, fed = tuple(stations[:2]), tuple(stations[2:])
    drawn = Schematic("LK-01", loop, (Feed(DrawnSide.OXYGEN, fed, 0),), ())
    block = schematic_block(drawn, 520, 7)
    heading = Heading(Letterhead("Lake", "today"), "Schematic", "S-1")
    page = printed(tmp_path / "drawn.pdf", lambda path: write_flow([block], heading, path, PageSize.A4))
    for each in stations:
        page.holds(each.slot, each.shown)
