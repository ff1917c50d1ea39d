"""The plan from what is recorded: bookings get units that will be fit, misses are explained, and acceptance is one act.

How good plans are is held against every plan tried in tests/calc/test_planning.py.
"""

from datetime import timedelta
from typing import Any

import pytest

from fleetbench.calc.hires.plan_facts import faults
from fleetbench.calc.turn_rounds.card import DRYING_HOURS
from fleetbench.paper.core.document import PageSize
from fleetbench.paper.hires.pages import write_bench_day
from fleetbench.records.cells.tables import CalibrationOutcome
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.lookups import booking_by_code, lines_of, terms_of
from fleetbench.records.hires.tables import Acceptance, BookingUnit, SheetSignature
from fleetbench.records.parts.tables import Part, PartOrder
from fleetbench.records.places.tables import Limit
from fleetbench.records.tickets.tables import Disinfection, Task, Ticket
from fleetbench.records.units.tables import Absence, Hold
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.booking import Booked, BookingEntry, book
from fleetbench.workshop.hires.fitness import BookUnfit, left_unmet
from fleetbench.workshop.hires.pages import bench_day
from fleetbench.workshop.hires.plan import (
    BenchVisit,
    PlanChange,
    PlanPage,
    gathered,
    make_plan,
    set_bench_hours,
)
from fleetbench.workshop.hires.sold import accept_plan, last_plan, look_before_accepting, undo_plan
from fleetbench.workshop.parts.demand import list_reservations
from fleetbench.workshop.parts.orders import order_list
from fleetbench.workshop.parts.receive import Delivery, receive_serials
from fleetbench.workshop.tickets.work import add_finding
from fleetbench.workshop.turn_rounds.card import open_card
from tests.centres.hire_centre import HireCentre
from tests.paper.pdf_reader import made, texts
from tests.paper.sample_pages import LETTERHEAD


@pytest.fixture
def centre(sqlite_database: Database, clock: Any) -> HireCentre:
    """Three units fit to leave; LK-01 is promised on H-7 from today for three days."""
    made = HireCentre(Workplace(sqlite_database, clock), clock, units=3)
    made.make_fit()
    return made


def hire(centre: HireCentre, first: int, last: int, *units: str, **more: Any) -> Booked:
    entry = BookingEntry(kind="hire", unit_type="TYPE-L", first=centre.day(first), last=centre.day(last),
                         units=units, **{"renter_id": centre.keys.other, **more})  # fmt: skip
    return book(centre.workplace, entry)


def hold(centre: HireCentre, tag: str, kind: str = "manual") -> None:
    with centre.workplace.transaction("write", "test") as act:
        act.add(Hold(unit_id=centre.units[tag], kind=kind, reason="strap torn", placed_at=act.at,
                     placed_by_id=centre.manager))  # fmt: skip


def planned(centre: HireCentre, **more: Any) -> PlanPage:
    return make_plan(centre.workplace, days=20, seconds=3, **more)


def on(centre: HireCentre, code: str) -> list[str]:
    tags = {key: tag for tag, key in centre.units.items()}
    with centre.workplace.database.read_session() as session:
        return [tags[each.unit_id] for each in lines_of(session, booking_by_code(session, code).id)]


def test_a_booking_without_a_unit_gets_one_and_nothing_else_is_changed(centre: HireCentre) -> None:
    code = hire(centre, 1, 2).code
    page = planned(centre)
    (change,) = page.changes
    assert (change.code, change.from_tag) == (code, None)
    assert change.to_tag in ("LK-02", "LK-03")
    assert (page.bookings, page.bookings_met, page.unmet) == (2, 2, ())
    assert accept_plan(centre.workplace, page.changes).codes == (code,)
    assert on(centre, code) == [change.to_tag]
    assert planned(centre).changes == ()
    assert verify(centre.workplace.database).first_break is None


def test_a_promise_on_a_unit_that_is_held_by_hand_goes_to_one_that_is_fit(centre: HireCentre) -> None:
    hold(centre, "LK-01")
    page = planned(centre)
    (change,) = page.changes
    assert (change.code, change.from_tag) == ("H-7", "LK-01")
    assert page.left_out[0].startswith("LK-01: manual hold")
    accept_plan(centre.workplace, page.changes)
    assert on(centre, "H-7") == [change.to_tag]


def test_what_is_unmet_is_told_with_its_smallest_cause(centre: HireCentre) -> None:
    hold(centre, "LK-02")
    with centre.workplace.transaction("write", "test") as act:
        act.add(Absence(unit_id=centre.units["LK-03"], why="service", left_at=act.at, expected_on=None))
    code = hire(centre, 1, 2, when_full="wait").code
    page = planned(centre)
    (miss,) = page.unmet
    assert (miss.code, miss.missing, miss.cures) == (code, 1, ("1 unit of TYPE-L",))
    # H-7 stands from today through day 2 on the only unit that is here and fit.
    assert miss.ways == (
        f"{code} from {centre.day(3)} to {centre.day(4)}",
        f"H-7 from {centre.day(3)} to {centre.day(5)}, which frees LK-01: ring",
        "LK-02, once it is let go: manual hold: strap torn",
        f"borrow 1 of TYPE-L from {centre.day(1)} to {centre.day(2)}",
    )
    assert page.plan.bound.unmet == page.plan.score.unmet == 1
    assert {line.split(":")[0] for line in page.left_out} == {"LK-02", "LK-03"}


def test_hours_that_lack_at_the_bench_are_named(centre: HireCentre) -> None:
    hold(centre, "LK-02")
    hold(centre, "LK-03")
    with centre.workplace.transaction("write", "test") as act:
        line = act.session.get(BookingUnit, centre.keys.line)
        act.change(line, out_at=act.at, hand_over="kit")
    code = hire(centre, 6, 7).code
    (miss,) = planned(centre, bench_hours=0.0).unmet
    assert (miss.code, miss.cures) == (code, ("1 h of bench time",))
    page = planned(centre, bench_hours=1.0)
    assert page.unmet == ()
    (visit,) = page.visits
    assert (visit.tag, visit.work[0], visit.minutes) == ("LK-01", "turn-round", 60.0)
    assert visit.ready_on >= centre.day(3)


def test_an_exchange_goes_through_whole_and_half_of_it_not_at_all(centre: HireCentre) -> None:
    other = hire(centre, 0, 2, "LK-02").code
    days = (centre.today, centre.day(2), "somebody")
    one, back = PlanChange("H-7", "LK-01", "LK-02", *days), PlanChange(other, "LK-02", "LK-01", *days)
    with pytest.raises(Refused, match="unit LK-02: would serve"):
        accept_plan(centre.workplace, [one])
    assert on(centre, "H-7") == ["LK-01"]
    accept_plan(centre.workplace, [one, back])
    assert (on(centre, "H-7"), on(centre, other)) == (["LK-02"], ["LK-01"])


def test_a_promise_whose_page_is_signed_goes_to_no_other_unit(centre: HireCentre) -> None:
    change = PlanChange("H-7", "LK-01", "LK-02", centre.today, centre.day(2), "somebody")
    with centre.workplace.transaction("write", "test") as act:
        act.add(SheetSignature(booking_unit_id=centre.keys.line, party="diver", how="paper", at=act.at,
                               person_id=centre.keys.other, digest="0" * 64))  # fmt: skip
    with pytest.raises(Refused, match="booking H-7: LK-01 is out or signed for; leave this change out"):
        look_before_accepting(centre.workplace, [change])
    with pytest.raises(Refused, match="booking H-7: LK-01 is out or signed for; leave this change out"):
        accept_plan(centre.workplace, [change])
    assert on(centre, "H-7") == ["LK-01"]


def test_a_plan_that_is_out_of_date_is_refused_whole(centre: HireCentre) -> None:
    code = hire(centre, 5, 6).code
    stale = PlanChange("H-7", "LK-02", "LK-03", centre.today, centre.day(2), "somebody")
    good = PlanChange(code, None, "LK-02", centre.day(5), centre.day(6), "somebody")
    with pytest.raises(Refused, match="LK-02 is no longer on it; make the plan again"):
        accept_plan(centre.workplace, [good, stale])
    assert on(centre, code) == []
    with pytest.raises(Refused, match="none is ticked"):
        accept_plan(centre.workplace, [])


def test_bench_hours_are_the_centres_once_they_are_kept(centre: HireCentre) -> None:
    assert (planned(centre).bench_hours, planned(centre).bench_source) == (6.0, "common practice, no published source")
    manager = centre.workplace.as_person(centre.manager)
    set_bench_hours(manager, 9.5)
    set_bench_hours(manager, 8)
    assert (planned(centre).bench_hours, planned(centre).bench_source) == (8.0, "the centre's own")
    with pytest.raises(Refused, match="bench hours a day"):
        planned(centre, bench_hours=-1)
    assert verify(centre.workplace.database).first_break is None


def test_planning_tells_how_far_it_is_and_can_be_called_off(centre: HireCentre) -> None:
    told: list[str] = []

    def stop(_share: float, what: str) -> None:
        told.append(what)
        if len(told) == 2:
            raise InterruptedError

    with pytest.raises(InterruptedError):
        planned(centre, told=stop)
    assert told == ["reading what is recorded", "first come, first served"]


def test_the_sample_fleets_plan_keeps_every_rule_and_is_no_worse_than_first_come(sample_workplace: Workplace) -> None:
    page = make_plan(sample_workplace, seconds=4)
    assert faults(gathered(sample_workplace, 60, None).facts, page.plan.assigned) == ()
    assert page.plan.score <= page.plan.first_come
    assert page.plan.score.unmet >= page.plan.bound.unmet
    assert sum(each.missing for each in page.unmet) == page.plan.score.unmet


def test_a_unit_that_is_not_fit_is_told_before_and_promised_by_a_managers_decision_alone(centre: HireCentre) -> None:
    code, lacks = hire(centre, 5, 6).code, hire(centre, 5, 6).code
    hold(centre, "LK-03")
    change = PlanChange(code, None, "LK-03", centre.day(5), centre.day(6), "somebody")
    look = look_before_accepting(centre.workplace, [change])
    assert look == (f"{code}: unit LK-03: manual hold since 2026-05-04: strap torn",)
    assert on(centre, code) == []
    with pytest.raises(Refused, match=r"strap torn; .* a manager books them with a reason"):
        accept_plan(centre.workplace, [change])
    with pytest.raises(Refused, match="only an active manager"):
        accept_plan(centre.workplace, [change], unfit=BookUnfit("sewn on Friday"))
    assert on(centre, code) == []
    done = accept_plan(centre.workplace, [change], unfit=BookUnfit("sewn on Friday", centre.manager, "2468"))
    assert done.codes == (code,)
    assert on(centre, code) == ["LK-03"]
    assert left_unmet(centre.workplace, 20) == (f"{lacks}: lacks 1 of 1 units", f"{code}: unit LK-03 is not fit")
    (kept,) = centre.rows(Acceptance)
    assert (kept.check_name, kept.unit_id, kept.reason) == (
        f"booked unfit: {code}", centre.units["LK-03"], "sewn on Friday",
    )  # fmt: skip


def reject_a_cell(centre: HireCentre, tag: str) -> None:
    with centre.workplace.transaction("write", "test") as act:
        cell = next(each for each in centre.rows(Part) if each.serial == f"C-{tag}-2")
        outcome = next(each for each in centre.rows(CalibrationOutcome) if each.part_id == cell.id)
        act.change(act.session.get(CalibrationOutcome, outcome.id), verdict="reject")


def test_accepting_opens_the_tickets_of_the_bench_work_reserves_its_parts_and_needs_no_decision(
    centre: HireCentre,
) -> None:
    hold(centre, "LK-02")
    reject_a_cell(centre, "LK-03")
    code = hire(centre, 1, 2, when_full="wait").code
    page = planned(centre)
    (change,) = page.changes
    assert (change.to_tag, [each.tag for each in page.visits]) == ("LK-03", ["LK-03"])
    assert len(look_before_accepting(centre.workplace, page.changes)) == 1
    assert look_before_accepting(centre.workplace, page.changes, page.visits) == ()
    done = accept_plan(centre.workplace, page.changes, page.visits)
    assert (done.codes, len(done.tickets)) == ((code,), 1)
    assert [each.text for each in centre.rows(Task)] == ["Replace cell 2"]
    assert [(each.unit, each.slot) for each in list_reservations(centre.workplace)] == [("LK-03", "cell 2")]
    with pytest.raises(Refused, match="no bench work lacks a ticket"):
        accept_plan(centre.workplace, (), page.visits)
    assert verify(centre.workplace.database).first_break is None


def test_a_hold_that_a_person_lifts_is_cured_by_no_ticket(centre: HireCentre) -> None:
    code = hire(centre, 5, 6).code
    page = planned(centre)
    hold(centre, page.changes[0].to_tag)
    visit = BenchVisit(page.changes[0].to_tag, centre.day(1), 20, ("what makes it unfit",), (), 0)
    assert len(look_before_accepting(centre.workplace, page.changes, [visit])) == 1
    with pytest.raises(Refused, match="a manager books them with a reason"):
        accept_plan(centre.workplace, page.changes, [visit])
    assert (on(centre, code), centre.rows(Ticket)) == ([], [])


def test_a_plan_is_undone_in_one_act_and_everything_stands_as_before(centre: HireCentre) -> None:
    hold(centre, "LK-02")
    reject_a_cell(centre, "LK-03")
    use_up_the_shelf(centre)
    code = hire(centre, 5, 6, when_full="wait").code
    exchanged = PlanChange("H-7", "LK-01", "LK-03", centre.today, centre.day(2), "somebody")
    put_on = PlanChange(code, None, "LK-03", centre.day(5), centre.day(6), "somebody")
    visit = BenchVisit("LK-03", centre.day(4), 20, ("replace cell 2",), ("1 CELL-A",), 0)
    before = standing(centre, code)
    decision = BookUnfit("sewn on Friday", centre.manager, "2468")
    done = accept_plan(centre.workplace, [exchanged, put_on], [visit], unfit=decision)
    assert (on(centre, "H-7"), on(centre, code)) == (["LK-03"], ["LK-03"])
    (order,) = centre.rows(PartOrder)
    assert (order.made_for, order.arrived, len(done.ordered), len(done.tickets)) == (done.code, 0, 1, 1)
    assert last_plan(centre.workplace) == done.code
    undone = undo_plan(centre.workplace, done.code, "the course fell through")
    assert standing(centre, code) == before
    assert (undone.withdrawn, undone.left, undone.not_moved_back) == (done.tickets, (), ())
    assert set(undone.moved_back) == {"H-7 is on LK-01 again", f"{code} is without LK-03 again"}
    assert (len(undone.cancelled), undone.arrived, list_reservations(centre.workplace)) == (1, (), ())
    assert last_plan(centre.workplace) is None
    with pytest.raises(Refused, match="was undone; make a new plan"):
        undo_plan(centre.workplace, done.code, "again")
    assert verify(centre.workplace.database).first_break is None


def test_what_was_worked_on_came_or_was_given_away_since_stays_and_is_told(centre: HireCentre) -> None:
    reject_a_cell(centre, "LK-03")
    use_up_the_shelf(centre)
    code = hire(centre, 5, 6).code
    change = PlanChange("H-7", "LK-01", "LK-02", centre.today, centre.day(2), "somebody")
    put_on = PlanChange(code, None, "LK-03", centre.day(5), centre.day(6), "somebody")
    visit = BenchVisit("LK-03", centre.day(4), 20, ("replace cell 2",), ("1 CELL-A",), 0)
    done = accept_plan(centre.workplace, [change, put_on], [visit])
    add_finding(centre.workplace, centre.rows(Ticket)[-1].id, "seat of the cell is worn")
    kind = next(each for each in order_list(centre.workplace) if any("on order" in why for why in each.why))
    receive_serials(centre.workplace, kind.code, ["C-NEW-1"], Delivery())
    given = hire(centre, 0, 1, "LK-01").code
    undone = undo_plan(centre.workplace, done.code, "the course fell through")
    assert (undone.withdrawn, undone.left) == ((), done.tickets)
    assert (undone.cancelled, len(undone.arrived)) == ((), 1)
    assert (undone.moved_back, undone.not_moved_back) == ((f"{code} is without LK-03 again",), ("H-7 stays on LK-02",))
    assert (on(centre, "H-7"), on(centre, given), on(centre, code)) == (["LK-02"], ["LK-01"], [])


def hang_to_dry(centre: HireCentre, tag: str) -> None:
    open_card(centre.workplace, tag)
    with centre.workplace.transaction("write", "test") as act:
        act.add(Disinfection(unit_id=centre.units[tag], at=act.at, agent="Agent A", strength="1 %", contact_minutes=10,
                             rinsed=True, person_id=centre.keys.centre.technician))  # fmt: skip


def test_a_loop_that_hangs_to_dry_is_planned_for_no_day_before_it_is_dry(centre: HireCentre) -> None:
    with centre.workplace.transaction("write", "test") as act:
        act.add(Limit(name=DRYING_HOURS, amount=60.0, unit="h", source="the centre's own", maker=False))
    hang_to_dry(centre, "LK-01")
    (unit,) = (each for each in gathered(centre.workplace, 20, None).facts.units if each.tag == "LK-01")
    # From Monday morning, 60 hours end on Wednesday evening.
    assert unit.in_hand == 2
    day = bench_day(centre.workplace)
    assert "hangs to dry until 2026-05-06" in dict(day.waits)["LK-01"]
    later = bench_day(centre.workplace, centre.day(3))
    assert "LK-01" in [job.tag for _, given in later.people for _, job in given]


def test_what_is_on_order_comes_on_its_day_and_is_not_ordered_twice(centre: HireCentre) -> None:
    reject_a_cell(centre, "LK-03")
    use_up_the_shelf(centre)
    cell = next(each for each in centre.rows(Part) if each.serial == "C-LK-03-2")
    with centre.workplace.transaction("write", "test") as act:
        act.add(PartOrder(part_type_id=cell.part_type_id, pieces=1, ordered_at=act.at,
                          ordered_by_id=centre.manager, expected_on=centre.day(4)))  # fmt: skip
    hold(centre, "LK-02")
    hire(centre, 8, 9, "LK-01")
    code = hire(centre, 8, 9, when_full="wait").code
    page = planned(centre)
    assert (page.orders, page.unmet) == ((), ())
    (change,) = (each for each in page.changes if each.code == code)
    (visit,) = (each for each in page.visits if each.tag == change.to_tag == "LK-03")
    assert centre.day(4) <= visit.ready_on < centre.day(8)
    assert accept_plan(centre.workplace, page.changes, page.visits).ordered == ()


def use_up_the_shelf(centre: HireCentre) -> None:
    with centre.workplace.transaction("write", "test") as act:
        for each in centre.rows(Part):
            if each.state == "stock":
                act.change(act.session.get(Part, each.id), state="scrapped")


def standing(centre: HireCentre, code: str) -> tuple[Any, ...]:
    with centre.workplace.database.read_session() as session:
        terms = terms_of(session, booking_by_code(session, code).id)
        waits = terms.waiting_since if terms is not None else None
    return on(centre, "H-7"), on(centre, code), waits, list_reservations(centre.workplace)


def test_the_bench_day_says_who_does_what_what_to_fetch_what_hangs_and_what_waits_for_its_part(
    centre: HireCentre,
) -> None:
    reject_a_cell(centre, "LK-02")
    reject_a_cell(centre, "LK-03")
    codes = [hire(centre, 2, 3, tag, unfit=BookUnfit("will be done", centre.manager, "2468")).code
             for tag in ("LK-02", "LK-03")]  # fmt: skip
    hang_to_dry(centre, "LK-01")
    spare = [each for each in centre.rows(Part) if each.state == "stock" and "C-" in (each.serial or "")]
    with centre.workplace.transaction("write", "test") as act:
        for each in spare[1:]:
            act.change(act.session.get(Part, each.id), state="scrapped")
    page = planned(centre)
    done = accept_plan(centre.workplace, (), [BenchVisit(tag, centre.day(1), 20, ("replace cell 2",), (), 0)
                                              for tag in ("LK-02", "LK-03")])  # fmt: skip
    assert (len(done.tickets), len(done.ordered), page.today) == (2, 1, centre.today)
    day = bench_day(centre.workplace)
    jobs = {job.tag: (name, start, job) for name, given in day.people for start, job in given}
    assert day.opens.hour == max(8, day.opens.hour) and day.minutes <= 360.0
    name, start, first = jobs["LK-02"]
    assert (first.work, first.ready_by, first.wanted_for) == (("Replace cell 2",), centre.day(1), codes[0])
    assert spare[0].serial in first.fetch[0]
    (waits,) = (why for tag, why in day.waits if tag == "LK-03")
    assert "on order, expected" in waits
    (hung,) = day.hanging
    assert (hung.unit, hung.dry_from - hung.disinfected_at) == ("LK-01", timedelta(hours=12))
    assert jobs["LK-01"][1] >= (hung.dry_from - day.opens).total_seconds() / 60 if "LK-01" in jobs else True
    assert start == min(each[1] for each in jobs.values() if each[0] == name)
    for size in PageSize:
        pdf = made(write_bench_day, day, head=LETTERHEAD, size=size)
        (text,) = texts(pdf)
        assert all(each in text for each in ("LK-02", "Replace cell 2", spare[0].serial, "on order, expected", name))
        assert text.count("[ ]") >= len(jobs)
    with pytest.raises(Refused, match="enter a day from today on"):
        bench_day(centre.workplace, centre.day(-1))
