"""Names offered while they are typed: by any part of code or name, whatever its case and accents."""

from collections.abc import Sequence

from PySide6.QtCore import QModelIndex, QObject, QPersistentModelIndex, QStringListModel, Qt, Slot
from PySide6.QtGui import QStandardItem, QStandardItemModel
from PySide6.QtWidgets import QCompleter, QLineEdit

from fleetbench.calc.core.letters import folded_name
from fleetbench.records.people.reads import PersonRecord
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.people.list import list_people

OFFERED = 12
"""So many names stand in the open list; more letters make it shorter."""


class Names(QObject):
    """Offers active people in lines of text; a line of several names has commas between, and the last is offered."""

    def __init__(
        self, background: Background, workplace: Workplace, lines: Sequence[QLineEdit], parent: QObject
    ) -> None:
        super().__init__(parent)
        self._people: tuple[tuple[str, str], ...] = ()
        self._whole: frozenset[str] = frozenset()
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_people)
        self._loader.ask(lambda: list_people(workplace))
        for line in lines:
            _Offer(self, line)

    @Slot(object)
    def show_people(self, people: tuple[PersonRecord, ...]) -> None:
        """Offer these."""
        active = [each for each in people if each.active]
        self._people = tuple((each.name, folded_name(f"{each.code} {each.name}")) for each in active)
        self._whole = frozenset(folded_name(text) for each in active for text in (each.code, each.name))

    def found(self, text: str) -> list[str]:
        """Names with every word that was typed, by name; none where a code or name is typed whole."""
        words = [] if folded_name(text) in self._whole else folded_name(text).split()
        found = (name for name, known in self._people if words and all(word in known for word in words))
        return sorted(found, key=folded_name)[:OFFERED]


class _Offer(QObject):
    """The list under one line."""

    def __init__(self, names: Names, line: QLineEdit) -> None:
        super().__init__(line)
        self._names, self._line = names, line
        self._model = QStringListModel(self)
        self.completer = QCompleter(self._model, self)
        self.completer.setCompletionMode(QCompleter.CompletionMode.UnfilteredPopupCompletion)
        self.completer.setWidget(line)
        self.completer.activated.connect(self.choose)
        line.textEdited.connect(self._on_edited)

    @Slot(str)
    def _on_edited(self, text: str) -> None:
        found = self._names.found(text.rpartition(",")[2])
        self._model.setStringList(found)
        if found:
            self.completer.complete()
        else:
            popup = self.completer.popup()
            if popup is not None:
                popup.hide()

    @Slot(str)
    def choose(self, name: str) -> None:
        """Write a name in place of what was typed of it."""
        before = self._line.text().rpartition(",")[0]
        self._line.setText(f"{before}, {name}" if before else name)
        self._line.setFocus(Qt.FocusReason.OtherFocusReason)


class NameCompleter(QCompleter):
    """Offers those of a few names in which what was typed occurs, whatever its case and accents."""

    def __init__(self, names: Sequence[str], parent: QObject) -> None:
        super().__init__(parent)
        model = QStandardItemModel(self)
        for name in names:
            item = QStandardItem(name)
            item.setData(folded_name(name), _FOLDED)
            model.appendRow(item)
        self.setModel(model)
        self.setCompletionRole(_FOLDED)
        self.setFilterMode(Qt.MatchFlag.MatchContains)

    def splitPath(self, path: str) -> list[str]:
        return [folded_name(path)]

    def pathFromIndex(self, index: QModelIndex | QPersistentModelIndex) -> str:
        return str(index.data())


_FOLDED = Qt.ItemDataRole.UserRole
