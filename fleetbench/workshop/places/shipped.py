"""What the program brings along for its reader: the texts of help, and the invented sample fleet.

Without Qt, so that the catalogues are made of them wherever tests run.
"""

import shutil
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fleetbench.calc.core.languages import say
from fleetbench.records.core.errors import Refused
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.shipped import shipped
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.files import Progress
from fleetbench.workshop.import_export.import_folder import import_folder

SAID = ("steps", "inputs", "sources", "cautions")
"""The lists of a file that are sentences; every other holds names."""


@dataclass(frozen=True, slots=True)
class Topic:
    """One text of help.

    rooms: whose acts are listed; calculations: of a page, which it shows. inputs, covers, limits, figures, sources: of
    a calculation; covers names modules of calc, figures a constant of calc with its words and unit.
    """

    name: str
    title: str
    is_page: bool
    what: tuple[str, ...]
    steps: tuple[str, ...] = ()
    rooms: tuple[str, ...] = ()
    calculations: tuple[str, ...] = ()
    inputs: tuple[str, ...] = ()
    covers: tuple[str, ...] = ()
    limits: tuple[str, ...] = ()
    figures: tuple[tuple[str, str, str], ...] = ()
    sources: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def texts(self) -> tuple[str, ...]:
        """Every sentence that a person reads of it."""
        return (*self.what, *self.steps, *self.inputs, *self.cautions)

    @property
    def sentences(self) -> frozenset[str]:
        """All that a catalogue is asked for: title, texts and the words of figures. Sources are named as published."""
        return frozenset((self.title, *self.texts, *(words for _name, words, _unit in self.figures)))


def read_topic(path: Path, title: str = "") -> Topic:
    """The text of a file; a page of the window brings its title."""
    told: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8"))
    what = tuple(say(" ".join(part.split())) for part in told.pop("what").split("\n\n"))
    title = say(told.pop("title", title))
    figures = tuple((name, say(words), unit) for name, words, unit in told.pop("figures", ()))
    lists = {name: tuple(map(say, value) if name in SAID else value) for name, value in told.items()}
    return Topic(path.stem, title, path.parent.name == "views", what, figures=figures, **lists)


FOLDER, FILE = "sample", "sample.sqlite"


def sample_path(data: Path) -> Path:
    """Where the sample's records are, beside the user's own data."""
    return data / FOLDER / FILE


def build_sample(data: Path, progress: Progress | None = None) -> Path:
    """The sample's records, written again from the invented files; what stood there is thrown away."""
    throw_away_sample(data)
    path = sample_path(data)
    path.parent.mkdir(parents=True, mode=0o700)
    workplace = Workplace(open_database(path))
    try:
        report = import_folder(workplace, shipped("sample_fleet"), shift_to=workplace.clock().date(), progress=progress)
    except BaseException:
        workplace.database.close()
        throw_away_sample(data)
        raise
    workplace.database.close()
    if report.faults:
        first = report.faults[0]
        raise Refused(
            say(
                "sample fleet: {file}, row {row}, {column}: {message}",
                file=first.sheet,
                row=first.row,
                column=first.column,
                message=first.message,
            )
        )
    return path


def throw_away_sample(data: Path) -> None:
    """Delete the sample's folder; nothing else is touched."""
    shutil.rmtree(data / FOLDER, ignore_errors=True)
