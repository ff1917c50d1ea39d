"""Today: what goes out and comes back, what is late, what lies on the bench and what runs out; and calls to divers."""

import json
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from functools import partial
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from PySide6.QtCore import Slot

from fleetbench.calc.core.languages import capital, say, say_count, strung
from fleetbench.calc.core.wall_time import moment_at
from fleetbench.calc.hires.promises import ENDS, BookingKind, CallAnswer, Keeping
from fleetbench.calc.readiness.judge import HandoverKind
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.reads import CallRecord
from fleetbench.window.detail.detail import ACROSS, Detail, Line, Table
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.forms.form import Choices, Field, Form, Shown
from fleetbench.window.look.marks import ADVISE, OK, STOP, UNKNOWN, mark_for
from fleetbench.window.look.words import NONE, counted, day, days_left, in_short, moment, said, weekday
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey, ticket_for
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import DueItem
from fleetbench.workshop.hires.promises import PromiseLine, judged_promises, to_ring
from fleetbench.workshop.import_export.walk_round import WalkRound, walk_round
from fleetbench.workshop.units import today
from fleetbench.workshop.units.list import fit_words
from fleetbench.workshop.units.today import BenchLine, ChooseLine, GoingLine, TodayPage, note_call, today_page

if TYPE_CHECKING:
    from fleetbench.window.forms.form_dialog import FormDialog


ANOTHER_MATTER = say("another matter")
USUAL_WAIT = timedelta(minutes=30)
"""After which a diver who was not reached is usually rung again; common practice, no published source."""


def call_form(workplace: Workplace, zone: ZoneInfo, title: str, about: Choices = (), booking: str = "") -> Form:
    """Asks what came of a call; about: unit in words with (key of its line, what is told), else the booking's."""

    def note(about: tuple[int, str], answer: str, again: str | None, words: str) -> str:
        at = again_at(again or "", workplace.clock(), zone)
        return note_call(workplace, about[0], told=about[1], answer=answer, again_at=at, words=words)

    def asked(given: Mapping[str, object]) -> Mapping[str, Shown]:
        return {"again": given.get("answer") not in ENDS}

    answers = [(capital(each), each.value) for each in CallAnswer]
    soon = (workplace.clock() + USUAL_WAIT).astimezone(zone)
    return Form(
        title,
        act_words="Save call",
        note="The diver stays on the list until they answer and agree not to dive it or to bring it back. A new hold, "
        "or other words to say, puts them back on it.",
        fields=(
            Field("about", "Unit, and what to say", "choice", choices=about, wants="no unit of this booking is out"),
            Field("answer", "Answer", "choice", choices=[("choose what came of it", None), *answers],
                  wants="is missing; choose what came of the call"),
            Field("again", "Ring again at", hint="such as 14:30, or 2026-05-04 09:00", default=f"{soon:%H:%M}"),
            Field("words", "What was said", "words"),
        ),
        act=note,
        load=partial(_out_on, workplace, booking) if booking else None,
        look=asked,
        first="answer",
        wide=170,
    )  # fmt: skip


def call_about(line: GoingLine) -> Choices:
    """The one choice of a call about a line of Today."""
    return [(strung(": ", (line.unit, line.told or ANOTHER_MATTER)), (line.line_id, line.told or ANOTHER_MATTER))]


def _out_on(workplace: Workplace, booking: str) -> Mapping[str, Shown]:
    """Every unit of a booking that is out, with what its diver is to be told."""
    from fleetbench.workshop.hires.list import hire_lines  # the hire desk's, which the start of the window does without

    page = today_page(workplace)
    told = {line.line_id: line.told for line in (*page.ring_the_renter, *page.rung)}
    out = [each.line for each in hire_lines(workplace, booking) if each.line.out_at and not each.line.received_at]
    words = [(each.unit, each.line_id, told.get(each.line_id) or ANOTHER_MATTER) for each in out]
    return {"about": [(strung(": ", (unit, say)), (line, say)) for unit, line, say in words]}


def again_at(text: str, now: datetime, zone: ZoneInfo) -> datetime | None:
    """When to ring again, None for nothing; a time that has passed today is meant for tomorrow."""
    said_day, _, said_time = text.strip().rpartition(" ")
    if not said_time:
        return None
    try:
        on = date.fromisoformat(said_day.strip()) if said_day.strip() else now.astimezone(zone).date()
        at = moment_at(datetime.combine(on, time.fromisoformat(said_time.zfill(5))), zone)
        passed = not said_day.strip() and at <= now
        return moment_at(at.astimezone(zone) + timedelta(days=1), zone) if passed else at
    except ValueError:
        raise Refused(say("ring again: {text!r} is no time; enter one such as 14:30", text=text.strip())) from None


def calls_table(calls: Sequence[CallRecord], zone: ZoneInfo) -> tuple[Table, ...]:
    """The log of calls, newest first; nothing where nobody was rung."""
    if not calls:
        return ()
    lines = tuple(
        Line(
            (moment(each.fact.at, zone), each.fact.answer, each.booking, each.fact.told,
             moment(each.fact.again_at, zone, NONE), said(each.person), said(each.words, NONE)),
            OK if each.fact.answer in ENDS else ADVISE,
        )
        for each in reversed(calls)
    )  # fmt: skip
    columns = ("When", "Answer", "Booking", "Told", say("Ring again"), say("Who rang"), say("What was said"))
    return (Table("Calls to divers", columns, lines, mark_column=1, column=ACROSS),)


CALL = "call"
"""The form of a call, as a place on this page."""


def list_page(context: PageContext) -> RecordPage:
    """The page of the day."""

    def load(key: str) -> Detail:
        workplace = context.workplace
        page = today.today_page(workplace)
        ring = to_ring(tuple(judged_promises(workplace).values()), page.on) if key != WITHOUT_PROMISES else None
        return today_detail(page, walk_round(workplace), ring, bench_first=context.signed_in.role == BENCH_ROLE)

    page = TodayView(context, load)
    context.signed_in.changed.connect(page.refresh)  # telephones are shown to those who may see them
    return page


BENCH_ROLE = "technician"
"""Whose own list is the bench's; it stands above what goes out and comes back for them."""


WHOLE, WITHOUT_PROMISES = "today", "without promises"
"""What the page loads: the whole day, or what stands before the promises are judged."""


class TodayView(RecordPage):
    """The page of the day, on which a call to a diver is recorded where it says whom to ring.

    Where nothing is shown yet, the day is shown before its promises are judged, which takes as long again.
    """

    many_cards, first_key = True, WITHOUT_PROMISES

    def __init__(self, context: PageContext, load: Callable[[str], Detail]) -> None:
        super().__init__(context.theme, context.background, load)
        self.context = context
        self.dialog: FormDialog | None = None
        self.key = WHOLE

    def begin_at(self, place: PageKey) -> None:
        """Begin a call that a line leads to; anything else is done at its own place."""
        if place.page != CALL:
            super().begin_at(place)
            return
        from fleetbench.window.forms.form_dialog import FormDialog  # once a call is recorded

        line, told, words = json.loads(place.key or "")
        form = call_form(self.context.workplace, self.context.zone, say("Call to a diver"), [(words, (line, told))])
        self.dialog = FormDialog(self.theme, self.context.background, form, self.window())
        self.dialog.done_with.connect(self._on_called)
        self.dialog.open()

    @Slot(object)
    def _on_called(self, words: object) -> None:
        self.banner.say_note(str(words))
        self.refresh()


def call_place(line: GoingLine) -> PageKey:
    """The place at which a call about a line is recorded: the form on this page."""
    ((words, (key, told)),) = call_about(line)
    return PageKey(CALL, json.dumps([key, told, words]))


def today_detail(
    page: TodayPage,
    known: WalkRound | None = None,
    ring: Sequence[PromiseLine] | None = (),
    *,
    bench_first: bool = False,
) -> Detail:
    """The day as small tables; units that are out and on hold come first.

    known: how far the fleet is known, told where anything is not. ring: bookings whose renter is to be rung; None
    while that is not known.
    bench_first: what lies on the bench stands before what goes out and comes back.
    """
    counter = (
        _going(say("Out today"), page.out_today, say("Nothing goes out today.")),
        _going(say("Back today"), page.back_today, say("Nothing is expected back today.")),
        *([_to_choose(page.to_choose)] if page.to_choose else []),
    )
    bench = (
        _units(say("Here, not inspected"), page.not_inspected, say("No turn-round waits to begin.")),
        _units(say("On the bench"), page.on_bench, say("The bench is clear.")),
    )
    out = len(page.ring_the_renter)
    urgent = [_ring(page.ring_the_renter)] if out else []
    late = [_late(page.late)] if page.late else []
    courses = [line for line in page.blocked if line.kind == BookingKind.COURSE]
    others = [line for line in page.blocked if line.kind != BookingKind.COURSE]
    return Detail(
        weekday(page.on),
        _sum_up(page)
        if ring is not None
        else say("{day}; bookings to ring about: being calculated", day=_sum_up(page)),
        (STOP.worded(say_count("{count} unit out and on hold", "{count} units out and on hold", out)),) if out else (),
        (
            *urgent,
            *([_rung(page.rung)] if page.rung else []),
            *late,
            *([_to_ring(ring)] if ring else []),
            *((*bench, *counter) if bench_first else (*counter, *bench)),
            _blocked(say("Blocks the next course"), courses, say("Every unit promised to a course is free of holds.")),
            _blocked(say("Blocks a hire or try day"), others, say("Every other promised unit is free of holds.")),
            _going(say("Out this week"), page.out_this_week, say("Nothing else goes out within the week.")),
            _going(say("Back this week"), page.back_this_week, say("Nothing else is expected back within the week.")),
            _runs_out(page.runs_out),
            *([_not_known(known)] if known is not None and known.lines else []),
        ),
    )


def place_of(act_on: tuple[str, str]) -> PageKey:
    """Where the next act is done."""
    kind, key = act_on
    return PageKey({"booking": "hires", "ticket": "tickets", "turn-round": "turn_rounds"}.get(kind, "units"), key)


def _sum_up(page: TodayPage) -> str:
    return say(
        "{count} go out and {count_2} come back today, {count_3} late; {count_4} not inspected, {count_5} on the bench",
        count=len(page.out_today),
        count_2=len(page.back_today),
        count_3=len(page.late),
        count_4=len(page.not_inspected),
        count_5=len(page.on_bench),
    )


def _ring(lines: Sequence[GoingLine]) -> Table:
    return Table(
        "Out and on hold: ring the renter",
        ("Unit", "Next act: Enter records the call", "Why", "Booking", "Back by"),
        tuple(
            Line(
                (line.unit, say(line.next_act), why(line.reasons), line.booking, line.ends_on.isoformat()),
                STOP,
                call_place(line),
            )
            for line in lines
        ),
        mark_column=0,
        column=ACROSS,
    )


def _rung(lines: Sequence[GoingLine]) -> Table:
    return Table(
        "Out and on hold: the diver was told",
        ("Unit", "What was told and answered", "Booking", "Back by"),
        tuple(
            Line((line.unit, say(line.next_act), line.booking, line.ends_on.isoformat()), ADVISE, call_place(line))
            for line in lines
        ),
        mark_column=0,
        column=ACROSS,
    )


def _to_ring(lines: Sequence[PromiseLine]) -> Table:
    return Table(
        "Bookings to ring about",
        ("Booking", "From", "State", "Ring", "What to offer", "Why"),
        tuple(
            Line(
                (
                    line.booking.code,
                    line.booking.starts_on.isoformat(),
                    line.state.value,
                    line.who,
                    offer_words(line),
                    why(line.why),
                ),
                STOP if line.state is Keeping.NOT_KEPT else ADVISE,
                PageKey("hires", line.booking.code),
            )
            for line in lines
        ),
        mark_column=2,
        column=ACROSS,
    )


def offer_words(line: PromiseLine) -> str:
    """What to offer, and what must be signed again."""
    again = say("; sign again: {sign_again}", sign_again=strung(", ", line.sign_again)) if line.sign_again else ""
    return strung("", (line.offer, again))


def _late(lines: Sequence[GoingLine]) -> Table:
    return Table(
        "Late",
        ("Unit", "Late by", "Next act", "Diver", "Booking"),
        tuple(
            Line(
                (line.unit, counted(line.days_late, "day"), say(line.next_act), said(line.diver), line.booking),
                mark_for("late"),
                place_of(line.act_on),
            )
            for line in lines
        ),
        mark_column=1,
        column=ACROSS,
    )


def why(reasons: Sequence[str]) -> str:
    """The first reason in short, and how many more there are; the unit's page tells them all."""
    more = say(", and {count} more", count=len(reasons) - 1) if len(reasons) > 1 else ""
    return strung("", (in_short(reasons[:1]), more))


def _going(title: str, lines: Sequence[GoingLine], empty: str) -> Table:
    return Table(
        title,
        ("Unit", "Fit", "Next act", "For", "To"),
        tuple(
            Line(
                (
                    line.unit,
                    line.fit_words,
                    say(line.next_act),
                    said(line.diver, say(line.kind)),
                    line.ends_on.isoformat(),
                ),
                mark_for(line.fit) if line.way is not HandoverKind.NOT_FOR_DIVING else ADVISE,
                place_of(line.act_on),
            )
            for line in lines
        ),
        empty,
        mark_column=1,
        column=0,
        wide=False,
    )


def _to_choose(lines: Sequence[ChooseLine]) -> Table:
    return Table(
        "Still without units this week",
        ("Booking", "From", "Next act", "For"),
        tuple(
            Line(
                (
                    line.booking,
                    line.starts_on.isoformat(),
                    say("waits for {units}", units=counted(line.lacking, "unit"))
                    if line.waiting
                    else say("choose {units}", units=counted(line.lacking, "unit")),
                    said(line.who, say(line.kind)),
                ),
                ADVISE,
                PageKey("availability"),
            )
            for line in lines
        ),
        mark_column=0,
        column=0,
        wide=False,
    )


def _blocked(title: str, lines: Sequence[GoingLine], empty: str) -> Table:
    return Table(
        title,
        ("Unit", "Booking", "From", "Next act", "Why"),
        tuple(
            Line(
                (line.unit, line.booking, line.starts_on.isoformat(), say(line.next_act), why(line.reasons)),
                mark_for(line.fit),
                place_of(line.act_on),
            )
            for line in lines
        ),
        empty,
        mark_column=0,
    )


def _units(title: str, lines: Sequence[BenchLine], empty: str) -> Table:
    return Table(
        title,
        ("Unit", "Fit", "Next act", "Why"),
        tuple(
            Line(
                (
                    line.row.tag,
                    fit_words(line.row.fit, line.row.way, line.row.where),
                    say(line.next_act),
                    why(line.row.reasons or line.row.advises),
                ),
                mark_for(line.row.fit),
                place_of(line.act_on),
            )
            for line in lines
        ),
        empty,
        mark_column=1,
    )


def _not_known(known: WalkRound) -> Table:
    """The answers that settle most, each leading to the walk-round."""
    useful = known.most_useful
    return Table(
        say("{known}; what to look for first", known=known.words),
        ("Unit", "Look for"),
        tuple(Line((line.unit, line.look_for), UNKNOWN, PageKey("walk_round")) for line in useful),
        mark_column=0,
        wide=False,
    )


def _runs_out(items: Sequence[DueItem]) -> Table:
    return Table(
        "Ends this week",
        ("Last valid day", "Days left", "Unit", "What", "Next act"),
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
                PageKey("parts", str(item.part_id))
                if item.part_id is not None
                else ticket_for(item, said(item.slot, said(item.part_type, item.item))),
            )
            for item in items
        ),
        "Nothing ends within the week.",
        mark_column=0,
        wide=False,
    )
