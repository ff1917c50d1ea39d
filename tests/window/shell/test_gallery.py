"""Every scene of the gallery keeps to the size it is asked for and shows something."""

import shutil
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QPoint, QRect, QSize
from PySide6.QtGui import QImage, QScreen
from PySide6.QtWidgets import QDialog, QPushButton, QStyle

from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import open_records
from fleetbench.window.shell.pages import BESIDE_THE_RAIL, PAGES
from fleetbench.window.shell.pictures import sign_in, wait_until
from tests.gallery.__main__ import SIZES, shoot
from tests.gallery.scenes import SCENES

PARTS = 6
"""Windows that share the scenes; one each would be opened a hundred times."""
SMALLEST = QRect(0, 0, 1024, 768)


def as_smallest(_screen: QScreen) -> QRect:
    """What a screen of 1024 x 768 px has for its windows."""
    return SMALLEST


@pytest.fixture(scope="module")
def database(sample_of_today: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return Path(shutil.copy(sample_of_today, tmp_path_factory.mktemp("gallery") / "fleet.sqlite"))


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


def cut_off(dialog: QDialog) -> list[str]:
    """What of a dialog's edges and feet lies outside the screen, or outside the dialog itself."""
    frame = dialog.style().pixelMetric(QStyle.PixelMetric.PM_TitleBarHeight)
    seen = SMALLEST.adjusted(0, frame, 0, 0)
    feet = [getattr(dialog, name, None) for name in ("act_button", "leave_button", "close_button")]
    buttons = [each for each in feet if each is not None] or dialog.findChildren(QPushButton)
    placed = [(each, QRect(each.mapToGlobal(QPoint(0, 0)), each.size())) for each in buttons if each.isVisible()]
    within = QRect(dialog.mapToGlobal(QPoint(0, 0)), dialog.size())
    out = [each.text() for each, place in placed if not (seen.contains(place) and within.contains(place))]
    return out + ([] if SMALLEST.contains(within) else [f"the dialog at {within}"])


@pytest.mark.parametrize("part", range(PARTS))
def test_every_scene_fits_a_small_screen_and_is_not_blank(
    part: int, desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(QScreen, "availableGeometry", as_smallest)
    cut, grown, blank = [], [], []
    for scene in SCENES[part::PARTS]:
        widget = scene.arrange(desk)
        if isinstance(widget, QDialog) and (found := cut_off(widget)):
            cut.append((scene.name, found))
        image = QImage(str(shoot(replace(scene, arrange=lambda _desk, shown=widget: shown), desk, tmp_path)))
        if desk.window.size() != QSize(1280, 800):
            grown.append((scene.name, desk.window.size()))
            desk.window.resize(1280, 800)
        colours = {image.pixel(x, y) for x in range(0, image.width(), 7) for y in range(0, image.height(), 7)}
        if len(colours) <= 8:
            blank.append(scene.name)
    assert (cut, grown, blank) == ([], [], [])


def test_every_page_has_a_scene() -> None:
    names = {scene.name for scene in SCENES}
    listed = {spec.name for spec in (*PAGES, *BESIDE_THE_RAIL) if not spec.has_record or spec in PAGES}
    assert listed <= names
