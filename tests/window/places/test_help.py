"""Help: a text for every page and every calculation, and nothing named in it that is not there.

Source of the length of sentences, and of what the tests of names hold: common practice, no published source.
"""

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot

from fleetbench.calc.core.languages import PROGRAM_LANGUAGES, language, reading, shown, worded
from fleetbench.calc.readiness.limits import BY_NAME
from fleetbench.window.lists.lines_view import LinesView
from fleetbench.window.look.buttons import PlaceButton
from fleetbench.window.look.theme import Theme
from fleetbench.window.places import settings
from fleetbench.window.places.help import TITLES, HelpPage, built_in, columns_of_page, topic_detail, topics
from fleetbench.window.shell.actions import ACTIONS, ROOMS_OF_ACTS, acts_by_room
from fleetbench.window.shell.main_window import OF_THE_WINDOW
from fleetbench.window.shell.pages import BESIDE_THE_RAIL, PAGES
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.places.shipped import Topic
from tests.house.test_words import RETIRED

CALC = Path(__file__).parents[3] / "fleetbench" / "calc"
JUDGE_NOTHING = {
    "bench.half_done", "bench.meter", "cells.words", "core.doors", "core.languages", "core.verdict",
    "core.wall_time", "import_export.cells", "import_export.columns", "import_export.tables",
}  # fmt: skip
"""Words for what another module decided, the reading of files, and what every room uses."""
TOLD_IN_TWO = ("canisters.packing", "cells.drift", "cells.uncertainty", "readiness.limits")
"""Modules of two calculations, each of which has its text."""
EVERY = pytest.mark.parametrize("topic", topics().values(), ids=topics())
MOST_WORDS = 20


def test_every_page_of_the_window_has_its_text() -> None:
    pages = {spec.name for spec in (*PAGES, *BESIDE_THE_RAIL)} | OF_THE_WINDOW - {"help"}
    assert {each.name for each in topics().values() if each.is_page} == pages == set(TITLES)


def test_every_calculation_that_judges_has_its_text() -> None:
    modules = {f"{path.parent.name}.{path.stem}" for path in CALC.glob("*/*.py") if path.stem != "__init__"}
    covered = [name for each in topics().values() for name in each.covers]
    assert sorted(covered) == sorted([*(modules - JUDGE_NOTHING), *TOLD_IN_TWO])


def test_every_act_of_every_room_stands_on_a_page() -> None:
    told = [room for each in topics().values() for room in each.rooms]
    assert sorted(told) == sorted(room for room, _module in ROOMS_OF_ACTS)


@EVERY
def test_what_a_text_names_is_there(topic: Topic) -> None:
    assert set(topic.limits) <= BY_NAME.keys()
    assert all(not topics()[name].is_page for name in topic.calculations)
    assert all(isinstance(built_in(name), float) for name, _words, _unit in topic.figures)
    for text in topic.texts:
        assert set(re.findall(r'"([^"]+)"', text)) <= words_on_buttons()
        assert not re.findall(r"\b(?:Ctrl|Alt|Shift)\+\w|\bF\d+\b", text), "keys come from the tables of acts"


@EVERY
@pytest.mark.parametrize("code", PROGRAM_LANGUAGES[1:])
def test_a_translated_text_names_buttons_as_they_are_translated(topic: Topic, code: str) -> None:
    with reading(language(code)):
        for text in topic.texts:
            wanted = sorted(map(worded, re.findall(r'"([^"]+)"', text)))
            assert sorted(re.findall(r'"([^"]+)"', shown(text))) == wanted, text


def test_help_is_read_and_searched_in_the_language_of_the_window(qtbot: QtBot, theme: Theme) -> None:
    with reading(language("de")):
        page = HelpPage(theme)
        qtbot.addWidget(page)
        page.show_key("forecast")
        what = shown(topics()["forecast"].what[0])
        assert what != topics()["forecast"].what[0] and what in [each.text() for each in page.findChildren(QLabel)]
        page.field.setText(what.split()[0])
        assert "forecast" in [name for name, each in topics().items() if what.split()[0] in shown(each.what[0])]
        assert what.split()[0] in page.summary and not page.summary.startswith("0")


@EVERY
def test_every_source_stands_where_the_calculation_is(topic: Topic) -> None:
    known = " ".join(" ".join(text_of(path).split()) for path in CALC.rglob("*.py"))
    assert [source for source in topic.sources if source not in known] == []
    assert topic.sources or topic.is_page


@EVERY
def test_every_text_is_short_and_in_the_words_of_the_house(topic: Topic) -> None:
    sentences = [each for text in topic.texts for each in re.split(r"(?<=[.?:;]) ", text)]
    assert [each for each in sentences if len(each.split()) > MOST_WORDS] == []
    text = " ".join((topic.title, *topic.texts, *topic.sources))
    assert [instead for pattern, instead in RETIRED.items() if re.search(pattern, text, re.IGNORECASE)] == []


def test_help_on_a_list_tells_its_columns_and_help_on_a_calculation_its_figures() -> None:
    assert {"Verdict", "Last valid day", "Head"} <= {each.title for each in columns_of_page("cells")}
    tables = {part.title: part for part in topic_detail(topics()["forecast"]).parts}
    figures = [line.cells for line in tables["Figures that are built in"].lines]  # type: ignore[union-attr]
    assert ("fewest calibrations", "4") in figures
    assert ("shortest span of days", "30 days") in figures


def test_help_is_searched_by_words_and_a_line_leads_on(qtbot: QtBot, theme: Theme) -> None:
    page = HelpPage(theme)
    qtbot.addWidget(page)
    page.show()
    page.refresh()
    page.focus_first()
    asked: list[PageKey] = []
    page.place_requested.connect(asked.append)
    QTest.keyClicks(page.field, "straight drift")
    assert page.summary == "1 for “straight drift”"
    QTest.keyClick(page.field, Qt.Key.Key_Return)
    table = next(each for each in page.findChildren(LinesView) if each.isVisible())
    table.selectRow(0)
    QTest.keyClick(table, Qt.Key.Key_Return)
    assert asked == [PageKey("help", "forecast")]
    page.show_key("forecast")
    assert (page.title, page.field.text()) == ("Forecast of a cell", "")
    where = [each.text() for each in page.part("Where it is shown").findChildren(PlaceButton)]
    assert where == ["Cells", "Due"]


@cache
def words_on_buttons() -> frozenset[str]:
    return frozenset(_words())


def _words() -> Iterator[str]:
    for specs in acts_by_room().values():
        yield from (spec.words for spec in specs)
    yield from (spec.text for spec in ACTIONS)
    yield from TITLES.values()
    yield from (spec.words for spec in settings.ACTS)  # a room without keys


@cache
def text_of(path: Path) -> str:
    """Everything written in a module: comments, and the literals as the compiler joins them."""
    source = path.read_text(encoding="utf-8")
    literals: list[Any] = [each.value for each in ast.walk(ast.parse(source)) if isinstance(each, ast.Constant)]
    return source + " ".join(each for each in literals if isinstance(each, str))
