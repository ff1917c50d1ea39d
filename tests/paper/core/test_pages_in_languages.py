"""Every kind of printed page in every language of the program: nothing cut, broken, over its edge or by itself."""

import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from fleetbench.calc.core.languages import ENGLISH, PROGRAM_LANGUAGES
from fleetbench.paper.core.document import Heading, PageSize
from fleetbench.paper.core.flow import (
    Block,
    TableColumn,
    fair_rooms,
    in_few_pages,
    pairs,
    section,
    space,
    table,
    text_lines,
    write_flow,
)
from fleetbench.paper.core.pen import Pen, spoilt_lines
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.workshop.core.workplace import Workplace
from tests.conftest import SAMPLE_NOW, Clock
from tests.paper.every_page import Made, Page, invented_pages, pages_in, sample_pages_of
from tests.paper.layout import faults_of, placed_on, shows_boxes
from tests.paper.pdf_reader import made
from tests.paper.sample_pages import LETTERHEAD

OVERLONG = "kept-hand-over-letter"
"""Its invented names are longer than any room, so that it is cut in English too."""


@pytest.fixture(scope="module")
def pages(sample_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Page]]:
    folder = tmp_path_factory.mktemp("pages")
    database = open_database(shutil.copy(sample_file, folder / "sample.db"))
    made_here = invented_pages() | sample_pages_of(Workplace(database, Clock(SAMPLE_NOW)), folder)
    yield {name: page for name, page in made_here.items() if name != OVERLONG}
    database.close()


@pytest.fixture(scope="module")
def in_english(pages: dict[str, Page]) -> dict[str, Made]:
    return {page.name: page for page in pages_in(ENGLISH, pages)}


@pytest.mark.parametrize("code", PROGRAM_LANGUAGES)
def test_every_page_stands_whole_within_its_frames_and_on_as_many_sheets(
    code: str, pages: dict[str, Page], in_english: dict[str, Made]
) -> None:
    wrong = []
    for page in in_english.values() if code == ENGLISH else pages_in(code, pages):
        placed = placed_on(page.pdf)
        wrong += [f"{page.name}: {line!r} has no room to stand whole" for line in page.spoilt]
        wrong += [f"{page.name}: {each}" for each in faults_of(placed)]
        wrong += [f"{page.name}: shows a box instead of a sign"] if shows_boxes(page.pdf) else []
        more = len(placed) - len(placed_on(in_english[page.name].pdf))
        wrong += [f"{page.name}: {more} pages more than in English"] if more > 1 else []
    assert wrong == []


def written(*blocks: Block) -> bytes:
    return made(write_flow, blocks, Heading(LETTERHEAD, "Title", "R-1"), size=PageSize.A4)


def drawn(draw: Callable[[Pen, float, float, float], None]) -> Block:
    return Block(20, draw)


@pytest.mark.parametrize(
    ("block", "told"),
    [
        (drawn(lambda pen, x, y, _: (pen.box(x, y, 30, 14), pen.text(x + 2, y + 9, "wider than it", 9))), "its frame"),
        (drawn(lambda pen, x, y, wide: pen.text(x + wide - 10, y + 9, "too far", 9)), "out of the page"),
        (drawn(lambda pen, x, y, _: (pen.text(x, y + 9, "one", 9), pen.text(x + 5, y + 9, "two", 9))), "on each other"),
    ],
)
def test_the_walk_finds_text_over_an_edge_and_on_other_text(block: Block, told: str) -> None:
    (fault,) = faults_of(placed_on(written(block)))
    assert fault.startswith("page 1: ") and told in fault
    assert faults_of(placed_on(written(*text_lines("plain words", 400)))) == []


def test_the_walk_finds_a_heading_by_itself_at_the_end_of_a_page() -> None:
    room = PageSize.A4.room
    high = section("By itself").height
    alone = replace(section("By itself"), with_next=False)
    pages = placed_on(written(space(room - high), alone, *text_lines("its text", 400)))
    assert faults_of(pages) == ["page 1: ends with the heading 'By itself'"]
    kept = placed_on(written(space(room - high), section("By itself"), *text_lines("its text", 400)))
    assert faults_of(kept) == []


def test_a_box_instead_of_a_sign_is_found() -> None:
    assert shows_boxes(written(*text_lines("\U0001f9ff", 400))) and not shows_boxes(written(*text_lines("Straße", 400)))


def test_the_pen_tells_what_it_cut_and_what_it_broke_and_nothing_else() -> None:
    column = TableColumn("head", 1)
    with spoilt_lines() as spoilt:
        written(*pairs((("label", "a value of many words " * 9),), 2), *table([column], [["Kreislauf" * 3]], 60.0))
        written(*text_lines("Kreislauf", 400), *text_lines("many words that stand on two lines", 90))
    cut, broken = spoilt
    assert cut.startswith("a value") and cut.endswith("…")
    assert len(broken) > 9 and ("Kreislauf" * 3).startswith(broken)
    written(*pairs((("label", "a value of many words " * 9),), 2))
    assert len(spoilt) == 2, "it listens no longer"


def test_a_column_takes_what_others_do_not_need_before_what_they_would_miss() -> None:
    assert fair_rooms([50, 50, 100], [60, 20, 20], [60, 50, 90]) == pytest.approx([60, 50, 90])
    assert fair_rooms([50, 50], [70, 20], [90, 50]) == pytest.approx([70, 30])
    assert fair_rooms([30, 70], [30, 30], [60, 60]) == pytest.approx([40, 60])
    assert sum(fair_rooms([50, 50], [80, 80], [90, 90])) == pytest.approx(100)


def test_lines_come_closer_only_where_that_saves_a_page() -> None:
    line = text_lines("a line", 400)[0]
    fits = int(PageSize.A4.room / line.height)
    assert [len(page) for page in in_few_pages([line] * (fits + 2), PageSize.A4.room)] == [fits + 2]
    far = in_few_pages([line] * (fits * 3 // 2), PageSize.A4.room)
    assert len(far) == 2 and far[0][0].height == line.height
    picture = Block(PageSize.A4.room / 2 + 10, lambda _pen, _x, _y, _wide: None)
    assert [page[0].height for page in in_few_pages([picture, picture], PageSize.A4.room)] == [picture.height] * 2
