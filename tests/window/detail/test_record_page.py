from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QDialog, QLabel, QPushButton

from fleetbench.window.detail.detail import ACROSS, Detail, Fact, Line, Onward, Pictures, Section, Table
from fleetbench.window.detail.record_page import RecordPage, arranged, shared
from fleetbench.window.forms.photographs import Pictured
from fleetbench.window.look.marks import HOLD
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.place import PageKey

FACTS = (Fact("One", "1"), Fact("Two", "2"), Fact("Three", "3"))
SECTIONS = tuple(Section(name, FACTS[:size]) for name, size in (("a", 3), ("b", 1), ("c", 1), ("d", 2)))
WIDE = Table("wide", ("x",), (Line(("1",)),))
SLIM = Table("slim", ("x",), (Line(("1",)),), wide=False)
TOP = Table("top", ("x",), (Line(("1",)),), column=ACROSS)


def names(parts: Any) -> str:
    return "".join(part.title[0] for part in parts)


def test_a_wide_page_keeps_every_part_in_its_own_column() -> None:
    across, (left, right), below = arranged((*SECTIONS, WIDE, SLIM, TOP), wide=True)
    assert (names(across), names(left), names(right), names(below)) == ("t", "abcd", "ws", "")


def test_a_narrow_page_puts_wide_tables_below_and_shares_the_rest_between_two_columns() -> None:
    _across, (left, right), below = arranged((*SECTIONS, WIDE), wide=False)
    assert (names(left), names(right), names(below)) == ("ad", "bc", "w")


def test_every_part_is_shown_once_whatever_the_width() -> None:
    parts = (*SECTIONS, WIDE, SLIM, TOP)
    for wide in (True, False):
        across, (left, right), below = arranged(parts, wide)
        assert sorted(names([*across, *left, *right, *below])) == sorted(names(parts))


def test_shared_columns_are_about_as_long_as_each_other() -> None:
    left, right = shared(SECTIONS)
    assert abs(sum(2 + len(part.facts) for part in left) - sum(2 + len(part.facts) for part in right)) <= 3  # type: ignore[union-attr]


def test_the_page_of_a_thing_offers_the_way_onward(theme: Theme, qtbot: Any) -> None:
    page = RecordPage(theme, None, None)
    qtbot.addWidget(page)
    page.show_detail(
        Detail("U-1", marks=(HOLD,), onward=(Onward("Calibrate", "calibrate", PageKey("calibrate", "U-1")),))
    )
    with qtbot.waitSignal(page.place_requested) as said:
        page.onward_buttons[0].click()
    assert said.args == [PageKey("calibrate", "U-1")]


def test_another_thing_takes_the_place_of_the_first_with_nothing_left_over(theme: Theme, qtbot: Any) -> None:
    page = RecordPage(theme, None, None)
    qtbot.addWidget(page)
    onward = (Onward("Calibrate", "calibrate", PageKey("calibrate", "U-1")),)
    page.show_detail(Detail("U-1", "one", (HOLD,), (SECTIONS[0],), onward=onward))
    page.show_detail(Detail("U-2", "two"))
    assert (page.title, page.summary) == ("U-2", "two")
    assert not page.onward_buttons


def test_photographs_stand_on_the_page_with_words_that_are_no_markup_and_open_large(theme: Theme, qtbot: Any) -> None:
    picture = QImage(300, 200, QImage.Format.Format_RGB32)
    picture.fill(0)
    words = "<b>Loop</b> & more of LK-01"
    shown = Pictures(
        "Photographs", (Pictured(words, "2026-05-04, R1", "a" * 64, picture), Pictured("", "", "b" * 64, None))
    )
    page = RecordPage(theme, None, None)
    qtbot.addWidget(page)
    page.show()
    page.show_detail(Detail("U-1", parts=(WIDE, shown)))
    here, gone = page.part("Photographs").findChildren(QPushButton)
    assert (here.accessibleName(), gone.accessibleName()) == (f"photograph: {words}", "photograph: no caption")
    assert gone.text() == "missing or changed" and not here.icon().isNull()
    labels = [each for each in page.part("Photographs").findChildren(QLabel) if each.text() == words]
    assert [each.textFormat() for each in labels] == [Qt.TextFormat.PlainText]
    here.setFocus()
    QTest.keyClick(here, Qt.Key.Key_Space)
    (large,) = here.findChildren(QDialog)
    assert large.isVisible() and large.findChild(QLabel).accessibleName() == here.accessibleName()
    large.close()
