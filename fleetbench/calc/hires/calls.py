"""Whom to ring about a unit that is out and must not be dived, and which answer ends it. Common practice, no published
source: a diver counts as told only once they answered themselves and agreed.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class CallAnswer(StrEnum):
    """What came of a call."""

    NOT_DIVED = "will not dive it"
    BRINGS_BACK = "will bring it back"
    DIVES_ON = "means to dive it"
    MESSAGE = "message left"
    NO_ANSWER = "no answer"
    WRONG = "number does not work"


ENDS = frozenset((CallAnswer.NOT_DIVED, CallAnswer.BRINGS_BACK))
"""Answers after which nobody need be rung again for the same reason."""


@dataclass(frozen=True, slots=True)
class CallFact:
    """A call about a unit that is out: when, what was said, what came of it, and when to ring again, None for never."""

    at: datetime
    told: str
    answer: str
    again_at: datetime | None = None


def is_told(calls: Sequence[CallFact], words: str, held_at: Iterable[datetime]) -> bool:
    """Whether the last call ended it: by an answer that ends it, with what is to be said now, after the last hold.

    words: what is to be said now. held_at: when each hold was placed that stands. Any later call that reached nobody,
    other words, or a new hold puts the person back on the list.
    """
    last = max(calls, key=_moment, default=None)
    if last is None or last.answer not in ENDS or last.told != words:
        return False
    return all(at <= last.at for at in held_at)


def _moment(call: CallFact) -> datetime:
    return call.at


def why_no_call(answer: str, again_at: datetime | None, now: datetime) -> str | None:
    """Why a call cannot be recorded so, with the remedy; None where it can: what does not end it says what is next."""
    if answer not in set(CallAnswer):
        return f"answer: {answer!r} is not known; choose one of {', '.join(CallAnswer)}"
    if answer in ENDS:
        return None
    if again_at is None:
        return f"ring again: '{answer}' does not end it; enter when to ring again"
    return "ring again: lies in the past; enter a time to come" if again_at <= now else None
