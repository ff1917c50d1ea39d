"""Where things are and what the user prefers: one typed list, passed in and never global."""

import json
import os
from dataclasses import dataclass
from pathlib import Path

import platformdirs

from fleetbench.records.core.errors import Refused

ENVIRONMENT = "FLEETBENCH_DB"
FILE_NAME = "fleetbench.sqlite"


@dataclass(frozen=True, slots=True)
class Choice:
    """One setting: key, title, help, default and the values it may take (none: any text)."""

    key: str
    title: str
    help: str
    default: str
    allowed: tuple[str, ...] = ()


CHOICES = (
    Choice("pressure_unit", "Gas pressure", "Unit in which cylinder pressures are shown", "bar", ("bar", "psi")),
    Choice("temperature_unit", "Temperature", "Unit in which temperatures are shown", "C", ("C", "F")),
    Choice("mass_unit", "Mass", "Unit in which absorbent is shown", "kg", ("kg", "lb")),
    Choice("depth_unit", "Depth", "Unit in which depths are shown", "m", ("m", "ft")),
    Choice("paper", "Paper", "Size of printed pages", "A4", ("A4", "Letter")),
    Choice("look", "Look", "Light or dark, or as the system has it", "system", ("system", "light", "dark")),
)


def data_folder() -> Path:
    """The user's data folder of this program; made on first use, readable by its owner only."""
    folder = Path(platformdirs.user_data_dir("fleetbench", appauthor=False))
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    return folder


def where(option: str | None) -> str:
    """The database in use: the option, else the environment variable, else the file in the user's data folder."""
    return option or os.environ.get(ENVIRONMENT) or str(data_folder() / FILE_NAME)


@dataclass(frozen=True, slots=True)
class Settings:
    """The user's preferences with the defaults filled in."""

    values: dict[str, str]

    def __getitem__(self, key: str) -> str:
        return self.values[key]


def read_settings(file: Path) -> Settings:
    """The settings kept in a JSON file; unknown keys and values fall back to the defaults."""
    kept: dict[str, object] = {}
    if file.exists():
        try:
            loaded = json.loads(file.read_text(encoding="utf-8"))
        except (OSError, ValueError) as fault:
            raise Refused(f"settings: {file.name} cannot be read; remove it to start from the defaults") from fault
        kept = loaded if isinstance(loaded, dict) else {}
    return Settings({choice.key: _valid(choice, kept.get(choice.key)) for choice in CHOICES})


def write_settings(file: Path, settings: Settings) -> None:
    """Keep the settings; the file is replaced whole, or not at all."""
    fresh = file.with_suffix(".new")
    fresh.write_text(json.dumps(settings.values, indent=1, sort_keys=True), encoding="utf-8")
    fresh.chmod(0o600)
    fresh.replace(file)


def _valid(choice: Choice, value: object) -> str:
    if isinstance(value, str) and (not choice.allowed or value in choice.allowed):
        return value
    return choice.default
