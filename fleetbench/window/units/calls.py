"""The form that records a call to a diver who is out with a unit, and the log of calls as it is shown."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from functools import partial
from zoneinfo import ZoneInfo

from fleetbench.calc.core.languages import capital, say, strung
from fleetbench.calc.core.wall_time import moment_at
from fleetbench.calc.hires.promises import ENDS, CallAnswer
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.reads import CallRecord
from fleetbench.window.detail.detail import ACROSS, Line, Table
from fleetbench.window.forms.form import Choices, Field, Form, Shown
from fleetbench.window.look.marks import ADVISE, OK
from fleetbench.window.look.words import NONE, moment, said
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.units.calls import note_call
from fleetbench.workshop.units.today import GoingLine, today_page

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
