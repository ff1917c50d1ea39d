"""Every page is printed on the paper that is chosen, from the setting to the file.

Sizes: ISO 216:2007, A4 is 210 mm by 297 mm; ANSI/ASME Y14.1, letter is 8.5 in by 11 in; a point is 1/72 in.
"""

import ast
import shutil
from dataclasses import replace
from functools import partial
from pathlib import Path

import pypdfium2
import pytest

from fleetbench import settings
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.settings import SETTINGS, Settings, chosen_paper, read_settings, write_settings
from fleetbench.workshop.core.workplace import Workplace
from tests.gallery.printed import PRINTED

POINTS = {"A4": (210 / 25.4 * 72, 297 / 25.4 * 72), "Letter": (8.5 * 72, 11 * 72)}
TOP = Path(__file__).parents[1] / "fleetbench"


@pytest.mark.parametrize("paper", POINTS)
def test_every_page_is_of_the_paper_that_is_chosen(paper: str, sample_of_today: Path, tmp_path: Path) -> None:
    workplace = Workplace(open_database(shutil.copy(sample_of_today, tmp_path / "fleet.sqlite")))
    for name, write in PRINTED:
        write(replace(workplace, paper=partial(str, paper)), tmp_path / f"{name}.pdf")
        with pypdfium2.PdfDocument(tmp_path / f"{name}.pdf") as document:
            assert [page.get_size() for page in document] == [pytest.approx(POINTS[paper], abs=0.1)] * len(document)
    workplace.database.close()


def test_the_paper_of_the_settings_is_asked_for_each_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settings, "data_folder", partial(Path, tmp_path))
    assert chosen_paper() == "A4"
    kept = read_settings(tmp_path / SETTINGS)
    write_settings(tmp_path / SETTINGS, Settings({**kept.values, "paper": "Letter"}))
    assert chosen_paper() == "Letter"


def test_no_page_is_written_without_its_paper() -> None:
    """Whatever takes a size is given one wherever it is called, but from the tests."""
    sources = {path: path.read_text(encoding="utf-8") for path in TOP.rglob("*.py")}
    trees = {path: ast.parse(text) for path, text in sources.items() if "PageSize" in text or "write_" in text}
    takes = {
        each.name
        for path, tree in trees.items()
        if path.is_relative_to(TOP / "paper")
        for each in ast.walk(tree)
        if isinstance(each, ast.FunctionDef) and "size" in {arg.arg for arg in each.args.kwonlyargs}
    }
    calls = [
        (each.func.id, path.name, "size" in {given.arg for given in each.keywords})
        for path, tree in trees.items()
        for each in ast.walk(tree)
        if isinstance(each, ast.Call) and isinstance(each.func, ast.Name) and each.func.id in takes
    ]
    assert len(takes) > 10
    assert [(name, where) for name, where, sized in calls if not sized] == []
