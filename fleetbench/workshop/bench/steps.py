"""Steps of a service at the bench: each settled by its evidence under its ticket, left out, or corrected.

settle_step(workplace, step_result_id, ...)         with the figures, seals, lubricant, parts, photograph or person
leave_out_step(workplace, step_result_id, reason)   which leaves its task due
correct_step(workplace, step_result_id)             to do again, within ten minutes; its parts lie on the shelf again
"""

from dataclasses import replace

from fleetbench.calc.core.languages import in_row, say, strung
from fleetbench.calc.core.verdict import WorkState
from fleetbench.calc.tickets.signing import TYPING, why_not_by, why_not_correctable
from fleetbench.calc.tickets.steps import SEALS_DONE, StepGiven, StepKind, step_lacks
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.parts.tables import PartType
from fleetbench.records.people.tables import Person
from fleetbench.records.tickets.reads import read_photographs
from fleetbench.records.tickets.service_plan import TicketStep, read_steps
from fleetbench.records.tickets.tables import Finding, StepResult, Ticket
from fleetbench.records.units.tables import Unit
from fleetbench.workshop.core.workplace import Workplace, figure_or_none, one_word, require_person, required
from fleetbench.workshop.parts.acts import put_back_within
from fleetbench.workshop.parts.counted import take_within
from fleetbench.workshop.people.acts import check_second
from fleetbench.workshop.tickets.service_plan import may_settle
from fleetbench.workshop.tickets.work import SecondPerson, open_one, signer_fact

LARGEST = 1_000_000.0
"""What a figure of a step may be at the most, either way; the limits that the step states judge it."""


def settle_step(
    workplace: Workplace,
    step_result_id: int,
    *,
    before: float | None = None,
    after: float | None = None,
    seal: str | None = None,
    lubricant: str | None = None,
    lot: str | None = None,
    oxygen_compatible: bool | None = None,
    photograph: str | None = None,
    second: SecondPerson | None = None,
) -> tuple[str, ...]:
    """The lots of the parts that were taken from stock; the step is done, by what its kind asks for.

    after: the figure, or the torque. photograph: the SHA-256 of one of the ticket, the newest that belongs to no step
    where None. second: who else looked, with their own PIN. Refused with what the step still lacks, for a figure
    outside its limits, where too few usable parts are there, and for a person who may not do the task.
    """
    require_person(workplace)
    today = workplace.today()
    given = StepGiven(
        state="done",
        before=figure_or_none("before", before, -LARGEST, LARGEST, "enter the figure"),
        after=figure_or_none("after", after, -LARGEST, LARGEST, "enter the figure"),
        seal=one_word("seal", seal, SEALS_DONE) if seal is not None else None,
        lubricant=(lubricant or "").strip()[:80] or None,
        lot=(lot or "").strip()[:60] or None,
        oxygen_compatible=oxygen_compatible,
    )
    with workplace.transaction("settle step", f"step {step_result_id}") as act:
        row, step, ticket = _to_do(act, step_result_id)
        unit = act.get(Unit, ticket.unit_id, "unit")
        may_settle(act, row.task_id, unit.unit_type_id)
        picture = _photograph(act, step, photograph) if step.plan.kind == StepKind.PHOTOGRAPH else None
        other = None
        if step.plan.kind == StepKind.SECOND and second is not None:
            other = _second(workplace, act, second, unit.unit_type_id)
        uses = step.plan.pieces if step.plan.kind == StepKind.PARTS or given.seal == "replaced" else 0
        found = replace(given, pieces=uses, photographed=picture is not None, seconded=other is not None)
        lacks = step_lacks(step.plan, found)
        if lacks:
            raise Refused(strung("; ", lacks))
        put_back_within(act, row.id, in_row("the step was settled again"))
        if uses:
            kind = act.get(PartType, step.plan.part_type_id, "part type")
            take_within(act, kind, uses, f"step {step.number}, {step.plan.text}"[:300], today, ticket.id,
                        step_result_id=row.id)  # fmt: skip
        _write(act, row, given, photograph=picture, second_id=other)
        return _step(act, row).lots


def leave_out_step(workplace: Workplace, step_result_id: int, reason: str) -> None:
    """Leave a step out with a reason, which the signature and the printed ticket show; its task then stays due."""
    require_person(workplace)
    said = required("reason", reason)[:300]
    with workplace.transaction("leave out step", f"step {step_result_id}") as act:
        row, _step_of_it, ticket = _to_do(act, step_result_id)
        may_settle(act, row.task_id, act.get(Unit, ticket.unit_id, "unit").unit_type_id)
        put_back_within(act, row.id, in_row("the step was left out"))
        _write(act, row, StepGiven(state="left out", reason=said))


def correct_step(workplace: Workplace, step_result_id: int) -> None:
    """Let a step that was settled by mistake be to do again; a finding says so, and its parts are put back."""
    person = require_person(workplace)
    with workplace.transaction("correct step", f"step {step_result_id}") as act:
        row = act.get(StepResult, step_result_id, "step")
        step = _step(act, row)
        open_one(act, row.ticket_id)
        if row.state == WorkState.TO_DO or row.settled_at is None:
            raise Refused(say("step: is still to do; there is nothing to correct"))
        against = why_not_correctable(row.settled_at, row.person_id, act.at, act.person_id)
        if against is not None:
            raise Refused(strung(": ", (say("step"), against)))
        was = row.state
        put_back_within(act, row.id, TYPING)
        _write(act, row, StepGiven())
        text = in_row(f"Step {step.number} was marked {was} by mistake ({TYPING}); it is to do again")
        act.add(Finding(ticket_id=row.ticket_id, at=act.at, person_id=person, text=text))


def _to_do(act: Transaction, step_result_id: int) -> tuple[StepResult, TicketStep, Ticket]:
    """The step with its ticket, where both are open; Refused otherwise."""
    row = act.get(StepResult, step_result_id, "step")
    ticket = open_one(act, row.ticket_id)
    step = _step(act, row)
    if step.state != WorkState.TO_DO:
        raise Refused(
            say(
                "step {number}: is {state} already; correct it first, or load the ticket again",
                number=step.number,
                state=say(step.state),
            )
        )
    return row, step, ticket


def _step(act: Transaction, row: StepResult) -> TicketStep:
    act.session.flush()
    found = read_steps(act.session.connection(), (row.ticket_id,))
    return next(each for each in found if each.step_result_id == row.id)


def _write(
    act: Transaction, row: StepResult, given: StepGiven, *, photograph: str | None = None, second_id: int | None = None
) -> None:
    settled = given.state != WorkState.TO_DO
    act.change(
        row, state=given.state, settled_at=act.at if settled else None, person_id=act.person_id if settled else None,
        before=given.before, after=given.after, seal=given.seal, lubricant=given.lubricant, lot=given.lot,
        oxygen_compatible=given.oxygen_compatible, photograph=photograph, second_id=second_id, reason=given.reason,
    )  # fmt: skip


def _photograph(act: Transaction, step: TicketStep, wanted: str | None) -> str | None:
    """The photograph of the ticket that was asked for, or the newest one; one that another step has is not taken."""
    connection = act.session.connection()
    taken = {each.photograph for each in read_steps(connection, (step.ticket_id,))}
    free = [each.sha256 for each in read_photographs(connection, ticket_ids=(step.ticket_id,))
            if each.sha256 not in taken]  # fmt: skip
    if wanted is not None:
        return wanted if wanted in free else None
    return free[-1] if free else None


def _second(workplace: Workplace, act: Transaction, second: SecondPerson, unit_type_id: int) -> int:
    """The key of a second person who may look at work on this type and gave their own PIN; Refused otherwise."""
    mine = act.get(Person, require_person(workplace), "person")
    other = act.get(Person, second.person_id, "second person")
    check_second(mine, other, second.pin)
    today = workplace.today()
    facts = (signer_fact(act, mine, unit_type_id, today), signer_fact(act, other, unit_type_id, today))
    against = [reason for reason in why_not_by(*facts, ()) if reason.startswith("second person")]
    if against:
        raise Refused(strung("; ", against))
    return other.id
