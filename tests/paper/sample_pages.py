"""Invented facts for the pages: an ordinary case, an empty one, the largest ordinary one, and an overlong hostile one.

Everything here is an invented scenario; no figure in it is a limit or a rating.
"""

import hashlib
from dataclasses import replace
from datetime import date, datetime
from io import BytesIO

from PIL import Image, ImageDraw

from fleetbench.paper.core import shapes as facts
from fleetbench.paper.turn_rounds.card import CardRow, TurnRoundFacts
from fleetbench.paper.units.evidence import IncidentFacts
from fleetbench.workshop.units.holds import what_to_preserve
from fleetbench.workshop.units.schematic import Feed, Gas, Schematic, Station

LETTERHEAD = facts.Letterhead(
    centre="Kelpbank Diving Station",
    printed_at="2026-05-07 08:40 CEST",
    telephone="+00 555 0134",
    printed_by="Zoë Kovačová",
    journal_entry=4182,
    journal_hash="9f2c41d07ab3",
)
_TECHNICIAN = "Łucja Żuraw"
_MANAGER = "Αθηνά Νικολάου"
_HOSTILE = (
    "<b>bold</b> & </para> <font size=80>x</font> <img src='http://nowhere.invalid/x.png'/> %s {0} \\n "
    "\x00\x07\x1b[31m \u202eabc\u202c =cmd()"
)


def cell(position: str, serial: str, verdict: str = "pass", handsets: int = 2, **changes: object) -> facts.CellLine:
    """One cell with readings on so many handsets."""
    line = facts.CellLine(
        position=position,
        serial=serial,
        lot="L-2510",
        last_good_day=date(2026, 10, 11),
        readings=tuple(facts.CellReading(10.4 + 0.1 * n, 49.8 - 0.1 * n) for n in range(handsets)),
        linearity_percent=100.3,
        expanded_u_percent=1.2,
        verified_up_to_bar=1.01,
        verdict=verdict,
    )
    return replace(line, **changes)  # type: ignore[arg-type]


def calibration(**changes: object) -> facts.CalibrationBlock:
    """Three cells on two handsets, in plain conditions."""
    block = facts.CalibrationBlock(
        handsets=("handset 1", "handset 2"),
        cells=(
            cell("cell 1", "OC-25-0411"),
            cell(
                "cell 2",
                "OC-25-0412",
                "watch",
                linearity_percent=95.9,
                finding="low output in oxygen, plan its replacement: 95.9 ± 1.2 %, the interval reaches under 95.0 %",
            ),
            cell("cell 3", "OC-25-0377"),
        ),
        at=datetime(2026, 5, 6, 16, 20),
        by=_TECHNICIAN,
        record="CAL-00981",
        pressure_mbar=1009.0,
        temperature_c=21.5,
        humidity_percent=64.0,
        oxygen_percent=99.4,
    )
    return replace(block, **changes)  # type: ignore[arg-type]


def bench_tests() -> tuple[facts.TestLine, ...]:
    """Eight tests of the ordinary kinds."""
    at = datetime(2026, 5, 6, 15, 30)
    line = facts.TestLine
    return (
        line("one-way valve", at, _TECHNICIAN, "pass", direction="inhale", held=True, watched_minutes=1),
        line("one-way valve", at, _TECHNICIAN, "pass", direction="exhale", held=True, watched_minutes=1),
        line("loop negative", at, _TECHNICIAN, "pass", held=True, watched_minutes=5),
        line("loop positive", at, _TECHNICIAN, "pass", held=True, watched_minutes=5),
        line(
            "intermediate pressure",
            at,
            _TECHNICIAN,
            "pass",
            value=9.4,
            unit="bar",
            supply_bar=180,
            equipment="gauge G-3",
            watched_minutes=5,
        ),
        line("bailout valve", at, _TECHNICIAN, "pass"),
        line("addition valve", at, _TECHNICIAN, "watch", note="sticks once when dry"),
        line("alarms", at, _TECHNICIAN, "pass"),
    )


def cylinder(
    role: str, serial: str, oxygen: float | None, helium: float | None, **changes: object
) -> facts.CylinderLine:
    """One cylinder that was filled, analysed and tested."""
    line = facts.CylinderLine(
        role=role,
        serial=serial,
        bar=196.0,
        oxygen_percent=oxygen,
        helium_percent=helium,
        analysed_at=datetime(2026, 5, 6, 14, 5),
        analysed_by=_TECHNICIAN,
        hydrostatic="2023-06",
        visual="2026-02",
        test_last_good_day=date(2027, 1, 31),
        maximum_depth_m=None,
        size_l=3.0,
    )
    return replace(line, **changes)  # type: ignore[arg-type]


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
    feeds = (Feed(Gas.OXYGEN, oxygen, 5), Feed(Gas.DILUENT, diluent, 3))
    return Schematic("KB-07", loop, feeds, (_station(50, "wing", "wing", "good"),))


def _station(key: int, slot: str, kind: str, state: str) -> Station:
    return Station(key, slot, kind, key, f"S-{key}", state, "")


def handover(**changes: object) -> facts.HandoverFacts:
    """An ordinary hire: three cells on two handsets, four cylinders, eight tests, twelve accessories."""
    named = (
        "drysuit hose",
        "spare mouthpiece",
        "check list card",
        "battery key",
        "tool roll",
        "bailout strap",
        "weight pocket",
        "carrying case",
        "writing slate",
        "surface marker",
        "spare o-ring set",
        "charger",
    )
    sheet = facts.HandoverFacts(
        letterhead=LETTERHEAD,
        record="HIR-00217",
        kind="assembled",
        renter="Søren Østergård",
        booking="H-26-031",
        starts_on=date(2026, 5, 8),
        ends_on=date(2026, 5, 12),
        return_by="2026-05-12 17:00",
        unit="KB-07",
        unit_type="back-mounted, two handsets",
        unit_serial="U2207-0071",
        head_serial="HD-1187",
        handsets=(
            facts.HandsetLine("handset 1", "HS-4471", "5.2.1"),
            facts.HandsetLine("handset 2", "HS-4472", "5.2.1"),
        ),
        set_point_low_bar=0.7,
        set_point_high_bar=1.2,
        calibration=calibration(),
        fill=facts.FillFacts(
            "FIL-01733",
            "canister C-07",
            "grade 8-12, lot A-2604",
            2480.0,
            datetime(2026, 5, 7, 8, 10),
            _TECHNICIAN,
            datetime(2026, 5, 8, 8, 10),
            "as the unit's manual says: 120 min at 10 °C, 30 m, 1.6 L/min",
        ),
        cylinders=(
            cylinder("oxygen", "CY-0301", 99.4, 0.0, maximum_depth_m=6.0),
            cylinder(
                "diluent",
                "CY-0302",
                20.9,
                0.0,
                maximum_depth_m=45.0,
                gas_density_g_l=5.1,
                dense_at_m=(30.4, 38.7),
                limit_bar=1.2,
            ),
            cylinder("bailout", "CY-0441", 15.1, 45.0, maximum_depth_m=60.0, size_l=7.0, gas_density_g_l=5.0),
            cylinder("bailout", "CY-0442", 50.0, 0.0, maximum_depth_m=18.0, size_l=7.0),
        ),
        batteries=(
            facts.BatteryLine("handset 1", 3.61, datetime(2026, 5, 6, 15, 50), date(2026, 4, 2)),
            facts.BatteryLine("handset 2", 3.60, datetime(2026, 5, 6, 15, 50), date(2026, 4, 2)),
            facts.BatteryLine("solenoid", 8.9, datetime(2026, 5, 6, 15, 50)),
        ),
        tests=bench_tests(),
        disinfected_at=datetime(2026, 5, 5, 18, 0),
        dry_at=datetime(2026, 5, 6, 9, 0),
        accessories=tuple(facts.AccessoryLine(name, 1 + place % 3) for place, name in enumerate(named)),
        remarks=(
            facts.Remark("Addition valve sticks once when dry: move it twice at assembly.", "ticket KB-2026-0042"),
            facts.Remark("Cell 2 is on watch: plan its replacement; accepted by the manager through 2026-05-12."),
        ),
        schematic=schematic(),
        harness="L",
        handed_over_by=_TECHNICIAN,
        handed_over_at=datetime(2026, 5, 8, 9, 0),
        planned_depth_m=30.0,
        planned_minutes=60.0,
    )
    return replace(sheet, **changes)  # type: ignore[arg-type]


def handover_on_hold() -> facts.HandoverFacts:
    """A sheet of a unit that two things stop."""
    return handover(
        stops=(
            "cells: cell 2 reject: Linearity 93.1 ± 1.2 % on handset 1 is under 95 %.",
            "hold: manual hold since 2026-05-06: knocked over on the pier",
        )
    )


def handover_long_names() -> facts.HandoverFacts:
    """The largest ordinary content with long names everywhere."""
    long = "Wilhelmina-Konstantína von Österreich-Škvorecká y Ærøskøbing de la Peña-Żółkiewska"
    sheet = handover()
    return replace(
        sheet,
        letterhead=replace(
            LETTERHEAD,
            centre="Centre for Closed-Circuit Diving and Instruction at the Outer Kelpbank Pier",
            telephone="+00 555 0134 extension 20771",
        ),
        renter=long,
        return_by="2026-05-12 17:00 at the boat house by the northern slip, not at the shop",
        unit_type="back-mounted with three cells and two handsets, year of build 2022, cold water version",
        unit="KELP-0007",
        unit_serial="U2207-0071-2022-EXPORT-LONG-0000017",
        head_serial="HD-1187-000-222-333-LONG",
        tests=tuple(replace(test, by=long) for test in sheet.tests),
        cylinders=tuple(
            replace(each, serial=f"{each.serial}-LONG-SERIAL-NUMBER-88", analysed_by=long) for each in sheet.cylinders
        ),
        accessories=tuple(
            replace(each, name=f"{each.name} of the long kind with its own bag") for each in sheet.accessories
        ),
        remarks=tuple(
            replace(each, text=f"{each.text} {each.text} {each.text} {each.text}") for each in sheet.remarks * 2
        ),
        handed_over_by=long,
    )


def handover_empty() -> facts.HandoverFacts:
    """A sheet of which nothing is known but the unit."""
    return facts.HandoverFacts(
        letterhead=facts.Letterhead("Kelpbank Diving Station", "2026-05-07 08:40 CEST"),
        record="HIR-00218",
        kind="kit",
        renter=None,
        starts_on=None,
        ends_on=None,
        return_by=None,
        unit="KB-08",
        unit_type=None,
        unit_serial=None,
        head_serial=None,
        handsets=(),
        set_point_low_bar=None,
        set_point_high_bar=None,
        calibration=None,
        fill=None,
        cylinders=(),
        batteries=(),
        tests=(),
        disinfected_at=None,
        dry_at=None,
        accessories=(),
        remarks=(),
    )


def handover_hostile() -> facts.HandoverFacts:
    """Every text is hostile or overlong, every list too long."""
    sheet = handover()
    flood = _HOSTILE + " " + "overlong " * 600
    solid = "x" * 5000
    return replace(
        sheet,
        renter=_HOSTILE,
        unit_serial=solid,
        head_serial=flood,
        harness=solid,
        return_by=flood,
        tests=tuple(replace(test, name=flood, by=solid) for test in sheet.tests * 5),
        cylinders=tuple(replace(each, role=flood, serial=solid, analysed_by=flood) for each in sheet.cylinders * 4),
        accessories=tuple(facts.AccessoryLine(flood, 999999) for _ in range(80)),
        remarks=tuple(facts.Remark(flood, "ticket KB-2026-0042") for _ in range(30)),
        batteries=tuple(facts.BatteryLine(flood, None, None) for _ in range(20)),
        calibration=calibration(cells=tuple(cell(f"cell {n}", solid, "no such verdict") for n in range(9)), by=flood),
        handed_over_by=solid,
    )


def photograph(caption: str, wide: int, high: int) -> facts.PhotographFact:
    """A drawn picture that stands for one from a camera."""
    image = Image.new("L", (wide, high), 225)
    ImageDraw.Draw(image).ellipse((wide // 5, high // 5, wide * 4 // 5, high * 4 // 5), fill=90, outline=20, width=6)
    stream = BytesIO()
    image.convert("RGB").save(stream, "JPEG", quality=85)
    # libraries write the same picture in different bytes, so its digest is made of its caption
    digest = hashlib.sha256(caption.encode()).hexdigest()
    at = datetime(2026, 5, 5, 10, 20)
    return facts.PhotographFact(stream.getvalue(), wide, high, caption, at, _TECHNICIAN, digest)


def incident() -> IncidentFacts:
    """A unit frozen after an incident."""
    return IncidentFacts(
        letterhead=LETTERHEAD,
        unit="KB-07",
        unit_type="back-mounted, two handsets",
        serial="U2207-0071",
        reason="Diver felt unwell at 12 m, 20 minutes into the dive, and ended it on bailout.",
        placed_at=datetime(2026, 5, 6, 15, 40),
        placed_by=_TECHNICIAN,
        preserve=what_to_preserve("KB-07", ("O-112", "D-087"), ("O-115",), ("CAN-31",)),
        beside=("O-115: filled from the same batch as a cylinder of KB-07", "CAN-31: packed from the same absorbent"),
        parts=(
            ("oxygen", "O-112", "121 bar; O2 99.6 %, He 0.0 %, analysed 2026-05-06 09:10"),
            ("diluent", "D-087", "160 bar; gas not analysed"),
            ("absorbent", "the fill in its canister", "packed 2026-05-06 08:30, lot LA-26-04"),
            ("handset 1", "HS-2231", "firmware 4.2; log not to be cleared"),
        ),
    )


def ticket(**changes: object) -> facts.TicketFacts:
    """An ordinary signed ticket."""
    at = datetime(2026, 5, 5, 10, 0)
    move = facts.PartMove
    page = facts.TicketFacts(
        letterhead=LETTERHEAD,
        number="KB-2026-0042",
        unit="KB-07",
        unit_type="back-mounted, two handsets",
        unit_serial="U2207-0071",
        cause="hand-back",
        critical=True,
        reason="Diver reports that cell 2 lags behind the others above 1.0 bar.",
        opened_at=at,
        opened_by=_TECHNICIAN,
        minutes=95,
        signed_at=datetime(2026, 5, 6, 17, 5),
        signed_by=_TECHNICIAN,
        second_person=_MANAGER,
        findings=(
            facts.FindingLine(
                at,
                _TECHNICIAN,
                "Cell 2 stops at 44.1 mV on both handsets; cells 1 and 3 reach 49.8.\n"
                "Contact cleaned and tried again: the same.",
            ),
            facts.FindingLine(
                datetime(2026, 5, 5, 11, 30), _TECHNICIAN, "Left counterlung drain seeps a bubble in ten seconds."
            ),
        ),
        tasks=(
            facts.TaskLine(1, "Replace cell 2", True, "done", 15, datetime(2026, 5, 5, 11, 0), _TECHNICIAN),
            facts.TaskLine(
                2, "New seal in the left counterlung drain", True, "done", 20, datetime(2026, 5, 5, 12, 0), _TECHNICIAN
            ),
            facts.TaskLine(
                3,
                "Touch up the case",
                False,
                "put off",
                None,
                datetime(2026, 5, 5, 12, 5),
                _TECHNICIAN,
                "no paint in stock until June",
                2,
            ),
        ),
        calibrations=(
            calibration(
                when="before",
                at=at,
                record="CAL-00979",
                cells=(
                    cell("cell 1", "OC-25-0411"),
                    cell(
                        "cell 2",
                        "OC-24-0298",
                        "reject",
                        linearity_percent=88.7,
                        readings=(facts.CellReading(10.4, 44.1), facts.CellReading(10.4, 44.0)),
                        finding="not linear on both handsets: the cell",
                    ),
                    cell("cell 3", "OC-25-0377"),
                ),
            ),
            calibration(when="after"),
        ),
        tests=bench_tests(),
        parts_out=(
            move("cell 2", "oxygen cell, type A", "OC-24-0298", "L-2404", at, _TECHNICIAN, "fault"),
            move("left drain seal", "drain seal", None, "S-2301", at, _TECHNICIAN, "service"),
        ),
        parts_in=(
            move(
                "cell 2",
                "oxygen cell, type A",
                "OC-25-0412",
                "L-2510",
                at,
                _TECHNICIAN,
            ),
            move("left drain seal", "drain seal", None, "S-2602", at, _TECHNICIAN),
        ),
        disinfections=("2026-05-05 18:00: bath B 1 %, contact 15 min, rinsed, dry 2026-05-06 09:00",),
        schematic=schematic(),
        worked=((_TECHNICIAN, 60.0), (_MANAGER, 35.0)),
        photographs=(
            photograph("Cell 2: the contact that was cleaned", 480, 360),
            photograph("Left drain seal, nick at the edge", 240, 360),
        ),
        put_right_by=("KB-2026-0051",),
    )
    return replace(page, **changes)  # type: ignore[arg-type]


def ticket_empty() -> facts.TicketFacts:
    """A ticket that was only opened."""
    return facts.TicketFacts(
        letterhead=LETTERHEAD,
        number="KB-2026-0043",
        unit="KB-08",
        unit_type=None,
        unit_serial=None,
        cause="by hand",
        reason="",
        critical=False,
        opened_at=None,
        opened_by=None,
        minutes=None,
        signed_at=None,
        signed_by=None,
    )


def ticket_hostile() -> facts.TicketFacts:
    """A ticket with a 200-line note, an endless word and hostile text everywhere."""
    note = "\n".join(f"line {n} of the note: {_HOSTILE}" for n in range(1, 201))
    page = ticket()
    return replace(
        page,
        reason="x" * 5000,
        signed_at=None,
        signed_by=None,
        second_person=None,
        unit_serial=_HOSTILE,
        findings=(facts.FindingLine(None, _HOSTILE, note), *page.findings),
        tasks=tuple(facts.TaskLine(n, _HOSTILE * 12, True, "to do") for n in range(1, 30)),
        parts_out=tuple(replace(move, part_type=_HOSTILE, serial="y" * 400) for move in page.parts_out * 20),
        notes=(note, "שלום عليكم 漢字 ✓ → ■"),
    )


def due_line(number: int, **changes: object) -> facts.DueLine:
    """One due item, the number varying unit, day and kind."""
    days = number * 3 - 6
    kinds = (
        ("cell 2", "oxygen cell, type A", "replace", "opened"),
        ("oxygen cylinder", "cylinder 3 L", "hydrostatic test", "test_interval"),
        ("loop set", "loop set", "service", "hours"),
        ("handset battery", "battery", "replace", "fitted"),
    )
    slot, part_type, item, basis = kinds[number % 4]
    line = facts.DueLine(
        uid=f"part-{number}-{item}",
        unit=f"KB-{1 + number % 14:02d}",
        slot=slot,
        part_type=part_type,
        part=f"OC-25-{400 + number:04d}",
        item=item,
        last_good_day=date.fromordinal(date(2026, 5, 7).toordinal() + days),
        basis=basis,
        days_left=days,
        state="past" if days < 0 else "due soon" if days <= 30 else "later",
        projected=basis == "hours",
        place="bench",
        first_hit="H-26-031" if number % 5 == 0 else None,
    )
    return replace(line, **changes)  # type: ignore[arg-type]


def due(count: int = 24, **changes: object) -> facts.DuePageFacts:
    """A due list of so many items with a list of parts to fetch."""
    undated = due_line(1, uid="part-undated", unit="KB-03", last_good_day=None, days_left=None, state="unknown")
    page = facts.DuePageFacts(
        letterhead=LETTERHEAD,
        record="DUE-2026-05-07",
        on=date(2026, 5, 7),
        through=date(2026, 7, 6),
        lines=(*(due_line(number) for number in range(count)), *((undated,) if count else ())),
        fetch=(
            facts.FetchLine(
                "oxygen cell, type A", 6, ("OC-25-0431", "OC-25-0432", "OC-26-0017", "OC-26-0018"), "shelf 2", 2
            ),
            facts.FetchLine("absorbent 8-12", 12.5, ("container A-2604",), "dry store", 0, "kg"),
            facts.FetchLine("handset battery", 4, (), None, 4),
        ),
    )
    return replace(page, **changes)  # type: ignore[arg-type]


def due_hostile() -> facts.DuePageFacts:
    """A due list whose texts are hostile or overlong."""
    lines = tuple(
        due_line(n, item=f"={_HOSTILE}", slot="x" * 300, part=_HOSTILE * 3, unit="@unit", first_hit="+1")
        for n in range(40)
    )
    return due(0, lines=lines)


def form(**changes: object) -> facts.UnitForm:
    """A form for one unit on a hire."""
    page = facts.UnitForm(LETTERHEAD, "LOG-00031", "KB-07", "back-mounted, two handsets", "H-26-031", date(2026, 5, 8))
    return replace(page, **changes)  # type: ignore[arg-type]


def blank_form() -> facts.UnitForm:
    """A form for no unit in particular, of the most cells and handsets."""
    return facts.UnitForm(
        LETTERHEAD,
        "LOG-blank",
        cells=tuple(f"cell {number}" for number in range(1, 6)),
        handsets=("handset 1", "handset 2", "head-up display"),
    )


def fill_label(**changes: object) -> facts.FillLabelFacts:
    """The label of an ordinary fill."""
    label = facts.FillLabelFacts(
        "Kelpbank Diving Station",
        "FIL-01733",
        "canister C-07",
        datetime(2026, 5, 7, 8, 10),
        _TECHNICIAN,
        2480.0,
        "A-2604",
        "120 min at 10 °C, 30 m, 1.6 L/min",
        datetime(2026, 5, 8, 8, 10),
        "Søren Østergård",
    )
    return replace(label, **changes)  # type: ignore[arg-type]


def tag_label(**changes: object) -> facts.TagLabelFacts:
    """The label of an ordinary unit."""
    label = facts.TagLabelFacts(
        "Kelpbank Diving Station", "+00 555 0134", "KB-07", "back-mounted, two handsets", "U2207-0071"
    )
    return replace(label, **changes)  # type: ignore[arg-type]


def turn_round(**changes: object) -> TurnRoundFacts:
    """A card after a flood, half done, with a line left out and words that are no markup."""
    at = datetime(2026, 5, 5, 16, 40)
    rows = (
        ("Cylinders closed and off, pressures noted", "done", "oxygen 80 bar", at),
        ("Batteries out", "left out", "built in & sealed <b>", at),
        ("Flood: cells out, each looked at and dried", "done", None, at),
        ("Disinfected in the bath", "done", "bath 12: Agent A 1 %, 10 min", at),
        ("Hung up, and dry", "to do", None, None),
        ("Flood: cells calibrated on another day", "to do", None, None),
    )
    page = TurnRoundFacts(
        letterhead=LETTERHEAD,
        number="TR-31",
        unit="KB-07",
        unit_type="back-mounted, two handsets",
        booking="H-26-031",
        opened_at=at,
        opened_by="Zoë Ångström",
        flooded_at=at,
        bath="Agent A 1 %, 10 min, rinsed",
        disinfected_at=at,
        dry_at=None,
        lines=tuple(
            CardRow(number, text, state, how, when, "Zoë Ångström" if when else None)
            for number, (text, state, how, when) in enumerate(rows, 1)
        ),
        against=("Hung up, and dry: still to do", "flood: the cells need calibrations on two different days"),
        ticket="2026-014",
        finished_at=None,
        finished_by=None,
        reference="29 CFR 1910.134(h) and App. B-2; the maker's own agent and times stand above it",
    )
    return replace(page, **changes)  # type: ignore[arg-type]
