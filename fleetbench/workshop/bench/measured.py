"""Measured bench tests: judged as the readings come in, and recorded with every raw figure in one act."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import pairwise

from fleetbench.calc.bench import measured as calc
from fleetbench.calc.bench.flow import RatedInjector, expected_l_min
from fleetbench.calc.bench.leak import BackLeakLimit, TestSign
from fleetbench.calc.bench.measured import GaugeReading, Instrument, Measured
from fleetbench.calc.bench.sensors import against_reference, own_figure
from fleetbench.calc.core.languages import say
from fleetbench.calc.core.plausible import (
    BACK_LEAK,
    FLOW,
    GAS_TEMPERATURE,
    GAUGE,
    LOOP_GAUGE,
    OPENING,
    PULSED,
    PULSES,
    ROOM_PRESSURE,
    SUCTION,
    SUPPLY,
    TEST_VOLUME,
    Quantity,
    Tool,
)
from fleetbench.records.bench.lookups import type_facts
from fleetbench.records.bench.tables import BenchReading, BenchTest, TestEquipment
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.bench.equipment import EquipmentRow, list_equipment
from fleetbench.workshop.bench.offers import Method, TestOffer, offers_of
from fleetbench.workshop.bench.tests import (
    FINDING_ROOM,
    RecordedTest,
    TestAnswer,
    part_tested,
    standing_test,
    tick_lines,
    ticket_at_hand,
)
from fleetbench.workshop.core.workplace import (
    Workplace,
    figure_or_none,
    measured,
    measured_or_none,
    require_person,
    require_read_with,
)
from fleetbench.workshop.tickets.photographs import keep_beside

LONGEST_TEST = timedelta(hours=24)
"""Readings farther apart than this belong to two tests: common practice, no published source."""

OVER_TIME = (Method.LOOP, Method.BACK_LEAK_DECAY, Method.LOCK_UP)
"""Tests in which one pressure is watched over time; in the others a figure is read again and again."""

SET_UP_QUANTITIES = {
    "supply_bar": SUPPLY, "ambient_mbar": ROOM_PRESSURE, "volume_l": TEST_VOLUME, "temperature_c": GAS_TEMPERATURE,
    "suction_mbar": SUCTION, "upstream_bar": GAUGE, "counted": PULSES,
}  # fmt: skip
"""What each figure of a set-up is."""

READING_QUANTITIES = {
    Method.LOOP: LOOP_GAUGE, Method.BACK_LEAK_DECAY: LOOP_GAUGE, Method.LOCK_UP: GAUGE, Method.INJECTOR: FLOW,
    Method.BACK_LEAK_FLOW: BACK_LEAK, Method.OPENING: OPENING, Method.PULSES: PULSED,
}  # fmt: skip
"""What each reading of a test is, where it is no sensor's own."""
RECORDED_AS = {
    "ambient_mbar": "room pressure", "volume_l": "test volume", "suction_mbar": "suction", "counted": "pulses",
    "upstream_bar": "intermediate pressure", "temperature_c": "gas temperature", "reference": "reference",
    "reference_u": "reference, expanded u", "supply_bar": "supply pressure",
}  # fmt: skip
"""What each figure of a set-up is, in the records' word."""


def reading_quantity(offer: TestOffer) -> Quantity | None:
    """What a reading of the test is; of a sensor as its kind says."""
    sensor = offer.limits.sensor
    return sensor.quantity if sensor is not None else READING_QUANTITIES.get(offer.method)


def set_up_quantity(offer: TestOffer, name: str) -> Quantity | None:
    """What a figure of the set-up is; a reference is of the kind that is read against it."""
    return reading_quantity(offer) if name == "reference" else SET_UP_QUANTITIES.get(name)


_FIELD_NAMES = {"ambient_mbar": say("room pressure"), "supply_bar": say("supply"), "temperature_c": say("temperature")}

QUANTITY = {
    Method.LOOP: "pressure",
    Method.BACK_LEAK_DECAY: "suction",
    Method.LOCK_UP: "pressure",
    Method.BACK_LEAK_FLOW: "flow",
    Method.INJECTOR: "flow",
    Method.OPENING: "opening pressure",
    Method.PULSES: "volume",
    Method.REFERENCE: "shown",
    Method.FIGURE: "figure",
}
"""What each reading of a test is, in the records' word."""


@dataclass(frozen=True, slots=True)
class Stamped:
    """One reading as it was entered: its moment, the figure in the test's unit, the gas temperature in degrees C."""

    at: datetime
    value: float
    temperature_c: float | None = None


@dataclass(frozen=True, slots=True)
class SetUp:
    """What was set up and read once; None is not known.

    held: whether the loop held by eye. volume_l: of the loop, or of the rigid volume of a back-leak. upstream_bar:
    gauge pressure before an injector. reference: what a sensor is read against, in the unit of its readings, with its
    expanded uncertainty where a certificate states it. tools: key of the equipment used, by kind.
    """

    held: bool | None = None
    supply_bar: float | None = None
    ambient_mbar: float | None = None
    volume_l: float | None = None
    temperature_c: float | None = None
    suction_mbar: float | None = None
    upstream_bar: float | None = None
    counted: int | None = None
    reference: float | None = None
    reference_u: float | None = None
    barometer_id: int | None = None
    tools: Mapping[str, int] = field(default_factory=dict)


def judged(offer: TestOffer, set_up: SetUp, readings: Sequence[Stamped], equipment: Sequence[EquipmentRow]) -> Measured:
    """The answer as far as the readings go; Refused naming the field where they are out of reason."""
    try:
        _require_set_up(set_up)
        return _JUDGES[offer.method](offer, set_up, tuple(readings), _Tools(set_up.tools, equipment))
    except ValueError as fault:
        raise Refused(str(fault)) from fault


def reading_limits(offer: TestOffer, set_up: SetUp) -> tuple[float | None, float | None]:
    """Least and most that a single reading may show, in its own unit; None for an end that there is not.

    A volume of counted pulses is seen against as many times the limit of one, and an injector's flow against what is
    expected at the pressure and temperature read.
    """
    limits = offer.limits
    if limits.lock_up is not None:
        return limits.lock_up.least_bar, limits.lock_up.most_bar
    if limits.opening is not None:
        return limits.opening.low, limits.opening.high
    if limits.back_leak is not None and offer.method is Method.BACK_LEAK_FLOW:
        return None, limits.back_leak.ml_min
    if limits.pulses is not None and set_up.counted is not None:
        low, high = limits.pulses.low, limits.pulses.high
        return (None if low is None else low * set_up.counted), (None if high is None else high * set_up.counted)
    if limits.injector is not None:
        return _injector_limits(limits.injector, set_up)
    return None, None


def _injector_limits(rated: RatedInjector, set_up: SetUp) -> tuple[float | None, float | None]:
    if set_up.upstream_bar is None or set_up.temperature_c is None or set_up.ambient_mbar is None:
        return None, None
    upstream = set_up.upstream_bar + set_up.ambient_mbar / 1000.0
    try:
        expected = expected_l_min(rated, upstream_bar=upstream, temperature_c=set_up.temperature_c)
    except ValueError:
        return None, None
    return expected * (1.0 - rated.tolerance), expected * (1.0 + rated.tolerance)


def record_measured(
    workplace: Workplace,
    tag: str,
    offer_key: str,
    set_up: SetUp,
    readings: Sequence[Stamped],
    *,
    ticket_id: int | None = None,
    note: str | None = None,
    supersedes: int | None = None,
    photographs: Sequence[str] = (),
) -> RecordedTest:
    """A measured test of a unit, judged, recorded with readings and photographs; it ticks the open ticket's line.

    offer_key: which of the unit's tests, as ``bench_plan`` names it. Raises Refused naming the field where there is no
    reading, where one is out of reason, lies in the future, or where time goes back.
    """
    require_person(workplace)
    equipment = list_equipment(workplace)
    if not readings:
        raise Refused(say("readings: there is none; read the gauge and enter what it shows"))
    with workplace.transaction("measured bench test", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        offer = _offer(act, unit, offer_key)
        _require_times(readings, act.at)
        _require_readings(offer, readings)
        _require_read_with(offer, set_up, readings)
        answer = judged(offer, set_up, readings, equipment)
        ticket = ticket_at_hand(act, unit, ticket_id)
        row = BenchTest(
            unit_id=unit.id,
            part_id=part_tested(act, unit, offer.kind, offer.direction, offer.slot),
            kind=offer.kind,
            direction=offer.direction,
            at=act.at,
            person_id=workplace.person_id,
            ticket_id=ticket.id if ticket is not None else None,
            equipment_id=_right_tool(act, set_up, offer.tools[0]) if offer.tools else None,
            held=set_up.held,
            watched_minutes=answer.watched_minutes,
            value=answer.value,
            unit=answer.unit or None if answer.value is not None else None,
            supply_bar=set_up.supply_bar,
            result=answer.verdict.value,
            supersedes_id=standing_test(act, unit, offer.kind, supersedes),
            note=(note or "").strip() or None,
            expanded_u=answer.expanded_u,
            finding=" ".join((answer.sentence, *answer.notes))[:FINDING_ROOM],
        )
        test_id = act.add(row).id
        keep_beside(act, workplace, "bench test", row, photographs)
        figures = enumerate(_raw_figures(act, offer, set_up, readings), start=1)
        act.bulk(BenchReading, [{"bench_test_id": test_id, "ordinal": number, **each} for number, each in figures])
        told = TestAnswer(verdict=answer.verdict, sentence=answer.sentence)
        return RecordedTest(test_id=test_id, answer=told, ticked=tick_lines(act, unit, row))


class _Tools:
    """The instruments chosen, by kind."""

    def __init__(self, chosen: Mapping[str, int], equipment: Sequence[EquipmentRow]) -> None:
        self._rows = {kind: row for kind, key in chosen.items() for row in equipment if row.tool.equipment_id == key}

    def get(self, kind: str, unit: str) -> Instrument | None:
        """How well the chosen piece of that kind reads in that unit; None where none is chosen."""
        row = self._rows.get(kind)
        return row.instrument(unit) if row is not None else None


def _over_time(readings: Sequence[Stamped]) -> list[GaugeReading]:
    first = readings[0].at if readings else None
    return [
        GaugeReading((each.at - first).total_seconds(), each.value, each.temperature_c)
        for each in readings
        if first is not None
    ]


def _loop(offer: TestOffer, set_up: SetUp, readings: tuple[Stamped, ...], tools: _Tools) -> Measured:
    return calc.loop_by_gauge(
        _over_time(readings),
        sign=TestSign.NEGATIVE if offer.kind == "loop negative" else TestSign.POSITIVE,
        ambient_mbar=_ambient_mbar(set_up),
        volume_l=set_up.volume_l,
        manometer=tools.get(Tool.MANOMETER, "mbar"),
        thermometer=tools.get(Tool.THERMOMETER, "C"),
        held=set_up.held,
        eye_limit=offer.limits.loop,
        leak_limit_ml_min=offer.limits.leak_ml_min,
        leak_source=offer.limits.leak_source,
    )


def _back_leak_decay(offer: TestOffer, set_up: SetUp, readings: tuple[Stamped, ...], tools: _Tools) -> Measured:
    return calc.back_leak_by_decay(
        _over_time(readings),
        ambient_mbar=_ambient_mbar(set_up),
        volume_l=set_up.volume_l,
        manometer=tools.get(Tool.MANOMETER, "mbar"),
        thermometer=tools.get(Tool.THERMOMETER, "C"),
        limit=offer.limits.back_leak or BackLeakLimit(),
    )


def _back_leak_flow(offer: TestOffer, set_up: SetUp, readings: tuple[Stamped, ...], tools: _Tools) -> Measured:
    return calc.back_leak_by_flow(
        [each.value for each in readings],
        suction_mbar=set_up.suction_mbar,
        meter=tools.get(Tool.FLOW_METER, "mL/min"),
        manometer=tools.get(Tool.MANOMETER, "mbar"),
        limit=offer.limits.back_leak or BackLeakLimit(),
    )


def _opening(offer: TestOffer, _set_up: SetUp, readings: tuple[Stamped, ...], tools: _Tools) -> Measured:
    trials = [each.value for each in readings]
    return calc.opening(trials, limit=offer.limits.opening, gauge=tools.get(Tool.MANOMETER, "mbar"))


def _lock_up(offer: TestOffer, set_up: SetUp, readings: tuple[Stamped, ...], tools: _Tools) -> Measured:
    gauge = tools.get(Tool.GAUGE, "bar")
    return calc.lock_up(_over_time(readings), limit=offer.limits.lock_up, gauge=gauge, supply_bar=set_up.supply_bar)


def _injector(offer: TestOffer, set_up: SetUp, readings: tuple[Stamped, ...], tools: _Tools) -> Measured:
    return calc.injector(
        [each.value for each in readings],
        rated=offer.limits.injector,
        upstream_gauge_bar=set_up.upstream_bar,
        ambient_bar=_ambient_mbar(set_up) / 1000.0,
        temperature_c=set_up.temperature_c,
        meter=tools.get(Tool.FLOW_METER, "L/min"),
        gauge=tools.get(Tool.GAUGE, "bar"),
    )


def _pulses(offer: TestOffer, set_up: SetUp, readings: tuple[Stamped, ...], tools: _Tools) -> Measured:
    return calc.pulses(
        [each.value for each in readings],
        counted=set_up.counted,
        limit=offer.limits.pulses,
        meter=tools.get(Tool.FLOW_METER, "mL"),
    )


def _reference(offer: TestOffer, set_up: SetUp, readings: tuple[Stamped, ...], tools: _Tools) -> Measured:
    limits = offer.limits
    assert limits.sensor is not None, "only a sensor is read against a reference"
    return against_reference(
        [each.value for each in readings],
        test=limits.sensor,
        reference=set_up.reference,
        reference_u=set_up.reference_u,
        tool=tools.get(limits.sensor.tool, offer.unit),
        tolerance=limits.tolerance,
        source=limits.tolerance_source,
    )


def _figure(offer: TestOffer, _set_up: SetUp, readings: tuple[Stamped, ...], tools: _Tools) -> Measured:
    test = offer.limits.sensor
    assert test is not None, "only a sensor's table has a figure that stands by itself"
    values = [each.value for each in readings]
    return own_figure(values, test=test, tool=tools.get(test.tool, offer.unit), limit=offer.limits.figure)


_JUDGES = {
    Method.LOOP: _loop,
    Method.BACK_LEAK_DECAY: _back_leak_decay,
    Method.BACK_LEAK_FLOW: _back_leak_flow,
    Method.OPENING: _opening,
    Method.LOCK_UP: _lock_up,
    Method.INJECTOR: _injector,
    Method.PULSES: _pulses,
    Method.REFERENCE: _reference,
    Method.FIGURE: _figure,
}


def _ambient_mbar(set_up: SetUp) -> float:
    if set_up.ambient_mbar is None:
        raise Refused(say("room pressure: is missing; enter it in mbar"))
    return set_up.ambient_mbar


def _require_set_up(set_up: SetUp) -> None:
    for name, quantity in SET_UP_QUANTITIES.items():
        measured_or_none(quantity, getattr(set_up, name), _FIELD_NAMES.get(name))
    figure_or_none("reference", set_up.reference, -100, 10_000, "enter what the reference shows")
    figure_or_none("reference uncertainty", set_up.reference_u, 0, 10_000, "enter it from the certificate")


def _require_readings(offer: TestOffer, readings: Sequence[Stamped]) -> None:
    quantity = reading_quantity(offer)
    for each in readings:
        if quantity is not None:
            measured(quantity, each.value, QUANTITY[offer.method])
        measured_or_none(GAS_TEMPERATURE, each.temperature_c)


def _require_read_with(offer: TestOffer, set_up: SetUp, readings: Sequence[Stamped]) -> None:
    """Nothing where each figure that a meter gave was read with the piece that is chosen for it, by which it counts."""
    tools, own = set_up.tools, set_up.tools.get(offer.tools[0]) if offer.tools else None
    require_read_with("room pressure", set_up.ambient_mbar, set_up.barometer_id)
    require_read_with("suction", set_up.suction_mbar, tools.get(Tool.MANOMETER))
    require_read_with("intermediate pressure", set_up.upstream_bar, tools.get(Tool.GAUGE))
    require_read_with("reference", set_up.reference, own)
    if Tool.THERMOMETER in offer.tools:
        require_read_with("gas temperature", set_up.temperature_c, tools.get(Tool.THERMOMETER))
    for each in readings:
        require_read_with(QUANTITY[offer.method], each.value, own)
        require_read_with("gas temperature", each.temperature_c, tools.get(Tool.THERMOMETER))


def _require_times(readings: Sequence[Stamped], now: datetime) -> None:
    for before, after in pairwise(readings):
        if after.at <= before.at:
            raise Refused(say("time: goes back; enter the readings in the order in which they were taken"))
    if readings[-1].at > now:
        raise Refused(say("time: the last reading lies in the future; check the clock"))
    if now - readings[0].at > LONGEST_TEST:
        raise Refused(say("time: the first reading is older than a day; begin the test again"))


def _offer(act: Transaction, unit: Unit, key: str) -> TestOffer:
    for offer in offers_of(type_facts(act.session, unit)):
        if offer.key == key and offer.method in _JUDGES:
            return offer
    raise Refused(
        say(
            "test {key}: unit {tag} has no such test now; load the bench again and choose one of its tests",
            key=key,
            tag=unit.tag,
        )
    )


def _right_tool(act: Transaction, set_up: SetUp, kind: str) -> int | None:
    key = set_up.tools.get(kind)
    if key is None:
        return None
    row = act.get(TestEquipment, key, "test equipment")
    if row.kind != kind:
        raise Refused(say("{kind}: what was chosen is no {kind}; choose one from the register", kind=say(kind)))
    return row.id


def _raw_figures(
    act: Transaction, offer: TestOffer, set_up: SetUp, readings: Sequence[Stamped]
) -> Iterator[dict[str, object]]:
    """Every figure as it was read: what was read once, with the first reading's moment, then reading by reading."""
    tools = {kind: _right_tool(act, set_up, kind) for kind in set_up.tools if kind in offer.tools}
    own = tools.get(offer.tools[0]) if offer.tools else None
    over_time = offer.method in (Method.LOOP, Method.BACK_LEAK_DECAY)
    once: list[tuple[str, float | None, str, int | None, bool]] = [
        (
            "room pressure",
            set_up.ambient_mbar,
            "mbar",
            set_up.barometer_id,
            over_time or offer.method is Method.INJECTOR,
        ),
        ("test volume", set_up.volume_l, "L", None, over_time),
        ("suction", set_up.suction_mbar, "mbar", tools.get(Tool.MANOMETER), offer.method is Method.BACK_LEAK_FLOW),
        ("intermediate pressure", set_up.upstream_bar, "bar", tools.get(Tool.GAUGE), offer.method is Method.INJECTOR),
        ("gas temperature", set_up.temperature_c, "C", tools.get(Tool.THERMOMETER), offer.method is Method.INJECTOR),
        ("pulses", set_up.counted, "", None, offer.method is Method.PULSES),
        ("reference", set_up.reference, offer.unit, own, offer.method is Method.REFERENCE),
        ("reference, expanded u", set_up.reference_u, offer.unit, None, offer.method is Method.REFERENCE),
    ]
    first = readings[0].at
    for quantity, value, unit, equipment_id, wanted in once:
        if wanted and value is not None:
            yield {"at": first, "quantity": quantity, "value": value, "unit": unit, "equipment_id": equipment_id}
    for each in readings:
        yield {"at": each.at, "quantity": QUANTITY[offer.method], "value": each.value, "unit": offer.unit,
               "equipment_id": own}  # fmt: skip
        if each.temperature_c is not None:
            yield {
                "at": each.at,
                "quantity": "gas temperature",
                "value": each.temperature_c,
                "unit": "C",
                "equipment_id": tools.get(Tool.THERMOMETER),
            }
