"""The command line. Exit 0: done; 1: refused by the data, with the reason; 2: wrong usage. `--debug` shows the trace.

Modules are imported inside the commands, so that each starts with only what it needs.
"""

import sys
import traceback
from contextlib import closing, contextmanager
from dataclasses import asdict
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Annotated

import typer

from fleetbench import __version__, terminal
from fleetbench.calc.core.languages import say, strung
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.plain_file import plain_name, refuse_existing
from fleetbench.settings import chosen_paper, data_folder, data_place, keep_witness, pin_of, where

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fleetbench.workshop.core.workplace import Workplace

app = typer.Typer(
    add_completion=False,
    no_args_is_help=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    cls=terminal.SpokenGroup,
    help="Service a fleet of hire and training rebreathers. Without a command the window opens. "
    "It records and compares; it never says that a unit is safe to dive: the maker's manual, "
    "the training standard and local law stand above it.",
)
command = partial(app.command, cls=terminal.SpokenCommand)
DEBUG = {"on": False}

DB_HELP = "Database file, or a postgresql:// address without a password; else FLEETBENCH_DB."
Db = Annotated[str | None, typer.Option("--db", help=DB_HELP)]
Format = Annotated[str, typer.Option("--format", callback=terminal.text_or_json, metavar="text|json")]
Overwrite = Annotated[bool, typer.Option("--overwrite", help="Write over an earlier file of the same kind.")]
Person = Annotated[str | None, typer.Option("--person", help="Code of the person who acts.")]


def main() -> None:
    """Run the command line; every refusal is one clear line on standard error."""
    if "--debug" in sys.argv:
        sys.argv.remove("--debug")
        DEBUG["on"] = True
    terminal.speak()
    try:
        code = app(prog_name="fleetbench", standalone_mode=False)
    except terminal.UsageError as fault:
        terminal.refuse_usage(fault)
    except Exception as fault:
        _stop(fault)
    sys.exit(code if isinstance(code, int) else 0)


def _stop(fault: Exception) -> None:
    if DEBUG["on"]:
        traceback.print_exc()
    sys.stdout.flush()
    print(f"fleetbench: {terminal.refusal_line(fault)}", file=sys.stderr)
    sys.exit(1)


def _workplace(db: str | None, person: str | None = None, *, create: bool = False) -> "Workplace":
    from fleetbench.records.upkeep.migrate import open_database
    from fleetbench.workshop.core.workplace import Workplace, in_its_units
    from fleetbench.workshop.parts.lives import keep_anew
    from fleetbench.workshop.people.list import person_id

    workplace = in_its_units(keep_anew(Workplace(open_database(where(db), create=create), _now, paper=chosen_paper)))
    if workplace.database.told:
        terminal.note(workplace.database.told)
    return workplace.as_person(person_id(workplace, person)) if person else workplace


@contextmanager
def _to_import(db: str | None, person: str | None, *, dry_run: bool) -> "Iterator[Workplace]":
    """The database that sheets go into; for a dry run where none is yet, one that is thrown away."""
    from fleetbench.records.upkeep.migrate import examine

    if not dry_run or examine(where(db)) is not None:
        yield _workplace(db, person, create=True)
        return
    with TemporaryDirectory(prefix="fleetbench-") as folder:
        workplace = _workplace(str(Path(folder) / "dry-run.sqlite"), create=True)
        with closing(workplace.database):
            yield workplace


@contextmanager
def _to_verify(db: str | None, person: str | None, *, write: bool) -> "Iterator[Workplace]":
    """The database to be looked at without a byte of it changed, or to be written where that was asked for."""
    from fleetbench.records.upkeep.migrate import opened_to_read
    from fleetbench.workshop.core.workplace import Workplace

    if write:
        yield _workplace(db, person)
        return
    with opened_to_read(where(db)) as database:
        yield Workplace(database, _now)


@app.callback(invoke_without_command=True)
def window(context: typer.Context, db: Db = None, version: Annotated[bool, typer.Option("--version")] = False) -> None:
    """Open the window."""
    if version:
        terminal.tell(f"fleetbench {__version__}")
        raise typer.Exit
    if context.invoked_subcommand is not None:
        if db is not None:
            context.obj = db
        return
    from fleetbench.window.shell.app import display_missing, run

    if missing := display_missing():
        raise Refused(missing)
    raise typer.Exit(run(where(db)))


def _now() -> datetime:
    return datetime.now(UTC)


def _in_force(context: typer.Context, db: str | None) -> str | None:
    return db if db is not None else context.obj


@command()
def demo(
    folder: Annotated[Path, typer.Option("--folder", help="An empty or new folder, or one that the demo made.")],
    no_window: Annotated[bool, typer.Option("--no-window", help="Do not open the window afterwards.")] = False,
) -> None:
    """Build the invented sample fleet in a folder, write its pages and pictures, and open the window."""
    from fleetbench.demo import build
    from fleetbench.window.shell.app import display_missing, run

    database = build(folder, tell=terminal.tell)
    missing = display_missing()
    if missing or no_window:
        terminal.tell(say("No window was opened: {why}", why=missing or say("as asked")))
        return
    raise typer.Exit(run(str(database)))


@command()
def due(
    context: typer.Context,
    within: Annotated[str | None, typer.Option("--within", help="Days ahead; past items are always in.")] = None,
    on: Annotated[str | None, typer.Option("--on", help="Calculate from this day instead of today.")] = None,
    format: Format = "text",
    out: Annotated[Path | None, typer.Option("--out", help="Write a .pdf, .csv, .xlsx or .ics file.")] = None,
    overwrite: Overwrite = False,
    db: Db = None,
) -> None:
    """List what must be replaced or done, with the last valid day and the limit that sets it."""
    from fleetbench.workshop.due.list import list_due

    days = terminal.days_typed(within)
    workplace = _workplace(_in_force(context, db))
    day = terminal.day_typed(on) if on else workplace.today()
    items = list_due(workplace, within_days=days, on=day)
    if out is not None:
        from fleetbench.printing import print_due

        latest = max((item.last_good_day or day for item in items), default=day)
        last = day + timedelta(days=days) if days is not None else latest
        print_due(workplace, items, day, last, refuse_existing(out, overwrite))
        terminal.tell(out)
    elif format == "json":
        fields = ("unit", "slot", "part_type", "part", "item", "last_good_day", "basis", "days_left", "state")
        terminal.tell_json([{field: getattr(item, field) for field in fields} for item in items])
    else:
        terminal.tell_lines(map(terminal.due_line, items))


@command()
def use_and_cost(
    context: typer.Context,
    first: Annotated[str | None, typer.Option("--from", help="First day; else the last 180 days.")] = None,
    last: Annotated[str | None, typer.Option("--to", help="Last day, inclusive; else today.")] = None,
    out: Annotated[Path | None, typer.Option("--out", help="Write a .pdf or .xlsx file.")] = None,
    overwrite: Overwrite = False,
    format: Format = "text",
    db: Db = None,
) -> None:
    """List what units were used for and cost: days out, fit and lost with their causes, minutes, parts and money."""
    from fleetbench.paper.earnings.report import as_data, as_lines
    from fleetbench.workshop.earnings.report import earnings, season

    workplace = _workplace(_in_force(context, db))
    ends = terminal.day_typed(last) if last else workplace.today()
    report = earnings(workplace, terminal.day_typed(first) if first else season(ends)[0], ends)
    if out is not None:
        from fleetbench.printing import print_earnings

        print_earnings(workplace, report, refuse_existing(out, overwrite))
        terminal.tell(out)
    elif format == "json":
        terminal.tell_json(as_data(report))
    else:
        terminal.tell_lines(as_lines(report))


@command()
def ready(
    context: typer.Context,
    tag: str,
    first: Annotated[str, typer.Option("--from", help="First day out.")],
    last: Annotated[str, typer.Option("--to", help="Last day out.")],
    kind: Annotated[str, typer.Option("--as", help="assembled, kit or not-for-diving")] = "assembled",
    format: Format = "text",
    db: Db = None,
) -> None:
    """Say whether a unit may go out from one day to another, check by check.

    Checks: manual hold, open reject or repeat of a cell, calibration age, part life through the last day, absorbent,
    one-way valve and loop tests, open tickets, and every further check whose records are kept. A check whose records
    cannot exist yet is left out of the list, never ok.
    """
    from fleetbench.calc.readiness.judge import HandoverKind
    from fleetbench.workshop.readiness.ready import assess_unit

    try:
        wanted = HandoverKind(kind.replace("-", " "))
    except ValueError as fault:
        raise typer.BadParameter(say("--as: choose assembled, kit or not-for-diving")) from fault
    start, end = terminal.day_typed(first), terminal.day_typed(last)
    if end < start:
        raise typer.BadParameter(say("--to: lies before --from"))
    workplace = _workplace(_in_force(context, db))
    if end < workplace.today():
        raise Refused(say("--to: {end} is over; ask for days from {today} on", end=end, today=workplace.today()))
    found = assess_unit(workplace, tag, start, end, wanted)
    if format == "json":
        fields = ("check", "moment", "result", "evidence", "remedy")
        checks = [{field: getattr(check, field) for field in fields} for check in found.checks]
        asked = {"unit": tag, "from": start, "to": end, "kind": found.kind}
        terminal.tell_json(asked | {"verdict": found.verdict, "checks": checks})
        return
    terminal.tell(say("{tag} {start} to {end}, {kind}: {verdict}", tag=tag, start=start, end=end,
             kind=say(found.kind), verdict=say(found.verdict)))  # fmt: skip
    terminal.tell_lines(map(terminal.check_line, found.checks))


@command()
def ticket(
    context: typer.Context,
    number: Annotated[str, typer.Argument(help="As printed, for instance 2026-014.")],
    out: Annotated[Path | None, typer.Option("--out", help="Write the page here.")] = None,
    overwrite: Overwrite = False,
    format: Format = "text",
    db: Db = None,
) -> None:
    """Print a service ticket as PDF, or show it as data."""
    from fleetbench.workshop.tickets.list import ticket_page

    workplace = _workplace(_in_force(context, db))
    page = ticket_page(workplace, number)
    if format == "json":
        terminal.tell_json(asdict(page))
        return
    from fleetbench.printing import print_ticket

    target = refuse_existing(out or Path(plain_name(f"ticket-{number}", ".pdf")), overwrite)
    print_ticket(workplace, page, target)
    terminal.tell(target)


@command()
def handover(
    context: typer.Context,
    tag: str,
    booking: Annotated[str | None, typer.Option("--booking", help="Code of the hire or course.")] = None,
    out: Annotated[Path | None, typer.Option("--out", help="Write the sheet here.")] = None,
    overwrite: Overwrite = False,
    now: Annotated[bool, typer.Option("--now", help="As the unit stands now, even where a page was signed.")] = False,
    db: Db = None,
) -> None:
    """Print the hand-over sheet of a unit; it states what is recorded and what is missing, and signs nothing off."""
    from fleetbench.printing import print_handover
    from fleetbench.workshop.hires.list import handover_facts

    workplace = _workplace(_in_force(context, db))
    facts = handover_facts(workplace, tag, booking)
    target = refuse_existing(out or Path(plain_name(f"hand-over-{facts.tag}", ".pdf")), overwrite)
    print_handover(workplace, facts, target, now=now)
    terminal.tell(target)


@command()
def evidence(
    context: typer.Context,
    tag: str,
    first: Annotated[str, typer.Option("--from", help="First day.")],
    last: Annotated[str, typer.Option("--to", help="Last day, inclusive.")],
    folder: Annotated[Path, typer.Argument(help="A new folder.")],
    db: Db = None,
) -> None:
    """Gather what is recorded of a unit over some days: PDF, readings as CSV, photographs, manifest, journal head."""
    from fleetbench.paper.units.evidence import write_evidence

    begins, ends = terminal.day_typed(first), terminal.day_typed(last)
    files = write_evidence(_workplace(_in_force(context, db)), tag, begins, ends, folder)
    terminal.tell(terminal.files_in(len(files), folder))


@command()
def incident(
    context: typer.Context,
    tag: str,
    out: Annotated[Path | None, typer.Option("--out", help="Write the sheet here.")] = None,
    overwrite: Overwrite = False,
    db: Db = None,
) -> None:
    """Print the incident sheet of a frozen unit: what to preserve as it is."""
    from fleetbench.paper.units.evidence import print_incident

    target = refuse_existing(out or Path(plain_name(f"incident-{tag}", ".pdf")), overwrite)
    print_incident(_workplace(_in_force(context, db)), tag, target)
    terminal.tell(target)


@command(name="import")
def import_(
    context: typer.Context,
    folder: Path,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Show what would change and write nothing.")] = False,
    template: Annotated[bool, typer.Option("--template", help="Write the empty files into DIR instead.")] = False,
    accept_changes: Annotated[
        bool, typer.Option("--accept-changes", help="Correct what is recorded as the files state it; needs --reason.")
    ] = False,
    reason: Annotated[str, typer.Option("--reason", help="Why; kept in the journal with the old values.")] = "",
    format: Format = "text",
    person: Person = None,
    db: Db = None,
) -> None:
    """Import a folder of a centre's files, or of exported records into an empty centre, whole or not at all."""
    from fleetbench.records.upkeep.records_folder import check_records, import_records, is_records_folder
    from fleetbench.workshop.import_export.export import write_template
    from fleetbench.workshop.places.accept import folder_looked_at

    if template:
        written = terminal.files_in(len(write_template(folder)), folder)
        terminal.tell(strung("; ", (written, say("columns.txt says what each column holds"))))
        return
    if is_records_folder(folder):
        place = where(_in_force(context, db))
        terminal.tell_lines((check_records(folder) if dry_run else import_records(folder, place, clock=_now)).lines)
        return
    with _to_import(_in_force(context, db), person, dry_run=dry_run) as workplace:
        why = reason if accept_changes and not dry_run else None
        report = folder_looked_at(workplace, folder, why, dry_run=dry_run, pin="" if dry_run else pin_of(person))
    if format == "json":
        terminal.tell_json(asdict(report))
    else:
        terminal.tell_lines(report.lines())
    if refusal := report.refusal(dry_run=dry_run):
        raise Refused(say("{folder}: {refusal}; nothing was imported", folder=folder, refusal=refusal))


@command(name="export")
def export(
    context: typer.Context,
    folder: Path,
    records: Annotated[bool, typer.Option("--records", help="All records, journal and photographs.")] = False,
    db: Db = None,
) -> None:
    """Write everything that is recorded as a folder of files; with --records also what only a new centre takes."""
    from fleetbench.records.upkeep.records_folder import export_records
    from fleetbench.workshop.import_export.export import export_folder

    workplace = _workplace(_in_force(context, db))
    if records:
        return terminal.tell_lines(export_records(workplace.database, folder, desk=data_folder(), at=_now()).lines)
    return terminal.tell(terminal.files_in(len(export_folder(workplace, folder)), folder))


@command()
def backup(context: typer.Context, target: Path, db: Db = None) -> None:
    """Copy the database while it is in use, check the copy, and print the head of its journal."""
    from fleetbench.records.upkeep.backup import backup as copy

    made = copy(database := _workplace(_in_force(context, db)).database, target)
    terminal.tell(terminal.made_words(made))
    for line in keep_witness(database, data_folder(), _now()):
        terminal.note(line)


@command()
def upgrade(
    context: typer.Context,
    dumped: Annotated[bool, typer.Option("--dumped", help="A dump was taken; keep no copy of the old tables.")] = False,
    db: Db = None,
) -> None:
    """Bring an older database up to this program; a copy is kept beside it, of a server's in the user's data folder."""
    from fleetbench.workshop.parts.lives import brought_up

    is_new, told = brought_up(where(_in_force(context, db)), _now, backup=not dumped)
    terminal.tell(told or (say("brought up to this program") if is_new else say("is up to date")))


@command()
def restore(
    context: typer.Context,
    source: Path,
    with_breaks: Annotated[bool, typer.Option("--with-breaks", help="Even one that verify finds broken.")] = False,
    db: Db = None,
) -> None:
    """Put a backup in place of the database, a file or a server's; what stood there is kept."""
    from fleetbench.records.upkeep.backup import restore as put_back

    made = put_back(source, where(_in_force(context, db)), with_breaks=with_breaks)
    terminal.tell(terminal.made_words(made))
    for line in made.told:
        terminal.tell(line)


@command()
def clock(
    context: typer.Context,
    correct: Annotated[
        bool, typer.Option("--correct", help="Confirm that this computer's clock is right; for a manager.")
    ] = False,
    person: Person = None,
    db: Db = None,
) -> None:
    """Compare this computer's clock with the last entry; correct records that a clock running ahead has made."""
    from fleetbench.workshop.core.workplace import clock_in_doubt

    workplace = _workplace(_in_force(context, db), person)
    if not correct:
        if doubt := clock_in_doubt(workplace):
            raise Refused(doubt)
        terminal.tell(say("the clock runs on from the last entry"))
        return
    from fleetbench.workshop.parts.lives import correct_clock

    terminal.tell(terminal.corrected_words(correct_clock(workplace, pin=pin_of(person))))


@command()
def verify(
    context: typer.Context,
    head: Annotated[
        str | None, typer.Option("--head", help="Number and hash printed earlier, at least 16 digits of it.")
    ] = None,
    witness: Annotated[
        Path | None, typer.Option("--witness", help="Compare with the heads kept in this folder or file.")
    ] = None,
    key: Annotated[list[str] | None, typer.Option("--key", help="A desk's key, as papers print it; no other.")] = None,
    rebuild: Annotated[bool, typer.Option("--rebuild", help="Also calculate last valid days again.")] = False,
    write: Annotated[
        bool, typer.Option("--write", help="With --rebuild: store the calculated days, in one act of the journal.")
    ] = False,
    person: Person = None,
    format: Format = "text",
    db: Db = None,
) -> None:
    """Walk the journal's chain and compare every row with it; name every break.

    Compared are all records, the digests that bind names, contacts, notes, PINs and drawn signatures, the photographs,
    and the tables themselves. Nothing is written. No chain can show that its last entries were dropped, that it was
    calculated again from some entry on, that an entry was added since, that what was recorded was true, how often a
    PIN was entered wrongly, or what stood in an erased record: compare a head kept elsewhere with --head or --witness.
    """
    from fleetbench.records.upkeep.witness import verify_beside

    if write and not rebuild:
        raise typer.BadParameter(say("--write goes with --rebuild, which shows what would change"))
    differences, stored = list[str](), 0
    with _to_verify(_in_force(context, db), person, write=write) as workplace:
        places = [witness] if witness else []
        report = verify_beside(workplace.database, data_place(), head=head, places=places, keys=key or ())
        if rebuild:
            from fleetbench.workshop.parts.lives import rebuild_lives, store_calculated

            differences = [str(line) for line in rebuild_lives(workplace)]
            if write and report.whole:
                stored = store_calculated(workplace)
    if format == "json":
        told = {"first_break": report.first_break, "differences": differences, "stored": stored}
        terminal.tell_json(asdict(report) | told)
    else:
        terminal.tell_lines((*report.lines, *differences))
        if stored:
            terminal.tell(say("{stored} stored again as calculated", stored=stored))
    if report.first_break or len(differences) > stored:
        raise Refused(report.told or terminal.differ_words(len(differences)))


if __name__ == "__main__":
    main()
