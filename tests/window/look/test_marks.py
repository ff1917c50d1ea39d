import itertools

import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from fleetbench.calc.core.verdict import Result, Verdict
from fleetbench.window.look.marks import ALL_MARKS, HOLD, OTHER_WORDS, STOP, UNKNOWN, Shape, mark_for, shape_path


def picture(shape: Shape) -> list[bool]:
    """Which of 24 by 24 pixels the shape covers."""
    image = QImage(24, 24, QImage.Format.Format_RGB32)
    image.fill(QColor("white"))
    painter = QPainter(image)
    painter.fillPath(shape_path(shape, QRectF(0, 0, 24, 24)), QColor("black"))
    painter.end()
    return [image.pixelColor(x, y).value() < 128 for y in range(24) for x in range(24)]


@pytest.mark.parametrize("pair", list(itertools.combinations(Shape, 2)), ids=lambda pair: f"{pair[0]}-{pair[1]}")
def test_any_two_shapes_differ_in_a_tenth_of_their_box(qapp: object, pair: tuple[Shape, Shape]) -> None:
    one, other = picture(pair[0]), picture(pair[1])
    assert sum(a != b for a, b in zip(one, other, strict=True)) >= 0.1 * len(one)


@pytest.mark.parametrize("shape", Shape)
def test_every_shape_stays_in_its_box(qapp: object, shape: Shape) -> None:
    assert QRectF(-0.5, -0.5, 25, 25).contains(shape_path(shape, QRectF(0, 0, 24, 24)).boundingRect())


@pytest.mark.parametrize("word", [*Verdict, *Result])
def test_every_verdict_and_result_has_a_mark_of_its_own_word(word: Verdict | Result) -> None:
    assert mark_for(word).word == word.value


@pytest.mark.parametrize("word", [None, "", "nonsense", "safe"])
def test_a_missing_or_unheard_of_state_is_shown_as_not_known(word: str | None) -> None:
    assert mark_for(word) == UNKNOWN


def test_states_of_one_severity_share_a_shape_and_no_good_state_shares_it_with_a_bad_one() -> None:
    assert HOLD.shape is STOP.shape
    ranks: dict[Shape, set[int]] = {}
    for mark in ALL_MARKS:
        ranks.setdefault(mark.shape, set()).add(mark.rank)
    assert all(0 not in found or found == {0} for found in ranks.values())


FITNESS = {
    "ready", "pass", "ok", "usable", "good", "later", "fresh", "packed", "in use",
}  # fmt: skip
"""The words that say that a thing may be used: of a unit, a part, a test or a fill."""


def test_only_words_of_fitness_wear_the_disc() -> None:
    words = {mark.word for mark in ALL_MARKS} | set(OTHER_WORDS)
    assert {word for word in words if mark_for(word).shape is Shape.DISC} == FITNESS
    for word in ("out", "to come", "back", "done", "signed", "active"):
        assert (mark_for(word).shape, mark_for(word).tone) == (Shape.CORNER, "state_unknown"), word
