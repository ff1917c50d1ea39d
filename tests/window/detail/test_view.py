"""What is told of one thing beside a list stands without gaps and is made again only where it differs."""

from typing import Any

from PySide6.QtWidgets import QLabel

from fleetbench.window.detail.detail import Detail, Fact, Section
from fleetbench.window.detail.view import DetailView
from fleetbench.window.look.theme import Theme

LONG = "part life: carbon dioxide sensor: last valid day 2026-12-01 by a date that is fixed"


def test_a_wrapped_line_is_as_high_as_it_is_where_it_stands(qtbot: Any, theme: Theme) -> None:
    view = DetailView(theme, "nothing chosen")
    qtbot.addWidget(view)
    view.resize(330, 500)
    view.show()
    facts = (Fact("", LONG),), (Fact("Ends first", "sensor", note="2026-12-01, 1 day left"),)
    view.show_detail(Detail("B-01", parts=(Section("To look at", facts[0]), Section("Now", facts[1]))))
    qtbot.waitUntil(lambda: any(each.text() == LONG for each in view.findChildren(QLabel)))
    label = next(each for each in view.findChildren(QLabel) if each.text() == LONG)
    qtbot.waitUntil(lambda: label.width() > 100)
    assert label.height() <= label.heightForWidth(label.width()) + 4
