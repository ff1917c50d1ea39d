"""Forms to fill in by hand: one page, in the order of the bench and of the entry grid."""

import pytest

from fleetbench.paper.core.document import PageSize
from fleetbench.paper.core.words import sheet_texts
from fleetbench.paper.turn_rounds.blank import write_daily_log, write_turn_round_card
from tests.paper import sample_pages
from tests.paper.pdf_reader import made, texts

WRITERS = [write_daily_log, write_turn_round_card]


@pytest.mark.parametrize("size", list(PageSize))
@pytest.mark.parametrize("write", WRITERS)
@pytest.mark.parametrize("facts", [sample_pages.form, sample_pages.blank_form])
def test_a_form_is_one_page_with_cautions_and_record_number(write: object, facts: object, size: PageSize) -> None:
    pages = texts(made(write, facts(), size=size))
    assert len(pages) == 1 and "page 1 of 1" in pages[0] and f"record {facts().record}" in pages[0]
    assert all(caution in pages[0] for caution in sheet_texts().cautions)


def test_the_log_has_seven_dated_days_and_a_box_a_cell_handset_and_point() -> None:
    text = texts(made(write_daily_log, sample_pages.form()))[0]
    assert all(f"2026-05-{day:02d}" in text for day in range(8, 15))
    assert text.count("mV") == 7 * 3 * 2 * 2
    days = text.split("The maker's manual")[0]
    for label in (
        "diver", "oxygen bar", "diluent bar", "fill number", "loop minutes", "deepest m", "coldest °C", "valves",
        "loop neg", "fault", "initials",
    ):  # fmt: skip
        assert days.count(label) == 7


def test_a_blank_form_has_room_for_the_unit_and_no_code_of_nothing() -> None:
    text = texts(made(write_turn_round_card, sample_pages.blank_form()))[0]
    assert "unit ____" in text and "booking ____" in text


def test_the_card_follows_the_bench_order() -> None:
    text = texts(made(write_turn_round_card, sample_pages.form()))[0]
    places = [text.index(do) for do, _ in sheet_texts().turn_round]
    assert places == sorted(places) and len(places) == 15
    assert "never in the bath" in text


@pytest.mark.parametrize("cells, handsets", [(0, 1), (3, 0)])
def test_a_log_of_no_cell_or_no_handset_is_refused(cells: int, handsets: int) -> None:
    form = sample_pages.form(cells=("cell",) * cells, handsets=("handset",) * handsets)
    with pytest.raises(ValueError, match="the log holds none"):
        made(write_daily_log, form)


@pytest.mark.parametrize("cells, handsets, pages", [(6, 1, 2), (3, 4, 2), (7, 5, 4)])
def test_more_cells_and_handsets_than_a_page_holds_go_on_the_next_ones(cells: int, handsets: int, pages: int) -> None:
    names = [f"cell {n}" for n in range(1, cells + 1)], [f"handset {n}" for n in range(1, handsets + 1)]
    form = sample_pages.form(cells=tuple(names[0]), handsets=tuple(names[1]))
    listed = texts(made(write_daily_log, form))
    assert [f"page {n} of {pages}" in text for n, text in enumerate(listed, 1)] == [True] * pages
    assert all(any(name in text for text in listed) for name in (*names[0], *names[1]))
    assert sum(text.count("mV") for text in listed) == 7 * cells * handsets * 2


@pytest.mark.parametrize("write", WRITERS)
def test_the_same_form_gives_the_same_bytes(write: object) -> None:
    assert made(write, sample_pages.form()) == made(write, sample_pages.form())
