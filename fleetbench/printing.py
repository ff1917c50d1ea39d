"""Printing as people ask for it: the workshop's answers onto the pages, under the centre's letterhead."""

from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path

from fleetbench.paper.core import from_workshop
from fleetbench.paper.core.document import PageSize
from fleetbench.paper.core.saving import Target
from fleetbench.paper.core.shapes import BoardRow, CourseBoard, Letterhead, ReturnReceipt, UnitForm
from fleetbench.paper.due.page import write_due_list
from fleetbench.paper.hires.pages import write_course_board, write_return_receipt
from fleetbench.paper.hires.sheet import write_handover
from fleetbench.paper.notices.pages import write_notice_list, write_recall
from fleetbench.paper.parts.notes import write_return
from fleetbench.paper.tickets.ticket import write_ticket
from fleetbench.paper.turn_rounds.blank import write_daily_log
from fleetbench.paper.turn_rounds.card import write_turn_round
from fleetbench.records.core.errors import Refused
from fleetbench.records.upkeep.verify import journal_end
from fleetbench.workshop.bench.openings import after_routine_openings
from fleetbench.workshop.core.centre import read_centre
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.due.list import DueItem
from fleetbench.workshop.hires.list import HandoverFacts
from fleetbench.workshop.hires.pages import course_board, return_facts
from fleetbench.workshop.notices.acts import notice_page, units_not_done
from fleetbench.workshop.parts.demand import HORIZON_DAYS
from fleetbench.workshop.parts.fetch import fetch_list
from fleetbench.workshop.parts.orders import SERVICE_LEVEL, order_list
from fleetbench.workshop.parts.part_returns import return_page
from fleetbench.workshop.people.list import list_people
from fleetbench.workshop.tickets.list import TicketPage
from fleetbench.workshop.tickets.photographs import pictures_of
from fleetbench.workshop.turn_rounds.handsets import previous_data_told
from fleetbench.workshop.turn_rounds.page import turn_round_desk
from fleetbench.workshop.units.schematic import unit_schematic

DUE_ENDINGS = (".pdf", ".csv", ".xlsx", ".ics")


def letterhead(shop: Shop) -> Letterhead:
    """The centre, the moment, who prints, and the head of the journal."""
    centre = read_centre(shop)
    number, digest = journal_end(shop.database)
    by = next((person.name for person in list_people(shop) if person.person_id == shop.person_id), None)
    return from_workshop.letterhead(
        centre.name,
        shop.clock(),
        shop.zone(),
        telephone=centre.telephone,
        by=by,
        journal_entry=number or None,
        journal_hash=digest,
    )


def print_due(
    shop: Shop,
    items: Sequence[DueItem],
    first: date,
    last: date,
    target: Path,
    *,
    size: PageSize = PageSize.A4,
    grouped_by: str = "day",
) -> None:
    """Write a due list with the parts to fetch; the file's ending says whether as PDF, CSV, XLSX or iCalendar."""
    ending = target.suffix.lower()
    if ending not in DUE_ENDINGS:
        raise Refused(f"{target.name}: end the name in {', '.join(DUE_ENDINGS)}")
    fetch = from_workshop.fetch_lines(fetch_list(shop, items, last, on=first))
    facts = from_workshop.due_facts(items, letterhead(shop), first, last, grouped_by=grouped_by, fetch=fetch)
    if ending == ".pdf":
        write_due_list(facts, target, size=size)
    elif ending == ".ics":
        # icalendar, pandas and openpyxl are slow to import and each serves one ending
        from fleetbench.paper.due.calendar import write_due_ics

        write_due_ics(facts, target, stamp=shop.clock())
    else:
        from fleetbench.paper.due.tables import write_due_csv, write_due_xlsx

        (write_due_csv if ending == ".csv" else write_due_xlsx)(facts, target)


def print_orders(
    shop: Shop,
    target: Path,
    *,
    horizon_days: int = HORIZON_DAYS,
    service_level: float = SERVICE_LEVEL,
    size: PageSize = PageSize.A4,
) -> None:
    """Write the order list; the file's ending says whether as PDF or CSV."""
    # openpyxl comes with the tables and is slow to import
    from fleetbench.paper.parts.orders import write_order_csv, write_order_list

    ending = target.suffix.lower()
    if ending not in (".pdf", ".csv"):
        raise Refused(f"{target.name}: end the name in .pdf or .csv")
    today = shop.today()
    lines = order_list(shop, horizon_days=horizon_days, service_level=service_level)
    through = today + timedelta(days=horizon_days)
    facts = from_workshop.order_facts(lines, letterhead(shop), today, through, service_level)
    if ending == ".pdf":
        write_order_list(facts, target, size=size)
    else:
        write_order_csv(facts, target)


def print_notices(shop: Shop, target: Path, *, size: PageSize = PageSize.A4) -> None:
    """Write the units on which a notice's action is not done, as PDF."""
    facts = from_workshop.notice_list_facts(units_not_done(shop), letterhead(shop), shop.today())
    write_notice_list(facts, target, size=size)


def print_recall(shop: Shop, number: str, target: Path, *, size: PageSize = PageSize.A4) -> None:
    """Write one notice with every part, unit and hire that it touched, as PDF."""
    write_recall(from_workshop.recall_facts(notice_page(shop, number), letterhead(shop)), target, size=size)


def print_return(shop: Shop, part_id: int, target: Path, *, size: PageSize = PageSize.A4) -> None:
    """Write the note of a part sent back under warranty, with the readings that prove it, as PDF."""
    facts = from_workshop.return_facts(return_page(shop, part_id), letterhead(shop), shop.zone())
    write_return(facts, target, size=size)


def print_ticket(shop: Shop, ticket: TicketPage, target: Path, *, size: PageSize = PageSize.A4) -> None:
    """Write a service ticket as PDF."""
    drawn = unit_schematic(shop, ticket.row.unit)
    pictures = pictures_of(shop, (each.sha256 for each in ticket.photographs))
    facts = from_workshop.ticket_facts(ticket, letterhead(shop), shop.zone(), schematic=drawn, pictures=pictures)
    write_ticket(facts, target, size=size)


def print_daily_log(shop: Shop, facts: HandoverFacts, target: Target, *, size: PageSize = PageSize.A4) -> int:
    """Write the seven days' log of one unit on its booking, with its own cells and handsets, as PDF."""
    form = UnitForm(
        letterhead(shop),
        facts.record or f"{facts.tag} {facts.today.isoformat()}",
        facts.tag,
        facts.unit_type,
        facts.booking,
        facts.starts_on,
        tuple(each.position for each in facts.cells) or ("cell 1", "cell 2", "cell 3"),
        tuple(each.slot for each in facts.handsets) or ("handset 1",),
    )
    return write_daily_log(form, target, size=size)


def print_course_board(shop: Shop, code: str, target: Target, *, size: PageSize = PageSize.A4) -> int:
    """Write the board of a course or booking: a row a unit, who dives it and what stands in the way; as PDF."""
    board = course_board(shop, code)
    rows = tuple(
        BoardRow(each.unit, each.who or "spare", each.leaves, each.harness or "", each.state, each.why)
        for each in board.rows
    )
    row = board.booking
    facts = CourseBoard(
        letterhead(shop), row.code, row.kind, row.unit_type, row.instructor, row.starts_on, row.ends_on,
        row.units_wanted, board.spares, row.planned_minutes, row.planned_depth_m, rows, board.without,
    )  # fmt: skip
    return write_course_board(facts, target, size=size)


def print_return_receipt(shop: Shop, line_id: int, target: Target, *, size: PageSize = PageSize.A4) -> int:
    """Write the receipt of a return that was received, as PDF."""
    back, zone = return_facts(shop, line_id), shop.zone()
    facts = ReturnReceipt(
        letterhead(shop), back.record, back.unit, back.booking, back.renter, back.starts_on, back.ends_on,
        back.received_at.astimezone(zone), back.received_by, back.days_late, back.deposit, back.deposit_back,
        back.loop_minutes, back.dives, back.damaged, back.missing,
        tuple((each.name, each.sent or 0, each.back) for each in back.accessories),
    )  # fmt: skip
    return write_return_receipt(facts, target, size=size)


def print_turn_round(shop: Shop, tag: str, target: Path, *, size: PageSize = PageSize.A4) -> None:
    """Write a unit's turn-round card as far as it was done, as PDF; Refused where it never had one."""
    desk = turn_round_desk(shop, tag)
    if desk.card is None:
        raise Refused(f"unit {tag}: has no turn-round card; open one first")
    write_turn_round(from_workshop.turn_round_facts(desk, letterhead(shop), shop.zone()), target, size=size)


def print_handover(shop: Shop, facts: HandoverFacts, target: Target, *, size: PageSize = PageSize.A4) -> None:
    """Write a hand-over sheet as PDF, one page."""
    sheet = from_workshop.handover_facts(
        facts,
        letterhead(shop),
        shop.zone(),
        schematic=unit_schematic(shop, facts.tag),
        also_do=(*after_routine_openings(shop, facts.tag), *previous_data_told(shop, facts.tag)),
    )
    write_handover(sheet, target, size=size)
