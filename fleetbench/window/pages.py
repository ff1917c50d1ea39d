"""The pages of the window as a table of data: what stands in the rail, and what opens the page of one thing.

A view is imported when it is first shown, so that the window is usable early.
"""

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from zoneinfo import ZoneInfo

from fleetbench.window.background import Background
from fleetbench.window.page import Page
from fleetbench.window.theme import Theme
from fleetbench.workshop.shop import Shop


@dataclass(frozen=True, slots=True)
class PageContext:
    """What a page is given: looks, where its work runs, the workshop it asks, and the zone in which times are shown."""

    theme: Theme
    background: Background
    shop: Shop
    zone: ZoneInfo


@dataclass(frozen=True, slots=True)
class PageSpec:
    """One page: its module offers list_page(context) and, where one thing has a page, record_page(context).

    keys open it from anywhere; rail names the entry of the rail that it stands under, its own when empty.
    """

    name: str
    title: str
    module: str
    keys: str
    has_record: bool = False
    rail: str = ""

    def make_list(self, context: PageContext) -> Page:
        """The page that the rail opens."""
        made: Callable[[PageContext], Page] = import_module(self.module).list_page
        return made(context)

    def make_record(self, context: PageContext) -> Page:
        """The page of one thing."""
        made: Callable[[PageContext], Page] = import_module(self.module).record_page
        return made(context)


PAGES: tuple[PageSpec, ...] = (
    PageSpec("today", "Today", "fleetbench.window.today", "Ctrl+1"),
    PageSpec("units", "Units", "fleetbench.window.units", "Ctrl+2", has_record=True),
    PageSpec("cells", "Cells", "fleetbench.window.cells", "Ctrl+3", has_record=True),
    PageSpec("canisters", "Canisters", "fleetbench.window.canisters", "Ctrl+4", has_record=True),
    PageSpec("valves", "Valves", "fleetbench.window.valves", "Ctrl+5", has_record=True),
    PageSpec("hires", "Hire desk", "fleetbench.window.hires", "Ctrl+6", has_record=True),
    PageSpec("due", "Due", "fleetbench.window.due", "Ctrl+7"),
    PageSpec("tickets", "Tickets", "fleetbench.window.tickets", "Ctrl+8", has_record=True),
    PageSpec("stock", "Stock", "fleetbench.window.stock", "Ctrl+9"),
)

BESIDE_THE_RAIL: tuple[PageSpec, ...] = (
    PageSpec("calibrate", "Calibrate", "fleetbench.window.calibrate", "", has_record=True, rail="units"),
    PageSpec("ticket_work", "Work on a ticket", "fleetbench.window.ticket_work", "", has_record=True, rail="tickets"),
    PageSpec("turn_rounds", "Turn-rounds", "fleetbench.window.turn_rounds", "", has_record=True, rail="tickets"),
    PageSpec("bench", "Bench", "fleetbench.window.bench_page", "", has_record=True, rail="valves"),
    PageSpec("unit_gas", "Gas side", "fleetbench.window.unit_gas", "", has_record=True, rail="units"),
    PageSpec("availability", "Availability", "fleetbench.window.availability", "", rail="hires"),
    PageSpec("plan", "Plan", "fleetbench.window.plan", "", rail="hires"),
    PageSpec("equipment", "Test equipment", "fleetbench.window.equipment", "", rail="valves"),
    PageSpec("people", "People", "fleetbench.window.people", "", has_record=True, rail="hires"),
    PageSpec("bring_in", "Bring in sheets", "fleetbench.window.bring_in", ""),
    PageSpec("parts", "Parts", "fleetbench.window.parts", "", has_record=True, rail="stock"),
    PageSpec("shelf", "Shelf", "fleetbench.window.shelf", "", rail="stock"),
    PageSpec("orders", "Orders", "fleetbench.window.orders", "", rail="stock"),
    PageSpec("kits", "Kits", "fleetbench.window.kits", "", rail="stock"),
    PageSpec("places", "Places", "fleetbench.window.places", "", rail="stock"),
    PageSpec("fetch", "To fetch", "fleetbench.window.fetch", "", rail="due"),
    PageSpec("notices", "Notices", "fleetbench.window.notices", "", has_record=True, rail="due"),
    PageSpec("cylinders", "Cylinders", "fleetbench.window.cylinders", "", has_record=True, rail="stock"),
    PageSpec("absorbent", "Absorbent", "fleetbench.window.absorbent", "", rail="stock"),
)
"""Pages without an entry of their own in the rail."""


def page_named(name: str) -> PageSpec:
    """The entry of that name; raises KeyError for a page that does not exist."""
    for spec in (*PAGES, *BESIDE_THE_RAIL):
        if spec.name == name:
            return spec
    raise KeyError(name)


def rail_entry(name: str) -> str:
    """The entry of the rail that a page stands under, or its own name where it stands under none."""
    for spec in (*PAGES, *BESIDE_THE_RAIL):
        if spec.name == name:
            return spec.rail or spec.name
    return name
