"""The page of keys, built from the table of actions so that it cannot fall behind it."""

from collections.abc import Iterable

from PySide6.QtWidgets import QWidget

from fleetbench.window.detail.detail import Detail, Line, Table
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.actions import KEYS_IN_A_LIST, KEYS_ON_THE_TIME_LINE, ActionSpec
from fleetbench.window.shell.pages import PageSpec


def shortcut_detail(specs: Iterable[ActionSpec], pages: Iterable[PageSpec]) -> Detail:
    """Every key with what it does: one table of pages and actions, one of what works in lists."""
    everywhere = (
        *(Line((page.keys, page.title, f"Go to {page.title}")) for page in pages),
        *(Line((", ".join(spec.keys), spec.text.rstrip("…"), spec.help)) for spec in specs if spec.keys),
    )
    in_lists = tuple(Line(pair) for pair in KEYS_IN_A_LIST)
    on_time_line = tuple(Line(pair) for pair in KEYS_ON_THE_TIME_LINE)
    return Detail(
        "Keys",
        "Everything can be done from the keyboard; a scanner types into the find box and ends with Enter.",
        (),
        (
            Table("Everywhere", ("Key", "Action", "What it does"), everywhere, column=0),
            Table("In a list", ("Key", "What it does"), in_lists, column=1),
            Table("On the time line of units", ("Key", "What it does"), on_time_line, column=1),
        ),
    )


class ShortcutPage(RecordPage):
    """Shows every key."""

    def __init__(
        self, theme: Theme, specs: Iterable[ActionSpec], pages: Iterable[PageSpec], parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, None, None, parent)
        self.show_detail(shortcut_detail(specs, pages))
