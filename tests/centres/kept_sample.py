"""The imported sample fleet as a file that outlives a run, for as long as nothing that its import hangs on has changed.

An import costs every run, and every folder that is tested by itself, some 20 CPU seconds. Its file is kept in the
user's cache under a digest of all that could change what it holds: every source of the program, its migrations, the
sheets, the interpreter, SQLite and the packages that calculate or write. Where CI is set nothing is
taken from the user's cache: it is kept for the stages of one run alone, in the folder that this run names.
"""

import hashlib
import os
import shutil
import sqlite3
import sys
from collections.abc import Callable
from contextlib import suppress
from importlib.metadata import version
from pathlib import Path

from platformdirs import user_cache_path

from fleetbench.shipped import shipped

TOP = Path(__file__).parents[2]
SOURCES = (TOP / "fleetbench", TOP / "alembic", TOP / "tests" / "conftest.py", Path(__file__))
PACKAGES = ("alembic", "numpy", "pandas", "python-dateutil", "SQLAlchemy", "tzdata")
OF_THIS_RUN = "SAMPLES_OF_THIS_RUN"
"""The environment's name for the folder that the stages of one run share."""
MOST_KEPT = 6


def kept_or_built(build: Callable[[Path], None], path: Path, what: str, folder: Path | None = None) -> None:
    """Write the file as it was kept, or build it and keep a copy. what: whatever else it hangs on, such as a day."""
    if os.environ.get("CI"):
        if not os.environ.get(OF_THIS_RUN):
            build(path)
            return
        folder = Path(os.environ[OF_THIS_RUN])
    folder = folder or user_cache_path("fleetbench-tests")
    kept = folder / f"{digest_of(what, SOURCES, shipped('sample_fleet'))}.db"
    with suppress(OSError):  # such as a file that another run has just taken away
        shutil.copyfile(kept, path)
        return
    build(path)
    with suppress(OSError):  # a cache that cannot be written is no fault of a test
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        ours = folder / f"{path.name}.{os.getpid()}"
        shutil.copyfile(path, ours)
        ours.replace(kept)
        for old in sorted(folder.glob("*.db"), key=lambda each: each.stat().st_mtime)[:-MOST_KEPT]:
            old.unlink(missing_ok=True)


def digest_of(what: str, sources: tuple[Path, ...], sheets: Path) -> str:
    """SHA-256 over all that could change what the import writes."""
    found = hashlib.sha256(f"{what}\n{sys.version}\n{sqlite3.sqlite_version}\n".encode())
    for name in sorted(each for each in os.environ if each.startswith("FLEETBENCH")):
        found.update(f"{name} {os.environ[name]}\n".encode())
    for name in PACKAGES:
        found.update(f"{name} {version(name)}\n".encode())
    for place in (*sources, sheets):
        files = sorted(each for each in place.rglob("*") if each.is_file()) if place.is_dir() else [place]
        for file in files:
            if file.suffix != ".pyc":
                content = file.read_bytes()
                found.update(f"{file.relative_to(place.parent)} {len(content)}\n".encode() + content)
    return found.hexdigest()
