"""The window read in a pseudo-locale: what no catalogue could reach would stand there without its marks."""

from functools import partial
from pathlib import Path
from typing import Any

from PySide6.QtWidgets import QPushButton

from fleetbench.calc.core.languages import reading
from fleetbench.window.lists.list_page import ListPage
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import open_records
from fleetbench.window.shell.pictures import settle, sign_in, wait_until
from fleetbench.window.shell.place import PageKey
from tests.gallery.languages import OPEN, PSEUDO, texts_of


def test_menus_rail_headings_acts_and_forms_are_all_read_in_the_language_that_was_chosen(
    sample_of_today: Path, qtbot: Any
) -> None:
    with reading(PSEUDO):
        desk = Desk(partial(open_records, str(sample_of_today)), "light")
        desk.window.show()
        wait_until(lambda: desk.window.here.page != "start")
        sign_in(desk)
        desk.window.go(PageKey("shelf"))
        settle(desk)
        page = desk.window.page
        assert isinstance(page, ListPage)
        heads = [page.model.headerData(number, page.table.horizontalHeader().orientation()) for number in range(4)]
        menus = [each.text() for each in desk.window.menuBar().actions()]
        acts = [each.text() for each in page.findChildren(QPushButton) if each.property("role") == "plain"]
        told = [text for text in (*heads, *menus, *acts, page.title) if text]
        assert len(told) > 15 and [text for text in told if OPEN not in text] == []
        page.bar.start("place" if "place" in page.bar.specs else next(iter(page.bar.specs)))  # type: ignore[attr-defined]
        dialog = page.dialog  # type: ignore[attr-defined]
        assert dialog is None or OPEN in dialog.windowTitle()
        assert sum(OPEN in text for text in texts_of(desk.window)) > 40
        if dialog is not None:
            dialog.close()
        desk.close()
        desk.window.deleteLater()
        desk.deleteLater()
        qtbot.wait(1)
