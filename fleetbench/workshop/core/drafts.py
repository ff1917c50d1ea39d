"""Half-done work at the bench, kept in a file a unit so that a crash loses nothing, and offered again.

A draft is no record: nothing is judged or told from it until a person finishes it.
"""

import contextlib
import hashlib
import json
import os
import re
import stat
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from fleetbench.calc.bench.meter import as_plain, from_plain
from fleetbench.calc.core.languages import say
from fleetbench.calc.core.measures import CHOICES, in_use
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.journal import moment_text

_OWNER_ONLY = stat.S_IRUSR | stat.S_IWUSR
_FORM = 1


def _form() -> object:
    """What a draft is written in: figures stand in it as they were typed, and mean nothing in other units."""
    units = list(in_use())
    return _FORM if units == [metric for metric, _ in CHOICES.values()] else [_FORM, *units]


@dataclass(frozen=True, slots=True)
class Draft:
    """Work that was left half-done: on which unit, when it was last touched, and its content as plain values."""

    tag: str
    saved_at: datetime
    content: Mapping[str, Any]


class Drafts:
    """The drafts in one folder; each file is replaced whole or not at all and readable by its owner only.

    What is told with `later` is known at once and is on disk after `write`, which loses none of several tags.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._lock = threading.RLock()
        self._waiting: dict[str, tuple[Mapping[str, Any] | None, datetime]] = {}

    def later(self, tag: str, content: Mapping[str, Any] | None, at: datetime) -> None:
        """Keep this as the draft of a tag at the next write; None to drop it."""
        with self._lock:
            self._waiting[tag] = content, at

    def write(self) -> None:
        """Write what waits; what the disk refuses waits on, and Refused says so."""
        with self._lock:
            for tag, (content, at) in list(self._waiting.items()):
                if content is None:
                    self.drop(tag)
                else:
                    self.save(tag, content, at)
                del self._waiting[tag]

    @property
    def state(self) -> object:
        """Another one once any draft on disk was written or dropped."""
        with contextlib.suppress(OSError):
            return self.folder.stat().st_mtime_ns
        return None

    def save(self, tag: str, content: Mapping[str, Any], at: datetime) -> None:
        """Keep this as the unit's draft; Refused with a remedy where the disk will not have it."""
        held = {"form": _form(), "tag": tag, "saved_at": moment_text(at), "content": dict(content)}
        text = json.dumps(as_plain(held), ensure_ascii=False, sort_keys=True, allow_nan=False)
        path = self._path(tag)
        fresh = path.with_suffix(".new")
        try:
            self.folder.mkdir(parents=True, exist_ok=True, mode=stat.S_IRWXU)
            handle = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, _OWNER_ONLY)
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            fresh.replace(path)
        except OSError as fault:
            raise Refused(
                say(
                    "draft: cannot be kept ({fault}); free some space or finish without closing the program",
                    fault=fault.strerror,
                )
            ) from fault

    def load(self, tag: str) -> Draft | None:
        """The unit's draft; None where there is none or where the file is torn, which loses only a draft."""
        with self._lock:
            if tag in self._waiting:
                content, at = self._waiting[tag]
                return None if content is None else Draft(tag, at, content)
            return _read(self._path(tag))

    def drop(self, tag: str) -> None:
        """Forget the unit's draft, once its work is recorded or thrown away."""
        with contextlib.suppress(FileNotFoundError):
            self._path(tag).unlink()

    def listed(self) -> tuple[Draft, ...]:
        """Every draft, the newest first."""
        if not self.folder.is_dir():
            return ()
        found = (_read(path) for path in sorted(self.folder.glob("*.json")))
        return tuple(sorted((draft for draft in found if draft), key=lambda draft: draft.saved_at, reverse=True))

    def _path(self, tag: str) -> Path:
        # A tag may hold any sign; the digest keeps two tags apart that look alike once cleaned.
        plain = re.sub(r"[^A-Za-z0-9-]", "_", tag)[:40]
        digest = hashlib.sha256(tag.encode()).hexdigest()[:8]
        return self.folder / f"{plain}-{digest}.json"


def _read(path: Path) -> Draft | None:
    try:
        held = json.loads(path.read_text(encoding="utf-8"))
        if held["form"] != _form() or not isinstance(held["content"], dict):
            return None
        return Draft(str(held["tag"]), datetime.fromisoformat(held["saved_at"]), from_plain(held["content"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None
