"""Due: what must be replaced or done, with its last good day and the limit that governs."""

from collections import Counter
from collections.abc import Callable, Sequence

from fleetbench.window.detail.detail import Detail, Fact, Section
from fleetbench.window.due.due_page import DuePage
from fleetbench.window.lists.list_page import Choice, ListSpec
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.empty_state import nothing_recorded
from fleetbench.window.look.marks import DUE_SOON, STOP, UNKNOWN, mark_for
from fleetbench.window.look.words import NONE, counted, day, days_left, last_day, said, spaced
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import Place
from fleetbench.window.tickets.ticket_work_new import new_ticket_key
from fleetbench.workshop.due.list import FORECAST, SERVICE_PLAN, DueItem, DueState

EMPTY = nothing_recorded("Nothing is due", "due")
SIBLINGS = (("Due", Place("due")), ("To fetch", Place("fetch")), ("Notices", Place("notices")))


def list_page(context: PageContext) -> DuePage:
    """The list of due items; what is not known and what is past come first."""
    return DuePage(context, make_spec)


def make_spec(group: Column[DueItem], load: Callable[[], Sequence[DueItem]]) -> ListSpec[DueItem]:
    """What the list shows, with a column for the group in force."""
    return ListSpec(
        "Due",
        (group, *COLUMNS),
        key=key_of,
        load=load,
        describe=describe,
        empty=EMPTY,
        sum_up=sum_up,
        place=place_of,
        choices=(
            Choice("not known", lambda row: row.state is DueState.UNKNOWN, UNKNOWN),
            Choice("past", lambda row: row.state is DueState.PAST, STOP),
            Choice("due soon", lambda row: row.state is DueState.DUE_SOON, DUE_SOON),
            Choice("hits a booking", lambda row: row.hits is not None),
            Choice("projected", lambda row: row.projected),
        ),
        sort_column="last",
        siblings=SIBLINGS,
    )


def key_of(row: DueItem) -> str:
    """What makes an item this one and no other."""
    return "|".join(said(part, "") for part in (row.unit, row.slot, row.part, row.item, row.basis, row.part_type))


def place_of(row: DueItem) -> Place | None:
    """The part that runs out, else its unit."""
    if row.part_id is not None:
        return Place("parts", str(row.part_id))
    return Place("units", row.unit) if row.unit else None


def sum_up(rows: Sequence[DueItem]) -> str:
    """'214 items: 3 not known, 5 past, 12 due soon'."""
    states = Counter(row.state for row in rows)
    return (
        f"{counted(len(rows), 'item')}: {states[DueState.UNKNOWN]} not known, {states[DueState.PAST]} past, "
        f"{states[DueState.DUE_SOON]} due soon"
    )


def order(row: DueItem) -> tuple[int, int]:
    """Not known before everything, then the earliest."""
    return (0, 0) if row.days_left is None else (1, row.days_left)


def describe(row: DueItem) -> Detail:
    """What the list's own row says of an item."""
    return Detail(
        f"{said(row.slot, said(row.part_type, row.item))}",
        f"{row.item}, {row.unit or 'in no unit'}",
        (mark_for(row.state),),
        (
            Section(
                "Last good day",
                (
                    Fact(
                        "Last good day",
                        last_day(row.last_good_day, row.days_left),
                        note="use is allowed on this day" if row.last_good_day else "",
                    ),
                    Fact("Limit that governs", spaced(row.basis)),
                    Fact("Reckoning", said(row.why), note=rests_on(row)),
                    Fact("Hits booking", said(row.hits, "none")),
                ),
            ),
            Section(
                "What",
                (
                    Fact("Part type", said(row.part_type, NONE)),
                    Fact("Part", said(row.part, NONE), leads_to=_part(row)),
                    Fact("Unit", said(row.unit, NONE), leads_to=Place("units", row.unit) if row.unit else None),
                    Fact("Place", said(row.place)),
                    *_ticket(row),
                ),
            ),
        ),
    )


def _ticket(row: DueItem) -> tuple[Fact, ...]:
    """A ticket begun for what falls due on a unit."""
    if row.unit is None:
        return ()
    if row.basis == SERVICE_PLAN:
        return (Fact("Work", "Service plan of the unit", leads_to=Place("turn_rounds", row.unit)),)
    reason = f"{row.item} due {day(row.last_good_day)}: {what(row)}"
    return (Fact("Work", "Open a ticket", leads_to=Place("ticket_work", new_ticket_key(row.unit, reason, "due item"))),)


def _part(row: DueItem) -> Place | None:
    return Place("parts", str(row.part_id)) if row.part_id is not None and row.part else None


def what(row: DueItem) -> str:
    """The slot and the part in it, else the part, person or lot, else its type."""
    if row.slot:
        return f"{row.slot}, {row.part}" if row.part else row.slot
    return said(row.part, said(row.part_type, NONE))


def rests_on(row: DueItem) -> str:
    """What a projected day rests on; nothing for one that is certain."""
    if not row.projected:
        return ""
    return "projected from its own calibrations" if row.basis == FORECAST else "projected from use"


def last_words(row: DueItem) -> str:
    """The last good day; 'about' where it is projected."""
    return f"{'about ' if row.projected else ''}{day(row.last_good_day)}"


COLUMNS: tuple[Column[DueItem], ...] = (
    Column("last", "Last good day", last_words, order, state=lambda row: mark_for(row.state),
           heading_tip="About: projected from use, or from a cell's own calibrations. The detail tells how"),
    Column("unit", "Unit", lambda row: said(row.unit, NONE)),
    Column("item", "To do", lambda row: row.item, gives_way=True, tooltip=lambda row: row.why),
    Column("what", "What", what, gives_way=True, tooltip=lambda row: said(row.part_type, "")),
    Column("hits", "Hits", lambda row: said(row.hits, NONE),
           heading_tip="The first hire or course of the unit that ends after the last good day"),
    Column("days", "Days left", lambda row: days_left(row.days_left), order, shown=False),
    Column("slot", "Slot", lambda row: said(row.slot, NONE), shown=False),
    Column("part", "Part", lambda row: said(row.part, NONE), shown=False),
    Column("type", "Part type", lambda row: said(row.part_type, NONE), shown=False),
    Column("basis", "Limit that governs", lambda row: spaced(row.basis), tooltip=lambda row: row.why, shown=False),
    Column("place", "Place", lambda row: said(row.place, NONE), shown=False),
    Column("state", "State", lambda row: row.state.value, order, shown=False),
)  # fmt: skip
