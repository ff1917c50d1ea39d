"""The pages still read and look as they did when a person last looked at them."""

import numpy as np
import pytest
from PIL import Image

from tests.paper.golden import FOLDER, KEPT, Golden, kept_picture, kept_text, largest_change, small_pictures
from tests.paper.pdf_reader import texts

_MOST_CHANGE = 28.0


@pytest.mark.parametrize("golden", KEPT, ids=lambda golden: golden.name)
def test_the_page_reads_as_it_was_kept(golden: Golden) -> None:
    assert texts(golden.pdf()) == kept_text(golden).read_text(encoding="utf-8").splitlines()


@pytest.mark.parametrize("golden", KEPT, ids=lambda golden: golden.name)
def test_the_page_looks_as_it_was_kept(golden: Golden) -> None:
    found = small_pictures(golden)
    assert len(list(FOLDER.glob(f"{golden.name}-[0-9].png"))) == len(found)
    for page, picture in enumerate(found, start=1):
        with Image.open(kept_picture(golden, page)) as image:
            kept = np.asarray(image.convert("L"))
        assert largest_change(picture, kept) <= _MOST_CHANGE


def test_the_comparison_sees_a_word_that_moved_by_its_own_width() -> None:
    page = small_pictures(KEPT[2])[0]
    moved = page.copy()
    word = page[100:112, 100:160].copy()
    assert word.min() < 100, "there is a word in this place"
    moved[100:112, 100:160] = 255
    assert largest_change(page, moved) > _MOST_CHANGE
