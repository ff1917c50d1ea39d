"""The bench day on paper: each technician's work in order with minutes and parts, and the loops that hang to dry."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from fleetbench.calc.core.languages import say, say_count, strung
from fleetbench.calc.hires.bench_day import BenchJob, Stint
from fleetbench.paper.core.document import Heading, Letterhead, PageSize, joined
from fleetbench.paper.core.flow import Block, TableColumn, section, space, table, text_lines, write_flow
from fleetbench.paper.core.pen import Align
from fleetbench.paper.core.words import day
from fleetbench.records.core.plain_file import Target
from fleetbench.workshop.hires.bench_day import BenchDay
from fleetbench.workshop.turn_rounds.baths import Hanging

_WORK = (
    TableColumn("done", 6),
    TableColumn("from", 8),
    TableColumn("to", 8),
    TableColumn("min", 7, Align.RIGHT),
    TableColumn("unit", 10, bold=True),
    TableColumn("work", 33),
    TableColumn(say("take along"), 28),
    TableColumn("for", 20),
)
_HANGING = (
    TableColumn("unit", 12, bold=True),
    TableColumn(say("hangs since"), 22),
    TableColumn(say("dry from, at the earliest"), 26, bold=True),
    TableColumn(say("dry by"), 22),
    TableColumn(say("looked at and dry"), 20),
)
_OTHERS = (TableColumn("unit", 12, bold=True), TableColumn("why", 80))


def write_bench_day(bench: BenchDay, target: Target, *, head: Letterhead, size: PageSize = PageSize.A4) -> int:
    """Write a day at the bench as PDF; returns its number of pages, one for all but the largest workshops."""
    heading = Heading(head, say("Bench day"), f"BENCH-{day(bench.on)}", _subtitle(bench))
    return write_flow(_blocks(bench, size.inner), heading, target, size)


def _subtitle(bench: BenchDay) -> str:
    jobs = [job for _, given in bench.people for _, job in given]
    return joined(
        (
            say(
                "{weekday} {day}, from {opens:%H:%M}",
                weekday=say(f"{bench.on:%A}"),
                day=day(bench.on),
                opens=bench.opens,
            ),
            say_count("{count} unit", "{count} units", len(jobs)),
            say("{minutes:.0f} min of work", minutes=sum(job.minutes for job in jobs)),
            say("{minutes:.0f} min each ({source})", minutes=bench.minutes, source=bench.source),
        )
    )


def _blocks(bench: BenchDay, wide: float) -> list[Block]:
    blocks: list[Block] = []
    for name, given in bench.people:
        spent = sum(job.minutes for _, job in given)
        blocks.append(section(name, say("{spent:.0f} of {minutes:.0f} min", spent=spent, minutes=bench.minutes)))
        rows = [_row(bench.opens, each) for each in given]
        blocks += table(_WORK, rows, wide, 8.6, 6) if rows else text_lines(say("Nothing to do."), wide)
        blocks.append(space(6))
    if bench.hanging:
        blocks.append(section(say("Hang to dry"), say("not usable before they are dry")))
        blocks += table(_HANGING, [_hung(each, bench.opens) for each in bench.hanging], wide, 8.6)
        blocks.append(space(6))
    blocks += _others(say("Wait"), bench.waits, wide)
    left = tuple(
        (each.tag, strung(", ", filter(None, (_words(each), f"{each.minutes:.0f} min", _by(each)))))
        for each in bench.later
    )
    blocks += _others(say("No time left on this day"), left, wide)
    said = say(
        "Minutes are estimates of hands' time. The maker's manual and the unit's own card say "
        "what each work is. A loop is dry once it was looked at and found dry, not when its time "
        "is over."
    )
    return blocks + text_lines(said, wide, 7.4)


def _row(opens: datetime, stint: Stint) -> tuple[str, ...]:
    start, job = stint
    begun, over = (f"{opens + timedelta(minutes=minute):%H:%M}" for minute in (start, start + job.minutes))
    return (
        "[  ]",
        begun,
        over,
        f"{job.minutes:.0f}",
        job.tag,
        _words(job),
        strung("; ", job.fetch),
        _by(job),
    )


def _words(job: BenchJob) -> str:
    return strung("; ", job.work)


def _by(job: BenchJob) -> str:
    if job.ready_by is None:
        return ""
    by = say("ready by {ready_by}", ready_by=day(job.ready_by))
    return strung(", ", (job.wanted_for, by)) if job.wanted_for else by


def _hung(loop: Hanging, opens: datetime) -> tuple[str, ...]:
    moments = loop.found_damp_at or loop.disinfected_at, loop.dry_from, loop.dry_by
    since, first, last = (f"{each.astimezone(opens.tzinfo):%Y-%m-%d %H:%M}" for each in moments)
    return (
        loop.unit,
        strung(", ", (since, *((say("found damp"),) if loop.found_damp_at else ()))),
        first,
        last,
        say("[  ] at"),
    )


def _others(title: str, rows: Sequence[tuple[str, str]], wide: float) -> list[Block]:
    return [section(title), *table(_OTHERS, rows, wide, 8.6), space(6)] if rows else []
