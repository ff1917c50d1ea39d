"""The printed pages of the sample fleet as pictures, a picture a sheet."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from functools import partial
from pathlib import Path

import pypdfium2

from fleetbench.paper.core.document import PageSize
from fleetbench.printing import (
    print_course_board,
    print_daily_log,
    print_due,
    print_handover,
    print_ticket,
    print_turn_round,
)
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import list_due
from fleetbench.workshop.hires.list import handover_facts, list_bookings
from fleetbench.workshop.tickets.list import list_tickets, ticket_page
from fleetbench.workshop.turn_rounds.page import list_turn_rounds

PIXELS_A_POINT = 2.0


def due_list(workplace: Workplace, target: Path) -> None:
    """The due list of the next 60 days."""
    today = workplace.today()
    print_due(workplace, list_due(workplace, within_days=60), today, today + timedelta(days=60), target)


def ticket(workplace: Workplace, target: Path) -> None:
    """The newest signed ticket."""
    signed = next(row for row in list_tickets(workplace) if row.ticket.signed_at is not None)
    print_ticket(workplace, ticket_page(workplace, signed.number), target)


def hand_over(workplace: Workplace, target: Path) -> None:
    """The sheet of the first unit that is promised next."""
    booking = next(row for row in list_bookings(workplace) if row.units and row.state in ("out", "late", "to come"))
    print_handover(workplace, handover_facts(workplace, booking.units[0], booking.booking.code), target)


def board(workplace: Workplace, target: Path) -> None:
    """The board of the first course that is to come."""
    rows = [row for row in list_bookings(workplace) if row.units and row.state == "to come"]
    course = next((row for row in rows if row.booking.kind == "course"), rows[0])
    print_course_board(workplace, course.booking.code, target)


def daily_log(workplace: Workplace, target: Path) -> None:
    """The log of the first unit that is promised next."""
    booking = next(row for row in list_bookings(workplace) if row.units and row.state in ("out", "late", "to come"))
    print_daily_log(workplace, handover_facts(workplace, booking.units[0], booking.booking.code), target)


def turn_round(workplace: Workplace, target: Path) -> None:
    """The oldest open turn-round card."""
    print_turn_round(workplace, list_turn_rounds(workplace)[0].card.unit, target)


PRINTED: tuple[tuple[str, Callable[[Workplace, Path], None]], ...] = (
    ("due_list", due_list),
    ("ticket", ticket),
    ("hand_over", hand_over),
    ("board", board),
    ("daily_log", daily_log),
    ("turn_round", turn_round),
)


def render_printed(database: Path, out: Path, scratch: Path) -> list[Path]:
    """Every printed page on A4 and Letter."""
    workplace, taken = Workplace(open_database(database)), []
    for size in PageSize:
        for name, write in PRINTED:
            target = scratch / f"{name}_{size.name.lower()}.pdf"
            write(replace(workplace, paper=partial(str, size.name)), target)
            taken += _pictures(target, out / "printed")
    workplace.database.close()
    return taken


def _pictures(pdf: Path, out: Path) -> list[Path]:
    out.mkdir(parents=True, exist_ok=True)
    document, taken = pypdfium2.PdfDocument(pdf), []
    for number, page in enumerate(document, start=1):
        taken.append(out / f"{pdf.stem}_{number}.png")
        page.render(scale=PIXELS_A_POINT).to_pil().save(taken[-1])
    document.close()
    return taken
