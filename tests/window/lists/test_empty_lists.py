"""Every list that is empty says what belongs there and has the button that begins it."""

from typing import Any
from zoneinfo import ZoneInfo

from PySide6.QtWidgets import QWidget

from fleetbench.records.core.database import Database
from fleetbench.window.lists.list_page import GO_TO, ListPage
from fleetbench.window.look.theme import Theme
from fleetbench.window.places.register import TITLES
from fleetbench.window.shell.actions import ACTIONS
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import BESIDE_THE_RAIL, PAGES, PageContext, page_named
from fleetbench.workshop.core.workplace import Workplace
from tests.conftest import Clock

NEVER_EMPTY = ("centre", "settings")
"""Lists of what the program itself has."""
LISTS = [(spec.name, "") for spec in (*PAGES, *BESIDE_THE_RAIL) if spec.name not in (*NEVER_EMPTY, "parts")]
"""Every page but that of one part, which has no list."""


def test_every_empty_list_says_what_belongs_there_and_has_the_button_that_begins_it(
    qtbot: Any, theme: Theme, background: Background, sqlite_database: Database, clock: Clock
) -> None:
    workplace = background.signed_in.at(Workplace(sqlite_database, clock, attended=True))
    context, found = PageContext(theme, background, workplace, ZoneInfo("UTC")), 0
    for name, key in (*LISTS, *(("centre", sheet) for sheet in TITLES)):
        spec = page_named(name)
        page = spec.make_record(context, key) if key else spec.make_list(context)
        qtbot.addWidget(page)
        if isinstance(page, ListPage):
            found += 1
            empty = page._spec.empty
            assert empty.headline and empty.next_step and empty.action_text, (name, key)
            acts = {each for bar in page.findChildren(QWidget) for each in getattr(bar, "specs", ())}
            leads = empty.action.removeprefix(GO_TO) if empty.action.startswith(GO_TO) else ""
            there = page_named(leads).name != name if leads else empty.action in acts | {each.id for each in ACTIONS}
            assert there, (name, key, empty.action)
            assert page.saving.buttons or name in ("due", "orders")  # each is saved as a table, these with their pages
    assert found > 35
