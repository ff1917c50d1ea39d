"""Files that appear whole or not at all, readable by their owner only."""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

Target = Path | str | BinaryIO


@contextmanager
def written(target: Target) -> Iterator[BinaryIO]:
    """A stream to write to; a path gets its content only when all of it is written, so no torn page is left.

    Raises OSError as the system gives it (disk full, no such folder, not permitted); the old file then still stands.
    """
    if not isinstance(target, str | Path):
        yield target
        return
    path = Path(target)
    handle, name = tempfile.mkstemp(prefix=f".{path.name[:40]}-", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            yield stream
            stream.flush()
            os.fsync(stream.fileno())
        Path(name).replace(path)
    except BaseException:
        with suppress(OSError):
            Path(name).unlink()
        raise
