"""The tests that a unit's slots allow, each with its set-up, and the limit in force with its source.

What the bench needs to know of a unit before a test.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from enum import StrEnum

from fleetbench.calc.bench.flow import LockUpLimit, RatedInjector
from fleetbench.calc.bench.leak import BackLeakLimit, LoopLimit
from fleetbench.calc.bench.measured import TwoEnded
from fleetbench.calc.bench.sensors import SENSOR_TESTS, SensorTest
from fleetbench.calc.core.doors import at as door
from fleetbench.calc.core.languages import reworded, say, strung
from fleetbench.calc.core.measures import BAR, CELSIUS, Measure, in_unit, measured_in
from fleetbench.calc.core.plausible import Tool
from fleetbench.calc.core.verdict import PASSES
from fleetbench.calc.tickets.signing import RELEASE_TESTS, TicketTest, released
from fleetbench.records.bench.lookups import (
    Named,
    RecordSession,
    SlotContent,
    TypeFacts,
    last_readings,
    type_facts,
)
from fleetbench.records.core.errors import Refused
from fleetbench.records.places.tables import Limit
from fleetbench.records.upkeep.lookups import last_workshop_opening, open_holds, tests_since, unit_by_tag
from fleetbench.workshop.bench.equipment import EquipmentRow, equipment_in_use, list_equipment
from fleetbench.workshop.bench.sessions import current_session, standard_pressure
from fleetbench.workshop.core.workplace import Workplace

WORKS_KINDS = {
    "mouthpiece valve": "mouthpiece valve",
    "bailout valve": "bailout valve",
    "addition valve": "addition valve",
    "manual addition valve": "addition valve",
    "solenoid": "solenoid",
}
"""Slots whose part is tried and either works or does not, with the test that it is in the records."""

UNIT_WORKS = ("alarms", "set-point held")
"""Tests of the whole unit that either work or do not."""

OPENING_KINDS = ("relief valve", "addition valve", "bailout valve", "bailout second stage")
OF_THEIR_OWN = ("bailout first stage", "bailout regulator")
"""Stages that belong to no unit's gas side: the pressure that the unit type states is not theirs."""

STAGE_KINDS = ("oxygen first stage", "diluent first stage", "drive gas first stage", *OF_THEIR_OWN)
LOOP_KINDS = ("loop negative", "loop positive")
TOOL_UNITS: dict[str, str] = {Tool.MANOMETER: "mbar", Tool.THERMOMETER: "C", Tool.GAUGE: "bar"}
"""In which unit a tool is read that stands beside the one that reads the figure."""

STANDARD_BAR = 1.01325
"""The atmosphere that turns a rated gauge pressure into an absolute one."""

NO_LIMIT = say("no limit recorded for this unit type: enter the manual's {door}", door=door("limit"))
NO_FIGURE = say("it works or it does not (common practice, no published source)")
WORKS_SET_UP = {
    "mouthpiece valve": say("Open and shut it; shut, it must hold pressure and suction."),
    "bailout valve": say("Turn it over to bailout and back; breathe from it and see that the loop stays shut."),
    "addition valve": say("Press it: gas flows; let go: it stops."),
    "solenoid": say("Call for gas and listen: it opens, and it shuts."),
    "alarms": say("Call up each alarm and look at each display."),
    "set-point held": say("Let the unit hold its set-point on the bench for five minutes."),
}


class Method(StrEnum):
    """How a test is made."""

    BREATH = "by breath and by eye"
    WORKS = "tried"
    LOOP = "loop by manometer"
    BACK_LEAK_FLOW = "back-leak, flow meter"
    BACK_LEAK_DECAY = "back-leak, pressure"
    OPENING = "opening pressure"
    LOCK_UP = "intermediate pressure"
    INJECTOR = "injector flow"
    PULSES = "gas a pulse"
    REFERENCE = "against a reference"
    FIGURE = "one figure"


@dataclass(frozen=True, slots=True)
class BenchLimits:
    """The limits in force for one test; None where none is recorded."""

    loop: LoopLimit | None = None
    leak_ml_min: float | None = None
    leak_source: str = ""
    back_leak: BackLeakLimit | None = None
    opening: TwoEnded | None = None
    lock_up: LockUpLimit | None = None
    injector: RatedInjector | None = None
    pulses: TwoEnded | None = None
    figure: TwoEnded | None = None
    tolerance: float | None = None
    tolerance_source: str = ""
    sensor: SensorTest | None = None


@dataclass(frozen=True, slots=True)
class TestOffer:
    """One test that the unit's slots allow.

    kind: word of the records; slot, direction: what it speaks of, None for the whole unit. unit: of the readings.
    tools: kinds of equipment that it is made with, the one that reads the figure first. set_up: what to do, in
    sentences. limit: the limit in force with its source, in words.
    """

    __test__ = False
    method: Method
    kind: str
    slot: str | None
    direction: str | None
    unit: str
    tools: tuple[str, ...]
    set_up: str
    limit: str
    limits: BenchLimits
    part: str | None = None

    @property
    def key(self) -> str:
        """A name of its own among the tests of a unit."""
        return " / ".join(word for word in (self.method, self.kind, self.direction, self.slot) if word)

    def answers(self, name: str) -> bool:
        """Whether a test of this name, the kind's with its slot where a unit has several, is made with this one."""
        if self.method is Method.BREATH:
            return name.startswith(self.kind) or name in LOOP_KINDS
        return name == self.kind or (name.startswith(f"{self.kind}, ") and (self.slot or "") in name)

    def read_in(self, tool: str) -> str:
        """The unit in which a kind of tool is read in this test."""
        return self.unit if tool == self.tools[0] else TOOL_UNITS[tool]

    @property
    def title(self) -> str:
        """The test in words."""
        if self.method is Method.BREATH:
            return say("One-way valves and loop")
        if self.method in (Method.LOOP, Method.WORKS) and self.slot is None:
            return reworded(self.kind.capitalize(), self.kind)
        if self.limits.sensor is not None:
            return strung(", ", (reworded(self.kind.capitalize(), self.kind), self.slot or ""))
        return reworded((self.slot or self.kind).capitalize(), self.slot or self.kind)


def offers_of(facts: TypeFacts) -> Iterator[TestOffer]:
    """Every test that the unit's slots allow, in the order in which a bench works."""
    yield _breath(facts)
    for kind in LOOP_KINDS:
        yield _loop(facts, kind)
    for seat in facts.seats:
        if seat.part is not None:
            yield from _of_slot(facts, seat)
    for kind in UNIT_WORKS:
        yield TestOffer(Method.WORKS, kind, None, None, unit="", tools=(), set_up=WORKS_SET_UP[kind], limit=NO_FIGURE,
                        limits=BenchLimits())  # fmt: skip


def _of_slot(facts: TypeFacts, seat: SlotContent) -> Iterator[TestOffer]:
    kind = seat.slot.kind
    if kind == "one-way valve":
        yield from _back_leaks(facts, seat)
    if kind in WORKS_KINDS:
        test = WORKS_KINDS[kind]
        yield _offer(seat, Method.WORKS, test, "", (), WORKS_SET_UP[test], NO_FIGURE, BenchLimits())
    if kind in OPENING_KINDS:
        yield _opening(facts, seat)
    if kind in STAGE_KINDS:
        yield _lock_up(facts, seat)
    if kind == "injector":
        yield _injector(facts, seat)
    if kind == "solenoid":
        yield _pulses(facts, seat)
    for sensor in SENSOR_TESTS:
        if kind in sensor.slots:
            yield _sensor(facts, seat, sensor)


def _offer(
    seat: SlotContent, method: Method, kind: str, unit: str, tools: tuple[str, ...], set_up: str, limit: str,
    limits: BenchLimits, direction: str | None = None,
) -> TestOffer:  # fmt: skip
    part = seat.part.serial or seat.part.lot if seat.part is not None else None
    return TestOffer(method, kind, seat.slot.name, direction, unit=unit, tools=tools, set_up=set_up, limit=limit,
                     limits=limits, part=part)  # fmt: skip


def _breath(facts: TypeFacts) -> TestOffer:
    limits = [loop_limit(facts.of_type, kind) for kind in LOOP_KINDS]
    times = strung("; ", (say("{kind}: {minutes:g} min ({source})", kind=say(kind), minutes=limit.minutes,
        source=limit.source) if limit is not None else say("{kind}: no time recorded", kind=say(kind)) for kind,
        limit in zip(LOOP_KINDS, limits, strict=True)))  # fmt: skip
    return TestOffer(
        Method.BREATH, kind="one-way valve", slot=None, direction=None, unit="", tools=(),
        set_up=say("Try each valve by breath, one way and the other; then watch the loop, negative and positive."),
        limit=say("{times}. By breath and by eye is full evidence (common practice, no published source).",
            times=times),
        limits=BenchLimits(),
    )  # fmt: skip


def _loop(facts: TypeFacts, kind: str) -> TestOffer:
    eye, leak = loop_limit(facts.of_type, kind), _amount(facts.of_type, "loop leak", "mL/min")
    limits = BenchLimits(
        loop=eye, leak_ml_min=leak.amount if leak is not None else None, leak_source=leak.source if leak else ""
    )
    held = (
        say("held {minutes:g} min ({source})", minutes=eye.minutes, source=eye.source)
        if eye is not None
        else say("no time recorded for this unit type")
    )
    most = (
        say("at most {amount:g} mL/min ({source})", amount=leak.amount, source=leak.source)
        if leak is not None
        else say("no leak in mL/min recorded; no published limit exists, so the figure is for the trend")
    )
    return TestOffer(
        Method.LOOP,
        kind,
        None,
        None,
        unit="mbar",
        tools=(Tool.MANOMETER, Tool.THERMOMETER),
        set_up=say(
            "Draw the loop down, shut it, read the manometer and the gas temperature again and again. A loop gives "
            "way, so the figure is indicative (ASTM E2930 leaves deformable vessels out)."
        )
        if kind == "loop negative"
        else say(
            "Fill the loop until just before it vents, shut it, read the manometer and the gas temperature again and "
            "again. A loop gives way, so the figure is indicative (ASTM E2930 leaves deformable vessels out)."
        ),
        limit=strung("; ", (held, most)),
        limits=limits,
    )


def _back_leaks(facts: TypeFacts, seat: SlotContent) -> Iterator[TestOffer]:
    own, suction = (_amount(facts.limits(seat), name, unit) for name, unit in
                    (("back leak", "mL/min"), ("back leak suction", "mbar")))  # fmt: skip
    limit = BackLeakLimit()
    if own is not None:
        limit = BackLeakLimit(own.amount, suction.amount if suction is not None else limit.suction_mbar, own.source)
    words = say(
        "at most {ml_min:g} mL/min at {suction_mbar:.3g} mbar suction ({source})", ml_min=limit.ml_min,
        suction_mbar=limit.suction_mbar, source=limit.source,
    )  # fmt: skip
    direction = next((way for way in ("inhale", "exhale") if way in seat.slot.name.casefold()), "both")
    for method, tools, how in (
        (
            Method.BACK_LEAK_FLOW,
            (Tool.FLOW_METER, Tool.MANOMETER),
            say("hold the suction and read the flow meter, twice or more"),
        ),
        (
            Method.BACK_LEAK_DECAY,
            (Tool.MANOMETER, Tool.THERMOMETER),
            say(
                "on a rigid volume, shut it off a little over that suction and read the manometer while as much is left"
            ),
        ),
    ):
        yield _offer(
            seat, method, "one-way valve", "mL/min" if method is Method.BACK_LEAK_FLOW else "mbar", tools,
            say("Valve dry, closed against suction: {how}.", how=how), words, BenchLimits(back_leak=limit), direction,
        )  # fmt: skip


def _opening(facts: TypeFacts, seat: SlotContent) -> TestOffer:
    named = facts.limits(seat)
    own = _two_ended(named, f"{seat.slot.kind} opening pressure", "mbar")
    limit = own or _two_ended(named, "opening pressure", "mbar")
    return _offer(
        seat, Method.OPENING, "opening pressure", "mbar", (Tool.MANOMETER,),
        say("Raise the pressure slowly until it opens; let it close, and again: twice at least."),
        limit.words("mbar") if limit is not None else NO_LIMIT, BenchLimits(opening=limit),
    )  # fmt: skip


def _lock_up(facts: TypeFacts, seat: SlotContent) -> TestOffer:
    named = facts.own_limits(seat) if seat.slot.kind in OF_THEIR_OWN else facts.limits(seat)
    limit = _lock_up_limit(named)
    words = NO_LIMIT
    if limit is not None:
        words = say(
            "{span} ({source}); creep at most {creep} {bar}/min over {minutes:g} min ({creep_source})",
            span=BAR.span(limit.least_bar, limit.most_bar), source=limit.source, bar=str(BAR),
            creep=BAR.spread(limit.creep_bar_min, ".4g"), minutes=limit.watch_minutes,
            creep_source=_creep_source(named),
        )  # fmt: skip
    return _offer(
        seat, Method.LOCK_UP, "intermediate pressure", "bar", (Tool.GAUGE,),
        say("Once at a full and once at a low supply pressure: open the supply, let it lock up, read "
"the gauge at once and then every half minute."), words, BenchLimits(lock_up=limit),
    )  # fmt: skip


def _lock_up_limit(named: Named) -> LockUpLimit | None:
    ends = _two_ended(named, "intermediate pressure", "bar")
    if ends is None or ends.low is None or ends.high is None:
        return None
    creep, watch = (
        _amount(named, "intermediate pressure creep", "bar/min"),
        _amount(named, "intermediate pressure watch", "min"),
    )
    limit = LockUpLimit(ends.low, ends.high, ends.source)
    return replace(
        limit, creep_bar_min=creep.amount if creep is not None else limit.creep_bar_min,
        watch_minutes=watch.amount if watch is not None else limit.watch_minutes,
    )  # fmt: skip


def _creep_source(named: Named) -> str:
    own = named.get("intermediate pressure creep")
    return own.source if own is not None else say("common practice, no published source")


def _injector(facts: TypeFacts, seat: SlotContent) -> TestOffer:
    named = facts.limits(seat)
    flow, pressure, tolerance, warm = (
        _amount(named, name, unit) for name, unit in (
            ("injector flow", "L/min"), ("injector pressure", "bar"), ("injector tolerance", "%"),
            ("injector temperature", "C"),
        )
    )  # fmt: skip
    rated = None
    if flow is not None and pressure is not None and tolerance is not None:
        rated = RatedInjector(
            flow.amount, rated_upstream_bar=pressure.amount + STANDARD_BAR, tolerance=tolerance.amount / 100,
            source=flow.source,
            rated_temperature_c=warm.amount if warm is not None else 20.0,
            blocked_from_ambient=facts.kind.first_stage_blocked,
        )  # fmt: skip
    words = NO_LIMIT
    if rated is not None and pressure is not None and tolerance is not None:
        words = say(
            "{rated_l_min:g} L/min ± {amount:g} % at {pressure} and "
            "{temperature} ({source}), scaled to the pressure and temperature read",
            rated_l_min=rated.rated_l_min,
            amount=tolerance.amount,
            pressure=BAR.words(pressure.amount),
            temperature=CELSIUS.words(rated.rated_temperature_c),
            source=rated.source,
        )
    return _offer(
        seat, Method.INJECTOR, "injector flow", "L/min", (Tool.FLOW_METER, Tool.GAUGE, Tool.THERMOMETER),
        say("With oxygen: read the intermediate pressure and the gas temperature, then the flow. Too "
"little and too much both matter."), words, BenchLimits(injector=rated),
    )  # fmt: skip


def _pulses(facts: TypeFacts, seat: SlotContent) -> TestOffer:
    limit = _two_ended(facts.limits(seat), "solenoid pulse", "mL")
    return _offer(
        seat, Method.PULSES, "solenoid flow", "mL", (Tool.FLOW_METER,),
        say("Count pulses into a volume meter and read the gas they let through."),
        limit.words(say("mL a pulse")) if limit is not None else NO_LIMIT, BenchLimits(pulses=limit),
    )  # fmt: skip


def _sensor(facts: TypeFacts, seat: SlotContent, test: SensorTest) -> TestOffer:
    named, tools = facts.limits(seat), (test.tool,) if test.tool else ()
    if test.works:
        return _offer(seat, Method.WORKS, test.kind, "", (), test.set_up, NO_FIGURE, BenchLimits(sensor=test))
    if test.against:
        row = _amount(named, test.limits[0], "%" if test.relative else test.unit)
        read = measured_in(row.unit if row is not None else "")
        apart = read.difference if isinstance(read, Measure) else read
        words = f"± {in_unit(row.amount, apart)} ({row.source})" if row is not None else NO_LIMIT
        own = BenchLimits(
            tolerance=row.amount if row is not None else None, tolerance_source=row.source if row else "", sensor=test
        )
        return _offer(seat, Method.REFERENCE, test.kind, test.unit, tools, test.set_up, words, own)
    limit = _two_ended(named, test.kind, test.unit)
    words = limit.words(test.unit) if limit is not None else NO_LIMIT
    own = BenchLimits(figure=limit, sensor=test)
    return _offer(seat, Method.FIGURE, test.kind, test.unit, tools, test.set_up, words, own)


def loop_limit(named: Named, kind: str) -> LoopLimit | None:
    """How long a loop must hold as the unit type states it; None where it states nothing."""
    row = _amount(named, f"{kind} minutes", "min")
    return LoopLimit(row.amount, row.source) if row is not None else None


def _two_ended(named: Named, name: str, unit: str) -> TwoEnded | None:
    low, high = _amount(named, f"{name} low", unit), _amount(named, f"{name} high", unit)
    sources = dict.fromkeys(row.source for row in (low, high) if row is not None)
    if not sources:
        return None
    return TwoEnded(low.amount if low else None, high.amount if high else None, strung("; ", sources))


def _amount(named: Named, name: str, unit: str) -> Limit | None:
    """The limit of that name; Refused where it stands in another unit, since no figure may be guessed at."""
    row = named.get(name)
    if row is not None and row.unit != unit:
        raise Refused(say("{name}: is recorded in {recorded}; give it in {unit}", name=say(name),
            recorded=row.unit or say("no unit"), unit=unit))  # fmt: skip
    return row


def one_way_slot(facts: TypeFacts, way: str) -> str | None:
    """The slot of the one-way valve on the inhale or exhale side, None where its name does not tell."""
    valves = (seat for seat in facts.seats if seat.slot.kind == "one-way valve" and seat.part is not None)
    return next((seat.slot.name for seat in valves if way in seat.slot.name.casefold()), None)


@dataclass(frozen=True, slots=True)
class BenchPlan:
    """What the bench needs to know of a unit before a test.

    negative, positive: how long the loop must hold. opened_at: its last workshop opening; wanting: release tests that
    have not passed since. held: why the unit is on hold. ambient_mbar: pressure of the room, measured in the bench
    session that holds, else from the altitude. in_use: keys of the equipment used in this session, the last one first.
    last_figures: of each test by its key, the first figure of each quantity when it was made last.
    """

    tag: str
    unit_type: str
    manual: str
    loop_volume_l: float | None
    negative: LoopLimit | None
    positive: LoopLimit | None
    inhale_slot: str | None
    exhale_slot: str | None
    opened_at: datetime | None
    wanting: tuple[str, ...]
    held: tuple[str, ...]
    ambient_mbar: float
    ambient_source: str
    barometer_id: int | None
    temperature_c: float | None
    offers: tuple[TestOffer, ...]
    equipment: tuple[EquipmentRow, ...]
    in_use: tuple[int, ...]
    last_figures: Mapping[str, Mapping[str, float]] = field(default_factory=dict)


def bench_plan(workplace: Workplace, tag: str) -> BenchPlan:
    """What can be tested on a unit, by its tag or former tag; NotFound for another text."""
    bench = current_session(workplace) if workplace.person_id is not None else None
    equipment, in_use = list_equipment(workplace), equipment_in_use(workplace)
    with workplace.database.read_session() as session:
        unit = unit_by_tag(session, tag)
        facts = type_facts(session, unit)
        opened = last_workshop_opening(session, unit.id)
        done = tests_since(session, unit.id, opened) if opened is not None else ()
        ambient, source = (
            (bench.pressure_mbar, bench.pressure_source)
            if bench is not None
            else (standard_pressure(session), "altitude")
        )
        offers = tuple(offers_of(facts))
        passed = tuple(TicketTest(row.kind, row.direction, row.at, row.result in PASSES) for row in done)
        return BenchPlan(
            tag=unit.tag,
            unit_type=facts.kind.name,
            manual=facts.kind.manual,
            loop_volume_l=facts.kind.loop_volume_l,
            negative=loop_limit(facts.of_type, "loop negative"),
            positive=loop_limit(facts.of_type, "loop positive"),
            inhale_slot=one_way_slot(facts, "inhale"),
            exhale_slot=one_way_slot(facts, "exhale"),
            opened_at=opened,
            wanting=() if opened is None else tuple(k for k in RELEASE_TESTS if not released(k, opened, passed)),
            held=tuple(each.reason for each in open_holds(session, unit_id=unit.id)),
            ambient_mbar=ambient,
            ambient_source=source,
            barometer_id=bench.barometer.tool.equipment_id
            if bench is not None and bench.barometer is not None
            else None,
            temperature_c=bench.temperature_c if bench is not None else None,
            offers=offers,
            equipment=equipment,
            in_use=in_use,
            last_figures=_last_figures(session, unit.id, facts, offers),
        )


def _last_figures(
    session: RecordSession, unit_id: int, facts: TypeFacts, offers: Sequence[TestOffer]
) -> dict[str, dict[str, float]]:
    part_in = {seat.slot.name: seat.part.id for seat in facts.seats if seat.part is not None}
    last = last_readings(session, unit_id)
    return {each.key: last.get((each.kind, part_in.get(each.slot or ""), each.direction), {}) for each in offers}


def unit_offers(workplace: Workplace, tag: str) -> tuple[TestOffer, ...]:
    """The tests of one unit with their limits; NotFound for an unknown tag."""
    with workplace.database.read_session() as session:
        return tuple(offers_of(type_facts(session, unit_by_tag(session, tag))))
