"""The demonstration, and the window's answer where there is no display."""

import os
import subprocess
import sys
from pathlib import Path

import pypdfium2
import pytest
from PIL import Image

from tests.cli.conftest import Ran, Run

NO_DISPLAY = {
    key: word for key, word in os.environ.items() if key not in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")
}


def alone(*words: object) -> Ran:
    """The command line in a process of its own without a display."""
    ran = subprocess.run(
        [sys.executable, "-m", "fleetbench.cli", *(str(word) for word in words)],
        env=NO_DISPLAY,
        capture_output=True,
        text=True,
        check=False,
    )
    return Ran(ran.returncode, ran.stdout, ran.stderr)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Ran]:
    folder = tmp_path_factory.mktemp("demo") / "demo"
    return folder, alone("demo", "--folder", folder)


def test_demo_without_a_display_says_that_no_window_was_opened(made: tuple[Path, Ran]) -> None:
    folder, ran = made
    assert ran.code == 0, ran.err
    assert "No window was opened" in ran.out
    assert (folder / "fleetbench.sqlite").exists()


def test_demo_pages_open_and_hold_the_units_they_are_about(made: tuple[Path, Ran]) -> None:
    pages = {path.name: path for path in made[0].glob("*.pdf")}
    assert "due-list.pdf" in pages
    assert any(name.startswith("ticket-") for name in pages)
    sheets = [name for name in pages if name.startswith("hand-over-")]
    assert sheets
    for name in sheets:
        document = pypdfium2.PdfDocument(pages[name])
        text = document[0].get_textpage().get_text_range()
        document.close()
        assert name.removeprefix("hand-over-").removesuffix(".pdf") in text


def test_demo_pictures_are_no_blank_sheets(made: tuple[Path, Ran]) -> None:
    pictures = sorted(made[0].glob("*.png"))
    assert len(pictures) >= 3
    for path in pictures:
        with Image.open(path) as picture:
            colours = picture.convert("RGB").getcolors(maxcolors=1 << 20)
        assert colours is not None
        assert len(colours) > 50


def test_demo_builds_again_over_its_own_files_only(made: tuple[Path, Ran], run: Run) -> None:
    note = made[0] / "my notes.txt"
    note.write_text("mine")
    ran = run("demo", "--folder", made[0], "--no-window")
    assert ran.code == 1
    assert "my notes.txt" in ran.err
    assert note.read_text() == "mine"
    note.unlink()


def test_demo_keeps_a_database_that_was_worked_in(made: tuple[Path, Ran], run: Run) -> None:
    from fleetbench.records.upkeep.migrate import open_database
    from fleetbench.workshop.core.workplace import Workplace
    from fleetbench.workshop.tickets.work import open_ticket

    database = open_database(made[0] / "fleetbench.sqlite")
    open_ticket(
        Workplace(database, person_id=1), "B-01", cause="by hand", reason="look at the wing", tasks=("inflate it",)
    )
    database.close()
    ran = run("demo", "--folder", made[0], "--no-window")
    assert ran.code == 1
    assert "worked in" in ran.err


@pytest.mark.parametrize("content", ["letter.txt", "made-by-the-demo.json"])
def test_demo_refuses_a_strange_folder_before_touching_it(run: Run, tmp_path: Path, content: str) -> None:
    (tmp_path / content).write_text("not json")
    ran = run("demo", "--folder", tmp_path, "--no-window")
    assert ran.code == 1
    assert [path.name for path in tmp_path.iterdir()] == [content]
    assert (tmp_path / content).read_text() == "not json"


def test_window_without_a_display_says_what_to_do_in_one_line(tmp_path: Path) -> None:
    ran = alone("--db", tmp_path / "new.sqlite")
    if sys.platform.startswith("linux"):
        assert ran.code == 1
        assert len(ran.err.strip().splitlines()) == 1
        assert "display" in ran.err
