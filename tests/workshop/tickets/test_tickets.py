"""Tickets in the list and on their page."""

from typing import Any

import pytest
from sqlalchemy import select

from fleetbench.records.core.errors import NotFound
from fleetbench.records.core.journal import Journal
from fleetbench.records.parts.tables import Fitting, Part
from fleetbench.records.tickets.tables import Finding
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.tickets.list import list_tickets, ticket_page
from fleetbench.workshop.tickets.work import add_finding, open_ticket
from tests.centres.ready_centre import Centre, counted


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> Centre:
    """The small centre, its units fit to leave."""
    return Centre(workplace, clock)


def test_the_list_counts_tasks_and_filters_open_ones(centre: Centre) -> None:
    first = centre.ticket(centre.one, 7)
    centre.task(first, "to do")
    centre.task(first, "put off", times=1)
    centre.ticket(centre.one, 8, signed_at=centre.ago(0.1), signed_by_id=centre.keys.centre.manager, refers_to_id=first)
    signed, listed = list_tickets(centre.workplace)
    assert (listed.number, listed.tasks_open, listed.put_off, listed.ticket.opened_by) == (
        "2026-007",
        1,
        1,
        "Tamsin Orrel",
    )
    assert (signed.number, signed.ticket.signed_by, signed.refers_to) == ("2026-008", "Jarek Vinthe", "2026-007")
    assert [row.number for row in list_tickets(centre.workplace, open_only=True)] == ["2026-007"]


def test_the_page_holds_everything_done_under_the_ticket(centre: Centre) -> None:
    ticket = centre.ticket(centre.one, 14)
    centre.add(Finding(ticket_id=ticket, at=centre.ago(0.5), person_id=centre.keys.centre.technician, text="seal worn"))
    old, new = centre.part("C-LK-01-3"), centre.part("C-NEW")
    with centre.act() as act:
        was = act.session.scalars(select(Fitting).where(Fitting.part_id == old)).one()
        act.change(was, removed_at=centre.ago(0.4), why_removed="low output", removal_ticket_id=ticket)
        seat = {"slot_id": was.slot_id, "host_part_id": was.host_part_id}
        act.add(Fitting(part_id=new, fitted_at=centre.ago(0.3), ticket_id=ticket, **seat))
        act.change(act.get(Part, new, "part"), state="fitted")
    centre.test(centre.one, "loop negative", None, 0.2, ticket_id=ticket)
    page = ticket_page(centre.workplace, "2026-014")
    assert page == ticket_page(centre.workplace, " 2026/14 ")
    assert [(move.way, move.move.serial, move.move.lot, move.why) for move in page.moves] == [
        ("out", "C-LK-01-3", "L3", "low output"), ("in", "C-NEW", "L9", None)
    ]  # fmt: skip
    assert page.moves[0].host == "HEAD-L-LK-01"
    assert [finding.text for finding in page.findings] == ["seal worn"]
    assert [test.record.kind for test in page.tests] == ["loop negative"]
    assert page.signed_in is None
    with pytest.raises(NotFound, match="give the number as printed"):
        ticket_page(centre.workplace, "nonsense")


def test_the_page_carries_the_number_and_hash_of_its_last_journal_entry(centre: Centre) -> None:
    key = open_ticket(centre.workplace, "LK-01", cause="by hand", reason="noise", tasks=("look",))
    add_finding(centre.workplace, key, "a loose clamp")
    page = ticket_page(centre.workplace, list_tickets(centre.workplace)[0].number)
    with centre.workplace.database.reading() as connection:
        last = connection.execute(select(Journal.id, Journal.hash).order_by(Journal.id.desc()).limit(1)).one()
    assert page.entry is not None and (page.entry.entry, page.entry.hash) == tuple(last)


def test_list_and_page_take_a_fixed_number_of_statements(centre: Centre, sample_workplace: Workplace) -> None:
    centre.ticket(centre.one, 1, signed_at=centre.ago(0.1), signed_by_id=centre.keys.centre.manager)
    counts = []
    for workplace in (centre.workplace, sample_workplace):
        number = list_tickets(workplace)[-1].number
        with counted(workplace) as seen:
            list_tickets(workplace)
            ticket_page(workplace, number)
        counts.append(len(seen))
    assert counts[0] == counts[1]


def test_a_turn_round_of_the_sample_fleet_holds_its_tests_and_calibration(sample_workplace: Workplace) -> None:
    turned = [
        row for row in list_tickets(sample_workplace) if row.ticket.cause == "turn-round" and row.ticket.signed_at
    ]
    page = ticket_page(sample_workplace, turned[0].number)
    assert {test.record.kind for test in page.tests} >= {"one-way valve", "loop negative", "loop positive"}
    assert len(page.calibrations) == 3
    assert page.row.ticket.signed_at is not None
