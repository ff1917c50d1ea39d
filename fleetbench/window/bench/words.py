"""What the Bench page says in words: answers, time still to watch, equipment, and what a test is called."""

from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from fleetbench.calc.bench.measured import Measured
from fleetbench.calc.core.languages import reworded, say, strung
from fleetbench.calc.core.measures import BAR, CELSIUS, Measure, in_unit, result_in
from fleetbench.calc.core.verdict import Verdict
from fleetbench.window.look.words import MINUS, figure
from fleetbench.workshop.bench.equipment import EquipmentRow
from fleetbench.workshop.bench.measured import Stamped
from fleetbench.workshop.bench.offers import BenchPlan, Method, TestOffer
from fleetbench.workshop.bench.tests import RecordedTest

if TYPE_CHECKING:
    from datetime import datetime

READING_WORDS = {
    Method.LOOP: say("Pressure over or under the room's"),
    Method.BACK_LEAK_DECAY: "Suction",
    Method.BACK_LEAK_FLOW: say("Back-leak"),
    Method.OPENING: say("Opened at"),
    Method.LOCK_UP: say("Intermediate pressure"),
    Method.INJECTOR: "Flow",
    Method.PULSES: say("Gas let through"),
    Method.REFERENCE: "Shown",
    Method.FIGURE: "Figure",
}
"""What each reading of a test is called on the page."""

ASKED_ONCE: dict[Method, tuple[tuple[str, str, str | Measure], ...]] = {
    Method.LOOP: (("ambient_mbar", say("Room pressure"), "mbar"), ("volume_l", say("Loop volume"), "L")),
    Method.BACK_LEAK_DECAY: (("ambient_mbar", say("Room pressure"), "mbar"), ("volume_l", say("Test volume"), "L")),
    Method.BACK_LEAK_FLOW: (("suction_mbar", say("Suction held"), "mbar"),),
    Method.OPENING: (),
    Method.LOCK_UP: (("supply_bar", say("Supply pressure"), BAR),),
    Method.INJECTOR: (("ambient_mbar", say("Room pressure"), "mbar"), ("upstream_bar", say("Intermediate pressure"),
        BAR),
                      ("temperature_c", say("Gas temperature"), CELSIUS)),
    Method.PULSES: (("counted", say("Pulses counted"), ""),),
    Method.REFERENCE: (("reference", "Reference", ""), ("reference_u", say("Its uncertainty, k = 2"), "")),
    Method.FIGURE: (),
}  # fmt: skip
"""What is entered once for each test: field of the set-up, label, unit."""


def asked_once(offer: TestOffer) -> tuple[tuple[str, str, str | Measure], ...]:
    """The same of one test, with the unit of a reference; how certain it is, is asked where no tool states it."""
    asked = ASKED_ONCE[offer.method]
    if offer.method is not Method.REFERENCE:
        return asked
    return tuple((name, label, offer.unit) for name, label, _unit in asked if name == "reference" or not offer.tools)


def offer_words(offer: TestOffer) -> str:
    """A test in the list of a unit's tests."""
    if offer.method is Method.BREATH:
        return say("One-way valves and loop")
    if offer.method in (Method.LOOP, Method.WORKS) and offer.slot is None:
        kind = reworded(offer.kind.capitalize(), offer.kind)
        return strung(", ", (kind, say("by manometer"))) if offer.method is Method.LOOP else kind
    if offer.limits.sensor is not None:
        kind = reworded(offer.kind.capitalize(), offer.kind)
        return strung(": ", (kind, offer.slot or "")) if offer.kind != offer.slot else kind
    name = reworded((offer.slot or offer.kind).capitalize(), offer.slot or offer.kind)
    return strung(": ", (name, say("function check") if offer.method is Method.WORKS else say(offer.method)))


def group_words(offer: TestOffer) -> str:
    """Under which heading a test stands."""
    if offer.method is Method.BREATH:
        return say("By breath and by eye")
    return say("Function check") if offer.method is Method.WORKS else say("Measured")


def wanting_words(plan: BenchPlan, zone: ZoneInfo) -> str:
    """What a unit still needs since its loop was last opened in the workshop, and what holds it whatever is tested."""
    held = say(" On hold: {held}.", held=strung("; ", plan.held)) if plan.held else ""
    if plan.opened_at is None:
        return say("No workshop opening is recorded.{held}", held=held)
    when = f"{plan.opened_at.astimezone(zone):%Y-%m-%d %H:%M}"
    if not plan.wanting:
        return say("Opened in the workshop {when}; valves and loop have passed since.{held}", when=when, held=held)
    return say(
        "On hold: opened in the workshop {when}; not passed since: {wanting}.{held}",
        when=when,
        wanting=strung(", ", plan.wanting),
        held=held,
    )


def value_words(measured: Measured) -> str:
    """The figure ± U, or that there is none yet."""
    if measured.value is None:
        return ""
    shown = result_in(measured.value, measured.expanded_u, measured.unit).replace("-", MINUS)
    if measured.expanded_u is None:
        return say("{shown}, U not known", shown=shown)
    if measured.unit == "mL/min" and measured.value < measured.expanded_u:
        return say(
            "below {measured:.2g} {unit}", measured=max(measured.value, 0.0) + measured.expanded_u, unit=measured.unit
        )
    return f"{shown} (k = 2)"


def time_left_words(measured: Measured, since_first: float | None, at_last: float | None) -> str:
    """How much longer to watch, counted on from the last reading; empty where time is not what it wants."""
    if measured.seconds_left is None:
        return ""
    gone = 0.0 if since_first is None or at_last is None else since_first - at_last
    left = max(0.0, measured.seconds_left - gone)
    begun = (
        ""
        if since_first is None
        else say("Since the first reading {since_first}. ", since_first=clock_words(since_first))
    )
    if since_first is None:
        return say("To be watched {left}.", left=clock_words(left))
    more = (
        say("Watch {left} more.", left=clock_words(left))
        if left > 0
        else say("Long enough: read once more and record.")
    )
    return strung("", (begun, more))


def clock_words(seconds: float) -> str:
    """Minutes and seconds as 1:42."""
    whole = max(0, int(seconds))
    return f"{whole // 60}:{whole % 60:02d}"


def reading_cells(readings: tuple[Stamped, ...], unit: str | Measure, zone: ZoneInfo) -> list[tuple[str, ...]]:
    """Readings as lines of a table: time of day, time since the first, the figure, the gas temperature."""
    first: datetime | None = readings[0].at if readings else None
    return [
        (
            f"{each.at.astimezone(zone):%H:%M:%S}",
            clock_words((each.at - first).total_seconds()) if first is not None else "",
            in_unit(each.value, unit),
            figure(each.temperature_c, CELSIUS, None, say("not read")),
        )
        for each in readings
    ]


def tool_words(row: EquipmentRow) -> str:
    """One piece of equipment to choose, with what weakens a result made with it."""
    lacks = {"past": say("out of date"), "unknown": say("not known to be in date")}.get(row.state, "")
    unit = (row.tool.unit or "").replace("C", "°C")
    u = say("uncertainty not recorded") if row.tool.uncertainty is None else f"u {row.tool.uncertainty:g} {unit}"
    return strung(", ", filter(None, (strung(" ", (row.tool.name, row.tool.serial)), u, lacks)))


def recorded_words(tests: tuple[RecordedTest, ...]) -> str:
    """What was recorded, and which lines of tickets it ticked."""
    verdicts = strung(", ", (say(test.answer.verdict) for test in tests))
    ticked = [line for test in tests for line in test.ticked]
    rejects = [test.answer.sentence for test in tests if test.answer.verdict is Verdict.REJECT]
    verdicts += say(". Rejected: {what}", what=" ".join(rejects).rstrip(".")) if rejects else ""
    told = say("Recorded: {verdicts}.", verdicts=verdicts)
    return strung(" ", (told, say("Ticked on the ticket: {lines}.", lines=strung("; ", ticked)))) if ticked else told
