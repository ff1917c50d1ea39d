"""One line of the table of faults, and a child process that is killed, bounded or made another user."""

import os
import re
import resource
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fleetbench.records.core.errors import Refused

Say = Callable[[str], None]
"""Tells the parent one line; a child that is killed has told what it told."""
NOBODY = 65534
"""The user and group without rights that every Linux has."""


@dataclass(slots=True)
class Outcome:
    """A fault: how it is made, how often, what was lost (nothing, it is hoped), and every sentence that was told."""

    fault: str
    how: str
    tries: int = 0
    lost: list[str] = field(default_factory=list)
    told: set[str] = field(default_factory=set)
    seconds: float = 0.0

    @property
    def database(self) -> str:
        """Which database it was made on: a server, a file, or none where it reaches neither."""
        named = next((each for each in ("PostgreSQL", "SQLite") if each in self.fault), "SQLite")
        return "none" if self.fault.startswith("broken") and named not in self.fault else named

    def hold(self, kept: bool, said: str) -> None:
        """Count as lost what did not hold."""
        if not kept:
            self.lost.append(said)

    @contextmanager
    def telling(self, what: str) -> Iterator[None]:
        """Whatever is refused within is told; any other exception is a trace, which counts as lost."""
        try:
            yield
        except Refused as refusal:
            self.hear(str(refusal))
        except Exception as fault:  # any other is what is looked for
            self.lost.append(f"{what}: trace {type(fault).__name__}: {fault}"[:300])

    def hear(self, line: str) -> None:
        """Keep a sentence; one of several lines, or empty, is none."""
        self.hold(bool(line) and "\n" not in line, f"no sentence: {line!r}")
        self.told.add(re.sub(r"/\S*/(\w+\.\w+)(\.\d+)?", r"\1", line))


def forked(work: Callable[[Say], object], *, after: float | None = None, limit: float = 120.0, **how: Any) -> list[str]:
    """What a child process told until it ended, or was killed so many seconds after its first line.

    how: memory (bytes of address space), file (bytes that one file may have), user (whom it becomes).
    """
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        _be_child(work, reading, writing, how)
    os.close(writing)
    with os.fdopen(reading, "rb") as said:
        first = said.readline() if after is not None else b""
        if after is not None:
            time.sleep(after)
            os.kill(child, signal.SIGKILL)
        else:
            _end_late(child, time.monotonic() + limit)
        rest = said.read()
    with suppress(ChildProcessError):
        os.waitpid(child, 0)
    return (first + rest).decode(errors="replace").splitlines()


def _end_late(child: int, limit: float) -> None:
    """Wait for the child; one that hangs is killed, and that it said nothing of its end tells on it."""
    while time.monotonic() < limit:
        if os.waitpid(child, os.WNOHANG) != (0, 0):
            return
        time.sleep(0.002)
    os.kill(child, signal.SIGKILL)


def _be_child(work: Callable[[Say], object], reading: int, writing: int, how: dict[str, Any]) -> None:
    def say(line: str) -> None:
        os.write(writing, f"{line}\n".encode())

    try:
        os.close(reading)
        for name, kind in (("memory", resource.RLIMIT_AS), ("file", resource.RLIMIT_FSIZE)):
            if name in how:
                resource.setrlimit(kind, (how[name], resource.getrlimit(kind)[1]))
        if "file" in how:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        if how.get("user") is not None:
            os.setgroups([])
            os.setgid(how["user"])
            os.setuid(how["user"])
        say("begun")
        work(say)
        say("ended")
    except Refused as refusal:
        say(f"refused {refusal}")
    except BaseException as fault:  # the parent tells of it
        say(f"trace {type(fault).__name__} {' '.join(str(fault).split())}"[:300])
    finally:
        os._exit(0)


def heard(outcome: Outcome, said: list[str]) -> list[str]:
    """What a child told besides its refusals and traces, which go to the outcome; one that hung counts as lost."""
    for line in said:
        if line.startswith("refused "):
            outcome.hear(line.removeprefix("refused "))
        outcome.hold(not line.startswith("trace "), line)
    outcome.hold(bool(said) and said[-1].startswith(("ended", "refused", "trace")), f"hung after {said[-1:]}")
    return [line for line in said if not line.startswith(("refused ", "trace "))]


def left_in(folder: Path, *known: str) -> list[str]:
    """Files of a folder that should not be there."""
    usual, unfinished = (*known, "fleetbench-photographs"), (".part", ".new", ".restoring")
    names = sorted(path.name for path in folder.iterdir())
    return [name for name in names if not name.startswith(usual) or name.endswith(unfinished)]
