"""Today: what goes out and comes back, what is late, what lies on the bench and what runs out this week."""

from collections.abc import Sequence

from fleetbench.window.detail import ACROSS, Detail, Line, Table
from fleetbench.window.marks import STOP, mark_for
from fleetbench.window.pages import PageContext
from fleetbench.window.place import Place
from fleetbench.window.record_page import RecordPage
from fleetbench.window.words import NONE, counted, day, days_left, in_short, said
from fleetbench.workshop import today
from fleetbench.workshop.due import DueItem
from fleetbench.workshop.today import GoingLine, TodayPage
from fleetbench.workshop.units import UnitRow


def list_page(context: PageContext) -> RecordPage:
    """The page of the day."""

    def load(_key: str) -> Detail:
        return today_detail(today.today_page(context.shop))

    page = RecordPage(context.theme, context.background, load)
    page.key = "today"
    return page


def today_detail(page: TodayPage) -> Detail:
    """The day as small tables; units that are out and on hold come first."""
    urgent = [_ring(page.ring_the_renter)] if page.ring_the_renter else []
    late = [_late(page.late)] if page.late else []
    return Detail(
        f"{page.on:%A} {page.on.isoformat()}",
        _sum_up(page),
        (STOP.worded(f"{counted(len(page.ring_the_renter), 'unit')} out and on hold"),) if urgent else (),
        (
            *urgent,
            *late,
            _going("Out today", page.out_today, "Nothing goes out today."),
            _going("Back today", page.back_today, "Nothing is expected back today."),
            _going("Out this week", page.out_this_week, "Nothing else goes out within the week."),
            _going("Back this week", page.back_this_week, "Nothing else is expected back within the week."),
            _blocked(page.blocked),
            _units("Here, not inspected", page.not_inspected, "Everything that came back has been looked at."),
            _units("On the bench", page.on_bench, "The bench is clear."),
            _runs_out(page.runs_out),
        ),
    )


def _sum_up(page: TodayPage) -> str:
    return (
        f"{len(page.out_today)} go out and {len(page.back_today)} come back today, {len(page.late)} late; "
        f"{len(page.not_inspected)} not inspected, {len(page.on_bench)} on the bench"
    )


def _ring(lines: Sequence[GoingLine]) -> Table:
    return Table(
        "Out and on hold: ring the renter",
        ("Unit", "Why", "Ring", "Booking", "Back by"),
        tuple(
            Line(
                (line.unit, in_short(line.reasons), said(line.diver), line.booking, line.ends_on.isoformat()),
                STOP,
                Place("units", line.unit),
            )
            for line in lines
        ),
        mark_column=0,
        column=ACROSS,
    )


def _late(lines: Sequence[GoingLine]) -> Table:
    return Table(
        "Late",
        ("Unit", "Late by", "Diver", "Booking"),
        tuple(
            Line(
                (line.unit, counted(line.days_late, "day"), said(line.diver), line.booking),
                mark_for("late"),
                Place("units", line.unit),
            )
            for line in lines
        ),
        mark_column=1,
        column=ACROSS,
    )


def _going(title: str, lines: Sequence[GoingLine], empty: str) -> Table:
    return Table(
        title,
        ("Unit", "Fit", "From", "To", "For"),
        tuple(
            Line(
                (
                    line.unit,
                    line.fit.value,
                    line.starts_on.isoformat(),
                    line.ends_on.isoformat(),
                    said(line.diver, line.kind),
                ),
                mark_for(line.fit),
                Place("units", line.unit),
            )
            for line in lines
        ),
        empty,
        mark_column=1,
        column=0,
        wide=False,
    )


def _blocked(lines: Sequence[GoingLine]) -> Table:
    return Table(
        "Blocks the next booking",
        ("Unit", "Booking", "From", "Why"),
        tuple(
            Line(
                (line.unit, line.booking, line.starts_on.isoformat(), in_short(line.reasons)),
                mark_for(line.fit),
                Place("units", line.unit),
            )
            for line in lines
        ),
        "Every promised unit is free of holds.",
        mark_column=0,
        wide=False,
    )


def _units(title: str, rows: Sequence[UnitRow], empty: str) -> Table:
    return Table(
        title,
        ("Unit", "Fit", "Where", "Why"),
        tuple(
            Line(
                (row.tag, row.fit.value, row.where_words or row.where.value, in_short(row.reasons or row.advises)),
                mark_for(row.fit),
                Place("units", row.tag),
            )
            for row in rows
        ),
        empty,
        mark_column=1,
        wide=False,
    )


def _runs_out(items: Sequence[DueItem]) -> Table:
    return Table(
        "Runs out this week",
        ("Last good day", "Days left", "Unit", "What", "To do"),
        tuple(
            Line(
                (
                    day(item.last_good_day),
                    days_left(item.days_left),
                    said(item.unit, NONE),
                    said(item.slot, said(item.part_type, NONE)),
                    item.item,
                ),
                mark_for(item.state),
                Place("parts", str(item.part_id)) if item.part_id is not None else None,
            )
            for item in items
        ),
        "Nothing runs out within the week.",
        mark_column=0,
        wide=False,
    )
