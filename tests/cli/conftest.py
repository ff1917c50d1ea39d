"""The command line run in this process, with its exit code and what it printed."""

import shutil
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from fleetbench import cli
from fleetbench.calc.core.languages import reading
from tests.conftest import SAMPLE_NOW


@dataclass(frozen=True, slots=True)
class Ran:
    """Exit code, standard output and standard error."""

    code: int
    out: str
    err: str


Run = Callable[..., Ran]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs the command line with the words given, on the sample fleet's stated day; in English as a rule."""
    monkeypatch.setattr(cli, "_now", lambda: SAMPLE_NOW)
    monkeypatch.setenv("LC_ALL", "C")

    def go(*words: object) -> Ran:
        monkeypatch.setattr(sys, "argv", ["fleetbench", *(str(word) for word in words)])
        with reading(None):  # what was read in before is read in again afterwards
            try:
                cli.main()
                code = 0
            except SystemExit as end:
                code = int(end.code or 0)
        printed = capsys.readouterr()
        return Ran(code, printed.out, printed.err)

    return go


@pytest.fixture
def sample(sample_file: Path, tmp_path: Path) -> Path:
    """A copy of the sample fleet's database."""
    return Path(shutil.copy(sample_file, tmp_path / "sample.sqlite"))
