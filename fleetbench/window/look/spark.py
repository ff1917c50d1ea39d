"""A tiny trend line for a list: no axes, the last value marked, gaps where nothing was measured."""

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QPainter, QPainterPath, QPen

from fleetbench.window.look.theme import Theme

_LEAST_SPAN = 0.1


def trend_points(values: Sequence[float | None], box: QRectF) -> list[QPointF | None]:
    """Where each value falls inside the box, None where there is none.

    The box spans at least a tenth of the middle value, so that ordinary scatter does not look like a fall.
    """
    known = [value for value in values if value is not None]
    if not known:
        return [None] * len(values)
    middle = (min(known) + max(known)) / 2
    span = max(max(known) - min(known), _LEAST_SPAN * abs(middle)) or 1.0
    step = box.width() / max(1, len(values) - 1)
    return [
        None
        if value is None
        else QPointF(box.left() + number * step, box.center().y() - (value - middle) / span * box.height())
        for number, value in enumerate(values)
    ]


def paint_trend(painter: QPainter, theme: Theme, values: Sequence[float | None], box: QRectF) -> None:
    """Paint the line of the values, oldest first, and a dot on the last one; nothing for an empty series."""
    points = trend_points(values, box.adjusted(2, 2, -3, -2))
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(theme.colour("muted"), 1.5))
    painter.drawPath(_line(points))
    last = next((point for point in reversed(points) if point is not None), None)
    if last is not None:
        dot = QPainterPath()
        dot.addEllipse(last, 2.5, 2.5)
        painter.fillPath(dot, theme.colour("ink"))
    painter.restore()


def _line(points: Sequence[QPointF | None]) -> QPainterPath:
    path, joined = QPainterPath(), False
    for point in points:
        if point is not None and joined:
            path.lineTo(point)
        elif point is not None:
            path.moveTo(point)
        joined = point is not None
    return path
