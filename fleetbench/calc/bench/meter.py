"""What a bench meter answers, read strictly: numbers, units, its error queue, and who it says it is.

Sources, from memory: IEEE Std 488.2-1992, section 8.7 (NR1, NR2 and NR3 numeric response data), 10.14 (*IDN?: four
fields with commas between); SCPI-1999, volume 1, section 7.2.1 (9.9E37 is infinity, 9.91E37 is not a number) and
7.1 (one answer a query), volume 2, section 21.8 (SYSTem:ERRor?: 0 is no error) and 3.6 (FETCh? gives a reading again).
"""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from fleetbench.calc.core.languages import say

INFINITY = Decimal("9.9E37")
NOT_A_NUMBER = Decimal("9.91E37")
LONGEST = 256
"""Signs of a line at most; *IDN? has 72 (IEEE 488.2, 10.14; from memory)."""

_NUMBER = re.compile(r"([+-]?[0-9]+(?:\.[0-9]+)?(?:E[+-]?[0-9]{1,3})?)(?:\s*([A-Z%°][A-Z%/°0-9]*))?", re.IGNORECASE)
_ERROR = re.compile(r'([+-]?\d{1,6})\s*,\s*"((?:[^"]|"")*)"')
_QUERY = re.compile(r"[*:]?[A-Za-z][A-Za-z0-9:]*\?(?: [A-Za-z0-9.,+@()-]+)*")

ANSWER_UNITS = {
    "V": ("V", "VDC"),
    "mV": ("MV", "MVDC"),
    "bar": ("BAR",),
    "mbar": ("MBAR",),
    "Pa": ("PA",),
    "hPa": ("HPA",),
    "kPa": ("KPA",),
    "g": ("G",),
    "kg": ("KG",),
    "C": ("CEL", "C", "DEGC", "°C"),
    "%": ("PCT", "%"),
    "L/min": ("L/MIN",),
    "mL/min": ("ML/MIN",),
    "L": ("L",),
    "mL": ("ML",),
}
"""Units in which a meter may answer, each with the suffixes that say so; SCPI reads suffixes in either case."""


def stored_as(unit: str) -> str:
    """A unit as the register of equipment writes it, of one written in any of the ways that a meter may answer."""
    return next((each for each, ways in ANSWER_UNITS.items() if unit != each and unit.upper() in ways), unit)


_SUFFIXES = {suffix for each in ANSWER_UNITS.values() for suffix in each} | {"A", "OHM", "HZ", "S", "W", "K", "PSI"}


def reading_of(answer: str, unit: str) -> tuple[Decimal, Decimal]:
    """The number in an answer, with what its last place stands for, both in the unit that the meter answers in.

    ValueError in words for a person: no number, more than one, infinity, not a number, or a suffix of another unit.
    """
    found = _NUMBER.fullmatch(answer.strip())
    if found is None or (found[2] or "V").upper() not in _SUFFIXES:
        raise ValueError(say("it answered {answer}, which is not one number", answer=shown(answer)))
    value = Decimal(found[1])
    if abs(value) == INFINITY:
        raise ValueError(say("it shows overload; choose a wider range, or look at its leads"))
    if value == NOT_A_NUMBER:
        raise ValueError(say("it says that it has no number; look at its leads and its set-up"))
    if abs(value) > Decimal("1E12"):
        raise ValueError(say("it answered {answer}, which is out of all reason", answer=shown(answer)))
    suffix = found[2]
    if suffix is not None and suffix.upper() not in ANSWER_UNITS[unit]:
        raise ValueError(
            say(
                "it answered in {suffix}, and the register says {unit}; set the one or the other",
                suffix=suffix,
                unit=unit,
            )
        )
    return value, Decimal(1).scaleb(int(value.as_tuple().exponent))


def error_of(answer: str) -> str | None:
    """What the meter's error queue says, None for no error; ValueError where it is no answer to that question."""
    found = _ERROR.fullmatch(answer.strip())
    if found is None:
        raise ValueError(say("it answered {answer} when asked for its errors", answer=shown(answer)))
    return None if int(found[1]) == 0 else say("error {found}, {found_2}", found=found[1], found_2=found[2])


def identity_of(answer: str) -> str:
    """The answer to *IDN? without white space around; ValueError where it has not four fields."""
    said = answer.strip()
    if said.count(",") != 3 or not said.isprintable() or not all(each.strip() for each in said.split(",")[:2]):
        raise ValueError(say("it answered {answer} when asked who it is", answer=shown(answer)))
    return said


def is_same(registered: str, answered: str) -> bool:
    """Whether maker, model and serial agree; the fourth field is its firmware, which may be renewed."""
    return registered.split(",")[:3] == answered.split(",")[:3]


def query_fault(query: str) -> str | None:
    """Why this cannot be what a reading is asked for with, None where it can."""
    if not _QUERY.fullmatch(query) or len(query) > 80:
        return say("enter one query that ends with ?, such as MEAS:VOLT:DC?")
    header = query.lstrip(":").upper()
    if header.startswith("*"):
        return say("enter the query of a measurement, such as MEAS:VOLT:DC?")
    if re.match(r"FETC(H)?\b|FETC(H)?:", header):
        return say("FETCh? gives an old reading again; enter READ? or a MEASure query")
    return None


def shown(answer: str) -> str:
    """An answer as it may stand in a sentence: one short line of what can be printed."""
    text = "".join(sign if sign.isprintable() else "·" for sign in answer.strip())
    return f"'{text[:40]}…'" if len(text) > 40 else f"'{text}'"


@dataclass(frozen=True, slots=True)
class MeterSource:
    """Where a figure comes from: the piece of equipment, its answer to *IDN?, its answer as it came, and when.

    unit: of the answer as it came. u: standard uncertainty of one reading in u_unit, as the register had it; None is
    not known.
    """

    equipment_id: int
    idn: str
    answer: str
    unit: str
    at: datetime
    u: float | None = None
    u_unit: str | None = None


class Metered(float):
    """A figure with its source; it counts as its number everywhere, and whatever is calculated from it has no source.

    An act that records it keeps the source beside the row (`Transaction`). digit: what the last place of the meter
    stands for in the figure's unit, 0 not known.
    """

    __slots__ = ("digit", "source")
    source: MeterSource
    digit: float

    def __new__(cls, value: float, source: MeterSource, digit: float = 0.0) -> "Metered":  # noqa: D102
        made = super().__new__(cls, value)
        made.source, made.digit = source, digit
        return made

    def __getnewargs__(self) -> Any:
        return float(self), self.source, self.digit

    @property
    def places(self) -> int:
        """Places after the point that the meter's resolution gives."""
        return max(0, math.ceil(-math.log10(self.digit) - 1e-9)) if self.digit > 0.0 else 4


def as_stored(given: float, stored: float) -> float:
    """The stored figure of one that was given in another unit, such as a share of a percentage, with its source."""
    return Metered(stored, given.source) if isinstance(given, Metered) else stored


def as_plain(value: Any) -> Any:
    """What is half done as plain values for a file: a figure that a meter gave keeps its source beside it."""
    match value:
        case Metered():
            from_ = value.source
            said = [
                from_.equipment_id,
                from_.idn,
                from_.answer,
                from_.unit,
                from_.at.isoformat(),
                value.digit,
                from_.u,
                from_.u_unit,
            ]
            return {"meter": [float(value), *said]}
        case Mapping():
            return {key: as_plain(each) for key, each in value.items()}
        case list() | tuple():
            return [as_plain(each) for each in value]
    return value


def from_plain(value: Any) -> Any:
    """What `as_plain` gave, as it was; ValueError or TypeError where a source is torn."""
    match value:
        case {"meter": [figure, key, idn, answer, unit, at, digit, *u], **others} if not others:
            return Metered(float(figure), MeterSource(key, idn, answer, unit, datetime.fromisoformat(at), *u), digit)
        case Mapping():
            return {key: from_plain(each) for key, each in value.items()}
        case list():
            return [from_plain(each) for each in value]
    return value
