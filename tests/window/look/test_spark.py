import pytest
from PySide6.QtCore import QRectF

from fleetbench.window.look.state_delegate import trend_points

BOX = QRectF(0, 0, 100, 20)


def test_no_values_give_no_points() -> None:
    assert trend_points((), BOX) == []
    assert trend_points((None, None), BOX) == [None, None]


def test_a_gap_stays_a_gap() -> None:
    first, gap, last = trend_points((100.0, None, 90.0), BOX)
    assert gap is None
    assert first is not None
    assert last is not None
    assert (first.x(), last.x()) == (0, 100)


def test_a_fall_goes_down_over_the_whole_box() -> None:
    first, last = trend_points((100.0, 50.0), BOX)
    assert first is not None
    assert last is not None
    assert (first.y(), last.y()) == (0, 20)


def test_ordinary_scatter_stays_near_the_middle() -> None:
    points = trend_points((99.8, 100.2, 100.0), BOX)
    assert all(point is not None and abs(point.y() - 10) < 1 for point in points)


@pytest.mark.parametrize("value", [0.0, -3.0, 5.0])
def test_a_single_value_lies_in_the_middle(value: float) -> None:
    (point,) = trend_points((value,), BOX)
    assert point is not None
    assert point.y() == 10
