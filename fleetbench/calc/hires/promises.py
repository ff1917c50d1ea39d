"""Whether a booking can be kept as things stand: its units with what stands against each in, one state out."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum


class Keeping(StrEnum):
    """How a booking stands."""

    FIT = "fit"
    AT_RISK = "at risk"
    NOT_KEPT = "not to be kept"


@dataclass(frozen=True, slots=True)
class PromisedUnit:
    """One unit of a booking. why: what stands against it, empty where it is fit; curable: by bench work."""

    tag: str
    why: str = ""
    curable: bool = False


@dataclass(frozen=True, slots=True)
class PromiseJudgement:
    """The state, the last day on which it can be cured, and which unit goes in whose place.

    instead: unit, and the one to offer, empty where there is none. lacking: units that nobody can give.
    """

    state: Keeping
    until: date | None
    instead: tuple[tuple[str, str], ...]
    lacking: int


def judged_promise(
    today: date, first: date, units: Sequence[PromisedUnit], lacking: int, spare: Sequence[str]
) -> PromiseJudgement:
    """How a booking from a first day stands. spare: units that are free and fit on its days, the best first.

    Units still to be chosen take spare ones first, since nothing is to be rung for them. Work is done before the first
    day, so that from then on no bench work cures a promise. A unit that bench work can cure is at risk until the day
    before; one that it cannot cure is at risk while a spare unit may take its place, through the first day.
    """
    left = list(spare)
    short = max(0, lacking - len(left))
    del left[: lacking - short]
    against = [each for each in units if each.why]
    in_time = first > today
    by_swap = [each for each in against if not (each.curable and in_time)]
    instead = tuple((each.tag, left.pop(0) if left else "") for each in by_swap)
    if short or any(not tag for _, tag in instead):
        return PromiseJudgement(Keeping.NOT_KEPT, None, instead, short)
    if not against:
        return PromiseJudgement(Keeping.FIT, None, (), 0)
    worked = len(by_swap) < len(against)
    return PromiseJudgement(Keeping.AT_RISK, first - timedelta(days=1) if worked else max(first, today), instead, 0)
