"""The window read in a pseudo-locale: what no catalogue could reach would stand there without its marks."""

from functools import partial
from pathlib import Path
from typing import Any

from PySide6.QtWidgets import QPushButton

from fleetbench.calc.core.languages import reading
from fleetbench.window.lists.act_bar import ActList
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import open_records
from fleetbench.window.shell.pictures import settle, sign_in, wait_until
from fleetbench.window.shell.place import PageKey
from tests.gallery.languages import OPEN, PSEUDO, is_bare, texts_of


def test_menus_rail_headings_acts_and_forms_are_all_read_in_the_language_that_was_chosen(
    sample_of_today: Path, qtbot: Any
) -> None:
    with reading(PSEUDO):
        desk = Desk(partial(open_records, str(sample_of_today)), "light")
        desk.window.show()
        wait_until(lambda: desk.window.here.page != "start")
        sign_in(desk)
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
        assert len(fields) > 10 and [text for text in fields if is_bare(text)] == []
        page.dialog.close()
        desk.close()
        desk.window.deleteLater()
        desk.deleteLater()
        qtbot.wait(1)
