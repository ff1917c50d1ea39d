"""The due list on paper: order, groups, states, and the parts to fetch."""

from datetime import date

import pytest

from fleetbench.paper.due.page import write_due_list
from tests.paper import sample_pages
from tests.paper.pdf_reader import made, texts


def test_each_item_stands_with_its_day_limit_part_and_first_booking_hit() -> None:
    line = sample_pages.due_line(5, part="OC-25-0999", hits="H-26-077")
    text = " ".join(texts(made(write_due_list, sample_pages.due(0, items=(line,)))))
    for fact in (
        "2026-05-16",
        "9",
        "due soon",
        "KB-06",
        "oxygen cylinder",
        "hydrostatic test",
        "OC-25-0999",
        "test interval",
    ):
        assert fact in text
    assert "H-26-077" in text


def test_what_cannot_be_dated_comes_first_then_what_is_past() -> None:
    text = texts(made(write_due_list, sample_pages.due()))[0]
    assert text.index("Last valid day not recorded") < text.index("Past") < text.index("2026-05-07 0 due soon")


def test_the_head_counts_what_is_past_and_what_has_no_day() -> None:
    text = texts(made(write_due_list, sample_pages.due()))[0]
    assert "25 items" in text and "2 past" in text and "1 with a date not recorded" in text


def test_an_item_whose_last_good_day_is_today_is_not_past() -> None:
    line = sample_pages.due_line(2)
    assert line.last_good_day == date(2026, 5, 7)
    assert " past" not in texts(made(write_due_list, sample_pages.due(0, items=(line,))))[0]


@pytest.mark.parametrize("grouped_by, title", [("unit", "KB-14"), ("part type", "cylinder 3 L"), ("place", "bench")])
def test_the_list_groups_by_unit_part_type_and_place(grouped_by: str, title: str) -> None:
    pages = texts(made(write_due_list, sample_pages.due(30), grouped_by=grouped_by))
    assert f"{title} last valid day" in " ".join(pages)


def test_a_projected_day_is_marked_as_such() -> None:
    text = texts(made(write_due_list, sample_pages.due(0, items=(sample_pages.due_line(6),))))[0]
    assert "hours, projected" in text and "moves with the bookings" in text


def test_parts_to_fetch_name_the_oldest_first_and_what_is_short() -> None:
    text = " ".join(texts(made(write_due_list, sample_pages.due())))
    assert "OC-25-0431, OC-25-0432, OC-26-0017" in text
    assert "short 2" in text and "none usable on the shelf" in text and "3 of lot S-2602 dry store" in text


def test_an_empty_list_says_that_only_the_records_were_asked() -> None:
    assert "as far as the records go" in texts(made(write_due_list, sample_pages.due(0, fetch=())))[0]


@pytest.mark.parametrize("more", [0, 1], ids=["one month", "and one item of another"])
def test_no_page_holds_one_row_alone_and_each_names_its_month(more: int) -> None:
    """Whatever number of items fills the page before: the last row of a table never begins a page."""
    for count in range(42, 48):
        days = (*(date(2026, 5, 20),) * count, *(date(2026, 6, 1),) * more)
        items = tuple(sample_pages.due_line(n, last_good_day=on, days_left=13) for n, on in enumerate(days))
        pages = texts(made(write_due_list, sample_pages.due(0, items=items, fetch=None)))
        rows = [page.count("KB-") for page in pages]
        assert sum(rows) == count + more and 1 not in rows, (count, rows)
        months = [" 2026-05 last valid day " in " ".join(page.split()) for page in pages]
        assert months == [held > 0 for held in rows], count


def test_the_head_of_a_table_comes_again_on_each_page() -> None:
    pages = texts(made(write_due_list, sample_pages.due(200), grouped_by="place"))
    assert len(pages) > 3
    assert all("set by" in page for page in pages[:-1])
