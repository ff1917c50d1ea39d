"""The pages of the window as a table of data: what stands in the rail, and what opens the page of one thing.

A view is imported when it is first shown, so that the window is usable early.
"""

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from zoneinfo import ZoneInfo

from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.page import Page
from fleetbench.window.shell.signed_in import SignedIn
from fleetbench.workshop.core.workplace import Shop


@dataclass(frozen=True, slots=True)
class PageContext:
    """What a page is given: looks, where its work runs, the workshop it asks, and the zone in which times are shown.

    The workshop acts as the signed-in user, whoever that is when an act is handed over: a page keeps no other.
    """

    theme: Theme
    background: Background
    shop: Shop
    zone: ZoneInfo

    @property
    def signed_in(self) -> SignedIn:
        """The signed-in user; a page that shows what they may do listens to its change."""
        return self.background.signed_in


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
    PageSpec("today", "Today", "fleetbench.window.units.today", "Ctrl+1"),
    PageSpec("units", "Units", "fleetbench.window.units.list", "Ctrl+2", has_record=True),
    PageSpec("cells", "Cells", "fleetbench.window.cells.list", "Ctrl+3", has_record=True),
    PageSpec("canisters", "Canisters", "fleetbench.window.canisters.canisters", "Ctrl+4", has_record=True),
    PageSpec("valves", "Valves", "fleetbench.window.bench.valves", "Ctrl+5", has_record=True),
    PageSpec("hires", "Hire desk", "fleetbench.window.hires.list", "Ctrl+6", has_record=True),
    PageSpec("due", "Due", "fleetbench.window.due.page", "Ctrl+7"),
    PageSpec("tickets", "Tickets", "fleetbench.window.tickets.tickets", "Ctrl+8", has_record=True),
    PageSpec("stock", "Stock", "fleetbench.window.parts.stock", "Ctrl+9"),
)

BESIDE_THE_RAIL: tuple[PageSpec, ...] = (
    PageSpec("calibrate", "Calibrate", "fleetbench.window.cells.calibrate", "", has_record=True, rail="units"),
    PageSpec("ticket_work", "Work on a ticket", "fleetbench.window.tickets.work", "", has_record=True, rail="tickets"),
    PageSpec("turn_rounds", "Turn-rounds", "fleetbench.window.turn_rounds.page", "", has_record=True, rail="tickets"),
    PageSpec("bench", "Bench", "fleetbench.window.bench.page", "", has_record=True, rail="valves"),
    PageSpec("unit_gas", "Gas side", "fleetbench.window.gas.unit", "", has_record=True, rail="units"),
    PageSpec("availability", "Availability", "fleetbench.window.hires.availability", "", rail="hires"),
    PageSpec("plan", "Plan", "fleetbench.window.hires.plan", "", rail="hires"),
    PageSpec("equipment", "Test equipment", "fleetbench.window.bench.equipment", "", rail="valves"),
    PageSpec("people", "People", "fleetbench.window.people.list", "", has_record=True, rail="hires"),
    PageSpec("bring_in", "Bring in sheets", "fleetbench.window.import_export.page", ""),
    PageSpec("parts", "Parts", "fleetbench.window.parts.page", "", has_record=True, rail="stock"),
    PageSpec("shelf", "Shelf", "fleetbench.window.parts.shelf", "", rail="stock"),
    PageSpec("orders", "Orders", "fleetbench.window.parts.orders", "", rail="stock"),
    PageSpec("kits", "Kits", "fleetbench.window.parts.counted", "", rail="stock"),
    PageSpec("places", "Places", "fleetbench.window.parts.places", "", rail="stock"),
    PageSpec("fetch", "To fetch", "fleetbench.window.parts.fetch", "", rail="due"),
    PageSpec("notices", "Notices", "fleetbench.window.notices.list", "", has_record=True, rail="due"),
    PageSpec("cylinders", "Cylinders", "fleetbench.window.gas.list", "", has_record=True, rail="stock"),
    PageSpec("absorbent", "Absorbent", "fleetbench.window.canisters.absorbent", "", rail="stock"),
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
