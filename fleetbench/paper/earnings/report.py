"""What the fleet was used for and cost, on paper and as XLSX: units, types, causes, savings, and every unit's day."""

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from fleetbench.calc.core.languages import say, say_count
from fleetbench.calc.core.measures import KILOGRAM
from fleetbench.calc.earnings.days import WHOLE, CureBy, DayState, Keep, UseLine
from fleetbench.paper.core.document import Heading, Letterhead, PageSize, joined
from fleetbench.paper.core.flow import Block, TableColumn, section, space, table, text_lines, write_flow
from fleetbench.paper.core.marks import day
from fleetbench.paper.core.pen import Align
from fleetbench.paper.core.spreadsheet import Cell, Rows, write_xlsx
from fleetbench.records.core.plain_file import Target
from fleetbench.workshop.earnings.report import EarningsReport, best_words

SHOWN = (DayState.OUT, DayState.FIT, DayState.WORK, DayState.LOST, DayState.UNKNOWN)
_NONE = "–"
_DAYS = (
    TableColumn(say("unit or type"), 19, bold=True),
    TableColumn("promised", 9, Align.RIGHT),
    TableColumn("out", 6, Align.RIGHT),
    TableColumn(say("fit, not out"), 8, Align.RIGHT),
    TableColumn(say("waiting for work"), 10, Align.RIGHT),
    TableColumn("lost", 7, Align.RIGHT),
    TableColumn(say("not known"), 8, Align.RIGHT),
    TableColumn(say("down while wanted"), 13, Align.RIGHT),
    TableColumn("available", 12, Align.RIGHT),
)
_COSTS = (
    TableColumn(say("unit or type"), 19, bold=True),
    TableColumn(say("loop hours"), 8, Align.RIGHT),
    TableColumn(say("bench min"), 8, Align.RIGHT),
    TableColumn(say("min a hire day"), 10, Align.RIGHT),
    TableColumn(say("min a dive hour"), 11, Align.RIGHT),
    TableColumn("parts", 10, Align.RIGHT),
    TableColumn("money", 9, Align.RIGHT),
    TableColumn(say("a hire day"), 8, Align.RIGHT),
    TableColumn(say("a dive hour"), 9, Align.RIGHT),
    TableColumn("absorbent", 8, Align.RIGHT),
)
_KEEP = (
    TableColumn("unit", 13, bold=True),
    TableColumn(say("keeping it, a year"), 16, Align.RIGHT),
    TableColumn(say("another, a year"), 16, Align.RIGHT),
    TableColumn("verdict", 22, bold=True),
    TableColumn("why", 44),
)
_CAUSES = (
    TableColumn("cause", 48, bold=True),
    TableColumn("days", 9, Align.RIGHT),
    TableColumn("alone", 9, Align.RIGHT),
    TableColumn("wanted", 9, Align.RIGHT),
    TableColumn("units", 9, Align.RIGHT),
    TableColumn(say("not known"), 11, Align.RIGHT),
)
_SAVINGS = (
    TableColumn("means", 20, bold=True),
    TableColumn("against", 34),
    TableColumn(say("days saved"), 12, Align.RIGHT),
    TableColumn(say("at most"), 9, Align.RIGHT),
    TableColumn("wanted", 9, Align.RIGHT),
    TableColumn("first", 20),
)
_MEANS = {
    CureBy.SPARE: say("one spare on the shelf"),
    CureBy.REPAIR: say("one repair at once"),
    CureBy.WORK: say("bench work at once"),
}

NOTES = (
    say(
        "Each past day is judged by what was recorded then, as a hand-over at noon would have "
        "been. Limits, types and prices are those of today. A day on which nothing recorded "
        "could settle a check is not known; availability is given from counting all of them as "
        "down to counting all as up."
    ),
    say(
        "A repair is taken to be made on the first day of its cause, and that day stays lost. A "
        "spare is fitted on the first day that wants one and is there again after its lead time; "
        "without a lead time on record it serves once."
    ),
    say(
        "Bench minutes are those of tickets; a turn-round or calibration without a ticket has "
        "none on record. Parts are those that took the place of another. Keeping a unit costs "
        "its parts and the hire days it was down while wanted."
    ),
    say(
        "The verdict goes by the centre's own figures alone. Whether a unit may dive is decided "
        "by its checks and the maker's manual, never by cost."
    ),
)


def write_earnings(report: EarningsReport, target: Target, *, head: Letterhead, size: PageSize = PageSize.A4) -> int:
    """Write the report as PDF; returns its number of pages."""
    whole = report.types[0] if report.types else None
    subtitle = joined(
        (
            say("{first} through {last}", first=day(report.first), last=day(report.last)),
            say_count("{count} unit", "{count} units", whole.units) if whole is not None else say("no units"),
            say("prices in {currency}", currency=report.currency) if report.currency else "",
        )
    )
    heading = Heading(head, say("Use and cost"), f"USE-{report.first.isoformat()}-{report.last.isoformat()}", subtitle)
    return write_flow(_blocks(report, size.inner), heading, target, size)


def _blocks(report: EarningsReport, wide: float) -> list[Block]:
    listed = (*report.types, *report.units)
    kept = [(each, report.keep[each.name]) for each in report.units]
    lacking = dict.fromkeys(keep.why for _, keep in kept if keep.keep is Keep.NOT_STATED)
    unsaid = [
        say("{names}: {why}.", names=", ".join(line.name for line, keep in kept if keep.why == why), why=why)
        for why in lacking
    ]  # the same words in a row of each unit would fill a page
    blocks: list[Block] = [*text_lines(best_words(report), wide, 9.5), space(4)]
    parts: tuple[tuple[str, tuple[TableColumn, ...], list[tuple[str, ...]]], ...] = (
        (say("Days"), _DAYS, [day_cells(each) for each in listed]),
        (say("Work and parts"), _COSTS, [cost_cells(each) for each in listed]),
        (
            say("Keeping a unit beside another"),
            _KEEP,
            [(line.name, _money(keep.a_year), _money(keep.another), say(keep.keep), keep.why) for line, keep in kept
             if keep.keep is not Keep.NOT_STATED],
        ),
        (
            say("What stopped units"),
            _CAUSES,
            cause_rows(report),
        ),
        (
            say("What would have saved days"),
            _SAVINGS,
            saving_rows(report),
        ),
    )  # fmt: skip
    for title, columns, rows in parts:
        blocks.append(section(title))
        words = unsaid if columns is _KEEP else []
        if rows:
            blocks.extend(table(columns, rows, wide, 7.4, 5))
        for line in words or ([] if rows else [say("Nothing, as far as the records go.")]):
            blocks.extend(text_lines(line, wide, 7.4))
    blocks.append(space(6))
    for note in NOTES:
        blocks += text_lines(note, wide, 7.4)
    return blocks


def _money(amount: float | None) -> str:
    return _NONE if amount is None else f"{amount:,.2f}"


def _share(value: tuple[float, float] | None) -> str:
    if value is None:
        return _NONE
    least, most = (f"{100 * each:.0f}" for each in value)
    return f"{least} %" if least == most else say("{least} to {most} %", least=least, most=most)


def day_cells(line: UseLine) -> tuple[str, ...]:
    """A line of the table of days."""
    counts = (line.promised, *(line.days[state] for state in SHOWN), line.lost_wanted)
    return (line.name, *map(str, counts), _share(line.availability))


def cost_cells(line: UseLine) -> tuple[str, ...]:
    """A line of the table of work and parts."""
    spent = line.spent
    a_day, an_hour = line.a_hire_day(spent.bench_minutes), line.a_dive_hour(spent.bench_minutes)
    unpriced = say(", {unpriced} unpriced", unpriced=spent.unpriced) if spent.unpriced else ""
    return (
        line.name,
        f"{spent.dive_minutes / 60:.1f}",
        f"{spent.bench_minutes:.0f}",
        _NONE if a_day is None else f"{a_day:.1f}",
        _NONE if an_hour is None else f"{an_hour:.1f}",
        f"{spent.priced + spent.unpriced}{unpriced}",
        _money(spent.money),
        _money(line.a_hire_day(spent.money)),
        _money(line.a_dive_hour(spent.money)),
        KILOGRAM.words(spent.absorbent_kg, 1),
    )


def as_lines(report: EarningsReport) -> list[str]:
    """The report for a terminal: the best means in words, then its tables as they are printed."""
    listed = (*report.types, *report.units)
    found = [say("{first} through {last}", first=day(report.first), last=day(report.last)), best_words(report)]
    for columns, rows in (
        (_DAYS, [day_cells(each) for each in listed]),
        (_COSTS, [cost_cells(each) for each in listed]),
        (_CAUSES, cause_rows(report)),
        (_SAVINGS, saving_rows(report)),
    ):
        cells = [tuple(each.title for each in columns), *rows]
        wide = [max(map(len, of_one)) for of_one in zip(*cells, strict=True)]
        right = [each.align is Align.RIGHT for each in columns]
        found.append("")
        for row in cells:
            put = (cell.rjust(of) if to else cell.ljust(of) for cell, of, to in zip(row, wide, right, strict=True))
            found.append("  ".join(put).rstrip())
    return found


def as_data(report: EarningsReport) -> dict[str, Any]:
    """The report as plain data: every field by its own name, each unit's days left out."""
    return {each.name: _plain(getattr(report, each.name)) for each in fields(report) if each.name != "unit_days"}


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        return {each.name: _plain(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): _plain(each) for key, each in value.items()}
    return [_plain(each) for each in value] if isinstance(value, tuple) else value


def cause_rows(report: EarningsReport) -> list[tuple[str, ...]]:
    """The lines of the table of causes."""
    return [(each.what, *map(str, (each.days, each.alone, each.wanted, each.units, each.unknown)))
            for each in report.causes]  # fmt: skip


def saving_rows(report: EarningsReport) -> list[tuple[str, ...]]:
    """The lines of the table of what would have saved days."""
    return [(_MEANS[each.cure], each.what, str(each.least), str(each.most), str(each.wanted),
             f"{each.times[0][0]}, {day(each.times[0][1])}") for each in report.savings]  # fmt: skip


def write_earnings_xlsx(report: EarningsReport, target: Target, *, head: Letterhead) -> None:
    """Write the report as XLSX: a sheet of units and types, of causes, of savings, of each unit's day, and of notes."""
    money = f", {report.currency}" if report.currency else ""
    titles = (
        "unit or type", "unit type", "promised", "promised and out", *(state.value for state in DayState),
        "down while wanted", "available, least", "available, most", "loop minutes", "dives", "bench minutes",
        "signed tickets", "without minutes", "parts priced", "parts without a price", f"parts{money}",
        f"parts a hire day{money}", f"parts a dive hour{money}", f"absorbent, {KILOGRAM}", f"absorbent{money}",
        "fills without mass or price", f"keeping it a year{money}", f"another a year{money}", "keeping it", "why",
    )  # fmt: skip
    rows = [_cells(report, each) for each in (*report.types, *report.units)]
    causes = [(each.what, each.days, each.alone, each.wanted, each.units, each.unknown) for each in report.causes]
    savings = [
        (_MEANS[each.cure], each.what, each.least, each.most, each.wanted,
         "; ".join(f"{unit}, {on.isoformat()}" for unit, on in each.times))
        for each in report.savings
    ]  # fmt: skip
    days = [
        (each.day, each.unit, each.unit_type, each.state.value, "yes" if each.promised else "no",
         "yes" if each.wanted else "no", "; ".join(dict.fromkeys(cause.what for cause in each.causes)),
         "; ".join(each.unrecorded))
        for each in report.unit_days
    ]  # fmt: skip
    sheets: dict[str, Rows] = {
        "Units and types": (titles, rows),
        "Causes": (("cause", "days", "alone", "wanted", "units", "not known"), causes),
        "Savings": (("means", "against", "days, least", "days, most", "wanted", "where and when"), savings),
        "Days": (("day", "unit", "unit type", "was", "promised", "wanted", "stopped by", "not known"), days),
        "Notes": (("what the figures mean",), [(best_words(report),), *((note,) for note in NOTES)]),
    }
    title = f"Use and cost, {report.first.isoformat()} to {report.last.isoformat()}"
    write_xlsx(sheets, target, title=title, head=head)


def _cells(report: EarningsReport, line: UseLine) -> tuple[Cell, ...]:
    spent, keep = line.spent, report.keep.get(line.name)
    least, most = line.availability or (None, None)
    return (
        line.name, "" if line.name == WHOLE else line.unit_type, line.promised, line.kept,
        *(line.days[state] for state in DayState), line.lost_wanted, _number(least, 4), _number(most, 4),
        round(spent.dive_minutes, 1), spent.dives, round(spent.bench_minutes, 1), spent.tickets, spent.untimed,
        spent.priced, spent.unpriced, round(spent.money, 2), _number(line.a_hire_day(spent.money)),
        _number(line.a_dive_hour(spent.money)), round(KILOGRAM.shown(spent.absorbent_kg), 3),
        round(spent.absorbent_money, 2),
        spent.unweighed, _number(keep.a_year if keep else None), _number(keep.another if keep else None),
        keep.keep.value if keep else "", keep.why if keep else "",
    )  # fmt: skip


def _number(value: float | None, places: int = 2) -> Cell:
    return "" if value is None else round(value, places)
