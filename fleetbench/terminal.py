"""What is said on a terminal: words from files and records never steer it."""

import json
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from fleetbench.records.core.errors import printable


def say(words: object) -> None:
    """Print a line; a sign that would steer the terminal is shown as its number."""
    print(printable(str(words)))


def say_lines(lines: Iterable[str]) -> None:
    """Print lines, each as `say` does."""
    for line in lines:
        say(line)


def say_json(data: Any) -> None:
    """Print plain data as JSON (RFC 8259), days and moments as ISO 8601; no sign in it steers the terminal."""
    text = json.dumps(data, indent=1, ensure_ascii=False, default=_plain)
    print("".join(sign if sign.isprintable() or sign == "\n" else json.dumps(sign)[1:-1] for sign in text))


def _plain(value: Any) -> str:
    if isinstance(value, date | datetime):
        return value.isoformat()
    raise TypeError(f"{type(value).__name__} has no plain form")
