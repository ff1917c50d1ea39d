"""Whether a measured figure can be, is likely, or is a typing error: one table of quantities and one decision.

A hard range is what physics, or the instrument, can show at all; outside it nothing is taken. Inside it a figure is
asked about once where it lies outside what is usual, or too far from the last figure of the same thing. A decimal
point in the wrong place is what both are meant to find: a figure ten times too large or too small.

A hard range is what physics, or the instrument, can show at all; outside it nothing is taken. Inside it a figure is
asked about once where it lies outside what is usual, or too far from the last figure of the same thing. A decimal
point in the wrong place is what both are meant to find: a figure ten times too large or too small.
"""

import math
import re
from dataclasses import dataclass
from enum import Enum, StrEnum

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import BAR, CELSIUS, GRAM, KILOGRAM, METRE, Measure, in_unit, span_in


def require_between(name: str, value: float, least: float, most: float) -> None:
    """Nothing where least <= value <= most; ValueError naming the field and the range otherwise, for NaN too."""
    if not math.isfinite(value) or not least <= value <= most:
        raise ValueError(
            say(
                "{name}: {value!r} is out of range; give {least:g} to {most:g}",
                name=name,
                value=value,
                least=least,
                most=most,
            )
        )


_WRITTEN = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)", re.ASCII)


def written_figure(text: str) -> float:
    """The number a person wrote, with a point or a comma as decimal sign; ValueError for anything else.

    Nothing that only a program writes is a number: no exponent, no separator of thousands, no word for infinity.
    """
    if not _WRITTEN.fullmatch(text):
        raise ValueError(say("{text!r} is not a number", text=text))
    return float(text.replace(",", "."))


class Likely(Enum):
    """What becomes of a figure: taken, asked about once, or refused."""

    FINE = "fine"
    ASK = "ask"
    REFUSE = "refuse"


class Tool(StrEnum):
    """A kind of test equipment."""

    ANALYSER = "analyser"
    BAROMETER = "barometer"
    HYGROMETER = "hygrometer"
    THERMOMETER = "thermometer"
    BENCH_METER = "bench meter"
    GAUGE = "gauge"
    MANOMETER = "manometer"
    SCALE = "scale"
    PRESSURE_POT = "pressure pot"
    FLOW_METER = "flow meter"
    REFERENCE_CELL = "reference cell"
    ANALYSER_CELL = "analyser cell"
    HELIUM_ANALYSER = "helium analyser"


@dataclass(frozen=True, slots=True)
class Plausible:
    """The decision, with words for a person: empty where it is fine, else one sentence with the range."""

    likely: Likely
    words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A measured quantity.

    low, high: the hard range, and why it is that. usual: outside it is asked once. step: the largest usual difference
    from the last figure of the same thing, growing by per_hour with its age, to step_most at the most. ratio: the
    largest usual quotient of the two, either way up. read_with: kind of test equipment that reads it by itself, several
    with or between; empty where none does, or where what a device shows is meant.
    """

    name: str
    unit: str | Measure
    low: float
    high: float
    why: str
    remedy: str
    usual: tuple[float, float] | None = None
    step: float | None = None
    per_hour: float = 0.0
    step_most: float = math.inf
    ratio: float | None = None
    read_with: str = ""

    @property
    def wanted(self) -> str:
        """The remedy, in the unit in use."""
        return say(self.remedy, unit=self.unit.word) if isinstance(self.unit, Measure) else say(self.remedy)

    def told(self, value: float) -> str:
        """A figure with its unit, as it was typed."""
        return in_unit(value, self.unit)

    def stored(self, typed: float) -> float:
        """A figure as it was typed, in the unit in which it is stored."""
        return self.unit.typed(typed) if isinstance(self.unit, Measure) else typed

    @property
    def measure(self) -> Measure | None:
        """The measure whose unit the centre chooses; None where the trade has one alone."""
        return self.unit if isinstance(self.unit, Measure) else None


def plausible(
    quantity: Quantity,
    value: float,
    *,
    last: float | None = None,
    hours: float | None = None,
    usual: tuple[float, float] | None = None,
) -> Plausible:
    """Whether the value of this quantity is taken, asked about once or refused.

    last: the figure before of the same thing, hours its age (None not known, which allows the largest step). usual:
    what is usual of this very thing, in place of the quantity's own. Missing history asks less, never refuses.
    """
    if not math.isfinite(value) or not quantity.low <= value <= quantity.high:
        return Plausible(Likely.REFUSE, outside(value, quantity.low, quantity.high, quantity.unit, quantity.wanted))
    shown = quantity.told(value)
    low, high = usual or quantity.usual or (quantity.low, quantity.high)
    if not low <= value <= high:
        usual_words = span_in(low, high, quantity.unit)
        return Plausible(Likely.ASK, say("{shown} is unusual, {usual} is usual", shown=shown, usual=usual_words))
    if last is not None and _is_far(quantity, value, last, hours):
        return Plausible(Likely.ASK, say("{shown} is far from the last, {last}", shown=shown, last=quantity.told(last)))
    return Plausible(Likely.FINE)


def band(
    quantity: Quantity,
    *,
    last: float | None = None,
    hours: float | None = None,
    usual: tuple[float, float] | None = None,
) -> tuple[float, float]:
    """The least and the largest figure that `plausible` takes unasked of the very same thing.

    Around the last figure where one is known and that leaves any of what is usual, else all that is usual. Of a
    quotient only what lies above zero is given.
    """
    low, high = usual or quantity.usual or (quantity.low, quantity.high)
    low, high = max(low, quantity.low), min(high, quantity.high)
    near_low, near_high = low, high
    if last is not None and quantity.step is not None:
        allowed = _allowed(quantity, quantity.step, hours)
        near_low, near_high = max(near_low, last - allowed), min(near_high, last + allowed)
    if last is not None and last > 0.0 and quantity.ratio is not None:
        near_low, near_high = max(near_low, last / quantity.ratio), min(near_high, last * quantity.ratio)
    return (near_low, near_high) if near_low <= near_high else (low, high)


def band_words(
    quantity: Quantity,
    *,
    last: float | None = None,
    hours: float | None = None,
    usual: tuple[float, float] | None = None,
    known_as: str = "last",
) -> str:
    """What stands beside a field: the last figure, or that none is recorded, and the band; the unit stands there too.

    known_as: what the figure before is called where it is no reading, such as a mix that was asked for; empty for a
    thing that is new, of which there can be no figure yet.
    """
    low, high = band(quantity, last=last, hours=hours, usual=usual)
    is_all = usual is None and quantity.usual is None and (low, high) == (quantity.low, quantity.high)
    before = say("not recorded") if last is None else _in_four_digits(quantity, last)
    ends = {"low": _in_four_digits(quantity, low), "high": _in_four_digits(quantity, high)}
    span = say("possible {low} to {high}", **ends) if is_all else say("usual {low} to {high}", **ends)
    told = (say("{known_as} {figure}", known_as=say(known_as), figure=before),) if known_as else ()
    return strung(", ", (*told, span))


def _in_four_digits(quantity: Quantity, value: float) -> str:
    figure = quantity.unit.shown(value) if isinstance(quantity.unit, Measure) else value
    return f"{figure:.0f}" if abs(figure) >= 1000.0 else f"{figure:.4g}"


def _allowed(quantity: Quantity, step: float, hours: float | None) -> float:
    allowed = quantity.step_most if hours is None else step + quantity.per_hour * max(hours, 0.0)
    return min(allowed, quantity.step_most)


def _is_far(quantity: Quantity, value: float, last: float, hours: float | None) -> bool:
    if quantity.step is not None and abs(value - last) > _allowed(quantity, quantity.step, hours):
        return True
    if quantity.ratio is None or value <= 0.0 or last <= 0.0:
        return False
    return not 1.0 / quantity.ratio <= value / last <= quantity.ratio


def outside(value: float, low: float, high: float, unit: str | Measure, remedy: str) -> str:
    """What is said of a figure outside its range, in the unit it was typed in."""
    figure = unit.number(value) if isinstance(unit, Measure) else f"{value:g}"
    return say("{figure} is outside {span}; {remedy}", figure=figure, span=span_in(low, high, unit), remedy=remedy)


COMMON = "common practice, no published source"

ROOM_PRESSURE = Quantity(
    name="pressure", unit="mbar", low=300.0, high=1100.0,
    why="337 mbar on the highest summit to 1084 mbar, the highest at sea level (WMO World Weather and Climate Extremes "
        "Archive; from memory)",
    remedy="enter the absolute pressure of the room in mbar (hPa)",
    step=5.0, per_hour=2.0, step_most=60.0,
    read_with=Tool.BAROMETER,
)  # fmt: skip
"""Weather moves it by about 1 mbar in an hour: a fall of 24 mbar in a day is an exceptional storm (Sanders and Gyakum,
Monthly Weather Review 108, 1980)."""

ROOM_TEMPERATURE = Quantity(
    name="temperature", unit=CELSIUS, low=-10.0, high=50.0, why=COMMON, usual=(8.0, 38.0), step=10.0,
    step_most=10.0, remedy="read the room's thermometer in {unit}",
    read_with=Tool.THERMOMETER,
)  # fmt: skip
GAS_TEMPERATURE = Quantity(
    name="gas temperature", unit=CELSIUS, low=-20.0, high=60.0, why=COMMON, usual=(0.0, 45.0),
    remedy="enter the gas temperature in {unit}", step=10.0, step_most=10.0,
    read_with=Tool.THERMOMETER,
)  # fmt: skip
CYLINDER_TEMPERATURE = Quantity(
    name="temperature", unit=CELSIUS, low=-20.0, high=65.0, why="ISO 10286: cylinders are rated to 65 °C (from memory)",
    usual=(-5.0, 60.0), remedy="enter {unit}",
    read_with=Tool.THERMOMETER,
)  # fmt: skip
HUMIDITY = Quantity(
    name="humidity", unit="%", low=0.0, high=100.0, why="relative humidity by definition", usual=(12.0, 98.0),
    remedy="enter relative humidity in percent, or leave it unknown",
    read_with=Tool.HYGROMETER,
)  # fmt: skip
FLUSH_OXYGEN = Quantity(
    name="oxygen", unit="%", low=50.0, high=101.0, why="an analyser may show up to 1 % too much",
    usual=(90.0, 101.0), step=3.0, step_most=3.0,
    remedy="enter what the analyser shows in percent; over 101 % check the analyser in air and analyse again",
    read_with=Tool.ANALYSER,
)  # fmt: skip
PURE_OXYGEN = Quantity(
    name="oxygen", unit="%", low=0.0, high=101.0, why="an analyser may show up to 1 % too much", usual=(95.0, 101.0),
    remedy="enter what the analyser shows in percent",
    read_with=Tool.ANALYSER,
)  # fmt: skip
MIXED_OXYGEN = Quantity(
    name="oxygen", unit="%", low=0.0, high=101.0, why="an analyser may show up to 1 % too much", usual=(5.0, 60.0),
    step=5.0, step_most=5.0,
    remedy="enter what the analyser shows in percent; over 101 % check the analyser in air and analyse again",
    read_with=Tool.ANALYSER,
)  # fmt: skip
HELIUM = Quantity(
    name="helium", unit="%", low=0.0, high=100.0, why="a fraction", usual=(0.0, 95.0), step=10.0, step_most=10.0,
    remedy="enter what the analyser shows in percent", read_with=Tool.HELIUM_ANALYSER,
)  # fmt: skip
AIR_MV = Quantity(
    name="air reading", unit="mV", low=-2.0, high=60.0, why="four times the usual upper limit of 13 mV; " + COMMON,
    ratio=1.3, remedy="enter what the reader shows, in mV",
)  # fmt: skip
OXYGEN_MV = Quantity(
    name="oxygen reading", unit="mV", low=-2.0, high=300.0, why="4.78 times the range in air (CIPM-2007)",
    ratio=1.3, remedy="enter what the reader shows, in mV",
)  # fmt: skip
POT_MV = Quantity(
    name="pot reading", unit="mV", low=-2.0, high=600.0, why="twice the range at 1 bar, up to 2.4 bar; " + COMMON,
    remedy="enter what the reader shows, in mV",
)  # fmt: skip
ZERO_MV = Quantity(
    name="zero reading", unit="mV", low=-5.0, high=5.0, why="an offset above that is a fault of the input; " + COMMON,
    usual=(-1.0, 1.0), remedy="enter what the reader shows, in mV",
)  # fmt: skip
SHOWN_PO2 = Quantity(
    name="displayed pO2", unit="bar", low=0.0, high=4.0, why=COMMON, remedy="enter what the reader shows, in bar",
)  # fmt: skip
BATTERY = Quantity(
    name="volts", unit="V", low=0.0, high=60.0, why="extra-low voltage, under 60 V direct current (IEC 61140)",
    usual=(0.5, 17.0), ratio=1.6, remedy="enter volts",
    read_with=Tool.BENCH_METER,
)  # fmt: skip
"""A cell of any chemistry moves by less than a factor of 1.6 between fresh and flat: alkaline 1.6 to 0.9 V is 1.8 but
is replaced from 1.1 V on; lithium ion 4.2 to 2.8 V is 1.5 (from memory)."""

LOOP_MINUTES = Quantity(
    name="minutes", unit="min", low=0.1, high=1440.0, why="a day", usual=(10.0, 300.0),
    remedy="enter loop minutes, or dive minutes and say so",
)  # fmt: skip
HIRE_MINUTES = Quantity(
    name="loop minutes", unit="min", low=0.0, high=30_000.0, why="three weeks without a pause",
    remedy="enter the minutes of the whole hire",
)  # fmt: skip
DEPTH = Quantity(
    name="deepest", unit=METRE, low=0.0, high=350.0, why="deeper than any dive on record (332 m; from memory)",
    usual=(3.0, 100.0), remedy="enter {unit}, or leave it empty where it is not known",
)  # fmt: skip
WATER = Quantity(
    name="coldest water", unit=CELSIUS, low=-3.0, high=45.0, why="sea water freezes at -1.9 °C (from memory)",
    usual=(-2.0, 34.0), remedy="enter {unit}, or leave it empty where it is not known",
)  # fmt: skip
SEEN_AT_6M = Quantity(
    name="oxygen seen at 6 m", unit="bar", low=0.1, high=3.0, why=COMMON, usual=(0.5, 1.7),
    remedy="enter bar, or leave it empty",
)  # fmt: skip
"""At 6 m the water and the air above it come to 1.6 bar, so that no cell can truly show more."""

FILLED_MASS = Quantity(
    name="filled mass", unit=GRAM, low=0.0, high=40_000.0, why=COMMON, remedy="enter {unit}", ratio=3.0,
    read_with=Tool.SCALE,
)  # fmt: skip
EMPTY_MASS = Quantity(
    name="empty mass", unit=GRAM, low=0.0, high=20_000.0, why=COMMON, ratio=3.0,
    remedy="enter {unit}, 0 where the scale was set to zero with it",
    read_with=Tool.SCALE,
)  # fmt: skip
CONTAINER_MASS = Quantity(
    name="net mass", unit=KILOGRAM, low=0.05, high=1000.0, why=COMMON, usual=(3.0, 60.0),
    remedy="enter the net mass of absorbent",
    read_with=Tool.SCALE,
)  # fmt: skip
CONTACT_MINUTES = Quantity(
    name="contact time", unit="min", low=0.1, high=1440.0, why="a day", usual=(1.0, 120.0), ratio=5.0,
    remedy="enter the minutes that the agent's maker states",
)  # fmt: skip
SUPPLY = Quantity(
    name="supply pressure", unit=BAR, low=0.0, high=400.0, why="above any cylinder's working pressure",
    usual=(10.0, 320.0), remedy="enter the supply pressure in {unit}",
    read_with=Tool.GAUGE,
)  # fmt: skip
GAUGE = Quantity(
    name="intermediate pressure", unit=BAR, low=0.0, high=50.0, why="a relief valve opens well below; " + COMMON,
    usual=(4.0, 20.0), ratio=2.0, remedy="enter the gauge pressure in {unit}",
    read_with=Tool.GAUGE,
)  # fmt: skip
LOOP_GAUGE = Quantity(
    name="loop pressure", unit="mbar", low=-500.0, high=500.0, why="a loop is never taken further; " + COMMON,
    usual=(-150.0, 150.0), ratio=8.0, remedy="enter what the manometer shows in mbar",
    read_with=Tool.MANOMETER,
)  # fmt: skip
FLOW = Quantity(
    name="flow", unit="L/min", low=0.0, high=1000.0, why=COMMON, ratio=5.0, remedy="enter what the flow meter shows",
    read_with=Tool.FLOW_METER,
)  # fmt: skip
SUCTION = Quantity(
    name="suction", unit="mbar", low=0.01, high=500.0, why=COMMON, usual=(1.0, 100.0),
    remedy="enter the suction in mbar, above zero",
    read_with=Tool.MANOMETER,
)  # fmt: skip
TEST_VOLUME = Quantity(
    name="volume", unit="L", low=0.001, high=100.0, why=COMMON, usual=(0.001, 20.0), ratio=2.0,
    remedy="enter the test volume in litres, above zero",
)  # fmt: skip
CYLINDER_PRESSURE = Quantity(
    name="pressure", unit=BAR, low=0.0, high=350.0, why="above the working pressure of any breathing-gas cylinder",
    remedy="read the gauge, in {unit}",
    read_with=Tool.GAUGE,
)  # fmt: skip
OVER_PRESSURE = Quantity(
    name="over-pressure", unit="mbar", low=-50.0, high=500.0, why=COMMON, usual=(0.0, 100.0),
    remedy="enter mbar over the room's pressure",
    read_with=Tool.MANOMETER,
)  # fmt: skip
FRACTION_SET = Quantity(
    name="fraction set", unit="%", low=50.0, high=100.0, why="a share of oxygen", usual=(90.0, 100.0),
    remedy="enter 99.5 % as 99.5",
)  # fmt: skip
WATCHED = Quantity(
    name="minutes watched", unit="min", low=0.0, high=1440.0, why="a day", usual=(0.2, 60.0), remedy="enter minutes",
)  # fmt: skip

BACK_LEAK = Quantity(
    name="back-leak", unit="mL/min", low=0.0, high=100_000.0, why=COMMON, ratio=10.0,
    remedy="enter what the flow meter shows in mL/min",
)  # fmt: skip
OPENING = Quantity(
    name="opening pressure", unit="mbar", low=0.0, high=500.0, why="a valve of a loop opens well below; " + COMMON,
    usual=(0.5, 100.0), ratio=3.0, remedy="enter what the manometer shows in mbar",
)  # fmt: skip
PULSED = Quantity(
    name="volume", unit="mL", low=0.0, high=100_000.0, why=COMMON, remedy="enter the volume of all pulses in mL",
)  # fmt: skip
PULSES = Quantity(
    name="pulses", unit="", low=1.0, high=10_000.0, why="more are never counted; " + COMMON, remedy="count them",
)  # fmt: skip
SHOWN_CO2 = Quantity(
    name="carbon dioxide", unit="mbar", low=-20.0, high=200.0, why="a tenth of an atmosphere is never a span gas; "
    + COMMON, usual=(-2.0, 60.0), remedy="enter what is shown in mbar",
)  # fmt: skip
STICK = Quantity(
    name="temperature", unit="C", low=-20.0, high=100.0, why=COMMON, usual=(0.0, 60.0), remedy="enter degrees C",
)  # fmt: skip
SHOWN_DEPTH = Quantity(
    name="depth", unit=METRE, low=-2.0, high=350.0, why="deeper than any dive on record (332 m; from memory)",
    usual=(-0.5, 150.0), remedy="enter {unit}",
)  # fmt: skip
CHARGES = Quantity(
    name="charge cycles", unit="cycles", low=0.0, high=20_000.0, why=COMMON, remedy="enter the count as it stands",
)  # fmt: skip
COUNTED_MASS = Quantity(
    name="counted", unit=KILOGRAM, low=0.0, high=1000.0, why=COMMON, remedy="weigh what is left and enter {unit}",
    read_with=Tool.SCALE,
)  # fmt: skip


ABSORBENT_SENT = Quantity(
    name="absorbent", unit=KILOGRAM, low=0.0, high=100.0, why=COMMON, usual=(0.2, 30.0),
    remedy="enter the {unit} sent, or leave it empty",
    read_with=Tool.SCALE,
)  # fmt: skip


OF_TEST = {"battery voltage": BATTERY, "intermediate pressure": GAUGE, "injector flow": FLOW}
"""What the figure of a bench test is, by the kind of the test."""

OF_POINT = {"zero": ZERO_MV, "air": AIR_MV, "oxygen": OXYGEN_MV, "pot": POT_MV}
"""What a reading of a cell is in mV, by its point; one while the gas still settles may be any of them."""


def span_of(*quantities: Quantity) -> tuple[float, float]:
    """The hard range in which every one of these quantities lies."""
    return min(each.low for each in quantities), max(each.high for each in quantities)


def typed_twice(
    quantity: Quantity, value: float, usual: tuple[float, float] | None = None, last: float | None = None
) -> str | None:
    """What the record's remark says of a figure that is taken though it is unusual, None of any other."""
    if plausible(quantity, value, usual=usual, last=last).likely is not Likely.ASK:
        return None
    return say("typed twice: {told}", told=quantity.told(value))


def kept_figures(*asked: tuple[Quantity, float | None, tuple[float, float] | None, float | None]) -> str | None:
    """One remark of all figures that were asked about and kept, each with its name; None where none was.

    asked: quantity, value (None is not entered), what is usual of this very thing, and the figure it is held against.
    """
    found = ((each, typed_twice(each, value, usual, last)) for each, value, usual, last in asked if value is not None)
    return strung("; ", (strung(" ", (say(quantity.name), words)) for quantity, words in found if words)) or None


def analysis_remark(*, pure: bool, oxygen: float, asked_oxygen: float | None, helium: float | None,
                    asked_helium: float | None) -> str | None:  # fmt: skip
    """The remark of an analysis whose figures (percent) are unusual, or far from the gas that was asked for."""
    of_oxygen = (PURE_OXYGEN if pure else MIXED_OXYGEN, oxygen, None, asked_oxygen)
    return kept_figures(of_oxygen, (HELIUM, helium, None, asked_helium))


def run_remark(
    *,
    minutes: float,
    dives: float,
    deepest_m: float | None,
    coldest_c: float | None,
    seen_at_6m_bar: float | None,
    planned_m: float | None = None,
) -> str | None:
    """The remark of a run whose minutes, depth, water or oxygen at 6 m are unusual; planned_m: the planned depth."""
    return kept_figures(
        (LOOP_MINUTES, minutes, minutes_usual(dives), None), (DEPTH, deepest_m, depth_usual(planned_m), None),
        (WATER, coldest_c, None, None), (SEEN_AT_6M, seen_at_6m_bar, None, None),
    )  # fmt: skip


def battery_usual(replace_volts: float | None) -> tuple[float, float] | None:
    """What a battery that is replaced under this voltage usually shows: flat at half of it, fresh at 1.6 times.

    Alkaline 0.8 to 1.6 V over 1.1 V, lithium ion 2.8 to 4.2 V over 3.5 V, from memory. None where no voltage is stated.
    """
    return None if replace_volts is None or replace_volts <= 0.0 else (0.5 * replace_volts, 1.6 * replace_volts)


def minutes_usual(dives: float) -> tuple[float, float]:
    """Loop minutes usual of one figure that holds so many dives, up to five hours each: `common practice, no published
    source`."""
    return 10.0, 300.0 * max(1.0, dives)


def depth_usual(planned_m: float | None) -> tuple[float, float] | None:
    """Depths usual on a dive planned to this depth: a third more and 5 m. None where none is planned: `common practice,
    no published source`."""
    return None if planned_m is None else (3.0, planned_m * 4.0 / 3.0 + 5.0)
