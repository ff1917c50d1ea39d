"""The page of one unit: states, holds, checks, cells, absorbent, fitted parts and history as plain data.

Where the window goes from a check: the act that puts it right, and the record that its result stands on.
"""

import json
from collections.abc import Sequence
from zoneinfo import ZoneInfo

from fleetbench.calc.bench.leak_places import LeakPlace
from fleetbench.calc.core.doors import DOORS, at
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import BAR, GRAM
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.readiness.judge import Assessment, Check
from fleetbench.calc.readiness.lane import CellToReplace, NextStep, Work
from fleetbench.records.units.reads import HoldRecord
from fleetbench.window.detail.detail import ACROSS, Badge, Detail, Fact, Line, Onward, Section, Table
from fleetbench.window.gas.acts import DENSITY_CONVENTION, depth_words, gas_words, metres
from fleetbench.window.look.marks import ADVISE, HOLD, Mark, mark_for
from fleetbench.window.look.words import (
    NONE,
    NOT_KNOWN,
    day,
    figure,
    moment,
    percent,
    plus_minus,
    projected_day,
    said,
    spaced,
)
from fleetbench.window.parts.fit import FIT
from fleetbench.window.places.register import TITLES
from fleetbench.window.shell.place import TEST, PageKey, new_ticket_key
from fleetbench.window.units.acts import NEXT_STEPS
from fleetbench.window.units.list import booking_words, fit_mark, lines_section, use_section
from fleetbench.window.units.today import calls_table
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.oxygen_side import UnitCylinder
from fleetbench.workshop.parts.list import FittedPart
from fleetbench.workshop.turn_rounds.handsets import BatteryLine
from fleetbench.workshop.units.history import HistoryLine
from fleetbench.workshop.units.list import CellLine, FillLine, UnitPage, UnitRow, Where, next_steps, unit_page
from fleetbench.workshop.units.schematic import Schematic

CALIBRATE, BENCH, UNIT, CANISTERS, CYLINDERS = "calibrate", "bench", "units", "canisters", "cylinders"

REMEDIES: dict[str, str] = {
    "cell outcome": CALIBRATE,
    "workshop calibration": CALIBRATE,
    "handset calibration": CALIBRATE,
    "handset agreement": CALIBRATE,
    "point above 1 bar": CALIBRATE,
    "one-way valves and loop": BENCH,
    "intermediate pressure and gas addition": BENCH,
    "bailout or mouthpiece valve": BENCH,
    "alarms, displays and set-point": BENCH,
    "absorbent": CANISTERS,
    "absorbent in the canister": CANISTERS,
    "absorbent sent along": "absorbent",
    "gas": CYLINDERS,
    "diluent at planned depth": CYLINDERS,
    "cylinder test and oxygen-clean": CYLINDERS,
    "bailout": CYLINDERS,
    "batteries": "unit_gas",
    "disinfected and dry": "turn_rounds",
    "test equipment": "equipment",
    "notices": "notices",
    "return": "hires",
    "diver": "hires",
    "accessories": "hires",
}
"""The page on which the act stands that puts a check right; for any other check it is a ticket on the unit."""

BESIDE_CENTRE = {"marks": "units", "certificate of a person": "people"}
"""Lists beside those of the centre that a remedy names, by the door."""

OF_THE_UNIT = (CALIBRATE, BENCH, "unit_gas", "turn_rounds")
"""Pages that open with the unit on them."""

RECORDS = {"ticket": "tickets", "notice": "notices", "part": "parts"}
"""The pages of the records by the word that names them."""


def remedy_of(check: Check, tag: str, fitted: Sequence[FittedPart] = ()) -> PageKey | None:
    """Where the act is started that puts a check right, None where nothing is to do; fitted: the unit's parts.

    An open ticket is worked on; what no page puts right begins a ticket on the unit with the check's own words.
    """
    if check.result is Result.OK:
        return None
    entered = list_named_in(check.remedy or "")
    if entered is not None:
        return entered
    page = REMEDIES.get(check.check)
    if page is not None:
        then = PageKey(TEST, check.tests[0]) if check.tests else None
        return PageKey(page, tag if page in OF_THE_UNIT else _key_in(check, page, fitted), then)
    ticket = next((each.removeprefix("ticket ") for each in check.records if each.startswith("ticket ")), None)
    if check.check == "open tickets" and ticket is not None:
        return PageKey("ticket_work", ticket)
    plan = check.check == "periodic service"
    key = new_ticket_key(tag, f"{check.check}: {check.evidence}"[:200], say("due item") if plan else "hold", plan=plan)
    return PageKey("ticket_work", key)


def list_named_in(remedy: str) -> PageKey | None:
    """The list that a remedy names, None where it names none."""
    beside = next((PageKey(page) for name, page in BESIDE_CENTRE.items() if at(name) in remedy), None)
    if beside is not None:
        return beside
    for name, (page, *lists, _words) in DOORS.items():
        if page == "Centre" and at(name) in remedy:
            return PageKey("centre", next(sheet for sheet, title in TITLES.items() if [title] == lists))
    return None


def record_of(check: Check) -> PageKey | None:
    """The page of the first record that a check's result stands on and that has a page of its own."""
    for each in check.records:
        word, _, key = each.partition(" ")
        if word in RECORDS and key:
            return PageKey(RECORDS[word], key)
    return None


def _key_in(check: Check, page: str, fitted: Sequence[FittedPart]) -> str | None:
    """The unit's canister where a fill is meant, the notice where a notice is; other pages open as they stand."""
    if page == CANISTERS:
        return next((str(each.part_id) for each in fitted if each.slot_kind == "canister" and each.part_id), None)
    found = record_of(check)
    return found.key if found is not None and found.page == page else None


WHERE_ICONS = {
    Where.RECEIVED: "where_received",
    Where.BENCH: "where_bench",
    Where.SHELF: "where_shelf",
    Where.OUT: "where_out",
    Where.AWAY: "where_away",
    Where.RETIRED: "where_retired",
}


def unit_detail(
    page: UnitPage, zone: ZoneInfo, schematic: Schematic | None = None, steps: Sequence[NextStep] = ()
) -> Detail:
    """Everything on one unit's page, with the drawing of its loop and gas sides; steps: what is open, next first."""
    row = page.row
    return Detail(
        row.tag,
        subtitle=say(
            "{unit_type}, serial {serial}, {where_words}",
            unit_type=row.unit_type,
            serial=said(row.serial, "not known"),
            where_words=said(row.where_words, say(row.where)),
        ),
        marks=(fit_mark(row),),
        parts=(
            _steps(steps, row, page.fitted),
            lines_section(say("On hold because"), row.reasons, say("Nothing holds it.")),
            _holds(row.tag, page.holds, zone),
            _now(page),
            _fill(page.fill, zone),
            use_section(row),
            _checks(page.assessment, row.tag, page.fitted),
            _cells(page.cells, zone),
            cylinders_table(page.cylinders, zone),
            batteries_table(page.batteries, zone),
            _fitted(page.fitted),
            *_leaks(page.leaks, zone),
            *calls_table(page.calls, zone),
            _history(page.history, zone),
        ),
        flow=schematic,
        badges=(Badge(WHERE_ICONS[row.where], row.where),),
        onward=(
            Onward("Calibrate", "calibrate", PageKey("calibrate", row.tag)),
            Onward("Test at the bench", "valves", PageKey("bench", row.tag)),
            Onward("Turn-round", "where_received", PageKey("turn_rounds", row.tag)),
            Onward("Gas side", "stock", PageKey("unit_gas", row.tag)),
            *(
                Onward(say("Work on {number}", number=number), "tickets", PageKey("ticket_work", number))
                for number in row.open_tickets
            ),
        ),
    )


def place_of_step(step: NextStep, tag: str, fitted: Sequence[FittedPart] = ()) -> PageKey | None:
    """Where a step is done; a cell is fitted on the unit's own page."""
    if step.work is Work.CARD:
        return PageKey("turn_rounds", tag)
    if step.work is Work.TICKET:
        return PageKey("ticket_work", step.key)
    if step.cell is not None:
        return PageKey("orders") if step.cell.part is None else fit_place(step.cell)
    return remedy_of(step.check, tag, fitted) if step.check is not None else None


def next_place(workplace: Workplace, tag: str) -> tuple[PageKey, ...]:
    """Where the next step on a unit is done: a place, then the form on it if there is one; its page where none is."""
    page = unit_page(workplace, tag)
    step = next(iter(next_steps(workplace, page)), None)
    place = place_of_step(step, tag, page.fitted) if step is not None else None
    unit = PageKey("units", tag)
    return (unit, place) if place is not None and place.page == FIT else (place or unit,)


def fit_place(cell: CellToReplace) -> PageKey:
    """The place at which the proposed cell is fitted: its position and its serial."""
    return PageKey(FIT, json.dumps([cell.position, cell.part]))


def _steps(steps: Sequence[NextStep], row: UnitRow, fitted: Sequence[FittedPart]) -> Table:
    here = row.where not in (Where.OUT, Where.AWAY, Where.RETIRED)
    return Table(
        NEXT_STEPS,
        ("", "What to do: Enter starts it", "Because"),
        tuple(
            Line((str(number), step.words, step.why), leads_to=place_of_step(step, row.tag, fitted))
            for number, step in enumerate(steps, start=1)
        ),
        "Nothing is left to do before it may go out." if here else say("It is not here: {value}.", value=row.where),
        column=ACROSS,
    )


def _leaks(places: Sequence[LeakPlace], zone: ZoneInfo) -> tuple[Table, ...]:
    """Where the loop leaked, the place that leaks again first; nothing where it never did."""
    if not places:
        return ()
    lines = tuple(
        Line(
            (each.place, str(len(each.found)), str(each.again), moment(each.found[-1].at, zone), each.found[-1].words,
             say("tight since") if each.tight else say("no loop test has passed since")),
            ADVISE if each.tight else HOLD,
        )
        for each in places
    )  # fmt: skip
    columns = ("Place", "Found", say("Again after it was tight"), "Last", "How", "Since")
    return (Table("Where the loop leaked", columns, lines, mark_column=5, column=ACROSS),)


def _now(page: UnitPage) -> Section:
    row = page.row
    return Section(
        "Now",
        (
            Fact("Place", said(page.place)),
            Fact("Next booking", booking_words(row)),
            *(Fact("Open ticket", number, leads_to=PageKey("tickets", number)) for number in row.open_tickets),
            Fact("Owner", row.owner),
            Fact("Manual", said(page.manual), note=say("The maker's manual stands above every figure shown here.")),
        ),
    )


def _fill(fill: FillLine | None, zone: ZoneInfo) -> Section:
    if fill is None:
        return Section("Absorbent", (), "No fill is packed in its canister.")
    return Section(
        "Absorbent",
        (
            Fact("Packed", strung(", ", (moment(fill.fill.packed_at, zone), said(fill.packed_by)))),
            Fact("Mass", figure(fill.fill.mass_g, GRAM, 0)),
            Fact("Lot", said(fill.fill.lot)),
            Fact("For", said(fill.diver, say("nobody yet"))),
            Fact("Used", percent(fill.used_share)),
            Fact("Loop minutes left", figure(fill.minutes_left, "min", 0), note=strung(": ", (fill.rule, fill.reason))),
        ),
    )


def _holds(tag: str, holds: Sequence[tuple[HoldRecord, str | None]], zone: ZoneInfo) -> Section:
    standing = [(hold, part) for hold, part in holds if hold.lifted_at is None]
    return Section(
        "Holds placed",
        tuple(
            fact
            for hold, part in standing
            for fact in (
                Fact(
                    moment(hold.placed_at, zone),
                    hold.reason,
                    HOLD.worded(hold.kind),
                    say("placed by {person}, on {part}", person=hold.placed_by, part=part)
                    if part
                    else say("placed by {person}", person=hold.placed_by),
                ),
                Fact(
                    "",
                    say("Open a ticket on it"),
                    leads_to=PageKey("ticket_work", new_ticket_key(tag, hold.reason, "hold")),
                ),
            )
        ),
        "No hold has been placed by hand.",
    )


def _checks(assessment: Assessment, tag: str, fitted: Sequence[FittedPart]) -> Table:
    worst_first = sorted(assessment.checks, key=lambda check: -mark_for(check.result).rank)
    first, last = assessment.span
    return Table(
        say(
            "Checks for {first}{what}, {kind}",
            first=first.isoformat(),
            what=say(" to {last}", last=last.isoformat()) if last != first else "",
            kind=assessment.kind,
        ),
        ("Result", "Check", "What is recorded", "What to do: Enter starts it"),
        tuple(
            Line(
                (
                    say("advise, accepted") if check.accepted else check.words,
                    say(check.check),
                    check.evidence,
                    check.accepted or check.remedy or NONE,
                ),
                mark_for(check.result),
                # What is well leads to the record that shows it, what is not to the act that puts it right.
                remedy_of(check, tag, fitted) or record_of(check),
            )
            for check in worst_first
        ),
        "No check could be made: nothing is recorded of this unit.",
        mark_column=0,
    )


def _cells(cells: Sequence[CellLine], zone: ZoneInfo) -> Table:
    return Table(
        "Cells",
        ("Position", "Verdict", "Serial", "Air", "Oxygen", "Linearity", "Calibrated", "Last valid day"),
        tuple(
            Line(
                (
                    cell.position,
                    cell.verdict or say("not calibrated"),
                    said(cell.part and cell.part.label, say("empty")),
                    figure(cell.outcome and cell.outcome.air_mv, "mV"),
                    figure(cell.outcome and cell.outcome.oxygen_mv, "mV"),
                    plus_minus(cell.outcome and cell.outcome.linearity, cell.outcome and cell.outcome.expanded_u, "%"),
                    moment(cell.outcome and cell.outcome.at, zone),
                    day(cell.last_good_day),
                ),
                mark_for(cell.verdict),
                PageKey("cells", str(cell.part.part_id)) if cell.part is not None else None,
            )
            for cell in cells
        ),
        "This unit type has no cell positions.",
        mark_column=1,
    )


def cylinders_table(cylinders: Sequence[UnitCylinder], zone: ZoneInfo) -> Table:
    """The cylinders in a unit, each leading to its page."""
    return Table(
        say("Cylinders; density: {density_convention}", density_convention=DENSITY_CONVENTION),
        (
            "Role",
            "Gas",
            "Serial",
            "Pressure",
            "Analysed",
            "Max depth",
            "At oxygen depth",
            "5.2, 6.2 g/L",
            "Last valid day of the test",
            "Oxygen-clean",
        ),
        tuple(
            Line(
                (
                    each.state.facts.role,
                    gas_words(each.state.gas, say("not analysed")),
                    each.part.label,
                    figure(each.state.now_bar, BAR, 0, say("not known")),
                    moment(each.state.analysis and each.state.analysis.at, zone, NONE)[:10],
                    depth_words(each.depths) if each.state.gas else NONE,
                    figure(each.depths.density_g_l, "g/L", 1, NONE),
                    " / ".join(map(metres, each.depths.dense_at_m)) if each.state.gas else NONE,
                    day(each.next_test),
                    each.clean.words if each.clean else NONE,
                ),
                mark_for("ok" if each.state.gas is not None else "not known").worded(
                    gas_words(each.state.gas, say("not analysed"))
                ),
                PageKey("cylinders", str(each.part.part_id)),
            )
            for each in cylinders
        ),
        "No cylinder is fitted.",
        mark_column=1,
    )


def batteries_table(batteries: Sequence[BatteryLine], zone: ZoneInfo) -> Table:
    """The battery of each device with its last voltage."""
    return Table(
        "Batteries",
        ("Device", "Voltage", "Replace under", "Read", "Fitted"),
        tuple(
            Line(
                (
                    each.device,
                    figure(each.volts, "V", 2, say("not read")),
                    figure(each.replace_volts, "V", 2, say("not recorded")),
                    moment(each.read_at, zone, NONE),
                    moment(each.fitted_at, zone, NONE)[:10],
                )
            )
            for each in batteries
        ),
        "This unit has no battery.",
    )


def fitted_mark(part: FittedPart) -> Mark:
    """The mark of the part's condition as on its own page, or of its life where that is graver or the slot empty."""
    life = mark_for(part.state)
    found = mark_for(part.condition.state) if part.condition is not None else life
    return life if life.rank > found.rank else found


def _fitted(fitted: Sequence[FittedPart]) -> Table:
    return Table(
        "Fitted parts",
        ("Slot", "Condition", "Last valid day", "Part", "Part type", "Fitted", "Set by limit"),
        tuple(
            Line(
                (
                    "    " * part.depth + part.slot,
                    fitted_mark(part).word,
                    projected_day(
                        part.last_good_day, NONE if part.part_id is None else NOT_KNOWN, projected=part.projected
                    ),
                    said(part.part, say("empty")),
                    said(part.part_type, NONE),
                    day(part.fitted_on, NONE),
                    spaced(part.basis, NONE),
                ),
                fitted_mark(part),
                PageKey("parts", str(part.part_id)) if part.part_id is not None else None,
            )
            for part in fitted
        ),
        "No slot of this unit holds a part.",
        mark_column=1,
    )


def _history(history: Sequence[HistoryLine], zone: ZoneInfo) -> Table:
    return Table(
        "History",
        ("When", "What", "", "By"),
        tuple(
            Line(
                (moment(line.at, zone), spaced(line.kind), line.words, said(line.person, NONE)),
            )
            for line in history
        ),
        "Nothing has been done to this unit yet.",
    )
