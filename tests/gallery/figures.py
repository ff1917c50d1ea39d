"""What a small screen, another language, the keyboard and weak eyes get: one table of figures.

python -m tests.gallery.figures [--languages en,de,es,fr] [--zoom 2] [NAME ...]

Labels cut off at 1024 x 768 and 1280 x 800 in each language, the least width of the window and of its dialogs, controls
without a name, grids of entries that Tab does not leave, what Tab leads to off the screen, and the contrast of every
pair of colours in each look. Sources: W3C, Web Content Accessibility Guidelines (WCAG) 2.2: 1.4.3, 1.4.6, 1.4.10,
1.4.11, 2.1.2, 2.4.11, 4.1.2.
"""

import argparse
import shutil
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from PySide6.QtCore import QSize, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QTableView, QWidget

from fleetbench.calc.core.languages import ENGLISH, PROGRAM_LANGUAGES, reading
from fleetbench.window.look.marks import HIGH_PAIRS, MARK_PAIRS, SCHEMES, TEXT_PAIRS, Colours
from fleetbench.window.shell.app import Desk
from tests.gallery.__main__ import SIZES, build_sample, desk_on, use_screen
from tests.gallery.checks import controls, is_hidden, name_of, reached
from tests.gallery.languages import reader_named
from tests.gallery.scenes import SCENES, Scene
from tests.gallery.widths import faults_on_screens


@dataclass
class Figures:
    """What was counted in one language."""

    scenes: int = 0
    cut: list[str] = field(default_factory=list)
    least_window: int = 0
    least_dialog: int = 0
    controls: int = 0
    unnamed: int = 0
    traps: int = 0
    off_screen: int = 0

    def look_at(self, scene: Scene, desk: Desk) -> None:
        """Count one scene."""
        widget = scene.arrange(desk)
        self.scenes += 1
        if widget is desk.window:
            self.least_window = max(self.least_window, desk.window.minimumSizeHint().width())
        else:
            self.least_dialog = max(self.least_dialog, widget.minimumSizeHint().width(), widget.minimumWidth())
        self.cut += faults_on_screens(scene.name, widget, desk.window)
        found = controls(widget)
        self.controls += len(found)
        self.unnamed += sum(not name_of(each) for each in found)
        self._walk(widget)
        if widget is not desk.window:
            widget.close()

    def _walk(self, shown: QWidget) -> None:
        for stop in reached(shown):
            stop.setFocus(Qt.FocusReason.TabFocusReason)
            QApplication.processEvents()
            if QApplication.focusWidget() is stop:
                self.off_screen += is_hidden(stop)
                if isinstance(stop, QTableView):
                    QTest.keyClick(stop, Qt.Key.Key_Tab)
                    self.traps += QApplication.focusWidget() is stop


def count(code: str, database: Path, names: Sequence[str], zoom: float, size: QSize) -> Figures:
    """The figures of every scene, or of those that are named, in one language."""
    counted = Figures()
    with reading(reader_named(code) if code != ENGLISH else None), tempfile.TemporaryDirectory() as own:
        copy = Path(shutil.copy(database, Path(own) / "fleet.sqlite"))  # a draft of one language is none of the next
        with desk_on(copy, size, "light") as desk:
            desk.theme.set_zoom(zoom)
            desk.window.activateWindow()
            for scene in SCENES:
                if not names or scene.name in names:
                    counted.look_at(scene, desk)
    return counted


def luminance(colour: str) -> float:
    """Relative luminance of #rrggbb by WCAG 2.2."""
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
        for part in (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio by WCAG 2.2."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def least_contrast(colours: Colours, pairs: Sequence[tuple[str, str]]) -> tuple[float, str]:
    """The least contrast of these pairs, and which pair has it."""
    return min((contrast(getattr(colours, one), getattr(colours, other)), f"{one} on {other}") for one, other in pairs)


def contrast_rows() -> list[str]:
    """Least contrast of texts and of marks in each look, beside what is asked."""
    rows = []
    for look, colours in SCHEMES.items():
        high = look.startswith("high")
        marks = MARK_PAIRS + (HIGH_PAIRS if high else ())
        for what, pairs, asked in (("texts", TEXT_PAIRS, 7.0 if high else 4.5), ("marks", marks, 3.0)):
            least, pair = least_contrast(colours, pairs)
            rows.append(f"{look:<20} {len(pairs):>3} {what}: least {least:5.2f} of {asked} asked, {pair}")
    return rows


HEADS = ("language", "scenes", "cut off", "window", "dialog", "controls", "unnamed", "traps", "off screen")


def main() -> int:
    """Print the tables; 1 where anything is cut off, unnamed, trapped or out of reach."""
    asked = argparse.ArgumentParser(prog="python -m tests.gallery.figures", description=__doc__)
    asked.add_argument("names", nargs="*")
    asked.add_argument("--languages", default=",".join(PROGRAM_LANGUAGES), help="codes with commas, or longest")
    asked.add_argument("--zoom", type=float, default=1.0)
    given = asked.parse_intermixed_args()
    faults = 0
    with tempfile.TemporaryDirectory() as scratch:
        use_screen(Path(scratch), SIZES[0])
        database = build_sample(Path(scratch))
        print(" ".join(f"{head:>10}" for head in HEADS))
        for code in given.languages.split(","):
            got = count(code, database, given.names, given.zoom, SIZES[0])
            row = (code, got.scenes, len(got.cut), got.least_window, got.least_dialog, got.controls, got.unnamed)
            print(" ".join(f"{each:>10}" for each in (*row, got.traps, got.off_screen)), flush=True)
            print("\n".join(got.cut), file=sys.stderr)
            faults += len(got.cut) + got.unnamed + got.traps + got.off_screen
    print("\n".join(contrast_rows()))
    return int(faults > 0)


if __name__ == "__main__":
    sys.exit(main())
