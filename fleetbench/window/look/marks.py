"""State shown by word, shape and colour together: the marks, and their shapes as paths of our own.

The shapes differ in outline, so that they tell the state without colour and without the word:
a disc (fit, nothing wanted), a lozenge (plan it), an open ring (do it again), a crossed square (not allowed),
a flat bar (not known), and a corner (how far a thing has come, which says nothing of fitness).
"""

from dataclasses import dataclass
from enum import Enum
from math import cos, pi, sin

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainterPath, QPainterPathStroker


class Shape(Enum):
    """Outline of a mark."""

    DISC = "disc"
    LOZENGE = "lozenge"
    OPEN_RING = "open ring"
    CROSSED_SQUARE = "crossed square"
    BAR = "bar"
    CORNER = "corner"


@dataclass(frozen=True, slots=True)
class Mark:
    """A state to show: its word, its shape, the name of its colour, and its rank (0 is best) for sorting."""

    word: str
    shape: Shape
    tone: str
    rank: int

    def worded(self, word: str) -> "Mark":
        """The same mark with another word, for instance 'hold: cell 2 rejected'."""
        return Mark(word, self.shape, self.tone, self.rank)


READY = Mark("ready", Shape.DISC, "state_ready", 0)
DUE_SOON = Mark("due soon", Shape.LOZENGE, "state_due_soon", 1)
HOLD = Mark("hold", Shape.CROSSED_SQUARE, "state_hold", 3)
UNKNOWN = Mark("not known", Shape.BAR, "state_unknown", 2)

PASS = Mark("pass", Shape.DISC, "verdict_pass", 0)
WATCH = Mark("watch", Shape.LOZENGE, "verdict_watch", 1)
REPEAT = Mark("repeat", Shape.OPEN_RING, "verdict_repeat", 2)
REJECT = Mark("reject", Shape.CROSSED_SQUARE, "verdict_reject", 3)

OK = Mark("ok", Shape.DISC, "check_ok", 0)
ADVISE = Mark("advise", Shape.LOZENGE, "check_advise", 1)
STOP = Mark("stop", Shape.CROSSED_SQUARE, "check_stop", 3)

NOTED = Mark("noted", Shape.CORNER, "state_unknown", 0)
"""How far a thing has come: done, signed, out, to come. Whether a unit is fit it does not say."""

ALL_MARKS = (READY, DUE_SOON, HOLD, UNKNOWN, PASS, WATCH, REPEAT, REJECT, OK, ADVISE, STOP, NOTED)

OTHER_WORDS: dict[str, Mark] = {
    # condition of a part
    "usable": OK,
    "ends soon": ADVISE,
    "not calibrated": UNKNOWN,
    "date not known": UNKNOWN,
    "set aside": HOLD,
    "on hold": HOLD,
    "rejected": REJECT,
    "sent back": UNKNOWN,
    "scrapped": UNKNOWN,
    # life of a part
    "good": OK,
    "past": STOP,
    "later": OK,
    "no limit recorded": UNKNOWN,
    # tests
    "fresh": OK,
    "stale": STOP,
    "failed": REJECT,
    "undecided": REPEAT,
    "not tested": UNKNOWN,
    # absorbent
    "empty": UNKNOWN,
    "packed": OK,
    "not read": UNKNOWN,
    "out, use not known": UNKNOWN,
    "in use": OK,
    "spent": STOP,
    # hires
    "to come": NOTED,
    "out": NOTED,
    "back": NOTED,
    "late": STOP,
    "waiting": ADVISE,
    "cancelled": UNKNOWN,
    "no-show": UNKNOWN,
    "not collected": ADVISE,
    # tickets
    "open": ADVISE,
    "open, critical": STOP,
    "signed": NOTED,
    "withdrawn": NOTED,
    "done": NOTED,
    # people
    "active": NOTED,
}
"""Other words of state, each shown with the shape and colour of what it amounts to."""

_BY_WORD = {mark.word: mark for mark in ALL_MARKS} | {word: mark.worded(word) for word, mark in OTHER_WORDS.items()}
_BY_WORD["unknown"] = UNKNOWN


def mark_for(word: str | None) -> Mark:
    """The mark of a state, verdict or check result by its word; an unheard-of or missing word is 'not known'."""
    return _BY_WORD.get(str(word or "").strip().lower().replace("_", " "), UNKNOWN)


def shape_path(shape: Shape, box: QRectF) -> QPainterPath:
    """The closed path of a shape inside a square box, to be filled with the mark's colour."""
    side = min(box.width(), box.height())
    centre, reach = box.center(), side / 2
    match shape:
        case Shape.DISC:
            return _disc(centre, reach * 0.84)
        case Shape.LOZENGE:
            return _lozenge(centre, reach)
        case Shape.OPEN_RING:
            return _open_ring(centre, reach * 0.74, side * 0.22)
        case Shape.CROSSED_SQUARE:
            return _crossed_square(centre, reach * 0.86)
        case Shape.BAR:
            return _bar(centre, reach)
        case Shape.CORNER:
            return _corner(centre, reach * 0.8)


def _disc(centre: QPointF, radius: float) -> QPainterPath:
    path = QPainterPath()
    path.addEllipse(centre, radius, radius)
    return path


def _lozenge(centre: QPointF, reach: float) -> QPainterPath:
    """A rhombus whose upper half is hollow, so that it stays apart from the disc when it is very small."""
    outer, inner = _rhombus(centre, reach), _rhombus(centre, reach * 0.56)
    upper = QPainterPath()
    upper.addRect(QRectF(centre.x() - reach, centre.y() - reach, 2 * reach, reach))
    return outer.subtracted(inner.intersected(upper))


def _rhombus(centre: QPointF, reach: float) -> QPainterPath:
    path = QPainterPath(centre + QPointF(0, -reach))
    for x, y in ((reach, 0), (0, reach), (-reach, 0)):
        path.lineTo(centre + QPointF(x, y))
    path.closeSubpath()
    return path


def _open_ring(centre: QPointF, radius: float, width: float) -> QPainterPath:
    """A ring with a gap at the upper right: once round and not yet closed."""
    arc = QPainterPath()
    box = QRectF(centre.x() - radius, centre.y() - radius, 2 * radius, 2 * radius)
    start = 80.0
    arc.moveTo(centre + QPointF(radius * cos(start * pi / 180), -radius * sin(start * pi / 180)))
    arc.arcTo(box, start, 290)
    return _stroked(arc, width)


def _crossed_square(centre: QPointF, reach: float) -> QPainterPath:
    square = QPainterPath()
    square.addRect(QRectF(centre.x() - reach, centre.y() - reach, 2 * reach, 2 * reach))
    cross = QPainterPath()
    arm = reach * 0.52
    for dx in (arm, -arm):
        cross.moveTo(centre + QPointF(-dx, -arm))
        cross.lineTo(centre + QPointF(dx, arm))
    return square.subtracted(_stroked(cross, reach * 0.36))


def _bar(centre: QPointF, reach: float) -> QPainterPath:
    path = QPainterPath()
    path.addRoundedRect(QRectF(centre.x() - reach, centre.y() - reach * 0.24, 2 * reach, reach * 0.48), 1, 1)
    return path


def _corner(centre: QPointF, reach: float) -> QPainterPath:
    """Two thick arms along the left and the lower edge."""
    arm, path = reach * 0.62, QPainterPath()
    path.addRect(QRectF(centre.x() - reach, centre.y() - reach, arm, 2 * reach))
    path.addRect(QRectF(centre.x() - reach, centre.y() + reach - arm, 2 * reach, arm))
    return path.simplified()


def _stroked(path: QPainterPath, width: float) -> QPainterPath:
    stroker = QPainterPathStroker()
    stroker.setWidth(width)
    stroker.setCapStyle(Qt.PenCapStyle.RoundCap)
    return stroker.createStroke(path).simplified()
