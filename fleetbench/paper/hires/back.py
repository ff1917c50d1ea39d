"""The back of the hand-over sheet: the technical record. No type on it is smaller than 7 points."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import TypeVar

from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.calc.core.measures import BAR, GRAM, KILOGRAM, METRE, measured_in
from fleetbench.calc.gas.cylinders import GasRole
from fleetbench.calc.gas.depth import DENSITY_ADVISED_G_L, DENSITY_MOST_G_L, depth_limit
from fleetbench.calc.readiness.limits import HandoverKind
from fleetbench.paper.cells.table import cell_table, conditions
from fleetbench.paper.core.flow import LEAST, Block, fair_rooms, pairs, section, table, text_lines
from fleetbench.paper.core.marks import (
    NOT_RECORDED,
    by_whom,
    day,
    figure,
    moment,
    plain_number,
    said,
    sheet_texts,
    surface_warning,
    whole_metres,
)
from fleetbench.paper.core.pen import BOLD, REGULAR, Pen, settable, width, wrapped
from fleetbench.paper.core.tags import Tag, item_of
from fleetbench.paper.hires.handover_sheet import HandoverSheet
from fleetbench.paper.units.schematic import schematic_block
from fleetbench.records.bench.reads import BenchTestRecord
from fleetbench.workshop.bench.valves import TestLine
from fleetbench.workshop.hires.list import VOLTAGE, CylinderFacts, HandoverFacts, HandsetFacts
from fleetbench.workshop.turn_rounds.handsets import BatteryLine

Item = TypeVar("Item")
_TEXT, _SMALL, _HEADING = 8.0, 7.1, 8.4
_OWN = 0.26
"""The share of the width that the boxes for the renter's own analysis have."""


def back_blocks(sheet: HandoverSheet, wide: float) -> list[Block]:
    """The technical record from the top down; nothing is left out, it flows on to a further page."""
    blocks = [*_what(sheet), *_schematic(sheet, wide), *_cells(sheet, wide), *_absorbent(sheet.facts, wide)]
    blocks += [*_cylinders(sheet, wide), *_tests(sheet, wide), *_accessories(sheet, wide)]
    return blocks


def _what(sheet: HandoverSheet) -> list[Block]:
    facts = sheet.facts
    known = [
        (say("unit serial"), said(facts.unit_serial)),
        (say("head serial"), said(facts.head_serial)),
        (say("set-points"), _set_points(facts)),
        (say("handed over by"), said(facts.handed_over_by)),
        *(_handset(each) for each in facts.handsets),
    ]
    if not facts.handsets:
        known.append((say("handsets"), NOT_RECORDED))
    return pairs(known, 2, _TEXT, 0.25)


def _set_points(facts: HandoverFacts) -> str:
    return say(
        "low {set_point_low_bar}, high {set_point_high_bar}",
        set_point_low_bar=figure(facts.set_point_low_bar, "bar", 2),
        set_point_high_bar=figure(facts.set_point_high_bar, "bar", 2),
    )


def _handset(handset: HandsetFacts) -> tuple[str, str]:
    return (
        handset.slot,
        say("{serial}, firmware {firmware}", serial=said(handset.serial), firmware=said(handset.firmware)),
    )


def _schematic(sheet: HandoverSheet, wide: float) -> list[Block]:
    """Loop and gas sides as they flow; left out where a full page needs the room."""
    if sheet.schematic is None:
        return []
    head = _head(say("Breathing loop and gas side"), say("the worst of life, last test and calibration as recorded"))
    return [head, schematic_block(sheet.schematic, wide, LEAST, beside=False)]


def _cells(sheet: HandoverSheet, wide: float) -> list[Block]:
    calibration = sheet.calibration
    if calibration is None:
        return [
            _head(say("Oxygen cells")),
            *text_lines(say("Calibration {not_recorded}.", not_recorded=NOT_RECORDED), wide, _TEXT, BOLD),
        ]
    columns, rows = cell_table(calibration, ages=True)
    title, measured = say("Oxygen cells"), conditions(calibration)
    beside = width(settable(measured), REGULAR, LEAST) <= wide - width(settable(title), BOLD, _HEADING) - 6
    return [
        *([_head(title, measured)] if beside else [_head(title), *text_lines(measured, wide, LEAST)]),
        *table(columns, rows, wide, _TEXT * 0.96, 24, LEAST),
        *([] if rows else text_lines(say("Cells {not_recorded}.", not_recorded=NOT_RECORDED), wide, _TEXT, BOLD)),
    ]


def _head(title: str, beside: str = "") -> Block:
    return section(title, beside, _HEADING, LEAST)


def _absorbent(facts: HandoverFacts, wide: float) -> list[Block]:
    head = _head(say("Absorbent"), say("one diver only; discarded at hand-back"))
    fill = facts.fill
    if fill is not None and facts.fill_against:
        whose = say("stands in the canister and is not for this diver: {fill_against}", fill_against=facts.fill_against)
        words = say("fill {fill_id} {whose}. Discard it.", fill_id=fill.fill.fill_id, whose=whose)
        return [head, *text_lines(words, wide, max(LEAST, _TEXT), BOLD)]
    if fill is None:
        sent = (
            ()
            if facts.absorbent_kg is None
            else (say("{mass} sent along in date", mass=plain_number(facts.absorbent_kg, KILOGRAM)),)
        )
        words = (
            strung("; ", (say("not packed: packed by the diver"), *sent))
            if facts.hand_over == HandoverKind.KIT
            else say("fill {not_recorded}", not_recorded=NOT_RECORDED)
        )
        return [head, *text_lines(words, wide, _TEXT, BOLD)]
    lot = NOT_RECORDED if fill.fill.lot is None else say("lot {lot}", lot=fill.fill.lot)
    known = [
        (say("fill"), say("fill {fill_id}", fill_id=fill.fill.fill_id)),
        (say("canister"), said(next((each.part for each in facts.fitted if each.slot_kind == "canister"), None))),
        (say("packed"), by_whom(fill.fill.packed_at, fill.packed_by)),
        (say("absorbent"), strung(", ", (lot, figure(fill.fill.mass_g, GRAM, 0)))),
        (say("discard by"), moment(facts.discard_by)),
    ]
    # What is rated stands in the plan's own line, where there is one.
    if not fill.reason:
        known.append((say("rated"), NOT_RECORDED))
    plan = text_lines(say("for the plan: {reason}", reason=fill.reason), wide, _SMALL) if fill.reason else []
    return [head, *pairs(known, 2, _TEXT, 0.18), *plan]


def _cylinders(sheet: HandoverSheet, wide: float) -> list[Block]:
    facts = sheet.facts
    head = _head(say("Cylinders"), say(sheet_texts().oxygen_handling))
    if not facts.cylinders:
        return [head, *text_lines(say("none recorded as going along"), wide, _TEXT, BOLD)]
    listed, rooms = Tag("L"), _rooms_beside_each_other(facts.cylinders, wide * (1 - _OWN) - 8)
    planned = (
        figure(facts.planned_depth_m, METRE, 0),
        say("{planned_minutes} a fill", planned_minutes=figure(facts.planned_minutes, "min", 0)),
    )
    return [
        head,
        *text_lines(
            say("planned on this hire: {planned}", planned=strung(", ", planned)), wide, max(LEAST, _TEXT), BOLD
        ),
        *(_cylinder(cylinder, facts.planned_depth_m, wide, rooms, item_of(listed)) for cylinder in facts.cylinders),
        *_regulators(facts, wide),
    ]


def _regulators(facts: HandoverFacts, wide: float) -> list[Block]:
    """Regulators and first stages in the unit and in its assemblies, in order of their slots."""
    told = strung(
        "; ",
        (
            say(
                "{slot} {part}, last valid day {last_good_day}",
                slot=each.slot,
                part=said(each.part),
                last_good_day=day(each.last_good_day),
            )
            for each in facts.fitted
            if each.part_id is not None and ("regulator" in each.slot_kind or "first stage" in each.slot_kind)
        ),
    )
    return _labelled(say("regulators"), told, wide) if told else []


def _first_line(cylinder: CylinderFacts) -> tuple[str, ...]:
    """Role, label, pressure and gas of a cylinder, which stand in columns."""
    filled = cylinder.filled
    oxygen, helium = (None, None) if filled.stale else (filled.oxygen_percent, filled.helium_percent)
    return (
        say(filled.role),
        said(cylinder.part.label),
        _pressure(cylinder),
        say("O2 {oxygen}", oxygen=figure(oxygen, "%")),
        say("He {helium}", helium=figure(helium, "%")),
    )


def _rooms_beside_each_other(cylinders: Sequence[CylinderFacts], room: float) -> list[float]:
    """The widths of these columns: their usual shares, and more for one whose words are longer, as far as there is."""
    rooms = [share * room for share in (0.15, 0.35, 0.18, 0.16, 0.16)]
    lines = [_first_line(each) for each in cylinders]
    least = [
        max(width(settable(line[place]), REGULAR if place == 1 else BOLD, LEAST) for line in lines) + 4.1
        for place in range(len(rooms))
    ]
    return fair_rooms(rooms, least, least)


def _cylinder(cylinder: CylinderFacts, planned_m: float | None, wide: float, rooms: Sequence[float], tag: Tag) -> Block:
    size, small, deep = _TEXT, _SMALL, _TEXT
    depth, beside = _depth(cylinder, planned_m)
    filled = cylinder.filled
    oxygen = None if filled.stale else filled.oxygen_percent
    own = wide * _OWN
    room = wide - own - 8
    told_of = ((BOLD, _cylinder_warning(cylinder, oxygen) or ""), (REGULAR, _cylinder_tests(cylinder)))
    below = [(face, line) for face, text in told_of if text for line in wrapped(text, face, small, room)]
    high = size * 1.2 + deep * 1.2 + small * 1.35 * len(below) + 2.5

    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        first, middle = y + size + 0.5, y + size + 0.5 + deep * 1.2
        left = x
        for place, (each, text) in enumerate(zip(rooms, _first_line(cylinder), strict=True)):
            pen.fit(left, first, text, each - 4, size, BOLD if place != 1 else REGULAR)
            left += each
        pen.fit(x, middle, depth, room, deep, BOLD)
        told = width(settable(depth), BOLD, deep) + 6
        pen.fit(x + told, middle, beside, room - told, deep)
        for place, (face, line) in enumerate(below, start=1):
            pen.text(x, middle + small * 1.37 * place, line, small, face)
        _own_analysis(pen, x + wide - own, y + 1, own, high - 3)
        pen.rule(x, y + high - 0.3, wide, 0.25, 0.75)

    return Block(high, draw, tag=tag)


def _cylinder_warning(cylinder: CylinderFacts, oxygen: float | None) -> str | None:
    """What is said in bold of a cylinder: not analysed, not breathable, and figures that were doubted and kept."""
    filled = cylinder.filled
    stale = say("filled after its last analysis: analyse it") if filled.stale else surface_warning(oxygen)
    analysis = (
        say("analysis: {analysis_note}", analysis_note=filled.analysis_note)
        if filled.analysis_note and not filled.stale
        else None
    )
    return (
        strung(
            "; ",
            filter(
                None,
                (stale, analysis, say("fill: {fill_note}", fill_note=filled.fill_note) if filled.fill_note else None),
            ),
        )
        or None
    )


def _pressure(cylinder: CylinderFacts) -> str:
    size = cylinder.filled.size_l
    return strung(", ", (*(() if size is None else (plain_number(size, "L"),)), figure(cylinder.end_bar, BAR, 0)))


def _depth(cylinder: CylinderFacts, planned_m: float | None) -> tuple[str, str]:
    """The smaller depth with what sets it, and beside it the rest; a plan that goes deeper is said first of that."""
    depths = cylinder.depths
    limit = depth_limit(depths.maximum_depth_m, depths.dense_at_m[0])
    if limit is None or cylinder.filled.stale:
        return say("maximum depth {not_recorded}", not_recorded=NOT_RECORDED), ""
    oxygen = say("oxygen") if depths.limit_bar is None else say("oxygen {limit_bar:g} bar", limit_bar=depths.limit_bar)
    set_by = (
        say("gas density {density_advised_g_l:g} g/L", density_advised_g_l=DENSITY_ADVISED_G_L)
        if limit.by_density
        else oxygen
    )
    words = say("to {depth_m}: {set_by}", depth_m=whole_metres(limit.depth_m), set_by=set_by)
    if cylinder.filled.role == GasRole.DILUENT and planned_m is not None and planned_m > limit.depth_m:
        words = strung("; ", (words, say("the {depth} planned are deeper", depth=plain_number(planned_m, METRE))))
    beside = []
    if limit.by_density and depths.maximum_depth_m is not None:
        most = depths.dense_at_m[1]
        if most is not None and most < depths.maximum_depth_m:
            beside.append(
                say("{density_most_g_l:g} g/L at {most}", density_most_g_l=DENSITY_MOST_G_L, most=whole_metres(most))
            )
        beside.append(
            say("{oxygen} at {maximum_depth_m}", oxygen=oxygen, maximum_depth_m=whole_metres(depths.maximum_depth_m))
        )
    return words, strung(", ", beside)


def _cylinder_tests(cylinder: CylinderFacts) -> str:
    """Dates first and the analyst's name last, since the end is what a narrow line loses."""
    latest = {kind: max(on for each, on in cylinder.tests if each == kind) for kind, _ in cylinder.tests}
    return strung(
        ", ",
        (
            say("hydrostatic {what}", what=day(latest.get("hydrostatic"))),
            say("visual {what}", what=day(latest.get("visual"))),
            say("last valid day {last_good_day}", last_good_day=day(cylinder.last_good_day)),
            say("analysed {analysed_at}", analysed_at=by_whom(cylinder.filled.analysed_at, cylinder.analysed_by)),
        ),
    )


def _own_analysis(pen: Pen, x: float, y: float, wide: float, high: float) -> None:
    """Boxes in which the renter writes what the renter's own analysis showed."""
    shares = ((say("your O2 %"), 0.34), (say("your He %"), 0.33), (say("initials"), 0.33))
    left = x
    for label, share in shares:
        pen.box(left, y, wide * share, high, 0.5)
        pen.fit(left + 2, y + LEAST, label, wide * share - 4, LEAST)
        left += wide * share


def _tests(sheet: HandoverSheet, wide: float) -> list[Block]:
    head = _head(say("Valves, loop and other tests"))
    facts = sheet.facts
    tests = [test for test in facts.tests if test.record.kind != VOLTAGE]
    fitted = [battery for battery in facts.batteries if battery.part_id is not None]
    columns, rooms, by_one = _laid_out(tests, wide)
    if by_one:
        head = _head(say("Valves, loop and other tests"), say("all by {person}", person=_by(tests[0])))
    draw = partial(_test, rooms=rooms, by_one=by_one)
    blocks = [head, *_in_columns(tests, columns, _TEXT * 1.3, draw)]
    if not tests:
        blocks += text_lines(say("Tests {not_recorded}.", not_recorded=NOT_RECORDED), wide, _TEXT, BOLD)
    known = strung("; ", map(_battery, fitted)) or NOT_RECORDED
    blocks += _labelled(say("batteries"), known, wide)
    dry = say("not marked dry") if facts.dry_at is None else say("dry {dry_at}", dry_at=moment(facts.dry_at))
    return blocks + _labelled(say("disinfected"), strung(", ", (moment(facts.disinfected_at), dry)), wide)


def _in_columns(
    items: Sequence[Item], columns: int, high: float, draw_item: Callable[[Pen, float, float, float, Item], None]
) -> list[Block]:
    rows = -(-len(items) // columns)
    listed = Tag("L")
    tags = [item_of(listed) for _ in items]

    def block(row: int) -> Block:
        def draw(pen: Pen, x: float, y: float, wide: float) -> None:
            step = wide / columns
            for column in range(columns):
                place = column * rows + row
                if place < len(items):
                    with pen.tagged(tags[place]):
                        draw_item(pen, x + column * step, y, step - 8, items[place])

        return Block(high, draw)

    return [block(row) for row in range(rows)]


def _laid_out(tests: Sequence[TestLine], wide: float) -> tuple[int, list[float], bool]:
    """How the tests stand: in how many columns, how wide name, mark and what was seen are, and if one name is for all.

    In two columns where every test can be read whole in half the width, by usual shares or by what the words need; a
    person who did all of them is then named once. Else in one.
    """
    half, marks = wide / 2 - 8, [_mark_room(test) for test in tests]
    usual = [half * 0.33, max([half * 0.15, *marks]), 0.0]
    for by_one in (False, True):
        if by_one and len({_by(test) for test in tests}) != 1:
            break
        seen = [width(settable(_seen(test, by_one)), REGULAR, LEAST) for test in tests]
        names = [width(settable(_name(test)), REGULAR, LEAST) for test in tests]
        if max(seen, default=0.0) <= half * 0.52 and max(names, default=0.0) <= half * 0.52 * 0.63 - 4:
            return 2, usual, by_one
        least = [max(names) + 8, max(marks) + 4, max(seen)]
        if sum(least) <= half:
            spare = (half - sum(least)) / 2
            return 2, [least[0] + spare, least[1], least[2] + spare], by_one
    return 1, [wide * 0.33, max([wide * 0.15, *marks]), 0.0], False


def _mark_room(test: TestLine) -> float:
    return width(settable(worded(said(test.record.result))), BOLD, _TEXT) + _TEXT * 1.1 + 5


def _name(test: TestLine) -> str:
    return strung(", ", map(say, filter(None, (test.record.kind, test.record.direction))))


def _by(test: TestLine) -> str:
    return test.person or say("by whom not recorded")


def _seen(test: TestLine, by_one: bool) -> str:
    words = (day(test.record.at), _seen_in_short(test.record), "" if by_one else _by(test))
    return strung(", ", filter(None, words))


def _test(pen: Pen, x: float, y: float, wide: float, test: TestLine, *, rooms: Sequence[float], by_one: bool) -> None:
    base, size = y + _TEXT, _TEXT
    name, mark, _ = rooms
    pen.fit(x, base, _name(test), name - 4, size)
    pen.mark(x + name, base, said(test.record.result), size, mark - 4)
    pen.fit(x + name + mark, base, _seen(test, by_one), wide - name - mark, size)


def _seen_in_short(test: BenchTestRecord) -> str:
    held = "" if test.held is None else say("held") if test.held else say("fell")
    watched = "" if test.held is None or test.watched_minutes is None else plain_number(test.watched_minutes, "min")
    value = (
        ""
        if test.value is None
        else plain_number(
            test.value, measured_in(test.unit_of_value or say("(unit {not_recorded})", not_recorded=NOT_RECORDED))
        )
    )
    return strung(", ", filter(None, (strung(" ", filter(None, (held, watched))), value)))


def _battery(battery: BatteryLine) -> str:
    fitted = (say("fitted {day}", day=day(battery.fitted_at)),) if battery.fitted_at else ()
    if battery.volts is None:
        words = say("{device} voltage {not_recorded}", device=say(battery.device), not_recorded=NOT_RECORDED)
        return strung(", ", (words, *fitted))
    volts = figure(battery.volts, "V", 2)
    words = say("{device} {volts} on {day}", device=say(battery.device), volts=volts, day=day(battery.read_at))
    return strung(", ", (words, *fitted))


def _labelled(label: str, text: str, wide: float) -> list[Block]:
    """A label with text beside it, over as many lines as it needs."""
    size, share = _TEXT, max(0.125, (width(settable(label), REGULAR, _SMALL) + 6) / wide)
    lines = wrapped(text, REGULAR, size, wide * (1 - share))
    tag = Tag("P")

    def block(place: int, line: str) -> Block:
        def draw(pen: Pen, x: float, y: float, wide: float) -> None:
            if place == 0:
                pen.text(x, y + size, label, _SMALL)
            pen.text(x + wide * share, y + size, line, size)

        return Block(size * 1.33, draw, tag=tag)

    return [block(place, line) for place, line in enumerate(lines)]


def _accessories(sheet: HandoverSheet, wide: float) -> list[Block]:
    head = _head(say("Accessories"), say("tick out, then back"))
    if not sheet.along:
        line = "_" * 40
        return [
            head,
            *text_lines(
                say("Accessories {not_recorded}: write them here {line}", not_recorded=NOT_RECORDED, line=line),
                wide,
                _TEXT,
            ),
        ]
    *first, last = _in_columns(sheet.along, 3, _TEXT * 1.3, _accessory)
    return [head, *(replace(row, with_next=True) for row in first), last]


def _accessory(pen: Pen, x: float, y: float, wide: float, accessory: tuple[str, int]) -> None:
    base, side = y + _TEXT, _TEXT * 0.85
    pen.box(x, base - side + 1, side, side)
    pen.box(x + side + 3, base - side + 1, side, side)
    name, number = accessory
    count = f"{number} ×"
    left = 2 * side + 8
    room = wide - left
    counted = min(width(count, BOLD, _TEXT) + 4, room * 0.5)
    pen.fit(x + left, base, count, counted, _TEXT, BOLD)
    pen.fit(x + left + counted, base, name, room - counted, _TEXT)
