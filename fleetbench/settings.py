"""Where things are and what the user prefers: one typed list, passed in and never global."""

import json
import os
import sys
from dataclasses import dataclass
from datetime import date, datetime
from getpass import getpass
from pathlib import Path
from typing import TYPE_CHECKING

import platformdirs

from fleetbench.calc.core.languages import LANGUAGES, PROGRAM_LANGUAGES, SYSTEM, say, say_count, shown
from fleetbench.records.core.errors import Refused

if TYPE_CHECKING:
    from fleetbench.records.core.database import Database

ENVIRONMENT = "FLEETBENCH_DB"
FILE_NAME = "fleetbench.sqlite"


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting: key, title, help, default and the values it may take (none: any text)."""

    key: str
    title: str
    help: str
    default: str
    allowed: tuple[str, ...] = ()


CHOICES = (
    Setting(
        "look", "Look", "Light, dark or high contrast, or as the system has it", "system",
        ("system", "light", "dark", "high contrast light", "high contrast dark"),
    ),
    Setting(
        "language", "Language", "From the next start; on the command line from the next command",
        SYSTEM, (SYSTEM, *(LANGUAGES[code] for code in PROGRAM_LANGUAGES)),
    ),
    Setting("paper", "Paper", "Of every page that is printed or saved here", "A4", ("A4", "Letter")),
    Setting("backup_folder", "Folder of backups", "On another disk, for instance a stick; empty for none", ""),
    Setting("witness_folders", "Folders of witnesses", "On another disk, several with ; between; empty for none", ""),
)  # fmt: skip
"""Every setting of the program; one that changes nothing has no place here."""

SETTINGS = "settings.json"
BACKUP_DAYS = 7
"""Days after which a backup is asked for again; common practice, no published source."""


def data_place() -> Path:
    """Where the user's data folder is, or will be."""
    return Path(platformdirs.user_data_dir("fleetbench", appauthor=False))


def data_folder() -> Path:
    """The user's data folder of this program; made on first use, readable by its owner only."""
    folder = data_place()
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    return folder


def where(option: str | None) -> str:
    """The database in use: the option, else the environment variable, else the file in the user's data folder.

    Raises Unreadable for an option that holds a password: anybody who lists the processes could read it.
    """
    if option and option.startswith("postgres"):
        from fleetbench.records.core.database import refuse_password  # SQLAlchemy is slow to import

        refuse_password(option)
    return option or os.environ.get(ENVIRONMENT) or str(data_folder() / FILE_NAME)


def pin_of(person: str | None) -> str:
    """The PIN of who acts, from FLEETBENCH_PIN or asked for without showing it; never from the command line."""
    kept = os.environ.get("FLEETBENCH_PIN")
    if kept is not None or person is None or not sys.stdin.isatty():
        return kept or ""
    return getpass(f"{shown(say('PIN of {person} (empty for none):', person=person))} ")


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
            raise Refused(
                say("settings: {name} cannot be read; remove it to start from the defaults", name=file.name)
            ) from fault
        kept = loaded if isinstance(loaded, dict) else {}
    return Settings({choice.key: _valid(choice, kept.get(choice.key)) for choice in CHOICES})


def chosen_paper() -> str:
    """The paper of pages at this desk, as the settings have it now."""
    return read_settings(data_folder() / SETTINGS)["paper"]


def write_settings(file: Path, settings: Settings) -> None:
    """Keep the settings; the file is replaced whole, or not at all."""
    fresh = file.with_suffix(".new")
    fresh.write_text(json.dumps(settings.values, indent=1, sort_keys=True), encoding="utf-8")
    fresh.chmod(0o600)
    fresh.replace(file)


def _valid(choice: Setting, value: object) -> str:
    if isinstance(value, str) and (not choice.allowed or value in choice.allowed):
        return value
    return choice.default


def witness_folders(settings: Settings) -> tuple[Path, ...]:
    """The folders in which the journal's heads are kept."""
    return tuple(Path(each.strip()) for each in settings["witness_folders"].split(";") if each.strip())


def keep_witness(database: "Database", data: Path, at: datetime, *, daily: bool = False) -> tuple[str, ...]:
    """Keep the journal's head in every folder of witnesses that is set; what could not be done, a sentence each.

    data: the folder of settings and of the desk's key.
    """
    folders = witness_folders(read_settings(data / SETTINGS))
    if not folders:
        return ()
    # It reads the tables' definitions, which takes as long as showing the window.
    from fleetbench.records.upkeep.witness import keep_heads

    return keep_heads(database, folders, data, at, daily=daily)


def backup_name(at: datetime) -> str:
    """The name of a backup made at that moment; names sort by time."""
    return f"fleetbench-{at:%Y-%m-%d-%H%M%S}.sqlite"


def last_backup(folder: str) -> Path | None:
    """The newest backup in the folder, or None where there is none or no folder is set."""
    if not folder:
        return None
    return max(Path(folder).glob("fleetbench-*.sqlite"), default=None, key=_by_name)


def backup_reminder(settings: Settings, today: date) -> str:
    """What to say of backups at the start: empty where one was made lately."""
    newest = last_backup(settings["backup_folder"])
    if newest is None:
        return say("No backup of these records was made yet: File, Settings, Back up now.")
    made = date.fromisoformat(newest.name.removeprefix("fleetbench-")[:10])
    days = (today - made).days
    if days <= BACKUP_DAYS:
        return ""
    return say_count(
        "The last backup is {count} day old: File, Settings, Back up now.",
        "The last backup is {count} days old: File, Settings, Back up now.",
        days,
    )


def _by_name(path: Path) -> str:
    return path.name
