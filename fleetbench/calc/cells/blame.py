"""Where a deviation sits: common to the head, in one handset, in one cell, or in one contact.

The deviations are logarithms of linearity over a reference (the last accepted figure, else the ideal 100 %), one a
cell and reader. Arrays are shaped (..., cells, readers), NaN where a reader does not show a cell.
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from fleetbench.calc.cells.uncertainty import Array


class BlameKind(StrEnum):
    """What the pattern of deviations points to."""

    NONE = "none"
    COMMON = "common"
    HANDSET = "handset"
    CELL = "cell"
    CONTACT = "contact"


@dataclass(frozen=True, slots=True)
class Parts:
    """The split of log deviations; common (...,), readers (..., R), cells (..., C), contacts (..., C, R)."""

    common: Array
    readers: Array
    cells: Array
    contacts: Array

    def of_head(self, head: int, shape: tuple[int, int]) -> "Parts":
        """The split of one head out of many, by its own shape."""
        cells, readers = slice(shape[0]), slice(shape[1])
        return Parts(
            self.common[head], self.readers[head, readers], self.cells[head, cells],
            self.contacts[head, cells, readers],
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Blame:
    """What is to blame and by how much, in percent of the reading.

    where names the handset, the cell or the (cell, handset) found; readers, cells and contacts hold every part, so that
    the numbers can be shown. against says what the deviations are measured from. shift is the median shift of the cells
    against their last accepted figures with its threshold, None without history.
    """

    kind: BlameKind
    where: tuple[str, ...]
    common: float
    readers: tuple[tuple[str, float], ...]
    cells: tuple[tuple[str, float], ...]
    contacts: tuple[tuple[str, str, float], ...]
    against: str
    shift: float | None
    shift_threshold: float | None
    sentence: str


def shared_part(deviation: Array, axis: int | tuple[int, ...]) -> Array:
    """What all deviations along an axis share: the smallest of them where all have one sign, else nought.

    A single odd value can neither create nor enlarge it, so one bad cell or contact never looks like a bad gas. NaN is
    passed over; nothing at all gives nought.
    """
    low = np.min(np.where(np.isnan(deviation), np.inf, deviation), axis=axis)
    high = np.max(np.where(np.isnan(deviation), -np.inf, deviation), axis=axis)
    part = np.where(low > 0.0, low, np.where(high < 0.0, high, 0.0))
    return np.asarray(np.where(np.isinf(part), 0.0, part))


def split(deviation: Array) -> Parts:
    """Common, handset, cell and contact part of log deviations (..., C, R), in this order, each what its group shares.

    With one reader a handset part, and with one cell a cell part, cannot be told from the common part; with one reader
    a contact cannot be told from the cell. They come out as common and as cell.
    """
    common = shared_part(deviation, (-2, -1))
    rest = deviation - common[..., None, None]
    several_cells = np.count_nonzero(~np.all(np.isnan(deviation), axis=-1), axis=-1) > 1
    readers = np.where(several_cells[..., None], shared_part(rest, -2), 0.0)
    rest = rest - readers[..., None, :]
    cells = shared_part(rest, -1)
    return Parts(common, readers, cells, rest - cells[..., :, None])


def summed(values: Array) -> Array:
    """Sum over the last axis from the first value on, so that a zero more changes no bit of it."""
    return np.asarray(np.add.accumulate(values, axis=-1)[..., -1])


def median_shift(deviation: Array) -> Array:
    """Median over cells of each cell's mean over readers, (..., C, R) to (...,); NaN with fewer than two cells."""
    known = ~np.isnan(deviation)
    count = np.count_nonzero(known, axis=-1)
    per_cell = np.where(count > 0, summed(np.where(known, deviation, 0.0)) / np.maximum(count, 1), np.nan)
    cells = np.count_nonzero(count > 0, axis=-1)
    ordered = np.sort(per_cell, axis=-1)
    low = np.take_along_axis(ordered, np.maximum((cells - 1) // 2, 0)[..., None], axis=-1)[..., 0]
    high = np.take_along_axis(ordered, np.minimum(cells // 2, ordered.shape[-1] - 1)[..., None], axis=-1)[..., 0]
    return np.asarray(np.where(cells >= 2, (low + high) / 2.0, np.nan))
