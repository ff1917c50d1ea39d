"""Work at the bench that is begun and not recorded or signed: its clock, whether it calls, and what calls first."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from fleetbench.calc.core.languages import say, say_count

SESSION_LASTS = timedelta(hours=2)
"""How long conditions and gas hold, and readings that were made under them: common practice, no published source."""


class BegunKind(StrEnum):
    """What was begun, in the words of the bench."""

    FLUSH = "flush"
    WATCH = "watch"
    CALIBRATION = "calibration"
    TEST = "bench test"
    BATH = "bath"
    DRYING = "drying"
    CARD = "turn-round card"


LASTING = frozenset({BegunKind.BATH, BegunKind.DRYING, BegunKind.CARD})
"""What does not go stale by itself: it has to be looked at, however late."""

TIMED = frozenset({BegunKind.FLUSH, BegunKind.WATCH, BegunKind.BATH})
"""What a clock of the bench runs for, and calls a hand when it ends."""


@dataclass(frozen=True, slots=True)
class HalfDone:
    """One thing half done on a unit: since when, and when its wait is over; until None where no end is known.

    settled: whether every cell of a flush has settled, None before any was stamped. detail: last readings, lines done.
    """

    tag: str
    kind: BegunKind
    since: datetime
    until: datetime | None = None
    settled: bool | None = None
    detail: str = ""

    def is_stale(self, now: datetime) -> bool:
        """Whether readings have outlived the conditions they were made in; what has to be looked at never does."""
        return self.kind not in LASTING and now - self.since >= SESSION_LASTS

    def calls(self, now: datetime) -> bool:
        """Whether the wait is over, so that a hand is needed now."""
        if self.is_stale(now):
            return False
        return bool(self.settled) or (self.until is not None and self.until <= now)


def minutes_words(span: timedelta) -> str:
    """A span as minutes and seconds below an hour, then hours, then days, rounded down: 1:42, 3 h, 2 days."""
    seconds = max(0, int(span.total_seconds()))
    if seconds < 3600:
        return f"{seconds // 60}:{seconds % 60:02d}"
    hours = seconds // 3600
    return f"{hours} h" if hours < 48 else say_count("{count} day", "{count} days", hours // 24)


def clock_of(work: HalfDone, now: datetime) -> str:
    """The clock of half-done work in words; a wait that is over says so, and what to do."""
    since, until = minutes_words(now - work.since), work.until
    if work.is_stale(now):
        return say("begun {since} ago, read again", since=since)
    if work.kind is BegunKind.FLUSH:
        return _flush_words(work, now)
    if work.kind in TIMED and until is not None:
        return _wait_words(until, now, say("lift out") if work.kind is BegunKind.BATH else say("read"))
    if work.kind is BegunKind.DRYING and until is not None:
        return say("dry in {until}", until=minutes_words(until - now)) if now < until else say("should be dry, look")
    return work.detail if work.kind is BegunKind.CARD else say("since {since}", since=since)


def _flush_words(work: HalfDone, now: datetime) -> str:
    if work.settled:
        return "settled"
    if work.until is None:
        return say("{now} gone, wait not known", now=minutes_words(now - work.since))
    return _wait_words(work.until, now, say("not settled") if work.settled is False else say("read"))


def _wait_words(until: datetime, now: datetime, then: str) -> str:
    return (
        say("{until} left", until=minutes_words(until - now))
        if now < until
        else say("over {now} ago, {then}", now=minutes_words(now - until), then=then)
    )


def in_turn(work: Iterable[HalfDone], now: datetime) -> tuple[HalfDone, ...]:
    """What calls first, then what a clock of the bench runs for, the nearest end first, then the rest, newest first."""

    def place(each: HalfDone) -> tuple[int, float]:
        end = (each.until or now).timestamp()
        if each.calls(now) and each.kind is not BegunKind.DRYING:
            return 0, end
        if each.kind in TIMED and not each.is_stale(now):
            return 1, end
        return (3 if each.kind in (BegunKind.DRYING, BegunKind.CARD) else 2), -each.since.timestamp()

    return tuple(sorted(work, key=place))
