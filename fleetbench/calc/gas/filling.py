"""What a filler is told before a fill is written down, and what an analyser's figures say of the gas.

A stop is refused: nothing that must not be filled is filled. An advice is asked about once, for instance a pressure
over the working pressure, since a fill that was made is written down as it was made and stops the hand-over instead.
Limits: common practice, no published source, unless said otherwise.
"""

import math
from dataclasses import dataclass
from datetime import date

from fleetbench.calc.core.verdict import Result
from fleetbench.calc.gas.cylinders import COMMON_PRACTICE, CylinderFinding
from fleetbench.calc.gas.real import Mixture, gauge_after_temperature

CLEAN_OVER = 0.40
"""Over this fraction of oxygen a cylinder must be oxygen-clean: common practice, no published source."""

OXYGEN_LEAST_ASKED = 0.99
MOST_SHOWN_PERCENT = 101.0
"""An analyser may show up to this in pure oxygen; over it the analyser itself is checked. Common practice."""

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
        found.append(CylinderFinding("batch", Result.STOP, fact.against_batch, "do not use it; ask the supplier"))
    return tuple(sorted(found, key=lambda each: each.result is not Result.STOP))


def _pressures(fact: FillingFact) -> list[CylinderFinding]:
    end, start, working = fact.end_bar, fact.start_bar, fact.working_bar
    for name, value in (("start", start), ("end", end)):
        if value is not None and (not math.isfinite(value) or value < 0.0):
            return [CylinderFinding(name, Result.STOP, f"{value:g} bar is no gauge pressure", "read the gauge again")]
    if end is None:
        return [CylinderFinding("end", Result.STOP, "the pressure at the end is missing", "read the gauge")]
    if start is not None and start > end:
        words = f"{start:g} bar at the start is over {end:g} bar at the end"
        return [CylinderFinding("start", Result.STOP, words, "look at both figures; a cylinder let down is read anew")]
    if end >= TEST_OVER_WORKING * working:
        words = f"{end:g} bar is near the test pressure of a cylinder of {working:g} bar"
        return [CylinderFinding("end", Result.STOP, words, "look at the figure and the working pressure")]
    return _over_working(fact, end)


def _over_working(fact: FillingFact, end: float) -> list[CylinderFinding]:
    warm = _ASSUMED_C if fact.temperature_c is None else fact.temperature_c
    settled = gauge_after_temperature(fact.asked, gauge_bar=end, from_c=warm, to_c=15.0)
    if settled <= fact.working_bar * 1.005:
        return []
    taken = "taken to be at" if fact.temperature_c is None else "at"
    words = f"{end:g} bar {taken} {warm:g} C is {settled:.0f} bar at 15 C, over the working pressure of "
    words += f"{fact.working_bar:g} bar"
    remedy = "let it down to the working pressure, or enter the cylinder's temperature"
    return [CylinderFinding("end", Result.ADVISE, words, remedy)]


def _test(fact: FillingFact, on: date) -> list[CylinderFinding]:
    last = fact.test_last_good_day
    if last is None:
        remedy = "do not fill it: enter the stamp, or have it tested"
        return [CylinderFinding("test", Result.STOP, "a test date is not known", remedy)]
    if last < on:
        return [CylinderFinding("test", Result.STOP, f"out of test since {last}", "do not fill it; have it tested")]
    return []


def _gas(fact: FillingFact) -> list[CylinderFinding]:
    asked, remedy = fact.asked, "look at the cylinder and at the gas"
    if fact.role == "oxygen" and (asked.oxygen < OXYGEN_LEAST_ASKED or asked.helium > 0.0):
        words = f"a cylinder of oxygen, asked for {asked.oxygen:.0%} oxygen"
        words += f" and {asked.helium:.0%} helium" if asked.helium else ""
        return [CylinderFinding("gas", Result.ADVISE, words, remedy)]
    if fact.role != "oxygen" and asked.oxygen > CLEAN_OVER:
        words = f"a cylinder of {fact.role}, asked for {asked.oxygen:.0%} oxygen"
        return [CylinderFinding("gas", Result.ADVISE, words, remedy)]
    return []


def _oxygen_side(fact: FillingFact) -> list[CylinderFinding]:
    found = []
    if (fact.role == "oxygen" or fact.asked.oxygen > CLEAN_OVER) and fact.clean is not True:
        words = f"oxygen-clean status {fact.clean_words or 'not known'}"
        remedy = f"no gas over {CLEAN_OVER:.0%} oxygen into it before it is cleaned ({COMMON_PRACTICE})"
        found.append(CylinderFinding("oxygen-clean", Result.STOP, words, remedy))
    if fact.oxygen_compatible is False and (fact.role == "oxygen" or fact.clean is True):
        words = "air that is not oxygen-compatible ends its oxygen-clean status"
        found.append(CylinderFinding("oxygen-clean", Result.ADVISE, words, "fill it with oxygen-compatible air"))
    return found


def analysed_mixture(oxygen_percent: float, helium_percent: float | None = None) -> Mixture:
    """The gas that an analyser's figures name, in percent as shown; 100.1 to 101 % oxygen count as 100.

    helium_percent None is none. Raises ValueError naming the field for figures that no gas has.
    """
    helium = helium_percent or 0.0
    if not math.isfinite(oxygen_percent) or not 0.0 <= oxygen_percent <= MOST_SHOWN_PERCENT:
        raise ValueError(f"oxygen: {oxygen_percent:g} % cannot be; over {MOST_SHOWN_PERCENT:g} % check the analyser")
    if not math.isfinite(helium) or not 0.0 <= helium <= 100.0:
        raise ValueError(f"helium: {helium:g} % cannot be; give 0 to 100")
    oxygen = min(oxygen_percent, 100.0)
    if oxygen + helium > 100.0 + 1e-6:
        raise ValueError(f"helium: {oxygen:g} % oxygen and {helium:g} % helium are over 100 %; analyse again")
    return Mixture(oxygen / 100.0, min(helium / 100.0, 1.0 - oxygen / 100.0))
