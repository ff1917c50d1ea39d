"""The demonstration: the invented sample fleet in a folder, with its pages and a few pictures of the window."""

import json
import subprocess
import sys
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

from fleetbench.calc.core.languages import say, say_count
from fleetbench.calc.hires.promises import GONE, HireState
from fleetbench.records.core.errors import Refused
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.verify import journal_head
from fleetbench.shipped import shipped
from fleetbench.workshop.core.workplace import Workplace

MANIFEST = "made-by-the-demo.json"
DATABASE = "fleetbench.sqlite"
DUE_DAYS = 60


def build(folder: Path, tell: Callable[[str], None]) -> Path:
    """The path of the demonstration's database, built in a new, empty or earlier demo folder.

    A folder that holds anything the demo did not make, or a demo database that has been worked in, is refused
    before anything is touched.
    """
    _clear(folder)
    folder.mkdir(parents=True, exist_ok=True)
    made: list[str] = []
    _write_manifest(folder, made, None)
    workplace = Workplace(open_database(folder / DATABASE))
    try:
        _import_sample(workplace, tell)
        tell(say("Drawing pages, and a few pictures of the window …"))
        with _drawing(folder) as drawing:
            pages = _pages(workplace, folder, tell)
            made += [DATABASE, *pages, *_pictures(drawing, tell)]
        _write_manifest(folder, made, journal_head(workplace.database))
    finally:
        workplace.database.close()
    return folder / DATABASE


def _import_sample(workplace: Workplace, tell: Callable[[str], None]) -> None:
    # what reads sheets is only needed here
    from fleetbench.workshop.import_export.import_folder import import_folder

    tell(say("Importing the files of an invented dive centre …"))
    report = import_folder(workplace, shipped("sample_fleet"), shift_to=workplace.clock().date())
    if report.faults:
        first = report.faults[0]
        raise Refused(say("sample fleet: {file}, row {row}, {column}: {message}",
                          file=first.sheet, row=first.row, column=first.column, message=first.message))  # fmt: skip
    tell(say_count("{count} record imported.", "{count} records imported.", sum(report.added.values())))


def _pages(workplace: Workplace, folder: Path, tell: Callable[[str], None]) -> list[str]:
    # reportlab is slow to import and only needed for printing
    from fleetbench.printing import print_due, print_handover, print_ticket
    from fleetbench.workshop.due.list import list_due
    from fleetbench.workshop.hires.list import handover_facts, list_bookings
    from fleetbench.workshop.tickets.list import list_tickets, ticket_page

    today = workplace.today()
    names = ["due-list.pdf"]
    print_due(
        workplace, list_due(workplace, within_days=DUE_DAYS), today, today + timedelta(days=DUE_DAYS), folder / names[0]
    )
    tickets = list_tickets(workplace)
    signed = [row for row in tickets if row.ticket.signed_at] or list(tickets)
    if signed:
        names.append(f"ticket-{signed[0].number}.pdf")
        print_ticket(workplace, ticket_page(workplace, signed[0].number), folder / names[-1])
    coming = [row for row in list_bookings(workplace) if row.units and row.state in (*GONE, HireState.TO_COME)]
    for booking in coming[:1]:
        for tag in booking.units[:2]:
            names.append(f"hand-over-{tag}.pdf")
            print_handover(workplace, handover_facts(workplace, tag, booking.booking.code), folder / names[-1])
    for name in names:
        tell(say("Wrote {name}", name=name))
    return names


def _drawing(folder: Path) -> subprocess.Popen[str]:
    """The process that draws the pictures beside the pages; its own, since this one may open a window afterwards."""
    return subprocess.Popen(
        [sys.executable, "-m", "fleetbench.window.shell.pictures", str(folder / DATABASE), str(folder)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def _pictures(drawing: subprocess.Popen[str], tell: Callable[[str], None]) -> list[str]:
    """Names of the pictures, once they are drawn."""
    drawn, faults = drawing.communicate()
    if drawing.returncode:
        lines = faults.strip().splitlines() or [say("the process that draws them ended early")]
        why = lines[-1].removeprefix("fleetbench: ") if faults.strip() else lines[-1]
        raise Refused(say("pictures: {why}", why=why))
    names = [Path(line).name for line in drawn.splitlines()]
    for name in names:
        tell(say("Wrote {name}", name=name))
    return names


def _clear(folder: Path) -> None:
    if not folder.exists():
        return
    if not folder.is_dir():
        raise Refused(say("{folder}: is no folder; choose another", folder=folder))
    there = {path.name for path in folder.iterdir()}
    if not there:
        return
    files, head = _read_manifest(folder)
    mine = {MANIFEST, f"{DATABASE}-wal", f"{DATABASE}-shm", DATABASE, *files}
    strange = sorted(there - mine)
    if strange:
        raise Refused(say("{folder}: holds {name}, which the demo did not make; choose a new or empty folder",
                          folder=folder, name=strange[0]))  # fmt: skip
    if head and DATABASE in there and _head_now(folder) != head:
        raise Refused(say("{folder}: its demo database has been worked in; choose a new folder to keep that work",
                          folder=folder))  # fmt: skip
    for name in there:
        (folder / name).unlink()


def _head_now(folder: Path) -> str | None:
    database = open_database(folder / DATABASE, create=False)
    try:
        return journal_head(database)
    finally:
        database.close()


def _read_manifest(folder: Path) -> tuple[list[str], str | None]:
    try:
        kept = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        return [str(name) for name in kept["files"]], kept["head"]
    except (OSError, ValueError, KeyError, TypeError) as fault:
        raise Refused(say("{folder}: holds things that the demo did not make; choose a new or empty folder",
                          folder=folder)) from fault  # fmt: skip


def _write_manifest(folder: Path, files: list[str], head: str | None) -> None:
    (folder / MANIFEST).write_text(json.dumps({"files": files, "head": head}, indent=1), encoding="utf-8")
