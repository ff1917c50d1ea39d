"""Renders every scene in light and dark at two sizes: `python -m tests.gallery OUT [NAME ...]`."""

import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

from PySide6.QtCore import QSize

from fleetbench.shipped import shipped
from fleetbench.window.app import Desk
from fleetbench.window.opening import open_records
from fleetbench.window.pictures import take, wait_until, without_display
from tests.gallery.scenes import SCENES, Scene

SIZES = (QSize(1280, 800), QSize(1920, 1080))


def build_sample(folder: Path) -> Path:
    """A database with the sample fleet in it, its dates moved to today."""
    from fleetbench.records.migrate import open_database
    from fleetbench.workshop.import_folder import import_folder
    from fleetbench.workshop.shop import Shop

    path = folder / "sample.sqlite"
    shop = Shop(open_database(path))
    report = import_folder(shop, shipped("sample_fleet"), shift_to=shop.today())
    if not report.written:
        raise SystemExit(f"the sample fleet was not taken in: {report.faults[:3]}")
    shop.database.close()
    return path


@contextmanager
def desk_on(database: Path, size: QSize, look: str) -> Iterator[Desk]:
    """An open window of that size and look."""
    desk = Desk(partial(open_records, str(database)), look)
    desk.window.resize(size)
    desk.window.show()
    wait_until(lambda: desk.window.here.page != "start")
    try:
        yield desk
    finally:
        desk.close()


def render(scenes: tuple[Scene, ...], database: Path, out: Path) -> list[Path]:
    """Every scene, each look and size in a folder of its own."""
    taken = []
    for look in ("light", "dark"):
        for size in SIZES:
            with desk_on(database, size, look) as desk:
                for scene in scenes:
                    path = out / f"{look}_{size.width()}x{size.height()}" / f"{scene.name}.png"
                    widget = scene.arrange(desk)
                    taken.append(take(widget, path))
                    if widget is not desk.window:
                        widget.close()
    return taken


def main() -> int:
    """Render what is named on the command line, or everything."""
    if len(sys.argv) < 2:
        print("usage: python -m tests.gallery OUT [NAME ...]", file=sys.stderr)
        return 2
    scenes = tuple(scene for scene in SCENES if not sys.argv[2:] or scene.name in sys.argv[2:])
    without_display()
    with tempfile.TemporaryDirectory() as folder:
        taken = render(scenes, build_sample(Path(folder)), Path(sys.argv[1]))
    print(f"{len(taken)} pictures in {sys.argv[1]}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
