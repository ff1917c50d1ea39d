"""One walk over every scene of the gallery with every check that needs it on the screen; tests/gallery/checks.py."""

import shutil
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QRect
from PySide6.QtGui import QScreen
from PySide6.QtWidgets import QDialog

from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import open_records
from fleetbench.window.shell.pages import BESIDE_THE_RAIL, PAGES
from fleetbench.window.shell.pictures import sign_in, wait_until
from tests.gallery.__main__ import SIZES
from tests.gallery.checks import NARROW, SMALLEST, cut_off, faults_of_controls, faults_of_focus, is_blank
from tests.gallery.scenes import SCENES

PARTS = 6
"""Windows that share the scenes; one each would be opened a hundred times."""


def as_smallest(_screen: QScreen) -> QRect:
    """What a screen of 1024 x 768 px has for its windows."""
    return SMALLEST


@pytest.fixture(scope="module")
def database(sample_of_today: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return Path(shutil.copy(sample_of_today, tmp_path_factory.mktemp("scenes") / "fleet.sqlite"))


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
        least = desk.window.minimumSizeHint().width()
        wrong += [f"{scene.name}: is at least {least} px wide"] if least > NARROW.width() else []
        if desk.window.size() != SIZES[0]:
            wrong.append(f"{scene.name}: grew to {desk.window.size().toTuple()}")
            desk.window.resize(SIZES[0])
        if widget is not desk.window:
            widget.close()
    assert wrong == []


def test_every_page_has_a_scene() -> None:
    names = {scene.name for scene in SCENES}
    listed = {spec.name for spec in (*PAGES, *BESIDE_THE_RAIL) if not spec.has_record or spec in PAGES}
    assert listed <= names
