"""The bench day on paper: each technician's work in order with minutes and parts, and the loops that hang to dry."""

from collections.abc import Sequence
from datetime import datetime, timedelta

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
    TableColumn("take along", 28),
    TableColumn("for", 20),
)
_HANGING = (
    TableColumn("unit", 12, bold=True),
    TableColumn("hangs since", 22),
    TableColumn("dry from, at the earliest", 26, bold=True),
    TableColumn("dry by", 22),
    TableColumn("looked at and dry", 20),
)
_OTHERS = (TableColumn("unit", 12, bold=True), TableColumn("why", 80))


def write_bench_day(bench: BenchDay, target: Target, *, head: Letterhead, size: PageSize = PageSize.A4) -> int:
    """Write a day at the bench as PDF; returns its number of pages, one for all but the largest workshops."""
    heading = Heading(head, "Bench day", f"BENCH-{day(bench.on)}", _subtitle(bench))
    return write_flow(_blocks(bench, size.inner), heading, target, size)


def _subtitle(bench: BenchDay) -> str:
    jobs = [job for _, given in bench.people for _, job in given]
    return joined(
        (
            f"{bench.on:%A} {day(bench.on)}, from {bench.opens:%H:%M}",
            f"{len(jobs)} {'unit' if len(jobs) == 1 else 'units'}",
            f"{sum(job.minutes for job in jobs):.0f} min of work",
            f"{bench.minutes:.0f} min each ({bench.source})",
        )
    )


def _blocks(bench: BenchDay, wide: float) -> list[Block]:
    blocks: list[Block] = []
    for name, given in bench.people:
        spent = sum(job.minutes for _, job in given)
        blocks.append(section(name, f"{spent:.0f} of {bench.minutes:.0f} min"))
        rows = [_row(bench.opens, each) for each in given]
        blocks += table(_WORK, rows, wide, 8.6, 6) if rows else text_lines("Nothing to do.", wide)
        blocks.append(space(6))
    if bench.hanging:
        blocks.append(section("Hang to dry", "not usable before they are dry"))
        blocks += table(_HANGING, [_hung(each, bench.opens) for each in bench.hanging], wide, 8.6)
        blocks.append(space(6))
    blocks += _others("Wait", bench.waits, wide)
    left = tuple((each.tag, f"{_words(each)}, {each.minutes:.0f} min{_by(each)}") for each in bench.later)
    blocks += _others("No time left on this day", left, wide)
    said = (
        "Minutes are estimates of hands' time. The maker's manual and the unit's own card say what each work is. "
        "A loop is dry once it was looked at and found dry, not when its time is over."
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
        "; ".join(job.fetch),
        _by(job).lstrip(", "),
    )


def _words(job: BenchJob) -> str:
    return "; ".join(job.work)


def _by(job: BenchJob) -> str:
    if job.ready_by is None:
        return ""
    return f", {job.wanted_for}, ready by {day(job.ready_by)}" if job.wanted_for else f", ready by {day(job.ready_by)}"


def _hung(loop: Hanging, opens: datetime) -> tuple[str, ...]:
    moments = loop.found_damp_at or loop.disinfected_at, loop.dry_from, loop.dry_by
    since, first, last = (f"{each.astimezone(opens.tzinfo):%Y-%m-%d %H:%M}" for each in moments)
    return loop.unit, f"{since}{', found damp' if loop.found_damp_at else ''}", first, last, "[  ] at"


def _others(title: str, rows: Sequence[tuple[str, str]], wide: float) -> list[Block]:
    return [section(title), *table(_OTHERS, rows, wide, 8.6), space(6)] if rows else []
