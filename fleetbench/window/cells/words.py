"""What the calibration page says in words: figures with their uncertainty, limits, settling and the flush."""

from collections.abc import Sequence
from zoneinfo import ZoneInfo

from fleetbench.calc.cells.decision import Reason
from fleetbench.calc.cells.judge import CellOutcome
from fleetbench.calc.cells.readings import CellLimits
from fleetbench.calc.cells.settling import SettlingState
from fleetbench.calc.core.languages import capital, say, strung
from fleetbench.calc.core.measures import CELSIUS
from fleetbench.window.look.marks import PASS, REPEAT, UNKNOWN, Mark, mark_for
from fleetbench.workshop.bench.sessions import SessionFacts
from fleetbench.workshop.cells.plan import CalibrationPlan, CellPosition, CellSettling, FlushFacts

MINUS = "\N{MINUS SIGN}"


def signed(value: float, decimals: int = 1) -> str:
    """A figure with its sign, the minus as long as the plus."""
    return f"{value:+.{decimals}f}".replace("-", MINUS)


def plain(value: float, decimals: int = 1) -> str:
    """A figure, the minus of a negative one as printed."""
    return f"{value:.{decimals}f}".replace("-", MINUS)


def linearity_words(cell: CellOutcome) -> str:
    """Linearity ± U with its margin, for instance '99.2 ± 1.1 %, margin 3.1'."""
    if cell.linearity is None:
        return say("not known from these readings")
    if cell.expanded_u is None or cell.margin is None:
        return say("{linearity:.1f} %, U not known", linearity=cell.linearity)
    return say(
        "{linearity:.1f} ± {expanded_u:.1f} %, margin {margin} %",
        linearity=cell.linearity,
        expanded_u=cell.expanded_u,
        margin=plain(cell.margin),
    )


BY_LINEARITY = frozenset((
    Reason.WITHIN_LIMITS, Reason.ACROSS_LIMIT, Reason.CANNOT_DECIDE, Reason.ABOVE_LIMIT, Reason.BELOW_LIMIT,
    Reason.COMMON_LOW, Reason.SHIFTED_UP,
))  # fmt: skip
"""Reasons of a verdict that the linearity itself gives."""


def ground_words(cell: CellOutcome) -> str:
    """What gave the verdict: the linearity where it did, else the finding that stands above it."""
    if cell.reason in BY_LINEARITY or not cell.findings:
        return say("Linearity {cell} on {reader}", cell=linearity_words(cell), reader=cell.reader)
    return cell.findings[0].sentence


def row_end_words(cell: CellOutcome) -> str:
    """The same for the end of a row: 'current limited; linearity 99.7 ± 1.6 %, margin 3.1 %'."""
    if cell.reason in BY_LINEARITY:
        return linearity_words(cell)
    return say("{what}; linearity {cell}", what=cell.reason.replace("_", " "), cell=linearity_words(cell))


def millivolt_words(cell: CellOutcome) -> str:
    """Normalised readings, for instance '10.5 mV in air, 49.7 mV in oxygen at 1013 mbar'."""
    shown = (("air", cell.air_mv_normal), ("oxygen", cell.oxygen_mv_normal))
    known = [say("{value:.1f} mV in {where}", value=value, where=where) for where, value in shown if value is not None]
    return say("{known} at 1013 mbar", known=strung(", ", known)) if known else say("no figures")


def verified_words(cell: CellOutcome) -> str:
    """Up to which partial pressure the cell was shown to be right."""
    return (
        ""
        if cell.verified_up_to_bar is None
        else say("verified up to {verified_up_to_bar:.2f} bar", verified_up_to_bar=cell.verified_up_to_bar)
    )


def limits_words(limits: CellLimits) -> str:
    """The limits in force with their source."""
    floor = say("the maker's floor") if limits.makers_floor else say("the usual figure")
    return say(
        "{air_low_mv:g} to {air_high_mv:g} mV in air, over {oxygen_floor_mv:g} mV in oxygen "
        "({floor}), linearity {linearity_low:g} to {linearity_high:g} %, at 1013 mbar dry. "
        "Source: {source}.",
        air_low_mv=limits.air_low_mv,
        air_high_mv=limits.air_high_mv,
        oxygen_floor_mv=limits.oxygen_floor_mv,
        floor=floor,
        linearity_low=limits.linearity_low,
        linearity_high=limits.linearity_high,
        source=limits.source,
    )


def last_words(position: CellPosition) -> str:
    """What the last calibration said of a cell."""
    last = position.last
    if last is None:
        return say("no calibration on record")
    figures = "" if last.linearity is None else f", {last.linearity:.1f} %"
    return say("last {verdict}{figures}", verdict=say(last.verdict), figures=figures)


def settling_mark(found: CellSettling) -> Mark:
    """State of a cell in the flush as a mark."""
    state = found.state.state
    if state is SettlingState.SETTLED:
        return PASS.worded("settled")
    if state is SettlingState.UNPROVEN:
        return UNKNOWN.worded(state.value)
    return REPEAT.worded(state.value)


def settling_line(found: CellSettling) -> str:
    """State of a cell in the flush in a sentence, with the seconds still to wait where they can be told."""
    left = found.state.seconds_left
    wait = say(" About {left:.0f} s to go.", left=left) if left else ""
    said = found.state.sentence.removeprefix("Settled: ")
    return strung("", (capital(said), wait))


def flush_words(flush: FlushFacts | None) -> str:
    """The flush to expect."""
    if flush is None:
        return say("This unit type states neither head volume nor flow: no time can be expected, watch the readings.")
    return say(
        "Head {volume_l:g} L at {flow_l_min:g} L/min: about {expected_s} until 0.3 % of air is left, if it mixes well.",
        volume_l=flush.volume_l,
        flow_l_min=flush.flow_l_min,
        expected_s=clock_words(flush.expected_s),
    )


def clock_words(seconds: float) -> str:
    """Minutes and seconds as 1:42."""
    whole = max(0, int(seconds))
    return f"{whole // 60}:{whole % 60:02d}"


def session_words(bench: SessionFacts) -> str:
    """Conditions and gas of a session in one line."""
    humidity = (
        say("humidity not known")
        if bench.humidity_percent is None
        else say("{humidity_percent:.0f} % humidity", humidity_percent=bench.humidity_percent)
    )
    oxygen = say("gas not analysed")
    if bench.oxygen_shown_percent is not None:
        by = say(" by {serial}", serial=bench.analyser.tool.serial) if bench.analyser is not None else ""
        oxygen = say("oxygen {oxygen_shown_percent:.1f} %{by}", oxygen_shown_percent=bench.oxygen_shown_percent, by=by)
    source = say(" from altitude") if bench.pressure_source == "altitude" else ""
    room = say(
        "{pressure_mbar:.1f} mbar{source}, {temperature_c}, {humidity}",
        pressure_mbar=bench.pressure_mbar,
        source=source,
        temperature_c=CELSIUS.words(bench.temperature_c, 1),
        humidity=humidity,
    )
    return strung("", (room, "; ", oxygen, ". ", bench.person))


def unit_words(held: CalibrationPlan, zone: ZoneInfo) -> str:
    """The unit, its head and its last calibration in one line."""
    head = say("head {head}", head=held.head) if held.head is not None else say("no head recorded")
    last = (
        say("never calibrated")
        if held.last_at is None
        else say("last {zone:%Y-%m-%d}", zone=held.last_at.astimezone(zone))
    )
    return strung(", ", (held.unit_type, head, last))


def outcome_mark(cell: CellOutcome) -> Mark:
    """Verdict of a cell as a mark."""
    return mark_for(cell.verdict.value)


def comparison_words(on_this_gas: Sequence[tuple[str, str]]) -> str:
    """Which other heads of the session this one is compared with, should all its cells read low together."""
    if not on_this_gas:
        return say("No other head was calibrated on this gas yet; the next one in limits serves as comparison.")
    return say(
        "For comparison on this gas: {value}.",
        value=strung(", ", (strung(" ", (tag, say(verdict))) for tag, verdict in on_this_gas)),
    )
