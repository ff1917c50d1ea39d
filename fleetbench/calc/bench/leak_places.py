"""Where a loop leaked and how that was found, gathered by place over time."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

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
        detail = f" ({self.detail})" if self.detail and self.detail != self.place else ""
        return f"{self.place}{detail}, found by {_by(self.method)}"


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
        times = {1: "once", 2: "twice"}.get(len(self.found), f"{len(self.found)} times")
        again = {0: "", 1: " (once again after it had been tight)", 2: " (twice again after it had been tight)"}.get(
            self.again, f" ({self.again} times again after it had been tight)"
        )
        since = "tight since" if self.tight else "no loop test has passed since"
        return f"leaked {times}{again}, last found by {_by(self.found[-1].method)}; {since}"


def _by(method: str) -> str:
    return "another way" if method == "other" else method.removeprefix("by ")


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
