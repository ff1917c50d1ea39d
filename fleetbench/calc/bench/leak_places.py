"""Where a loop leaked and how that was found, gathered by place over time."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from fleetbench.calc.core.languages import say

LEAK_METHODS = (
    "soapy water", "under water", "blanking off a section", "by ear", "by feel", "by eye", "trace gas", "other",
)  # fmt: skip
"""How a leak is found; trade words, common practice, no published source."""


@dataclass(frozen=True, slots=True)
class LeakFound:
    """A leak that was found: at which place of the loop, under which kind of loop test, when, and how.

    detail: where at that place, in words; None where nothing more was said.
    """

    place: str
    kind: str
    at: datetime
    method: str
    detail: str | None = None

    @property
    def words(self) -> str:
        """'loop set (second groove), found by soapy water'."""
        place = f"{self.place} ({self.detail})" if self.detail and self.detail != self.place else self.place
        return say("{place}, found by {method}", place=place, method=_by(self.method))


@dataclass(frozen=True, slots=True)
class LeakPlace:
    """One place at which a loop leaked: every time, and after how many of them it had been tight and leaked again.

    tight: the last loop test of the kind under which it was found last has passed since.
    """

    place: str
    found: tuple[LeakFound, ...]
    again: int
    tight: bool

    @property
    def words(self) -> str:
        """'leaked 3 times (twice again after it had been tight), last by soapy water; tight since'."""
        since = say("tight since") if self.tight else say("no loop test has passed since")
        by = _by(self.found[-1].method)
        if not self.again:
            return say("leaked {times}, last found by {method}; {since}", times=_times(len(self.found)), method=by,
                       since=since)  # fmt: skip
        return say("leaked {times} ({again} again after it had been tight), last found by {method}; {since}",
                   times=_times(len(self.found)), again=_times(self.again), method=by, since=since)  # fmt: skip


def _times(count: int) -> str:
    return {1: say("once"), 2: say("twice")}.get(count) or say("{count} times", count=count)


def _by(method: str) -> str:
    return say("another way") if method == "other" else say(method.removeprefix("by "))


def leaks_by_place(found: Sequence[LeakFound], passed: Sequence[tuple[str, datetime]]) -> tuple[LeakPlace, ...]:
    """Leaks gathered by place, the place that leaks again most often first, then the last found.

    passed: kind and moment of each loop test that passed. A place leaks again only where a loop test of the kind under
    which it was found has passed in between: two notes of one search are one leak. Common practice, no published
    source.
    """
    by_place: dict[str, list[LeakFound]] = {}
    for each in sorted(found, key=_moment_of):
        by_place.setdefault(each.place.casefold(), []).append(each)
    places = [_leak_place(mine, passed) for mine in by_place.values()]
    return tuple(sorted(places, key=_again_first))


def _leak_place(mine: Sequence[LeakFound], passed: Sequence[tuple[str, datetime]]) -> LeakPlace:
    again = sum(_passed_between(before.kind, before.at, after.at, passed) for before, after in pairwise(mine))
    last = mine[-1]
    tight = any(kind == last.kind and at > last.at for kind, at in passed)
    return LeakPlace(last.place, tuple(mine), again, tight)


def _passed_between(kind: str, first: datetime, last: datetime, passed: Sequence[tuple[str, datetime]]) -> bool:
    return any(each == kind and first < at <= last for each, at in passed)


def _moment_of(found: LeakFound) -> datetime:
    return found.at


def _again_first(place: LeakPlace) -> tuple[int, float]:
    return -place.again, -place.found[-1].at.timestamp()
