"""Every limit that the program goes by: its name, its units, what it belongs to, and which of two is the stricter.

A limit under a name that is not here would be no limit at all, so it is refused with the list. Where a limit is stated
twice for the same thing the stricter is in force, as with lives: a looser figure never replaces a stricter one.
"""

from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from enum import StrEnum
from typing import Protocol, TypeVar

from fleetbench.calc.core.measures import CELSIUS, Measure, in_unit, measured_in, span_in
from fleetbench.calc.gas.cylinders import SPECIFICATIONS, GasRole
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
    yield LimitWord(f"{name} low", (unit,), scopes, Stricter.HIGHER, f"minimum {what}")
    yield LimitWord(f"{name} high", (unit,), scopes, Stricter.LOWER, f"maximum {what}")


def _freshness(name: str) -> Iterator[LimitWord]:
    yield LimitWord(name, _DAYS, _TYPE, Stricter.LOWER, f"days after which {name} stops a unit")
    yield LimitWord(f"{name} advise", _DAYS, _TYPE, Stricter.LOWER, f"days after which {name} is advised")


FRESHNESS = (
    "workshop calibration", "one-way valves and loop", "intermediate pressure and gas addition",
    "bailout or mouthpiece valve", "alarms, displays and set-point", "disinfected and dry",
)  # fmt: skip
"""Checks of readiness whose age in days a centre or a unit type can state."""

_CELL, _CANISTER, _CENTRE = (Scope.PART_TYPE,), (Scope.PART_TYPE,), (Scope.CENTRE,)

LIMITS: tuple[LimitWord, ...] = (
    *_ends("cell air", "mV", _CELL, "output of a cell in air, at 1013.25 mbar and dry"),
    LimitWord("cell oxygen floor", ("mV",), _CELL, Stricter.HIGHER, "minimum output in pure oxygen at 1013.25 mbar"),
    *_ends("linearity", "%", _CELL, "linearity of a cell"),
    LimitWord("temperature residual", ("%/K",), _CELL, Stricter.HIGHER, "what a cell's compensation leaves open"),
    LimitWord("full mass", ("g",), _CANISTER, Stricter.NEWEST, "absorbent in a full canister"),
    LimitWord("minimum mass", ("g",), _CANISTER, Stricter.HIGHER, "least absorbent that a canister may be packed with"),
    LimitWord("hours since opened", ("h",), _CANISTER, Stricter.LOWER, "hours an opened container may be packed from"),
    LimitWord("hours since first use", ("h",), _CANISTER, Stricter.LOWER, "hours a fill may be used after first use"),
    LimitWord("fills shared on try days", ("yes or no", ""), _CENTRE, Stricter.LOWER, "1: divers may share a fill"),
    LimitWord("loop negative minutes", ("min",), _TYPE, Stricter.HIGHER, "minutes a loop must hold under the room"),
    LimitWord("loop positive minutes", ("min",), _TYPE, Stricter.HIGHER, "minutes a loop must hold over the room"),
    LimitWord("loop leak", ("mL/min",), _TYPE, Stricter.LOWER, "maximum leak of a loop"),
    LimitWord("back leak", ("mL/min",), _ANY, Stricter.LOWER, "maximum leak of a one-way valve against its direction"),
    LimitWord("back leak suction", ("mbar",), _ANY, Stricter.HIGHER, "suction at which that leak is stated"),
    *_ends("opening pressure", "mbar", _ANY, "pressure at which a valve opens"),
    *(word for kind in PART_KINDS for word in _ends(f"{kind} opening pressure", "mbar", _ANY, f"pressure at which a"
                                                    f" {kind} opens")),
    *_ends("intermediate pressure", "bar", _ANY, "intermediate pressure after lock-up"),
    LimitWord("intermediate pressure creep", ("bar/min",), _ANY, Stricter.LOWER, "maximum creep after lock-up"),
    LimitWord("intermediate pressure watch", ("min",), _ANY, Stricter.HIGHER, "minutes it is watched after lock-up"),
    LimitWord("injector flow", ("L/min",), _ANY, Stricter.NEWEST, "rated flow of an injector"),
    LimitWord("injector pressure", ("bar",), _ANY, Stricter.NEWEST, "gauge pressure at which that flow is stated"),
    LimitWord("injector tolerance", ("%",), _ANY, Stricter.LOWER, "how far the flow may be off"),
    LimitWord("injector temperature", ("C",), _ANY, Stricter.NEWEST, "temperature at which that flow is stated"),
    *_ends("injector flow", "L/min", _ANY, "flow of an injector read without its pressure"),
    *_ends("solenoid pulse", "mL", _ANY, "gas that one pulse of a solenoid lets through"),
    *_ends("battery voltage", "V", _ANY, "voltage of a battery in use"),
    LimitWord("carbon dioxide zero tolerance", ("mbar",), _ANY, Stricter.LOWER, "how far it may be off in zero gas"),
    LimitWord("carbon dioxide span tolerance", ("%",), _ANY, Stricter.LOWER, "how far it may be off, of the span gas"),
    LimitWord("temperature stick tolerance", ("C",), _ANY, Stricter.LOWER, "how far a temperature stick may be off"),
    LimitWord("depth sensor tolerance", ("m",), _ANY, Stricter.LOWER, "how far a handset's depth may be off"),
    *_ends("battery under load", "V", _ANY, "voltage of a battery under its load"),
    LimitWord("charge cycles high", ("cycles",), _ANY, Stricter.LOWER, "maximum charges of a battery"),
    LimitWord("diluent po2 limit", ("bar",), _TYPE, Stricter.LOWER, "maximum oxygen pressure of diluent at depth"),
    *(LimitWord(f"depth po2 {role}", ("bar",), _CENTRE, Stricter.LOWER, f"oxygen pressure that limits {role}'s depth")
      for role in GasRole),
    LimitWord("oxygen uptake", ("L/min",), _CENTRE, Stricter.HIGHER, "uptake that endurance is calculated at (STPD)"),
    LimitWord("oxygen reserve", ("bar",), _CENTRE, Stricter.HIGHER, "pressure that endurance leaves in the cylinder"),
    *(LimitWord(f"{gas} {line.what} {end}", (line.unit,), _CENTRE, stricter, f"{end} {line.what} in {gas}")
      for gas, kind in SPECIFICATIONS.items() for line in kind.lines
      for end, stricter in (("least", Stricter.HIGHER), ("most", Stricter.LOWER))),
    *(word for name in FRESHNESS for word in _freshness(name)),
    LimitWord("handset back in air, minimum", ("bar",), _TYPE, Stricter.HIGHER, "what a handset may show back in air"),
    LimitWord("handset back in air, maximum", ("bar",), _TYPE, Stricter.LOWER, "what a handset may show back in air"),
    LimitWord("handset back in air, advise off", ("%",), _TYPE, Stricter.LOWER, "how far off it is advised"),
    LimitWord("turn-round nights", ("nights", "d"), _TYPE, Stricter.HIGHER, "nights a unit needs between two divers"),
    LimitWord("drying hours", ("h",), _TYPE, Stricter.HIGHER, "hours that a disinfected loop hangs at the least"),
    *(LimitWord(name, (unit,), (Scope.UNIT_TYPE,), Stricter.NEWEST, words)
      for name, unit, words in (
          ("another unit, price", "currency", "what another unit of the type costs, in the centre's currency"),
          ("another unit, years", "years", "years for which a unit of the type is kept"),
          ("hire day income", "currency", "the income of a hire day, in the centre's currency"))),
    LimitWord("bench hours a day", ("h",), _CENTRE, Stricter.NEWEST, "hours of work at the bench on a working day"),
    *(LimitWord(f"bench minutes: {kind}", ("min",), _CENTRE, Stricter.NEWEST, f"minutes of work for a {kind}")
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
        return "name", f"'{name}' belongs to a {' or the '.join(word.scopes)}; move it there"
    if unit not in word.units:
        return "unit", f"'{name}' is given in {' or '.join(word.units) or 'no unit'}; convert it"
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
        return f"{told} is out of range for '{name}'; give {span_in(low, high, read).removesuffix(f' {read}')}"
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
    meant = f"did you mean '{nearest}'? " if nearest is not None else ""
    return f"'{word[:60]}' is no {what} that the program knows; {meant}Choose from: {', '.join(listed)}"


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
