"""State by word and shape: the shapes differ in black on white, and what is not known never looks fine."""

import io
from itertools import combinations

import numpy as np
import pytest

from fleetbench.calc.core.verdict import Result, Verdict
from fleetbench.paper.core.document import new_canvas
from fleetbench.paper.core.marks import PrintedShape, draw_shape, shape_for
from tests.paper.pdf_reader import pictures


def picture_of(shape: PrintedShape) -> np.ndarray:
    out = io.BytesIO()
    canvas = new_canvas(out, (12, 12), "shape", "")
    draw_shape(canvas, shape, 6, 6, 4)
    canvas.showPage()
    canvas.save()
    return pictures(out.getvalue(), 4)[0].astype(float)


@pytest.mark.parametrize("one, other", list(combinations(PrintedShape, 2)))
def test_two_shapes_differ_even_when_small(one: PrintedShape, other: PrintedShape) -> None:
    differing = np.abs(picture_of(one) - picture_of(other)) > 128
    assert differing.sum() > 60, "out of the 1,024 pixels that a shape's box has"


def test_the_four_verdicts_and_the_three_results_have_shapes_of_their_own() -> None:
    assert len({shape_for(verdict) for verdict in Verdict}) == 4
    assert len({shape_for(result) for result in Result}) == 3


@pytest.mark.parametrize("word", ["unknown", "not recorded", "not calibrated", "", None, "surely fine", "Pass?"])
def test_a_word_that_is_not_known_has_the_shape_of_not_known(word: str | None) -> None:
    assert shape_for(word) is PrintedShape.BAR


@pytest.mark.parametrize("fine, not_fine", [("pass", "reject"), ("ok", "stop"), ("good", "past"), ("ready", "hold")])
def test_what_is_not_allowed_is_a_crossed_square_and_what_is_well_a_disc(fine: str, not_fine: str) -> None:
    assert shape_for(fine) is PrintedShape.DISC and shape_for(not_fine) is PrintedShape.CROSSED_SQUARE
