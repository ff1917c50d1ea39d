"""Measured bench tests: raw readings, limits and the instruments' own figures in, one answer out.

What an instrument does not state cannot be allowed for, so without its uncertainty nothing passes. An instrument out of
date, or not known to be in date, weakens a pass to watch: common practice, no published source.
Every function raises ValueError that names the field for readings out of reason.

Whether the supply before a first stage counts as full or low.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fleetbench.calc.bench.flow import (
    LockUp,
    LockUpLimit,
    PressureReading,
    RatedInjector,
    check_injector,
    check_lock_up,
    check_pulses,
    choked_depth,
    expected_l_min,
)
from fleetbench.calc.bench.leak import (
    BackLeakLimit,
    Gauge,
    Leak,
    LeakReading,
    LoopLimit,
    TestSign,
    judge_back_leak,
    judge_leak,
    judge_loop_by_eye,
    opening_pressure,
    pressure_change,
    seconds_to_see,
    too_gentle,
)
from fleetbench.calc.cells.uncertainty import Standing, standing
from fleetbench.calc.core.doors import at as door
from fleetbench.calc.core.languages import capital, say, strung
from fleetbench.calc.core.measures import BAR, Measure, in_unit, span_in
from fleetbench.calc.core.plausible import Tool, require_between
from fleetbench.calc.core.verdict import Verdict, worst

COVERAGE = 2.0
FEW_TRIALS = 5
"""Under so many trials another one may still decide; common practice, no published source."""

TEMPERATURE_NOT_READ_K = 1.0
"""Allowed for where the gas temperature was not read beside a pressure: common practice, no published source."""

VOLUME_NOT_STATED_U = 0.10
"""Relative standard uncertainty of a test volume, since no volume is recorded with its own: common practice, no
published source."""

LOST_PART = 0.10
"""Largest part of its starting pressure that a loop may lose and still be said to hold: common practice, after the 10 %
under which ASTM E2930 keeps the total change of a pressure-decay test."""

NO_PRESSURE = say(
    "The unit type states no intermediate pressure: enter the manual's two limits {what}.", what=door("limit")
)


@dataclass(frozen=True, slots=True)
class Instrument:
    """What readings were made with, in the readings' unit.

    uncertainty: standard, of one reading; digit: what its last place stands for; None is not known. in_date: None where
    no last good day is known.
    """

    name: str
    uncertainty: float | None
    digit: float | None = None
    in_date: bool | None = None

    @property
    def step(self) -> float | None:
        """What two readings can differ by unseen: the digit, or the width of a rectangle as wide as the uncertainty."""
        if self.digit is not None:
            return self.digit
        return None if self.uncertainty is None else self.uncertainty * math.sqrt(12.0)


@dataclass(frozen=True, slots=True)
class TwoEnded:
    """A limit with one or two ends and its source."""

    low: float | None
    high: float | None
    source: str

    def words(self, unit: str | Measure) -> str:
        """The limit as it is shown, with its source."""
        if self.low is not None and self.high is not None:
            return f"{span_in(self.low, self.high, unit)} ({self.source})"
        if self.low is not None:
            return say("at least {end} ({source})", end=in_unit(self.low, unit), source=self.source)
        assert self.high is not None, "a limit has one end at least"
        return say("at most {end} ({source})", end=in_unit(self.high, unit), source=self.source)


@dataclass(frozen=True, slots=True)
class Measured:
    """The answer to a measured test as far as it has gone.

    value ± expanded_u (k = 2) in unit, None while there is no figure. seconds_left: how much longer it should be
    watched, 0 for no longer, None where time is not what it wants. notes: what to read beside the figure.
    """

    verdict: Verdict
    sentence: str
    value: float | None = None
    unit: str = ""
    expanded_u: float | None = None
    seconds_left: float | None = None
    watched_minutes: float | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class GaugeReading:
    """One reading over time: seconds from the first, gauge pressure away from the room's (never below nought), gas
    temperature in degrees C or None where it was not read."""

    seconds: float
    gauge: float
    temperature_c: float | None = None


def loop_by_gauge(
    readings: Sequence[GaugeReading],
    *,
    sign: TestSign,
    ambient_mbar: float,
    volume_l: float | None,
    manometer: Instrument | None,
    thermometer: Instrument | None,
    held: bool | None,
    eye_limit: LoopLimit | None,
    leak_limit_ml_min: float | None,
    leak_source: str = "",
) -> Measured:
    """Answer of a loop test with a manometer: by eye it is full evidence, the leak in mL/min is extra.

    Where the unit type states a leak, the worse of the two answers stands; where it states none the figure is for the
    trend alone, since no published limit exists. Readings that contradict "held" leave it undecided all the same.
    Gauge pressures in mbar, under the room's in a negative test; the leak is that at the starting pressure.
    """
    watched = _minutes(readings)
    eye = judge_loop_by_eye(held, watched_minutes=watched, limit=eye_limit)
    left = _still_to_watch(watched, eye_limit.minutes if eye_limit is not None else None)
    by_eye = _eye_words(held, watched, eye_limit)
    leak, why_none = _leak(readings, sign, ambient_mbar, volume_l, manometer, thermometer, deformable=True)
    if held and (against := _against_held(readings, sign, ambient_mbar, manometer)):
        eye, by_eye = worst((eye, Verdict.REPEAT)), f"{by_eye} {against}"
    if leak is None:
        verdict = eye if leak_limit_ml_min is None else worst((eye, Verdict.REPEAT))
        return Measured(verdict, f"{by_eye} {why_none}", seconds_left=left, watched_minutes=watched)
    verdict, words = eye, say("{by_eye} Leak {leak}, at the starting pressure.", by_eye=by_eye, leak=leak.words)
    if leak_limit_ml_min is not None:
        measured = judge_leak(leak, leak_limit_ml_min)
        verdict = measured if held is None else worst((eye, measured))
        most = say("At most {most:g} mL/min ({source}).", most=leak_limit_ml_min, source=leak_source)
        words = strung(" ", (words, most, *_stands_words(leak)))
        left = max(left or 0.0, _until_seen(leak, leak_limit_ml_min, watched, volume_l, ambient_mbar, manometer))
    else:
        nothing = say("The unit type states no leak in mL/min, so the figure decides nothing.")
        words = strung(" ", (words, nothing))
    notes = (*leak.notes, *_allowances(readings, thermometer))
    told = Measured(
        verdict,
        sentence=words,
        value=leak.ml_min,
        unit="mL/min",
        expanded_u=leak.u_ml_min,
        seconds_left=left,
        watched_minutes=watched,
        notes=notes,
    )
    return weakened(told, (manometer, thermometer) if thermometer is not None else (manometer,))


def back_leak_by_decay(
    readings: Sequence[GaugeReading],
    *,
    ambient_mbar: float,
    volume_l: float | None,
    manometer: Instrument | None,
    thermometer: Instrument | None,
    limit: BackLeakLimit,
) -> Measured:
    """Answer of a one-way valve closed against suction on a rigid volume: its back-leak from the pressure's rise.

    The leak is that at the starting suction. All the gas that can leak in is volume times suction, however badly the
    valve leaks, so it passes only while the limit's own suction still stands at the last reading.
    """
    watched = _minutes(readings)
    leak, why_none = _leak(readings, TestSign.NEGATIVE, ambient_mbar, volume_l, manometer, thermometer)
    if leak is None:
        return Measured(Verdict.REPEAT, why_none, watched_minutes=watched)
    first, last = readings[0].gauge, min(each.gauge for each in readings)
    verdict = judge_back_leak(max(leak.ml_min, 0.0), u_ml_min=leak.u_ml_min, suction_mbar=max(first, 0.01),
                              last_suction_mbar=last, limit=limit)  # fmt: skip
    if not leak.stands:
        verdict = worst((verdict, Verdict.REPEAT))
    words = say(
        "Back-leak {leak} at {first:.3g} mbar suction, of which {last:.3g} mbar still stood at the end; {limit}.",
        leak=leak.words,
        first=first,
        last=last,
        limit=_back_leak_words(limit),
    )
    words = strung(" ", (words, *_stands_words(leak)))
    left = _until_seen(leak, limit.ml_min, watched, volume_l, ambient_mbar, manometer)
    if not leak.stands or too_gentle(last, limit):
        left = 0.0
    told = Measured(verdict, sentence=_suction_words(words, leak.ml_min, first, last, limit), value=leak.ml_min,
        unit="mL/min",
                    expanded_u=leak.u_ml_min, seconds_left=left, watched_minutes=watched,
                    notes=_allowances(readings, thermometer))  # fmt: skip
    return weakened(told, (manometer, thermometer) if thermometer is not None else (manometer,))


def back_leak_by_flow(
    flows_ml_min: Sequence[float],
    *,
    suction_mbar: float | None,
    meter: Instrument | None,
    manometer: Instrument | None,
    limit: BackLeakLimit,
) -> Measured:
    """Answer of a one-way valve closed against a held suction: its back-leak as a flow meter in mL/min shows it."""
    for value in flows_ml_min:
        require_between("flow", value, 0.0, 1e5)
    if not flows_ml_min:
        return Measured(Verdict.REPEAT, say("No flow was read yet."))
    if suction_mbar is None:
        return Measured(Verdict.REPEAT, say("The suction is not known: read the manometer."))
    mean, expanded = mean_of(flows_ml_min, meter)
    if expanded is None:
        return Measured(Verdict.REPEAT, lacks(Tool.FLOW_METER, meter), mean, "mL/min")
    verdict = judge_back_leak(mean, u_ml_min=expanded, suction_mbar=suction_mbar, limit=limit)
    words = say(
        "Back-leak {mean:.3g} ± {expanded:.2g} mL/min at {suction_mbar:.3g} mbar suction, {limit}.",
        mean=mean,
        expanded=expanded,
        suction_mbar=suction_mbar,
        limit=_back_leak_words(limit),
    )
    words = _suction_words(words, mean, suction_mbar, suction_mbar, limit)
    told = Measured(verdict, sentence=words, value=mean, unit="mL/min", expanded_u=expanded)
    return weakened(told, (meter, manometer))


def opening(trials_mbar: Sequence[float], *, limit: TwoEnded | None, gauge: Instrument | None) -> Measured:
    """Answer of an opening pressure from repeated trials: mean with the spread, guard-banded against its limit."""
    if not trials_mbar:
        return Measured(Verdict.REPEAT, say("No trial yet: open the valve at least twice."))
    step = gauge.step if gauge is not None else None
    if gauge is None or step is None or gauge.uncertainty is None:
        return Measured(Verdict.REPEAT, lacks(Tool.MANOMETER, gauge), float(np.mean(trials_mbar)), "mbar")
    found = opening_pressure(trials_mbar, least_mbar=0.0, most_mbar=20_000.0, resolution_mbar=step)
    expanded = math.hypot(found.u_mbar, COVERAGE * gauge.uncertainty)
    words = say(
        "{mean_mbar:.3g} ± {expanded:.2g} mbar over {count}, spread {spread_mbar:.2g} mbar",
        mean_mbar=found.mean_mbar,
        expanded=expanded,
        count=len(trials_mbar),
        spread_mbar=found.spread_mbar,
    )
    verdict, words = against_limit(found.mean_mbar, expanded, limit, "mbar", words)
    if len(trials_mbar) < 2 and verdict is Verdict.PASS:
        verdict, words = Verdict.REPEAT, say("{words} One trial shows no spread: open it again.", words=words)
    elif len(trials_mbar) < FEW_TRIALS and verdict is Verdict.REPEAT:
        words = say("{words} Open it again: more trials tell the spread better.", words=words)
    return weakened(
        Measured(verdict, sentence=words, value=found.mean_mbar, unit="mbar", expanded_u=expanded), (gauge,)
    )


def lock_up(
    readings: Sequence[GaugeReading], *, limit: LockUpLimit | None, gauge: Instrument | None, supply_bar: float | None
) -> Measured:
    """Answer of an intermediate pressure watched after lock-up: whether it settles, creeps or falls, and where it ends.

    Gauge pressures in bar. The last reading is guard-banded with the gauge's own uncertainty (JCGM 106), the rate with
    its digit and the scatter. A supply that is not known cannot count as full or low, so it does not pass.
    """
    watched = _minutes(readings)
    if gauge is None or gauge.step is None or gauge.uncertainty is None:
        return Measured(Verdict.REPEAT, lacks(Tool.GAUGE, gauge), watched_minutes=watched)
    if limit is None:
        return Measured(Verdict.REPEAT, NO_PRESSURE)
    left = _still_to_watch(watched, limit.watch_minutes)
    if len(readings) < 3:
        words = say("{count} of at least 3 readings after lock-up.", count=len(readings))
        return Measured(Verdict.REPEAT, words, seconds_left=left, watched_minutes=watched)
    found = check_lock_up(
        [PressureReading(each.seconds, each.gauge) for each in readings], limit, resolution_bar=gauge.step
    )
    expanded = COVERAGE * gauge.uncertainty
    where = Standing(int(standing(found.last_bar, expanded, limit.least_bar, limit.most_bar)))
    verdict, words = found.verdict, strung("", (capital(found.words), "."))
    if where is Standing.ACROSS:
        words = say(
            "{words} Too near a limit to decide, ± {expanded} {bar}.",
            words=words,
            expanded=BAR.spread(expanded),
            bar=BAR,
        )
        verdict = worst((verdict, Verdict.REPEAT))
    if supply_bar is None:
        verdict, words = worst((verdict, Verdict.REPEAT)), say("{words} The supply pressure is not known.", words=words)
    if found.last_bar > limit.most_bar:
        words = strung(" ", (words, say("Over the most, a solenoid may fail to open.")))
    left = 0.0 if verdict is Verdict.REJECT and found.state is not LockUp.TOO_SHORT else left
    return weakened(
        Measured(
            verdict,
            sentence=words,
            value=found.last_bar,
            unit="bar",
            expanded_u=expanded,
            seconds_left=left,
            watched_minutes=watched,
        ),
        (gauge,),
    )


def injector(
    flows_l_min: Sequence[float],
    *,
    rated: RatedInjector | None,
    upstream_gauge_bar: float | None,
    ambient_bar: float,
    temperature_c: float | None,
    meter: Instrument | None,
    gauge: Instrument | None,
) -> Measured:
    """Answer of a constant-mass-flow injector: flow beside what choked flow gives at the pressure read, on both sides.

    The uncertainty of the pressure widens the interval as that of the flow does. The depth to which it stays choked is
    a note, and only where the unit type's first stage is blocked from ambient pressure.
    """
    if not flows_l_min:
        return Measured(Verdict.REPEAT, say("No flow was read yet."))
    mean, expanded = mean_of(flows_l_min, meter)
    told = Measured(Verdict.REPEAT, sentence="", value=mean, unit="L/min", expanded_u=expanded)
    if expanded is None:
        return replace(told, sentence=lacks(Tool.FLOW_METER, meter))
    if gauge is None or gauge.uncertainty is None:
        return replace(told, sentence=lacks(Tool.GAUGE, gauge))
    if upstream_gauge_bar is None or temperature_c is None:
        return replace(
            told, sentence="The pressure before the injector or the gas temperature is not known: read both."
        )
    if rated is None:
        return replace(told, sentence="The unit type states no rated flow: enter flow, pressure and tolerance from the"
                       " manual.")  # fmt: skip
    upstream = upstream_gauge_bar + ambient_bar
    expected = expected_l_min(rated, upstream_bar=upstream, temperature_c=temperature_c)
    whole = math.hypot(expanded, COVERAGE * gauge.uncertainty / upstream * expected)
    found = check_injector(
        rated, measured_l_min=mean, u_l_min=whole, upstream_bar=upstream, temperature_c=temperature_c
    )
    _depth, choked = choked_depth(
        upstream_bar=upstream, blocked_from_ambient=rated.blocked_from_ambient, mixture=rated.mixture
    )
    words = strung("", (capital(found.words), "."))
    if found.verdict is Verdict.REPEAT:
        words = strung(" ", (words, say("Too near a limit to decide.")))
    return weakened(
        replace(told, verdict=found.verdict, sentence=words, expanded_u=whole, notes=(choked,)), (meter, gauge)
    )


def pulses(
    volumes_ml: Sequence[float], *, counted: int | None, limit: TwoEnded | None, meter: Instrument | None
) -> Measured:
    """Answer of a solenoid from the gas of a counted number of pulses."""
    if not volumes_ml:
        return Measured(Verdict.REPEAT, say("No volume was read yet."))
    if counted is None:
        return Measured(Verdict.REPEAT, say("The number of pulses is not known: count them."))
    mean, expanded = mean_of(volumes_ml, meter)
    # Refuses a count out of reason; the limit is looked at below, so that one with a single end is taken too.
    each, _ = check_pulses(volume_ml=mean, pulses=counted, u_volume_ml=0.0, least_ml=0.0, most_ml=1e6)
    if expanded is None:
        return Measured(Verdict.REPEAT, lacks(Tool.FLOW_METER, meter), each, "mL")
    own = expanded / counted
    verdict, words = against_limit(
        each,
        own,
        limit,
        "mL",
        say("{each:.3g} ± {own:.2g} mL a pulse over {counted}", each=each, own=own, counted=counted),
    )
    return weakened(Measured(verdict, sentence=words, value=each, unit="mL", expanded_u=own), (meter,))


def figure(value: float | None, *, limit: TwoEnded | None, unit: str, meter: Instrument | None) -> Measured:
    """Answer of a single figure, such as a battery's voltage, guard-banded against its limit."""
    if value is None:
        return Measured(Verdict.REPEAT, say("No figure in {unit}: measure it.", unit=unit))
    require_between("value", value, 0.0, 1e5)
    if meter is None or meter.uncertainty is None:
        return Measured(Verdict.REPEAT, lacks("meter", meter), value, unit)
    expanded = COVERAGE * meter.uncertainty
    verdict, words = against_limit(value, expanded, limit, unit, f"{value:g} ± {expanded:.2g} {unit}")
    return weakened(Measured(verdict, sentence=words, value=value, unit=unit, expanded_u=expanded), (meter,))


def weakened(measured: Measured, instruments: Sequence[Instrument | None]) -> Measured:
    """The same answer, a pass weakened to watch where an instrument was out of date or not known to be in date."""
    stale = [each for each in instruments if each is not None and each.in_date is not True]
    if not stale:
        return measured
    said = strung("; ", (
        say("{tool} is past its last valid day", tool=say(each.name)) if each.in_date is False
        else say("{tool} has no last valid day on record", tool=say(each.name)) for each in stale
    ))  # fmt: skip
    verdict = Verdict.WATCH if measured.verdict is Verdict.PASS else measured.verdict
    return replace(
        measured, verdict=verdict, notes=(*measured.notes, say("{said}: measure again with one in date", said=said))
    )


def _minutes(readings: Sequence[GaugeReading]) -> float:
    return (readings[-1].seconds - readings[0].seconds) / 60.0 if len(readings) > 1 else 0.0


def _still_to_watch(watched: float, minutes: float | None) -> float | None:
    return None if minutes is None else max(0.0, 60.0 * (minutes - watched))


def _eye_words(held: bool | None, watched: float, limit: LoopLimit | None) -> str:
    if held is False:
        return say("The loop fell: find the leak and test again.")
    asked = (
        say("{minutes:g} min are asked for ({source})", minutes=limit.minutes, source=limit.source)
        if limit is not None
        else say("the unit type states no time: enter how long the manual says to watch")
    )
    if held:
        return say("Held, watched {watched:.1f} min; {asked}.", watched=watched, asked=asked)
    return say("Not recorded whether it held, watched {watched:.1f} min; {asked}.", watched=watched, asked=asked)


def _leak(
    readings: Sequence[GaugeReading],
    sign: TestSign,
    ambient_mbar: float,
    volume_l: float | None,
    manometer: Instrument | None,
    thermometer: Instrument | None,
    *,
    deformable: bool = False,
) -> tuple[Leak | None, str]:
    """The leak, or None with what it lacks."""
    for each in readings:
        require_between("pressure", each.gauge, 0.0, 1000.0)
    if manometer is None or manometer.uncertainty is None or manometer.step is None:
        return None, lacks(Tool.MANOMETER, manometer)
    if volume_l is None:
        return None, say("The volume is not known: enter it in litres.")
    if len(readings) < 2:
        return None, say("{count} of at least 2 readings.", count=len(readings))
    way = 1.0 if sign is TestSign.POSITIVE else -1.0
    kelvin, known = _temperatures(readings, thermometer)
    rows = [
        LeakReading(each.seconds, ambient_mbar + way * each.gauge, warm)
        for each, warm in zip(readings, kelvin, strict=True)
    ]
    own = Gauge(
        resolution_mbar=manometer.step,
        resolution_k=thermometer.digit if thermometer is not None and thermometer.digit is not None else 0.1,
        temperature_u_k=known,
        volume_u=VOLUME_NOT_STATED_U,
        zero_u_mbar=manometer.uncertainty,
    )
    return pressure_change(
        rows, volume_l=volume_l, gauge=own, sign=sign, deformable=deformable, ambient_mbar=ambient_mbar
    ), ""


def _against_held(
    readings: Sequence[GaugeReading], sign: TestSign, ambient_mbar: float, manometer: Instrument | None
) -> str:
    """How the readings contradict a loop that is said to have held, in a sentence; empty where they do not.

    The pressure as it was read counts, and where the gas temperature was read too, also with its change taken out:
    neither a warm nor a cold gas makes a loop hold. What the manometer's digit and uncertainty leave open is allowed.
    """
    if not readings:
        return ""
    step = manometer.step if manometer is not None else None
    own = manometer.uncertainty if manometer is not None else None
    unseen = COVERAGE * math.hypot((step or 0.0) / math.sqrt(12.0), own or 0.0)
    first = readings[0].gauge
    if first <= unseen:
        return say("But the loop was under no pressure that the manometer can tell from none: load it and test again.")
    way = 1.0 if sign is TestSign.POSITIVE else -1.0
    lost = max((first - min(_at_first_temperature(readings[0], each, ambient_mbar, way), each.gauge)
                for each in readings[1:]), default=0.0)  # fmt: skip
    if lost - math.sqrt(2.0) * unseen <= LOST_PART * first:
        return ""
    return say(
        "But the manometer lost {lost:.2g} of {first:.3g} mbar, over {what:.0f} % of it, so "
        "whether the loop held is undecided: let the temperature come to rest, look for the leak "
        "and test again.",
        lost=lost,
        first=first,
        what=100 * LOST_PART,
    )


def _at_first_temperature(first: GaugeReading, later: GaugeReading, ambient_mbar: float, way: float) -> float:
    """Gauge pressure in mbar as it would be at the first reading's gas temperature; as read where either lacks one."""
    if first.temperature_c is None or later.temperature_c is None:
        return later.gauge
    ratio = (first.temperature_c + 273.15) / (later.temperature_c + 273.15)
    return way * ((ambient_mbar + way * later.gauge) * ratio - ambient_mbar)


def _allowances(readings: Sequence[GaugeReading], thermometer: Instrument | None) -> tuple[str, ...]:
    """What the stated interval allows for without its being recorded, in words."""
    volume = say(
        "the volume's uncertainty is not recorded: ± {what:.0f} % allowed for (common practice, no published source)",
        what=100 * COVERAGE * VOLUME_NOT_STATED_U,
    )
    if any(each.temperature_c is None for each in readings):
        lacks = say("the gas temperature was not read throughout")
    elif thermometer is None or thermometer.uncertainty is None:
        lacks = say("the thermometer's uncertainty is not recorded")
    else:
        return (volume,)
    allowed = say(
        "{lacks}: ± {coverage:.0f} K allowed for (common practice, no published source)",
        lacks=lacks,
        coverage=COVERAGE * TEMPERATURE_NOT_READ_K,
    )
    return (volume, allowed)


def _stands_words(leak: Leak) -> tuple[str, ...]:
    if leak.stands:
        return ()
    return (say("Too little of the pressure stood at the end, as after a large leak: test again and read sooner."),)


def _temperatures(readings: Sequence[GaugeReading], thermometer: Instrument | None) -> tuple[list[float], float]:
    """Gas temperatures in degrees C with the last one standing in for one not read, and their uncertainty in K."""
    last = next((each.temperature_c for each in readings if each.temperature_c is not None), 20.0)
    warm, lacking = [], False
    for each in readings:
        lacking = lacking or each.temperature_c is None
        last = each.temperature_c if each.temperature_c is not None else last
        warm.append(last)
    own = thermometer.uncertainty if thermometer is not None else None
    return warm, TEMPERATURE_NOT_READ_K if lacking or own is None else own


def _until_seen(
    leak: Leak,
    limit_ml_min: float,
    watched: float,
    volume_l: float | None,
    ambient_mbar: float,
    manometer: Instrument | None,
) -> float:
    """Seconds until a leak as small as this can be told to be under the limit; 0 where it is decided."""
    room = limit_ml_min - max(leak.ml_min, 0.0)
    step = manometer.step if manometer is not None else None
    if room <= leak.u_ml_min * 1e-9 or leak.u_ml_min <= room or volume_l is None or step is None:
        return 0.0
    needed = seconds_to_see(room, volume_l=volume_l, gauge=Gauge(step, 0.0), pressure_mbar=ambient_mbar)
    return max(0.0, needed - 60.0 * watched)


def mean_of(values: Sequence[float], instrument: Instrument | None) -> tuple[float, float | None]:
    """Mean of repeats and its expanded uncertainty: of the instrument, and of the repeats (Student) where larger."""
    mean = float(np.mean(values))
    if instrument is None or instrument.uncertainty is None:
        return mean, None
    expanded = COVERAGE * instrument.uncertainty
    if len(values) > 1:
        # scipy.stats is slow to import and only needed here.
        from scipy.stats import t

        scatter = float(np.std(values, ddof=1)) / math.sqrt(len(values))
        expanded = math.hypot(expanded, float(t.ppf(0.97725, len(values) - 1)) * scatter)
    return mean, expanded


def against_limit(
    value: float, expanded: float, limit: TwoEnded | None, unit: str | Measure, words: str
) -> tuple[Verdict, str]:
    """Verdict by guard band (JCGM 106:2012, 8.3.2), with the words and the limit in a sentence."""
    if limit is None or (limit.low is None and limit.high is None):
        return Verdict.REPEAT, say(
            "{words}. No limit is recorded: enter the manual's {at}.", words=words, at=door("limit")
        )
    low = limit.low if limit.low is not None else -math.inf
    high = limit.high if limit.high is not None else math.inf
    where = Standing(int(standing(value, expanded, low, high)))
    said = f"{words}; {limit.words(unit)}."
    if where in (Standing.ABOVE, Standing.BELOW):
        return Verdict.REJECT, say("Out of limits: {said}", said=said)
    if where is Standing.INSIDE:
        return Verdict.PASS, say("In limits: {said}", said=said)
    return Verdict.REPEAT, say("Too near a limit to decide: {said}", said=said)


def lacks(what: str, instrument: Instrument | None) -> str:
    """What is not known of an instrument, with the remedy."""
    if instrument is None:
        return say("Not recorded what it was read with: choose the {what}.", what=say(what))
    return (say("{instrument}: its uncertainty is not recorded, so nothing can be decided; enter it {what}.",
        instrument=instrument.name, what=door('equipment figures')))  # fmt: skip


def _back_leak_words(limit: BackLeakLimit) -> str:
    return say(
        "at most {ml_min:g} mL/min at {suction_mbar:.3g} mbar ({source})",
        ml_min=limit.ml_min,
        suction_mbar=limit.suction_mbar,
        source=limit.source,
    )


def _suction_words(words: str, ml_min: float, first: float, last: float, limit: BackLeakLimit) -> str:
    """The sentence, with what is wrong with the suction at which it was measured."""
    if too_gentle(last, limit):
        return say("{words} The suction is gentler than the limit's, which would flatter the valve.", words=words)
    if ml_min > limit.ml_min and ml_min * limit.suction_mbar <= limit.ml_min * first:
        return say("{words} The suction was harder than the limit's: test again nearer to it.", words=words)
    return words


FULL_SUPPLY_BAR, LOW_SUPPLY_BAR = 150.0, 60.0
"""From where a supply counts as full and to where as low: common practice, no published source."""


def supply_word(supply_bar: float | None) -> str:
    """Whether a supply pressure in bar counts as full, low, between, or is not known."""
    if supply_bar is None:
        return "not known"
    if supply_bar >= FULL_SUPPLY_BAR:
        return "full"
    return "low" if supply_bar <= LOW_SUPPLY_BAR else "between"
