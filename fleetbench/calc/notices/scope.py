"""Whether a notice's scope covers a part or a unit: one rule, asked wherever a notice counts.

Scopes are read so that a doubt covers: letters' case and outer blanks do not count, and runs of digits are compared as
numbers, so that a span from 98 to 102 holds 100. Common practice, no published source.
"""

import re
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from fleetbench.calc.core.languages import say

_DIGITS = re.compile(r"(\d+)")

Order = tuple[tuple[int, int, str], ...]


class Weight(StrEnum):
    """Whether a notice stops what it covers or is advice."""

    STOP = "stop"
    ADVISE = "advise"


class Covers(StrEnum):
    """What a scope names."""

    UNIT_TYPE = "unit type"
    PART_TYPE = "part type"
    LOT = "lot"
    SERIALS = "serials"
    FIRMWARE = "firmware"


class Exposure(StrEnum):
    """Whether a diver who had a unit dived it while a named part sat in it."""

    DIVED = "dived with it"
    MAY = "may have dived with it"
    NOT = "no dive with it"
    AHEAD = "to come"


def exposure(*, with_it: int, others: int, stated: int | None, back: bool) -> Exposure:
    """What the recorded dives say of one hire: a dive that no record places elsewhere may have been one with the part.

    with_it, others: dives recorded while the part sat in the unit, and at other times of the hire. stated: how many
    were stated at its return, None is not known. back: the unit is back, so that no dive is missing yet. That a diver
    is left out only where every stated dive is recorded at another time: common practice, no published source.
    """
    if with_it > 0:
        return Exposure.DIVED
    return Exposure.NOT if back and stated is not None and others >= stated else Exposure.MAY


@dataclass(frozen=True, slots=True)
class NoticeFacts:
    """A safety notice as its issuer wrote it. by_when: the last day for the action, None is at once."""

    number: str
    issued_on: date
    title: str
    text: str
    action: str
    by_when: date | None = None
    weight: str = Weight.STOP


@dataclass(frozen=True, slots=True)
class Covered:
    """One thing that a notice covers, from first to last."""

    covers: str
    first: str
    last: str | None = None


@dataclass(frozen=True, slots=True)
class Marks:
    """What is marked on a part or a unit; None is not known. types: code and name of its type.

    kind: of the part, `unit` for a unit itself; it says whether a mark that is not known is there to be read.
    """

    serial: str | None = None
    lot: str | None = None
    firmware: str | None = None
    types: tuple[str, ...] = ()
    kind: str = ""


BORNE_BY: dict[str, frozenset[str]] = {
    Covers.SERIALS: frozenset((
        "unit", "cell", "handset", "head", "head-up display", "oxygen cylinder", "diluent cylinder", "bailout cylinder",
        "drive gas cylinder", "oxygen first stage", "diluent first stage", "bailout first stage",
        "drive gas first stage", "bailout regulator", "bailout set",
    )),
    Covers.FIRMWARE: frozenset(("handset", "head-up display")),
}  # fmt: skip
"""On which kinds a mark is found; common practice, no published source.

One of them of which the mark is not recorded cannot be excluded by it. A hose without a serial never had one.
"""


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


def covers_part(scope: Covered, part: Marks) -> bool:
    """Whether a scope names this part by its type, lot, serial or firmware, or cannot be shown to lie outside it."""
    return _covers(scope, part, Covers.PART_TYPE)


def covers_unit(scope: Covered, unit: Marks) -> bool:
    """Whether a scope names this unit itself, by its type or serial, or cannot be shown to lie outside it.

    What sits in it is asked part by part.
    """
    return _covers(scope, unit, Covers.UNIT_TYPE)


def doubt(scope: Covered, marks: Marks) -> str:
    """Why a scope counts that does not name it: 'serial not recorded, so it cannot be excluded'; else empty."""
    if marks.kind not in BORNE_BY.get(scope.covers, ()):
        return ""
    value, word = (marks.serial, "serial") if scope.covers == Covers.SERIALS else (marks.firmware, "firmware")
    return (
        ""
        if value is not None and value.strip()
        else say("{word} not recorded, so it cannot be excluded", word=say(word))
    )


def _covers(scope: Covered, marks: Marks, type_word: Covers) -> bool:
    if scope.covers == type_word:
        return natural_order(scope.first) in {natural_order(each) for each in marks.types}
    marked: dict[str, str | None] = {
        Covers.LOT: marks.lot, Covers.SERIALS: marks.serial, Covers.FIRMWARE: marks.firmware
    }  # fmt: skip
    return within(marked.get(scope.covers), scope.first, scope.last) or bool(doubt(scope, marks))
