"""A row of widgets that goes on in the next line: laid out by what each asks for, which is asked once."""

from typing import Any

from PySide6.QtCore import QSize
from PySide6.QtWidgets import QLabel, QWidget

from fleetbench.window.look.flow import FlowLayout


class Asked(QLabel):
    """A label that counts how often it is asked for its size."""

    times = 0

    def sizeHint(self) -> QSize:
        self.times += 1
        return super().sizeHint()


def row(qtbot: Any, *texts: str) -> tuple[QWidget, FlowLayout, list[Asked]]:
    """A shown row of these texts."""
    holder = QWidget()
    qtbot.addWidget(holder)
    layout = FlowLayout(holder)
    labels = [Asked(text) for text in texts]
    for label in labels:
        layout.addWidget(label)
    holder.resize(400, 200)
    holder.show()
    qtbot.waitExposed(holder)
    return holder, layout, labels


def test_a_text_that_grows_is_laid_out_by_its_new_width(qtbot: Any) -> None:
    _holder, layout, (first, second) = row(qtbot, "one", "two")
    assert first.y() == second.y()
    one_line = layout.heightForWidth(400)
    first.setText("many words that take the whole width of the row, and so leave none of it to the second " * 2)
    qtbot.waitUntil(lambda: second.y() > first.y())
    assert layout.heightForWidth(400) > one_line
    assert layout.sizeHint().width() > first.sizeHint().width()
    first.hide()
    qtbot.waitUntil(lambda: second.y() == 0)
    assert layout.heightForWidth(400) == one_line


def test_a_widget_that_is_put_in_or_taken_out_counts_at_once(qtbot: Any) -> None:
    _holder, layout, (first, _second) = row(qtbot, "one", "two")
    before = layout.sizeHint().width()
    third = QLabel("three")
    layout.insert_widget(0, third)
    third.show()
    assert layout.sizeHint().width() > before
    layout.takeAt(0)
    third.deleteLater()
    assert layout.sizeHint().width() == before
    assert layout.itemAt(0).widget() is first  # type: ignore[union-attr]


def test_asked_for_its_height_again_and_again_it_asks_nothing(qtbot: Any) -> None:
    _holder, layout, labels = row(qtbot, "one", "two", "three")
    layout.heightForWidth(300)
    before = [label.times for label in labels]
    heights = {layout.heightForWidth(width) for width in range(30, 400) for _again in range(3)}
    assert [label.times for label in labels] == before
    assert len(heights) > 1
