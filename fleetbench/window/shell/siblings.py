"""Pages that share an entry of the rail, offered beside the title of each, by a press or by Alt and their number."""

from collections.abc import Sequence
from functools import partial

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut

from fleetbench.window.look.buttons import PlaceButton
from fleetbench.window.shell.page import Page
from fleetbench.window.shell.place import Place

MOST_KEYS = 9


def offer_siblings(page: Page, title: str, siblings: Sequence[tuple[str, Place]]) -> None:
    """Offer these pages beside the title; the page itself, by its title, stands among them as the one that is shown."""
    for number, (name, place) in enumerate(siblings, 1):
        button = PlaceButton(name, place, page)
        button.setProperty("role", "choice")
        button.setCheckable(True)
        button.setChecked(name == title)
        button.clicked.connect(partial(button.setChecked, name == title))
        button.place_requested.connect(page.place_requested)
        page.heading.addWidget(button)
        if number <= MOST_KEYS:
            button.setToolTip(f"Alt+{number}")
            shortcut = QShortcut(QKeySequence(f"Alt+{number}"), page)
            shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            shortcut.activated.connect(button.click)
