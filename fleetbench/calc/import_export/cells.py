"""One cell of a foreign table: dates, figures and words as people write them, and a guess where none can be read.

Everything here takes text and gives a value or raises ValueError with what is wrong; nothing is guessed in silence.

Forms of dates and figures are common practice, no published source.
"""

import re
import unicodedata
from collections.abc import Iterable
from datetime import date, timedelta
from enum import StrEnum

from fleetbench.calc.core.languages import say
from fleetbench.calc.core.measures import BAR, PSI
from fleetbench.calc.core.wall_time import MarkedDate, Precision

UNKNOWN = frozenset(
    ["", "?", "??", "???", "-", "--", "–", "—", "n/a", "na", "n.a.", "unknown", "not known", "unk", "tbc", "tbd",
     "none", "nil", "#n/a", "not readable", "illegible", "null", "unbekannt", "inconnu", "desconocido"]
)  # fmt: skip
"""Words that say that nothing is known, in small letters."""

FIRST_YEAR, LAST_YEAR = 1980, 2199
_TIME = re.compile(r"[ T]\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?$")
_NUMBERS = re.compile(r"(\d{1,4})\s*[./\-]\s*(\d{1,2})\s*[./\-]\s*(\d{1,4})")
_TWO = re.compile(r"(\d{1,4})\s*[./\-]\s*(\d{1,4})")
_QUARTER = re.compile(r"q([1-4])[\s/\-]*(\d{4})|(\d{4})[\s/\-]*q([1-4])|([1-4])\s*q[\s/\-]*(\d{4})")
_MONTHS = {
    "jan": 1, "gen": 1, "ene": 1, "feb": 2, "fev": 2, "mar": 3, "mrz": 3, "mae": 3, "apr": 4, "abr": 4, "avr": 4,
    "may": 5, "mai": 5, "mag": 5, "jun": 6, "giu": 6, "juin": 6, "jul": 7, "lug": 7, "juil": 7, "aug": 8, "ago": 8,
    "aou": 8, "sep": 9, "set": 9, "oct": 10, "okt": 10, "ott": 10, "nov": 11, "dec": 12, "dez": 12, "dic": 12,
}  # fmt: skip
_NAMED = re.compile(
    r"(?:(\d{1,2})\s*[.\-/ ]*\s*)?([a-z]{3,})\.?\s*[.\-/ ,']*\s*(?:(\d{1,2})\s*(?:st|nd|rd|th)?\s*,\s*)?(\d{2,4})"
)
_SERIAL_DAYS = (29_221, 109_574)
"""Days since 1899-12-30 for 1980-01-01 and 2199-12-31: how a spreadsheet counts a date that lost its form."""


class DateOrder(StrEnum):
    """What comes first in a date of three numbers."""

    DAY_FIRST = "day first"
    MONTH_FIRST = "month first"


def is_unknown(text: str) -> bool:
    """Whether a cell says that nothing is known."""
    return text.strip().casefold() in UNKNOWN


def order_of(texts: Iterable[str]) -> DateOrder | None:
    """Which order a column's dates prove; None where no date proves one, or where they contradict each other."""
    proven = set()
    for text in texts:
        match = _NUMBERS.fullmatch(_TIME.sub("", text.strip()))
        if match is None or len(match[1]) > 2:
            continue
        first, second = int(match[1]), int(match[2])
        if first > 12 >= second:
            proven.add(DateOrder.DAY_FIRST)
        elif second > 12 >= first:
            proven.add(DateOrder.MONTH_FIRST)
    return proven.pop() if len(proven) == 1 else None


def read_date(text: str, order: DateOrder | None = None) -> MarkedDate:
    """The date with the precision that is written: day, month, quarter or year.

    order: which of two small numbers is the day; where it is not known, 03/04/2025 is refused rather than guessed.
    """
    said = _TIME.sub("", " ".join(text.split())).strip()
    small = _plain(said)
    for read in (_iso, _quarter, _by_name, _two_numbers):
        found = read(small)
        if found is not None:
            return found
    match = _NUMBERS.fullmatch(small)
    if match is None:
        raise ValueError(say("'{said}' is no date that can be read; as 2025-03-14, 2025-03 or 2025", said=said[:40]))
    return _three_numbers(said, match, order)


def _iso(said: str) -> MarkedDate | None:
    if re.fullmatch(r"\d{8}", said):
        said = f"{said[:4]}-{said[4:6]}-{said[6:]}"
    match = re.fullmatch(r"(\d{4})(?:[./\-](\d{1,2})(?:[./\-](\d{1,2}))?)?", said)
    if match is None:
        return None
    year, month, day = (int(each) if each else None for each in match.groups())
    return _marked(year or 0, month, day, said)


def _quarter(said: str) -> MarkedDate | None:
    match = _QUARTER.fullmatch(said)
    if match is None:
        return None
    quarter, year = int(match[1] or match[4] or match[5]), int(match[2] or match[3] or match[6])
    _marked(year, None, None, said)
    return MarkedDate(date(year, 3 * quarter - 2, 1), Precision.QUARTER)


def _by_name(said: str) -> MarkedDate | None:
    match = _NAMED.fullmatch(said)
    if match is None:
        return None
    word = match[2]
    month = _MONTHS.get(word[:4]) or _MONTHS.get(word[:3])
    if month is None or (match[1] and match[3]):
        return None
    day = match[1] or match[3]
    return _marked(_year(match[4]), month, int(day) if day else None, said)


def _two_numbers(said: str) -> MarkedDate | None:
    """03/2025 is a month; 03/25 is one only where neither number can be a day and a month."""
    match = _TWO.fullmatch(said)
    if match is None:
        return None
    first, second = int(match[1]), int(match[2])
    if len(match[2]) == 4 and first <= 12:
        return _marked(second, first, None, said)
    if len(match[2]) == 2 and first <= 12 and second > 31:
        return _marked(_year(match[2]), first, None, said)
    return None


def _three_numbers(said: str, match: re.Match[str], order: DateOrder | None) -> MarkedDate:
    first, second, year = int(match[1]), int(match[2]), _year(match[3])
    if len(match[1]) > 2 or len(match[3]) == 3:
        raise ValueError(say("'{said}' is no date; write it as 2025-03-14", said=said))
    if order is None and first != second and first <= 12 and second <= 12:
        raise ValueError(
            say("'{said}' can be two days; say whether the day or the month comes first in this column", said=said)
        )
    month_first = second > 12 if order is None else order is DateOrder.MONTH_FIRST
    month, day = (first, second) if month_first else (second, first)
    return _marked(year, month, day, said)


def _year(text: str) -> int:
    year = int(text)
    if len(text) > 2:
        return year
    return year + (1900 if year >= FIRST_YEAR - 1900 else 2000)


def _marked(year: int, month: int | None, day: int | None, said: str) -> MarkedDate:
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise ValueError(
            say(
                "'{said}' is out of range; its year must lie from {first_year} to {last_year}",
                said=said,
                first_year=FIRST_YEAR,
                last_year=LAST_YEAR,
            )
        )
    precision = Precision.YEAR if month is None else Precision.MONTH if day is None else Precision.DAY
    try:
        return MarkedDate(date(year, 1 if month is None else month, 1 if day is None else day), precision)
    except ValueError:
        raise ValueError(say("'{said}' is no day of the calendar; correct it", said=said)) from None


def likely_date(text: str, order: DateOrder | None = None) -> MarkedDate | None:
    """What a date that cannot be read was most likely meant to be, to be asked and never taken in silence."""
    said = _plain(" ".join(text.split()))
    tries = [re.sub(r"^(ca|circa|approx|about|c|~|ca\.|approx\.|um|env)[\s.]*", "", said).strip(" ?!~()[].")]
    digits = tries[0].translate(str.maketrans("olisb", "01158"))
    tries += [digits, re.sub(r"(.)\1(?=\1*$)", r"\1", digits), re.sub(r"\s+", "", digits)]
    for attempt in tries:
        for guess in (order, DateOrder.DAY_FIRST):
            try:
                return read_date(attempt, guess)
            except ValueError:
                continue
    return _serial_day(said) or _month_of(tries[0], order)


def _serial_day(said: str) -> MarkedDate | None:
    if re.fullmatch(r"\d{5,6}(\.0+)?", said) and _SERIAL_DAYS[0] <= int(float(said)) <= _SERIAL_DAYS[1]:
        return MarkedDate(date(1899, 12, 30) + timedelta(days=int(float(said))))
    return None


def _month_of(said: str, order: DateOrder | None) -> MarkedDate | None:
    """The month of a day that the calendar does not have, as 31.02.2025; or of 03/25."""
    two = re.fullmatch(r"(\d{1,2})[./\-](\d{2})", said)
    match = _NUMBERS.fullmatch(said)
    if two is None and (match is None or len(match[1]) > 2 or len(match[3]) not in (2, 4)):
        return None
    if two is not None:
        month, year = int(two[1]), _year(two[2])
    elif match is not None:
        month = int(match[1] if order is DateOrder.MONTH_FIRST else match[2])
        year = _year(match[3])
    try:
        return _marked(year, month, None, said)
    except ValueError:
        return None


# ---- figures -------------------------------------------------------------------------------------------------------

PER_UNIT = {
    "psi": ("bar", float(PSI)), "kpa": ("bar", 0.01), "mpa": ("bar", 10.0), "bar": ("bar", 1.0),
    "mbar": ("mbar", 1.0), "hpa": ("mbar", 1.0), "l": ("l", 1.0), "ltr": ("l", 1.0), "litre": ("l", 1.0),
    "liter": ("l", 1.0), "litres": ("l", 1.0), "ml": ("l", 0.001), "m": ("m", 1.0), "ft": ("m", 0.3048),
    "kg": ("kg", 1.0), "lb": ("kg", 0.45359237), "lbs": ("kg", 0.45359237), "g": ("kg", 0.001),
}  # fmt: skip
"""How much one of a unit is in the unit that is stored (NIST Special Publication 811, appendix B.8)."""

_FIGURE = re.compile(r"([+-]?[\d.,'\u00a0\u202f ]*\d)\s*([a-z\u20ac$\u00a3]*)\.?")


def decimal_sign(texts: Iterable[str]) -> str | None:
    """Which sign a column's figures prove to be the decimal one; None where none does, or where both do."""
    proven = set()
    for text in texts:
        match = _FIGURE.fullmatch(text.strip().casefold())
        if match is None:
            continue
        digits = match[1]
        last = max(digits.rfind(","), digits.rfind("."))
        if last < 0:
            continue
        sign, other = digits[last], "." if digits[last] == "," else ","
        tail = len(digits) - last - 1
        if digits.count(sign) > 1:
            proven.add(other)
        elif other in digits or tail != 3 or digits.lstrip("+-").startswith("0"):
            proven.add(sign)
    return proven.pop() if len(proven) == 1 else None


def usual_unit(stored: str) -> str:
    """The unit of a figure beside which none stands: the one in which the centre types."""
    return "psi" if stored == "bar" and not BAR.is_stored else ""


def read_figure(text: str, decimal: str | None = None, unit: str = "") -> float:
    """The figure in the unit that is stored; unit: the column's, where the cell itself names none.

    decimal: the column's decimal sign; 12,200 is refused where it is not known.
    """
    said = " ".join(text.split())
    match = _FIGURE.fullmatch(said.casefold())
    if match is None:
        raise ValueError(say("'{said}' is no number; write it as 10.4", said=said[:40]))
    digits = re.sub(r"[' \u00a0\u202f]", "", match[1])
    named = match[2] or unit
    if named and named not in PER_UNIT and match[2]:
        raise ValueError(say("'{said}' is in a unit that is not known; write the number alone", said=said[:40]))
    return float(_with_point(digits, decimal, said)) * PER_UNIT.get(named, ("", 1.0))[1]


def _with_point(digits: str, decimal: str | None, said: str) -> str:
    last = max(digits.rfind(","), digits.rfind("."))
    if last < 0:
        return digits
    sign, other = digits[last], "." if digits[last] == "," else ","
    if decimal is None:
        decimal = other if digits.count(sign) > 1 else sign
        if other not in digits and digits.count(sign) == 1 and len(digits) - last == 4 and sign == ",":
            raise ValueError(say("'{said}' can be two numbers; write it with a decimal point", said=said))
    parts = digits.replace("." if decimal == "," else ",", "").split(decimal)
    if len(parts) > 2:
        raise ValueError(say("'{said}' has two decimal signs; correct it", said=said))
    return ".".join(parts)


def _plain(text: str) -> str:
    """Small letters without accents."""
    spread = unicodedata.normalize("NFKD", text.replace("ß", "ss").casefold())
    return "".join(sign for sign in spread if not unicodedata.combining(sign))
