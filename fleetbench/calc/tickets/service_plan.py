"""The service plan of a unit type: when each task is due, who may do it, and what is due now.

A plan is data: each task names its interval and its source. What was never done, or at a time that nobody knows, is
not known, and what is not known is due.
"""

import datetime as dt
import math
from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.parts.life import (
    LastGoodDay,
    LifeFacts,
    LifeLimit,
    LifeState,
    LimitBasis,
    LimitUnit,
    Pace,
    anniversary,
    last_good_days,
)


class ServiceBasis(StrEnum):
    """What asks for a task of a service plan."""

    MONTHS = "months"
    HOURS = "hours"
    DIVES = "dives"
    HIRES = "hires"
    HAND_BACK = "hand-back"
    ASSEMBLY = "assembly"
    FLOOD = "flood"


INTERVALS = (ServiceBasis.MONTHS, ServiceBasis.HOURS, ServiceBasis.DIVES, ServiceBasis.HIRES)
"""Bases that are counted; each needs an amount."""

EVENTS = (ServiceBasis.HAND_BACK, ServiceBasis.ASSEMBLY, ServiceBasis.FLOOD)
"""Bases that an event asks for each time it happens; none has an amount."""

_USE: dict[str, tuple[LimitBasis, LimitUnit]] = {
    ServiceBasis.HOURS: (LimitBasis.HOURS, LimitUnit.HOURS),
    ServiceBasis.DIVES: (LimitBasis.DIVES, LimitUnit.DIVES),
    ServiceBasis.HIRES: (LimitBasis.HIRES, LimitUnit.HIRES),
}


@dataclass(frozen=True, slots=True)
class PlanTask:
    """One task of a plan.

    amount: months, loop hours, dives or hires; None where every such event asks for it. roles: who may do it, empty
    for whoever may test. qualification: the kind that the person needs, None for none.
    """

    text: str
    basis: str
    amount: float | None
    source: str
    critical: bool = True
    roles: tuple[str, ...] = ()
    qualification: str | None = None
    second_person: bool = False

    def __post_init__(self) -> None:
        """Refuse a task that means nothing, naming the field."""
        if not self.text.strip():
            raise ValueError(say("text: is empty; say what is to do"))
        if self.basis not in (*INTERVALS, *EVENTS):
            raise ValueError(
                say(
                    "basis: {basis!r} is not known; choose {bases}",
                    basis=self.basis,
                    bases=strung(", ", map(say, ServiceBasis)),
                )
            )
        counted = self.basis in INTERVALS
        if counted and (self.amount is None or not math.isfinite(self.amount) or not 0 < self.amount <= 100_000):
            raise ValueError(
                say(
                    "amount: {amount!r} is no interval; give a number of {basis} above 0",
                    amount=self.amount,
                    basis=say(self.basis),
                )
            )
        if self.basis == ServiceBasis.MONTHS and self.amount != int(self.amount or 0):
            raise ValueError(say("amount: {amount!r} months; give whole months", amount=self.amount))
        if not counted and self.amount is not None:
            raise ValueError(say("amount: every {basis} asks for it; leave the amount out", basis=say(self.basis)))
        if not self.source.strip():
            raise ValueError(say("source: is empty; name the manual, or say common practice"))

    def describe(self) -> str:
        """The interval in words, for instance 'every 12 months' or 'at every hand-back'."""
        if self.amount is None:
            return (
                say("at every {basis}", basis=say(self.basis))
                if self.basis != ServiceBasis.FLOOD
                else say("after every flood")
            )
        basis = say("loop hours") if self.basis == ServiceBasis.HOURS else say(self.basis)
        return say("every {amount:g} {basis}", amount=self.amount, basis=basis)

    def limit(self) -> LifeLimit | None:
        """The interval as a limit of life; None for what an event asks for."""
        if self.amount is None:
            return None
        if self.basis == ServiceBasis.MONTHS:
            return LifeLimit(
                LimitBasis.TEST_INTERVAL,
                amount=self.amount,
                unit=LimitUnit.MONTHS,
                source=self.source,
                test_kind=self.text,
            )
        basis, unit = _USE[self.basis]
        return LifeLimit(basis, self.amount, unit, self.source)


@dataclass(frozen=True, slots=True)
class TaskHistory:
    """What is known of one task on one unit.

    done: the day on which it was last done under a signature, None not known. used: hours, dives or hires since then,
    in the task's basis. pace: expected use a day. event: the last hand-back, assembly or flood, None where there was
    none; settled: whether the task was done after it.
    """

    done: dt.date | None = None
    used: float | None = None
    pace: Pace | None = None
    event: dt.date | None = None
    settled: bool = False


def last_good_day(task: PlanTask, history: TaskHistory, on: dt.date) -> LastGoodDay | None:
    """The last day, inclusive, that a counted task allows; of unknown state where nobody knows when it was done.

    None for what an event asks for. on: the day from which use is projected.
    """
    limit = task.limit()
    if limit is None:
        return None
    if history.done is None:
        why = say("never done on record: {describe} cannot be calculated", describe=task.describe())
        return LastGoodDay(limit.basis, limit=limit, day=None, projected=False, why=why, state=LifeState.UNKNOWN)
    if task.basis == ServiceBasis.MONTHS:
        day = anniversary(history.done, limit.amount, limit.unit) - dt.timedelta(days=1)
        why = say("done {done}, {describe}, last valid day {day}", done=history.done, describe=task.describe(), day=day)
        return LastGoodDay(limit.basis, limit=limit, day=day, projected=False, why=why)
    pace = {limit.unit: history.pace} if history.pace is not None else {}
    facts = LifeFacts(
        fitted=history.done,
        hours_used=history.used if task.basis == ServiceBasis.HOURS else None,
        dives_used=history.used if task.basis == ServiceBasis.DIVES else None,
        hires_used=history.used if task.basis == ServiceBasis.HIRES else None,
        pace=pace,
    )
    found = last_good_days((limit,), facts, on)[0]
    return LastGoodDay(
        found.basis,
        limit=found.limit,
        day=found.day,
        projected=found.projected,
        why=say("done {done}, {why}", done=history.done, why=found.why),
        state=found.state,
    )


@dataclass(frozen=True, slots=True)
class TaskDue:
    """One task as it stands: day None is not known where `due`, and never where not; why: the calculation in words."""

    task: PlanTask
    day: dt.date | None
    due: bool
    projected: bool
    why: str


def task_due(task: PlanTask, history: TaskHistory, on: dt.date) -> TaskDue:
    """When a task of the plan is due on a unit: past its last good day, not known, or asked for by an event."""
    counted = last_good_day(task, history, on)
    if counted is not None:
        unknown = counted.state is LifeState.UNKNOWN
        due = unknown or (counted.day is not None and counted.day < on)
        return TaskDue(task, day=counted.day, due=due, projected=counted.projected, why=counted.why)
    if history.event is None:
        return TaskDue(
            task, day=None, due=False, projected=False, why=say("{describe}: there was none", describe=task.describe())
        )
    if history.settled:
        return TaskDue(
            task,
            day=None,
            due=False,
            projected=False,
            why=say("{describe}: done after the one of {event}", describe=task.describe(), event=history.event),
        )
    before = history.event - dt.timedelta(days=1)
    return TaskDue(
        task,
        day=before,
        due=True,
        projected=False,
        why=say("{describe}: not done since the one of {event}", describe=task.describe(), event=history.event),
    )


def why_not_by(task: PlanTask, role: str, qualifications: Collection[str]) -> str | None:
    """Why somebody of this role with these kinds of qualification may not do the task; None where they may."""
    if task.roles and role not in task.roles:
        return say(
            "'{task}' is for the role {roles} ({source}); ask one of them",
            task=task.text,
            roles=strung(" or ", map(say, task.roles)),
            source=task.source,
        )
    if task.qualification is not None and task.qualification not in qualifications:
        return say(
            "'{task}' needs the qualification {qualification} for this type ({source}); ask another",
            task=task.text,
            qualification=task.qualification,
            source=task.source,
        )
    return None
