"""Valves and regulators: the list with the last test of each, and the page of one valve."""

from collections import Counter
from collections.abc import Sequence
from datetime import date
from functools import partial
from zoneinfo import ZoneInfo

from fleetbench.calc.core.doors import at as door
from fleetbench.calc.core.languages import capital, say, strung
from fleetbench.calc.core.measures import BAR, result_in
from fleetbench.window.detail.detail import Detail, Fact, Line, Onward, Section, Table
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.lists.list_page import ListPage, ListSpec, QuickFilter
from fleetbench.window.lists.rows import Column, before_judged
from fleetbench.window.look.buttons import nothing_recorded
from fleetbench.window.look.marks import ADVISE, REJECT, REPEAT, STOP, UNKNOWN, mark_for
from fleetbench.window.look.words import NONE, counted, day, figure, moment, said, spaced
from fleetbench.window.parts.page import limits_table
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.bench import valves
from fleetbench.workshop.bench.valves import TestLine, ValvePage, ValveRow
from fleetbench.workshop.core.known import listed_at_once

BENCH_SIBLINGS = (
    ("Valves", PageKey("valves")),
    ("Bench", PageKey("bench")),
    (say("Test equipment"), PageKey("equipment")),
)
"""Pages that share the entry of the rail."""

EMPTY = nothing_recorded("No valves are recorded yet", "valves", "Valves stand here with their tests.")


def list_page(context: PageContext) -> ListPage[ValveRow]:
    """The list of valves and regulators."""
    spec = ListSpec(
        "Valves",
        columns(context.zone),
        key=key_of,
        load=partial(valves.list_valves, context.workplace),
        describe=partial(describe, zone=context.zone),
        empty=EMPTY,
        sum_up=sum_up,
        place=lambda row: PageKey("valves", key_of(row)),
        choices=(
            QuickFilter("failed", lambda row: row.test_state == "failed", REJECT),
            QuickFilter("stale", lambda row: row.test_state == "stale", STOP),
            QuickFilter("not tested", lambda row: row.test_state == "not tested", UNKNOWN),
            QuickFilter("undecided", lambda row: row.test_state == "undecided", REPEAT),
            QuickFilter("due soon", lambda row: row.test_state == "due soon", ADVISE),
        ),
        siblings=BENCH_SIBLINGS,
    )
    at_once = partial(listed_at_once, context.workplace, valves.list_valves, valves.valves_listed)
    return ListPage(context.theme, context.background, before_judged(spec, "valves", "valve", at_once))


def record_page(context: PageContext) -> RecordPage:
    """The page of one valve."""

    def load(key: str) -> Detail:
        slot, tag = key.split(" ", 1)
        return valve_detail(
            valves.valve_page(context.workplace, tag, int(slot)), context.zone, context.workplace.today()
        )

    return RecordPage(context.theme, context.background, load)


def key_of(row: ValveRow) -> str:
    """Slot number and tag: a slot belongs to a unit type, so that only both name one valve."""
    return f"{row.slot_id} {row.unit}"


def sum_up(rows: Sequence[ValveRow]) -> str:
    """'112 valves: 90 fresh, 12 due soon, 6 stale, 4 not tested'."""
    states = Counter(row.test_state for row in rows)
    tests = strung(
        ", ", (say("{number} {word}", number=number, word=say(word)) for word, number in states.most_common())
    )
    return say("{valves}; last tests: {tests}", valves=counted(len(rows), "valve"), tests=tests)


def columns(zone: ZoneInfo) -> tuple[Column[ValveRow], ...]:
    """The columns of the list."""
    return (
        Column("unit", "Unit", lambda row: row.unit),
        Column("slot", "Valve", lambda row: row.slot),
        Column(
            "test", "Last test", lambda row: row.test_state, lambda row: -mark_for(row.test_state).rank,
            state=lambda row: mark_for(row.test_state),
        ),
        Column("result", "Result", result_words, gives_way=True),
        Column("trend", "Trend", trend_words, lambda row: len(row.trend), trend=trend),
        Column("life", "Life", lambda row: row.life_state.value, lambda row: -mark_for(row.life_state).rank,
               state=lambda row: mark_for(row.life_state)),
        Column("tested", "Tested on", lambda row: tested(row, zone),
               lambda row: row.last_test and row.last_test.record.at, shown=False),
        Column("until", "Last valid day of the test", lambda row: day(row.test_last_good_day, NONE),
               lambda row: row.test_last_good_day, shown=False),
        Column("last", "Last valid day", lambda row: day(row.last_good_day), lambda row: day(row.last_good_day, "0"),
               shown=False),
        Column("part", "Part", lambda row: said(row.part, say("empty")), shown=False),
        Column("kind", "Kind", lambda row: spaced(row.slot_kind), shown=False),
        Column("type", "Part type", lambda row: said(row.part_type, NONE), shown=False),
        Column("fitted", "Fitted", lambda row: day(row.fitted_on, NONE), shown=False),
        Column("basis", "Set by limit", lambda row: spaced(row.basis, NONE), shown=False),
    )  # fmt: skip


def tested(row: ValveRow, zone: ZoneInfo) -> str:
    """On which day the last test was made; the detail beside the list says at what time."""
    return day(row.last_test.record.at.astimezone(zone).date()) if row.last_test else "never"


def trend(row: ValveRow) -> tuple[float, ...]:
    """Measured values over time, oldest first."""
    return tuple(value for _day, value in row.trend)


def trend_words(row: ValveRow) -> str:
    """The trend as text, for copying."""
    values = trend(row)
    return (
        say("{values:g} to {values_2:g} in {count}", values=values[0], values_2=values[-1], count=len(values))
        if values
        else NONE
    )


def result_words(row: ValveRow) -> str:
    """What the last test showed."""
    return NONE if row.last_test is None else test_words(row.last_test)


def held_words(held: bool, minutes: float | None) -> str:
    """That a pressure held or fell, and how long it was watched."""
    if minutes is None:
        return say("held") if held else say("fell")
    return say("held {minutes:g} min", minutes=minutes) if held else say("fell {minutes:g} min", minutes=minutes)


def test_words(test: TestLine) -> str:
    """Result of a test with what was measured: 'pass, held 5 min', 'pass, 9.4 bar'."""
    return strung(", ", (say(test.record.result), *_measured(test)))


def _measured(test: TestLine) -> list[str]:
    """What was measured, and how."""
    words: list[str] = []
    if test.record.held is not None:
        words.append(held_words(test.record.held, test.record.watched_minutes))
    if test.record.value is not None:
        words.append(result_in(test.record.value, test.record.expanded_u, test.record.unit_of_value))
    if test.record.supply_bar is not None:
        words.append(say("at {supply_bar} supply", supply_bar=BAR.words(test.record.supply_bar)))
    return words


def describe(row: ValveRow, zone: ZoneInfo) -> Detail:
    """What the list's own row says of a valve."""
    test = row.last_test
    return Detail(
        row.slot,
        strung(", ", (row.unit, spaced(row.slot_kind))),
        (
            mark_for(row.test_state).worded(say("test: {state}", state=say(row.test_state))),
            mark_for(row.life_state).worded(say("life: {state}", state=say(row.life_state))),
        ),
        (
            Section(
                "Last test",
                (
                    Fact("Kind", spaced(test.record.kind)),
                    Fact("Result", test_words(test), mark_for(test.record.result)),
                    Fact("Direction", said(test.record.direction, NONE)),
                    Fact("When", moment(test.record.at, zone), note=say("by {person}", person=said(test.person))),
                    Fact("Last valid day", day(row.test_last_good_day)),
                    Fact("With", said(test.record.equipment)),
                    Fact("Ground", said(test.record.finding, NONE)),
                    Fact("Note", said(test.record.note, NONE)),
                )
                if test is not None
                else (),
                say("No {test_kind} test since it was last opened: test it before it is relied on.",
                    test_kind=spaced(row.test_kind)),
            ),
            Section(
                "Part",
                (
                    Fact("Part", row.part or str(row.part_id), leads_to=PageKey("parts", str(row.part_id))),
                    Fact("Part type", said(row.part_type)),
                    Fact("Fitted", day(row.fitted_on)),
                    Fact("Last valid day", day(row.last_good_day), note=say("set by {basis}", basis=spaced(row.basis))),
                )
                if row.part_id is not None
                else (),
                "The slot is empty.",
            ),
            Section("Where", (Fact("Unit", row.unit, leads_to=PageKey("units", row.unit)),)),
        ),
    )  # fmt: skip


def valve_detail(page: ValvePage, zone: ZoneInfo, today: date) -> Detail:
    """Everything on one valve's page."""
    summary = describe(page.row, zone)
    opened = Section(
        "Last opened in the workshop",
        (Fact("When", moment(page.opened_at, zone)), Fact("What", said(page.opened_what))) if page.opened_at else (),
        "No opening is recorded.",
    )
    return Detail(
        summary.title,
        summary.subtitle,
        summary.marks,
        (
            *summary.parts,
            limits_section(page),
            opened,
            tests_table(page.tests, zone),
            limits_table(page.limits, today),
        ),
        onward=(Onward("Test it at the bench", "valves", PageKey("bench", page.row.unit)),),
        trend=page.series,
        zone=zone,
    )


def limits_section(page: ValvePage) -> Section:
    """The limits in force for its tests, each with its source."""
    facts = (words.split(": ", 1) for words in page.limit_words)
    return Section(
        "Limits of its tests",
        tuple(Fact(capital(say(method)), limit) for method, limit in facts),
        say("No limit is recorded: enter the manual's {what}.", what=door("limit")),
    )


def tests_table(tests: Sequence[TestLine], zone: ZoneInfo) -> Table:
    """Bench tests, newest first."""
    return Table(
        "Tests",
        ("When", "Result", "Kind", "Measured", "Direction", "By", "Ground and note"),
        tuple(
            Line(
                (
                    moment(test.record.at, zone),
                    say(test.record.result),
                    spaced(test.record.kind),
                    strung(", ", _measured(test)) or figure(test.record.value, test.record.unit_of_value or ""),
                    spaced(test.record.direction, NONE),
                    said(test.person),
                    said(strung(". ", (word for word in (test.record.finding, test.record.note) if word)), NONE),
                ),
                mark_for(test.record.result),
            )
            for test in tests
        ),
        "No test is recorded.",
        mark_column=1,
    )
