"""Every place that a remedy names is there: its page, its list, and a button of those words that opens a form."""

import ast
import re
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from pytestqt.qtbot import QtBot

import fleetbench
from fleetbench.calc.core.doors import CORRECTED_AT, DOORS, at
from fleetbench.records.core.database import Database
from fleetbench.window.look.theme import Theme
from fleetbench.window.people.list import PAGE_ACTS
from fleetbench.window.places.register import TITLES, RegisterList, acts_of
from fleetbench.window.shell.actions import acts_by_room
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import BESIDE_THE_RAIL, PAGES, PageContext, page_named
from fleetbench.window.units.page import list_named_in
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.places.register import REGISTERS
from tests.centres.bench_centre import write_centre
from tests.conftest import Clock

SOURCE = Path(fleetbench.__file__).parent
NOWHERE = re.compile(
    r"in the program, not by|enter what each one reads\"|set it on its part type|enter the type's service plan|"
    r"counted in kilograms first\"|enter the manual's\b(?! )|enter it in the register|in the register of test equipment"
)
"""Words by which messages once sent people to places that are not there."""
FROM_THE_TABLE = re.compile(r"under (Centre|Units|Shelf|Places|Cylinders|Test equipment|People|Absorbent), [A-Z]")


def acts_on(page: str) -> set[str]:
    """The words of every button on a page."""
    titles = {spec.title for spec in (*PAGES, *BESIDE_THE_RAIL)}
    rooms = {room: {spec.words for spec in specs} for room, specs in acts_by_room().items()}
    assert page in titles
    return rooms.get(page, set()) | ({spec.words for spec in PAGE_ACTS} if page == "People" else set())


@pytest.mark.parametrize("name", DOORS)
def test_each_door_is_a_button_on_a_page_of_the_window(name: str) -> None:
    page, *lists, words = DOORS[name]
    if page == "Centre":
        sheet = next(each for each, title in TITLES.items() if [title] == lists)
        assert words in {spec.words for spec in acts_of(sheet)}
    else:
        assert words in acts_on(page), (page, sorted(acts_on(page)))


@pytest.mark.parametrize("sheet", TITLES)
def test_each_list_of_the_centre_opens_and_its_forms_with_it(
    qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Clock, sheet: str
) -> None:
    keys = write_centre(sqlite_database, clock())
    workplace = background.signed_in.at(Workplace(sqlite_database, clock, attended=True))
    context = PageContext(theme, background, workplace, ZoneInfo("Europe/Berlin"))
    page = page_named("centre").make_record(context, sheet)
    assert isinstance(page, RegisterList)
    qtbot.addWidget(page)
    page.show()
    background.signed_in.choose(keys.manager)
    page.show_key(sheet)
    qtbot.waitUntil(lambda: page.is_loaded and not background.is_busy)
    for spec in acts_of(sheet):
        if spec.name == "correct" and page.chosen is None:
            continue
        page.start(spec.name)
        dialog = page.dialog
        assert dialog is not None and dialog.heading.text()
        qtbot.waitUntil(lambda: not background.is_busy)
        dialog.reject()
        qtbot.waitUntil(lambda: page.dialog is None or not page.dialog.isVisible())


def test_what_an_import_says_of_a_changed_row_names_a_register_and_a_door() -> None:
    assert set(CORRECTED_AT.values()) <= set(DOORS)
    assert set(CORRECTED_AT) == set(REGISTERS)


def test_no_message_names_a_place_that_is_not_there_or_tells_a_door_in_its_own_words() -> None:
    wrong = []
    for path in sorted(SOURCE.rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        wrong += [(path.name, found.group()) for found in NOWHERE.finditer(text)]
        if path.name not in ("doors.py",):
            said = [node.value for node in ast.walk(ast.parse(text)) if isinstance(node, ast.Constant)]
            wrong += [(path.name, each) for each in said if isinstance(each, str) and FROM_THE_TABLE.search(each)]
    assert wrong == []


@pytest.mark.parametrize("name", [name for name, door in DOORS.items() if door[0] == "Centre"])
def test_a_remedy_on_a_units_page_leads_to_the_list_it_names(name: str) -> None:
    place = list_named_in(f"enter it from the manual {at(name)}")
    assert place is not None and [TITLES[place.key or ""]] == list(DOORS[name][1:-1])
    assert list_named_in("have it tested") is None
