"""What the find box came upon: several things, or none."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import say
from fleetbench.window.detail.detail import Detail, Line, Table
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.place import PageKey

if TYPE_CHECKING:
    # Only named here: to import them reads the tables' definitions, which takes longer than showing the window.
    from fleetbench.workshop.core.find import Hit
    from fleetbench.workshop.core.workplace import Workplace

PAGE_OF_KIND = {
    "unit": "units",
    "cell": "cells",
    "canister": "canisters",
    "cylinder": "parts",
    "part": "parts",
    "ticket": "tickets",
    "booking": "hires",
}
"""Which page opens what was found; what is missing here leads to the list it stands in."""

LIST_OF_KIND = {"person": "hires", "container": "stock"}


@dataclass(frozen=True, slots=True)
class Found:
    """What a text led to; places holds where to go when it is plain which one was meant."""

    text: str
    hits: "tuple[Hit, ...]"
    places: tuple[PageKey, ...]


def find_hits(workplace: "Workplace", text: str) -> Found:
    """Hits for a typed or scanned text; one exact hit, or one hit at all, is where to go."""
    # The records are open by the time anything is looked for; the window is shown before.
    from fleetbench.workshop.core.find import find

    hits = find(workplace, text)
    exact = [hit for hit in hits if hit.exact]
    sure = exact if len(exact) == 1 else list(hits) if len(hits) == 1 else []
    return Found(text, hits, tuple(place_of(hit) for hit in sure))


def place_of(hit: "Hit") -> PageKey:
    """Where a hit leads."""
    page = PAGE_OF_KIND.get(hit.kind)
    return PageKey(page, hit.key) if page is not None else PageKey(LIST_OF_KIND.get(hit.kind, "today"))


def found_detail(found: Found) -> Detail:
    """The hits as a small table."""
    lines = tuple(Line((hit.title, hit.kind, hit.detail), leads_to=place_of(hit)) for hit in found.hits)
    nothing = say("Nothing recorded matches. Check the label, or try part of the serial.")
    summary = (
        say("{count} for “{found}”", count=len(lines), found=found.text)
        if lines
        else say("nothing for “{found}”", found=found.text)
    )
    return Detail(say("Found"), summary, (), (Table("Matches", ("What", "Kind", "Where"), lines, nothing, column=0),))


class FoundPage(RecordPage):
    """Shows what was found; Enter on a line goes there."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, None, None, parent)

    def show_found(self, found: Found) -> None:
        """Show these hits."""
        self.show_detail(found_detail(found))
        self.focus_first_table()
