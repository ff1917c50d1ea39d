"""What is typed and said on a terminal: words from files and records never steer it."""

import json
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

import typer

from fleetbench.records.core.errors import Refused, fault_trace, printable


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


def refusal_line(fault: Exception) -> str:
    """What is told of a fault in one line; of one that nobody foresaw, without what it was about."""
    if not isinstance(fault, Refused | OSError):
        return printable(f"fault of the program, nothing half-done was kept: {fault_trace(fault)}")
    if isinstance(fault, OSError) and fault.filename is not None:
        return printable(f"{fault.filename}: {fault.strerror or fault}")
    return printable(" ".join(str(fault).split()))


def day_typed(text: str) -> date:
    """The day that an option names."""
    try:
        return date.fromisoformat(text)
    except ValueError as fault:
        raise typer.BadParameter(f"{text!r} is no date; write it as 2026-06-15") from fault


def text_or_json(text: str) -> str:
    """The format that an option names."""
    if text not in ("text", "json"):
        raise typer.BadParameter("choose text or json")
    return text
