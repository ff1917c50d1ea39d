"""Slips on a ticket, put right within ten minutes by whoever made them: a record that takes the other's place."""

from dataclasses import dataclass
from datetime import datetime

from fleetbench.calc.tickets.slips import TYPING, why_not_put_right
from fleetbench.records.core.act import Act
from fleetbench.records.core.errors import Refused
from fleetbench.records.tickets.reads import read_findings, read_tasks, read_times
from fleetbench.records.tickets.tables import Finding, Task, TicketTime
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.tickets.ticket_time import checked
from fleetbench.workshop.tickets.work import open_one, required, somebody


@dataclass(frozen=True, slots=True)
class Slip:
    """What was entered last under a ticket and may still be put right: kind, key, moment and what it says."""

    kind: str
    key: int
    at: datetime
    said: str


def last_slip(shop: Shop, ticket_id: int) -> Slip | None:
    """The last finding, settled task or minutes that whoever is at the bench may still put right; None for none."""
    now = shop.clock()
    with shop.database.reading() as connection:
        entered = [
            *((Slip("finding", each.finding_id, each.at, each.text), each.person_id)
              for each in read_findings(connection, ticket_id)),
            *((Slip("task", each.task_id, each.settled_at, each.text), each.person_id)
              for each in read_tasks(connection, ticket_id) if each.settled_at is not None and each.state != "to do"),
            *((Slip("minutes", each.time_id, each.ended_at, f"{each.minutes:g}"), each.person_id)
              for each in read_times(connection, ticket_id)
              if each.ended_at is not None and each.minutes is not None),
        ]  # fmt: skip
    mine = [slip for slip, by in entered if why_not_put_right(slip.at, by, now, shop.person_id) is None]
    # a task's minutes are entered in the same moment; the task stands for both
    return max(mine, key=lambda slip: (slip.at, slip.kind == "task"), default=None)


def put_right_finding(shop: Shop, finding_id: int, text: str) -> int:
    """The key of a finding that takes the place of one with a slip in it."""
    said = required("finding", text)
    person = somebody(shop)
    with shop.acting("put right finding", f"finding {finding_id}") as act:
        old = act.get(Finding, finding_id, "finding")
        open_one(act, old.ticket_id)
        _refuse_late(act, "finding", old.at, old.person_id)
        if old.text == said:
            raise Refused("finding: says the same; change it, or leave it")
        row = Finding(
            ticket_id=old.ticket_id,
            at=act.at,
            person_id=person,
            text=said,
            supersedes_id=old.id,
            supersedes_reason=TYPING,
        )
        return act.add(row).id


def put_right_task(shop: Shop, task_id: int) -> None:
    """Let a task that was settled by a slip be to do again; a finding says so, and its minutes are taken back."""
    person = somebody(shop)
    with shop.acting("put right task", f"task {task_id}") as act:
        task = act.get(Task, task_id, "task")
        ticket = open_one(act, task.ticket_id)
        if task.state == "to do" or task.settled_at is None:
            raise Refused("task: is still to do; there is nothing to put right")
        _refuse_late(act, "task", task.settled_at, task.person_id)
        was = task.state
        for each in read_times(act.session.connection(), ticket.id):
            if each.began_at == each.ended_at == task.settled_at and each.minutes == task.minutes:
                _supersede_time(act, each.time_id, 0.0)
        times = task.times_put_off - (1 if was == "put off" else 0)
        act.change(
            task, state="to do", settled_at=None, person_id=None, minutes=None, put_off_reason=None, times_put_off=times
        )
        text = f"Task {task.ordinal} was marked {was} by a slip ({TYPING}); it is to do again"
        act.add(Finding(ticket_id=ticket.id, at=act.at, person_id=person, text=text))


def put_right_minutes(shop: Shop, time_id: int, minutes: float) -> None:
    """Put other minutes in the place of those that were entered by a slip."""
    somebody(shop)
    checked(minutes)
    with shop.acting("put right minutes", f"minutes {time_id}") as act:
        old = act.get(TicketTime, time_id, "minutes")
        open_one(act, old.ticket_id)
        if old.ended_at is None or old.minutes is None:
            raise Refused("clock: still runs; stop it first")
        _refuse_late(act, "minutes", old.ended_at, old.person_id)
        _supersede_time(act, time_id, minutes)


def _supersede_time(act: Act, time_id: int, minutes: float) -> None:
    old = act.get(TicketTime, time_id, "minutes")
    ticket = open_one(act, old.ticket_id)
    act.add(
        TicketTime(
            ticket_id=old.ticket_id,
            person_id=old.person_id,
            began_at=old.began_at,
            ended_at=act.at,
            minutes=minutes,
            supersedes_id=old.id,
            supersedes_reason=TYPING,
        )
    )
    act.change(ticket, minutes=max(0.0, ticket.minutes - (old.minutes or 0.0) + minutes))


def _refuse_late(act: Act, what: str, at: datetime, by: int | None) -> None:
    said = why_not_put_right(at, by, act.at, act.person_id)
    if said is not None:
        raise Refused(f"{what}: {said}")
