"""Labels: of their size, with their code, never with minutes left."""

import pytest

from fleetbench.paper.canisters.labels import write_fill_labels, write_tag_labels
from tests.paper import sample_pages
from tests.paper.pdf_reader import made, pictures, sizes, texts
from tests.paper.qr_reader import modules_of, read

_POINTS_A_MM = 72 / 25.4


@pytest.mark.parametrize(
    "write, label", [(write_fill_labels, sample_pages.fill_label), (write_tag_labels, sample_pages.tag_label)]
)
def test_a_label_is_62_by_29_mm_and_one_a_page(write: object, label: object) -> None:
    pdf = made(write, [label(), label()])
    assert sizes(pdf) == [pytest.approx((62 * _POINTS_A_MM, 29 * _POINTS_A_MM), abs=0.1)] * 2
    assert pdf == made(write, [label(), label()])


def test_a_diver_whose_name_the_typeface_lacks_is_told_by_the_code() -> None:
    def of(name: str, code: str) -> str:
        return str(texts(made(write_fill_labels, [sample_pages.fill_label(diver=name, diver_code=code)]))[0])

    assert "diver R7:" in of("བསྟན", "R7") and "diver R8:" in of("བདེ", "R8")
    assert "diver Łucja" in of("Łucja", "R9")


def test_the_fill_label_holds_its_facts_and_never_minutes_left() -> None:
    text = texts(made(write_fill_labels, [sample_pages.fill_label()]))[0]
    for fact in (
        "FIL-01733", "canister C-07", "packed 2026-05-07 08:10, Łucja Żuraw", "lot A-2604, 2480 g",
        "120 min at 10 °C", "discard by 2026-05-08 08:10", "ONE DIVER ONLY", "diver Søren Østergård",
    ):  # fmt: skip
        assert fact in text
    assert "left" not in text


def test_what_a_label_does_not_know_it_says() -> None:
    label = sample_pages.fill_label(mass_g=None, rated=(), diver=None, lot=None, discard_by=None)
    text = texts(made(write_fill_labels, [label]))[0]
    for words in (
        "lot not recorded, not recorded",
        "rated not recorded",
        "diver not recorded",
        "discard by not recorded",
    ):
        assert words in text


@pytest.mark.parametrize(
    "write, label, side, right, top, text",
    [
        (write_fill_labels, sample_pages.fill_label, 34.0, 6.5, 6.5, "FIL-01733"),
        (write_tag_labels, sample_pages.tag_label, 56.0, 11.0, (29 * _POINTS_A_MM - 56) / 2, "KB-07"),
    ],
)
def test_the_code_reads_and_has_four_modules_of_white_round_it(
    write: object, label: object, side: float, right: float, top: float, text: str
) -> None:
    """The quiet zone of four modules: ISO/IEC 18004 (from memory)."""
    scale = 10
    picture = pictures(made(write, [label()]), scale)[0]
    left = picture.shape[1] - round((right + side) * scale)
    high, length = round(top * scale), round(side * scale)
    assert read(modules_of(picture[high : high + length, left : left + length])) == text
    quiet = round(4 * side / 21 * scale) - 3
    code = picture[max(0, high - quiet) : high + length + quiet, left - quiet : left + length + quiet].copy()
    code[min(quiet, high) - 2 : min(quiet, high) + length + 2, quiet - 2 : quiet + length + 2] = 255
    assert code.min() > 200


def test_no_label_at_all_is_refused() -> None:
    with pytest.raises(ValueError, match="choose at least one"):
        made(write_tag_labels, [])


def test_a_fill_that_try_sessions_share_says_so_instead_of_one_diver_only() -> None:
    text = texts(made(write_fill_labels, [sample_pages.fill_label(shared=True)]))[0]
    assert "THIS TRY DAY ONLY" in text
    assert "ONE DIVER" not in text
