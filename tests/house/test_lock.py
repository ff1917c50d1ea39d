"""The lock fits what the project asks for: `resources/package/lock.txt`, every version with its hashes.

Hash-checking as in pip's documentation, "Secure installs"; requirements as in PEP 508, versions as in PEP 440.
"""

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

TOP = Path(__file__).parents[2]
LOCK = TOP / "resources" / "package" / "lock.txt"
ENTRY = re.compile(
    r"(?P<name>[A-Za-z0-9._-]+)==(?P<version>[^ ;\\]+)(?: ; [^\\]+?)?(?: \\\n +--hash=sha256:[0-9a-f]{64})+\n"
)


def locked(text: str) -> dict[str, list[str]]:
    """Versions by name; ValueError for a line that is neither a version nor one of its hashes."""
    if rest := ENTRY.sub("", text).strip():
        raise ValueError(rest[:80])
    found: dict[str, list[str]] = {}
    for entry in ENTRY.finditer(text):
        found.setdefault(canonicalize_name(entry["name"]), []).append(entry["version"])
    return found


def wanted() -> list[Requirement]:
    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"].values()
    return [Requirement(each) for each in (*project["dependencies"], *(line for extra in extras for line in extra))]


def unfit(requirements: list[Requirement], versions: dict[str, list[str]]) -> list[str]:
    return [
        str(each)
        for each in requirements
        if not any(each.specifier.contains(Version(v)) for v in versions.get(canonicalize_name(each.name), ()))
    ]


def test_the_lock_fits_every_requirement_of_the_project() -> None:
    assert unfit(wanted(), locked(LOCK.read_text(encoding="utf-8"))) == []


def test_a_lock_that_is_older_than_a_requirement_or_lacks_one_or_a_hash_is_noticed() -> None:
    entry = "alembic==1.0 \\\n    --hash=sha256:" + 64 * "0" + "\n"
    asked = [Requirement("alembic>=1.16"), Requirement("babel>=2")]
    assert unfit(asked, locked(entry)) == ["alembic>=1.16", "babel>=2"]
    for line in ("alembic==1.20\n", "--index-url anywhere\n", "alembic @ file:///here\n"):
        with pytest.raises(ValueError, match=line.strip()):
            locked(entry + line)
