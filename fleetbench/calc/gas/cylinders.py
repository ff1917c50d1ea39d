"""Checks of a cylinder's fill, analysis and gas certificate; limits are data with their source.

What a filler is told before a fill is written down, and what an analyser's figures say of the gas.

A stop is refused: nothing that must not be filled is filled. An advice is asked about once, for instance a pressure
over the working pressure, since a fill that was made is written down as it was made and stops the hand-over instead.
Limits: common practice, no published source, unless said otherwise.

Whether a part is oxygen-clean: what its cleanings and what has happened to it since leave of that status.

Lost by an opening off the clean bench, a fill with air that is not oxygen-compatible, a flood, or a lubricant that is
not oxygen-compatible: common practice, no published source. Nothing but a cleaning that passed gives it back.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, tzinfo
from enum import StrEnum
from typing import final

from fleetbench.calc.core.doors import at as door
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import BAR, CELSIUS
from fleetbench.calc.core.plausible import HELIUM, MIXED_OXYGEN
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.gas.depth import breathable_at_surface
from fleetbench.calc.gas.real import Mixture, gauge_after_temperature

COMMON_PRACTICE = say("common practice, no published source")

STAMP = say("enter the stamp {what}, or have it tested", what=door("test of a cylinder"))
"""What to do where no test of a cylinder is known."""


class GasRole(StrEnum):
    """What a cylinder is for, in the order in which a unit's cylinders are filled.

    Oxygen apart and first: common practice, no published source.
    """

    OXYGEN = "oxygen"
    DILUENT = "diluent"
    BAILOUT = "bailout"
    DRIVE = "drive gas"


@dataclass(frozen=True, slots=True)
class CylinderFinding:
    """One thing found about a cylinder: the field it is about, the result, words and remedy."""

    field: str
    result: Result
    words: str
    remedy: str = ""


@dataclass(frozen=True, slots=True)
class GasLimits:
    """Tolerances of a booked gas, as fractions; common practice, no published source.

    oxygen, helium: most that an analysis may differ from what was asked. least_oxygen: for cylinders of oxygen, and
    wrong_oxygen what is not oxygen at all there. least_full: share of working pressure under which it is short.
    """

    oxygen: float = 0.01
    helium: float = 0.02
    least_oxygen: float = 0.99
    wrong_oxygen: float = 0.95
    least_full: float = 0.75
    source: str = COMMON_PRACTICE


@dataclass(frozen=True, slots=True)
class FillFact:
    """A cylinder as filled: gas asked for and analysed (None: not analysed), times, pressures, dates.

    gauge_bar at temperature_c; working_bar at 15 C. test_last_good_day: the earlier of its tests, None not known.
    """

    asked: Mixture | None
    analysed: Mixture | None
    filled_at: datetime | None
    analysed_at: datetime | None
    gauge_bar: float | None
    working_bar: float | None
    temperature_c: float = 20.0
    test_last_good_day: date | None = None


def check_fill(fact: FillFact, *, on: date, limits: GasLimits | None = None) -> tuple[CylinderFinding, ...]:
    """Everything found about a fill on a day, at least one finding; nothing missing is ever ok."""
    used = limits or GasLimits()
    findings = [*_check_analysis(fact, used), *_check_pressure(fact, used), *_check_test(fact, on)]
    return tuple(findings) or (CylinderFinding("fill", Result.OK, say("analysed as asked, full and in test")),)


def _check_analysis(fact: FillFact, limits: GasLimits) -> list[CylinderFinding]:
    remedy = say("analyse the gas")
    if fact.analysed is None or fact.analysed_at is None:
        return [CylinderFinding("analysis", Result.STOP, say("not analysed"), remedy)]
    if fact.filled_at is not None and fact.analysed_at <= fact.filled_at:
        return [CylinderFinding("analysis", Result.STOP, say("filled after it was analysed"), remedy)]
    findings = []
    if fact.asked is not None:
        findings += differences(fact.asked, fact.analysed, limits)
    if not breathable_at_surface(fact.analysed.oxygen):
        words = say("{oxygen:.1%} oxygen: not breathable at the surface", oxygen=fact.analysed.oxygen)
        findings.append(CylinderFinding("oxygen", Result.ADVISE, words, say("mark it so on the label")))
    return findings


def differences(asked: Mixture, analysed: Mixture, limits: GasLimits) -> list[CylinderFinding]:
    """What differs by more than the tolerance between the gas asked for and the gas analysed; each stops."""
    findings = []
    for name, most in (("oxygen", limits.oxygen), ("helium", limits.helium)):
        wanted, found = getattr(asked, name), getattr(analysed, name)
        if abs(found - wanted) > most + 1e-9:
            words = say(
                "{name} {found:.1%} analysed, {wanted:.1%} asked, over {most:.1%} apart ({source})",
                name=say(name),
                found=found,
                wanted=wanted,
                most=most,
                source=limits.source,
            )
            findings.append(CylinderFinding(name, Result.STOP, words, say("fill again or book what it holds")))
    return findings


def _check_pressure(fact: FillFact, limits: GasLimits) -> list[CylinderFinding]:
    if fact.gauge_bar is None or fact.working_bar is None:
        return [
            CylinderFinding(
                "pressure", Result.ADVISE, say("pressure or working pressure not known"), say("read the gauge")
            )
        ]
    settled = gauge_after_temperature(
        fact.analysed or fact.asked or Mixture(0.21), gauge_bar=fact.gauge_bar, from_c=fact.temperature_c, to_c=15.0
    )
    then = say("{settled} at {what}", settled=BAR.words(settled, 0), what=CELSIUS.words(15))
    words = say(
        "{gauge_bar} at {temperature_c} is {then}",
        gauge_bar=BAR.words(fact.gauge_bar, 0),
        temperature_c=CELSIUS.words(fact.temperature_c),
        then=then,
    )
    if settled > fact.working_bar * 1.005:
        words = say(
            "{words}, over the working pressure of {working_bar}", words=words, working_bar=BAR.words(fact.working_bar)
        )
        return [CylinderFinding("pressure", Result.STOP, words, say("let it down to the working pressure"))]
    if settled < limits.least_full * fact.working_bar:
        words = say(
            "{words}, under {least_full:.0%} of {working_bar}",
            words=words,
            least_full=limits.least_full,
            working_bar=BAR.words(fact.working_bar),
        )
        return [CylinderFinding("pressure", Result.ADVISE, words, say("top it up"))]
    return []


def _check_test(fact: FillFact, on: date) -> list[CylinderFinding]:
    if fact.test_last_good_day is None:
        return [CylinderFinding("test", Result.STOP, say("test date not known"), STAMP)]
    if fact.test_last_good_day < on:
        words = say("out of test since {test_last_good_day}", test_last_good_day=fact.test_last_good_day)
        return [CylinderFinding("test", Result.STOP, words, say("do not fill it; have it tested"))]
    return []


@dataclass(frozen=True, slots=True)
class PurityLimit:
    """One line of a gas specification: what, least or most, in which unit."""

    what: str
    unit: str
    least: float | None = None
    most: float | None = None


@dataclass(frozen=True, slots=True)
class Specification:
    """A gas specification with its source."""

    name: str
    lines: tuple[PurityLimit, ...]
    source: str


# The dew point line is left out: its sign is printed ambiguously, and the water line says the same.
DIVER_OXYGEN = Specification(
    say("diver's oxygen, type I"),
    (
        PurityLimit("oxygen", "%", least=99.5),
        PurityLimit(say("carbon dioxide"), "ppm", most=10.0),
        PurityLimit("methane", "ppm", most=50.0),
        PurityLimit("acetylene", "ppm", most=0.1),
        PurityLimit("ethylene", "ppm", most=0.4),
        PurityLimit(say("ethane and others"), "ppm", most=6.0),
        PurityLimit(say("nitrous oxide"), "ppm", most=4.0),
        PurityLimit(say("halogenated refrigerants"), "ppm", most=1.0),
        PurityLimit(say("halogenated solvents"), "ppm", most=0.10),
        PurityLimit("water", "ppm", most=7.0),
    ),
    say("US Navy Diving Manual Table 4-3, MIL-PRF-27210; names of the two halogenated lines from memory"),
)
BREATHING_AIR = Specification(
    say("breathing air"),
    (
        PurityLimit("oxygen", "%", least=20.0, most=22.0),
        PurityLimit(say("carbon monoxide"), "ppm", most=5.0),
        PurityLimit(say("carbon dioxide"), "ppm", most=500.0),
        PurityLimit("oil", "mg/m3", most=0.5),
        PurityLimit("water", "mg/m3", most=25.0),
    ),
    say("EN 12021, at the compressor's outlet, second-hand"),
)

SPECIFICATIONS = {"oxygen": DIVER_OXYGEN, "air": BREATHING_AIR}
"""Specification of each gas that a certificate is held against."""


def check_certificate(values: Mapping[str, float], specification: Specification) -> tuple[CylinderFinding, ...]:
    """One finding a line of the specification; a line that the certificate does not state advises.

    values: by the lines' names, in the lines' units. Raises ValueError for a value that is no number, below nought,
    or under a name that the specification does not know.
    """
    known = {line.what for line in specification.lines}
    for name, value in values.items():
        if name not in known:
            raise ValueError(
                say(
                    "{name}: not a line of {specification}; the lines are {known}",
                    name=say(name),
                    specification=specification.name,
                    known=strung(", ", map(say, sorted(known))),
                )
            )
        if not math.isfinite(value) or value < 0.0:
            raise ValueError(say("{name}: {value!r}; give the certificate's figure, from 0 up", name=name, value=value))
    return tuple(_certificate_line(line, values.get(line.what), specification.source) for line in specification.lines)


def _certificate_line(line: PurityLimit, value: float | None, source: str) -> CylinderFinding:
    asked = strung(" and ", (
        *((say("at least {least:g} {unit}", least=line.least, unit=line.unit),) if line.least is not None else ()),
        *((say("at most {most:g} {unit}", most=line.most, unit=line.unit),) if line.most is not None else ()),
    ))  # fmt: skip
    if value is None:
        return CylinderFinding(
            line.what,
            Result.ADVISE,
            say("not stated; {asked} ({source})", asked=asked, source=source),
            say("ask the supplier"),
        )
    words = f"{value:g} {line.unit}; {asked} ({source})"
    low = line.least is not None and value < line.least
    high = line.most is not None and value > line.most
    if low or high:
        return CylinderFinding(line.what, Result.STOP, words, say("do not use the gas; ask the supplier"))
    return CylinderFinding(line.what, Result.OK, words)


CLEAN_OVER = 0.40
"""Over this fraction of oxygen a cylinder must be oxygen-clean: common practice, no published source."""

OXYGEN_LEAST_ASKED = 0.99

TEST_OVER_WORKING = 1.5
"""A cylinder's test pressure over its working pressure, about: no fill gets there, so it is a slip in typing."""

_ASSUMED_C = 20.0


@dataclass(frozen=True, slots=True)
class FillingFact:
    """A fill as it is entered: gauge pressures in bar, None not read; temperature of the cylinder in C, None not taken.

    test_last_good_day: the earlier of its tests; None where one is not known. clean: oxygen-clean status.
    oxygen_compatible: whether the air or gas was, None not known. against_batch: why the batch may not be used.
    """

    role: str
    asked: Mixture
    start_bar: float | None
    end_bar: float | None
    working_bar: float
    test_last_good_day: date | None
    clean: bool | None = None
    clean_words: str = ""
    oxygen_compatible: bool | None = None
    temperature_c: float | None = None
    against_batch: str = ""


def check_filling(fact: FillingFact, *, on: date) -> tuple[CylinderFinding, ...]:
    """What is against a fill on a day, stops first; empty where nothing is."""
    found = [*_pressures(fact), *_test(fact, on), *_gas(fact), *_oxygen_side(fact)]
    if fact.against_batch:
        found.append(CylinderFinding("batch", Result.STOP, fact.against_batch, say("do not use it; ask the supplier")))
    return tuple(sorted(found, key=lambda each: each.result is not Result.STOP))


def _pressures(fact: FillingFact) -> list[CylinderFinding]:
    end, start, working = fact.end_bar, fact.start_bar, fact.working_bar
    for name, value in (("start", start), ("end", end)):
        if value is not None and (not math.isfinite(value) or value < 0.0):
            words = say("{bar} is no gauge pressure", bar=BAR.words(value))
            return [CylinderFinding(name, Result.STOP, words, say("read the gauge again"))]
    if end is None:
        return [CylinderFinding("end", Result.STOP, say("the pressure at the end is missing"), say("read the gauge"))]
    if start is not None and start > end:
        words = say("{start} at the start is over {end} at the end", start=BAR.words(start), end=BAR.words(end))
        return [
            CylinderFinding("start", Result.STOP, words, say("look at both figures; a cylinder let down is read again"))
        ]
    if end >= TEST_OVER_WORKING * working:
        words = say(
            "{end} is near the test pressure of a cylinder of {working}", end=BAR.words(end), working=BAR.words(working)
        )
        return [CylinderFinding("end", Result.STOP, words, say("look at the figure and the working pressure"))]
    return _over_working(fact, end)


def _over_working(fact: FillingFact, end: float) -> list[CylinderFinding]:
    warm = _ASSUMED_C if fact.temperature_c is None else fact.temperature_c
    settled = gauge_after_temperature(fact.asked, gauge_bar=end, from_c=warm, to_c=15.0)
    if settled <= fact.working_bar * 1.005:
        return []
    figures = {"end": BAR.words(end), "warm": CELSIUS.words(warm), "settled": BAR.words(settled, 0),
               "cold": CELSIUS.words(15), "working": BAR.words(fact.working_bar)}  # fmt: skip
    words = (
        say("{end} taken to be at {warm} is {settled} at {cold}, over the working pressure of {working}", **figures)
        if fact.temperature_c is None
        else say("{end} at {warm} is {settled} at {cold}, over the working pressure of {working}", **figures)
    )
    remedy = say("let it down to the working pressure, or enter the cylinder's temperature")
    return [CylinderFinding("end", Result.ADVISE, words, remedy)]


def _test(fact: FillingFact, on: date) -> list[CylinderFinding]:
    last = fact.test_last_good_day
    if last is None:
        remedy = say("do not fill it: {stamp}", stamp=STAMP)
        return [CylinderFinding("test", Result.STOP, say("a test date is not known"), remedy)]
    if last < on:
        return [
            CylinderFinding(
                "test", Result.STOP, say("out of test since {last}", last=last), say("do not fill it; have it tested")
            )
        ]
    return []


def _gas(fact: FillingFact) -> list[CylinderFinding]:
    asked, remedy = fact.asked, say("look at the cylinder and at the gas")
    if fact.role == GasRole.OXYGEN and (asked.oxygen < OXYGEN_LEAST_ASKED or asked.helium > 0.0):
        words = (
            say("a cylinder of oxygen, asked for {oxygen:.0%} oxygen and {helium:.0%} helium", oxygen=asked.oxygen,
                helium=asked.helium)
            if asked.helium
            else say("a cylinder of oxygen, asked for {oxygen:.0%} oxygen", oxygen=asked.oxygen)
        )  # fmt: skip
        return [CylinderFinding("gas", Result.ADVISE, words, remedy)]
    if fact.role != GasRole.OXYGEN and asked.oxygen > CLEAN_OVER:
        words = say("a cylinder of {role}, asked for {oxygen:.0%} oxygen", role=say(fact.role), oxygen=asked.oxygen)
        return [CylinderFinding("gas", Result.ADVISE, words, remedy)]
    return []


def _oxygen_side(fact: FillingFact) -> list[CylinderFinding]:
    found = []
    if (fact.role == GasRole.OXYGEN or fact.asked.oxygen > CLEAN_OVER) and fact.clean is not True:
        words = say("oxygen-clean status {status}", status=fact.clean_words or say("not known"))
        remedy = say(
            "no gas over {clean_over:.0%} oxygen into it before it is cleaned ({common_practice})",
            clean_over=CLEAN_OVER,
            common_practice=COMMON_PRACTICE,
        )
        found.append(CylinderFinding("oxygen-clean", Result.STOP, words, remedy))
    if fact.oxygen_compatible is False and (fact.role == GasRole.OXYGEN or fact.clean is True):
        words = say("air that is not oxygen-compatible ends its oxygen-clean status")
        found.append(CylinderFinding("oxygen-clean", Result.ADVISE, words, say("fill it with oxygen-compatible air")))
    return found


def analysed_mixture(oxygen_percent: float, helium_percent: float | None = None) -> Mixture:
    """The gas that an analyser's figures name, in percent as shown; 100.1 to 101 % oxygen count as 100.

    helium_percent None is none; the ranges are those of calc.core.plausible. Raises ValueError naming the field for
    figures that no gas has.
    """
    helium = helium_percent or 0.0
    for quantity, shown in ((MIXED_OXYGEN, oxygen_percent), (HELIUM, helium)):
        if not math.isfinite(shown) or not quantity.low <= shown <= quantity.high:
            bounds = say("{low:g} to {high:g} %", low=quantity.low, high=quantity.high)
            raise ValueError(
                say(
                    "{quantity}: {shown:g} % is outside {bounds}; {remedy}",
                    quantity=say(quantity.name),
                    shown=shown,
                    bounds=bounds,
                    remedy=say(quantity.remedy),
                )
            )
    oxygen = min(oxygen_percent, 100.0)
    if oxygen + helium > 100.0 + 1e-6:
        raise ValueError(
            say(
                "helium: {oxygen:g} % oxygen and {helium:g} % helium are over 100 %; analyse again",
                oxygen=oxygen,
                helium=helium,
            )
        )
    return Mixture(oxygen / 100.0, min(helium / 100.0, 1.0 - oxygen / 100.0))


@dataclass(frozen=True, slots=True)
class Cleaning:
    """One cleaning for oxygen; at: None where only its day is known."""

    day: date
    passed: bool
    at: datetime | None = None

    def since(self, zone: tzinfo) -> datetime:
        """The moment from which it may be counted; of a day without an hour its first moment, the cautious choice."""
        return self.at if self.at is not None else datetime.combine(self.day, time(), tzinfo=zone)


@dataclass(frozen=True, slots=True)
class Loss:
    """Something that ends the status: when, and what in words."""

    at: datetime
    why: str


@final
@dataclass(frozen=True, slots=True)
class CleanStatus:
    """What is left of the status: True, False with its reason, or None where nothing is recorded."""

    clean: bool | None
    cleaned_at: datetime | None
    lost_at: datetime | None = None
    why: str = ""

    @property
    def words(self) -> str:
        """The status in words, with its reason where it was lost."""
        if self.clean is None:
            return say("not known: no cleaning on record")
        if self.clean:
            return say("oxygen-clean")
        return say("lost: {why}", why=self.why)


def clean_status(cleanings: Iterable[Cleaning], losses: Iterable[Loss], zone: tzinfo) -> CleanStatus:
    """The status as cleanings and losses leave it; a loss on the day of a cleaning without an hour ends it.

    zone: of the site's calendar days. The last cleaning counts; one that failed leaves the part unclean.
    """
    last = max(cleanings, key=lambda each: (each.since(zone), not each.passed), default=None)
    since = last.since(zone) if last is not None else None
    after = sorted((loss for loss in losses if since is None or loss.at >= since), key=lambda loss: loss.at)
    if last is None or since is None:
        return CleanStatus(False, None, after[0].at, after[0].why) if after else CleanStatus(None, None)
    if not last.passed:
        return CleanStatus(False, None, since, say("its last cleaning did not pass"))
    if after:
        return CleanStatus(False, since, after[0].at, after[0].why)
    return CleanStatus(True, since)
