"""Units leave where nothing stops them, return onto hold, and what is noted reaches ledger, parts and tickets."""

import json
from typing import Any

import pytest

from fleetbench.calc.hires.log import RunBack
from fleetbench.records.canisters.tables import Fill, Run
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.journal import Journal
from fleetbench.records.hires.tables import Acceptance, BookingUnit, HandBack, HandOver, HireNote
from fleetbench.records.tickets.tables import Finding, Ticket
from fleetbench.records.turn_rounds.tables import TurnRound
from fleetbench.records.units.tables import Hold
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.canisters.packing import give_fill, pack_canister
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.booking import BookingEntry, book, put_unit_on
from fleetbench.workshop.hires.handback import HandBackEntry, hand_back
from fleetbench.workshop.hires.handover import Accepting, Handing, hand_over, look_before, standing_acceptances
from fleetbench.workshop.hires.receive import Swapping, look_before_swap, receive, swap_unit
from tests.centres.hire_centre import HireCentre
from tests.centres.kept_centres import kept

SWAP = Swapping(failed="LK-01", instead="LK-02", reason="handset 2 blank", exchanged=("accessories", "absorbent"))


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> HireCentre:
    """Three units fit to leave, the first packed; LK-01 is promised on H-7 from today for three days."""
    made = HireCentre(workplace, clock, units=3)
    made.make_fit()
    made.make_fit("LK-01", pack=True)
    return made


def accept_all(centre: HireCentre, tag: str, code: str, kind: str) -> list[Accepting]:
    look = look_before(centre.workplace, tag, code, kind)
    assert look.assessment.stops == ()
    return [Accepting(tag, check, centre.day(20), "seen, and known") for check in look.to_accept]


@kept
def out(centre: HireCentre, tag: str = "LK-01", code: str = "H-7", kind: str = "assembled") -> int:
    accepted = accept_all(centre, tag, code, kind)
    handing = Handing(unit=tag, kind=kind, harness="M", accessories=5, deposit=200.0)
    (line,) = hand_over(centre.workplace, code, [handing], accepting=accepted, manager_id=centre.manager, pin="2468")
    return line


def test_a_unit_that_nothing_stops_leaves_with_what_goes_along(centre: HireCentre) -> None:
    key = out(centre)
    line = centre.rows(BookingUnit)[key - 1]
    assert (line.hand_over, line.diver_id, line.out_at) == ("assembled", centre.keys.renter, centre.clock())
    (noted,) = centre.rows(HandOver)
    assert (noted.harness, noted.accessories, noted.deposit) == ("M", 5, 200.0)
    assert verify(centre.workplace.database).first_break is None


def test_a_stop_refuses_and_no_manager_can_accept_it(centre: HireCentre) -> None:
    with centre.workplace.transaction("write", "test") as act:
        act.add(Hold(unit_id=centre.units["LK-01"], kind="manual", reason="strap torn", placed_at=act.at,
                     placed_by_id=centre.manager))  # fmt: skip
    accepted = [Accepting("LK-01", "holds", centre.day(20), "never mind")]
    with pytest.raises(Refused, match=r"unit LK-01: holds: .*strap torn"):
        hand_over(centre.workplace, "H-7", [Handing(unit="LK-01", kind="kit")], accepting=accepted,
                  manager_id=centre.manager, pin="2468")  # fmt: skip
    assert centre.rows(BookingUnit)[0].out_at is None
    assert centre.rows(Acceptance) == []


def test_after_the_last_day_of_a_booking_a_unit_is_still_judged_for_its_diver(centre: HireCentre) -> None:
    """A fill serves one diver: common practice, no published source."""
    give_fill(centre.workplace, "CAN-L-LK-01", diver_id=centre.keys.other)
    centre.clock.advance(days=3)
    look = look_before(centre.workplace, "LK-01", "H-7", "assembled")
    assert [each.check for each in look.stops] == ["absorbent"]
    accepted = [Accepting("LK-01", check, centre.day(20), "seen, and known") for check in look.to_accept]
    with pytest.raises(Refused, match=r"absorbent: .*another diver's"):
        hand_over(centre.workplace, "H-7", [Handing(unit="LK-01", kind="assembled", harness="M", accessories=5)],
                  accepting=accepted, manager_id=centre.manager, pin="2468")  # fmt: skip


def test_a_swap_after_the_last_day_is_judged_for_the_diver_who_waits(centre: HireCentre) -> None:
    out(centre)
    pack_canister(centre.workplace, "CAN-L-LK-02", centre.keys.sealed, tare_g=1000.0, filled_g=3500.0, looked_at=True,
                  diver_id=centre.keys.other)  # fmt: skip
    centre.clock.advance(days=3)
    look = look_before_swap(centre.workplace, SWAP)
    assert [each.check for each in look.stops] == ["absorbent"]


def test_a_unit_that_is_stopped_may_leave_not_for_diving(centre: HireCentre) -> None:
    with centre.workplace.transaction("write", "test") as act:
        act.add(Hold(unit_id=centre.units["LK-01"], kind="manual", reason="strap torn", placed_at=act.at,
                     placed_by_id=centre.manager))  # fmt: skip
    (line,) = hand_over(centre.workplace, "H-7", [Handing(unit="LK-01", kind="not for diving")])
    assert centre.rows(BookingUnit)[line - 1].hand_over == "not for diving"


def test_an_advice_is_accepted_by_a_manager_with_reason_and_last_day_and_counted(centre: HireCentre) -> None:
    with centre.workplace.transaction("write", "test") as act:
        act.add(Ticket(year=2026, number=1, unit_id=centre.units["LK-02"], cause="by hand", reason="scratch",
                       critical=False, opened_at=act.at, opened_by_id=centre.manager, minutes=0.0))  # fmt: skip
    put_unit_on(centre.workplace, code := book(centre.workplace, _hire(centre)).code, "LK-02")
    handing = [Handing(unit="LK-02", kind="kit")]
    with pytest.raises(Refused, match=r"open tickets: .*a manager may accept"):
        hand_over(centre.workplace, code, handing)
    accepted = accept_all(centre, "LK-02", code, "kit")
    assert "open tickets" in {each.check for each in accepted}
    with pytest.raises(Refused, match="only an active manager"):
        hand_over(centre.workplace, code, handing, accepting=accepted)
    with pytest.raises(Refused, match="PIN: does not match"):
        hand_over(centre.workplace, code, handing, accepting=accepted, manager_id=centre.manager, pin="1111")
    short = [Accepting(each.unit, each.check, centre.today, each.reason) for each in accepted]
    with pytest.raises(Refused, match=r"accepted until: .* is before the last day"):
        hand_over(centre.workplace, code, handing, accepting=short, manager_id=centre.manager, pin="2468")
    hand_over(centre.workplace, code, handing, accepting=accepted, manager_id=centre.manager, pin="2468")
    standing = standing_acceptances(centre.workplace)
    assert ("LK-02", "open tickets", "Jarek Vinthe") in {(each.unit, each.check_name, by) for each, by in standing}
    centre.clock.advance(days=30)
    assert standing_acceptances(centre.workplace) == ()


def _hire(centre: HireCentre) -> BookingEntry:
    return BookingEntry(kind="hire", unit_type="TYPE-L", first=centre.today, last=centre.day(1),
                        renter_id=centre.keys.other)  # fmt: skip


def test_a_unit_received_is_on_hold_until_its_turn_round_is_done(centre: HireCentre) -> None:
    out(centre)
    centre.clock.advance(days=4)
    back = receive(centre.workplace, "LK-01", wet=True, flooded=False, fault=False, missing=False)
    assert (back.booking, back.days_late, back.ticket_id) == ("H-7", 2, None)
    (hold,) = centre.rows(Hold)
    assert (hold.kind, hold.lifted_at) == ("received", None)
    with pytest.raises(Refused, match="is not out"):
        receive(centre.workplace, "LK-01", wet=True, flooded=False, fault=False)
    still_open = [card.unit_id for card in centre.rows(TurnRound) if card.finished_at is None]
    assert still_open == [centre.units["LK-01"]]


def test_a_flood_spends_the_fill_and_opens_a_critical_ticket(centre: HireCentre) -> None:
    out(centre)
    centre.clock.advance(hours=5)
    back = receive(centre.workplace, "LK-01", wet=True, flooded=True, fault=None)
    (ticket,) = centre.rows(Ticket)
    assert (ticket.id, ticket.cause, ticket.critical) == (back.ticket_id, "hand-back", True)
    assert centre.rows(Fill)[-1].wetted_at == centre.clock()


def test_details_reach_the_ledger_the_ticket_and_the_erasable_words(centre: HireCentre) -> None:
    line = out(centre)
    centre.clock.advance(hours=6)
    receive(centre.workplace, "LK-01", wet=True, flooded=False, fault=True)
    entry = HandBackEntry(
        line_id=line, runs=(RunBack(minutes=70, coldest_c=11.0, deepest_m=22.0, seen_at_6m_bar=1.5),
                            RunBack(minutes=40, coldest_c=10.0, deepest_m=18.0)),
        remarks="Ines found it cold", faults="mouthpiece strap torn", missing="torch", damaged=False, deposit_back=180,
    )  # fmt: skip
    (done,) = hand_back(centre.workplace, [entry])
    assert (done.runs, done.unlogged_minutes) == (2, 0.0)
    runs = centre.rows(Run)
    assert [(run.minutes, run.deepest_m, run.booking_unit_id) for run in runs] == [(70, 22.0, line), (40, 18.0, line)]
    row = centre.rows(BookingUnit)[line - 1]
    assert (row.loop_minutes, row.dives) == (110, 2)
    (ticket,) = centre.rows(Ticket)
    assert [found.text for found in centre.rows(Finding)] == ["mouthpiece strap torn", "missing: torch"]
    assert ticket.id == done.ticket_id
    assert centre.rows(Fill)[-1].why_discarded == "hand-back"
    assert centre.rows(HandBack)[0].deposit_back == 180
    assert centre.rows(HireNote)[0].text == "Ines found it cold"
    assert not any("Ines" in json.dumps(entry.content) for entry in centre.rows(Journal))
    assert verify(centre.workplace.database).first_break is None
    with pytest.raises(Refused, match="noted already"):
        hand_back(centre.workplace, [entry])


def test_a_grid_with_one_bad_row_records_nothing(centre: HireCentre) -> None:
    line = out(centre)
    centre.clock.advance(hours=6)
    with pytest.raises(Refused, match="is not received yet"):
        hand_back(centre.workplace, [HandBackEntry(line_id=line)])
    receive(centre.workplace, "LK-01", wet=True, flooded=False, fault=False)
    bad = HandBackEntry(line_id=line, loop_minutes=30, runs=(RunBack(minutes=70),))
    with pytest.raises(Refused, match="30 is less than its runs, 70"):
        hand_back(centre.workplace, [bad])
    with pytest.raises(Refused, match="unit LK-01: minutes: 400 min do not fit into the 6"):
        hand_back(centre.workplace, [HandBackEntry(line_id=line, runs=(RunBack(minutes=400),))])
    assert centre.rows(HandBack) == []
    assert centre.rows(Run) == []


def test_a_swap_takes_one_unit_in_with_a_ticket_and_gives_the_other_out_on_the_same_booking(
    centre: HireCentre,
) -> None:
    line = out(centre, kind="kit")
    with pytest.raises(Refused, match="unit LK-02: is not out"):
        swap_unit(centre.workplace, Swapping(failed="LK-02", instead="LK-01", reason="x"))
    centre.clock.advance(hours=3)
    look = look_before_swap(centre.workplace, SWAP)
    assert (look.stops, centre.rows(BookingUnit)[line - 1].received_at) == ((), None)
    accepted = [Accepting("LK-02", check, centre.day(20), "seen, and known") for check in look.to_accept]
    back = swap_unit(centre.workplace, SWAP, accepting=accepted, manager_id=centre.manager, pin="2468")
    failed, new = centre.rows(BookingUnit)[line - 1], centre.rows(BookingUnit)[-1]
    assert (failed.received_at, failed.fault) == (centre.clock(), True)
    assert (new.booking_id, new.diver_id, new.hand_over) == (failed.booking_id, failed.diver_id, "kit")
    assert new.out_at == centre.clock()
    assert [found.text for found in centre.rows(Finding)] == ["handset 2 blank"]
    assert back.ticket_id == centre.rows(Ticket)[0].id


def test_a_swap_for_a_unit_that_may_not_go_out_changes_nothing(centre: HireCentre) -> None:
    out(centre, kind="kit")
    with centre.workplace.transaction("write", "test") as act:
        act.add(Hold(unit_id=centre.units["LK-02"], kind="manual", reason="strap torn", placed_at=act.at,
                     placed_by_id=centre.manager))  # fmt: skip
    with pytest.raises(Refused, match="strap torn"):
        swap_unit(centre.workplace, SWAP)
    assert centre.rows(Ticket) == []
    assert centre.rows(BookingUnit)[0].received_at is None
