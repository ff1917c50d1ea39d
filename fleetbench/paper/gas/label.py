"""The label of a cylinder, about 62 by 29 mm, black on white: a large role word, the gas, and how deep it may go.

It states the analysed gas only. What was not analysed since the fill has empty boxes and says so in words.
"""

from collections.abc import Sequence

from reportlab.lib.units import mm

from fleetbench.calc.core.languages import say, shown, strung
from fleetbench.calc.core.measures import BAR, METRE
from fleetbench.calc.gas.cylinders import GasRole
from fleetbench.calc.gas.depth import DENSITY_ADVISED_G_L, DENSITY_MOST_G_L, depth_limit
from fleetbench.paper.core.document import new_canvas
from fleetbench.paper.core.marks import by_whom, day, figure, said, whole_metres
from fleetbench.paper.core.pen import BOLD, Align, Pen
from fleetbench.paper.core.tags import Tag
from fleetbench.records.core.plain_file import Target, written
from fleetbench.workshop.gas.list import CylinderLine

WIDE, HIGH = 62 * mm, 29 * mm
CAUTION = say("open slowly, clean hands and tools, trained people only")
"""Beside oxygen; local law and the maker's manual stand above it. Common practice, no published source."""

RICH_PERCENT = 40.0
"""Over this the caution for oxygen is printed whatever the role: common practice, no published source."""

NOT_AT_SURFACE = say("not breathable at the surface")
NOT_ANALYSED = say("not analysed: do not dive")
_EDGE = 5.0
_CODE, _QUIET = 34.0, 6.5


def write_cylinder_labels(labels: Sequence[CylinderLine], target: Target, *, centre: str) -> int:
    """Write a label a cylinder, one a page; returns how many. ValueError for none."""
    if not labels:
        raise ValueError(say("labels: there is none to print; choose at least one"))
    with written(target) as stream:
        canvas = new_canvas(stream, (WIDE, HIGH), say("Cylinder labels"), "fleetbench")
        for facts in labels:
            _draw(Pen(canvas, HIGH), facts, centre)
            canvas.showPage()
        canvas.save()
    return len(labels)


def _draw(pen: Pen, facts: CylinderLine, centre: str) -> None:
    wide = WIDE - 2 * _EDGE
    beside = WIDE - _EDGE - _CODE - 2 * _QUIET
    with pen.tagged(Tag("H1")):
        pen.fit(_EDGE, 18, shown(say(facts.state.facts.role)).upper(), beside, 19, BOLD)
    pen.fit(_EDGE, 33, _gas(facts), beside, 13, BOLD)
    pen.fit(_EDGE, 42, strung("   ", (_pressure(facts), facts.part.label, centre)), beside, 6.4)
    pen.fit(_EDGE, 53, _depth(facts), wide * 0.62, 8.6, BOLD)
    pen.fit_on_two(_EDGE + wide * 0.64, 53, _test(facts), wide * 0.36, 6.2, 5.2, Align.RIGHT)
    _band(pen, facts, wide)
    notes = strung(
        "; ", (each.note for each in (facts.state.analysis, facts.state.fill) if each is not None and each.note)
    )
    pen.fit(_EDGE, 74.5 if notes else 79, _analysed(facts), wide * 0.72, 6.2)
    pen.fit(_EDGE, 80.5, notes, wide * 0.74, 5.6, BOLD)
    pen.box(_EDGE + wide * 0.76, 71.5, wide * 0.24, 9.5, 0.5)
    pen.text(_EDGE + wide * 0.765, 76, say("initials"), 4.6)
    pen.code(WIDE - _QUIET - _CODE, _QUIET, facts.part.label, _CODE)


def _band(pen: Pen, facts: CylinderLine, wide: float) -> None:
    """White on black where the gas may not be breathed at the surface or is not known; else a caution for oxygen."""
    gas = facts.state.gas
    words = NOT_ANALYSED if gas is None else NOT_AT_SURFACE if facts.breathable is False else ""
    if words:
        pen.box(_EDGE, 57.5, wide, 11, 0, 0.0)
        pen.canvas.setFillGray(1)
        pen.fit(_EDGE + 2, 65.6, shown(words).upper(), wide - 4, 8.4, BOLD, Align.CENTRE)
        pen.canvas.setFillGray(0)
    elif facts.state.facts.role == GasRole.OXYGEN or (gas and 100.0 * gas.oxygen > RICH_PERCENT):
        pen.fit(_EDGE, 65, CAUTION, wide, 6.8, BOLD)
    elif beside := beside_depth(facts):
        pen.fit(_EDGE, 65, beside, wide, 7.6)


def beside_depth(facts: CylinderLine) -> str:
    """Where a density sets the depth: the deeper bounds, at the greater density and of the oxygen; else nothing."""
    limit, most = depth_limit(facts.depths.maximum_depth_m, facts.depths.dense_at_m[0]), facts.depths.dense_at_m[1]
    if limit is None or not limit.by_density or facts.depths.maximum_depth_m is None:
        return ""
    over = most is not None and most < facts.depths.maximum_depth_m
    deepest = whole_metres(facts.depths.maximum_depth_m)
    oxygen = say("oxygen {bar:g} bar at {depth}", bar=facts.depths.limit_bar, depth=deepest)
    if not over or most is None:
        return oxygen
    return strung("; ", (say("{density:g} g/L at {depth}", density=DENSITY_MOST_G_L, depth=whole_metres(most)), oxygen))


def _gas(facts: CylinderLine) -> str:
    gas = facts.state.gas
    if gas is None:
        return "O2 ____ %   He ____ %"
    helium = f"   He {100.0 * gas.helium:.1f} %" if gas.helium else ""
    return f"O2 {100.0 * gas.oxygen:.1f} %{helium}"


def _pressure(facts: CylinderLine) -> str:
    return f"____ {BAR}" if facts.state.now_bar is None else figure(facts.state.now_bar, BAR, 0)


def _depth(facts: CylinderLine) -> str:
    """The smaller depth, rounded down so that the label never allows more than the gas does, and what sets it."""
    limit = depth_limit(facts.depths.maximum_depth_m, facts.depths.dense_at_m[0])
    if limit is None:
        return say("maximum depth ____ {metre}", metre=METRE)
    by = (
        say("density {density:g} g/L", density=DENSITY_ADVISED_G_L)
        if limit.by_density
        else say("oxygen {limit_bar:g} bar", limit_bar=facts.depths.limit_bar)
    )
    return say("to {depth_m}: {by}", depth_m=whole_metres(limit.depth_m), by=by)


def _test(facts: CylinderLine) -> str:
    return (
        say("test date not recorded")
        if facts.next_test is None
        else say("last valid day {next_test}", next_test=day(facts.next_test))
    )


def _analysed(facts: CylinderLine) -> str:
    if facts.state.gas is None:
        return say("analysed ____________ by ____________")
    return say(
        "analysed {by_whom}", by_whom=by_whom(facts.state.analysis and facts.state.analysis.at, said(facts.analysed_by))
    )
