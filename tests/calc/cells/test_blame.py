"""Split of deviations into common, handset, cell and contact parts, on patterns made with known parts."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetbench.calc.cells.blame import median_shift, shared_part, split

HOLE = float("nan")


def made(common: float = 0.0, readers=(0.0, 0.0), cells=(0.0, 0.0, 0.0), contact=None) -> np.ndarray:
    """Deviations (3 cells, 2 readers) of known parts."""
    grid = common + np.array(readers)[None, :] + np.array(cells)[:, None]
    if contact:
        row, column, amount = contact
        grid[row, column] += amount
    return grid


def test_a_deviation_of_everything_is_common() -> None:
    parts = split(made(common=-0.04))
    assert float(parts.common) == pytest.approx(-0.04)
    assert np.all(parts.readers == 0) and np.all(parts.cells == 0) and np.allclose(parts.contacts, 0)


def test_all_cells_on_one_handset_are_that_handset() -> None:
    parts = split(made(readers=(0.0, 0.03)))
    assert list(parts.readers) == pytest.approx([0.0, 0.03])
    assert float(parts.common) == 0 and np.all(parts.cells == 0)


def test_one_cell_on_every_handset_is_that_cell() -> None:
    parts = split(made(cells=(0.0, -0.07, 0.0)))
    assert list(parts.cells) == pytest.approx([0.0, -0.07, 0.0])
    assert float(parts.common) == 0 and np.all(parts.readers == 0)


def test_one_cell_on_one_handset_is_that_contact() -> None:
    parts = split(made(contact=(2, 0, -0.3)))
    assert parts.contacts[2, 0] == pytest.approx(-0.3)
    assert float(parts.common) == 0 and np.all(parts.readers == 0) and np.all(parts.cells == 0)


def test_a_bad_contact_in_a_badly_flushed_head_hides_neither() -> None:
    parts = split(made(common=-0.03, contact=(1, 1, -0.5)))
    assert float(parts.common) == pytest.approx(-0.03)
    assert parts.contacts[1, 1] == pytest.approx(-0.5)


def test_two_bad_cells_of_three_are_cells_and_not_the_gas() -> None:
    parts = split(made(cells=(0.0, -0.06, -0.08)))
    assert float(parts.common) == 0
    assert list(parts.cells) == pytest.approx([0.0, -0.06, -0.08])


def test_a_reader_that_does_not_show_a_cell_is_passed_over() -> None:
    grid = made(common=-0.02)
    grid[2, 1] = HOLE
    assert float(split(grid).common) == pytest.approx(-0.02)


def test_shift_is_the_median_over_cells_of_the_mean_over_readers() -> None:
    grid = np.array([[-0.01, -0.02], [-0.03, -0.05], [-0.30, HOLE]])
    assert float(median_shift(grid)) == pytest.approx(-0.04)


def test_one_cell_alone_has_no_shift_with_others() -> None:
    assert np.isnan(median_shift(np.array([[-0.05, -0.05], [HOLE, HOLE]])))


@settings(max_examples=50)
@given(st.lists(st.floats(-0.3, 0.3), min_size=6, max_size=6), st.permutations([0, 1, 2]), st.permutations([0, 1]))
def test_the_order_of_cells_and_handsets_does_not_matter(values, rows, columns) -> None:
    grid = np.array(values).reshape(3, 2)
    one, other = split(grid), split(grid[np.ix_(rows, columns)])
    assert float(one.common) == float(other.common)
    assert np.allclose(one.cells[rows], other.cells)
    assert np.allclose(one.contacts[np.ix_(rows, columns)], other.contacts)


@settings(max_examples=50)
@given(st.lists(st.floats(-0.3, 0.3), min_size=6, max_size=6))
def test_the_parts_add_up_to_the_deviation(values) -> None:
    grid = np.array(values).reshape(3, 2)
    parts = split(grid)
    assert np.allclose(parts.common + parts.readers[None, :] + parts.cells[:, None] + parts.contacts, grid)


def test_what_is_shared_is_the_smallest_of_one_sign() -> None:
    assert float(shared_part(np.array([-0.3, -0.1, -0.2]), 0)) == -0.1
    assert float(shared_part(np.array([0.3, -0.1]), 0)) == 0.0
    assert float(shared_part(np.array([HOLE, HOLE]), 0)) == 0.0
