"""Units: the list, and the page of one unit with its states, holds, checks, parts and history."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from functools import partial

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.readiness.judge import HandoverKind
from fleetbench.window.detail.detail import Detail, Fact, Section
from fleetbench.window.detail.record_page import RecordPage, with_photographs
from fleetbench.window.forms.form import Choices, Form
from fleetbench.window.lists.act_bar import ActBar, ActList, ActSpec, at_any_time
from fleetbench.window.lists.list_page import ListSpec, QuickFilter
from fleetbench.window.lists.rows import CALCULATED, Column, natural_key
from fleetbench.window.look.buttons import nothing_recorded
from fleetbench.window.look.marks import DUE_SOON, HOLD, READY, UNKNOWN, Mark, mark_for
from fleetbench.window.look.words import (
    NONE,
    counted,
    days_left,
    figure,
    in_short,
    last_day,
    said,
)
from fleetbench.window.parts.fit import FittingOnPage
from fleetbench.window.places.forms import ask_correction
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.window.units.acts import UnitRecordPage
from fleetbench.window.units.setting_up import (
    add_unit_form,
    away_form,
    back_form,
    copy_form,
    first_unit_form,
    mark_form,
    move_form,
    rename_form,
    retire_form,
)
from fleetbench.workshop.units import list as units
from fleetbench.workshop.units.list import (
    Fit,
    UnitRow,
    Where,
    fit_words,
    next_steps,
)
from fleetbench.workshop.units.schematic import unit_schematic

EMPTY = nothing_recorded("No units are recorded yet", "units", "Every unit stands here with what holds it.")


def list_page(context: PageContext) -> ActList[UnitRow]:
    """The list of units."""
    spec = ListSpec(
        "Units",
        COLUMNS,
        key=lambda row: row.tag,
        load=partial(units.list_units, context.workplace),
        load_at_once=partial(units.units_at_once, context.workplace),
        lacks=lambda row: row.pending,
        describe=describe,
        empty=EMPTY,
        sum_up=sum_up,
        place=lambda row: PageKey("units", row.tag),
        choices=(
            QuickFilter("hold", lambda row: row.fit is Fit.HOLD, HOLD),
            QuickFilter("due soon", lambda row: row.fit is Fit.DUE_SOON, DUE_SOON),
            QuickFilter("ready", lambda row: row.fit is Fit.READY, READY),
        ),
    )
    return ActList(context, spec, ACTS)


def record_page(context: PageContext) -> RecordPage:
    """The page of one unit."""

    def load(tag: str) -> Detail:
        from fleetbench.window.units.page import unit_detail  # it stands on this module

        page = units.unit_page(context.workplace, tag)
        drawing, steps = unit_schematic(context.workplace, page.row.tag), next_steps(context.workplace, page)
        detail = unit_detail(page, context.zone, drawing, steps)
        return with_photographs(detail, context.workplace, context.zone, tag=page.row.tag)

    shown = UnitRecordPage(context, load)
    shown.fitting = FittingOnPage(shown, context, 4).desk
    return shown


def _told(_row: object, value: object) -> str:
    return str(value)


def _here(row: UnitRow | None) -> bool:
    return row is not None and row.where in (Where.RECEIVED, Where.BENCH, Where.SHELF)


def _away(row: UnitRow | None) -> bool:
    return row is not None and row.where is Where.AWAY


def _in_service(row: UnitRow | None) -> bool:
    return row is not None and row.where is not Where.RETIRED and not row.pending


def _marks(bar: ActBar, row: UnitRow) -> Form:
    return mark_form(bar.workplace, row.unit_id, row.tag, partial(_kinds_in, bar, row.tag))


def _kinds_in(bar: ActBar, tag: str) -> Choices:
    kinds = {part.slot_kind for part in units.unit_page(bar.workplace, tag).fitted if part.part_id is not None}
    return [(kind, kind) for kind in sorted(kinds, key=_cells_first)]


def _cells_first(kind: str) -> tuple[bool, str]:
    return kind != "cell", kind


def _today(bar: ActBar) -> date:
    return bar.workplace.clock().astimezone(bar.context.zone).date()


ACTS = (
    ActSpec(
        "add", "Add a unit", "N", "add", "add unit", at_any_time, lambda bar, _row: add_unit_form(bar.workplace), _told
    ),
    ActSpec(
        "more",
        "More like this",
        act="add unit",
        needs=_in_service,
        said=_told,
        form=lambda bar, row: copy_form(bar.workplace, row.unit_id, row.tag, row.in_service),
    ),
    ActSpec(
        "new_type",
        "Add a unit of a new type",
        act="add unit",
        needs=at_any_time,
        said=_told,
        rare=True,
        form=lambda bar, _row: first_unit_form(bar.workplace, has_centre=True, has_people=True),
    ),
    ActSpec("marks", "Enter marks on parts", act="correct stock record", needs=_in_service, form=_marks, said=_told),
    ActSpec(
        "correct",
        "Correct the unit",
        "F4",
        "correct",
        "correct master data",
        said=_told,
        rare=True,
        form=lambda bar, row: ask_correction(bar, "units", row.unit_id),
    ),
    ActSpec(
        "rename",
        "Rename the unit",
        act="rename unit",
        needs=_in_service,
        said=_told,
        rare=True,
        form=lambda bar, row: rename_form(bar.workplace, row.unit_id, row.tag),
    ),
    ActSpec(
        "move",
        "Move the unit",
        act="move unit",
        needs=_in_service,
        said=_told,
        rare=True,
        form=lambda bar, row: move_form(bar.workplace, row.unit_id, row.tag),
    ),
    ActSpec(
        "away",
        "Send the unit away",
        act="send unit away",
        needs=_here,
        said=_told,
        rare=True,
        form=lambda bar, row: away_form(bar.workplace, row.unit_id, row.tag),
    ),
    ActSpec(
        "back",
        "Bring the unit back",
        act="bring unit back",
        needs=_away,
        said=_told,
        rare=True,
        form=lambda bar, row: back_form(bar.workplace, row.unit_id, row.tag),
    ),
    ActSpec(
        "retire",
        "Sell or retire the unit",
        act="retire unit",
        needs=_in_service,
        said=_told,
        rare=True,
        form=lambda bar, row: retire_form(bar.workplace, row.unit_id, row.tag, _today(bar)),
    ),
)
"""How units come, change and go."""


def sum_up(rows: Sequence[UnitRow]) -> str:
    """'14 units: 6 ready, 3 due soon, 5 on hold; 2 out'."""
    if any(row.pending for row in rows):
        return strung(": ", (counted(len(rows), "unit"), CALCULATED))
    fits, out = Counter(row.fit for row in rows), sum(row.where is Where.OUT for row in rows)
    return say(
        "{count}: {fits} ready, {fits_2} due soon, {fits_3} on hold; {out} out",
        count=counted(len(rows), "unit"),
        fits=fits[Fit.READY],
        fits_2=fits[Fit.DUE_SOON],
        fits_3=fits[Fit.HOLD],
        out=out,
    )


def fit_mark(row: UnitRow) -> Mark:
    """How fit a unit is and for which way of leaving; what is not judged is never shown as ready."""
    mark = mark_for(row.fit) if row.way is not HandoverKind.NOT_FOR_DIVING else UNKNOWN
    return mark.worded(fit_words(row.fit, row.way, row.where))


def why(row: UnitRow) -> str:
    """Every reason of a hold in one line, else what to look at, else how many advices are accepted."""
    if row.accepted and not (row.reasons or row.advises):
        return say("{accepted} accepted", accepted=counted(row.accepted, "recommendation"))
    return in_short(row.reasons or row.advises)


def why_in_full(row: UnitRow) -> str:
    """The same with its evidence."""
    accepted = (
        (say("{accepted} accepted by a manager", accepted=counted(row.accepted, "recommendation")),)
        if row.accepted
        else ()
    )
    return strung("; ", (*(row.reasons or row.advises), *accepted))


def booking_words(row: UnitRow) -> str:
    """When and for whom a unit is promised next."""
    booking = row.next_booking
    if booking is None:
        return NONE
    return say(
        "{starts_on} to {ends_on}, {value}",
        starts_on=booking.starts_on.isoformat(),
        ends_on=booking.ends_on.isoformat(),
        value=booking.diver or say(booking.kind),
    )


def booking_start(row: UnitRow) -> str:
    """When and for whom a unit goes out next, without the day it comes back."""
    booking = row.next_booking
    return (
        NONE if booking is None else strung(", ", (booking.starts_on.isoformat(), booking.diver or say(booking.kind)))
    )


def booking_order(row: UnitRow) -> tuple[str, str] | None:
    """Bookings sort by their first day; a unit without one comes last."""
    return (row.next_booking.starts_on.isoformat(), row.tag) if row.next_booking else None


def due_words(row: UnitRow) -> str:
    """What runs out first on a unit, and when."""
    if row.next_due is None:
        return NONE
    return strung(": ", (row.next_due.slot, days_left(row.next_due.days_left)))


def due_order(row: UnitRow) -> tuple[int, int] | None:
    """What is not known comes before what is past, and that before what is to come."""
    if row.next_due is None:
        return None
    days = row.next_due.days_left
    return (0, 0) if days is None else (1, days)


def describe(row: UnitRow) -> Detail:
    """What the list's own row says of a unit."""
    if row.pending:
        return Detail(row.tag, _type_and_serial(row), (fit_mark(row),))
    due = row.next_due
    runs_out = strung(", ", (due.slot, say(due.item))) if due else say("nothing with a limit is fitted")
    return Detail(
        row.tag,
        _type_and_serial(row),
        (fit_mark(row),),
        (
            lines_section(say("On hold because"), row.reasons, say("Nothing holds it.")),
            *((lines_section(say("To look at"), row.advises, ""),) if row.advises else ()),
            Section(
                "Now",
                (
                    Fact("Where", say(row.where.value), note=row.where_words),
                    Fact("Next booking", booking_words(row)),
                    Fact("Ends first", runs_out, note=last_day(due.last_good_day, due.days_left) if due else ""),
                    *(Fact("Open ticket", number, leads_to=PageKey("tickets", number)) for number in row.open_tickets),
                ),
            ),
            use_section(row),
        ),
    )


def _type_and_serial(row: UnitRow) -> str:
    return say("{unit_type}, serial {serial}", unit_type=row.unit_type, serial=said(row.serial, "not known"))


def lines_section(title: str, lines: Sequence[str], empty: str) -> Section:
    """Reasons one under the other, or what it means that there are none."""
    return Section(title, tuple(Fact("", line) for line in lines), empty)


def use_section(row: UnitRow) -> Section:
    """What the unit has done so far."""
    return Section(
        "Use so far",
        (
            Fact("Loop hours", figure(row.hours, "h")),
            Fact("Dives", str(row.dives)),
            Fact("Hires", str(row.hires)),
            Fact("In service since", said(str(row.in_service or ""), say("not known"))),
        ),
    )


_COLUMNS: tuple[Column[UnitRow], ...] = (
    Column("tag", "Tag", lambda row: row.tag),
    Column(
        "fit", "Fit", lambda row: fit_mark(row).word, lambda row: -mark_for(row.fit).rank,
        state=fit_mark, tooltip=lambda row: why(row) or fit_mark(row).word,
    ),
    Column("where", "Where", lambda row: say(row.where.value), lambda row: tuple(Where).index(row.where)),
    Column("why", "Why", why, tooltip=why_in_full, gives_way=True),
    Column("due", "Ends first", due_words, due_order, tooltip=due_words, gives_way=True),
    Column("booking", "Next booking", booking_start, booking_order, tooltip=booking_words, gives_way=True),
    Column("type", "Unit type", lambda row: row.unit_type, shown=False),
    Column("hours", "Loop hours", lambda row: figure(row.hours), lambda row: row.hours, align_right=True, shown=False),
    Column("tickets", "Open tickets", lambda row: strung(", ", row.open_tickets) or NONE, shown=False),
    Column("place", "Place", lambda row: said(row.where_words, NONE), shown=False),
    Column("serial", "Serial", lambda row: said(row.serial, say("not known")), shown=False),
    Column("build", "Build", lambda row: say(row.build), shown=False),
    Column("owner", "Owner", lambda row: row.owner, shown=False),
    Column("former", "Former tag", lambda row: said(row.former_tag, NONE), shown=False),
    Column("accepted", "Accepted recommendations", lambda row: str(row.accepted), lambda row: row.accepted,
           align_right=True, shown=False),
    Column("harness", "Harness", lambda row: said(row.harness, NONE), shown=False),
    Column("dives", "Dives", lambda row: str(row.dives), lambda row: row.dives, align_right=True, shown=False),
    Column("hires", "Hires", lambda row: str(row.hires), lambda row: row.hires, align_right=True, shown=False),
    Column("since", "In service since", lambda row: said(str(row.in_service or ""), say("not known")), shown=False),
)  # fmt: skip

OF_THE_UNIT = ("tag", "type", "serial", "build", "owner", "former", "harness", "since")
"""Columns of what is recorded of a unit itself; all others wait until it is judged."""


def _once_judged(column: Column[UnitRow]) -> Column[UnitRow]:
    """The column as it is, but for a unit that is not judged yet, of which it says so."""
    text, tip = column.text, column.tooltip
    order = column.sort_key or (lambda row: natural_key(column.cell(row)))
    return replace(
        column,
        text=lambda row: CALCULATED if row.pending else text(row),
        sort_key=lambda row: None if row.pending else order(row),
        tooltip=None if tip is None else lambda row: CALCULATED if row.pending else tip(row),
    )


COLUMNS = tuple(each if each.key in OF_THE_UNIT else _once_judged(each) for each in _COLUMNS)
