"""State on paper by word and shape: which shape belongs to which word, and the shapes as paths.

The outlines differ, so that they tell the state in black on white: a disc (nothing wanted), a lozenge (plan it),
an open ring (do it again), a crossed square (not allowed), a flat bar (not known).
"""

from enum import Enum
from math import cos, pi, sin

from reportlab.pdfgen.canvas import Canvas


class PrintedShape(Enum):
    """Outline of a mark."""

    DISC = "disc"
    LOZENGE = "lozenge"
    OPEN_RING = "open ring"
    CROSSED_SQUARE = "crossed square"
    BAR = "bar"


_SHAPES = {
    PrintedShape.DISC: ("ready", "pass", "ok", "done", "held", "good", "later", "fresh"),
    PrintedShape.LOZENGE: ("due soon", "watch", "advise", "put off", "left out"),
    PrintedShape.OPEN_RING: ("repeat", "to do", "undecided"),
    PrintedShape.CROSSED_SQUARE: ("hold", "reject", "stop", "past", "overdue", "fell", "failed", "stale"),
}
_BY_WORD = {word: shape for shape, words in _SHAPES.items() for word in words}


def shape_for(word: str | None) -> PrintedShape:
    """The shape of a state, verdict or result; a missing or unheard-of word is the bar: not known."""
    return _BY_WORD.get((word or "").strip().lower().replace("_", " "), PrintedShape.BAR)


def draw_shape(canvas: Canvas, shape: PrintedShape, x: float, y: float, reach: float) -> None:
    """Draw a shape in black round the centre x, y (canvas coordinates), `reach` being half its side."""
    _DRAWN[shape](canvas, x, y, reach)


def _disc(canvas: Canvas, x: float, y: float, reach: float) -> None:
    canvas.circle(x, y, reach * 0.84, stroke=0, fill=1)


def _lozenge(canvas: Canvas, x: float, y: float, reach: float) -> None:
    """A rhombus with a hollow upper half."""
    inner = reach * 0.56
    outline = canvas.beginPath()
    outline.moveTo(x - reach, y)
    outline.lineTo(x, y - reach)
    outline.lineTo(x + reach, y)
    outline.lineTo(x, y + reach)
    outline.lineTo(x - reach, y)
    outline.lineTo(x - inner, y)
    outline.lineTo(x, y + inner)
    outline.lineTo(x + inner, y)
    outline.lineTo(x - inner, y)
    outline.close()
    canvas.drawPath(outline, stroke=0, fill=1, fillMode=0)


def _open_ring(canvas: Canvas, x: float, y: float, reach: float) -> None:
    """A ring with a gap at the upper right."""
    radius = reach * 0.74
    canvas.setLineWidth(reach * 0.44)
    ring = canvas.beginPath()
    start = 80 * pi / 180
    ring.moveTo(x + radius * cos(start), y + radius * sin(start))
    ring.arcTo(x - radius, y - radius, x + radius, y + radius, startAng=80, extent=290)
    canvas.drawPath(ring, stroke=1, fill=0)


def _crossed_square(canvas: Canvas, x: float, y: float, reach: float) -> None:
    side, arm = reach * 0.86, reach * 0.5
    canvas.rect(x - side, y - side, 2 * side, 2 * side, stroke=0, fill=1)
    canvas.setStrokeGray(1)
    canvas.setLineWidth(reach * 0.36)
    canvas.line(x - arm, y - arm, x + arm, y + arm)
    canvas.line(x - arm, y + arm, x + arm, y - arm)
    canvas.setStrokeGray(0)


def _bar(canvas: Canvas, x: float, y: float, reach: float) -> None:
    canvas.rect(x - reach, y - reach * 0.24, 2 * reach, reach * 0.48, stroke=0, fill=1)


_DRAWN = {
    PrintedShape.DISC: _disc,
    PrintedShape.LOZENGE: _lozenge,
    PrintedShape.OPEN_RING: _open_ring,
    PrintedShape.CROSSED_SQUARE: _crossed_square,
    PrintedShape.BAR: _bar,
}
