"""The parts of the hand-over sheet, each as blocks at a given scale."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

from fleetbench.calc.gas.depth import DENSITY_ADVISED_G_L, DENSITY_MOST_G_L, depth_limit
from fleetbench.paper.cells.table import cell_table, conditions
from fleetbench.paper.core.flow import Block, pairs, section, space, table, text_lines
from fleetbench.paper.core.pen import BOLD, REGULAR, Align, Pen, cut, fitted, settable, width, wrapped
from fleetbench.paper.core.shapes import (
    AccessoryLine,
    BatteryLine,
    CylinderLine,
    FillFacts,
    HandoverFacts,
    HandsetLine,
    Remark,
    SignatureFacts,
    TestLine,
)
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
from fleetbench.paper.units.schematic import schematic_block

NOT_FOR_DIVING = "not for diving"
ON_HOLD = "ON HOLD: not to go out for diving as recorded"

Item = TypeVar("Item")
OTHER_DAYS = "Dates changed: sign again. Signed before"
_TICK_ROOM = 1.45
_LEAST = 7.0
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


def handover_blocks(facts: HandoverFacts, fit: Fit) -> list[Block]:
    """Everything between the page's head and the signatures, from the top down."""
    blocks = [*_on_hold(facts, fit), _kind_band(facts, fit), space(3 * fit.scale), *_who_and_what(facts, fit)]
    blocks += _schematic(facts, fit)
    blocks += _cells(facts, fit)
    blocks += _absorbent(facts.fill, facts.kind, facts.absorbent_kg, fit)
    blocks += _cylinders(facts, fit)
    blocks += _tests(facts, fit)
    blocks += _accessories(facts, fit)
    blocks += _remarks(facts, fit)
    return blocks + _still_to_do(facts, fit)


def _on_hold(facts: HandoverFacts, fit: Fit) -> list[Block]:
    """A box that nobody overlooks where something stops the unit; nothing where nothing does."""
    if not facts.stops:
        return []
    band, size, room = 24.0, fit.text, fit.wide - 16
    lines = [cut(f"– {stop}", REGULAR, size, room) for stop in facts.stops[: fit.stops]]
    if len(facts.stops) > len(lines):
        lines.append(f"– and {len(facts.stops) - len(lines)} more: see the unit's record {facts.record}")
    step = size * 1.33
    high = band + step * len(lines) + 4

    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        pen.box(x, y, wide, high, 2.0)
        pen.box(x, y, wide, band, 0, 0.0)
        pen.reversed_text(x + 8, y + 17.5, ON_HOLD, fitted(ON_HOLD, BOLD, 17, wide - 16)[1])
        for place, line in enumerate(lines):
            pen.fit(x + 8, y + band + step * (place + 1) - 1, line, wide - 16, size, BOLD)

    return [Block(high + 4, draw)]


def _kind_band(facts: HandoverFacts, fit: Fit) -> Block:
    said_of_kind = sheet_texts().kind_said.get(facts.kind, facts.kind)
    if facts.kind == NOT_FOR_DIVING:
        high = 40.0

        def warn(pen: Pen, x: float, y: float, wide: float) -> None:
            pen.box(x, y, wide, high, 0, 0.0)
            pen.reversed_text(x + 10, y + 31, NOT_FOR_DIVING.upper(), 31)

        return Block(high + 2, warn)

    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        pen.box(x, y, wide, 18 * fit.scale, 1.0)
        words = _state(facts, said_of_kind)
        pen.fit(x + 7, y + 13.2 * fit.scale, words, wide - 14, 11.5 * fit.scale, BOLD)

    return Block(18 * fit.scale + 2, draw)


def _state(facts: HandoverFacts, said_of_kind: str) -> str:
    """How the unit stands: on hold, prepared ahead, or handed over."""
    if facts.stops:
        return f"on hold; asked for {said_of_kind}"
    if facts.handed_over_at is not None:
        return f"handed over {said_of_kind}"
    ahead = "Prepared" if facts.starts_on is None else f"Prepared for {long_day(facts.starts_on)}"
    return f"{ahead}; not handed over yet. {said_of_kind[:1].upper()}{said_of_kind[1:]}"


def _who_and_what(facts: HandoverFacts, fit: Fit) -> list[Block]:
    who = ("spare unit", "no diver is named") if facts.spare and not facts.renter else ("renter", said(facts.renter))
    renter = pairs((who,), 1, fit.text * 1.25, 0.125)
    left = [
        ("hire", span(facts.starts_on, facts.ends_on)),
        ("return by", said(facts.return_by)),
        ("ring at any fault", said(facts.letterhead.telephone)),
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


def _handset(handset: HandsetLine) -> tuple[str, str]:
    return (handset.name, f"{said(handset.serial)}, firmware {said(handset.firmware)}")


def _schematic(facts: HandoverFacts, fit: Fit) -> list[Block]:
    """Loop and gas sides as they flow; left out where a full page needs the room."""
    if facts.schematic is None or not fit.schematic:
        return []
    head = _head("Breathing loop and gas side", fit, "the worst of life, last test and calibration as recorded")
    return [head, schematic_block(facts.schematic, fit.wide, fit.small * 0.86, beside=False)]


def _cells(facts: HandoverFacts, fit: Fit) -> list[Block]:
    calibration = facts.calibration
    if calibration is None:
        return [_head("Oxygen cells", fit), *text_lines(f"Calibration {NOT_RECORDED}.", fit.wide, fit.text, BOLD)]
    cells = cell_table(calibration, fit.cells, ages=True)
    return [
        _head("Oxygen cells", fit, conditions(calibration)),
        *table(cells.columns, cells.rows, fit.wide, fit.text * 0.96, 1),
        *([] if cells.rows else text_lines(f"Cells {NOT_RECORDED}.", fit.wide, fit.text, BOLD)),
        *_more(len(calibration.cells) - len(cells.rows), f"calibration {calibration.record or facts.record}", fit),
    ]


def _head(title: str, fit: Fit, beside: str = "") -> Block:
    return section(title, beside, fit.head)


def _more(count: int, where: str, fit: Fit) -> list[Block]:
    return text_lines(f"and {count} more: see {where}", fit.wide, fit.small, BOLD)[:1] if count > 0 else []


def _absorbent(fill: FillFacts | None, kind: str, absorbent_kg: float | None, fit: Fit) -> list[Block]:
    head = _head("Absorbent", fit, "one diver only; discarded at hand-back")
    if fill is not None and fill.against:
        words = f"{said(fill.number)} stands in the canister and is not for this diver: {fill.against}. Discard it."
        return [head, *text_lines(words, fit.wide, max(_LEAST, fit.text), BOLD)]
    if fill is None:
        sent = "" if absorbent_kg is None else f"; {plain_number(absorbent_kg, 'kg')} sent along in date"
        words = f"not packed: packed by the diver{sent}" if kind == "kit" else f"fill {NOT_RECORDED}"
        return [head, *text_lines(words, fit.wide, fit.text, BOLD)]
    facts = [
        ("fill", said(fill.number)),
        ("canister", said(fill.canister)),
        ("packed", by_whom(fill.packed_at, fill.packed_by)),
        ("absorbent", f"{said(fill.absorbent)}, {figure(fill.mass_g, 'g', 0)}"),
        ("discard by", moment(fill.discard_by)),
    ]
    # What is rated stands in the plan's own line, where there is one.
    if fill.rated is not None or not fill.plan:
        facts.append(("rated", said(fill.rated)))
    plan = text_lines(f"for the plan: {fill.plan}", fit.wide, fit.small)[:1] if fill.plan else []
    return [head, *pairs(facts, 2, fit.text, 0.18), *plan]


def _cylinders(facts: HandoverFacts, fit: Fit) -> list[Block]:
    head = _head("Cylinders", fit, sheet_texts().oxygen_handling)
    if not facts.cylinders:
        return [head, *text_lines("none recorded as going along", fit.wide, fit.text, BOLD)]
    shown = facts.cylinders[: fit.cylinders]
    planned = (figure(facts.planned_depth_m, "m", 0), f"{figure(facts.planned_minutes, 'min', 0)} a fill")
    return [
        head,
        *text_lines(f"planned on this hire: {', '.join(planned)}", fit.wide, max(_LEAST, fit.text), BOLD),
        *(_cylinder(cylinder, fit, facts.planned_depth_m) for cylinder in shown),
        *_more(len(facts.cylinders) - len(shown), f"record {facts.record}", fit),
        *_regulators(facts, fit),
    ]


def _regulators(facts: HandoverFacts, fit: Fit) -> list[Block]:
    if not facts.regulators:
        return []
    told = "; ".join(
        f"{each.slot} {said(each.serial)}, last good day {day(each.last_good_day)}" for each in facts.regulators
    )
    return _labelled("regulators", told, fit, 2)


def _cylinder(cylinder: CylinderLine, fit: Fit, planned_m: float | None) -> Block:
    size, small, deep = fit.text, fit.small, max(_LEAST, fit.text)
    high = size * 1.25 + deep * 1.3 + small * 1.35 + 2.5
    depth, beside = _depth(cylinder, planned_m)
    oxygen, helium = (None, None) if cylinder.stale else (cylinder.oxygen_percent, cylinder.helium_percent)
    warning = "filled after its last analysis: analyse it" if cylinder.stale else surface_warning(oxygen)
    tests = _cylinder_tests(cylinder)

    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        first, middle = y + size + 0.5, y + size + 0.5 + deep * 1.3
        second = middle + small * 1.4
        own = wide * 0.26
        room = wide - own - 8
        places = (0.0, 0.15, 0.5, 0.68, 0.84)
        texts = (
            cylinder.role,
            said(cylinder.serial),
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
            pen.text(x, second, warning, small, BOLD)
            left += width(settable(warning), BOLD, small) + 6
        pen.fit(left, second, tests, x + room - left, small)
        _own_analysis(pen, x + wide - own, y + 1, own, high - 3, small)
        pen.rule(x, y + high - 0.3, wide, 0.25, 0.75)

    return Block(high, draw)


def _pressure(cylinder: CylinderLine) -> str:
    size = f"{plain_number(cylinder.size_l, 'L')}, " if cylinder.size_l is not None else ""
    return size + figure(cylinder.bar, "bar", 0)


def _depth(cylinder: CylinderLine, planned_m: float | None) -> tuple[str, str]:
    """The smaller depth with what sets it, and beside it the rest; a plan that goes deeper is said first of that."""
    limit = depth_limit(cylinder.maximum_depth_m, cylinder.dense_at_m[0])
    if limit is None or cylinder.stale:
        return f"maximum depth {NOT_RECORDED}", ""
    oxygen = "oxygen" if cylinder.limit_bar is None else f"oxygen {cylinder.limit_bar:g} bar"
    set_by = f"gas density {DENSITY_ADVISED_G_L:g} g/L" if limit.by_density else oxygen
    words = f"to {whole_metres(limit.depth_m)}: {set_by}"
    if cylinder.role == "diluent" and planned_m is not None and planned_m > limit.depth_m:
        words += f"; the {plain_number(planned_m, 'm')} planned are deeper"
    beside = []
    if limit.by_density and cylinder.maximum_depth_m is not None:
        most = cylinder.dense_at_m[1]
        if most is not None and most < cylinder.maximum_depth_m:
            beside.append(f"{DENSITY_MOST_G_L:g} g/L at {whole_metres(most)}")
        beside.append(f"{oxygen} at {whole_metres(cylinder.maximum_depth_m)}")
    return words, ", ".join(beside)


def _cylinder_tests(cylinder: CylinderLine) -> str:
    """Dates first and the analyst's name last, since the end is what a narrow line loses."""
    return ", ".join(
        (
            f"hydrostatic {day(cylinder.hydrostatic)}",
            f"visual {day(cylinder.visual)}",
            f"last good day {day(cylinder.test_last_good_day)}",
            f"analysed {by_whom(cylinder.analysed_at, cylinder.analysed_by)}",
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


def _tests(facts: HandoverFacts, fit: Fit) -> list[Block]:
    head = _head("Valves, loop and other tests", fit)
    shown = facts.tests[: fit.tests]
    blocks = [head, *_in_columns(shown, 2, fit.text * 1.36, partial(_test, fit=fit))]
    if not shown:
        blocks += text_lines(f"Tests {NOT_RECORDED}.", fit.wide, fit.text, BOLD)
    blocks += _more(len(facts.tests) - len(shown), f"record {facts.record}", fit)
    batteries = facts.batteries[: fit.batteries]
    known = "; ".join(map(_battery, batteries)) if batteries else NOT_RECORDED
    if len(facts.batteries) > len(batteries):
        known += f"; and {len(facts.batteries) - len(batteries)} more: see record {facts.record}"
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
    name = test.name if test.direction is None else f"{test.name}, {test.direction}"
    pen.fit(x, base, name, wide * 0.33 - 4, size)
    pen.mark(x + wide * 0.33, base, said(test.result), size, wide * 0.15 - 4)
    words = (day(test.at), _seen_in_short(test), test.by or "by whom not recorded")
    pen.fit(x + wide * 0.48, base, ", ".join(filter(None, words)), wide * 0.52, size)


def _seen_in_short(test: TestLine) -> str:
    held = "" if test.held is None else "held" if test.held else "fell"
    watched = "" if test.held is None or test.watched_minutes is None else plain_number(test.watched_minutes, "min")
    value = "" if test.value is None else plain_number(test.value, test.unit or f"(unit {NOT_RECORDED})")
    return ", ".join(filter(None, (f"{held} {watched}".strip(), value)))


def _battery(battery: BatteryLine) -> str:
    fitted = f", fitted {day(battery.fitted_on)}" if battery.fitted_on else ""
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


def _accessories(facts: HandoverFacts, fit: Fit) -> list[Block]:
    head = _head("Accessories", fit, "tick out, then back")
    shown = facts.accessories[: fit.accessories]
    if not shown:
        line = "_" * 40
        return [head, *text_lines(f"Accessories {NOT_RECORDED}: write them here {line}", fit.wide, fit.text)]
    return [
        head,
        *_in_columns(shown, 3, fit.text * 1.4, partial(_accessory, fit=fit)),
        *_more(len(facts.accessories) - len(shown), f"record {facts.record}", fit),
    ]


def _accessory(pen: Pen, x: float, y: float, wide: float, accessory: AccessoryLine, fit: Fit) -> None:
    base, side = y + fit.text, fit.text * 0.85
    pen.box(x, base - side + 1, side, side)
    pen.box(x + side + 3, base - side + 1, side, side)
    count = "count not recorded" if accessory.count is None else f"{accessory.count} ×"
    left = 2 * side + 8
    room = wide - left
    counted = min(width(count, BOLD, fit.text) + 4, room * 0.5)
    pen.fit(x + left, base, count, counted, fit.text, BOLD)
    pen.fit(x + left + counted, base, accessory.name, room - counted, fit.text)


def _remarks(facts: HandoverFacts, fit: Fit) -> list[Block]:
    head = _head("Known faults and remarks", fit)
    if not facts.remarks:
        return [head, *text_lines("none recorded", fit.wide, fit.text)]
    shown = facts.remarks[: fit.remarks]
    blocks = [block for remark in shown for block in _remark(remark, facts, fit)]
    return [head, *blocks, *_more(len(facts.remarks) - len(shown), f"the unit's record {facts.record}", fit)]


def _remark(remark: Remark, facts: HandoverFacts, fit: Fit) -> list[Block]:
    size, dash = fit.text, 9.0
    room = fit.wide - dash
    lines = list(wrapped(remark.text, REGULAR, size, room))
    if len(lines) > fit.remark_lines:
        pointer = f" see {remark.see or f'record {facts.record}'}"
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


def _still_to_do(facts: HandoverFacts, fit: Fit) -> list[Block]:
    texts = sheet_texts().still_to_do
    also = () if facts.kind == NOT_FOR_DIVING else facts.also_do
    lines = (*texts.get(facts.kind, texts["kit"]), *also)
    title = "What this hand-over means" if facts.kind == NOT_FOR_DIVING else "The diver still does"
    room = fit.wide / 2 - 8 - _TICK_ROOM * fit.text
    # One size for all of them: a line set smaller than its neighbours looks less important.
    size = min(fitted(line, REGULAR, fit.text, room)[1] for line in lines)
    draw = partial(_task, size=size, fit=fit)
    return [_head(title, fit), *_in_columns(lines, 2, fit.text * 1.45, draw), space(4 * fit.scale)]


def _task(pen: Pen, x: float, y: float, wide: float, line: str, size: float, fit: Fit) -> None:
    side = fit.text * 0.85
    pen.box(x, y + fit.text - side + 1, side, side)
    pen.fit(x + _TICK_ROOM * fit.text, y + fit.text, line, wide - _TICK_ROOM * fit.text, size)


def _signed(pen: Pen, x: float, y: float, wide: float, high: float, size: float, signature: SignatureFacts) -> None:
    """The strokes above the line, and when it was signed; words alone where there are none."""
    bottom = y + high - size * 1.1
    tall = min(high - size * 2.4, wide * 0.5 * 0.3)
    step = tall / 300
    if signature.of_other_days:
        pen.fit(x, bottom - 2.5, f"{OTHER_DAYS}, {moment(signature.at)}", wide, max(_LEAST, size), BOLD)
        return
    for stroke in signature.strokes:
        points = [(x + wide * 0.42 + px * step, bottom - tall + py * step) for px, py in stroke]
        pen.polyline(points if len(points) > 1 else points * 2)
    if not signature.strokes:
        pen.text(x, bottom - 2.5, "signed on paper, or the drawing was erased", size * 0.86)
    pen.text(x + wide, bottom - 2.5, moment(signature.at), size * 0.86, align=Align.RIGHT)


def signature_block(facts: HandoverFacts, fit: Fit) -> Block:
    """Two signatures: who hands over, and who takes it and has read the page."""
    size = fit.text
    high = 56 * fit.scale
    only = ", only once every stop is lifted" if facts.stops else ""

    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        half = wide / 2
        signed = {each.party: each for each in facts.signatures}
        for left, label, name, party in (
            (x, f"handed over by{only}", "" if only else facts.handed_over_by or "", "centre"),
            (x + half + 6, f"received by, who has read this page{only}", facts.renter or "", "diver"),
        ):
            room = half - 6
            if party in signed:
                _signed(pen, left, y, room, high, size, signed[party])
            pen.text(left, y + size, label, size * 0.86)
            pen.fit(left, y + size * 2.3, name, room, size, BOLD)
            pen.rule(left, y + high - size * 1.1, room, 0.6)
            pen.text(left, y + high - size * 0.2, "signature", size * 0.76)
            pen.text(left + room, y + high - size * 0.2, "day and hour", size * 0.76, align=Align.RIGHT)

    return Block(high + 2, draw)
