"""The pages of the window as a table of data: what stands in the rail, and what opens the page of one thing.

A view is imported when it is first shown, so that the window is usable early.
"""

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module

from fleetbench.window.background import Background
from fleetbench.window.page import Page
from fleetbench.window.record_page import RecordPage
from fleetbench.window.theme import Theme
from fleetbench.workshop.shop import Shop


@dataclass(frozen=True, slots=True)
class PageContext:
    """What a page is given: looks, where its work runs, and the workshop it asks."""

    theme: Theme
    background: Background
    shop: Shop


@dataclass(frozen=True, slots=True)
class PageSpec:
    """One entry of the rail; its module offers list_page(context) and, where one thing has a page, record_page."""

    name: str
    title: str
    module: str
    keys: str
    has_record: bool = False

    def make_list(self, context: PageContext) -> Page:
        """The page that the rail opens."""
        made: Callable[[PageContext], Page] = import_module(self.module).list_page
        return made(context)

    def make_record(self, context: PageContext) -> RecordPage:
        """The page of one thing."""
        made: Callable[[PageContext], RecordPage] = import_module(self.module).record_page
        return made(context)


def _spec(name: str, title: str, number: int, has_record: bool = False) -> PageSpec:
    return PageSpec(name, title, f"fleetbench.window.{name}", f"Ctrl+{number}", has_record)


PAGES: tuple[PageSpec, ...] = (
    _spec("today", "Today", 1),
    _spec("units", "Units", 2, has_record=True),
    _spec("cells", "Cells", 3, has_record=True),
    _spec("canisters", "Canisters", 4, has_record=True),
    _spec("valves", "Valves", 5, has_record=True),
    _spec("hires", "Hire desk", 6),
    _spec("due", "Due", 7),
    _spec("tickets", "Tickets", 8),
    _spec("stock", "Stock", 9),
)


def page_named(name: str) -> PageSpec:
    """The entry of that name; raises KeyError for a page that does not exist."""
    for spec in PAGES:
        if spec.name == name:
            return spec
    raise KeyError(name)
