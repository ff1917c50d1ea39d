"""Whether a ticket may be signed: one decision over plain facts."""

from dataclasses import dataclass
from datetime import datetime

RELEASE_TESTS = ("one-way valve", "loop negative", "loop positive")
"""What must have passed after the last workshop opening; common practice, no published source."""

ONE_WAY_DIRECTIONS = ("inhale", "exhale")
"""One-way valves are tested each direction on its own; common practice, no published source."""


@dataclass(frozen=True, slots=True)
class TaskFact:
    """A task of the ticket: its text, state (`to do`, `done`, `put off`) and the reason where put off."""

    text: str
    state: str
    put_off_reason: str | None = None


@dataclass(frozen=True, slots=True)
class TestFact:
    """A bench test: kind, direction (one-way valves), moment, and whether it passed (`watch` is usable)."""

    __test__ = False
    kind: str
    direction: str | None
    at: datetime
    passed: bool


def released(kind: str, opened: datetime, tests: tuple[TestFact, ...]) -> bool:
    """Whether the latest tests of this kind after the opening all passed, in each direction where it has two."""
    directions: tuple[str | None, ...] = ONE_WAY_DIRECTIONS if kind == "one-way valve" else (None,)
    for direction in directions:
        wanted = {direction, "both"} if direction else {None, "both"}
        done = [test for test in tests if test.kind == kind and test.direction in wanted and test.at >= opened]
        if not done or not max(done, key=lambda test: test.at).passed:
            return False
    return True


def why_not_signable(
    *, signed: bool, tasks: tuple[TaskFact, ...], findings: int, opened: datetime | None, tests: tuple[TestFact, ...]
) -> tuple[str, ...]:
    """The reasons why this ticket cannot be signed yet, each with its remedy; empty where it can.

    opened: the unit's last workshop opening of the loop under this ticket, or None where there was none.
    tests: all bench tests of the unit that no later record supersedes.
    """
    reasons: list[str] = []
    if signed:
        reasons.append("ticket: signed already and closed; open a new ticket that refers to it")
    reasons += [
        f"task '{task.text}': still to do; do it, or put it off with a reason"
        for task in tasks
        if task.state == "to do"
    ]
    reasons += [
        f"task '{task.text}': put off without a reason; give one"
        for task in tasks
        if task.state == "put off" and not (task.put_off_reason or "").strip()
    ]
    if not tasks and not findings:
        reasons.append("ticket: holds no task and no finding; write down what was found or done")
    if opened is not None:
        reasons += [
            f"{kind}: no passed test since the workshop opening of {opened:%Y-%m-%d %H:%M} UTC; test it now"
            for kind in RELEASE_TESTS
            if not released(kind, opened, tests)
        ]
    return tuple(reasons)
