"""Every scene of the gallery keeps to the size it is asked for and shows something."""

import shutil
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QSize
from PySide6.QtGui import QImage

from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import open_records
from fleetbench.window.shell.pages import BESIDE_THE_RAIL, PAGES
from fleetbench.window.shell.pictures import sign_in, wait_until
from tests.gallery.__main__ import SIZES, shoot
from tests.gallery.scenes import SCENES, Scene


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


@pytest.mark.parametrize("scene", SCENES, ids=lambda scene: scene.name)
def test_every_scene_fits_a_small_window_and_is_not_blank(scene: Scene, desk: Desk, tmp_path: Path) -> None:
    image = QImage(str(shoot(scene, desk, tmp_path)))
    assert desk.window.size() == QSize(1280, 800)
    colours = {image.pixel(x, y) for x in range(0, image.width(), 7) for y in range(0, image.height(), 7)}
    assert len(colours) > 8


def test_every_page_has_a_scene() -> None:
    names = {scene.name for scene in SCENES}
    listed = {spec.name for spec in (*PAGES, *BESIDE_THE_RAIL) if not spec.has_record or spec in PAGES}
    assert listed <= names
