"""A service as it is done: each step settled by its evidence under its ticket, or left out with a reason."""

from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from fleetbench.calc.bench.meter import Metered, MeterSource
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.parts.tables import Part, PartEvent
from fleetbench.records.tickets.photographs import ENVIRONMENT
from fleetbench.records.tickets.tables import Finding, StepResult, Task
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.workshop.bench.equipment import add_equipment, certify_equipment
from fleetbench.workshop.bench.steps import correct_step, leave_out_step, settle_step
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.export import export_folder
from fleetbench.workshop.import_export.import_folder import import_folder
from fleetbench.workshop.parts.acts import undo_last
from fleetbench.workshop.places.amend import correct, end_row
from fleetbench.workshop.places.register import history_of, register_rows
from fleetbench.workshop.readiness.ready import assess_unit
from fleetbench.workshop.tickets.list import recorded_words, ticket_page
from fleetbench.workshop.tickets.page import add_minutes, ticket_desk
from fleetbench.workshop.tickets.service_plan import service_lines
from fleetbench.workshop.tickets.work import SecondPerson, reasons_against_signing, sign_ticket, task_done
from tests.centres.stepped_service import SteppedService
from tests.round_trip import comes_back


@pytest.fixture
def bench(sqlite_database: Database, clock: Any) -> SteppedService:
    """On a SQLite file: the rules here are the same on either database."""
    return SteppedService(Workplace(sqlite_database, clock), clock)


@pytest.fixture
def either(workplace: Workplace, clock: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> SteppedService:
    """On each database, with a folder for photographs."""
    monkeypatch.setenv(ENVIRONMENT, str(tmp_path / "photographs"))
    return SteppedService(workplace, clock)


def service_check(bench: SteppedService) -> str:
    day = bench.centre.today
    answer = assess_unit(bench.workplace, "LK-01", day, day, "kit")  # type: ignore[arg-type]
    return next(f"{each.result} {each.evidence}" for each in answer.checks if each.check == "periodic service")


def finish(bench: SteppedService, ticket: int) -> str:
    """Tests, the task itself, its minutes and the signature."""
    bench.clock.advance(minutes=1)
    bench.release()
    task = next(row for row in bench.rows(Task) if row.ticket_id == ticket)
    task_done(bench.workplace, task.id)
    add_minutes(bench.workplace, ticket, 55)
    bench.clock.advance(minutes=1)
    return sign_ticket(bench.workplace, ticket, signer_id=bench.technician, pin="1357")


def test_a_yearly_service_with_nothing_done_is_not_signed_in_four_minutes(bench: SteppedService) -> None:
    ticket = bench.open()
    bench.clock.advance(minutes=4)
    bench.release()
    task = next(row for row in bench.rows(Task) if row.ticket_id == ticket)
    with pytest.raises(Refused, match=r"step 1\.1 'Housing looked at for corrosion': still to do; step 1\.2"):
        task_done(bench.workplace, task.id, minutes=4)
    assert "still to do" in reasons_against_signing(bench.workplace, ticket)[0]


def test_a_service_with_every_step_settled_is_signed_and_counts(either: SteppedService, tmp_path: Path) -> None:
    bench = either
    ticket = bench.open()
    bench.settle(ticket, tmp_path)
    steps = bench.page().steps
    assert [each.state for each in steps] == ["done"] * 8
    assert [each.number for each in steps] == [f"1.{place}" for place in range(1, 9)]
    assert (steps[1].given.before, steps[1].given.after, steps[2].given.after) == (10.8, 9.5, 2.4)
    assert [recorded_words(steps[place]) for place in (1, 2, 3, 4, 5, 7)] == [
        "before 10.8 bar, after 9.5 bar, in limits", "2.4 N·m, in limits", "replaced, 1 O-ring 12 x 2, lot S-1",
        "Grease O, lot G-7, oxygen-compatible", "2 O-ring 12 x 2, lot S-1", "looked at by Jarek Vinthe",
    ]  # fmt: skip
    assert (steps[3].lots, steps[5].lots, steps[7].second) == (("lot S-1",), ("lot S-1",) * 2, "Jarek Vinthe")
    used = [row for row in bench.rows(PartEvent) if row.kind == "used up"]
    assert [row.ticket_id for row in used] == [ticket] * 3, "drawn down from stock under this ticket"
    stock = [row for row in bench.rows(Part) if row.lot == "S-1" and row.state == "stock"]
    assert len(stock) == 2
    finish(bench, ticket)
    assert service_check(bench).startswith("ok")
    assert bench.page().not_counted == ()
    with pytest.raises(Refused, match="signed and closed"):
        leave_out_step(bench.workplace, steps[0].step_result_id, "x")


def test_a_service_with_a_step_left_out_is_signed_with_its_reason_and_stays_due(
    bench: SteppedService, tmp_path: Path
) -> None:
    """That a step left out leaves the service due: common practice, no published source."""
    ticket = bench.open()
    bench.settle(ticket, tmp_path, skip=2)
    finish(bench, ticket)
    (said,) = bench.page().not_counted
    assert "step 1.3 'Head screws tightened crosswise', no torque wrench in the house" in said
    check = service_check(bench)
    assert check.startswith("stop") and "step 1.3" in check and "2026-001" in check
    assert service_lines(bench.workplace, "LK-01")[0].due


def test_what_does_not_settle_a_step_is_refused_and_writes_nothing(bench: SteppedService, tmp_path: Path) -> None:
    ticket = bench.open()
    results, before = bench.results(), bench.entries()
    mine = bench.workplace
    wrong: tuple[tuple[int, dict[str, Any], str], ...] = (
        (1, {"after": 9.5}, "before: intermediate pressure is missing"),
        (1, {"before": 10.8, "after": 10.01}, r"after: 10.01 bar is above the limit, 9 to 10 bar"),
        (2, {"after": 25.0}, r"torque: 25 N·m is above the limit, 2.5 ± 0.1 N·m"),
        (3, {"seal": "inspected"}, "must be replaced"),
        (3, {"seal": "polished"}, r"^seal: 'polished' is not known"),
        (4, {"lubricant": "Grease P", "lot": "1", "oxygen_compatible": True}, "the step names Grease O"),
        (4, {"lubricant": "Grease O", "lot": "1"}, "oxygen-compatible: not known"),
        (6, {}, "photograph: none of this ticket"),
        (7, {}, "second person: nobody looked"),
        (7, {"second": SecondPerson(bench.technician, "1357")}, "it must be another one"),
    )
    for place, entry, match in wrong:
        with pytest.raises(Refused, match=match):
            settle_step(mine, results[place], **entry)
    with pytest.raises(Refused, match=r"PIN"):
        settle_step(mine, results[7], second=SecondPerson(bench.centre.manager, "0000"))
    with pytest.raises(Refused, match=r"^reason: "):
        leave_out_step(mine, results[0], " ")
    with pytest.raises(Refused, match="is for the role technician"):
        settle_step(bench.boss, results[0])
    assert bench.entries() == before, "nothing is written, but that a wrong PIN is counted"
    bench.photograph(ticket, tmp_path)
    settle_step(mine, results[0])
    with pytest.raises(Refused, match="is done already"):
        settle_step(mine, results[0])


def test_too_few_seals_on_the_shelf_settle_no_step(bench: SteppedService) -> None:
    bench.open()
    results = bench.results()
    for row in [row for row in bench.rows(Part) if row.lot == "S-1"][1:]:
        with bench.workplace.transaction("write", "test") as act:
            act.change(act.get(Part, row.id, "part"), state="quarantine")
    with pytest.raises(Refused, match="2 asked for, 1 usable on the shelf"):
        settle_step(bench.workplace, results[5])
    assert bench.page().steps[5].state == "to do"


def test_a_step_settled_by_mistake_is_to_do_again_and_its_parts_lie_on_the_shelf(bench: SteppedService) -> None:
    bench.open()
    kit = bench.results()[5]
    settle_step(bench.workplace, kit)
    with pytest.raises(Refused, match="a step of a ticket used it"):
        undo_last(bench.workplace, next(r.part_id for r in bench.rows(PartEvent) if r.kind == "used up"), "x")
    bench.clock.advance(minutes=5)
    entered = ticket_desk(bench.workplace, "2026-1").correctable
    assert entered is not None and (entered.kind, entered.key) == ("step", kit)
    correct_step(bench.workplace, kit)
    assert bench.page().steps[5].state == "to do" and bench.page().steps[5].lots == ()
    assert sum(row.lot == "S-1" and row.state == "stock" for row in bench.rows(Part)) == 5
    assert "Step 1.6 was marked done by mistake" in bench.rows(Finding)[-1].text
    settle_step(bench.workplace, kit)
    bench.clock.advance(minutes=11)
    with pytest.raises(Refused, match="more than ten minutes ago"):
        correct_step(bench.workplace, kit)


def test_a_ticket_keeps_the_steps_it_was_opened_with_whatever_the_plan_says_later(
    bench: SteppedService, tmp_path: Path
) -> None:
    ticket = bench.open()
    assert [row.service_step_id for row in bench.rows(StepResult)] == bench.steps
    bench.clock.advance(minutes=1)
    correct(bench.boss, "service_steps", bench.steps[2], {"amount": 5, "source": "edition 3"}, "new edition")
    end_row(bench.boss, "service_steps", bench.steps[6], "edition 3 asks for no photograph")
    now = register_rows(bench.boss, "service_steps")
    assert len(now) == 7
    torque = next(row for row in now if row.values["kind"] == "torque")
    assert torque.values["amount"] == 5
    told = history_of(bench.boss, "service_steps", torque.key)
    assert told[0][2].startswith("Amount: 2.5 → 5") and len(told) == 2, "with how it was entered first"
    bench.settle(ticket, tmp_path)
    finish(bench, ticket)
    steps = bench.page().steps
    assert steps[2].plan.amount == 2.5 and steps[2].state == "done" and len(steps) == 8
    assert service_check(bench).startswith("ok"), "a signed ticket is never read again under a later plan"
    bench.clock.advance(hours=24)
    open_again = bench.open()
    later = [each for each in bench.page("2026-2").steps if each.ticket_id == open_again]
    assert [each.plan.amount for each in later if each.plan.kind == "torque"] == [5] and len(later) == 7
    pressure = next(each for each in later if each.plan.kind == "figure")
    assert (pressure.last, pressure.last_at) == (9.5, steps[1].settled_at)
    with pytest.raises(Refused, match="was corrected or ended meanwhile"):
        end_row(bench.boss, "service_steps", bench.steps[2], "twice")


def test_a_need_corrected_later_does_not_change_what_a_signed_ticket_left_out(bench: SteppedService) -> None:
    """The plan's tests of a signed ticket are those in force when it was opened."""
    key = next(row.key for row in register_rows(bench.boss, "service_needs"))
    bench.clock.advance(minutes=1)
    correct(bench.boss, "service_needs", key, {"test": "injector flow"}, "edition 3")
    (row,) = register_rows(bench.boss, "service_needs")
    assert row.values["test"] == "injector flow" and row.key != key
    bench.clock.advance(minutes=1)
    ticket = bench.open()
    assert [each.text for each in bench.rows(Task) if each.ticket_id == ticket][1] == "Test injector flow"


def test_a_step_of_a_task_done_at_every_hand_back_is_refused(bench: SteppedService) -> None:
    with pytest.raises(Refused, match="counted from: the task has steps"):
        correct(bench.boss, "service_tasks", bench.service, {"basis": "hand-back", "amount": None}, "x")
    with pytest.raises(Refused, match="tolerance"):
        bench.enter_step(9, {"kind": "torque", "text": "x", "amount": 2.0})


def test_a_service_goes_out_as_records_and_in_files_and_comes_back_the_same(
    bench: SteppedService, tmp_path: Path
) -> None:
    ticket = bench.open()
    bench.settle(ticket, tmp_path, skip=0)
    finish(bench, ticket)
    assert comes_back(bench.workplace.database) == []
    export_folder(bench.workplace, tmp_path / "out")
    with closing(open_database(tmp_path / "again.db")) as database:
        again = Workplace(database, bench.clock)
        assert import_folder(again, tmp_path / "out").faults == ()
        here, there = bench.page(), ticket_page(again, "2026-1")
        assert [(each.number, each.state, recorded_words(each)) for each in there.steps] == [
            (each.number, each.state, recorded_words(each)) for each in here.steps
        ]
        assert there.not_counted == here.not_counted != ()
    told = tmp_path / "out" / "step_results.csv"
    told.write_text(told.read_text(encoding="utf-8").replace(",2.4,", ",24,"), encoding="utf-8")
    with closing(open_database(tmp_path / "other.db")) as database:
        faults = import_folder(Workplace(database, bench.clock), tmp_path / "out").faults
    assert [(each.sheet, each.column) for each in faults] == [("step_results", "state")]
    assert "24 N·m is above the limit" in faults[0].message


def test_the_figure_of_a_step_is_told_with_its_meter_as_it_was_until_it_is_corrected_by_hand(
    bench: SteppedService,
) -> None:
    ticket, boss = bench.open(), bench.boss
    gauge = add_equipment(boss, kind="gauge", name="Service gauge", serial="G-7", uncertainty=0.02, unit="bar",
                          last_good_day=bench.clock().date(), digit=0.01)  # fmt: skip
    idn = "Service gauge,SG,7,1"
    read = [
        Metered(value, MeterSource(gauge, idn, f"{value:+.3E}", "bar", bench.clock(), 0.02, "bar"), 0.01)
        for value in (10.8, 9.5)
    ]
    step = next(each for each in bench.page().steps if each.plan.what == "intermediate pressure")
    settle_step(bench.workplace, step.step_result_id, before=read[0], after=read[1])
    certify_equipment(boss, gauge, last_good_day=bench.clock().date(), uncertainty=0.5, digit=0.01)
    (told,) = bench.page().given
    assert told.startswith("Step 1.2 of ") and told.endswith(
        f"2 figures read by itself from Service gauge G-7 ({idn}), ± 0.04 bar."
    )
    bench.clock.advance(minutes=1)
    correct_step(bench.workplace, step.step_result_id)
    settle_step(bench.workplace, step.step_result_id, before=10.8, after=9.6)
    assert [each.given.after for each in bench.page().steps if each.given.after] == [9.6]
    assert "1 figure read" in " ".join(bench.page().given), "the figure before stays what the meter gave"
    assert ticket
