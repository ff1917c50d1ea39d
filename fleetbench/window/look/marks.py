"""What stands for a state: word, shape and colour together; colours named for what they mean, light and dark.

The shapes differ in outline, so that they tell the state without colour and without the word:
a disc (fit, nothing wanted), a lozenge (plan it), an open ring (do it again), a crossed square (not allowed),
a flat bar (not known), and a corner (how far a thing has come, which says nothing of fitness).
"""

from dataclasses import dataclass, fields
from enum import Enum
from math import cos, pi, sin

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainterPath, QPainterPathStroker


@dataclass(frozen=True, slots=True)
class Colours:
    """One scheme: each field is an sRGB colour as #rrggbb, named for its meaning."""

    # grounds, from the back to the front
    rail: str
    surface: str
    raised: str
    sunken: str
    chosen: str
    # ink
    ink: str
    muted: str
    faint: str
    line: str
    edge: str
    # what can be acted on
    accent: str
    accent_pressed: str
    on_accent: str
    # how fit a unit is
    state_ready: str
    state_due_soon: str
    state_hold: str
    state_unknown: str
    # answer of a measurement
    verdict_pass: str
    verdict_watch: str
    verdict_repeat: str
    verdict_reject: str
    # answer of a readiness check
    check_ok: str
    check_advise: str
    check_stop: str
    # grounds for a line that speaks inside a page
    ground_note: str
    ground_refused: str


LIGHT = Colours(
    rail="#d9e0de",
    surface="#eef1ef",
    raised="#fcfdfc",
    sunken="#e4e9e7",
    chosen="#dbe4f3",
    ink="#16211f",
    muted="#4b5957",
    faint="#6f7c7a",
    line="#d3dad7",
    edge="#77847f",
    accent="#2c4f8c",
    accent_pressed="#213c6b",
    on_accent="#ffffff",
    state_ready="#0b6150",
    state_due_soon="#7d4e00",
    state_hold="#a3133f",
    state_unknown="#535f66",
    verdict_pass="#0b6150",
    verdict_watch="#7d4e00",
    verdict_repeat="#5a3c98",
    verdict_reject="#a3133f",
    check_ok="#0b6150",
    check_advise="#7d4e00",
    check_stop="#a3133f",
    ground_note="#e3e9f4",
    ground_refused="#f6e2e6",
)

DARK = Colours(
    rail="#0f1516",
    surface="#161d1e",
    raised="#1e2728",
    sunken="#253031",
    chosen="#2c3b58",
    ink="#e7edeb",
    muted="#a9b6b3",
    faint="#8b9895",
    line="#324041",
    edge="#7d8b89",
    accent="#a5bcf2",
    accent_pressed="#c3d2f7",
    on_accent="#0f1a33",
    state_ready="#62cbb0",
    state_due_soon="#e6b454",
    state_hold="#f792aa",
    state_unknown="#a9b5bb",
    verdict_pass="#62cbb0",
    verdict_watch="#e6b454",
    verdict_repeat="#c3aef7",
    verdict_reject="#f792aa",
    check_ok="#62cbb0",
    check_advise="#e6b454",
    check_stop="#f792aa",
    ground_note="#24304a",
    ground_refused="#42232b",
)

HIGH_LIGHT = Colours(
    rail="#ebebeb",
    surface="#ffffff",
    raised="#ffffff",
    sunken="#f2f2f2",
    chosen="#d9e6ff",
    ink="#000000",
    muted="#262626",
    faint="#4f4f4f",
    line="#6e6e6e",
    edge="#000000",
    accent="#00207a",
    accent_pressed="#001450",
    on_accent="#ffffff",
    state_ready="#003d30",
    state_due_soon="#4f3000",
    state_hold="#73002a",
    state_unknown="#2a3238",
    verdict_pass="#003d30",
    verdict_watch="#4f3000",
    verdict_repeat="#3a1c78",
    verdict_reject="#73002a",
    check_ok="#003d30",
    check_advise="#4f3000",
    check_stop="#73002a",
    ground_note="#d9e6ff",
    ground_refused="#ffe0e6",
)

HIGH_DARK = Colours(
    rail="#161616",
    surface="#000000",
    raised="#000000",
    sunken="#161616",
    chosen="#002a66",
    ink="#ffffff",
    muted="#e6e6e6",
    faint="#b8b8b8",
    line="#949494",
    edge="#ffffff",
    accent="#a8d4ff",
    accent_pressed="#d6ebff",
    on_accent="#000000",
    state_ready="#66f2cc",
    state_due_soon="#ffd24d",
    state_hold="#ffb0c4",
    state_unknown="#d5dde2",
    verdict_pass="#66f2cc",
    verdict_watch="#ffd24d",
    verdict_repeat="#dccbff",
    verdict_reject="#ffb0c4",
    check_ok="#66f2cc",
    check_advise="#ffd24d",
    check_stop="#ffb0c4",
    ground_note="#002152",
    ground_refused="#4d0016",
)

SCHEMES = {"light": LIGHT, "dark": DARK, "high contrast light": HIGH_LIGHT, "high contrast dark": HIGH_DARK}
"""Every scheme by the look that shows it; "system" follows what the system asks for."""

GROUNDS = ("rail", "surface", "raised", "sunken", "chosen")
INKS = ("ink", "muted")
TONES = tuple(field.name for field in fields(Colours) if field.name.startswith(("state_", "verdict_", "check_")))

TEXT_PAIRS: tuple[tuple[str, str], ...] = (
    *((ink, ground) for ink in INKS for ground in GROUNDS),
    *((tone, ground) for tone in TONES for ground in ("surface", "raised", "sunken", "chosen")),
    *(("accent", ground) for ground in ("surface", "raised", "sunken", "chosen", "ground_note")),
    ("on_accent", "accent"),
    ("on_accent", "accent_pressed"),
    ("ink", "ground_note"),
    ("ink", "ground_refused"),
    ("check_stop", "ground_refused"),
)
"""Every (text, ground) that the window paints: 4.5:1 (WCAG 2.2, 1.4.3), in high contrast 7:1 (1.4.6)."""

MARK_PAIRS: tuple[tuple[str, str], ...] = (
    *(("edge", ground) for ground in ("surface", "raised", "sunken")),
    *(("faint", ground) for ground in ("surface", "raised", "sunken", "chosen")),
    *(("accent", ground) for ground in GROUNDS),
    *((tone, ground) for tone in TONES for ground in GROUNDS),
)
"""Every (mark, ground): shapes, frames of fields, focus rings; each must reach 3:1 (WCAG 2.2, 1.4.11)."""

HIGH_PAIRS: tuple[tuple[str, str], ...] = (
    *(("line", ground) for ground in GROUNDS),
    *(("edge", ground) for ground in GROUNDS),
)
"""What high contrast adds to the marks: the frames of cards, lists and buttons that are not chosen."""


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
