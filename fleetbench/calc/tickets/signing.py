"""Whether a ticket may be signed: one decision over plain facts.

Whether an entry may still be corrected by one key: one decision.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import WorkState

RELEASE_TESTS = ("one-way valve", "loop negative", "loop positive")
"""What must have passed after the last workshop opening; common practice, no published source."""

ONE_WAY_DIRECTIONS = ("inhale", "exhale")
"""One-way valves are tested each direction on its own; common practice, no published source."""


@dataclass(frozen=True, slots=True)
class TaskFact:
    """A task of the ticket: its text, state (`to do`, `done`, `put off`) and the reason where put off.

    second_person: whether somebody else must look at what was done. missing: the evidence that it needs and that is
    not there. service_tests: the tests that a task of the service plan needs, None for a task of no plan.
    planned_minutes: what the plan says it takes. steps_left_out: its steps that were left out, each with its reason.
    """

    text: str
    state: str
    put_off_reason: str | None = None
    second_person: bool = False
    missing: tuple[str, ...] = ()
    service_tests: tuple[str, ...] | None = None
    planned_minutes: float | None = None
    steps_left_out: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TicketTest:
    """A bench test: kind, direction (one-way valves), moment, whether it passed (`watch` is usable), and of what."""

    __test__ = False
    kind: str
    direction: str | None
    at: datetime
    passed: bool
    part_id: int | None = None


@dataclass(frozen=True, slots=True)
class ProposedSigner:
    """Somebody who is to sign: code, whether the role may, whether active, and qualified for the unit's type today."""

    person_id: int
    code: str
    role_may: bool
    active: bool
    qualified: bool


@dataclass(frozen=True, slots=True)
class SeenFact:
    """A technician's qualification as seen: for one unit type or (None) every one, from and through its days."""

    unit_type_id: int | None
    seen_on: date
    valid_until: date | None


def qualified(seen: Iterable[SeenFact], unit_type_id: int, today: date) -> bool:
    """Whether a qualification for this unit type was seen and holds today; its last day is inclusive."""
    return any(
        each.unit_type_id in (None, unit_type_id)
        and each.seen_on <= today
        and (each.valid_until is None or today <= each.valid_until)
        for each in seen
    )


def why_not_by(signer: ProposedSigner, second: ProposedSigner | None, tasks: tuple[TaskFact, ...]) -> tuple[str, ...]:
    """The reasons why these people may not sign this ticket, each with its remedy; empty where they may.

    That a second person is another one, and qualified too, is common practice, no published source.
    """
    reasons = [*_against("signer", signer)]
    if second is None:
        return (*reasons, *(say("second person: '{task}' asks for one; let another qualified person look and sign too",
            task=task.text)
                            for task in tasks if task.second_person and task.state == WorkState.DONE))  # fmt: skip
    if second.person_id == signer.person_id:
        reasons.append(say("second person: is the signer; it must be another one"))
        return tuple(reasons)
    return (*reasons, *_against("second person", second))


def _against(who: str, fact: ProposedSigner) -> tuple[str, ...]:
    if not (fact.role_may and fact.active):
        return (
            say(
                "{who}: {code} may not sign; only an active technician or manager may sign a unit off",
                who=who,
                code=fact.code,
            ),
        )
    if not fact.qualified:
        return (
            say(
                "{who}: no technician's qualification of {code} for this unit type was seen that holds "
                "today; see it and record it under People, or let a qualified technician sign",
                who=who,
                code=fact.code,
            ),
        )
    return ()


def released(kind: str, opened: datetime, tests: tuple[TicketTest, ...]) -> bool:
    """Whether the latest tests of this kind after the opening all passed, in each direction where it has two."""
    directions: tuple[str | None, ...] = ONE_WAY_DIRECTIONS if kind == "one-way valve" else (None,)
    for direction in directions:
        wanted = {direction, "both"} if direction else {None, "both"}
        done = [test for test in tests if test.kind == kind and test.direction in wanted and test.at >= opened]
        if not done or not max(done, key=lambda test: test.at).passed:
            return False
    return True


def why_not_signable(
    *,
    signed: bool,
    tasks: tuple[TaskFact, ...],
    findings: int,
    opened: datetime | None,
    tests: tuple[TicketTest, ...],
    clocks: tuple[str, ...] = (),
    minutes: float | None = None,
) -> tuple[str, ...]:
    """The reasons why this ticket cannot be signed yet, each with its remedy; empty where it can.

    opened: the unit's last workshop opening of the loop under this ticket, or None where there was none.
    tests: all bench tests of the unit that no later record supersedes. clocks: who is still at work on it.
    minutes: time worked, where it is to be asked for.
    """
    reasons: list[str] = []
    if signed:
        reasons.append(say("ticket: signed already and closed; open a new ticket that refers to it"))
    reasons += [
        say("task '{task}': still to do; do it, or put it off with a reason", task=task.text)
        for task in tasks
        if task.state == WorkState.TO_DO
    ]
    reasons += [
        say("task '{task}': put off without a reason; give one", task=task.text)
        for task in tasks
        if task.state == WorkState.PUT_OFF and not (task.put_off_reason or "").strip()
    ]
    reasons += [
        say("task '{task}': marked as done, but {missing}", task=task.text, missing=strung("; ", task.missing))
        for task in tasks
        if task.state == WorkState.DONE and task.missing
    ]
    if minutes is not None and not minutes > 0:
        reasons += [
            f"time worked: 0 min for '{task.text}', which takes about {task.planned_minutes:g} min; "
            "enter the minutes worked"
            for task in tasks
            if task.state == WorkState.DONE and task.planned_minutes
        ][:1]
    if not tasks and not findings:
        reasons.append(say("ticket: holds no task and no finding; write down what was found or done"))
    reasons += [say("clock: {name} is still at work on it; stop the clock first", name=name) for name in clocks]
    if opened is not None:
        reasons += [
            say(
                "{kind}: no passed test since the workshop opening of {opened:%Y-%m-%d %H:%M} UTC; test it now",
                kind=say(kind),
                opened=opened,
            )
            for kind in RELEASE_TESTS
            if not released(kind, opened, tests)
        ]
    return tuple(reasons)


CORRECTED_WITHIN = timedelta(minutes=10)
"""How long an entry may be corrected by one key: common practice, no published source."""

TYPING = "typing"
"""The reason that such a correction is recorded with."""


def why_not_correctable(said_at: datetime, said_by: int | None, now: datetime, by: int | None) -> str | None:
    """Why this person may not take back what was said at that moment, in words; None where they may.

    A clock that was set back never lengthens the time.
    """
    if said_by is not None and said_by != by:
        return say("was entered by another user; write down what is right as a finding")
    if not said_at <= now <= said_at + CORRECTED_WITHIN:
        return say("was entered more than ten minutes ago; write down what is right as a finding")
    return None
