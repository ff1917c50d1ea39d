"""The page of one canister: its clocks, the story of each fill, and what the journal says of it.

Canisters: the list with what is packed in each, and the page of one canister with its fills and runs.
"""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from zoneinfo import ZoneInfo

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import CELSIUS, GRAM, METRE
from fleetbench.records.canisters.reads import FillRecord, RatingRecord
from fleetbench.window.canisters.acts import ACTS, ChosenCanister
from fleetbench.window.canisters.list import CanisterList, ClockStrip
from fleetbench.window.detail.detail import ACROSS, Detail, Fact, Line, Section, Table
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.lists.act_bar import ActBar
from fleetbench.window.lists.list_page import ListSpec, QuickFilter
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import nothing_recorded
from fleetbench.window.look.marks import STOP, UNKNOWN, mark_for
from fleetbench.window.look.words import NONE, counted, figure, moment, number, percent, said, spaced, yes_no
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.canisters import list as canisters
from fleetbench.workshop.canisters.history import CanisterStory, FillTale, canister_story
from fleetbench.workshop.canisters.list import CanisterPage, CanisterRow, FillState, FillStory, canister_page
from fleetbench.workshop.canisters.runs import started_words

_TOLD_FILLS = 6
_TOLD_ENTRIES = 40


class CanisterRecord(RecordPage):
    """The record page with the bench's acts and running clocks above the cards."""

    def __init__(
        self,
        context: PageContext,
        detail_of: Callable[[CanisterPage, ZoneInfo], Detail],
        parent: QWidget | None = None,
    ) -> None:
        workplace, zone = context.workplace, context.zone

        def load(key: str) -> Detail:
            page = canister_page(workplace, int(key))
            story = canister_story(workplace, int(key))
            return told_detail(detail_of(page, zone), story, zone)

        super().__init__(context.theme, context.background, load, parent)
        self.clocks = ClockStrip(context.theme, workplace.clock, zone, self)
        self.bench = ActBar(context, ACTS, self._scroll, self)
        self.content.insertWidget(2, self.bench)
        self.content.insertWidget(3, self.clocks)
        self.bench.changed.connect(self._on_changed)
        self.bench.refused.connect(self.banner.say_refused)

    @Slot(object)
    def show_detail(self, detail: Detail) -> None:
        """Show the canister with its clocks."""
        super().show_detail(detail)
        story = detail.source
        if isinstance(story, CanisterStory):
            self.clocks.show_clocks(story.clocks)
            filled = bool(story.fills) and story.fills[0].standing
            self.bench.choose(ChosenCanister(story.part_id, story.canister, filled))

    @Slot(str)
    def _on_changed(self, words: str) -> None:
        self.banner.say_note(words)
        self.refresh()


def told_detail(detail: Detail, story: CanisterStory, zone: ZoneInfo) -> Detail:
    """The plain page with the stories of its fills in place of the bare runs, and the journal below."""
    kept = tuple(part for part in detail.parts if part.title != "Runs of this fill")
    stories = tuple(story_table(fill, zone) for fill in story.fills[:_TOLD_FILLS])
    return replace(
        detail,
        parts=(*stories[:1], *kept, *(replace(each, column=1) for each in stories[1:]), journal_table(story, zone)),
        source=story,
    )


def story_table(fill: FillTale, zone: ZoneInfo) -> Table:
    """One fill from packing to bin."""
    return Table(
        strung(", ", (fill.fill, say("in the canister") if fill.standing else say("discarded"))),
        ("When", "What", "By", "Used after"),
        tuple(
            Line((moment(line.at, zone), line.words, said(line.person, NONE), percent(line.used, NONE)))
            for line in fill.lines
        ),
        column=ACROSS,
    )


def journal_table(story: CanisterStory, zone: ZoneInfo) -> Table:
    """What the journal holds about the canister, newest first."""
    return Table(
        "Journal",
        ("Entry", "When", "Act", "By", "Hash"),
        tuple(
            Line((str(line.entry), moment(line.at, zone), line.act, said(person, NONE), line.hash[:12]))
            for line, person in story.journal[:_TOLD_ENTRIES]
        ),
        "Nothing was done to it in this program yet; older fills were imported.",
    )


EMPTY = nothing_recorded("No canisters are recorded yet", "canisters", "Canisters stand here with their fills.")


def list_page(context: PageContext) -> CanisterList:
    """The list of canisters."""
    spec = ListSpec(
        "Canisters",
        columns(context.zone),
        key=lambda row: str(row.part.part_id),
        load=partial(canisters.list_canisters, context.workplace),
        describe=partial(describe, zone=context.zone),
        empty=EMPTY,
        sum_up=sum_up,
        place=lambda row: PageKey("canisters", str(row.part.part_id)),
        choices=(
            QuickFilter("spent", lambda row: row.state is FillState.SPENT, STOP),
            QuickFilter("in use", lambda row: row.state is FillState.IN_USE, mark_for("in use")),
            QuickFilter("fresh", lambda row: row.state is FillState.FRESH, mark_for("fresh")),
            QuickFilter("empty", lambda row: row.state is FillState.EMPTY, UNKNOWN),
        ),
    )
    return CanisterList(context, spec)


def record_page(context: PageContext) -> CanisterRecord:
    """The page of one canister."""
    return CanisterRecord(context, canister_detail)


def sum_up(rows: Sequence[CanisterRow]) -> str:
    """'14 canisters: 5 in use, 3 fresh, 1 spent, 5 empty'."""
    states = Counter(row.state for row in rows)
    each = strung(", ", (strung(" ", (str(number), say(word))) for word, number in states.most_common()))
    return strung(": ", (counted(len(rows), "canister"), each))


def columns(zone: ZoneInfo) -> tuple[Column[CanisterRow], ...]:
    """The columns of the list."""
    return (
        Column("canister", "Canister", lambda row: row.part.label),
        Column(
            "state", "Fill", lambda row: row.state, lambda row: -mark_for(row.state).rank,
            state=lambda row: mark_for(row.state), tooltip=lambda row: said(row.left and row.left.reason, row.state),
        ),
        Column("unit", "Unit", lambda row: said(row.unit, NONE)),
        Column("left", title="Minutes left", text=lambda row: figure(row.left and row.left.minutes, "", 0, NONE),
               sort_key=lambda row: row.left and row.left.minutes, align_right=True,
               heading_tip="Loop minutes left at the centre's usual water and depth, by the canister type's own table"),
        Column("used", title="Used", text=lambda row: percent(row.left and row.left.used_share, NONE),
               sort_key=lambda row: row.left and row.left.used_share, align_right=True),
        Column("minutes", title="Loop minutes",
            text=lambda row: figure(row.left and row.left.loop_minutes, "", 0, NONE),
               sort_key=lambda row: row.left and row.left.loop_minutes, align_right=True),
        Column("diver", "For", lambda row: said(row.diver, NONE)),
        Column("packed", "Packed", lambda row: moment(row.fill and row.fill.packed_at, zone, NONE),
               lambda row: row.fill and row.fill.packed_at),
        Column("mass", title=say("Mass, {gram}", gram=GRAM),
            text=lambda row: number(mass_g(row), GRAM, 0, mass_missing(row)),
            sort_key=mass_g, align_right=True),
        Column("by", "Packed by", lambda row: said(row.packed_by, NONE)),
        Column("lot", "Absorbent lot", lambda row: said(row.fill and row.fill.lot, NONE)),
        Column("type", "Part type", lambda row: row.part_type, shown=False),
        Column("booking", "Booking", lambda row: said(row.fill and row.fill.booking, NONE), shown=False),
        Column("why", "Set by", lambda row: said(row.left and row.left.reason, NONE), shown=False),
    )  # fmt: skip


def mass_g(row: CanisterRow) -> float | None:
    """What its fill weighed."""
    return row.fill and row.fill.mass_g


def mass_note(fill: FillRecord) -> str:
    """How well a mass is known."""
    if fill.mass_g is None:
        return ""
    return (
        say("not known how well it was weighed")
        if fill.mass_u_g is None
        else f"± {GRAM.spread(fill.mass_u_g)} {GRAM} (k = 2)"
    )


def mass_missing(row: CanisterRow) -> str:
    """An unweighed fill says so; an empty canister has no mass to weigh."""
    return NONE if row.fill is None else say("not weighed")


def describe(row: CanisterRow, zone: ZoneInfo) -> Detail:
    """What the list's own row says of a canister."""
    fill, left = row.fill, row.left
    return Detail(
        row.part.label,
        strung(", ", (row.part_type, say("in {unit}", unit=row.unit) if row.unit else say("in no unit"))),
        (mark_for(row.state),),
        (
            Section(
                "Fill",
                (
                    Fact("Loop minutes left", figure(left.minutes, "min", 0), note=said(left.reason, "")),
                    Fact("Rule", spaced(left.rule)),
                    Fact("Used", percent(left.used_share)),
                    Fact("Loop minutes so far", figure(left.loop_minutes, "min", 0)),
                    Fact("For", said(row.diver, say("nobody yet")), note=say("A fill serves one diver.")),
                    Fact("Packed", strung(", ", (moment(fill.packed_at, zone), said(row.packed_by)))),
                    Fact("Mass", figure(fill.mass_g, GRAM, 0, say("not weighed")), note=mass_note(fill)),
                    Fact(
                        "Lot",
                        said(fill.lot),
                        note=say("container {container_id}", container_id=fill.container_id)
                        if fill.container_id
                        else "",
                    ),
                )
                if fill is not None and left is not None
                else (),
                "Nothing is packed in it.",
            ),
            Section(
                "Cautions",
                tuple(Fact("", line) for line in (left.cautions if left else ())),
                "None from these records.",
            ),
            Section(
                "Where",
                (Fact("Unit", row.unit, leads_to=PageKey("units", row.unit)),) if row.unit else (),
                "It is in no unit.",
            ),
        ),
    )


def canister_detail(page: CanisterPage, zone: ZoneInfo) -> Detail:
    """Everything on one canister's page."""
    summary = describe(page.row, zone)
    present = next((fill for fill in page.fills if fill.fill.discarded_at is None), None)
    return Detail(
        summary.title,
        summary.subtitle,
        summary.marks,
        (*summary.parts, _rating(page), *([_runs(present, zone)] if present else []), _fills(page.fills, zone)),
    )


def _rating(page: CanisterPage) -> Table:
    return Table(
        say(
            "Rated loop minutes; asked at {water_c} and {depth_m}",
            water_c=figure(page.water_c, CELSIUS, None),
            depth_m=figure(page.depth_m, METRE, None),
        ),
        ("Water", "Depth", "Carbon dioxide", "Minutes", "Grade", "Source"),
        tuple(_rating_line(line) for line in page.rating),
        "No table of rated minutes is recorded for this canister type: a fill in it has no rating.",
    )


def _rating_line(line: RatingRecord) -> Line:
    return Line(
        (
            say("{water_c} or warmer", water_c=CELSIUS.words(line.water_c)),
            say("down to {depth_m}", depth_m=METRE.words(line.depth_m)),
            f"{line.co2_l_min:g} L/min",
            f"{line.minutes:.0f}",
            line.grade,
            line.source,
        )
    )


def _runs(fill: FillStory, zone: ZoneInfo) -> Table:
    return Table(
        "Runs of this fill",
        ("Started", "Loop minutes", "Used after", "Diver", "Coldest", "Deepest", "Clock"),
        tuple(
            Line(
                (
                    started_words(run.run.started_at, run.run.ended_by, zone),
                    figure(run.loop_minutes, "min", 0),
                    percent(run.used_after),
                    said(run.diver),
                    figure(run.run.coldest_c, CELSIUS),
                    figure(run.run.deepest_m, METRE),
                    run.run.clock,
                )
            )
            for run in fill.runs
        ),
        "It has not been breathed on yet.",
    )


def _fills(fills: Sequence[FillStory], zone: ZoneInfo) -> Table:
    return Table(
        "Fills",
        ("Packed", "By", "Mass", "Weighed and checked", "Used", "Loop minutes", "Discarded", "Why"),
        tuple(
            Line(
                (
                    moment(fill.fill.packed_at, zone),
                    said(fill.packed_by),
                    figure(fill.fill.mass_g, GRAM, 0, say("not weighed")),
                    yes_no(fill.fill.checked),
                    percent(fill.used_share),
                    figure(fill.loop_minutes, "min", 0),
                    moment(fill.fill.discarded_at, zone, say("still packed")),
                    said(fill.fill.why_discarded, NONE),
                )
            )
            for fill in fills
        ),
        "No fill has been recorded.",
    )
