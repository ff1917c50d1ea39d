"""Published weaknesses of the locked versions: `python -m tests.house.weaknesses DATA`.

DATA: a folder or ZIP of advisories as JSON of the OSV schema (ossf.github.io/osv-schema), as osv.dev publishes them for
PyPI in one archive under CC BY 4.0. It ends with 0 where none is known, 1 where one is, 3 where there was no data.
"""

import json
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from packaging.utils import canonicalize_name
from packaging.version import InvalidVersion, Version

from tests.house.test_lock import LOCK, locked

NONE_KNOWN, KNOWN, NO_DATA = 0, 1, 3


def advisories(data: Path) -> Iterator[dict[str, Any]]:
    """Every advisory of a folder or archive that was not withdrawn."""
    if data.is_dir():
        texts = (path.read_bytes() for path in sorted(data.rglob("*.json")))
        yield from (each for each in map(json.loads, texts) if not each.get("withdrawn"))
    elif zipfile.is_zipfile(data):
        with zipfile.ZipFile(data) as archive:
            texts = (archive.read(name) for name in sorted(archive.namelist()) if name.endswith(".json"))
            yield from (each for each in map(json.loads, texts) if not each.get("withdrawn"))


def affects(advisory: dict[str, Any], name: str, version: str) -> bool:
    """Whether it speaks of that version: one that is listed, or within a range of events (OSV schema, Evaluation)."""
    return any(
        version in each.get("versions", ()) or any(_within(one["events"], Version(version)) for one in _ranges(each))
        for each in advisory.get("affected", ())
        if each.get("package", {}).get("ecosystem") == "PyPI" and canonicalize_name(each["package"]["name"]) == name
    )


def _ranges(affected: dict[str, Any]) -> list[dict[str, Any]]:
    return [each for each in affected.get("ranges", ()) if each.get("type") == "ECOSYSTEM"]


def _within(events: list[dict[str, str]], version: Version) -> bool:
    found, order = False, [(_moment(said), word, said) for each in events for word, said in each.items()]
    for at, word, said in sorted(order, key=lambda each: each[0]):
        if word == "introduced" and (said == "0" or version >= at):
            found = True
        elif (word == "fixed" and version >= at) or (word == "last_affected" and version > at):
            found = False
    return found


def _moment(said: str) -> Version:
    try:
        return Version(said)
    except InvalidVersion:  # of a release before versions had rules
        return Version("0")


def weaknesses(data: Path, versions: dict[str, list[str]]) -> tuple[list[str], int, str]:
    """A line for each locked version that an advisory speaks of; how many were read, and the newest one's day."""
    found, read, newest = list[str](), 0, ""
    for each in advisories(data):
        read, newest = read + 1, max(newest, str(each.get("modified", ""))[:10])
        named = {canonicalize_name(one["package"]["name"]) for one in each.get("affected", ()) if "package" in one}
        found += [
            f"{name} {version}: {each['id']} {each.get('summary', '')}".strip()
            for name in sorted(named & versions.keys())
            for version in versions[name]
            if affects(each, name, version)
        ]
    return found, read, newest


def main() -> int:
    """Print what is known of the locked versions, or that nothing could be checked."""
    data, versions = Path(sys.argv[1] if len(sys.argv) > 1 else ""), locked(LOCK.read_text(encoding="utf-8"))
    found, read, newest = weaknesses(data, versions) if sys.argv[1:2] not in ([], [""]) else ([], 0, "")
    if not read:
        print(f"NOT CHECKED: no advisories were given, so nothing is known of weaknesses in {len(versions)} packages")
        return NO_DATA
    print(
        f"{len(found)} known weaknesses in {len(versions)} locked packages; {read} advisories, the newest of {newest}"
    )
    print("\n".join(found))
    return KNOWN if found else NONE_KNOWN


if __name__ == "__main__":
    sys.exit(main())
