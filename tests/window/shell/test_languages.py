"""The window read in a pseudo-locale: what no catalogue could reach would stand there without its marks."""

import shutil
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtWidgets import QPushButton

from fleetbench.calc.core.languages import reading
from fleetbench.window.lists.act_bar import ActList
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import open_records
from fleetbench.window.shell.pictures import settle, sign_in, wait_until
from fleetbench.window.shell.place import PageKey
from tests.gallery.__main__ import SIZES
from tests.gallery.languages import (
    CLOSE,
    OPEN,
    PSEUDO,
    Data,
    bare_words,
    from_below,
    of_the_sample,
    texts_of,
    untranslated,
)
from tests.gallery.scenes import SCENES

WALKED = slice(None, None, 3)
"""Which scenes the suite walks; `python -m tests.gallery.languages` walks all; tests/house holds every text."""


@pytest.fixture(scope="module")
def sample(sample_of_today: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return Path(shutil.copy(sample_of_today, tmp_path_factory.mktemp("languages") / "fleet.sqlite"))


@pytest.fixture(scope="module")
def data(sample: Path) -> Data:
    """Read before a window opens the file."""
    return of_the_sample(sample)


@pytest.fixture
def desk(sample: Path, data: Data, qtbot: Any) -> Iterator[Desk]:
    """A window read in the pseudo-locale; it is closed before the next test, since no timer may outlive one."""
    del data
    with reading(PSEUDO):
        made = Desk(partial(open_records, str(sample)), "light")
        made.window.resize(SIZES[0])
        made.window.show()
        wait_until(lambda: made.window.here.page != "start")
        sign_in(made)
        yield made
        made.close()
        made.window.deleteLater()
        made.deleteLater()
        qtbot.wait(1)


def test_menus_rail_headings_acts_and_forms_are_all_read_in_the_language_that_was_chosen(
    desk: Desk, data: Data
) -> None:
    desk.window.go(PageKey("places"))
    settle(desk)
    page = desk.window.page
    assert isinstance(page, ActList)
    heads = [page.model.headerData(number, page.table.horizontalHeader().orientation()) for number in range(4)]
    menus = [each.text() for each in desk.window.menuBar().actions()]
    acts = [each.text() for each in page.findChildren(QPushButton) if each.property("role") == "plain"]
    told = [text for text in (*heads, *menus, *acts, page.title) if text]
    assert len(told) >= 14 and [text for text in told if OPEN not in text] == []
    page.start("place")
    assert OPEN in page.dialog.windowTitle()
    fields = [text for text in texts_of(page.dialog) if text]
    assert len(fields) > 10 and [text for text in fields if bare_words(text, data)] == []
    page.dialog.close()


def test_every_text_of_views_and_dialogs_is_looked_up_in_a_catalogue(desk: Desk, data: Data) -> None:
    found = untranslated(desk, SCENES[WALKED], data)
    assert {text: scene for text, scene in found.items() if not from_below(text, data)} == {}


def test_a_text_that_no_catalogue_was_asked_for_is_noticed() -> None:
    data = Data(("Oxygen cell A", "hypochlorite bath", "M"))
    for text in (
        "Days",
        f"{OPEN}Dáys{CLOSE}: due soon",
        f"{OPEN}híré for {{who}}{CLOSE}",
        f"{OPEN}lást by age~{CLOSE}",
    ):
        assert bare_words(text, data) != [], text
    for text in (f"{OPEN}Dáys~{CLOSE}", f"{OPEN}híré fór Oxygen cell A~{CLOSE}", "B-03", "12.5 bar", "2026-03-14", "M"):
        assert bare_words(text, data) == [], text
