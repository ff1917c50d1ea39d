"""Service plans below the window: entered, due, taken up by a ticket, done under a signature, and due anew."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from fleetbench.calc.readiness.judge import HandoverKind
from fleetbench.printing import print_ticket
from fleetbench.records.core.errors import Refused
from fleetbench.records.tickets.tables import Task, Ticket
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import SERVICE_PLAN, DueState, list_due
from fleetbench.workshop.parts.fit import fit_part
from fleetbench.workshop.readiness.ready import assess_unit
from fleetbench.workshop.tickets.list import ticket_page
from fleetbench.workshop.tickets.page import add_minutes, ticket_desk
from fleetbench.workshop.tickets.service_plan import (
    NewServiceTask,
    enter_service_task,
    open_service_ticket,
    service_lines,
    service_plan,
)
from fleetbench.workshop.tickets.work import put_off_task, reasons_against_signing, sign_ticket, task_done
from tests.centres.turn_round_bench import TurnRoundBench
from tests.paper.pdf_reader import texts

SEALS = NewServiceTask(text="Seals changed", basis="months", amount=12, minutes=90, roles=("technician",),
                       source="invented manual", tests=("loop negative",), part_types=("OWV-L",))  # fmt: skip


@pytest.fixture
def bench(workplace: Workplace, clock: Any) -> TurnRoundBench:
    return TurnRoundBench(workplace, clock)


def service_check(bench: TurnRoundBench) -> str:
    day = bench.centre.today
    answer = assess_unit(bench.workplace, "LK-01", day, day, HandoverKind.KIT)
    return next(f"{each.result} {each.evidence}" for each in answer.checks if each.check == "periodic service")


def due(bench: TurnRoundBench) -> dict[str, DueState]:
    return {each.item: each.state for each in list_due(bench.workplace) if each.basis == SERVICE_PLAN
            and each.unit == "LK-01"}  # fmt: skip


def test_a_service_task_is_due_until_a_signed_ticket_holds_it_done(bench: TurnRoundBench) -> None:
    assert "no interval on record" in service_check(bench), "a type without a plan never passes"
    key = enter_service_task(bench.boss, "TYPE-L", SEALS)
    assert due(bench) == {"Seals changed": DueState.UNKNOWN}
    assert service_check(bench).startswith("stop")
    ticket = open_service_ticket(bench.workplace, "LK-01", [key])
    tasks = [row for row in bench.rows(Task) if row.ticket_id == ticket]
    assert [row.text for row in tasks] == ["Seals changed (with 1 One-way valve OWV-L)", "Test loop negative"]
    assert service_lines(bench.workplace, "LK-01")[0].waiting
    with pytest.raises(Refused, match="One-way valve OWV-L: 0 of 1 used since this was opened; fit one"):
        task_done(bench.workplace, tasks[0].id, minutes=80)
    bench.clock.advance(minutes=1)
    fit_part(bench.workplace, "V-NEW", "LK-01", "inhale one-way valve", why_old="age", ticket_id=ticket)
    task_done(bench.workplace, tasks[0].id)
    bench.release()
    assert "0 min for 'Seals changed" in reasons_against_signing(bench.workplace, ticket)[0]
    add_minutes(bench.workplace, ticket, 80)
    assert bench.rows(Task)[1].state == "done", "the test ticks its own task"
    assert due(bench) == {"Seals changed": DueState.UNKNOWN}, "not before it is signed"
    sign_ticket(bench.workplace, ticket, signer_id=bench.technician, pin="1357")
    assert due(bench) == {"Seals changed": DueState.LATER}
    assert service_check(bench).startswith("ok")
    bench.clock.advance(hours=24 * 366)
    assert due(bench) == {"Seals changed": DueState.PAST}


def test_who_may_do_a_task_is_held_when_its_ticket_is_worked(bench: TurnRoundBench) -> None:
    key = enter_service_task(bench.boss, "TYPE-L", SEALS)
    ticket = open_service_ticket(bench.workplace, "LK-01", [key])
    task = next(row for row in bench.rows(Task) if row.ticket_id == ticket)
    with pytest.raises(Refused, match="is for the role technician"):
        task_done(bench.boss, task.id)


def test_a_plan_is_entered_with_its_needs_and_refused_by_field(bench: TurnRoundBench) -> None:
    enter_service_task(bench.boss, "TYPE-L", SEALS)
    (line,) = service_plan(bench.workplace, "TYPE-L")
    assert (line.tests, line.parts, line.minutes) == (("loop negative",), ("1 One-way valve OWV-L",), 90)
    with pytest.raises(Refused, match="amount"):
        enter_service_task(bench.boss, "TYPE-L", NewServiceTask(text="x", basis="months", source="m"))
    with pytest.raises(Refused, match="enter service task"):
        enter_service_task(bench.workplace, "TYPE-L", SEALS)


def test_what_every_hand_back_asks_for_stands_on_the_card_and_is_done_with_it(bench: TurnRoundBench) -> None:
    enter_service_task(bench.boss, "TYPE-L", NewServiceTask(text="Trap looked at", basis="hand-back", source="m"))
    assert due(bench) == {}
    bench.out_and_back("LK-01")
    assert bench.lines()[-1].step == "service"
    assert due(bench) == {"Trap looked at": DueState.PAST}
    bench.clock.advance(minutes=1)
    before = bench.centre.today - timedelta(days=1)
    assert [each.last_good_day for each in list_due(bench.workplace) if each.item == "Trap looked at"] == [before]


def test_a_service_signed_with_a_test_left_out_does_not_count_and_says_so(bench: TurnRoundBench) -> None:
    """That a step left out leaves the service due: common practice, no published source."""
    flow = replace(SEALS, tests=("injector flow",))
    key = enter_service_task(bench.boss, "TYPE-L", flow)
    ticket = open_service_ticket(bench.workplace, "LK-01", [key])
    seals, test = (row for row in bench.rows(Task) if row.ticket_id == ticket)
    bench.clock.advance(minutes=1)
    fit_part(bench.workplace, "V-NEW", "LK-01", "inhale one-way valve", why_old="age", ticket_id=ticket)
    task_done(bench.workplace, seals.id, minutes=80)
    assert ticket_desk(bench.workplace, "2026-1").page.not_counted == (), "what is still to do is not left out"
    put_off_task(bench.workplace, test.id, "no flow meter")
    bench.clock.advance(minutes=1)
    bench.release()
    number = "2026-1"
    assert "'Test injector flow' is left out" in ticket_desk(bench.workplace, number).page.not_counted[0]
    sign_ticket(bench.workplace, ticket, signer_id=bench.technician, pin="1357")
    assert due(bench) == {"Seals changed": DueState.UNKNOWN}
    check = service_check(bench)
    assert check.startswith("stop") and "'Test injector flow' left out" in check and "2026-001" in check


def test_paper_never_prints_a_test_as_done_that_nobody_made(bench: TurnRoundBench, tmp_path: Path) -> None:
    """A ticket whose test was ticked by hand, as records from before that was refused have it."""
    key = enter_service_task(bench.boss, "TYPE-L", replace(SEALS, tests=("injector flow",), part_types=()))
    ticket = open_service_ticket(bench.workplace, "LK-01", [key])
    with bench.workplace.transaction("write", "test") as act:
        for row in (row for row in bench.rows(Task) if row.ticket_id == ticket):
            task = act.get(Task, row.id, "task")
            act.change(task, state="done", settled_at=act.at, person_id=bench.technician, minutes=0.0)
        act.change(act.get(Ticket, ticket, "ticket"), signed_at=act.at, signed_by_id=bench.technician)
    print_ticket(bench.workplace, ticket_page(bench.workplace, "2026-1"), tmp_path / "ticket.pdf")
    text = " ".join(texts((tmp_path / "ticket.pdf").read_bytes()))
    assert "No bench test was taken under this ticket." in text
    assert "Test injector flow critical no record" in text and "2 ticked by hand: injector flow: no passed test" in text
    assert service_check(bench).startswith("stop"), "nor does it count as the service"
