"""Printing as people ask for it: the workshop's answers onto the pages, under the centre's letterhead."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, timedelta
from io import BytesIO
from pathlib import Path

from fleetbench.calc.core.languages import say
from fleetbench.calc.hires.log import CELLS, HANDSETS
from fleetbench.paper.core.document import letterhead
from fleetbench.paper.core.marks import at_site
from fleetbench.paper.due.page import DueList, write_due_list
from fleetbench.paper.hires.handover_sheet import HandoverSheet
from fleetbench.paper.hires.pages import (
    page_state,
    write_bench_day,
    write_course_board,
    write_handover,
    write_return_receipt,
)
from fleetbench.paper.notices.pages import write_notice_list, write_recall
from fleetbench.paper.parts.pages import write_return
from fleetbench.paper.tickets.ticket import write_ticket
from fleetbench.paper.turn_rounds.pages import UnitForm, write_daily_log, write_service_card, write_turn_round
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.plain_file import Target, written
from fleetbench.workshop.bench.tests import after_routine_openings
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import DueItem, list_due, settled_since
from fleetbench.workshop.earnings.report import EarningsReport
from fleetbench.workshop.hires.list import HandoverFacts, handover_facts
from fleetbench.workshop.hires.pages import bench_day, course_board, return_facts
from fleetbench.workshop.hires.signing import PageToSign, Signed, Stroke, sign_sheet, signed_page
from fleetbench.workshop.import_export.export import given_back
from fleetbench.workshop.import_export.spreadsheet import Layout
from fleetbench.workshop.import_export.walk_round import WalkLine
from fleetbench.workshop.notices.acts import notice_page, units_not_done
from fleetbench.workshop.parts.acts import return_page
from fleetbench.workshop.parts.demand import HORIZON_DAYS
from fleetbench.workshop.parts.orders import SERVICE_LEVEL, fetch_list, order_list
from fleetbench.workshop.tickets.list import TicketPage
from fleetbench.workshop.tickets.photographs import pictures_of
from fleetbench.workshop.tickets.service_plan import service_plan
from fleetbench.workshop.turn_rounds.card import card_lines
from fleetbench.workshop.turn_rounds.handsets import handset_desk, previous_data_told
from fleetbench.workshop.turn_rounds.page import turn_round_desk
from fleetbench.workshop.units.list import unit_page
from fleetbench.workshop.units.schematic import unit_schematic

DUE_ENDINGS = (".pdf", ".csv", ".xlsx", ".ics")


def print_due(
    workplace: Workplace,
    items: Sequence[DueItem],
    first: date,
    last: date,
    target: Path,
    *,
    grouped_by: str = "day",
) -> None:
    """Write a due list with the parts to fetch; the file's ending says whether as PDF, CSV, XLSX or iCalendar."""
    ending = target.suffix.lower()
    if ending not in DUE_ENDINGS:
        raise Refused(_ending_words(target, DUE_ENDINGS))
    due = DueList(on=first, through=last, items=tuple(items), fetch=fetch_list(workplace, items, last, on=first))
    if ending == ".pdf":
        head = letterhead(workplace)
        write_due_list(due, target, head=head, grouped_by=grouped_by, size=head.size)
    elif ending == ".ics":
        # icalendar and openpyxl are slow to import and each serves one ending
        from fleetbench.paper.due.exports import write_due_ics

        settled = settled_since(workplace, first - (last - first))
        due = replace(due, settled=settled).with_later(list_due(workplace, on=first))
        write_due_ics(due, target, head=letterhead(workplace), stamp=workplace.clock())
    else:
        from fleetbench.paper.due.exports import write_due_csv, write_due_xlsx

        if ending == ".csv":
            write_due_csv(due, target)
        else:
            write_due_xlsx(due, target, head=letterhead(workplace))


def print_finish_list(workplace: Workplace, name: str, lines: Sequence[tuple[str, ...]], target: Path) -> None:
    """Write what is to finish of an imported file; the file's ending says whether as PDF, CSV or XLSX."""
    # openpyxl comes with the tables and is slow to import
    from fleetbench.paper.import_export.sheets import write_finish_list, write_finish_table

    ending = _one_of(target, ".pdf", ".csv", ".xlsx")
    if ending == ".pdf":
        head = letterhead(workplace)
        write_finish_list(name, lines, target, head=head, size=head.size)
    else:
        write_finish_table(name, lines, target, head=letterhead(workplace), xlsx=ending == ".xlsx")


def print_walk_round(workplace: Workplace, words: str, lines: Sequence[WalkLine], target: Path) -> None:
    """Write what is not known of the fleet, to walk along the shelf with, as the ending says: PDF, CSV or XLSX."""
    # openpyxl comes with the tables and is slow to import
    from fleetbench.paper.import_export.sheets import write_walk_round, write_walk_table

    ending = _one_of(target, ".pdf", ".csv", ".xlsx")
    if ending == ".pdf":
        head = letterhead(workplace)
        write_walk_round(lines, words, target, head=head, size=head.size)
    else:
        write_walk_table(lines, target, head=letterhead(workplace), xlsx=ending == ".xlsx")


def give_back(workplace: Workplace, path: Path, layout: Layout, names: tuple[str, ...], target: Path) -> int:
    """Write a centre's own spreadsheet again, filled in and current, as XLSX; returns how many records it holds."""
    from fleetbench.paper.import_export.sheets import write_given_back

    _one_of(target, ".xlsx")
    return write_given_back(given_back(workplace, path, layout, names), target)


def _ending_words(target: Path, endings: Sequence[str]) -> str:
    return say("{name}: end the name in {endings}", name=target.name, endings=", ".join(endings))


def _one_of(target: Path, *endings: str) -> str:
    ending = target.suffix.lower()
    if ending not in endings:
        raise Refused(_ending_words(target, endings))
    return ending


def print_orders(
    workplace: Workplace,
    target: Path,
    *,
    horizon_days: int = HORIZON_DAYS,
    service_level: float = SERVICE_LEVEL,
) -> None:
    """Write the order list; the file's ending says whether as PDF, CSV or XLSX."""
    # openpyxl comes with the tables and is slow to import
    from fleetbench.paper.parts.pages import write_order_list, write_order_table

    ending, head, today = _one_of(target, ".pdf", ".csv", ".xlsx"), letterhead(workplace), workplace.today()
    lines = order_list(workplace, horizon_days=horizon_days, service_level=service_level)
    if ending != ".pdf":
        write_order_table(lines, target, head=head, xlsx=ending == ".xlsx")
        return
    through = today + timedelta(days=horizon_days)
    write_order_list(lines, target, head=head, on=today, through=through, service_level=service_level, size=head.size)


def print_earnings(workplace: Workplace, report: EarningsReport, target: Path) -> None:
    """Write what the fleet was used for and cost; the file's ending says whether as PDF or XLSX."""
    # openpyxl comes with the tables and is slow to import
    from fleetbench.paper.earnings.report import write_earnings, write_earnings_xlsx

    head = letterhead(workplace)
    if _one_of(target, ".pdf", ".xlsx") == ".pdf":
        write_earnings(report, target, head=head, size=head.size)
    else:
        write_earnings_xlsx(report, target, head=head)


def print_bench_day(workplace: Workplace, on: date | None, target: Target) -> None:
    """Write the bench day of a date, today where None, as PDF."""
    head = letterhead(workplace)
    write_bench_day(bench_day(workplace, on), target, head=head, size=head.size)


def print_notices(workplace: Workplace, target: Path) -> None:
    """Write the units on which a notice's action is not done, as PDF."""
    head = letterhead(workplace)
    write_notice_list(units_not_done(workplace), target, head=head, on=workplace.today(), size=head.size)


def print_recall(workplace: Workplace, number: str, target: Path) -> None:
    """Write one notice with every part, unit and hire that it touched, as PDF."""
    head = letterhead(workplace)
    write_recall(notice_page(workplace, number), target, head=head, size=head.size)


def print_return(workplace: Workplace, part_id: int, target: Path) -> None:
    """Write the note of a part sent back under warranty, with the readings that prove it, as PDF."""
    head = letterhead(workplace)
    write_return(at_site(return_page(workplace, part_id), workplace.zone()), target, head=head, size=head.size)


def print_ticket(workplace: Workplace, ticket: TicketPage, target: Path) -> None:
    """Write a service ticket as PDF."""
    drawn = unit_schematic(workplace, ticket.row.ticket.unit)
    pictures = pictures_of(workplace, (each.sha256 for each in ticket.photographs))
    page = at_site(ticket, workplace.zone())
    head = letterhead(workplace)
    write_ticket(page, target, head=head, schematic=drawn, pictures=pictures, size=head.size)


def print_daily_log(workplace: Workplace, facts: HandoverFacts, target: Target, *, fields: bool = False) -> int:
    """Write the log of one unit on its booking, with its own cells and handsets, as PDF; fields: to fill in there."""
    form = UnitForm(
        letterhead=letterhead(workplace),
        record=facts.record or f"{facts.tag} {facts.today.isoformat()}",
        unit=facts.tag,
        unit_type=facts.unit_type,
        booking=facts.booking,
        cells=tuple(each.position for each in facts.cells) or CELLS,
        handsets=tuple(each.slot for each in facts.handsets) or HANDSETS,
    )
    return write_daily_log(form, target, size=form.letterhead.size, fields=fields)


def print_blank(workplace: Workplace, write: Callable[..., int], tag: str, target: Target) -> int:
    """Write a daily log or a turn-round card to fill in by hand, of a unit with its own cells and handsets; as PDF.

    write: what draws it. tag: empty for one of no unit, for a day without power.
    """
    form = _form_of(workplace, tag)
    return write(form, target, size=form.letterhead.size)


def print_service_card(workplace: Workplace, tag: str, target: Target) -> int:
    """Write the tasks and steps of a unit's service plan to fill in by hand, as PDF."""
    form = _form_of(workplace, tag)
    plan = service_plan(workplace, unit_page(workplace, tag).row.unit_type)
    return write_service_card(plan, form, target, size=form.letterhead.size)


def _form_of(workplace: Workplace, tag: str) -> UnitForm:
    head, day = letterhead(workplace), workplace.today().isoformat()
    if not tag:
        return UnitForm(letterhead=head, record=day)
    page = unit_page(workplace, tag)
    return UnitForm(
        letterhead=head,
        record=f"{page.row.tag} {day}",
        unit=page.row.tag,
        unit_type=page.row.unit_type,
        cells=tuple(each.position for each in page.cells) or CELLS,
        handsets=tuple(each.slot for each in handset_desk(workplace, tag).handsets) or HANDSETS,
        card=card_lines(workplace, tag),
    )


def print_course_board(workplace: Workplace, code: str, target: Target) -> int:
    """Write the board of a course or booking: a row a unit, who dives it and what stands in the way; as PDF."""
    head = letterhead(workplace)
    return write_course_board(course_board(workplace, code), target, head=head, size=head.size)


def print_return_receipt(workplace: Workplace, line_id: int, target: Target) -> int:
    """Write the receipt of a return that was received, as PDF."""
    facts = at_site(return_facts(workplace, line_id), workplace.zone())
    head = letterhead(workplace)
    return write_return_receipt(facts, target, head=head, size=head.size)


def print_turn_round(workplace: Workplace, tag: str, target: Target) -> None:
    """Write a unit's turn-round card as far as it was done, as PDF; Refused where it never had one."""
    desk = turn_round_desk(workplace, tag)
    if desk.card is None:
        raise Refused(say("unit {tag}: has no turn-round card; open one first", tag=tag))
    head = letterhead(workplace)
    write_turn_round(at_site(desk, workplace.zone()), target, head=head, size=head.size)


def print_handover(workplace: Workplace, facts: HandoverFacts, target: Target, *, now: bool = False) -> None:
    """Write a hand-over sheet as PDF: the page as it was signed, where one of these days was.

    now: how the unit stands now, on a page that says so, even where a page was signed.
    """
    if facts.signed_page is not None and not now:
        with written(target) as stream:
            stream.write(signed_page(workplace, facts.signed_page))
        return
    sheet = _sheet(workplace, facts)
    if facts.signed_page is not None:
        sheet = replace(sheet, facts=replace(sheet.facts, signatures=()), only_shows=True)
    else:
        sheet = _of_this_state(sheet)
    write_handover(sheet, target, size=sheet.letterhead.size)


def sign_handover(workplace: Workplace, code: str, tag: str, party: str, strokes: tuple[Stroke, ...] = ()) -> int:
    """The key of a new signature under a hand-over sheet; the page is drawn with it and kept as it was signed.

    A signature of the other party stands on it too where the page still states the same.
    """
    sheet = _sheet(workplace, handover_facts(workplace, tag, code))

    def draw(signed: Signed) -> bytes:
        own = at_site(signed, workplace.zone())
        beside = tuple(each for each in now.facts.signatures if each.party != party)
        stream = BytesIO()
        write_handover(
            replace(now, facts=replace(now.facts, signatures=(*beside, own))), stream, size=sheet.letterhead.size
        )
        return stream.getvalue()

    now = _of_this_state(sheet)
    page = PageToSign(page_state(sheet, sheet.letterhead.size), draw, sheet.letterhead.journal_entry or 0)
    return sign_sheet(workplace, code, tag, party, strokes, page)


def _sheet(workplace: Workplace, facts: HandoverFacts) -> HandoverSheet:
    return HandoverSheet(
        facts=at_site(facts, workplace.zone()),
        letterhead=letterhead(workplace),
        schematic=unit_schematic(workplace, facts.tag),
        also_do=(*after_routine_openings(workplace, facts.tag), *previous_data_told(workplace, facts.tag)),
    )


def _of_this_state(sheet: HandoverSheet) -> HandoverSheet:
    """The sheet on which a signature under a page that stated anything else counts as one to be given again."""
    if not sheet.facts.signatures:
        return sheet
    state = page_state(sheet, sheet.letterhead.size)
    signed = tuple(
        replace(each, of_other_days=each.of_other_days or each.state != state) for each in sheet.facts.signatures
    )
    before = sheet.facts.signed_before if any(each.of_other_days for each in signed) else None
    return replace(sheet, facts=replace(sheet.facts, signatures=signed, signed_before=before))
