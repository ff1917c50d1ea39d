"""A sale from the question to the act and back: what can go, what makes the rest true, and that one act does it all.

How cheap the ways are is held against every way tried in tests/calc/hires/test_sell.py.
"""

from typing import Any

import pytest

from fleetbench.calc.hires.sell import Sale
from fleetbench.records.cells.tables import CalibrationOutcome
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.lookups import booking_by_code, lines_of
from fleetbench.records.parts.tables import Part, PartOrder
from fleetbench.records.tickets.tables import Task, Ticket
from fleetbench.records.units.tables import Hold
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.booking import Booked, BookingEntry, book
from fleetbench.workshop.hires.edit import cancel_booking
from fleetbench.workshop.hires.sell import SalePage, sale_page
from fleetbench.workshop.hires.sold import sell, undo_sale
from fleetbench.workshop.parts.demand import list_reservations
from fleetbench.workshop.tickets.list import list_tickets
from fleetbench.workshop.tickets.work import add_finding
from tests.centres.hire_centre import HireCentre


@pytest.fixture
def centre(sqlite_database: Database, clock: Any) -> HireCentre:
    """Three units fit to leave, LK-03 with a rejected cell 2 and one on the shelf, nothing promised."""
    made = HireCentre(Workplace(sqlite_database, clock), clock, units=3)
    made.make_fit()
    cancel_booking(made.workplace, "H-7", "not wanted")
    with made.workplace.transaction("write", "test") as act:
        cell = next(each for each in made.rows(Part) if each.serial == "C-LK-03-2")
        outcome = next(each for each in made.rows(CalibrationOutcome) if each.part_id == cell.id)
        act.change(act.session.get(CalibrationOutcome, outcome.id), verdict="reject")
    return made


def asked(centre: HireCentre, wanted: int, first: int = 6, last: int = 7) -> SalePage:
    question = BookingEntry(kind="hire", unit_type="TYPE-L", first=centre.day(first), last=centre.day(last),
                            wanted=wanted, way="kit")  # fmt: skip
    return sale_page(centre.workplace, question)


def entry(centre: HireCentre, first: int = 6, last: int = 7) -> BookingEntry:
    return BookingEntry(kind="hire", unit_type="TYPE-L", first=centre.day(first), last=centre.day(last),
                        renter_id=centre.keys.other, way="kit")  # fmt: skip


def hire(centre: HireCentre, first: int, last: int, *units: str) -> Booked:
    asks = BookingEntry(kind="hire", unit_type="TYPE-L", first=centre.day(first), last=centre.day(last), units=units,
                        renter_id=centre.keys.renter)  # fmt: skip
    return book(centre.workplace, asks)


def on(centre: HireCentre, code: str) -> list[str]:
    tags = {key: tag for tag, key in centre.units.items()}
    with centre.workplace.database.read_session() as session:
        return sorted(tags[each.unit_id] for each in lines_of(session, booking_by_code(session, code).id))


def best(page: SalePage) -> Sale:
    return page.offers[0].sale


def test_two_can_go_as_they_are_and_the_third_with_a_cell_and_its_minutes(centre: HireCentre) -> None:
    page = asked(centre, 3)
    assert page.ready == ("LK-01", "LK-02")
    assert [(each.sale.units, each.sale.missing) for each in page.offers][-1] == (("LK-01", "LK-02"), 1)
    (lacking,) = page.units
    assert lacking.tag == "LK-03"
    assert "reject" in lacking.why
    assert lacking.ways, lacking
    assert best(page).work == ("LK-03",)
    assert best(page).missing == 0
    (step,) = page.offers[0].steps
    assert step == f"LK-03: replace cell 2 with 1 Cell CELL-L, 20 min, by {centre.day(5)}"


def test_one_act_books_opens_the_ticket_and_reserves_and_one_act_takes_it_all_back(centre: HireCentre) -> None:
    sold = sell(centre.workplace, entry(centre), best(asked(centre, 3)))
    assert on(centre, sold.booked.code) == ["LK-01", "LK-02", "LK-03"]
    (number,) = sold.tickets
    assert [each.text for each in centre.rows(Task)] == ["Replace cell 2"]
    assert [(each.unit, each.slot) for each in list_reservations(centre.workplace)] == [("LK-03", "cell 2")]
    undone = undo_sale(centre.workplace, sold.booked.code, "rang off")
    assert (undone.withdrawn, undone.left) == ((number,), ())
    assert list_reservations(centre.workplace) == ()
    assert [each.ticket.is_open for each in list_tickets(centre.workplace)] == [False]
    assert best(asked(centre, 3)).missing == 0
    assert verify(centre.workplace.database).first_break is None


def test_a_ticket_on_which_work_was_begun_stays(centre: HireCentre) -> None:
    sold = sell(centre.workplace, entry(centre), best(asked(centre, 3)))
    add_finding(centre.workplace, centre.rows(Ticket)[-1].id, "seat of the cell is worn")
    undone = undo_sale(centre.workplace, sold.booked.code, "rang off")
    assert (undone.withdrawn, undone.left) == ((), sold.tickets)


def test_a_promise_moves_to_another_unit_and_back_again(centre: HireCentre) -> None:
    # LK-02 is promised on the first day, on which LK-01 is free too; on the last day LK-01 is promised.
    moves, stays = hire(centre, 6, 6, "LK-02").code, hire(centre, 8, 9, "LK-01").code
    hire(centre, 9, 10, "LK-02")
    page = asked(centre, 1, 6, 8)
    assert page.ready == ()
    assert best(page).moves == ((f"{moves} LK-02", "LK-01"),)
    sold = sell(centre.workplace, entry(centre, 6, 8), best(page))
    assert sold.moved == ((moves, "LK-02", "LK-01"),)
    assert (on(centre, moves), on(centre, sold.booked.code)) == (["LK-01"], ["LK-02"])
    undone = undo_sale(centre.workplace, sold.booked.code, "rang off")
    assert undone.moved_back == (f"{moves} is on LK-02 again",)
    assert (on(centre, moves), on(centre, stays)) == (["LK-02"], ["LK-01"])
    assert verify(centre.workplace.database).first_break is None


def test_what_was_offered_is_refused_once_it_is_no_longer_true(centre: HireCentre) -> None:
    way = best(asked(centre, 3))
    with centre.workplace.transaction("write", "test") as act:
        act.add(Hold(unit_id=centre.units["LK-01"], kind="manual", reason="strap torn", placed_at=act.at,
                     placed_by_id=centre.manager))  # fmt: skip
    with pytest.raises(Refused, match="LK-01"):
        sell(centre.workplace, entry(centre), way)
    assert asked(centre, 3).offers[0].sale.missing == 1
    held = next(each for each in asked(centre, 3).units if each.tag == "LK-01")
    assert (held.ways, "manual hold" in held.why) == ((), True)


def test_other_days_near_by_are_told_where_these_are_full(centre: HireCentre) -> None:
    hire(centre, 6, 6, "LK-01")
    page = asked(centre, 2, 6, 6)
    assert page.other_days[0] in ((centre.day(5), centre.day(5)), (centre.day(7), centre.day(7)))


def test_a_part_on_order_is_waited_for_and_not_ordered_again(centre: HireCentre) -> None:
    with centre.workplace.transaction("write", "test") as act:
        cell = next(each for each in centre.rows(Part) if each.serial == "C-LK-03-2")
        for each in centre.rows(Part):
            if each.state == "stock":
                act.change(act.session.get(Part, each.id), state="scrapped")
        order = act.add(PartOrder(part_type_id=cell.part_type_id, pieces=1, ordered_at=act.at,
                                  ordered_by_id=centre.manager, expected_on=centre.day(3)))  # fmt: skip
    sale = best(asked(centre, 3))
    assert (sale.work, sale.awaited, sale.ordered, sale.missing) == (("LK-03",), ("LK-03",), (), 0)
    assert f"on order, expected by {centre.day(3)}" in asked(centre, 3).offers[0].steps[0]
    assert sell(centre.workplace, entry(centre), sale).ordered == ()
    assert [each.id for each in centre.rows(PartOrder)] == [order.id]
