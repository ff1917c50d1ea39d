"""Labels of about 62 by 29 mm, black on white, one a page: the fill of a canister, and the tag of a unit."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

from reportlab.lib.units import mm

from fleetbench.calc.canisters.fill import RatedMinutes
from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.calc.core.measures import CELSIUS, GRAM, METRE
from fleetbench.paper.core.document import new_canvas
from fleetbench.paper.core.marks import NOT_RECORDED, by_whom, figure, moment, said, sheet_texts
from fleetbench.paper.core.pen import BOLD, Align, Pen, lacks_glyphs, whole_line
from fleetbench.paper.core.tags import Tag
from fleetbench.records.core.plain_file import Target, written
from fleetbench.workshop.canisters.history import FillLabel

WIDE, HIGH = 62 * mm, 29 * mm
_EDGE = 5.0
# Code and white round it: four modules on every side, as ISO/IEC 18004 asks, for a text of up to 14 bytes.
_CODE, _QUIET = 34.0, 6.5
_TAG_CODE, _TAG_QUIET = 56.0, 11.0
_BOXES = 6

Facts = TypeVar("Facts")


@dataclass(frozen=True, slots=True, kw_only=True)
class TagLabelFacts:
    """The label that a unit carries."""

    centre: str
    telephone: str | None
    unit: str
    unit_type: str | None
    unit_serial: str | None


def write_fill_labels(labels: Sequence[FillLabel], target: Target, *, centre: str) -> int:
    """Write a label a fill; returns how many. ValueError for none.

    Minutes stand as rated at the centre's usual conditions; those left have no place on a label.
    """
    return _write(say("Fill labels"), labels, partial(_draw_fill, centre=centre), target)


def write_tag_labels(labels: Sequence[TagLabelFacts], target: Target) -> int:
    """Write a label a unit, its tag in large letters and as a code; returns how many. ValueError for none."""
    return _write(say("Unit tag labels"), labels, _draw_tag, target)


def _write(title: str, labels: Sequence[Facts], draw: Callable[[Pen, Facts], None], target: Target) -> int:
    if not labels:
        raise ValueError(say("labels: there is none to print; choose at least one"))
    with written(target) as stream:
        canvas = new_canvas(stream, (WIDE, HIGH), title, "fleetbench")
        for facts in labels:
            draw(Pen(canvas, HIGH), facts)
            canvas.showPage()
        canvas.save()
    return len(labels)


def _diver(facts: FillLabel) -> str:
    """The diver's name; behind the code where the typeface lacks some of it, so that no two divers look alike."""
    name = said(facts.diver)
    return f"{facts.diver_code}: {name}" if facts.diver_code and lacks_glyphs(name) else name


def _draw_fill(pen: Pen, facts: FillLabel, *, centre: str) -> None:
    beside = WIDE - _EDGE - _CODE - 2 * _QUIET
    with pen.tagged(Tag("H1")):
        pen.fit(_EDGE, 11, facts.fill, beside, 9.5, BOLD)
    pen.fit(_EDGE, 19, strung("   ", (said(facts.canister), centre)), beside, 5.8)
    pen.fit(_EDGE, 27, say("packed {packed_at}", packed_at=by_whom(facts.packed_at, facts.packed_by)), beside, 6.4)
    pen.fit(
        _EDGE, 35, say("lot {lot}, {mass_g}", lot=said(facts.lot), mass_g=figure(facts.mass_g, GRAM, 0)), beside, 6.4
    )
    pen.fit(_EDGE, 43, say("rated {rated}", rated=_rated(facts.rated)), beside, 6.4)
    wide = WIDE - 2 * _EDGE
    discard = say("discard by {discard_by}", discard_by=moment(facts.discard_by))
    pen.text(_EDGE, 54, *whole_line(discard, 8.2, wide * 0.6, 5.0), BOLD)
    pen.box(_EDGE + wide * 0.62, 47, wide * 0.38, 9.6, 0, 0.0)
    pen.canvas.setFillGray(1)
    whose = sheet_texts().shared_fill_label if facts.shared else sheet_texts().fill_label
    pen.fit(_EDGE + wide * 0.62 + 2, 54, worded(whose).upper(), wide * 0.38 - 4, 7.2, BOLD, Align.CENTRE)
    pen.canvas.setFillGray(0)
    hours = facts.hours_after_first_use
    pen.fit(_EDGE, 64, say("diver {diver}", diver=_diver(facts)), wide if hours is None else wide * 0.46, 7.4, BOLD)
    if hours is not None:
        sooner = say("or {hours:g} h after first use, if sooner", hours=hours)
        pen.fit_on_two(_EDGE + wide * 0.48, 64, sooner, wide * 0.52, 6.4, 5.0, Align.RIGHT)
    _minute_boxes(pen, wide)
    pen.code(WIDE - _QUIET - _CODE, _QUIET, facts.fill, _CODE)


def _rated(lines: Sequence[RatedMinutes]) -> str:
    if not lines:
        return NOT_RECORDED
    line = lines[0]
    where = f"{CELSIUS.words(line.water_c)}, {METRE.words(line.depth_m)}"
    return say(
        "{minutes:g} min at {where}, {co2_l_min:g} L/min CO2",
        minutes=line.minutes,
        where=where,
        co2_l_min=line.co2_l_min,
    )


def _minute_boxes(pen: Pen, wide: float) -> None:
    """Empty boxes in which the diver writes loop minutes, run by run."""
    with pen.tagged(Tag("P")):
        pen.text(_EDGE, 75, say("loop"), 5.4)
        pen.text(_EDGE, 80, say("minutes"), 5.4)
    left, side = _EDGE + 24, (wide - 24) / _BOXES
    for number in range(_BOXES):
        pen.box(left + number * side, 68, side, 12)


def _draw_tag(pen: Pen, facts: TagLabelFacts) -> None:
    room = WIDE - _EDGE - _TAG_CODE - 2 * _TAG_QUIET
    with pen.tagged(Tag("H1")):
        pen.fit(_EDGE, 42, facts.unit, room, 25, BOLD)
    pen.fit(_EDGE, 14, facts.centre, room, 7)
    pen.fit(_EDGE, 54, said(facts.unit_type), room, 6.6)
    pen.fit(_EDGE, 63, say("serial {unit_serial}", unit_serial=said(facts.unit_serial)), room, 6.6)
    if facts.telephone:
        pen.fit(_EDGE, 74, say("found? {telephone}", telephone=facts.telephone), room, 6.6)
    pen.code(WIDE - _TAG_QUIET - _TAG_CODE, (HIGH - _TAG_CODE) / 2, facts.unit, _TAG_CODE)
