"""The window read in another language: a pseudo-locale that shows what no catalogue reaches, and pictures.

python -m tests.gallery.languages [NAME ...]         scenes in the pseudo-locale: without marks, or cut off
python -m tests.gallery.languages --language de [NAME ...]  the same in a language: what is cut off
python -m tests.gallery OUT --language de [NAME ...]  the same scenes as pictures in a language
"""

import gettext
import re
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from babel import Locale
from PySide6.QtCore import QAbstractItemModel, QModelIndex, Qt
from PySide6.QtWidgets import QAbstractButton, QComboBox, QLabel, QLineEdit, QMenu, QTableView, QWidget

from fleetbench.calc.core.languages import Language, language, reading
from fleetbench.window.shell.pictures import without_display

OPEN, CLOSE = "⟦", "⟧"
_ACCENTED = str.maketrans("aeiouAEIOU", "áéíóúÁÉÍÓÚ")
_PIECES = re.compile(r"(\{[^{}]*\})")


class Pseudo(gettext.NullTranslations):
    """Every sentence between marks, with accents, and a third longer; placeholders as they are."""

    def gettext(self, message: str) -> str:
        words = "".join(part if part.startswith("{") else part.translate(_ACCENTED) for part in _PIECES.split(message))
        return f"{OPEN}{words}{'~' * (len(message) // 3)}{CLOSE}"

    def ngettext(self, one: str, many: str, count: int) -> str:
        return self.gettext(one if count == 1 else many)


PSEUDO = Language("en", Pseudo(), Locale("en", "GB"), True)


def texts_of(within: QWidget) -> Iterator[str]:
    """Every text that is on view within a widget, and what a screen reader is told of it."""
    for widget in (within, *within.findChildren(QWidget)):
        if not widget.isVisibleTo(within) and widget is not within:
            continue
        yield from (widget.toolTip(), widget.accessibleName(), widget.accessibleDescription(), widget.windowTitle())
        if isinstance(widget, QLabel | QAbstractButton):
            yield widget.text()
        if isinstance(widget, QLineEdit):
            yield widget.placeholderText()
        if isinstance(widget, QComboBox):
            yield from (widget.itemText(number) for number in range(widget.count()))
        if isinstance(widget, QMenu):
            yield from (action.text() for action in widget.actions())
        if isinstance(widget, QTableView):
            yield from _cells(widget.model())


def _cells(model: QAbstractItemModel) -> Iterator[str]:
    for column in range(model.columnCount(QModelIndex())):
        yield str(model.headerData(column, Qt.Orientation.Horizontal) or "")
        for row in range(min(model.rowCount(QModelIndex()), 30)):
            yield str(model.index(row, column).data() or "")


def is_bare(text: str) -> bool:
    """Whether a text has two words of its own outside the marks: a name that a user gave may have them too."""
    outside = re.sub(f"{OPEN}[^{OPEN}{CLOSE}]*{CLOSE}", "", re.sub("<[^>]*>", "", text))
    while OPEN in outside and CLOSE in outside:  # a sentence within a sentence
        shorter = re.sub(f"{OPEN}[^{OPEN}{CLOSE}]*{CLOSE}", "", outside)
        if shorter == outside:
            break
        outside = shorter
    return bool(re.search(r"[a-z]{2,} +[a-z]{2,}", outside))


def main() -> int:
    """Walk the scenes and tell what stands there in English, and what is wider than its place."""
    from tests.gallery.__main__ import SIZES, build_sample, desk_on
    from tests.gallery.checks import faults_of_width
    from tests.gallery.scenes import SCENES

    given = sys.argv[1:]
    reader = language(given[1]) if given[:1] == ["--language"] else PSEUDO
    names = given if reader is PSEUDO else given[2:]
    without_display()
    clipped: list[str] = []
    bare: Counter[str] = Counter()
    seen: set[str] = set()
    with tempfile.TemporaryDirectory() as scratch, reading(reader):
        database = build_sample(Path(scratch))
        with desk_on(database, SIZES[0], "light") as desk:
            for scene in SCENES:
                if names and scene.name not in names:
                    continue
                widget = scene.arrange(desk)
                texts = {text for text in texts_of(widget) if re.search("[a-zA-Z]{2}", text)}
                seen |= texts
                bare.update(text for text in texts if is_bare(text) and reader is PSEUDO)
                clipped += faults_of_width(scene.name, widget)
                if widget is not desk.window:
                    widget.close()
    for text, count in bare.most_common():
        print(f"{count:4}  {text[:150]!r}")
    print("\n".join((*clipped, f"{len(clipped)} labels, buttons and headings are cut off")))
    print(f"{len(bare)} of {len(seen)} different texts have words that no catalogue reaches")
    return 0


if __name__ == "__main__":
    sys.exit(main())
