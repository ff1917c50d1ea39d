"""How many modules one act or one read goes through on the running program: `python -m tests.house.followed`.

Every Python call is noted in the GUI thread and in the pool's threads, from the last key to the row on the screen.
"""

import sys
import threading
from collections.abc import Callable
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

PACKAGE = str(Path(__file__).parents[2] / "fleetbench")
TESTS = "tests/window"
FLOORS = ("window", "workshop", "records", "calc")


class Follower:
    """A plugin for pytest that counts the modules entered while a named method of a test's bench runs."""

    def __init__(self, method: str) -> None:
        self.method = method
        self.met: set[tuple[str, str]] = set()

    def note(self, frame: FrameType, event: str, _argument: object) -> None:
        """One call; what is run on import is no part of the act."""
        code = frame.f_code
        if event == "call" and code.co_filename.startswith(PACKAGE) and code.co_name != "<module>":
            self.met.add((code.co_filename, code.co_qualname))

    @contextmanager
    def following(self) -> Any:
        """Note what is called in this thread and in the pool's."""
        from fleetbench.window.shell import background

        run = background._Run.run

        def noted(job: Any) -> None:
            sys.setprofile(self.note)
            try:
                run(job)
            finally:
                sys.setprofile(None)

        background._Run.run = noted  # type: ignore[method-assign,assignment]
        threading.setprofile(self.note)
        sys.setprofile(self.note)
        try:
            yield
        finally:
            sys.setprofile(None)
            threading.setprofile(None)
            background._Run.run = run  # type: ignore[method-assign]

    def pytest_pycollect_makeitem(self, collector: Any, name: str, obj: object) -> None:
        """Wrap the method once its class is met."""
        for holder in vars(collector.module).values() if hasattr(collector, "module") else ():
            if isinstance(holder, type) and self.method in vars(holder) and not hasattr(holder, "_followed"):
                setattr(holder, self.method, self._wrapped(vars(holder)[self.method]))
                holder._followed = True  # type: ignore[attr-defined]

    def _wrapped(self, plain: Callable[..., object]) -> Callable[..., object]:
        def wrapped(*given: Any, **named: Any) -> object:
            with self.following():
                return plain(*given, **named)

        return wrapped


FOLLOWED = (
    ("calibrate: the last Enter to disk and back", "record",
     "cells/test_calibrate_page.py::test_a_head_of_three_cells_on_two_handsets_takes_at_most_45_keys"),
)  # fmt: skip


def main() -> None:
    """Print modules and functions of each act."""
    for words, method, test in FOLLOWED:
        follower = Follower(method)
        code = pytest.main(["-q", "-n", "0", "-p", "no:cacheprovider", f"{TESTS}/{test}"], plugins=[follower])
        files = {file for file, _ in follower.met}
        floors = [sum(f"/{floor}/" in file for file in files) for floor in FLOORS]
        lines = sum(Path(file).read_text(encoding="utf-8").count("\n") for file in files)
        print(f"{words}: {len(files)} modules ({' / '.join(map(str, floors))}), {len(follower.met)} functions, "
              f"{lines} lines in those modules; the test ended with {int(code)}")  # fmt: skip


if __name__ == "__main__":
    main()
