"""What a person can act on, as opposed to a fault of ours, and how such a fault is told without what it was about."""

import errno
import threading
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import PurePath
from typing import Any


def printable(text: str) -> str:
    """The text without signs by which a terminal is steered; what cannot be seen stands as its number."""
    return "".join(char if char.isprintable() or char == "\n" else f"\\x{ord(char):02x}" for char in text)


class Refused(Exception):  # noqa: N818 - a refusal is an answer, not an error
    """Something was refused by the data or the surroundings; the text is one line that names what and the remedy.

    What a user entered may stand in it, with line ends: they become spaces.
    """

    def __init__(self, said: object = "") -> None:
        text = str(said)  # of a sentence itself, which knows how to be read in another language
        line = " ".join(text.split())
        super().__init__(text if text == line else line)


class NotFound(Refused):
    """What was asked for is not recorded."""


class Clash(Refused):
    """Another desk changed it first; nothing was written.

    now: what stands there by now, to be given with the next try once the user has seen it; None where it is to be
    looked up again.
    """

    def __init__(self, said: str, now: Any = None) -> None:
        super().__init__(said)
        self.now = now


class Unreadable(Refused):
    """The database cannot be opened: foreign, newer, locked, read-only, full or torn."""


def fault_line(error: BaseException) -> str:
    """A fault of ours in one line: its kind, its code where it has one, and the place in the program."""
    frames = traceback.extract_tb(error.__traceback__)
    ours = [each for each in frames if "fleetbench" in PurePath(each.filename).parts]
    return f"{_kind(error)} in {_place(ours[-1])}" if ours else _kind(error)


def fault_trace(error: BaseException) -> str:
    """The whole way to a fault and to what caused it: kinds, places and lines of the program, and nothing else.

    The words of an error may hold a name, a contact, an address with its password or a path of the user's, so none of
    them is told; nor is a path, but for the one inside the program or a library.
    """
    told: list[str] = []
    seen: set[int] = set()
    cause: BaseException | None = error
    while cause is not None and id(cause) not in seen:
        seen.add(id(cause))
        frames = traceback.extract_tb(cause.__traceback__)
        told.append("\n".join((_kind(cause), *(f"  {_place(each)}: {each.line or ''}" for each in frames))))
        cause = cause.__cause__ or cause.__context__
    return "\ncaused by\n".join(told) + "\n"


def _kind(error: BaseException) -> str:
    inner: Any = getattr(error, "orig", None) or error
    number = errno.errorcode.get(inner.errno or 0) if isinstance(inner, OSError) else None
    code = number or getattr(inner, "sqlite_errorname", None) or getattr(inner, "sqlstate", None)
    return f"{type(error).__name__} ({code})" if code else type(error).__name__


def _place(frame: traceback.FrameSummary) -> str:
    parts = PurePath(frame.filename).parts
    start = next((at for at in range(len(parts) - 1, -1, -1) if parts[at] in ("fleetbench", "site-packages")), None)
    inside = parts[start:] if start is not None else parts[-1:]
    return f"{'/'.join(inside)} line {frame.lineno} {frame.name}"


class NotWanted(Exception):  # noqa: N818 - nobody waits for the answer any more, and nothing went wrong
    """What was being read is not wanted any more."""


_reads = threading.local()


@contextmanager
def while_wanted(is_wanted: Callable[[], bool]) -> Iterator[None]:
    """Within this, reads of this thread end with NotWanted once nobody wants them; acts are never ended so."""
    _reads.is_wanted = is_wanted
    try:
        yield
    finally:
        _reads.is_wanted = None


def end_if_unwanted() -> None:
    """Between two steps of a read: nothing while it is wanted; raises NotWanted otherwise."""
    is_wanted = getattr(_reads, "is_wanted", None)
    if is_wanted is not None and not is_wanted():
        raise NotWanted
