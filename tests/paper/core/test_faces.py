"""The typeface: what it lacks is shown as a box, what is written is wrapped and cut by its true width."""

import font_roboto
import pytest
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st

from fleetbench.paper.core import pen as faces
from fleetbench.paper.core.pen import BOLD, BOX, REGULAR


@pytest.mark.parametrize("name", ["Łucja Żuraw", "Αθηνά Νικολάου", "Дмитро Ґалаґан", "Søren Ærøskøbing", "Nguyễn Ấn"])
def test_latin_greek_and_cyrillic_names_are_set_whole(name: str) -> None:
    assert faces.settable(name) == name
    assert not faces.lacks_glyphs(name)


@pytest.mark.parametrize("sign", ["→", "✓", "■", "ཀ", "ᠮ", "Ꮳ", "\U0001f9ea", "\ue000", "\ud800"])
def test_a_sign_that_the_face_lacks_becomes_a_box(sign: str) -> None:
    assert faces.settable(f"a{sign}b") == f"a{BOX}b"
    assert faces.lacks_glyphs(sign)


def test_control_signs_and_direction_overrides_leave_no_trace() -> None:
    assert faces.settable("a\x00b\x1bc\u202ed\u200be") == "a b cde"


def test_a_decomposed_name_is_composed() -> None:
    assert faces.settable("Zoe\u0308") == "Zoë"


def test_widths_are_those_of_the_face_file() -> None:
    """The face's own advance widths, read with fontTools."""
    for face, path in ((REGULAR, font_roboto.Roboto), (BOLD, font_roboto.RobotoBold)):
        font = TTFont(path)
        glyphs, advances = font.getBestCmap(), font["hmtx"]
        words = "Ölpumpe 49.8 mV ±"
        expected = sum(advances[glyphs[ord(sign)]][0] for sign in words) / font["head"].unitsPerEm * 10
        # The library rounds each advance to a thousandth of the size.
        assert faces.width(words, face, 10) == pytest.approx(expected, abs=0.005 * len(words))


def test_figures_are_all_of_one_width() -> None:
    assert len({faces.width(digit, face, 10) for digit in "0123456789" for face in (REGULAR,)}) == 1


@given(st.text(max_size=300), st.floats(20, 300))
def test_wrapped_lines_fit_and_lose_nothing(text: str, room: float) -> None:
    lines = faces.wrapped(text, REGULAR, 9, room)
    assert all(faces.width(line, REGULAR, 9) <= room or len(line) == 1 for line in lines)
    kept = "".join("".join(map(faces.settable, text.splitlines())).split())
    assert "".join("".join(lines).split()) == kept


@given(st.text(min_size=1, max_size=200), st.floats(25, 200))
def test_fitted_text_fits_its_room(text: str, room: float) -> None:
    line, size = faces.fitted(text, BOLD, 9, room)
    assert faces.width(line, BOLD, size) <= room + 1e-6


def test_cut_text_ends_in_an_ellipsis() -> None:
    assert faces.fitted("x" * 500, REGULAR, 9, 60)[0].endswith("x…")
