"""The window read in another language: a pseudo-locale that shows what no catalogue reaches, and pictures.

python -m tests.gallery.languages [NAME ...]         scenes in the pseudo-locale: what stands there without marks
python -m tests.gallery.languages --language de [NAME ...]  the same in a language: what is cut off
python -m tests.gallery.languages --language longest [NAME ...]  in the longest that any has of each text
python -m tests.gallery OUT --language de [NAME ...]  the same scenes as pictures in a language
"""

import gettext
import re
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import closing, contextmanager
from functools import lru_cache
from html import unescape
from importlib.metadata import distributions
from pathlib import Path
from typing import Any

from babel import Locale
from PySide6.QtCore import QAbstractItemModel, QAbstractListModel, QModelIndex, Qt
from PySide6.QtGui import QAction, QPainter
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QComboBox,
    QGraphicsItem,
    QGraphicsTextItem,
    QGraphicsView,
    QGroupBox,
    QHeaderView,
    QLabel,
    QLineEdit,
    QMenu,
    QPlainTextEdit,
    QTabBar,
    QTextEdit,
    QWidget,
)

from fleetbench.calc.core.languages import LANGUAGES, PROGRAM_LANGUAGES, Language, language, reading
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.pictures import without_display
from tests.gallery.scenes import Scene
from tests.gallery.spoken import DATA, FROM_BELOW, NOT_TRANSLATED, WORDS_OF_THE_RECORD

OPEN, CLOSE = "⟦", "⟧"
_ACCENTED = str.maketrans("aeiouAEIOU", "áéíóúÁÉÍÓÚ")
_PIECES = re.compile(r"(\{[^{}]*\})")
ROWS_LOOKED_AT = 30


class Pseudo(gettext.NullTranslations):
    """Every sentence between marks, with accents, and a third longer; placeholders as they are."""

    def gettext(self, message: str) -> str:
        words = "".join(part if part.startswith("{") else part.translate(_ACCENTED) for part in _PIECES.split(message))
        return f"{OPEN}{words}{'~' * (len(message) // 3)}{CLOSE}"

    def ngettext(self, one: str, many: str, count: int) -> str:
        return self.gettext(one if count == 1 else many)


PSEUDO = Language("en", Pseudo(), Locale("en", "GB"), True)


class Longest(gettext.NullTranslations):
    """Of every sentence the longest that any language of the program has: what has room for it has room for each."""

    def __init__(self) -> None:
        super().__init__()
        self._all = [language(code).texts for code in PROGRAM_LANGUAGES]

    def gettext(self, message: str) -> str:
        return max((each.gettext(message) for each in self._all), key=len)

    def ngettext(self, one: str, many: str, count: int) -> str:
        return max((each.ngettext(one, many, count) for each in self._all), key=len)


def longest() -> Language:
    """A reader of that; days and figures as in German."""
    return Language("de", Longest(), Locale("de"), True)


def reader_named(code: str) -> Language:
    """The language of that code, or `longest`."""
    return longest() if code == "longest" else language(code)


def texts_of(within: QWidget) -> Iterator[str]:
    """Every text that is on view within a widget, and what a screen reader is told of it."""
    for widget in (within, *within.findChildren(QWidget)):
        if not widget.isVisibleTo(within) and widget is not within:
            continue
        yield from (widget.toolTip(), widget.accessibleName(), widget.accessibleDescription(), widget.windowTitle())
        match widget:
            case QLabel() | QAbstractButton():
                yield widget.text()
            case QLineEdit() | QPlainTextEdit() | QTextEdit():
                yield widget.placeholderText()
            case QComboBox():
                yield from (widget.itemText(number) for number in range(widget.count()))
            case QMenu():
                yield from _of_actions(widget.actions())
            case QGroupBox():
                yield widget.title()
            case QTabBar():
                yield from (widget.tabText(number) for number in range(widget.count()))
            case QHeaderView():
                pass  # its table tells of it
            case QAbstractItemView() if widget.model() is not None:
                yield from _cells(widget.model())
            case QGraphicsView() if widget.scene() is not None:
                yield from _drawn(widget.scene().items())


def _of_actions(actions: Iterable[QAction]) -> Iterator[str]:
    for action in actions:
        yield from (action.text(), action.toolTip())
        menu = action.menu()
        if isinstance(menu, QMenu):
            yield from _of_actions(menu.actions())


def _drawn(items: Iterable[QGraphicsItem]) -> Iterator[str]:
    yield from (each.toPlainText() for each in items if isinstance(each, QGraphicsTextItem) and each.isVisible())


_TOLD = (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.ToolTipRole, Qt.ItemDataRole.AccessibleTextRole)


def _cells(model: QAbstractItemModel) -> Iterator[str]:
    columns = 1 if isinstance(model, QAbstractListModel) else model.columnCount(QModelIndex())  # private in a list
    for column in range(columns):
        for role in _TOLD:
            yield str(model.headerData(column, Qt.Orientation.Horizontal, role) or "")
            for row in range(min(model.rowCount(QModelIndex()), ROWS_LOOKED_AT)):
                yield str(model.index(row, column).data(role) or "")


def of_the_sample(database: Path) -> "Data":
    """What users and files gave the sample, the packages that the program is made of, and names of languages."""
    found: set[str] = set()
    with closing(sqlite3.connect(f"file:{database}?mode=ro", uri=True)) as connection:
        for table, columns in DATA.items():
            for column in columns:
                found |= {str(each) for (each,) in connection.execute(f"SELECT DISTINCT {column} FROM {table}") if each}
    made_of = [each.metadata for each in distributions()]
    stated = ("License-Expression", "License")
    licences = {text for each in made_of for name in stated for text in each.get_all(name) or ()}
    classified = {line.rpartition(" :: ")[2] for each in made_of for line in each.get_all("Classifier") or ()}
    return Data({*found, *LANGUAGES.values(), *(str(each["Name"]) for each in made_of), *licences, *classified})


LEAST = 4
"""The letters that a word has at least to be taken out of a text wherever it stands."""


class Data:
    """Words of the sample; those that hold others come first."""

    def __init__(self, texts: Collection[str]) -> None:
        given = {*texts, *(each[:1].upper() + each[1:] for each in texts)}  # a name may begin a line
        known = {each.translate(_ACCENTED) for each in given} | given
        self._short = frozenset(each for each in known if len(each) < LEAST)
        self._by_start: dict[str, list[str]] = {}
        for each in sorted(known - self._short, key=len, reverse=True):
            self._by_start.setdefault(each[:LEAST], []).append(each)

    def without(self, text: str) -> str:
        """The text with those words taken out of it, of several that begin at a place the longest.

        Each place is looked up by its first letters: one pattern of all the words tries every one of them there.
        """
        left, place = [], 0
        while place < len(text):
            found = None if place and _in_word(text[place - 1]) else self._at(text, place)
            left.append("0" if found else text[place])
            place += len(found or " ")
        return "".join(left)

    def _at(self, text: str, place: int) -> str | None:
        for each in self._by_start.get(text[place : place + LEAST], ()):
            end = place + len(each)
            if text.startswith(each, place) and not (end < len(text) and _in_word(text[end])):
                return each
        return None

    def has(self, word: str) -> bool:
        """Whether a short word is one of them."""
        return word in self._short


def _in_word(letter: str) -> bool:
    return letter.isalnum() or letter == "_"


_TAG = re.compile(r"</?[a-zA-Z][^<>]*>")
_WORD = re.compile(rf"[{OPEN}{CLOSE}]|[A-Za-zÀ-ɏ0-9_.@/°·'’-]*[A-Za-z][A-Za-zÀ-ɏ0-9_.@/°·'’%-]*")
_ALLOWED = re.compile("|".join(f"(?:{each})" for each in NOT_TRANSLATED))
_UNTRANSLATED_VOWEL = re.compile("[aeiouAEIOU]")


@lru_cache(20_000)
def _is_figure(word: str) -> bool:
    return bool(re.search(r"\d", word))


def bare_words(text: str, data: Data) -> list[str]:
    """The words of a text that no catalogue was asked for: outside all marks, or inside with a vowel as it was.

    A sentence within a sentence that nobody looked up stands inside the marks of the outer one.
    """
    left = _ALLOWED.sub(" ", data.without(unescape(_TAG.sub(" ", text))))
    depth, found = 0, []
    for word in _WORD.findall(left):
        depth += (word == OPEN) - (word == CLOSE)
        if word in (OPEN, CLOSE) or _is_figure(word) or data.has(word.strip(".'’-")):
            continue
        if len(re.sub("[^A-Za-z]", "", word)) < 2:
            continue
        if depth <= 0 or _UNTRANSLATED_VOWEL.search(word):
            found.append(word)
    return found


@contextmanager
def painted() -> Iterator[set[str]]:
    """What widgets that draw by themselves write meanwhile."""
    texts: set[str] = set()
    as_it_was: Callable[..., Any] = QPainter.drawText

    def noted(self: QPainter, *given: Any) -> Any:
        # What is cut off for want of room stands whole in the cell or the tip.
        texts.update(each for each in given if isinstance(each, str) and not each.endswith("…"))
        return as_it_was(self, *given)

    setattr(QPainter, "drawText", noted)  # noqa: B010 - mypy keeps a method from being assigned
    try:
        yield texts
    finally:
        setattr(QPainter, "drawText", as_it_was)  # noqa: B010


def untranslated(desk: Desk, scenes: Sequence[Scene], data: Data) -> dict[str, str]:
    """Each text with words that no catalogue was asked for, and the scene in which it stood first."""
    found: dict[str, str] = {}
    seen: set[str] = set()
    with painted() as drawn:
        for scene in scenes:
            widget = scene.arrange(desk)
            widget.grab()
            shown = {text for text in (*texts_of(widget), *drawn) if text} - seen
            drawn.clear()
            seen |= shown
            found |= {text: scene.name for text in sorted(shown) if bare_words(text, data)}
            if widget is not desk.window:
                widget.close()
    return found


def from_below(text: str, data: Data) -> bool:
    """Whether it is known to come from a floor below."""
    bare = {word.strip(".,'’-") for word in bare_words(text, data)}
    return bare <= WORDS_OF_THE_RECORD or any(re.search(each, text) for each in FROM_BELOW)


def main() -> int:
    """Walk the scenes and tell what stands there in English, or what is wider than its place in a language."""
    from tests.gallery.__main__ import SIZES, build_sample, desk_on
    from tests.gallery.scenes import SCENES
    from tests.gallery.widths import faults_on_screens

    given = sys.argv[1:]
    reader = reader_named(given[1]) if given[:1] == ["--language"] else PSEUDO
    names = given if reader is PSEUDO else given[2:]
    wanted = [scene for scene in SCENES if not names or scene.name in names]
    without_display()
    told: list[str] = []
    with tempfile.TemporaryDirectory() as scratch, reading(reader):
        database = build_sample(Path(scratch))
        data = of_the_sample(database)
        began = time.process_time()
        with desk_on(database, SIZES[0], "light") as desk:
            if reader is PSEUDO:
                found = untranslated(desk, wanted, data)
                told = [f"{scene}: {text[:200]!r}  {' '.join(bare_words(text, data))[:60]}"
                        for text, scene in found.items() if not from_below(text, data)]  # fmt: skip
            for scene in wanted if reader is not PSEUDO else ():
                widget = scene.arrange(desk)
                told += faults_on_screens(scene.name, widget, desk.window)
                if widget is not desk.window:
                    widget.close()
        spent = time.process_time() - began
    print("\n".join((*told, f"{len(told)} texts, {spent:.0f} CPU seconds")))
    return 0


if __name__ == "__main__":
    sys.exit(main())
