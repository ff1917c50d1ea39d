"""Where the folders that travel with the program are, installed or in a checkout."""

from importlib.resources import files
from pathlib import Path


def shipped(name: str) -> Path:
    """The folder `alembic`, `resources` or `sample_fleet`: the packaged one if it is there, else the checkout's.

    Raises FileNotFoundError where neither is there, since an editable install has only the second.
    """
    home = Path(str(files("fleetbench")))
    for folder in (home / "_shipped" / name, home.parent / name):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"{name}: this installation lacks the folder; install fleetbench again")
