"""Absorbent: the containers as bought, how much is left in each and until when it may be used."""

from collections.abc import Sequence
from functools import partial
from zoneinfo import ZoneInfo

from fleetbench.window.detail import Detail, Fact, Section
from fleetbench.window.empty_state import nothing_recorded
from fleetbench.window.list_page import Choice, ListPage, ListSpec
from fleetbench.window.marks import ADVISE, STOP, UNKNOWN, mark_for
from fleetbench.window.pages import PageContext
from fleetbench.window.rows import Column
from fleetbench.window.stock import SIBLINGS
from fleetbench.window.words import NONE, counted, day, days_left, figure, last_day, moment, said
from fleetbench.workshop import canisters
from fleetbench.workshop.canisters import ContainerRow

EMPTY = nothing_recorded("No absorbent is recorded yet", "canisters")


def list_page(context: PageContext) -> ListPage[ContainerRow]:
    """The list of containers."""
    spec = ListSpec(
        "Absorbent",
        columns(context.zone),
        key=lambda row: str(row.container_id),
        load=partial(canisters.list_containers, context.shop),
        describe=partial(describe, zone=context.zone),
        empty=EMPTY,
        sum_up=sum_up,
        choices=(
            Choice("past", lambda row: mark_for(row.state).rank == STOP.rank, STOP),
            Choice("due soon", lambda row: mark_for(row.state).rank == ADVISE.rank, ADVISE),
            Choice("not known", lambda row: row.last_good_day is None, UNKNOWN),
            Choice("some left", lambda row: row.left_kg > 0),
        ),
        siblings=SIBLINGS,
        sort_column="last",
    )
    return ListPage(context.theme, context.background, spec)


def sum_up(rows: Sequence[ContainerRow]) -> str:
    """'12 containers, 86.5 kg left'."""
    return f"{counted(len(rows), 'container')}, {sum(row.left_kg for row in rows):.1f} kg left"


def describe(row: ContainerRow, zone: ZoneInfo) -> Detail:
    """What the list's own row says of a container."""
    return Detail(
        f"Lot {row.lot}",
        f"{row.part_type}, grade {said(row.grade)}",
        (mark_for(row.state),),
        (
            Section(
                "Container",
                (
                    Fact("Left", figure(row.left_kg, "kg"), note=f"of {row.received_kg:.1f} kg received"),
                    Fact("Last good day", last_day(row.last_good_day, row.days_left)),
                    Fact("Received", day(row.received_on)),
                    Fact("Opened", moment(row.opened_at, zone, "not opened")),
                    Fact("Place", said(row.place)),
                ),
            ),
        ),
    )


def columns(zone: ZoneInfo) -> tuple[Column[ContainerRow], ...]:
    """The columns of the list."""
    return (
        Column("lot", "Lot", lambda row: row.lot),
        Column(
            "last", "Last good day", lambda row: day(row.last_good_day), lambda row: day(row.last_good_day, "0"),
            state=lambda row: mark_for(row.state),
        ),
        Column("days", "Days left", lambda row: days_left(row.days_left), lambda row: day(row.last_good_day, "0")),
        Column("left", "Left, kg", lambda row: f"{row.left_kg:.1f}", lambda row: row.left_kg, align_right=True),
        Column("grade", "Grade", lambda row: said(row.grade)),
        Column("type", "Part type", lambda row: row.part_type),
        Column("received", "Received", lambda row: day(row.received_on), lambda row: row.received_on),
        Column("opened", "Opened", lambda row: moment(row.opened_at, zone, "not opened"), lambda row: row.opened_at),
        Column("place", "Place", lambda row: said(row.place, NONE)),
    )  # fmt: skip
