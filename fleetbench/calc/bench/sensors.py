"""Tests of sensors, displays and batteries: one table of kinds, and what a type that states their limit asks for.

No tolerance is given here: the limits are the centre's own data from the maker's manual, each with its source. How each
test is made is common practice, no published source.
"""

from collections.abc import Container, Sequence
from dataclasses import dataclass

from fleetbench.calc.bench.measured import Instrument, Measured, TwoEnded, against_limit, lacks, mean_of, weakened
from fleetbench.calc.core.languages import say
from fleetbench.calc.core.measures import Measure, in_unit, measured_in
from fleetbench.calc.core.plausible import (
    BATTERY,
    CHARGES,
    SHOWN_CO2,
    SHOWN_DEPTH,
    STICK,
    Quantity,
    Tool,
    require_between,
)
from fleetbench.calc.core.verdict import Verdict


@dataclass(frozen=True, slots=True)
class SensorTest:
    """One kind of test: the slots whose part it speaks of, the unit of its figure, and what it is read with.

    against: what the figure is held against, empty where it stands by itself. tool: kind of equipment that gives the
    reference or reads the figure, empty where a certificate or the device itself does. limits: names of the limits in
    `unit`, or in `%` of the reference where `relative`; with one of them stated, the test is asked for. works: it is
    seen, not measured. quantity: what its figure may be.
    """

    kind: str
    slots: tuple[str, ...]
    set_up: str
    unit: str = ""
    against: str = ""
    tool: str = ""
    limits: tuple[str, ...] = ()
    relative: bool = False
    works: bool = False
    quantity: Quantity | None = None


_BATTERIES = ("handset battery", "head-up display battery", "solenoid battery")

SENSOR_TESTS: tuple[SensorTest, ...] = (
    SensorTest("carbon dioxide zero", ("carbon dioxide sensor",),
               "Flow gas free of carbon dioxide until the reading stands, then read it. The reference is 0; enter as "
               "its uncertainty what the certificate allows of carbon dioxide, at the room's pressure.",
               "mbar", "the zero gas", limits=("carbon dioxide zero tolerance",), quantity=SHOWN_CO2),
    SensorTest("carbon dioxide span", ("carbon dioxide sensor",),
               "Flow the span gas until the reading stands, then read it. The reference is its certified fraction "
               "times the room's pressure.",
               "mbar", "the span gas", limits=("carbon dioxide span tolerance",), relative=True,
               quantity=SHOWN_CO2),
    SensorTest("temperature stick", ("canister temperature probe",),
               "Let the stick and a thermometer stand together, away from sun and hands, until both have settled.",
               "C", "the thermometer", Tool.THERMOMETER, ("temperature stick tolerance",), quantity=STICK),
    SensorTest("depth sensor", ("handset",),
               "Raise the pressure in a pot step by step; read the handset's depth and the reference's at the same "
               "moment, in metres of the water that the handset is set to.",
               "m", "the reference gauge", Tool.GAUGE, ("depth sensor tolerance",), quantity=SHOWN_DEPTH),
    SensorTest("handset screen", ("handset",),
               "Look at the whole screen lit and dark, every segment and key, and at its window for cracks and water.",
               works=True),
    SensorTest("head-up display", ("head-up display",),
               "Call up every light and pattern, look at cable and gland, and read it from where the eye will be.",
               works=True),
    SensorTest("battery under load", _BATTERIES,
               "Load it as the device does for as long as the manual says, and read the voltage at the end.",
               "V", "", Tool.BENCH_METER, ("battery under load low", "battery under load high"),
               quantity=BATTERY),
    SensorTest("charge cycles", _BATTERIES,
               "Read how often it was charged, from the device or the log of its charger.",
               "cycles", limits=("charge cycles high",), quantity=CHARGES),
)  # fmt: skip
"""Every kind, in the order in which a bench works."""


def asked_of_slot(slot_kind: str, stated: Container[str]) -> tuple[SensorTest, ...]:
    """The tests that a part in a slot of that kind needs before its unit passes: those whose limit is stated for it.

    A screen and a head-up display are looked at with the alarms, which every unit needs; a solenoid is heard with the
    gas side, and its flow counts where it was measured.
    """
    mine = (each for each in SENSOR_TESTS if slot_kind in each.slots)
    return tuple(each for each in mine if any(name in stated for name in each.limits))


def against_reference(
    shown: Sequence[float],
    *,
    test: SensorTest,
    reference: float | None,
    reference_u: float | None,
    tool: Instrument | None,
    tolerance: float | None,
    source: str,
) -> Measured:
    """Answer of a sensor read against a reference: the mean error, guard-banded against the tolerance on both sides.

    reference_u: expanded uncertainty (k = 2) of a gas by its certificate, in the unit of the readings; where a tool
    gives the reference its own counts instead. What is not known never passes. tolerance: in the unit, or in % of the
    reference where the test is relative.
    """
    if not shown:
        return Measured(Verdict.REPEAT, say("No reading yet."))
    if reference is None:
        wanted = say("What {against} is at is not known: enter it in {unit}.", against=say(test.against),
                     unit=measured_in(test.unit))  # fmt: skip
        return Measured(Verdict.REPEAT, wanted)
    for value in (*shown, reference):
        require_between("reading", value, -1000.0, 100_000.0)
    if test.tool and (tool is None or tool.uncertainty is None):
        return Measured(Verdict.REPEAT, lacks(test.tool, tool), unit=test.unit)
    if not test.tool and reference_u is None:
        words = say("How certain {against} is, is not known: enter it from its certificate.", against=say(test.against))
        return Measured(Verdict.REPEAT, words)
    own = tool if test.tool else Instrument(test.against, (reference_u or 0.0) / 2.0, in_date=True)
    mean, expanded = mean_of(shown, own)
    error = mean - reference
    limit = None
    if tolerance is not None:
        allowed = abs(reference) * tolerance / 100.0 if test.relative else tolerance
        limit = TwoEnded(-allowed, allowed, source)
    assert expanded is not None, "the reference's uncertainty is known here"
    read = measured_in(test.unit)
    off: Measure | str = read
    said_of, by = f"{error:+.3g} ± {expanded:.2g} {read}", f"{reference:.4g}"
    if isinstance(read, Measure):
        off, said_of = read.difference, f"{read.spread(error, '+.3g')} ± {read.spread(expanded)} {read}"
        by = read.number(float(by))
    words = say("{mean} shown, {by} by {against}: {error}", mean=in_unit(float(f"{mean:.4g}"), read), by=by,
                against=say(test.against), error=said_of)  # fmt: skip
    verdict, said = against_limit(error, expanded, limit, off, words)
    told = Measured(verdict, sentence=said, value=error, unit=test.unit, expanded_u=expanded)
    return weakened(told, (tool,)) if test.tool else told


def own_figure(
    values: Sequence[float], *, test: SensorTest, tool: Instrument | None, limit: TwoEnded | None
) -> Measured:
    """Answer of a figure that stands by itself: a voltage under load, which dips, by the lowest; a count as it is."""
    if not values:
        return Measured(Verdict.REPEAT, say("No figure yet."))
    for value in values:
        require_between("figure", value, 0.0, 100_000.0)
    worst = max(values) if not test.tool else min(values)
    if test.tool and (tool is None or tool.uncertainty is None):
        return Measured(Verdict.REPEAT, lacks(test.tool, tool), worst, test.unit)
    expanded = 2.0 * tool.uncertainty if test.tool and tool is not None and tool.uncertainty is not None else 0.0
    words = f"{worst:.4g} ± {expanded:.2g} {test.unit}" if test.tool else f"{worst:g} {test.unit}"
    verdict, said = against_limit(worst, expanded, limit, test.unit, words)
    told = Measured(verdict, sentence=said, value=worst, unit=test.unit, expanded_u=expanded)
    return weakened(told, (tool,)) if test.tool else told
