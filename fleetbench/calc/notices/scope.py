"""Whether a notice's scope covers a part or a unit: one rule, asked wherever a notice counts.

Scopes are read so that a doubt covers: letters' case and outer blanks do not count, and runs of digits are compared as
numbers, so that a span from 98 to 102 holds 100. Common practice, no published source.
"""

import re
from dataclasses import dataclass

_DIGITS = re.compile(r"(\d+)")

Order = tuple[tuple[int, int, str], ...]


@dataclass(frozen=True, slots=True)
class Scope:
    """One thing that a notice covers: `unit type`, `part type`, `lot`, `serials` or `firmware`, from first to last."""

    covers: str
    first: str
    last: str | None = None


@dataclass(frozen=True, slots=True)
class Marks:
    """What is marked on a part or a unit; None is not known. types: code and name of its type."""

    serial: str | None = None
    lot: str | None = None
    firmware: str | None = None
    types: tuple[str, ...] = ()


def natural_order(text: str) -> Order:
    """A key by which texts sort with their runs of digits as numbers; case and outer blanks do not count.

    Leading noughts do not count either: LOT 007 and lot 7 are one.
    """
    pieces = [piece for piece in _DIGITS.split(text.strip().casefold()) if piece]
    # A number sorts before letters, and both kinds compare only with their own.
    return tuple((0, int(piece), "") if piece.isdecimal() else (1, 0, piece) for piece in pieces)


def within(value: str | None, first: str, last: str | None) -> bool:
    """Whether a marked value lies in a span, both ends inclusive; a value that is not known does not."""
    if value is None or not value.strip():
        return False
    return natural_order(first) <= natural_order(value) <= natural_order(last or first)


def covers_part(scope: Scope, part: Marks) -> bool:
    """Whether a scope names this part by its type, lot, serial or firmware."""
    return _covers(scope, part, "part type")


def covers_unit(scope: Scope, unit: Marks) -> bool:
    """Whether a scope names this unit itself, by its type or serial; what sits in it is asked part by part."""
    return _covers(scope, unit, "unit type")


def _covers(scope: Scope, marks: Marks, type_word: str) -> bool:
    if scope.covers == type_word:
        return natural_order(scope.first) in {natural_order(each) for each in marks.types}
    value = {"lot": marks.lot, "serials": marks.serial, "firmware": marks.firmware}.get(scope.covers)
    return within(value, scope.first, scope.last)
