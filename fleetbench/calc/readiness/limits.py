"""Limits of the readiness checks as data, what was asked, and what a check finds."""

import math
from dataclasses import dataclass, field, fields
from datetime import date, datetime, tzinfo
from enum import StrEnum
from functools import cache

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.gas.cylinders import GasLimits

COMMON_PRACTICE = say("common practice, no published source")


class HandoverKind(StrEnum):
    """How a unit leaves."""

    ASSEMBLED = "assembled"
    KIT = "kit"
    NOT_FOR_DIVING = "not for diving"


USUAL_WAY = HandoverKind.ASSEMBLED
"""How a unit is taken to leave where its booking does not say; common practice, no published source."""


@dataclass(frozen=True, slots=True)
class Freshness:
    """Days after which a record stops or advises; None is never."""

    stop_over_days: int | None
    advise_over_days: int | None
    source: str = COMMON_PRACTICE

    def __post_init__(self) -> None:
        """Refuse days below nought, and an advice that would come after the stop."""
        for name in ("stop_over_days", "advise_over_days"):
            value = getattr(self, name)
            if value is not None and value < 0:
                raise ValueError(say("{name}: {value!r}; give days from 0 up", name=name, value=value))
        if None not in (self.stop_over_days, self.advise_over_days) and self.advise_over_days > self.stop_over_days:  # type: ignore[operator]
            raise ValueError(say("advise_over_days: later than the stop; give fewer days"))

    def describe(self) -> str:
        """The limit in words with its source."""
        return _freshness_words(self.stop_over_days, self.advise_over_days, self.source)


@cache
def _freshness_words(stop: int | None, advise: int | None, source: str) -> str:
    parts = [say("stops over {days} days", days=stop)] if stop is not None else []
    parts += [say("advises over {days} days", days=advise)] if advise is not None else []
    return say("{limit} ({source})", limit=strung(", ", parts) or say("no limit of age"), source=source)


@dataclass(frozen=True, slots=True)
class ReadinessLimits:
    """Every limit of the readiness table; the defaults are the trade's, the centre's own replace them.

    verified_part: of the pressure at the place of use, up to which a cell must have been verified in oxygen.
    life_margin_days, cell_margin_days: days after the last day within which an end of life is advised.
    put_off_stop: how often a task may have been put off before it stops. Limits in days stand for the months that the
    trade says: 183 for six, 365 for twelve. The minutes are what undone hand-over work takes.
    air_least_bar, air_most_bar: what a handset may show back in air, stated at 1013.25 mbar in dry air and scaled with
    the oxygen that the air holds. air_off_advise: share of that oxygen by which it may be off before it is advised.
    """

    calibration: Freshness = Freshness(30, 7)
    pressure_change_mbar: float = 30.0
    verified_part: float = 0.9
    life_margin_days: int = 14
    cell_margin_days: int = 30
    valves_and_loop: Freshness = Freshness(90, 30)
    put_off_stop: int = 2
    high_point_days: int = 183
    spread_stop_bar: float = 0.10
    spread_advise_bar: float = 0.05
    air_least_bar: float = 0.19
    air_most_bar: float = 0.23
    air_off_advise: float = 0.07
    air_source: str = COMMON_PRACTICE
    gas: GasLimits = field(default_factory=GasLimits)
    flush_margin_bar: float = 0.1
    visual_advise_days: int = 365
    clean_advise_days: int = 365
    battery_reading: Freshness = Freshness(None, 3)
    battery_fitted: Freshness = Freshness(None, 60)
    disinfected: Freshness = Freshness(None, 30)
    gas_side_tests: Freshness = Freshness(365, 90)
    mouthpiece_tests: Freshness = Freshness(None, 30)
    alarm_tests: Freshness = Freshness(None, 30)
    idle_days: int = 60
    service_margin_days: int = 30
    last_dive_days: int = 183
    analyse_minutes: int = 5
    fill_minutes: int = 20
    battery_minutes: int = 10
    qualification_minutes: int = 5
    source: str = COMMON_PRACTICE

    def __post_init__(self) -> None:
        """Refuse a limit that is no number or below nought."""
        for each in fields(self):
            value = getattr(self, each.name)
            if isinstance(value, (int, float)) and (not math.isfinite(value) or value < 0):
                raise ValueError(
                    say("{each}: {value!r} is no limit; give a number from 0 up", each=each.name, value=value)
                )
        if self.air_least_bar > self.air_most_bar:
            raise ValueError(say("air_least_bar: over air_most_bar; give the smaller figure first"))


@dataclass(frozen=True, slots=True)
class Asked:
    """What was asked: today, first and last day of the span in the site's calendar, and whether the act is now."""

    today: date
    first: date
    last: date
    at_act: bool
    zone: tzinfo

    def day(self, at: datetime) -> date:
        """The site's calendar day of a time; ValueError for a time without its zone."""
        if at.tzinfo is None:
            raise ValueError(say("time: {at} has no zone; give an aware time", at=at))
        return at.astimezone(self.zone).date()

    def age_days(self, at: datetime) -> int:
        """Whole calendar days from a time to the hand-over."""
        return (self.first - self.day(at)).days


@dataclass(frozen=True, slots=True)
class CheckFinding:
    """One finding of a check.

    to_do_minutes: set where a stop is only hand-over work not yet done; ahead of the act it reads `to do`.
    ordinary: a stop that the work of an ordinary turn-round or hand-over clears, as against a fault or an end of life.
    unrecorded: nothing was found wrong, but nothing is recorded that would show it right. test: the bench test that
    puts it right, by its name.
    """

    result: Result
    evidence: str
    remedy: str = ""
    rule: str = ""
    record: str = ""
    to_do_minutes: int | None = None
    ordinary: bool = False
    unrecorded: bool = False
    test: str = ""


def ok(evidence: str, record: str = "") -> CheckFinding:
    """A finding that all is well, with what shows it."""
    return CheckFinding(Result.OK, evidence, record=record)
