"""The words in which a measurement and a readiness check are answered, and how a piece of work stands."""

from collections.abc import Mapping
from datetime import date
from enum import StrEnum
from typing import NamedTuple


class Verdict(StrEnum):
    """Answer of a measurement, best first: pass, watch (plan its replacement), repeat (undecided), reject."""

    PASS = "pass"
    WATCH = "watch"
    REPEAT = "repeat"
    REJECT = "reject"

    @property
    def severity(self) -> int:
        """Rank from 0 (pass) to 3 (reject), so that the worst of several is their max by severity."""
        return _SEVERITY[self]


_SEVERITY = {verdict: rank for rank, verdict in enumerate(Verdict)}
PASSES = (Verdict.PASS, Verdict.WATCH)
"""With these a test counts as passed."""


class Result(StrEnum):
    """Answer of one readiness check."""

    OK = "ok"
    ADVISE = "advise"
    STOP = "stop"


class DueState(StrEnum):
    """How near the last good day of something is; later: in a list of what comes, good: of one thing alone."""

    PAST = "past"
    DUE_SOON = "due soon"
    LATER = "later"
    GOOD = "good"
    UNKNOWN = "unknown"


def due_state(last: date | None, today: date, soon_days: int) -> DueState:
    """How the last good day of one thing stands; due soon from so many days before."""
    if last is None:
        return DueState.UNKNOWN
    left = (last - today).days
    return DueState.PAST if left < 0 else DueState.DUE_SOON if left <= soon_days else DueState.GOOD


class WorkState(StrEnum):
    """How a task, a step of it or a line of a card stands; a task is put off, a step or line is left out."""

    TO_DO = "to do"
    DONE = "done"
    PUT_OFF = "put off"
    LEFT_OUT = "left out"


TASK_STATES = (WorkState.TO_DO, WorkState.DONE, WorkState.PUT_OFF)
LINE_STATES = (WorkState.TO_DO, WorkState.DONE, WorkState.LEFT_OUT)
"""Of a task, and of a step or a card's line."""


def worst(verdicts: "list[Verdict] | tuple[Verdict, ...]") -> Verdict:
    """The worst of the given verdicts; raises ValueError for none, since nothing measured is never a pass."""
    if not verdicts:
        raise ValueError("verdicts: no measurement given, so there is nothing to judge")
    return max(verdicts, key=lambda verdict: verdict.severity)


class Listed(NamedTuple):
    """One record of a list before it is judged: its key, and by column what is recorded of it itself."""

    key: str
    told: Mapping[str, str]
