"""Every page: it opens, holds its facts, counts its pages, carries its cautions, and prints the same bytes twice."""

import subprocess
import sys
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pypdfium2
import pytest

from fleetbench.paper.canisters.labels import write_fill_labels
from fleetbench.paper.core.document import PageSize
from fleetbench.paper.core.marks import qr_runs, sheet_texts
from fleetbench.paper.core.tags import LACKING
from fleetbench.paper.due.page import write_due_list
from fleetbench.paper.hires.pages import write_handover
from fleetbench.paper.tickets.ticket import write_ticket
from tests.paper import sample_pages
from tests.paper.pdf_reader import made, pictures, sizes, texts
from tests.paper.qr_reader import modules_of, read

SIZES = list(PageSize)
CASES = {
    "due list": (write_due_list, sample_pages.due),
    "long due list": (write_due_list, lambda: sample_pages.due(150)),
    "empty due list": (write_due_list, lambda: sample_pages.due(0, fetch=())),
    "hostile due list": (write_due_list, sample_pages.due_hostile),
    "ticket": (write_ticket, sample_pages.ticket),
    "empty ticket": (write_ticket, sample_pages.ticket_empty),
    "hostile ticket": (write_ticket, sample_pages.ticket_hostile),
    "hand-over": (write_handover, sample_pages.handover),
    "hand-over with long names": (write_handover, sample_pages.handover_long_names),
    "empty hand-over": (write_handover, sample_pages.handover_empty),
    "hostile hand-over": (write_handover, sample_pages.handover_hostile),
    "not for diving": (write_handover, lambda: sample_pages.handover(hand_over="not for diving")),
}
_SAME_BYTES = """
import hashlib, io
from fleetbench.paper.hires.pages import write_handover
from fleetbench.paper.tickets.ticket import write_ticket
from tests.paper import sample_pages
for write, facts in ((write_ticket, sample_pages.ticket_hostile()), (write_handover, sample_pages.handover())):
    out = io.BytesIO()
    write(facts, out, **({"head": sample_pages.LETTERHEAD} if write is write_ticket else {}))
    print(hashlib.sha256(out.getvalue()).hexdigest())
"""


@pytest.fixture(params=list(CASES))
def case(request: pytest.FixtureRequest) -> tuple:
    return CASES[request.param]


@pytest.mark.parametrize("size", SIZES)
def test_every_page_is_of_its_paper_counted_and_cautioned(case: tuple, size: PageSize) -> None:
    write, facts = case
    page = facts()
    pdf = made(write, page, size=size)
    pages = texts(pdf)
    assert sizes(pdf) == [pytest.approx(size.value, abs=0.01)] * len(pages)
    for number, text in enumerate(pages, start=1):
        assert f"page {number} of {len(pages)}" in text
        head = getattr(page, "letterhead", sample_pages.LETTERHEAD)
        assert head.centre[:40] in text
        assert f"printed {head.printed_at}" in text
        assert "safe to dive" in text and text.count("safe to dive") == 1
        above, check_list, never = sheet_texts().cautions
        assert above in text and never in text
        # the front of a hand-over sheet tells its check list line by line
        assert check_list in text or "Hand-over sheet" in text


def test_the_same_facts_give_the_same_bytes(case: tuple) -> None:
    write, facts = case
    assert made(write, facts()) == made(write, facts())


def test_another_process_with_another_hash_seed_gives_the_same_bytes() -> None:
    outputs = {
        subprocess.run(
            [sys.executable, "-c", _SAME_BYTES],
            env={"PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(outputs) == 1


def _sheet_of(tag: str) -> object:
    return sample_pages.handover(tag=tag)


def _ticket_of(tag: str) -> object:
    return sample_pages.ticket_of(unit=tag)


@pytest.mark.parametrize("tag", ["KB-07", "KELP-0007-LONG-TAG", "Ünit-Ж"])
@pytest.mark.parametrize("write, facts", [(write_handover, _sheet_of), (write_ticket, _ticket_of)])
def test_the_code_on_paper_reads_as_the_tag(write: object, facts: object, tag: str) -> None:
    scale, side, margin = 8, 45, 36
    picture = pictures(made(write, facts(tag)), scale)[0]
    right, top = picture.shape[1] - margin * scale, margin * scale
    code = picture[top : top + side * scale, right - side * scale : right]
    # A4 is no whole number of points wide, so the picture's edge may lie a pixel off the code's.
    first_dark = int((code < 128).any(axis=0).argmax())
    assert read(modules_of(code[:, first_dark:])) == tag


def test_the_reader_of_codes_finds_a_single_wrong_module() -> None:
    squares, runs = qr_runs("KB-07")
    modules = np.zeros((squares, squares), bool)
    for row, column, length in runs:
        modules[row, column : column + length] = True
    assert read(modules) == "KB-07"
    modules[15, 15] ^= True
    with pytest.raises(ValueError, match="error correction"):
        read(modules)


@pytest.mark.parametrize("text", ["", "x" * 201])
def test_a_code_of_nothing_or_of_too_much_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="code: "):
        qr_runs(text)


def test_a_name_with_lacking_glyphs_warns_on_its_page() -> None:
    warned = texts(made(write_handover, sample_pages.handover(diver="བསྟན་ Søren")))[0]
    assert sheet_texts().lacking_glyph in warned
    assert sheet_texts().lacking_glyph not in texts(made(write_handover, sample_pages.handover()))[0]


@pytest.mark.parametrize("name", ["བསྟན་ Søren", "ᠮᠣᠩᠭᠣᠯ", "ᏣᎳᎩ"])
def test_a_page_and_a_label_tell_what_they_cannot_print_before_they_are_printed(name: str) -> None:
    """Scripts that no face has; the file tells its lines, and every way to the printer asks for them."""
    for pdf in (
        made(write_handover, sample_pages.handover(diver=name)),
        made(write_fill_labels, [sample_pages.fill_label(diver=name)]),
    ):
        told = keywords(pdf)
        assert told.startswith(LACKING) and "□" in told
    assert "Søren" in keywords(made(write_handover, sample_pages.handover(diver="བསྟན་ Søren")))
    for whole in ("Søren Østergård", "Nguyễn Thị Ánh", "Αθηνά", "Łucja", "علي", "漢字", "สมชาย", "გიორგი", "अनिल"):
        assert keywords(made(write_handover, sample_pages.handover(diver=whole))) == ""


def keywords(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    try:
        return str(document.get_metadata_value("Keywords"))
    finally:
        document.close()


def test_user_text_is_printed_as_it_is_typed_and_never_as_markup() -> None:
    page = sample_pages.ticket_of(reason="<b>loud</b> & </para> <img src='file:///etc/hostname'/> {0} %s")
    text = texts(made(write_ticket, page))[0]
    assert "<b>loud</b> & </para> <img src='file:///etc/hostname'/> {0} %s" in text


def test_a_note_of_two_hundred_lines_flows_over_pages_whole() -> None:
    text = " ".join(texts(made(write_ticket, sample_pages.ticket_hostile())))
    for number in (1, 57, 200):
        assert text.count(f"line {number} of the note:") == 2
    assert text.count("x") >= 5000


def test_nothing_is_written_beyond_the_paper() -> None:
    for write, facts in CASES.values():
        for picture in pictures(made(write, facts()), 0.5)[:2]:
            border = picture.copy()
            border[12:-12, 14:-14] = 255
            assert border.min() > 250


def test_nothing_left_of_a_write_that_failed(tmp_path: Path) -> None:
    target = tmp_path / "due.pdf"
    target.write_bytes(b"%PDF before")
    with pytest.raises(ValueError, match="grouped_by"):
        write_due_list(sample_pages.due(), target, head=sample_pages.LETTERHEAD, grouped_by="colour")
    assert target.read_bytes() == b"%PDF before"
    assert [path.name for path in tmp_path.iterdir()] == ["due.pdf"]
    write_due_list(sample_pages.due(), target, head=sample_pages.LETTERHEAD)
    assert target.read_bytes().startswith(b"%PDF-1")
    assert target.stat().st_mode & 0o077 == 0


def test_a_page_tells_when_it_was_made_and_names_no_typeface_that_it_does_not_hold() -> None:
    """Dates: ISO 32000-1, 7.9.4. Every typeface of a page is embedded, so that it reads the same anywhere."""
    at = datetime(2026, 5, 7, 8, 40, 5, tzinfo=ZoneInfo("Europe/Berlin"))
    for write, rows in (
        (write_handover, sample_pages.handover(letterhead=replace(sample_pages.LETTERHEAD, at=at))),
        (write_due_list, sample_pages.due()),
    ):
        head = {"head": replace(sample_pages.LETTERHEAD, at=at)} if write is write_due_list else {}
        pdf = made(write, rows, **head)
        document = pypdfium2.PdfDocument(pdf)
        told = document.get_metadata_dict()
        document.close()
        assert told["CreationDate"] == told["ModDate"] == "D:20260507084005+02'00'"
        assert b"Helvetica" not in pdf and pdf.count(b"/Subtype /TrueType") == pdf.count(b"/FontFile2 ") > 0
        assert told["Title"] and told["Author"] == sample_pages.LETTERHEAD.centre
