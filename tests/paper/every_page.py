"""Every kind of printed page, of the sample fleet and of invented rows, in any language.

``python -m tests.paper.every_page OUT [--language CODE] [NAME ...]`` puts them there as pictures, and tells what had no
room to stand whole.
"""

import argparse
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import partial
from io import BytesIO
from pathlib import Path

from PIL import Image

from fleetbench import printing
from fleetbench.calc.core.languages import ENGLISH, language, reading, say, spoken_here
from fleetbench.paper.canisters.labels import write_fill_labels
from fleetbench.paper.core.document import letterhead
from fleetbench.paper.core.marks import at_site
from fleetbench.paper.core.pen import spoilt_lines
from fleetbench.paper.gas.label import write_cylinder_labels
from fleetbench.paper.hires.pages import write_handover
from fleetbench.paper.parts.pages import write_fetch_list, write_return
from fleetbench.paper.turn_rounds.pages import write_daily_log, write_turn_round_card
from fleetbench.records.parts.lookups import ProofFigures
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.shipped import shipped
from fleetbench.workshop.canisters.history import fill_label
from fleetbench.workshop.canisters.list import list_canisters
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import list_due
from fleetbench.workshop.earnings.report import earnings
from fleetbench.workshop.gas.list import cylinder_label, list_cylinders
from fleetbench.workshop.hires.list import handover_facts, hire_lines, list_bookings
from fleetbench.workshop.import_export.import_folder import import_folder
from fleetbench.workshop.import_export.walk_round import walk_round
from fleetbench.workshop.notices.acts import list_notices
from fleetbench.workshop.parts.acts import ReturnPage
from fleetbench.workshop.parts.list import part_page
from fleetbench.workshop.parts.orders import fetch_list
from fleetbench.workshop.tickets.list import list_tickets, ticket_page
from fleetbench.workshop.turn_rounds.page import list_turn_rounds
from fleetbench.workshop.units.list import list_units
from tests.paper import golden, sample_pages
from tests.paper.distinct import Distinct
from tests.paper.pdf_reader import made, pictures

Page = Callable[[], bytes]
FINISH = (
    ("7", "KB-07", "valid until", "31.02.2026", "no day of the calendar", "2026-02-28"),
    ("12", "KB-09", "size", "", "cylinders: size is missing", ""),
)


@dataclass(frozen=True)
class Made:
    """One kind of page as it was made: the file, and its lines that had no room to stand whole."""

    name: str
    pdf: bytes
    spoilt: tuple[str, ...]


def pages_in(code: str, pages: dict[str, Page], names: list[str] | None = None) -> Iterator[Made]:
    """Each page with the desk, and its renter, reading that language."""
    with reading(None if code == ENGLISH else language(code)):
        for name, page in pages.items():
            if names and not any(name.startswith(each) for each in names):
                continue
            with spoilt_lines() as spoilt:
                pdf = page()
            yield Made(name, pdf, tuple(spoilt))


def invented_pages() -> dict[str, Page]:
    """What the pictures are kept of, and the pages of invented rows that the sample fleet has no case of."""
    kept = {f"kept-{each.name}": each.pdf for each in golden.KEPT if "scripts" not in each.name}
    return kept | {
        "log-blank": partial(made, write_daily_log, sample_pages.blank_form()),
        "card-blank": partial(made, write_turn_round_card, sample_pages.blank_form()),
        "hand-over-in-two": lambda: made(write_handover, sample_pages.handover(language=spoken_here())),
    }


def sample_pages_of(workplace: Workplace, folder: Path) -> dict[str, Page]:
    """The pages of the sample fleet that have most on them; what is told is read once, whatever language is shown."""
    today, zone, head = workplace.today(), workplace.zone(), letterhead(workplace)
    bookings = list_bookings(workplace)
    going = [row for row in bookings if row.units and row.state in ("out", "late", "to come")]
    course = next((row for row in going if row.booking.kind == "course"), going[0])
    past = next(row for row in list_bookings(workplace, past=True) if row.state == "back" and row.units)
    back = hire_lines(workplace, past.booking.code)[0].line.line_id
    signed = next(row for row in list_tickets(workplace) if row.ticket.signed_at is not None)
    opened = next(row for row in list_tickets(workplace) if row.ticket.signed_at is None)
    units = [row.tag for row in list_units(workplace)]
    turned = [row.card.unit for row in list_turn_rounds(workplace)]
    canister = max((row for row in list_canisters(workplace) if row.fill), key=lambda row: row.fill.fill_id)
    cylinders = [cylinder_label(workplace, row.part.part_id) for row in list_cylinders(workplace)[:4]]
    facts = {tag: handover_facts(workplace, tag) for tag in units[:2] + units[-1:]}
    walk, due = walk_round(workplace), list_due(workplace, within_days=60)
    fetch = fetch_list(workplace, due, today + timedelta(days=60))
    report = earnings(workplace, today - timedelta(days=6), today)
    notices = [row.notice.number for row in list_notices(workplace)]

    def as_file(write: Callable[[Path], object]) -> bytes:
        target = folder / "page.pdf"
        write(target)
        return target.read_bytes()

    def as_stream(write: Callable[..., object], *rows: object) -> bytes:
        stream = BytesIO()
        write(*rows, stream)
        return stream.getvalue()

    def handed(tag: str) -> bytes:
        return as_stream(printing.print_handover, workplace, replace(facts[tag], language=spoken_here()))

    def ticket(number: str) -> bytes:
        return as_stream(printing.print_ticket, workplace, ticket_page(workplace, number))

    def listed(by: str) -> bytes:
        last = today + timedelta(days=60)
        return as_file(lambda path: printing.print_due(workplace, due, today, last, path, grouped_by=by))

    proofs = (Distinct().row(ProofFigures, kind="calibration", result="reject"),)
    served = (say("{since:%Y-%m-%d} to now", since=today),)
    note = ReturnPage(
        1, part_page(workplace, cylinders[0].part.part_id), workplace.clock(), None, "fault", served, proofs
    )
    label = fill_label(workplace, canister.part.part_id)
    found: dict[str, Page] = {f"sample-hand-over-{tag}": partial(handed, tag) for tag in facts}
    found |= {f"sample-ticket-{row.number}": partial(ticket, row.number) for row in (signed, opened)}
    found |= {f"sample-recall-{number}": partial(as_stream, printing.print_recall, workplace, number)
              for number in notices[:2]}  # fmt: skip
    found |= {f"sample-due-by-{by}": partial(listed, by) for by in ("day", "unit")}
    return found | {
        "sample-orders": partial(as_file, partial(printing.print_orders, workplace)),
        "sample-fetch": partial(made, write_fetch_list, fetch, head=head, first=today, last=today + timedelta(days=60)),
        "sample-earnings": partial(as_file, partial(printing.print_earnings, workplace, report)),
        "sample-return-note": partial(made, write_return, at_site(note, zone), head=head),
        "sample-walk-round": partial(
            as_file, partial(printing.print_walk_round, workplace, walk.words, walk.lines[:60])
        ),
        "sample-finish": partial(as_file, partial(printing.print_finish_list, workplace, "fleet.xlsx", FINISH)),
        "sample-bench-day": partial(as_stream, printing.print_bench_day, workplace, today),
        "sample-notices": partial(as_file, partial(printing.print_notices, workplace)),
        "sample-board": partial(as_stream, printing.print_course_board, workplace, course.booking.code),
        "sample-receipt": partial(as_stream, printing.print_return_receipt, workplace, back),
        "sample-log": partial(as_stream, printing.print_daily_log, workplace, facts[units[0]]),
        "sample-card": partial(as_stream, printing.print_blank, workplace, write_turn_round_card, units[0]),
        "sample-service-card": partial(as_stream, printing.print_service_card, workplace, units[0]),
        "sample-turn-round": partial(as_stream, printing.print_turn_round, workplace, turned[0]),
        "sample-cylinders": partial(made, write_cylinder_labels, at_site(cylinders, zone)),
        "sample-fill": partial(made, write_fill_labels, [label]),
    }


def main(arguments: list[str] | None = None) -> int:
    """Put the pages into a folder as pictures."""
    parser = argparse.ArgumentParser(description="Every kind of printed page in a language, as pictures.")
    parser.add_argument("out", type=Path)
    parser.add_argument("names", nargs="*", help="beginnings of names of pages")
    parser.add_argument("--language", default=ENGLISH)
    parser.add_argument("--sample", type=Path, help="a database of the sample fleet, which is else made")
    asked = parser.parse_intermixed_args(arguments)
    asked.out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch:
        workplace = Workplace(open_database(asked.sample or Path(scratch) / "sample.sqlite"))
        if asked.sample is None:
            import_folder(workplace, shipped("sample_fleet"), shift_to=workplace.today())
        pages = invented_pages() | sample_pages_of(workplace, Path(scratch))
        for page in pages_in(asked.language, pages, asked.names):
            drawn = pictures(page.pdf, 1.8)
            for number, picture in enumerate(drawn, start=1):
                Image.fromarray(picture).save(asked.out / f"{page.name}-{number}.png")
            print(f"{page.name}: {len(drawn)}", *map(repr, page.spoilt), sep="\n    ")
        workplace.database.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
