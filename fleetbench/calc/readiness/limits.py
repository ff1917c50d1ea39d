"""Every limit that the program goes by: its name, its units, what it belongs to, and which of two is the stricter.

And those of the readiness checks as data, with what was asked and what a check finds.

A limit under a name that is not here would be no limit at all, so it is refused with the list. Where a limit is stated
twice for the same thing the stricter is in force, as with lives: a looser figure never replaces a stricter one.
"""

import math
from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields
from datetime import date, datetime, tzinfo
from difflib import get_close_matches
from enum import StrEnum
from functools import cache
from typing import Protocol, TypeVar

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import CELSIUS, Measure, in_unit, measured_in, span_without_unit
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.gas.cylinders import SPECIFICATIONS, GasLimits, GasRole
from fleetbench.calc.parts.kinds import PART_KINDS


class Stricter(StrEnum):
    """Which of two figures of one limit is in force."""

    HIGHER = "the higher"
    LOWER = "the lower"
    NEWEST = "the newest"


class Scope(StrEnum):
    """What a limit belongs to."""

    PART_TYPE = "part type"
    UNIT_TYPE = "unit type"
    CENTRE = "centre"


_ANY = (Scope.PART_TYPE, Scope.UNIT_TYPE, Scope.CENTRE)
_TYPE = (Scope.UNIT_TYPE, Scope.CENTRE)
_DAYS = ("d", "days")


@dataclass(frozen=True, slots=True)
class LimitWord:
    """One limit: its name, the units it may be given in, what it may belong to, which is stricter, and one line of
    help."""

    name: str
    units: tuple[str, ...]
    scopes: tuple[Scope, ...]
    stricter: Stricter
    help: str


class Stated(Protocol):
    """A limit as it is recorded."""

    @property
    def unit_type_id(self) -> int | None:
        """Of which unit type, None for none."""

    @property
    def part_type_id(self) -> int | None:
        """Of which part type, None for none."""

    @property
    def name(self) -> str:
        """Its name."""

    @property
    def amount(self) -> float:
        """Its figure, in its unit."""


L = TypeVar("L", bound=Stated)


OXYGEN_PRESSURES = ("po2", "handset back in air")
"""Parts of the names of limits that are oxygen partial pressures, which are read in bar everywhere."""


def unit_of_limit(name: str, unit: str) -> Measure | str:
    """What a limit is typed and read in: the centre's unit of a gauge's pressure, a mass or a temperature."""
    if any(part in name for part in OXYGEN_PRESSURES):
        return unit
    return CELSIUS if name == "injector temperature" else measured_in(unit)


def _ends(name: str, unit: str, scopes: tuple[Scope, ...], what: str) -> Iterator[LimitWord]:
    yield LimitWord(
        say("{name} low", name=name),
        units=(unit,),
        scopes=scopes,
        stricter=Stricter.HIGHER,
        help=say("minimum {what}", what=what),
    )
    yield LimitWord(
        say("{name} high", name=name),
        units=(unit,),
        scopes=scopes,
        stricter=Stricter.LOWER,
        help=say("maximum {what}", what=what),
    )


def _freshness(name: str) -> Iterator[LimitWord]:
    yield LimitWord(
        name,
        units=_DAYS,
        scopes=_TYPE,
        stricter=Stricter.LOWER,
        help=say("days after which {name} stops a unit", name=name),
    )
    yield LimitWord(
        say("{name} advise", name=name),
        units=_DAYS,
        scopes=_TYPE,
        stricter=Stricter.LOWER,
        help=say("days after which {name} is advised", name=name),
    )


FRESHNESS = (
    "workshop calibration", "one-way valves and loop", "intermediate pressure and gas addition",
    "bailout or mouthpiece valve", "alarms, displays and set-point", "disinfected and dry",
)  # fmt: skip
"""Checks of readiness whose age in days a centre or a unit type can state."""

_CELL, _CANISTER, _CENTRE = (Scope.PART_TYPE,), (Scope.PART_TYPE,), (Scope.CENTRE,)

LIMITS: tuple[LimitWord, ...] = (
    *_ends(say("cell air"), "mV", _CELL, say("output of a cell in air, at 1013.25 mbar and dry")),
    LimitWord(say("cell oxygen floor"), ("mV",), _CELL, Stricter.HIGHER,
        say("minimum output in pure oxygen at 1013.25 mbar")),
    *_ends("linearity", "%", _CELL, say("linearity of a cell")),
    LimitWord(say("temperature residual"), ("%/K",), _CELL, Stricter.HIGHER,
        say("what a cell's compensation leaves open")),
    LimitWord(say("full mass"), ("g",), _CANISTER, Stricter.NEWEST, say("absorbent in a full canister")),
    LimitWord(say("minimum mass"), ("g",), _CANISTER, Stricter.HIGHER,
        say("least absorbent that a canister may be packed with")),
    LimitWord(say("hours since opened"), ("h",), _CANISTER, Stricter.LOWER,
        say("hours an opened container may be packed from")),
    LimitWord(say("hours since first use"), ("h",), _CANISTER, Stricter.LOWER,
        say("hours a fill may be used after first use")),
    LimitWord(say("fills shared on try days"), (say("yes or no"), ""), _CENTRE, Stricter.LOWER,
        say("1: divers may share a fill")),
    LimitWord(say("loop negative minutes"), ("min",), _TYPE, Stricter.HIGHER,
        say("minutes a loop must hold under the room")),
    LimitWord(say("loop positive minutes"), ("min",), _TYPE, Stricter.HIGHER,
        say("minutes a loop must hold over the room")),
    LimitWord(say("loop leak"), ("mL/min",), _TYPE, Stricter.LOWER, say("maximum leak of a loop")),
    LimitWord(say("back leak"), ("mL/min",), _ANY, Stricter.LOWER,
        say("maximum leak of a one-way valve against its direction")),
    LimitWord(say("back leak suction"), ("mbar",), _ANY, Stricter.HIGHER, say("suction at which that leak is stated")),
    *_ends(say("opening pressure"), "mbar", _ANY, say("pressure at which a valve opens")),
    *(word for kind in PART_KINDS for word in _ends(say("{kind} opening pressure", kind=kind), "mbar", _ANY,
        say("pressure at which a {kind} opens", kind=kind))),
    *_ends(say("intermediate pressure"), "bar", _ANY, say("intermediate pressure after lock-up")),
    LimitWord(say("intermediate pressure creep"), ("bar/min",), _ANY, Stricter.LOWER,
        say("maximum creep after lock-up")),
    LimitWord(say("intermediate pressure watch"), ("min",), _ANY, Stricter.HIGHER,
        say("minutes it is watched after lock-up")),
    LimitWord(say("injector flow"), ("L/min",), _ANY, Stricter.NEWEST, say("rated flow of an injector")),
    LimitWord(say("injector pressure"), ("bar",), _ANY, Stricter.NEWEST,
        say("gauge pressure at which that flow is stated")),
    LimitWord(say("injector tolerance"), ("%",), _ANY, Stricter.LOWER, say("how far the flow may be off")),
    LimitWord(say("injector temperature"), ("C",), _ANY, Stricter.NEWEST,
        say("temperature at which that flow is stated")),
    *_ends(say("injector flow"), "L/min", _ANY, say("flow of an injector read without its pressure")),
    *_ends(say("solenoid pulse"), "mL", _ANY, say("gas that one pulse of a solenoid lets through")),
    *_ends(say("battery voltage"), "V", _ANY, say("voltage of a battery in use")),
    LimitWord(say("carbon dioxide zero tolerance"), ("mbar",), _ANY, Stricter.LOWER,
        say("how far it may be off in zero gas")),
    LimitWord(say("carbon dioxide span tolerance"), ("%",), _ANY, Stricter.LOWER,
        say("how far it may be off, of the span gas")),
    LimitWord(say("temperature stick tolerance"), ("C",), _ANY, Stricter.LOWER,
        say("how far a temperature stick may be off")),
    LimitWord(say("depth sensor tolerance"), ("m",), _ANY, Stricter.LOWER, say("how far a handset's depth may be off")),
    *_ends(say("battery under load"), "V", _ANY, say("voltage of a battery under its load")),
    LimitWord(say("charge cycles high"), ("cycles",), _ANY, Stricter.LOWER, say("maximum charges of a battery")),
    LimitWord(say("diluent po2 limit"), ("bar",), _TYPE, Stricter.LOWER,
        say("maximum oxygen pressure of diluent at depth")),
    *(LimitWord(say("depth po2 {role}", role=role), ("bar",), _CENTRE, Stricter.LOWER,
        say("oxygen pressure that limits {role}'s depth", role=role))
      for role in GasRole),
    LimitWord(say("oxygen uptake"), ("L/min",), _CENTRE, Stricter.HIGHER,
        say("uptake that endurance is calculated at (STPD)")),
    LimitWord(say("oxygen reserve"), ("bar",), _CENTRE, Stricter.HIGHER,
        say("pressure that endurance leaves in the cylinder")),
    *(LimitWord(f"{gas} {line.what} {end}", (line.unit,), _CENTRE, stricter, say("{end} {what} in {gas}", end=end,
        what=line.what, gas=gas))
      for gas, kind in SPECIFICATIONS.items() for line in kind.lines
      for end, stricter in (("least", Stricter.HIGHER), ("most", Stricter.LOWER))),
    *(word for name in FRESHNESS for word in _freshness(name)),
    LimitWord(say("handset back in air, minimum"), ("bar",), _TYPE, Stricter.HIGHER,
        say("what a handset may show back in air")),
    LimitWord(say("handset back in air, maximum"), ("bar",), _TYPE, Stricter.LOWER,
        say("what a handset may show back in air")),
    LimitWord(say("handset back in air, advise off"), ("%",), _TYPE, Stricter.LOWER, say("how far off it is advised")),
    LimitWord(say("turn-round nights"), ("nights", "d"), _TYPE, Stricter.HIGHER,
        say("nights a unit needs between two divers")),
    LimitWord(say("drying hours"), ("h",), _TYPE, Stricter.HIGHER,
        say("hours that a disinfected loop hangs at the least")),
    *(LimitWord(name, (unit,), (Scope.UNIT_TYPE,), Stricter.NEWEST, words)
      for name, unit, words in (
          (say("another unit, price"), "currency",
              say("what another unit of the type costs, in the centre's currency")),
          (say("another unit, years"), "years", say("years for which a unit of the type is kept")),
          (say("hire day income"), "currency", say("the income of a hire day, in the centre's currency")))),
    LimitWord(say("bench hours a day"), ("h",), _CENTRE, Stricter.NEWEST,
        say("hours of work at the bench on a working day")),
    *(LimitWord(say("bench minutes: {kind}", kind=kind), ("min",), _CENTRE, Stricter.NEWEST,
        say("minutes of work for a {kind}", kind=kind))
      for kind in ("turn-round", "ticket", "task", "replace", "service", "oxygen clean", "other")),
)  # fmt: skip
"""The limits by which the program goes; whatever else a manual states has no effect here and is not taken."""

BY_NAME = {each.name: each for each in LIMITS}


def limit_fault(name: str, unit: str, scope: Scope) -> tuple[str, str] | None:
    """The column that is wrong with what is wrong and the remedy, or None where the program goes by such a limit.

    Columns: `name`, `unit`, or the scope that must be filled in its place.
    """
    word = BY_NAME.get(name)
    if word is None:
        return "name", not_known(name, BY_NAME, "limit")
    if scope not in word.scopes:
        return "name", say(
            "'{name}' belongs to a {scopes}; move it there", name=name, scopes=strung(" or the ", word.scopes)
        )
    if unit not in word.units:
        return "unit", say(
            "'{name}' is given in {value}; convert it",
            name=name,
            value=strung(say(" or "), word.units) or say("no unit"),
        )
    return None


RANGES: dict[str, tuple[float, float]] = {
    "mV": (0, 200), "%": (0, 1000), "%/K": (0, 10), "g": (0, 20_000), "h": (0, 8784), "min": (0, 10_080),
    "mL/min": (0, 100_000), "mbar": (0, 2000), "bar": (0, 450), "bar/min": (0, 100), "L/min": (0, 1000),
    "C": (-60, 100), "mL": (0, 1000), "V": (0, 100), "d": (0, 36_500), "days": (0, 36_500), "nights": (0, 60),
    "yes or no": (0, 1), "m": (0, 100), "cycles": (0, 100_000), "years": (1, 50),
}  # fmt: skip
"""What a limit in a unit can be at all: wide enough for any maker, so that no rule meets a figure it cannot take."""


def amount_fault(name: str, unit: str, amount: float) -> str | None:
    """Why a limit cannot be that figure, with the remedy; None where it can."""
    low, high = RANGES.get(unit, (0, 1_000_000))
    if not low <= amount <= high:
        read = unit_of_limit(name, unit)
        told = in_unit(amount, read)
        return say(
            "{told} is out of range for '{name}'; give {removesuffix}",
            told=told,
            name=name,
            removesuffix=span_without_unit(low, high, read),
        )
    return None


ENDS = ((" low", " high"), (" least", " most"), (", minimum", ", maximum"))


def crossed(amounts: Mapping[str, float]) -> Iterator[tuple[str, str]]:
    """The names of a lower and an upper limit of the same thing where the lower one is over the upper."""
    for name, amount in amounts.items():
        for below, above in ENDS:
            upper = name.removesuffix(below) + above
            if name.endswith(below) and upper in amounts and amount > amounts[upper]:
                yield name, upper


def not_known(word: str, known: Iterable[str], what: str) -> str:
    """What to say of a word that the program does not know: the nearest it knows, and all of them."""
    listed = list(known)
    near = get_close_matches(word.casefold(), [each.casefold() for each in listed], n=1, cutoff=0.4)
    nearest = next((each for each in listed if near and each.casefold() == near[0]), None)
    meant = say("did you mean '{nearest}'? ", nearest=nearest) if nearest is not None else ""
    return say(
        "'{word}' is no {what} that the program knows; {meant}Choose from: {listed}",
        word=word[:60],
        what=what,
        meant=meant,
        listed=strung(", ", listed),
    )


def is_looser(name: str, new: float, old: float) -> bool:
    """Whether a new figure of a limit would be looser than the one in force; False where none is the stricter."""
    stricter = BY_NAME[name].stricter if name in BY_NAME else Stricter.NEWEST
    return new < old if stricter is Stricter.HIGHER else new > old if stricter is Stricter.LOWER else False


def in_force(limits: Iterable[L]) -> tuple[L, ...]:
    """One limit for each name and thing it belongs to, in the order in which they first were stated; oldest first."""
    found: dict[Hashable, L] = {}
    for each in limits:
        key = each.unit_type_id, each.part_type_id, each.name
        if key not in found or not is_looser(each.name, each.amount, found[key].amount):
            found[key] = each
    return tuple(found.values())


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
