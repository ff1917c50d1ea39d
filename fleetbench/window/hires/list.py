"""Hire desk: bookings of hires, courses and try days, with the units that are promised, out and back."""

from collections import Counter
from collections.abc import Sequence
from functools import partial
from zoneinfo import ZoneInfo

from PySide6.QtCore import QModelIndex, Slot
from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import CELSIUS, METRE
from fleetbench.calc.hires.promises import HireState, Keeping
from fleetbench.window.detail.detail import Detail, Fact, Section
from fleetbench.window.hires.acts import ACTS
from fleetbench.window.lists.act_bar import ActBar
from fleetbench.window.lists.list_page import ListPage, ListSpec, QuickFilter
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import nothing_recorded
from fleetbench.window.look.marks import ADVISE, OK, STOP, UNKNOWN, Mark, mark_for
from fleetbench.window.look.words import NONE, NOT_RECORDED, counted, figure, moment, said, spaced, yes_no
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey, new_ticket_key
from fleetbench.window.units.today import calls_table
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires import list as hires
from fleetbench.workshop.hires.list import BookingRow, HireLine
from fleetbench.workshop.units.today import calls_on

STATES = (HireState.LATE, HireState.OUT, HireState.WAITING, HireState.TO_COME)
"""States that the list can be narrowed to."""

ENDED = (HireState.BACK, HireState.NOT_COLLECTED, HireState.NO_SHOW, HireState.CANCELLED)
"""States of bookings that are over."""

EVERY = say("All bookings")
EMPTY = nothing_recorded("No bookings are recorded", "hires", "Hires, courses and try days stand here.", "book", "Book")
SIBLINGS = ((say("Hire desk"), PageKey("hires")), ("Availability", PageKey("availability")), ("Plan", PageKey("plan")),
            (say("Use and cost"), PageKey("earnings")), (EVERY, PageKey("hires", "")))  # fmt: skip


def list_page(context: PageContext) -> "HireList":
    """The list of bookings that are not over."""
    return _page(context, say("Hire desk"), past=False)


def _page(context: PageContext, title: str, *, past: bool) -> "HireList":
    spec = ListSpec(
        title,
        columns(context.zone),
        key=lambda row: row.booking.code,
        load=partial(hires.judged_bookings, context.workplace, past=past),
        load_at_once=partial(hires.judged_bookings, context.workplace, past=past, at_once=True),
        lacks=lambda row: row.pending,
        describe=describe,
        load_detail=partial(booking_detail, context.workplace, context.zone),
        empty=EMPTY,
        sum_up=sum_up,
        place=lambda row: PageKey("units", row.units[0]) if len(row.units) == 1 else None,
        choices=tuple(
            QuickFilter(word, partial(_has_state, word), mark_for(word)) for word in (*STATES, *(ENDED if past else ()))
        ),
        sort_column="from",
        siblings=SIBLINGS,
    )
    return HireList(context, spec)


def record_page(context: PageContext) -> "HireList":
    """Every booking that is kept, over or not, with one chosen."""
    return _page(context, EVERY, past=True)


class HireList(ListPage[BookingRow]):
    """The list page with the desk's acts below the title."""

    def __init__(self, context: PageContext, spec: ListSpec[BookingRow], parent: QWidget | None = None) -> None:
        super().__init__(context.theme, context.background, spec, parent)
        self._wanted = ""
        self.bench = ActBar(context, ACTS, self.table, self)
        self.content.insertWidget(2, self.bench)
        self.bench.changed.connect(self._on_changed)
        self.bench.refused.connect(self.banner.say_refused)
        self.bench.place_requested.connect(self.place_requested)
        self.bench.acted_on.connect(self.acted_on)
        self.rows_shown.connect(self._on_rows_shown)
        self.table.selectionModel().currentRowChanged.connect(self._on_chosen)

    def show_key(self, key: str) -> None:
        """Load the list with the cursor on this booking."""
        self._wanted = key
        self.refresh()

    @Slot(int)
    def _on_rows_shown(self, _count: int) -> None:
        wanted, self._wanted = self._wanted, ""
        if wanted and not self.choose(wanted):
            self.banner.say_note(say("{wanted} is no longer kept.", wanted=wanted))
        self._choose_current()

    @Slot(str)
    def _on_changed(self, words: str) -> None:
        self.banner.say_note(words)
        self.refresh()

    @Slot(QModelIndex, QModelIndex)
    def _on_chosen(self, _current: QModelIndex, _before: QModelIndex) -> None:
        self._choose_current()

    def _choose_current(self) -> None:
        current = self.table.currentIndex()
        self.bench.choose(self.model.row_at(current.row()) if current.isValid() else None)


def _has_state(word: str, row: BookingRow) -> bool:
    return row.state == word


def sum_up(rows: Sequence[BookingRow]) -> str:
    """'23 bookings: 1 late, 4 out, 18 to come'."""
    states = Counter(row.state for row in rows)
    waiting = (
        say(", {states} on the waiting list", states=states[HireState.WAITING]) if states[HireState.WAITING] else ""
    )
    line = say(
        "{count}: {states} late, {states_2} out, {states_3} to come{waiting}",
        count=counted(len(rows), "booking"),
        states=states[HireState.LATE],
        states_2=states[HireState.OUT],
        states_3=states[HireState.TO_COME],
        waiting=waiting,
    )
    return say("{line}; promises: being calculated", line=line) if any(row.pending for row in rows) else line


def promised(row: BookingRow) -> str:
    """Which units are promised, and how many are still to be chosen."""
    short = row.booking.units_wanted - len(row.units)
    words = [*row.units, *([say("{short} to be chosen", short=short)] if short > 0 else [])]
    return strung(", ", words) or NONE


def promise_mark(row: BookingRow) -> Mark | None:
    """A booking that lacks a unit is marked so long as it is to come."""
    lacking = row.state is HireState.TO_COME and len(row.units) < row.booking.units_wanted
    return mark_for("due soon").worded(promised(row)) if lacking else None


def describe(row: BookingRow) -> Detail:
    """What the list's own row says of a booking."""
    return Detail(
        row.booking.code,
        say(
            "{kind}, {starts_on} to {ends_on}",
            kind=say(row.booking.kind),
            starts_on=row.booking.starts_on.isoformat(),
            ends_on=row.booking.ends_on.isoformat(),
        ),
        (mark_for(row.state),),
        (*_keeping(row), _who(row), _planned(row), _units(row)),
    )


def booking_detail(workplace: Workplace, zone: ZoneInfo, row: BookingRow) -> Detail:
    """A booking with each of its units; asks the workshop."""
    lines = hires.hire_lines(workplace, row.booking.code)
    summary = describe(row)
    return Detail(
        summary.title,
        summary.subtitle,
        summary.marks,
        (
            *_keeping(row),
            _who(row),
            _planned(row),
            *(_line(line, zone) for line in lines),
            *(() if lines else (_units(row),)),
            *calls_table(calls_on(workplace, row.booking.booking_id), zone),
            *_work(row),
        ),
    )


def _work(row: BookingRow) -> tuple[Section, ...]:
    """Tickets begun so that a unit is ready for the booking."""
    if row.state is not HireState.TO_COME or not row.units:
        return ()
    reason = say(
        "Ready for {kind} {code} from {starts_on}",
        kind=say(row.booking.kind),
        code=row.booking.code,
        starts_on=row.booking.starts_on.isoformat(),
    )
    facts = (
        Fact(tag, say("Open a ticket"), leads_to=PageKey("ticket_work", new_ticket_key(tag, reason, "course")))
        for tag in row.units
    )
    return (Section("Work before it", tuple(facts)),)


def _keeping(row: BookingRow) -> tuple[Section, ...]:
    """What stands against the promise, until when it can be cured, whom to ring and what to offer.

    Said as well where that is not known yet, which is no promise kept.
    """
    if row.pending:
        return (Section("Promise: being calculated", (), "Not judged yet: not known to be kept."),)
    line = row.promise
    if line is None or line.state is Keeping.FIT:
        return ()
    until = line.judgement.until
    facts = (
        *(Fact("", each) for each in line.why),
        *((Fact("To be cured until", until.isoformat()),) if until is not None else ()),
        Fact("Ring", line.who),
        *((Fact("Offer", line.offer),) if line.offer else ()),
        *((Fact("Sign again", strung(", ", line.sign_again)),) if line.sign_again else ()),
    )
    return (Section(say("Promise {value}", value=say(line.state.value)), facts),)


def _who(row: BookingRow) -> Section:
    return Section(
        "Who",
        (
            Fact("Renter", said(row.renter, NONE)),
            Fact("Instructor", said(row.instructor, NONE)),
            *(
                (Fact(say("Why {state}", state=say(row.state)), row.booking.ended_for),)
                if row.booking.ended_for
                else ()
            ),
        ),
    )


def _planned(row: BookingRow) -> Section:
    return Section(
        "Planned",
        (
            Fact("Unit type", row.booking.unit_type),
            Fact("Loop minutes", figure(row.booking.planned_minutes, "min", 0)),
            Fact("Deepest", figure(row.booking.planned_depth_m, METRE, 0)),
            Fact("Water", figure(row.booking.planned_water_c, CELSIUS, 0)),
            Fact("Bailout", yes_no(row.booking.bailout)),
            Fact("Diluent", _diluent_words(row)),
            *((Fact("Price terms", row.booking.price_terms),) if row.booking.price_terms else ()),
        ),
    )


def _diluent_words(row: BookingRow) -> str:
    if row.booking.diluent_oxygen is None:
        return NOT_RECORDED
    helium = f", He {row.booking.diluent_helium:g} %" if row.booking.diluent_helium else ""
    return f"O2 {row.booking.diluent_oxygen:g} %{helium}"


def _units(row: BookingRow) -> Section:
    return Section(
        "Units",
        tuple(Fact("", tag, leads_to=PageKey("units", tag)) for tag in row.units),
        say("No unit is chosen yet; {units_wanted} wanted.", units_wanted=counted(row.booking.units_wanted, "unit")),
    )


def _line(line: HireLine, zone: ZoneInfo) -> Section:
    back = line.line.received_at is not None
    return Section(
        say("Unit {unit}", unit=line.line.unit),
        (
            Fact("Unit", line.line.unit, leads_to=PageKey("units", line.line.unit)),
            Fact("Diver", said(line.diver)),
            Fact("Handed over as", spaced(line.line.hand_over, say("not handed over yet"))),
            *((Fact("Stays here", line.note),) if line.note and line.line.out_at is None else ()),
            Fact(
                "Out",
                moment(line.line.out_at, zone, say("not out yet")),
                note=say("by {out_by}", out_by=line.out_by) if line.out_by else "",
            ),
            Fact("Back", moment(line.line.received_at, zone, say("not back yet"))),
            *(
                (
                    Fact("Wet", yes_no(line.line.wet)),
                    Fact("Flooded", yes_no(line.line.flooded)),
                    Fact("Fault", yes_no(line.line.fault)),
                    Fact("Loop minutes", figure(line.line.loop_minutes, "min", 0)),
                    Fact("Dives", NOT_RECORDED if line.line.dives is None else str(line.line.dives)),
                    Fact("Remarks", said(line.note, NONE)),
                )
                if back
                else ()
            ),
        ),
    )


CALCULATED = say("being calculated")
"""What a promise that is not judged yet says."""

KEEPING_MARKS = {
    Keeping.FIT: OK.worded(Keeping.FIT.value),
    Keeping.AT_RISK: ADVISE.worded(Keeping.AT_RISK.value),
    Keeping.NOT_KEPT: STOP.worded(Keeping.NOT_KEPT.value),
}
"""How a promise stands, shown as what it amounts to."""


def keeping_mark(row: BookingRow) -> Mark | None:
    """How the promise of a booking stands; not known while it is not judged, None where there is none to judge."""
    if row.pending:
        return UNKNOWN.worded(CALCULATED)
    return KEEPING_MARKS[row.promise.state] if row.promise is not None else None


def columns(zone: ZoneInfo) -> tuple[Column[BookingRow], ...]:
    """The columns of the list; times are the centre's."""
    return (*COLUMNS[:-1], _waiting_column(zone), COLUMNS[-1])


def _waiting_column(zone: ZoneInfo) -> Column[BookingRow]:
    return Column(
        "waiting",
        "Waits since",
        lambda row: NONE if row.waiting_since is None else moment(row.waiting_since, zone),
        lambda row: (row.waiting_since is None, row.waiting_since),
        shown=False,
    )


COLUMNS: tuple[Column[BookingRow], ...] = (
    Column("code", "Booking", lambda row: row.booking.code),
    Column(
        "state",
        "State",
        lambda row: row.state,
        lambda row: -mark_for(row.state).rank,
        state=lambda row: mark_for(row.state),
    ),
    Column(
        "promise",
        "Promise",
        lambda row: NONE if (mark := keeping_mark(row)) is None else mark.word,
        lambda row: 0 if (mark := keeping_mark(row)) is None else -mark.rank,
        state=keeping_mark,
        tooltip=lambda row: row.promise.words if row.promise is not None else "",
    ),
    Column("from", "From", lambda row: row.booking.starts_on.isoformat()),
    Column("to", "To", lambda row: row.booking.ends_on.isoformat()),
    Column("kind", "Kind", lambda row: say(row.booking.kind)),
    Column("who", "For", lambda row: said(row.renter, said(row.instructor, NONE))),
    Column("units", "Units", promised, state=promise_mark, gives_way=True),
    Column("type", "Unit type", lambda row: row.booking.unit_type),
    Column(
        "wanted",
        "Wanted",
        lambda row: str(row.booking.units_wanted),
        lambda row: row.booking.units_wanted,
        align_right=True,
    ),
    Column("out", "Out", lambda row: str(len(row.out)), lambda row: len(row.out), align_right=True),
    Column("back", "Back", lambda row: str(row.back), lambda row: row.back, align_right=True),
    Column("instructor", "Instructor", lambda row: said(row.instructor, NONE), shown=False),
)
