"""One walk over every scene of the gallery with every check that needs it on the screen; tests/gallery/checks.py."""

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QScreen
from PySide6.QtWidgets import QDialog, QLabel, QWidget

from fleetbench.window.lists.rows import as_plain_tip
from fleetbench.window.look.buttons import text_label
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import open_records
from fleetbench.window.shell.pages import BESIDE_THE_RAIL, PAGES
from fleetbench.window.shell.pictures import sign_in, wait_until
from tests.gallery.__main__ import SIZES
from tests.gallery.checks import (
    MARKUP,
    NARROW,
    SMALLEST,
    cut_off,
    faults_of_controls,
    faults_of_figures,
    faults_of_focus,
    faults_of_text,
    is_blank,
)
from tests.gallery.scenes import SCENES

PARTS = 6
"""Windows that share the scenes; one each would be opened a hundred times."""


WORDS = {
    "centre": ("name", "address"), "notice": ("title", "text", "action"), "owner": ("name",), "part_type": ("name",),
    "person_private": ("name", "contact", "note"), "place": ("name",), "test_equipment": ("name",),
    "unit_type": ("name", "manual"), "accessory": ("name",), "disinfectant": ("name",), "service_task": ("text",),
    "hold": ("reason",), "ticket": ("reason",), "bench_test": ("note", "finding"), "calibration": ("note",),
    "finding": ("text",), "hire_note": ("text",), "part_event": ("reason",), "task": ("text", "put_off_reason"),
    "fill": ("why_discarded",), "run": ("note",), "absence": ("why",), "photograph": ("caption",), "reader": ("name",),
    "gas_certificate": ("supplier",), "part": ("supplier",), "limit_value": ("source",), "notice_done": ("note",),
}  # fmt: skip
"""Words that a user or a file gives, which stand here with a tag in them, as a careless or a bad hand leaves it."""


def as_smallest(_screen: QScreen) -> QRect:
    """What a screen of 1024 x 768 px has for its windows."""
    return SMALLEST


@pytest.fixture(scope="module")
def database(sample_of_today: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = Path(shutil.copy(sample_of_today, tmp_path_factory.mktemp("scenes") / "fleet.sqlite"))
    with closing(sqlite3.connect(path)) as connection, connection:
        for table, columns in WORDS.items():
            said = ", ".join(f"{column} = {column} || ' {MARKUP}'" for column in columns)
            connection.execute(f"UPDATE {table} SET {said}")
    return path


@pytest.fixture
def desk(database: Path, qtbot: Any) -> Iterator[Desk]:
    made = Desk(partial(open_records, str(database)), "dark")
    made.window.resize(SIZES[0])
    made.window.show()
    wait_until(lambda: made.window.here.page != "start")
    sign_in(made)
    yield made
    made.close()
    made.window.deleteLater()
    made.deleteLater()
    qtbot.wait(1)


@pytest.mark.parametrize("part", range(PARTS))
def test_every_scene_can_be_seen_reached_and_read_aloud_on_a_small_screen(
    part: int, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(QScreen, "availableGeometry", as_smallest)
    desk.window.activateWindow()
    wrong = []
    for scene in SCENES[part::PARTS]:
        widget = scene.arrange(desk)
        shown = widget if isinstance(widget, QDialog) else desk.window
        wrong += [f"{scene.name}: {each} is cut off" for each in cut_off(shown)] if isinstance(shown, QDialog) else []
        wrong += [f"{scene.name}: nothing is drawn"] if is_blank(widget.grab().toImage()) else []
        wrong += faults_of_controls(scene.name, shown) + faults_of_focus(scene.name, shown)
        wrong += faults_of_text(scene.name, shown) + faults_of_figures(scene.name, shown)
        least = desk.window.minimumSizeHint().width()
        wrong += [f"{scene.name}: is at least {least} px wide"] if least > NARROW.width() else []
        if desk.window.size() != SIZES[0]:
            wrong.append(f"{scene.name}: grew to {desk.window.size().toTuple()}")
            desk.window.resize(SIZES[0])
        if widget is not desk.window:
            widget.close()
    assert wrong == []


def test_a_label_or_a_tool_tip_that_takes_markup_is_noticed(qtbot: Any) -> None:
    loose, tight, tipped = QLabel(f"Orrel {MARKUP}"), text_label(f"Vinthe {MARKUP}"), QLabel("plain")
    tipped.setToolTip(f"Quine {MARKUP}")
    room = QWidget()
    qtbot.addWidget(room)
    for each in (loose, tight, tipped):
        each.setParent(room)
    assert faults_of_text("label", room) == [
        f"label: takes 'Orrel {MARKUP}' for markup", f"label: takes 'Quine {MARKUP}' for markup",
    ]  # fmt: skip
    tipped.setToolTip(as_plain_tip(f"Quine {MARKUP}"))
    loose.setTextFormat(Qt.TextFormat.PlainText)
    assert faults_of_text("label", room) == []


def test_every_page_has_a_scene() -> None:
    names = {scene.name for scene in SCENES}
    listed = {spec.name for spec in (*PAGES, *BESIDE_THE_RAIL) if not spec.has_record or spec in PAGES}
    assert listed <= names
