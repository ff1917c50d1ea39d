"""Who may do a task of the service plan, held wherever one is marked as done."""

from zoneinfo import ZoneInfo

from fleetbench.calc.tickets.service_plan import PlanTask, why_not_by
from fleetbench.records.core.act import Act
from fleetbench.records.core.errors import Refused
from fleetbench.records.people.tables import Person
from fleetbench.records.places.tables import centre_timezone
from fleetbench.records.tickets.service_plan import ServiceTask
from fleetbench.records.turn_rounds.lookups import qualifications_of, service_of_task
from fleetbench.workshop.core.workplace import require


def may_settle(act: Act, task_id: int, unit_type_id: int) -> None:
    """Nothing where the person of the act may do this task of a ticket, as the plan says; Refused otherwise."""
    task = service_of_task(act.session, task_id)
    if task is not None:
        may_do(act, task, unit_type_id)


def may_do(act: Act, task: ServiceTask, unit_type_id: int) -> None:
    """Nothing where the person of the act may do the task of the plan; Refused with who may otherwise."""
    if act.person_id is None:
        return
    person = act.get(Person, act.person_id, "person")
    day = act.at.astimezone(ZoneInfo(centre_timezone(act.session.connection()) or "UTC")).date()
    papers = qualifications_of(act.session, person.id, unit_type_id)
    held = {row.kind for row in papers if row.seen_on <= day and (row.valid_until is None or row.valid_until >= day)}
    against = why_not_by(plan_task(task), person.role, held)
    if against is not None:
        raise Refused(f"person {person.code}: {against}")
    if not task.roles:
        require(act, "task done")


def plan_task(task: ServiceTask) -> PlanTask:
    """A recorded task as the rules know it."""
    return PlanTask(
        task.text, task.basis, task.amount, task.source, task.critical, split_roles(task.roles), task.qualification,
        task.second_person,
    )  # fmt: skip


def split_roles(roles: str | None) -> tuple[str, ...]:
    """The words of a list of roles with commas between."""
    return tuple(word.strip() for word in (roles or "").split(",") if word.strip())
