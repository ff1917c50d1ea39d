"""The page of one canister: its clocks, the story of each fill, and what the journal says of it."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QWidget

from fleetbench.window.canisters.canister_bench import CanisterBench
from fleetbench.window.canisters.clocks import ClockStrip
from fleetbench.window.detail.detail import ACROSS, Detail, Line, Table
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.look.words import NONE, moment, percent, said
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.canisters.history import CanisterStory, FillTale, canister_story
from fleetbench.workshop.canisters.list import CanisterPage, canister_page

_TOLD_FILLS = 6
_TOLD_ENTRIES = 40


@dataclass(frozen=True, slots=True)
class ToldDetail(Detail):
    """A Detail with the story it was made from."""

    story: CanisterStory | None = None


class CanisterRecord(RecordPage):
    """The record page with the bench's acts and running clocks above the cards."""

    def __init__(
        self,
        context: PageContext,
        detail_of: Callable[[CanisterPage, ZoneInfo], Detail],
        parent: QWidget | None = None,
    ) -> None:
        shop, zone = context.shop, context.zone

        def load(key: str) -> Detail:
            page = canister_page(shop, int(key))
            story = canister_story(shop, int(key))
            return told_detail(detail_of(page, zone), story, zone)

        super().__init__(context.theme, context.background, load, parent)
        self.clocks = ClockStrip(context.theme, shop.clock, zone, self)
        self.bench = CanisterBench(context.theme, context.background, shop, zone, keys_on=self._scroll, parent=self)
        self.content.insertWidget(2, self.bench)
        self.content.insertWidget(3, self.clocks)
        self.bench.changed.connect(self._on_changed)
        self.bench.refused.connect(self.banner.say_refused)

    @Slot(object)
    def show_detail(self, detail: Detail) -> None:
        """Show the canister with its clocks."""
        super().show_detail(detail)
        story = detail.story if isinstance(detail, ToldDetail) else None
        if story is not None:
            self.clocks.show_clocks(story.clocks)
            self.bench.choose(story.part_id, story.canister, bool(story.fills) and story.fills[0].standing)

    @Slot(str)
    def _on_changed(self, words: str) -> None:
        self.banner.say_note(words)
        self.refresh()


def told_detail(detail: Detail, story: CanisterStory, zone: ZoneInfo) -> ToldDetail:
    """The plain page with the stories of its fills in place of the bare runs, and the journal below."""
    kept = tuple(part for part in detail.parts if part.title != "Runs of this fill")
    stories = tuple(story_table(fill, zone) for fill in story.fills[:_TOLD_FILLS])
    return ToldDetail(
        detail.title,
        detail.subtitle,
        detail.marks,
        (*stories[:1], *kept, *(replace(each, column=1) for each in stories[1:]), journal_table(story, zone)),
        detail.flow,
        detail.badges,
        story=story,
    )


def story_table(fill: FillTale, zone: ZoneInfo) -> Table:
    """One fill from packing to bin."""
    return Table(
        f"{fill.fill}, {'in the canister' if fill.standing else 'thrown away'}",
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
            Line((str(line.number), moment(line.at, zone), line.act, said(line.person, NONE), line.hash[:12]))
            for line in story.journal[:_TOLD_ENTRIES]
        ),
        "Nothing was done to it in this program yet; older fills came in with the centre's sheets.",
    )
