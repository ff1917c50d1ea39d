"""Invented facts for the pages: an ordinary case, an empty one, the largest ordinary one, and an overlong hostile one.

Everything here is an invented scenario; no figure in it is a limit or a rating.
"""

import hashlib
from dataclasses import fields, replace
from datetime import date, datetime, timedelta
from io import BytesIO
from typing import Any

from PIL import Image, ImageDraw

from fleetbench.calc.canisters.fill import RatedMinutes
from fleetbench.calc.core.verdict import DueState, Result
from fleetbench.calc.readiness.judge import Assessment, Check, HandoverKind, Moment
from fleetbench.calc.tickets.signing import TaskFact
from fleetbench.paper.canisters.labels import TagLabelFacts
from fleetbench.paper.core.document import Letterhead
from fleetbench.paper.due.page import DueList
from fleetbench.paper.hires.handover_sheet import HandoverSheet
from fleetbench.paper.turn_rounds.pages import UnitForm
from fleetbench.records.bench.reads import BenchTestRecord
from fleetbench.records.canisters.reads import FillRecord
from fleetbench.records.cells.reads import OutcomeRecord
from fleetbench.records.core.journal import EntryRecord
from fleetbench.records.gas.reads import AnalysisRecord, CylinderFillRecord, CylinderRecord, FilledCylinder
from fleetbench.records.parts.reads import PartRecord
from fleetbench.records.tickets.reads import (
    FindingRecord,
    MoveRecord,
    PhotographRecord,
    TaskRecord,
    TicketRecord,
    TimeRecord,
)
from fleetbench.records.turn_rounds.reads import CardLineRecord, CardRecord
from fleetbench.workshop.bench.valves import TestLine
from fleetbench.workshop.canisters.history import FillLabel
from fleetbench.workshop.cells.list import OutcomeLine
from fleetbench.workshop.cells.outlook import CalibrationConditions, ReaderShown
from fleetbench.workshop.due.list import DueItem
from fleetbench.workshop.gas.oxygen_side import UnitCylinder
from fleetbench.workshop.gas.state import GasDepths, GasState
from fleetbench.workshop.hires.handover import AccessoryLine
from fleetbench.workshop.hires.list import CylinderFacts, HandoverFacts, HandsetFacts
from fleetbench.workshop.parts.list import FittedPart
from fleetbench.workshop.parts.orders import FetchRow
from fleetbench.workshop.parts.stock import ShelfPiece
from fleetbench.workshop.tickets.list import MoveLine, TaskLine, TicketPage, TicketRow
from fleetbench.workshop.turn_rounds.handsets import BatteryLine, HandsetDesk
from fleetbench.workshop.turn_rounds.page import CardLine, HangingLoop, TurnRoundCard, TurnRoundDesk
from fleetbench.workshop.units.holds import StandingIncident
from fleetbench.workshop.units.list import CellLine, FillLine, UnitPage, UnitRow
from fleetbench.workshop.units.schematic import DrawnSide, Feed, Schematic, Station
from tests.paper.distinct import Distinct

LETTERHEAD = Letterhead(
    centre="Kelpbank Diving Station",
    printed_at="2026-05-07 08:40 CEST",
    telephone="+00 555 0134",
    printed_by="Zoë Kovačová",
    journal_entry=4182,
    journal_hash="9f2c41d07ab3",
)
_TECHNICIAN = "Łucja Żuraw"
_MANAGER = "Αθηνά Νικολάου"
CALIBRATED = datetime(2026, 5, 6, 16, 20)
ROOM = CalibrationConditions(pressure_mbar=1009.0, temperature_c=21.5, humidity_percent=64.0, oxygen_percent=99.4)
_HOSTILE = (
    "<b>bold</b> & </para> <font size=80>x</font> <img src='http://nowhere.invalid/x.png'/> %s {0} \\n "
    "\x00\x07\x1b[31m \u202eabc\u202c =cmd()"
)


def shown(air: float = 10.4, oxygen: float = 49.8, handsets: int = 2) -> tuple[ReaderShown, ...]:
    """What so many handsets showed of one cell."""
    return tuple(
        ReaderShown(f"handset {n + 1}", n + 1, round(air + 0.1 * n, 1), round(oxygen - 0.1 * n, 1))
        for n in range(handsets)
    )


def told(**figures: Any) -> OutcomeRecord:
    """What a calibration said of one cell."""
    usual = {"calibration_id": 981, "at": CALIBRATED, "made": "workshop", "finding": ""}
    usual |= {"linearity": 100.3, "expanded_u": 1.2, "verified_up_to_bar": 1.01}
    return Distinct().row(OutcomeRecord, **(usual | figures))


def cell(position: str, serial: str | None, verdict: str = "pass", **changes: Any) -> CellLine:
    """One cell with readings on two handsets, as a unit has it now."""
    figures = {name: changes.pop(name) for name in ("linearity", "expanded_u") if name in changes}
    line = CellLine(
        position=position,
        part=Distinct().row(PartRecord, serial=serial, lot="L-2510") if serial else None,
        last_good_day=date(2026, 10, 11),
        basis="opened",
        outcome=told(**figures),
        verdict=verdict,
        finding=None,
        shown=shown(),
    )
    return replace(line, **changes)


def outcome(position: str, serial: str, verdict: str = "pass", **changes: Any) -> OutcomeLine:
    """One cell with readings on two handsets, as a calibration after the work found it."""
    given = {each.name: changes.pop(each.name) for each in fields(OutcomeRecord) if each.name in changes}
    line = OutcomeLine(
        outcome=told(position=position, verdict=verdict, **given),
        person=_TECHNICIAN,
        part=Distinct().row(PartRecord, serial=serial),
        shown=shown(),
        conditions=ROOM,
    )
    return replace(line, **changes)


def bench_test(kind: str, result: str = "pass", **changes: Any) -> TestLine:
    """One test of which only its kind and result are recorded."""
    nothing = dict.fromkeys(each.name for each in fields(BenchTestRecord))
    known = {"test_id": 5, "at": datetime(2026, 5, 6, 15, 30), "kind": kind, "result": result}
    return TestLine(BenchTestRecord(**{**nothing, **known, **changes}), _TECHNICIAN)


def bench_tests() -> tuple[TestLine, ...]:
    """Eight tests of the ordinary kinds."""
    return (
        bench_test("one-way valve", direction="inhale", held=True, watched_minutes=1),
        bench_test("one-way valve", direction="exhale", held=True, watched_minutes=1),
        bench_test("loop negative", held=True, watched_minutes=5),
        bench_test("loop positive", held=True, watched_minutes=5),
        bench_test(
            "intermediate pressure",
            value=9.4,
            unit_of_value="bar",
            supply_bar=180,
            equipment="gauge G-3",
            watched_minutes=5,
        ),
        bench_test("bailout valve"),
        bench_test("addition valve", "watch", note="sticks once when dry"),
        bench_test("alarms"),
    )


def gas_state(role: str, bar: float | None, oxygen: float | None, helium: float | None = None) -> GasState:
    """A cylinder of 200 bar filled and, where oxygen is given, analysed since."""
    some = Distinct()
    analysed = some.row(
        AnalysisRecord,
        oxygen_percent=oxygen,
        helium_percent=helium,
        at=datetime(2026, 5, 6, 9, 10),
        note=None,
    )
    return some.row(
        GasState,
        facts=some.row(CylinderRecord, role=role, working_bar=200.0),
        fill=some.row(CylinderFillRecord, helium_asked=helium, note=None),
        analysis=None if oxygen is None else analysed,
        diver_analysis=None,
        bar=bar,
        used_at=None,
    )


def cylinder(
    role: str, serial: str, oxygen: float | None, helium: float | None, *, size_l: float = 3.0, **depths: Any
) -> CylinderFacts:
    """One cylinder that was filled, analysed and tested."""
    some = Distinct()
    filled = some.row(
        FilledCylinder,
        role=role,
        size_l=size_l,
        oxygen_percent=oxygen,
        helium_percent=helium,
        filled_at=datetime(2026, 5, 6, 13, 0),
        analysed_at=datetime(2026, 5, 6, 14, 5),
        fill_note=None,
        analysis_note=None,
    )
    return CylinderFacts(
        slot=f"{role} cylinder",
        part=some.row(PartRecord, serial=serial),
        filled=filled,
        end_bar=196.0,
        analysed_by=_TECHNICIAN,
        tests=(("hydrostatic", date(2023, 6, 1)), ("visual", date(2026, 2, 1))),
        last_good_day=date(2027, 1, 31),
        basis="hydrostatic",
        depths=GasDepths(depths.pop("limit_bar", None), **depths),
    )


def relabelled(each: CylinderFacts, serial: str, role: str | None = None, **changes: Any) -> CylinderFacts:
    """The same cylinder with another serial, and another role where one is given."""
    filled = replace(each.filled, role=role or each.filled.role)
    return replace(each, part=replace(each.part, serial=serial), filled=filled, **changes)


def fitted(slot: str, kind: str, part: str, last: date | None = None) -> FittedPart:
    """A part in a slot."""
    return Distinct().row(FittedPart, slot=slot, slot_kind=kind, part=part, last_good_day=last)


def schematic() -> Schematic:
    """The loop and gas sides of an ordinary unit."""
    cells = tuple(_station(40 + n, f"cell {n}", "cell", state) for n, state in ((1, "pass"), (2, "watch"), (3, "pass")))
    loop = (
        _station(1, "mouthpiece", "mouthpiece", "good"),
        _station(2, "mouthpiece valve", "mouthpiece valve", "fresh"),
        _station(3, "exhale one-way valve", "one-way valve", "good"),
        _station(4, "exhale counterlung", "counterlung", "good"),
        _station(5, "canister", "canister", "no limit"),
        replace(_station(6, "head", "head", "good"), inside=cells),
        _station(7, "inhale counterlung", "counterlung", "due soon"),
        _station(8, "inhale one-way valve", "one-way valve", "failed"),
    )
    oxygen = tuple(_station(20 + n, name, name, state) for n, (name, state) in enumerate(
        (("oxygen cylinder", "good"), ("oxygen first stage", "good"), ("solenoid", "unknown"))))  # fmt: skip
    diluent = tuple(
        _station(30 + n, name, name, "good") for n, name in enumerate(("diluent cylinder", "addition valve"))
    )
    feeds = (Feed(DrawnSide.OXYGEN, oxygen, 5), Feed(DrawnSide.DILUENT, diluent, 3))
    return Schematic("KB-07", loop, feeds, (_station(50, "wing", "wing", "good"),))


def _station(key: int, slot: str, kind: str, state: str) -> Station:
    return Station(key, slot, kind, key, f"S-{key}", state, "")


ACCESSORIES = (
    "drysuit hose", "spare mouthpiece", "check list card", "battery key", "tool roll", "bailout strap",
    "weight pocket", "carrying case", "writing slate", "surface marker", "spare o-ring set", "charger",
)  # fmt: skip


def accessory(name: str, count: int) -> AccessoryLine:
    """A thing that goes along."""
    return AccessoryLine(accessory_id=1, name=name, count=count)


def battery(device: str, volts: float | None, fitted_at: datetime | None, **changes: Any) -> BatteryLine:
    """A device's battery with its last reading."""
    read = datetime(2026, 5, 6, 15, 50)
    line = Distinct().row(BatteryLine, device=device, volts=volts, read_at=read, fitted_at=fitted_at)
    return replace(line, **changes)


def stop(check: str, evidence: str) -> Check:
    """A check that stops the unit."""
    return Check(check, Moment.RELEASE, Result.STOP, evidence, "see to it")


def assessed(*checks: Check) -> Assessment:
    """The answer for the days of the hire."""
    days = (date(2026, 5, 8), date(2026, 5, 12))
    return Assessment("hold" if checks else "ready", HandoverKind.ASSEMBLED, days, checks)


def handover(**changes: Any) -> HandoverSheet:
    """An ordinary hire: three cells on two handsets, four cylinders, eight tests, twelve accessories.

    changes: of the sheet itself, or of what the workshop states on it.
    """
    changed_at = datetime(2026, 4, 2, 9, 0)
    watch = "low output in oxygen, plan its replacement: 95.9 ± 1.2 %, the interval reaches under 95.0 %"
    facts = HandoverFacts(
        centre=LETTERHEAD.centre,
        telephone=LETTERHEAD.telephone,
        tag="KB-07",
        unit_type="back-mounted, two handsets",
        unit_serial="U2207-0071",
        manual="the unit's manual",
        harness="L",
        booking="H-26-031",
        booking_kind="hire",
        renter="Ilse Dvořák",
        diver="Søren Østergård",
        starts_on=date(2026, 5, 8),
        ends_on=date(2026, 5, 12),
        hand_over="assembled",
        record="HIR-00217",
        planned_minutes=60.0,
        planned_depth_m=30.0,
        planned_water_c=None,
        set_point_low_bar=0.7,
        set_point_high_bar=1.2,
        head_serial="HD-1187",
        handsets=tuple(
            Distinct().row(HandsetFacts, slot=slot, serial=serial, firmware="5.2.1")
            for slot, serial in (("handset 1", "HS-4471"), ("handset 2", "HS-4472"))
        ),
        cells=(
            cell("cell 1", "OC-25-0411"),
            cell("cell 2", "OC-25-0412", "watch", linearity=95.9, finding=watch),
            cell("cell 3", "OC-25-0377"),
        ),
        calibrated_at=CALIBRATED,
        calibrated_by=_TECHNICIAN,
        fill=FillLine(
            fill=Distinct().row(
                FillRecord, fill_id=1733, packed_at=datetime(2026, 5, 7, 8, 10), mass_g=2480.0, lot="A-2604"
            ),
            packed_by=_TECHNICIAN,
            diver="Søren Østergård",
            used_share=0.0,
            minutes_left=120.0,
            rule="rated",
            reason="120 min rated at 10 °C, 30 m, 1.6 L/min CO2; the plan asks for 60 min",
        ),
        discard_by=datetime(2026, 5, 8, 8, 10),
        cylinders=(
            cylinder("oxygen", "CY-0301", 99.4, 0.0, maximum_depth_m=6.0),
            cylinder("diluent", "CY-0302", 20.9, 0.0, maximum_depth_m=45.0, dense_at_m=(30.4, 38.7), limit_bar=1.2),
            cylinder("bailout", "CY-0441", 15.1, 45.0, maximum_depth_m=60.0, size_l=7.0),
            cylinder("bailout", "CY-0442", 50.0, 0.0, maximum_depth_m=18.0, size_l=7.0),
        ),
        tests=bench_tests(),
        disinfected_at=datetime(2026, 5, 5, 18, 0),
        dry_at=datetime(2026, 5, 6, 9, 0),
        fitted=(fitted("canister", "canister", "canister C-07"),),
        known_faults=(
            "Addition valve sticks once when dry: move it twice at assembly.",
            "Cell 2 is on watch: plan its replacement; accepted by the manager through 2026-05-12.",
        ),
        assessment=assessed(),
        today=date(2026, 5, 7),
        conditions=ROOM,
        batteries=(
            battery("handset 1", 3.61, changed_at),
            battery("handset 2", 3.60, changed_at),
            battery("solenoid", 8.9, None),
        ),
        accessories=tuple(accessory(name, 1 + place % 3) for place, name in enumerate(ACCESSORIES)),
        handed_over_by=_TECHNICIAN,
        out_at=datetime(2026, 5, 8, 9, 0),
        back_by="17:00",
        emergency_telephone="112",
    )
    sheet = HandoverSheet(facts=facts, letterhead=LETTERHEAD, schematic=schematic())
    own = {name: changes.pop(name) for name in ("letterhead", "schematic", "also_do") if name in changes}
    return replace(sheet, facts=replace(facts, **changes), **own)


def handover_on_hold() -> HandoverSheet:
    """A sheet of a unit that two things stop."""
    return handover(
        assessment=assessed(
            stop("cells", "cell 2 reject: Linearity 93.1 ± 1.2 % on handset 1 is under 95 %."),
            stop("hold", "manual hold since 2026-05-06: knocked over on the pier"),
        )
    )


def handover_long_names() -> HandoverSheet:
    """The largest ordinary content with long names everywhere."""
    long = "Wilhelmina-Konstantína von Österreich-Škvorecká y Ærøskøbing de la Peña-Żółkiewska"
    facts = handover().facts
    return handover(
        letterhead=replace(
            LETTERHEAD,
            centre="Centre for Closed-Circuit Diving and Instruction at the Outer Kelpbank Pier",
            telephone="+00 555 0134 extension 20771",
        ),
        diver=long,
        unit_type="back-mounted with three cells and two handsets, year of build 2022, cold water version",
        tag="KELP-0007",
        unit_serial="U2207-0071-2022-EXPORT-LONG-0000017",
        head_serial="HD-1187-000-222-333-LONG",
        tests=tuple(replace(test, person=long) for test in facts.tests),
        cylinders=tuple(
            relabelled(each, f"{each.part.label}-LONG-SERIAL-NUMBER-88", analysed_by=long) for each in facts.cylinders
        ),
        accessories=tuple(
            replace(each, name=f"{each.name} of the long kind with its own bag") for each in facts.accessories
        ),
        known_faults=tuple(" ".join([each] * 4) for each in facts.known_faults * 2),
        handed_over_by=long,
    )


def handover_empty() -> HandoverSheet:
    """A sheet of which nothing is known but the unit."""
    facts = HandoverFacts(
        centre="Kelpbank Diving Station",
        telephone=None,
        tag="KB-08",
        unit_type="",
        unit_serial="",
        manual="",
        harness=None,
        booking=None,
        booking_kind=None,
        renter=None,
        diver=None,
        starts_on=None,
        ends_on=None,
        hand_over="kit",
        record="HIR-00218",
        planned_minutes=None,
        planned_depth_m=None,
        planned_water_c=None,
        set_point_low_bar=None,
        set_point_high_bar=None,
        head_serial=None,
        handsets=(),
        cells=(),
        calibrated_at=None,
        calibrated_by=None,
        fill=None,
        discard_by=None,
        cylinders=(),
        tests=(),
        disinfected_at=None,
        dry_at=None,
        fitted=(),
        known_faults=(),
        assessment=assessed(),
        today=date(2026, 5, 7),
    )
    return HandoverSheet(facts=facts, letterhead=Letterhead("Kelpbank Diving Station", "2026-05-07 08:40 CEST"))


def handover_hostile(**changes: Any) -> HandoverSheet:
    """Every text is hostile or overlong, every list too long."""
    facts = handover().facts
    flood = _HOSTILE + " " + "overlong " * 600
    solid = "x" * 5000
    hostile = {
        "diver": _HOSTILE,
        "unit_serial": solid,
        "head_serial": flood,
        "harness": solid,
        "tests": tuple(
            replace(test, record=replace(test.record, kind=flood), person=solid) for test in facts.tests * 5
        ),
        "cylinders": tuple(relabelled(each, solid, flood, analysed_by=flood) for each in facts.cylinders * 4),
        "accessories": tuple(accessory(flood, 999999) for _ in range(80)),
        "known_faults": (flood,) * 30,
        "batteries": tuple(battery(flood, None, None, read_at=None) for _ in range(20)),
        "cells": tuple(cell(f"cell {n}", solid, "no such verdict") for n in range(9)),
        "calibrated_by": flood,
        "handed_over_by": solid,
    }
    return handover(**(hostile | changes))


def picture(wide: int, high: int) -> bytes:
    """A drawn picture that stands for one from a camera."""
    image = Image.new("L", (wide, high), 225)
    ImageDraw.Draw(image).ellipse((wide // 5, high // 5, wide * 4 // 5, high * 4 // 5), fill=90, outline=20, width=6)
    stream = BytesIO()
    image.convert("RGB").save(stream, "JPEG", quality=85)
    return stream.getvalue()


def photograph(caption: str, wide: int, high: int) -> PhotographRecord:
    """A photograph under a ticket."""
    # libraries write the same picture in different bytes, so its digest is made of its caption
    digest = hashlib.sha256(caption.encode()).hexdigest()
    at = datetime(2026, 5, 5, 10, 20)
    return Distinct().row(
        PhotographRecord, sha256=digest, at=at, person=_TECHNICIAN, caption=caption, wide=wide, high=high
    )


PHOTOGRAPHS = (
    photograph("Cell 2: the contact that was cleaned", 480, 360),
    photograph("Left drain seal, nick at the edge", 240, 360),
)
TICKET_WITH = {
    "schematic": schematic(),
    "pictures": {each.sha256: picture(each.wide, each.high) for each in PHOTOGRAPHS},
}
"""What is printed with the ticket beside its own records."""


def incident() -> tuple[StandingIncident, UnitPage]:
    """A unit frozen after an incident."""
    some = Distinct()
    held = StandingIncident(
        hold_id=4,
        unit="KB-07",
        reason="Diver felt unwell at 12 m, 20 minutes into the dive, and ended it on bailout.",
        placed_at=datetime(2026, 5, 6, 15, 40),
        placed_by=_TECHNICIAN,
        held_beside=(
            "O-115: filled from the same batch as a cylinder of KB-07", "CAN-31: packed from the same absorbent",
        ),
    )  # fmt: skip
    packed = some.row(FillLine, fill=some.row(FillRecord, packed_at=datetime(2026, 5, 6, 8, 30), lot="LA-26-04"))
    page = some.row(
        UnitPage,
        row=some.row(UnitRow, tag="KB-07", unit_type="back-mounted, two handsets", serial="U2207-0071"),
        cylinders=(
            some.row(UnitCylinder, part=some.row(PartRecord, serial="O-112"), state=gas_state("oxygen", 121.0, 99.6)),
            some.row(UnitCylinder, part=some.row(PartRecord, serial="D-087"), state=gas_state("diluent", 160.0, None)),
        ),
        fill=packed,
        fitted=(some.row(FittedPart, slot="handset 1", slot_kind="handset", part="HS-2231", firmware="4.2"),),
    )  # fmt: skip
    return held, page


def task(ordinal: int, text: str, state: str, **changes: Any) -> TaskLine:
    """One task of a ticket."""
    task = TaskRecord(
        task_id=ordinal,
        ordinal=ordinal,
        text=text,
        critical=True,
        state=state,
        minutes=None,
        settled_at=None,
        person=None,
        put_off_reason=None,
        times_put_off=0,
        person_id=None,
        second_person=None,
    )
    return TaskLine(replace(task, **changes), TaskFact(text, state), state)


def move(way: str, slot: str, part_type: str, serial: str | None, lot: str, **changes: Any) -> MoveLine:
    """A part that came out or went in."""
    moved = Distinct().row(MoveRecord, slot=slot, part_id=9, part_type=part_type, serial=serial, lot=lot)
    line = MoveLine(moved, way, datetime(2026, 5, 5, 10, 0), host=None, why=None, person=_TECHNICIAN)
    return replace(line, **changes)


def ticket(**changes: Any) -> TicketPage:
    """An ordinary signed ticket."""
    at = datetime(2026, 5, 5, 10, 0)
    before = {"calibration_id": 979, "at": at - timedelta(minutes=30)}
    flat = (ReaderShown("handset 1", 1, 10.4, 44.1), ReaderShown("handset 2", 2, 10.4, 44.0))
    watch = "low output in oxygen, plan its replacement: 95.9 ± 1.2 %, the interval reaches under 95.0 %"
    settled = {"person": _TECHNICIAN}
    page = TicketPage(
        row=TicketRow(
            ticket=Distinct().row(
                TicketRecord,
                ticket_id=42,
                unit="KB-07",
                unit_type="back-mounted, two handsets",
                unit_serial="U2207-0071",
                cause="hand-back",
                reason="Diver reports that cell 2 lags behind the others above 1.0 bar.",
                critical=True,
                opened_at=at,
                opened_by=_TECHNICIAN,
                minutes=95,
                signed_at=datetime(2026, 5, 6, 17, 5),
                signed_by=_TECHNICIAN,
                second=_MANAGER,
            ),
            number="KB-2026-0042",
            tasks_open=0,
            tasks_done=2,
            put_off=1,
            refers_to=None,
        ),
        findings=(
            FindingRecord(
                finding_id=1,
                person_id=None,
                at=at,
                person=_TECHNICIAN,
                text="Cell 2 stops at 44.1 mV on both handsets; cells 1 and 3 reach 49.8.\n"
                "Contact cleaned and tried again: the same.",
            ),
            FindingRecord(
                finding_id=2,
                person_id=None,
                at=datetime(2026, 5, 5, 11, 30),
                person=_TECHNICIAN,
                text="Left counterlung drain seeps a bubble in ten seconds.",
            ),
        ),
        tasks=(
            task(1, "Replace cell 2", "done", minutes=15, settled_at=datetime(2026, 5, 5, 11, 0), **settled),
            task(2, "New seal in the left counterlung drain", "done", minutes=20,
                 settled_at=datetime(2026, 5, 5, 12, 0), **settled),
            task(3, "Touch up the case", "put off", critical=False, settled_at=datetime(2026, 5, 5, 12, 5),
                 put_off_reason="no paint in stock until June", times_put_off=2, **settled),
        ),
        calibrations=(
            outcome("cell 1", "OC-25-0411", **before),
            outcome("cell 2", "OC-24-0298", "reject", linearity=88.7, shown=flat,
                    finding="not linear on both handsets: the cell", **before),
            outcome("cell 3", "OC-25-0377", **before),
            outcome("cell 1", "OC-25-0411"),
            outcome("cell 2", "OC-25-0412", "watch", linearity=95.9, finding=watch),
            outcome("cell 3", "OC-25-0377"),
        ),
        tests=bench_tests(),
        moves=(
            move("out", "cell 2", "oxygen cell, type A", "OC-24-0298", "L-2404", why="fault"),
            move("out", "left drain seal", "drain seal", None, "S-2301", why="service"),
            move("in", "cell 2", "oxygen cell, type A", "OC-25-0412", "L-2510"),
            move("in", "left drain seal", "drain seal", None, "S-2602"),
        ),
        openings=(),
        disinfections=("2026-05-05 18:00: bath B 1 %, contact 15 min, rinsed, dry 2026-05-06 09:00",),
        signed_in=Distinct().row(EntryRecord, entry=4170, hash="3b07d1e6aa51c9f2"),
        entry=None,
        times=tuple(
            TimeRecord(time_id=1, person_id=None, person=name, began_at=at, ended_at=None, minutes=minutes)
            for name, minutes in ((_TECHNICIAN, 60.0), (_MANAGER, 35.0))
        ),
        photographs=PHOTOGRAPHS,
        corrected_by=("KB-2026-0051",),
    )  # fmt: skip
    return replace(page, **changes)


def ticket_of(**changes: Any) -> TicketPage:
    """The ordinary ticket with changes of its record."""
    row = ticket().row
    return ticket(row=replace(row, ticket=replace(row.ticket, **changes)))


def ticket_empty() -> TicketPage:
    """A ticket that was only opened."""
    row = ticket_of(unit="KB-08", unit_type="", unit_serial="", cause="by hand", reason="", critical=False, minutes=0.0,
                    signed_at=None, signed_by=None, second=None).row  # fmt: skip
    return TicketPage(
        row=replace(row, number="KB-2026-0043"),
        findings=(),
        tasks=(),
        moves=(),
        tests=(),
        calibrations=(),
        openings=(),
        disinfections=(),
        signed_in=None,
        entry=None,
    )


def ticket_hostile() -> TicketPage:
    """A ticket with a 200-line note, an endless word and hostile text everywhere."""
    note = "\n".join(f"line {n} of the note: {_HOSTILE}" for n in range(1, 201))
    page = ticket_of(reason="x" * 5000, unit_serial=_HOSTILE, signed_at=None, signed_by=None, second=None)
    out = [each for each in page.moves if each.way == "out"]
    return replace(
        page,
        signed_in=None,
        findings=(
            FindingRecord(finding_id=3, person_id=None, at=CALIBRATED, person=_HOSTILE, text=note),
            *page.findings,
        ),
        tasks=tuple(task(n, _HOSTILE * 12, "to do") for n in range(1, 30)),
        moves=tuple(replace(each, move=replace(each.move, part_type=_HOSTILE, serial="y" * 400)) for each in out * 20),
        materials=(note, "שלום عليكم 漢字 ✓ → ■"),
    )


def due_line(number: int, **changes: Any) -> DueItem:
    """One due item, the number varying unit, day and kind."""
    days = number * 3 - 6
    kinds = (
        ("cell 2", "oxygen cell, type A", "replace", "opened"),
        ("oxygen cylinder", "cylinder 3 L", "hydrostatic test", "test_interval"),
        ("loop set", "loop set", "service", "hours"),
        ("handset battery", "battery", "replace", "fitted"),
    )
    slot, part_type, item, basis = kinds[number % 4]
    line = DueItem(
        unit=f"KB-{1 + number % 14:02d}",
        slot=slot,
        part_type=part_type,
        part=f"OC-25-{400 + number:04d}",
        part_id=number,
        item=item,
        last_good_day=date.fromordinal(date(2026, 5, 7).toordinal() + days),
        basis=basis,
        days_left=days,
        state=DueState.PAST if days < 0 else DueState.DUE_SOON if days <= 30 else DueState.LATER,
        place="bench",
        projected=basis == "hours",
        why="",
        hits="H-26-031" if number % 5 == 0 else None,
    )
    return replace(line, **changes)


def fetch_row(part_type: str, wanted: int, take: tuple[str, ...], place: str | None, short: int) -> FetchRow:
    """Parts of one type to fetch."""
    some = Distinct()
    pieces = tuple(some.row(ShelfPiece, part=some.row(PartRecord, serial=part), place=place) for part in take)
    return some.row(FetchRow, part_type=part_type, wanted=wanted, take=pieces, short=short)


FETCH = (
    fetch_row("oxygen cell, type A", 6, ("OC-25-0431", "OC-25-0432", "OC-26-0017", "OC-26-0018"), "shelf 2", 2),
    fetch_row("drain seal", 3, ("lot S-2602",) * 3, "dry store", 0),
    fetch_row("handset battery", 4, (), None, 4),
)


def due(count: int = 24, **changes: Any) -> DueList:
    """A due list of so many items with a list of parts to fetch."""
    undated = due_line(1, unit="KB-03", last_good_day=None, days_left=None, state=DueState.UNKNOWN)
    page = DueList(
        on=date(2026, 5, 7),
        through=date(2026, 7, 6),
        items=(*(due_line(number) for number in range(count)), *((undated,) if count else ())),
        fetch=FETCH,
    )
    return replace(page, **changes)


def due_hostile() -> DueList:
    """A due list whose texts are hostile or overlong."""
    items = tuple(
        due_line(n, item=f"={_HOSTILE}", slot="x" * 300, part=_HOSTILE * 3, unit="@unit", hits="+1") for n in range(40)
    )
    return due(0, items=items)


def form(**changes: Any) -> UnitForm:
    """A form for one unit on a hire."""
    page = UnitForm(
        letterhead=LETTERHEAD,
        record="LOG-00031",
        unit="KB-07",
        unit_type="back-mounted, two handsets",
        booking="H-26-031",
    )
    return replace(page, **changes)


def blank_form() -> UnitForm:
    """A form for no unit in particular, of the most cells and handsets."""
    return UnitForm(
        letterhead=LETTERHEAD,
        record="LOG-blank",
        cells=tuple(f"cell {number}" for number in range(1, 6)),
        handsets=("handset 1", "handset 2", "head-up display"),
    )


NAMES_OF_SCRIPTS = ("محمد الشامي", "נועה לוי", "田中 さくら", "ณัฐธิดา น้ำทิพย์", "ნინო ბერიძე", "क्षितिज श्रीवास्तव")
"""Invented divers, of given and family names that are common in each language."""


def fill_label(**changes: Any) -> FillLabel:
    """The label of an ordinary fill."""
    label = FillLabel(
        fill="FIL-01733",
        canister="canister C-07",
        packed_at=datetime(2026, 5, 7, 8, 10),
        packed_by=_TECHNICIAN,
        mass_g=2480.0,
        lot="A-2604",
        grade=None,
        rated=(RatedMinutes(10.0, 30.0, 1.6, 120.0, "fine", "invented"),),
        discard_by=datetime(2026, 5, 8, 8, 10),
        hours_after_first_use=None,
        diver="Søren Østergård",
        booking=None,
    )
    return replace(label, **changes)


def tag_label(**changes: Any) -> TagLabelFacts:
    """The label of an ordinary unit."""
    label = TagLabelFacts(
        centre="Kelpbank Diving Station",
        telephone="+00 555 0134",
        unit="KB-07",
        unit_type="back-mounted, two handsets",
        unit_serial="U2207-0071",
    )
    return replace(label, **changes)


def turn_round() -> TurnRoundDesk:
    """A card after a flood, half done, with a line left out and words that are no markup."""
    at, some = datetime(2026, 5, 5, 16, 40), Distinct()
    rows = (
        ("Cylinders closed and off, pressures noted", "done", "oxygen 80 bar", at),
        ("Batteries out", "left out", "built in & sealed <b>", at),
        ("Flood: cells out, each looked at and dried", "done", None, at),
        ("Disinfected in the bath", "done", "bath 12: Agent A 1 %, 10 min", at),
        ("Hung up, and dry", "to do", None, None),
        ("Flood: cells calibrated on another day", "to do", None, None),
    )
    card = TurnRoundCard(
        record=some.row(
            CardRecord, card_id=31, ref="TR-31", unit="KB-07", booking="H-26-031", opened_at=at,
            opened_by="Zoë Ångström", flooded_at=at, finished_at=None, finished_by=None,
        ),
        ticket="2026-014",
        lines=tuple(
            some.row(
                CardLine, text=text, state=state,
                line=some.row(CardLineRecord, ordinal=number, how=how, settled_at=when,
                              person="Zoë Ångström" if when else None),
            )
            for number, (text, state, how, when) in enumerate(rows, 1)
        ),
        drying=some.row(HangingLoop, disinfected_at=at, dry_at=None, bath="Agent A 1 %, 10 min, rinsed"),
    )  # fmt: skip
    return TurnRoundDesk(
        unit="KB-07",
        unit_type="back-mounted, two handsets",
        card=card,
        against=("Hung up, and dry: still to do", "flood: the cells need calibrations on two different days"),
        needs_second=False,
        service=(),
        handsets=some.row(HandsetDesk),
        signers=(),
        people=(),
        reference="29 CFR 1910.134(h) and App. B-2; the maker's own agent and times stand above it",
    )
