"""Every scene in light and dark at two sizes, and the printed pages: `python -m tests.gallery OUT [NAME ...]`.

With `--language CODE`: in light at the smaller size, read in that language; `longest`: in the longest text of each.
With `--look`, `--size` and `--zoom`: in that look, at that size of the window and of its text.
"""

import argparse
import json
import os
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path

from PySide6.QtCore import QSize
from PySide6.QtWidgets import QApplication

from fleetbench.calc.core.languages import read_with
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.shipped import shipped
from fleetbench.window.look.marks import SCHEMES
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import open_records
from fleetbench.window.shell.pictures import settle, sign_in, take, wait_until, without_display
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.import_folder import import_folder
from tests.gallery.languages import reader_named
from tests.gallery.printed import render_printed
from tests.gallery.scenes import SCENES, Scene

LOOKS = ("light", "dark")
SIZES = (QSize(1280, 800), QSize(1920, 1080))


def build_sample(folder: Path) -> Path:
    """A database with the sample fleet in it, its dates moved to today."""
    path = folder / "sample.sqlite"
    workplace = Workplace(open_database(path))
    report = import_folder(workplace, shipped("sample_fleet"), shift_to=workplace.today())
    workplace.database.close()
    if not report.written:
        raise SystemExit(f"the sample fleet was not taken in: {report.faults[:3]}")
    return path


@contextmanager
def desk_on(database: Path, size: QSize, look: str) -> Iterator[Desk]:
    """An open window of that size and look."""
    desk = Desk(partial(open_records, str(database)), look)
    desk.window.resize(size)
    desk.window.show()
    wait_until(lambda: desk.window.here.page != "start")
    sign_in(desk)
    try:
        yield desk
    finally:
        desk.close()


def render(
    scenes: Sequence[Scene],
    database: Path,
    out: Path,
    *,
    looks: Sequence[str] = LOOKS,
    sizes: Sequence[QSize] = SIZES,
    zoom: float = 1.0,
) -> list[Path]:
    """Every scene, each look and size in a folder of its own."""
    taken = []
    for look in looks:
        for size in sizes:
            folder = out / f"{look}_{size.width()}x{size.height()}"
            with desk_on(database, size, look) as desk:
                desk.theme.set_zoom(zoom)
                taken += [shoot(scene, desk, folder) for scene in scenes]
    return taken


def shoot(scene: Scene, desk: Desk, folder: Path) -> Path:
    """One picture of one scene; what stands beside the window is closed again."""
    widget = scene.arrange(desk)
    settle(desk)
    path = take(widget, folder / f"{scene.name}.png")
    if widget is not desk.window:
        widget.close()
    return path


def use_screen(folder: Path, size: QSize) -> None:
    """A screen of that size without a display, so that a dialog has the room that it has on a small one."""
    one = {"name": "one", "x": 0, "y": 0, "width": size.width(), "height": size.height(), "logicalDpi": 96, "dpr": 1}
    config = folder / "screen.json"
    config.write_text(json.dumps({"synchronousWindowSystemEvents": False, "screens": [one]}), encoding="utf-8")
    os.environ["QT_QPA_PLATFORM"] = f"offscreen:configfile={config}"
    drawn = QApplication(sys.argv[:1])
    assert without_display() is drawn


def main() -> int:
    """Render what is named on the command line, or everything."""
    asked = argparse.ArgumentParser(prog="python -m tests.gallery", description=__doc__)
    asked.add_argument("out", type=Path)
    asked.add_argument("names", nargs="*")
    asked.add_argument("--language", default="", help="in light at the smaller size, read in that language")
    asked.add_argument("--look", choices=SCHEMES, help="in that look alone")
    asked.add_argument("--size", help="at that size alone, such as 1024x768")
    asked.add_argument("--zoom", type=float, default=1.0, help="text so many times its size, such as 2")
    given = asked.parse_intermixed_args()
    read_with(reader_named(given.language) if given.language else None)
    looks, sizes = (LOOKS[:1], SIZES[:1]) if given.language else (LOOKS, SIZES)
    looks = (given.look,) if given.look else looks
    sizes = (QSize(*map(int, given.size.split("x"))),) if given.size else sizes
    with tempfile.TemporaryDirectory() as scratch:
        use_screen(Path(scratch), sizes[0])
        database = build_sample(Path(scratch))
        wanted = [scene for scene in SCENES if not given.names or scene.name in given.names]
        taken = render(wanted, database, given.out, looks=looks, sizes=sizes, zoom=given.zoom)
        if not given.names or "printed" in given.names:
            taken += render_printed(database, given.out, Path(scratch))
    print(f"{len(taken)} pictures in {given.out}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
