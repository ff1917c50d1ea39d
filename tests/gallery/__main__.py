"""Every scene in light and dark at two sizes, and the printed pages: `python -m tests.gallery OUT [NAME ...]`.

With `--language CODE` before the names: in light at the smaller size, read in that language.
"""

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

from fleetbench.calc.core.languages import ENGLISH, read_in
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.shipped import shipped
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import open_records
from fleetbench.window.shell.pictures import settle, sign_in, take, wait_until, without_display
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.import_folder import import_folder
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
) -> list[Path]:
    """Every scene, each look and size in a folder of its own."""
    taken = []
    for look in looks:
        for size in sizes:
            folder = out / f"{look}_{size.width()}x{size.height()}"
            with desk_on(database, size, look) as desk:
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
    if len(sys.argv) < 2 or sys.argv[1].startswith("-"):
        print("usage: python -m tests.gallery OUT [NAME ...]", file=sys.stderr)
        return 2
    out, names = Path(sys.argv[1]), sys.argv[2:]
    code = names[1] if names[:1] == ["--language"] else ""
    names = names[2:] if code else names
    read_in(code or ENGLISH)
    looks, sizes = (LOOKS[:1], SIZES[:1]) if code else (LOOKS, SIZES)
    with tempfile.TemporaryDirectory() as scratch:
        use_screen(Path(scratch), sizes[0])
        database = build_sample(Path(scratch))
        wanted = [scene for scene in SCENES if not names or scene.name in names]
        taken = render(wanted, database, out, looks=looks, sizes=sizes)
        if not names or "printed" in names:
            taken += render_printed(database, out, Path(scratch))
    print(f"{len(taken)} pictures in {out}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
