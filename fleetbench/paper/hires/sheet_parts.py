"""The parts of the hand-over sheet, each as blocks at a given scale."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

from fleetbench.calc.gas.cylinders import GasRole
from fleetbench.calc.gas.depth import DENSITY_ADVISED_G_L, DENSITY_MOST_G_L, depth_limit
from fleetbench.paper.cells.table import cell_table, conditions
from fleetbench.paper.core.flow import Block, pairs, section, space, table, text_lines
from fleetbench.paper.core.pen import BOLD, REGULAR, Pen, cut, fitted, settable, width, wrapped
from fleetbench.paper.core.words import (
    NOT_RECORDED,
    by_whom,
    day,
    figure,
    long_day,
    moment,
    plain_number,
    said,
    sheet_texts,
    span,
    surface_warning,
    whole_metres,
)
from fleetbench.paper.hires.handover_sheet import NOT_FOR_DIVING, HandoverSheet
from fleetbench.paper.units.schematic import schematic_block
from fleetbench.records.bench.reads import BenchTestRecord
from fleetbench.workshop.bench.valves import TestLine
from fleetbench.workshop.hires.list import VOLTAGE, CylinderFacts, HandoverFacts, HandsetFacts
from fleetbench.workshop.turn_rounds.handsets import BatteryLine

ON_HOLD = "ON HOLD: not to go out for diving as recorded"

Item = TypeVar("Item")
_TICK_ROOM = 1.45
LEAST = 7.0
"""Points: what a diver must not misread is never set smaller, however full the page is."""


@dataclass(frozen=True, slots=True)
class Fit:
    """Scale of the text and how much of each list is printed before the rest is named by its record."""

    scale: float
    wide: float
    tests: int
    accessories: int
    remarks: int
    remark_lines: int
    cylinders: int
    cells: int
    batteries: int
    schematic: bool
    stops: int

    @property
    def text(self) -> float:
        """Size of ordinary text."""
        return 8.2 * self.scale

    @property
    def small(self) -> float:
        """Size of small text."""
        return 7.2 * self.scale

    @property
    def head(self) -> float:
        """Size of section headings."""
        return 8.8 * self.scale


def handover_blocks(sheet: HandoverSheet, fit: Fit) -> list[Block]:
    """Everything between the page's head and the signatures, from the top down."""
    blocks = [*_on_hold(sheet, fit), _kind_band(sheet, fit), space(3 * fit.scale), *_who_and_what(sheet, fit)]
    blocks += _schematic(sheet, fit)
    blocks += _cells(sheet, fit)
    blocks += _absorbent(sheet.facts, fit)
    blocks += _cylinders(sheet, fit)
    blocks += _tests(sheet, fit)
    blocks += _accessories(sheet, fit)
    blocks += _remarks(sheet, fit)
    return blocks + _still_to_do(sheet, fit)


def _on_hold(sheet: HandoverSheet, fit: Fit) -> list[Block]:
    """A box that nobody overlooks where something stops the unit; nothing where nothing does."""
    stops = sheet.stops
    if not stops:
        return []
    band, size, room = 24.0, fit.text, fit.wide - 16
    lines = [cut(f"– {stop}", REGULAR, size, room) for stop in stops[: fit.stops]]
    if len(stops) > len(lines):
        lines.append(f"– and {len(stops) - len(lines)} more: see the unit's record {sheet.record}")
    step = size * 1.33
    high = band + step * len(lines) + 4

    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        pen.box(x, y, wide, high, 2.0)
        pen.box(x, y, wide, band, 0, 0.0)
        pen.reversed_text(x + 8, y + 17.5, ON_HOLD, fitted(ON_HOLD, BOLD, 17, wide - 16)[1])
        for place, line in enumerate(lines):
            pen.fit(x + 8, y + band + step * (place + 1) - 1, line, wide - 16, size, BOLD)

    return [Block(high + 4, draw)]


def _kind_band(sheet: HandoverSheet, fit: Fit) -> Block:
    kind = sheet.facts.hand_over
    said_of_kind = sheet_texts().kind_said.get(kind, kind)
    if not sheet.for_diving:
        high = 40.0

        def warn(pen: Pen, x: float, y: float, wide: float) -> None:
            pen.box(x, y, wide, high, 0, 0.0)
            pen.reversed_text(x + 10, y + 31, NOT_FOR_DIVING.upper(), 31)

        return Block(high + 2, warn)

    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        pen.box(x, y, wide, 18 * fit.scale, 1.0)
        words = _state(sheet, said_of_kind)
        pen.fit(x + 7, y + 13.2 * fit.scale, words, wide - 14, 11.5 * fit.scale, BOLD)

    return Block(18 * fit.scale + 2, draw)


def _state(sheet: HandoverSheet, said_of_kind: str) -> str:
    """How the unit stands: on hold, prepared ahead, or handed over."""
    facts = sheet.facts
    if sheet.stops:
        return f"on hold; asked for {said_of_kind}"
    if facts.out_at is not None:
        return f"handed over {said_of_kind}"
    ahead = "Prepared" if facts.starts_on is None else f"Prepared for {long_day(facts.starts_on)}"
    return f"{ahead}; not handed over yet. {said_of_kind[:1].upper()}{said_of_kind[1:]}"


def _who_and_what(sheet: HandoverSheet, fit: Fit) -> list[Block]:
    facts = sheet.facts
    who = ("spare unit", "no diver is named") if facts.spare and not sheet.diver else ("renter", said(sheet.diver))
    renter = pairs((who,), 1, fit.text * 1.25, 0.125)
    left = [
        ("hire", span(facts.starts_on, facts.ends_on)),
        ("return by", day(facts.ends_on)),
        ("ring at any fault", said(sheet.letterhead.telephone)),
        ("harness", said(facts.harness)),
        *((("deposit", plain_number(facts.deposit, "")),) if facts.deposit is not None else ()),
    ]
    right = [
        ("unit serial", said(facts.unit_serial)),
        ("head serial", said(facts.head_serial)),
        *(_handset(each) for each in facts.handsets[:3]),
        ("set-points", _set_points(facts)),
    ]
    if not facts.handsets:
        right.insert(2, ("handsets", NOT_RECORDED))
    rows = max(len(left), len(right))
    blank = ("", " ")
    known = left + [blank] * (rows - len(left)) + right + [blank] * (rows - len(right))
    return [*renter, *pairs(known, 2, fit.text, 0.25)]


def _set_points(facts: HandoverFacts) -> str:
    return f"low {figure(facts.set_point_low_bar, 'bar', 2)}, high {figure(facts.set_point_high_bar, 'bar', 2)}"


def _handset(handset: HandsetFacts) -> tuple[str, str]:
    return (handset.slot, f"{said(handset.serial)}, firmware {said(handset.firmware)}")


def _schematic(sheet: HandoverSheet, fit: Fit) -> list[Block]:
    """Loop and gas sides as they flow; left out where a full page needs the room."""
    if sheet.schematic is None or not fit.schematic:
        return []
    head = _head("Breathing loop and gas side", fit, "the worst of life, last test and calibration as recorded")
    return [head, schematic_block(sheet.schematic, fit.wide, fit.small * 0.86, beside=False)]


def _cells(sheet: HandoverSheet, fit: Fit) -> list[Block]:
    calibration = sheet.calibration
    if calibration is None:
        return [_head("Oxygen cells", fit), *text_lines(f"Calibration {NOT_RECORDED}.", fit.wide, fit.text, BOLD)]
    cells = cell_table(calibration, fit.cells, ages=True)
    return [
        _head("Oxygen cells", fit, conditions(calibration)),
        *table(cells.columns, cells.rows, fit.wide, fit.text * 0.96, 1),
        *([] if cells.rows else text_lines(f"Cells {NOT_RECORDED}.", fit.wide, fit.text, BOLD)),
        *_more(len(calibration.cells) - len(cells.rows), f"calibration {calibration.record or sheet.record}", fit),
    ]


def _head(title: str, fit: Fit, beside: str = "") -> Block:
    return section(title, beside, fit.head)


def _more(count: int, where: str, fit: Fit) -> list[Block]:
    return text_lines(f"and {count} more: see {where}", fit.wide, fit.small, BOLD)[:1] if count > 0 else []


def _absorbent(facts: HandoverFacts, fit: Fit) -> list[Block]:
    head = _head("Absorbent", fit, "one diver only; discarded at hand-back")
    fill = facts.fill
    if fill is not None and facts.fill_against:
        whose = f"stands in the canister and is not for this diver: {facts.fill_against}"
        words = f"fill {fill.fill.fill_id} {whose}. Discard it."
        return [head, *text_lines(words, fit.wide, max(LEAST, fit.text), BOLD)]
    if fill is None:
        sent = "" if facts.absorbent_kg is None else f"; {plain_number(facts.absorbent_kg, 'kg')} sent along in date"
        words = f"not packed: packed by the diver{sent}" if facts.hand_over == "kit" else f"fill {NOT_RECORDED}"
        return [head, *text_lines(words, fit.wide, fit.text, BOLD)]
    lot = NOT_RECORDED if fill.fill.lot is None else f"lot {fill.fill.lot}"
    known = [
        ("fill", f"fill {fill.fill.fill_id}"),
        ("canister", said(next((each.part for each in facts.fitted if each.slot_kind == "canister"), None))),
        ("packed", by_whom(fill.fill.packed_at, fill.packed_by)),
        ("absorbent", f"{lot}, {figure(fill.fill.mass_g, 'g', 0)}"),
        ("discard by", moment(facts.discard_by)),
    ]
    # What is rated stands in the plan's own line, where there is one.
    if not fill.reason:
        known.append(("rated", NOT_RECORDED))
    plan = text_lines(f"for the plan: {fill.reason}", fit.wide, fit.small)[:1] if fill.reason else []
    return [head, *pairs(known, 2, fit.text, 0.18), *plan]


def _cylinders(sheet: HandoverSheet, fit: Fit) -> list[Block]:
    facts = sheet.facts
    head = _head("Cylinders", fit, sheet_texts().oxygen_handling)
    if not facts.cylinders:
        return [head, *text_lines("none recorded as going along", fit.wide, fit.text, BOLD)]
    shown = facts.cylinders[: fit.cylinders]
    planned = (figure(facts.planned_depth_m, "m", 0), f"{figure(facts.planned_minutes, 'min', 0)} a fill")
    return [
        head,
        *text_lines(f"planned on this hire: {', '.join(planned)}", fit.wide, max(LEAST, fit.text), BOLD),
        *(_cylinder(cylinder, fit, facts.planned_depth_m) for cylinder in shown),
        *_more(len(facts.cylinders) - len(shown), f"record {sheet.record}", fit),
        *_regulators(facts, fit),
    ]


def _regulators(facts: HandoverFacts, fit: Fit) -> list[Block]:
    """Regulators and first stages in the unit and in its assemblies, in order of their slots."""
    told = "; ".join(
        f"{each.slot} {said(each.part)}, last good day {day(each.last_good_day)}"
        for each in facts.fitted
        if each.part_id is not None and ("regulator" in each.slot_kind or "first stage" in each.slot_kind)
    )
    return _labelled("regulators", told, fit, 2) if told else []


def _cylinder(cylinder: CylinderFacts, fit: Fit, planned_m: float | None) -> Block:
    size, small, deep = fit.text, fit.small, max(LEAST, fit.text)
    high = size * 1.25 + deep * 1.3 + small * 1.35 + 2.5
    depth, beside = _depth(cylinder, planned_m)
    filled = cylinder.filled
    oxygen, helium = (None, None) if filled.stale else (filled.oxygen_percent, filled.helium_percent)
    warning = _cylinder_warning(cylinder, oxygen)
    tests = _cylinder_tests(cylinder)

    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        first, middle = y + size + 0.5, y + size + 0.5 + deep * 1.3
        second = middle + small * 1.4
        own = wide * 0.26
        room = wide - own - 8
        places = (0.0, 0.15, 0.5, 0.68, 0.84)
        texts = (
            cylinder.filled.role,
            said(cylinder.part.label),
            _pressure(cylinder),
            f"O2 {figure(oxygen, '%')}",
            f"He {figure(helium, '%')}",
        )
        for place, (share, text) in enumerate(zip(places, texts, strict=True)):
            end = places[place + 1] if place + 1 < len(places) else 1.0
            pen.fit(x + room * share, first, text, room * (end - share) - 4, size, BOLD if place != 1 else REGULAR)
        pen.fit(x, middle, depth, room, deep, BOLD)
        told = width(settable(depth), BOLD, deep) + 6
        pen.fit(x + told, middle, beside, room - told, deep)
        left = x
        if warning is not None:
            wide_of_it = min(width(settable(warning), BOLD, small), room * 0.6)
            pen.fit(x, second, warning, wide_of_it, small, BOLD)
            left += wide_of_it + 6
        pen.fit(left, second, tests, x + room - left, small)
        _own_analysis(pen, x + wide - own, y + 1, own, high - 3, small)
        pen.rule(x, y + high - 0.3, wide, 0.25, 0.75)

    return Block(high, draw)


def _cylinder_warning(cylinder: CylinderFacts, oxygen: float | None) -> str | None:
    """What is said in bold of a cylinder: not analysed, not breathable, and figures that were doubted and kept."""
    filled = cylinder.filled
    stale = "filled after its last analysis: analyse it" if filled.stale else surface_warning(oxygen)
    analysis = f"analysis: {filled.analysis_note}" if filled.analysis_note and not filled.stale else None
    return "; ".join(filter(None, (stale, analysis, f"fill: {filled.fill_note}" if filled.fill_note else None))) or None


def _pressure(cylinder: CylinderFacts) -> str:
    size = f"{plain_number(cylinder.filled.size_l, 'L')}, " if cylinder.filled.size_l is not None else ""
    return size + figure(cylinder.end_bar, "bar", 0)


def _depth(cylinder: CylinderFacts, planned_m: float | None) -> tuple[str, str]:
    """The smaller depth with what sets it, and beside it the rest; a plan that goes deeper is said first of that."""
    depths = cylinder.depths
    limit = depth_limit(depths.maximum_depth_m, depths.dense_at_m[0])
    if limit is None or cylinder.filled.stale:
        return f"maximum depth {NOT_RECORDED}", ""
    oxygen = "oxygen" if depths.limit_bar is None else f"oxygen {depths.limit_bar:g} bar"
    set_by = f"gas density {DENSITY_ADVISED_G_L:g} g/L" if limit.by_density else oxygen
    words = f"to {whole_metres(limit.depth_m)}: {set_by}"
    if cylinder.filled.role == GasRole.DILUENT and planned_m is not None and planned_m > limit.depth_m:
        words += f"; the {plain_number(planned_m, 'm')} planned are deeper"
    beside = []
    if limit.by_density and depths.maximum_depth_m is not None:
        most = depths.dense_at_m[1]
        if most is not None and most < depths.maximum_depth_m:
            beside.append(f"{DENSITY_MOST_G_L:g} g/L at {whole_metres(most)}")
        beside.append(f"{oxygen} at {whole_metres(depths.maximum_depth_m)}")
    return words, ", ".join(beside)


def _cylinder_tests(cylinder: CylinderFacts) -> str:
    """Dates first and the analyst's name last, since the end is what a narrow line loses."""
    latest = {kind: max(on for each, on in cylinder.tests if each == kind) for kind, _ in cylinder.tests}
    return ", ".join(
        (
            f"hydrostatic {day(latest.get('hydrostatic'))}",
            f"visual {day(latest.get('visual'))}",
            f"last good day {day(cylinder.last_good_day)}",
            f"analysed {by_whom(cylinder.filled.analysed_at, cylinder.analysed_by)}",
        )
    )


def _own_analysis(pen: Pen, x: float, y: float, wide: float, high: float, small: float) -> None:
    """Boxes in which the renter writes what the renter's own analysis showed."""
    shares = (("your O2 %", 0.34), ("your He %", 0.33), ("initials", 0.33))
    left = x
    for label, share in shares:
        pen.box(left, y, wide * share, high, 0.5)
        pen.text(left + 2, y + small * 0.72, label, small * 0.7)
        left += wide * share


def _tests(sheet: HandoverSheet, fit: Fit) -> list[Block]:
    head = _head("Valves, loop and other tests", fit)
    facts = sheet.facts
    tests = [test for test in facts.tests if test.record.kind != VOLTAGE]
    fitted = [battery for battery in facts.batteries if battery.part_id is not None]
    shown = tests[: fit.tests]
    blocks = [head, *_in_columns(shown, 2, fit.text * 1.36, partial(_test, fit=fit))]
    if not shown:
        blocks += text_lines(f"Tests {NOT_RECORDED}.", fit.wide, fit.text, BOLD)
    blocks += _more(len(tests) - len(shown), f"record {sheet.record}", fit)
    batteries = fitted[: fit.batteries]
    known = "; ".join(map(_battery, batteries)) if batteries else NOT_RECORDED
    if len(fitted) > len(batteries):
        known += f"; and {len(fitted) - len(batteries)} more: see record {sheet.record}"
    blocks += _labelled("batteries", known, fit, 2)
    dry = "not marked dry" if facts.dry_at is None else f"dry {moment(facts.dry_at)}"
    return blocks + _labelled("disinfected", f"{moment(facts.disinfected_at)}, {dry}", fit, 2)


def _in_columns(
    items: Sequence[Item], columns: int, high: float, draw_item: Callable[[Pen, float, float, float, Item], None]
) -> list[Block]:
    rows = -(-len(items) // columns)

    def block(row: int) -> Block:
        def draw(pen: Pen, x: float, y: float, wide: float) -> None:
            step = wide / columns
            for column in range(columns):
                place = column * rows + row
                if place < len(items):
                    draw_item(pen, x + column * step, y, step - 8, items[place])

        return Block(high, draw)

    return [block(row) for row in range(rows)]


def _test(pen: Pen, x: float, y: float, wide: float, test: TestLine, fit: Fit) -> None:
    base, size = y + fit.text, fit.text
    name = test.record.kind if test.record.direction is None else f"{test.record.kind}, {test.record.direction}"
    pen.fit(x, base, name, wide * 0.33 - 4, size)
    pen.mark(x + wide * 0.33, base, said(test.record.result), size, wide * 0.15 - 4)
    words = (day(test.record.at), _seen_in_short(test.record), test.person or "by whom not recorded")
    pen.fit(x + wide * 0.48, base, ", ".join(filter(None, words)), wide * 0.52, size)


def _seen_in_short(test: BenchTestRecord) -> str:
    held = "" if test.held is None else "held" if test.held else "fell"
    watched = "" if test.held is None or test.watched_minutes is None else plain_number(test.watched_minutes, "min")
    value = "" if test.value is None else plain_number(test.value, test.unit_of_value or f"(unit {NOT_RECORDED})")
    return ", ".join(filter(None, (f"{held} {watched}".strip(), value)))


def _battery(battery: BatteryLine) -> str:
    fitted = f", fitted {day(battery.fitted_at)}" if battery.fitted_at else ""
    if battery.volts is None:
        return f"{battery.device} voltage {NOT_RECORDED}{fitted}"
    return f"{battery.device} {figure(battery.volts, 'V', 2)} on {day(battery.read_at)}{fitted}"


def _labelled(label: str, text: str, fit: Fit, most: int) -> list[Block]:
    """A label with text beside it, of at most so many lines; the last one ends in an ellipsis where more was said."""
    size, share = fit.text, 0.125
    lines = list(wrapped(text, REGULAR, size, fit.wide * (1 - share)))
    if len(lines) > most:
        lines = [*lines[: most - 1], cut(lines[most - 1] + " " + lines[most], REGULAR, size, fit.wide * (1 - share))]

    def block(place: int, line: str) -> Block:
        def draw(pen: Pen, x: float, y: float, wide: float) -> None:
            if place == 0:
                pen.text(x, y + size, label, size * 0.86)
            pen.text(x + wide * share, y + size, line, size)

        return Block(size * 1.33, draw)

    return [block(place, line) for place, line in enumerate(lines)]


def _accessories(sheet: HandoverSheet, fit: Fit) -> list[Block]:
    head = _head("Accessories", fit, "tick out, then back")
    shown = sheet.along[: fit.accessories]
    if not shown:
        line = "_" * 40
        return [head, *text_lines(f"Accessories {NOT_RECORDED}: write them here {line}", fit.wide, fit.text)]
    return [
        head,
        *_in_columns(shown, 3, fit.text * 1.4, partial(_accessory, fit=fit)),
        *_more(len(sheet.along) - len(shown), f"record {sheet.record}", fit),
    ]


def _accessory(pen: Pen, x: float, y: float, wide: float, accessory: tuple[str, int], fit: Fit) -> None:
    base, side = y + fit.text, fit.text * 0.85
    pen.box(x, base - side + 1, side, side)
    pen.box(x + side + 3, base - side + 1, side, side)
    name, number = accessory
    count = f"{number} ×"
    left = 2 * side + 8
    room = wide - left
    counted = min(width(count, BOLD, fit.text) + 4, room * 0.5)
    pen.fit(x + left, base, count, counted, fit.text, BOLD)
    pen.fit(x + left + counted, base, name, room - counted, fit.text)


def _remarks(sheet: HandoverSheet, fit: Fit) -> list[Block]:
    head = _head("Known faults and remarks", fit)
    if not sheet.remarks:
        return [head, *text_lines("none recorded", fit.wide, fit.text)]
    shown = sheet.remarks[: fit.remarks]
    blocks = [block for remark in shown for block in _remark(remark, sheet.record, fit)]
    return [head, *blocks, *_more(len(sheet.remarks) - len(shown), f"the unit's record {sheet.record}", fit)]


def _remark(remark: str, record: str, fit: Fit) -> list[Block]:
    size, dash = fit.text, 9.0
    room = fit.wide - dash
    lines = list(wrapped(remark, REGULAR, size, room))
    if len(lines) > fit.remark_lines:
        pointer = f" see record {record}"
        last = fit.remark_lines - 1
        kept = cut(lines[last] + " " + lines[last + 1], REGULAR, size, room - width(settable(pointer), REGULAR, size))
        lines = [*lines[:last], (kept if kept.endswith("…") else kept + "…") + pointer]

    def block(place: int, line: str) -> Block:
        def draw(pen: Pen, x: float, y: float, _wide: float) -> None:
            if place == 0:
                pen.text(x, y + size, "–", size, BOLD)
            pen.fit(x + dash, y + size, line, room, size)

        return Block(size * 1.33, draw)

    return [block(place, line) for place, line in enumerate(lines)]


def _still_to_do(sheet: HandoverSheet, fit: Fit) -> list[Block]:
    texts = sheet_texts().still_to_do
    also = sheet.also_do if sheet.for_diving else ()
    lines = (*texts.get(sheet.facts.hand_over, texts["kit"]), *also)
    title = "The diver still does" if sheet.for_diving else "What this hand-over means"
    room = fit.wide / 2 - 8 - _TICK_ROOM * fit.text
    # One size for all of them: a line set smaller than its neighbours looks less important.
    size = min(fitted(line, REGULAR, fit.text, room)[1] for line in lines)
    draw = partial(_task, size=size, fit=fit)
    return [_head(title, fit), *_in_columns(lines, 2, fit.text * 1.45, draw), space(4 * fit.scale)]


def _task(pen: Pen, x: float, y: float, wide: float, line: str, size: float, fit: Fit) -> None:
    side = fit.text * 0.85
    pen.box(x, y + fit.text - side + 1, side, side)
    pen.fit(x + _TICK_ROOM * fit.text, y + fit.text, line, wide - _TICK_ROOM * fit.text, size)
