"""Every page can be listened to and archived: its structure walked by another library (ISO 14289-1, ISO 19005-2)."""

import io
import struct
from collections.abc import Callable
from dataclasses import replace

import pikepdf
import pytest
from PIL import ImageCms

from fleetbench.paper.core.document import Heading, PageSize
from fleetbench.paper.core.flow import text_lines, write_flow
from fleetbench.paper.core.tags import colour_profile
from fleetbench.paper.due.page import write_due_list
from fleetbench.paper.hires.pages import handover_batch, write_handover
from fleetbench.paper.tickets.ticket import write_ticket
from tests.paper import golden, sample_pages
from tests.paper.pdf_reader import made
from tests.paper.structure import read


@pytest.mark.parametrize("kept", golden.KEPT, ids=[each.name for each in golden.KEPT])
def test_every_page_is_tagged_titled_and_fit_for_an_archive(kept: golden.Golden) -> None:
    assert read(kept.pdf()).faults == []


def test_the_renters_page_is_heard_from_its_title_to_the_signatures() -> None:
    heard = read(made(write_handover, sample_pages.handover())).heard()
    assert heard[0] == ("H1", "Hand-over sheet")
    assert [text for kind, text in heard if kind in ("H1", "H2")][:6] == [
        "Hand-over sheet",
        "What you take",
        "Your agreed limits",
        "Before each dive",
        "In the water, at any fault or doubt",
        "Known faults and remarks",
    ]
    assert ("Figure", "QR code: KB-07") in heard
    place = heard.index(("TH", "Ring at any fault or doubt"))
    assert heard[place + 1] == ("TD", sample_pages.LETTERHEAD.telephone)
    (drawn,) = [text for kind, text in heard if kind == "Figure" and text.startswith("Schematic")]
    stations = replace(sample_pages.schematic(), beside=()).stations()
    assert all(f"{each.slot}: {each.shown}" in drawn for each in stations)


def test_a_page_in_another_language_says_which_and_its_record_is_said_to_be_english() -> None:
    """ISO 14289-1, 7.2: every change of the natural language is told."""
    found = read(made(write_handover, sample_pages.handover(language="de")))
    front, back = found.root.kids
    assert (found.faults, front.language, back.language) == ([], "de", "en")
    lists = {each.language for each in front.downwards() if each.kind == "L"}
    assert lists == {"de", "en"}, "what the record says of faults is English within the German page"


def test_sheets_printed_as_one_file_are_each_heard_whole() -> None:
    sheets = [sample_pages.handover(), sample_pages.handover(tag="KB-08", language="fr")]
    stream = io.BytesIO()
    handover_batch(sheets, stream)
    found = read(stream.getvalue())
    assert found.faults == []
    assert [part.language for part in found.root.kids] == ["en", "en", "fr", "en"]


def test_a_table_over_many_pages_is_one_table_and_its_heading_is_heard_once() -> None:
    """ISO 14289-1, 7.1 and 7.8: what is repeated at the head and foot of pages is no content."""
    found = read(made(write_due_list, sample_pages.due(60)))
    heard = found.heard()
    sections = [text for kind, text in heard if kind == "H2"]
    assert len(found.root.kids) > 2 and found.faults == []
    assert heard.count(("TH", "last valid day")) == len(sections) - 1  # the list to fetch has no such column
    assert sum(kind == "H1" for kind, _ in heard) == 1
    assert sum("safe to dive" in text for _, text in heard) == 1


def test_a_photograph_is_told_by_its_caption() -> None:
    heard = read(made(write_ticket, sample_pages.ticket(), **sample_pages.TICKET_WITH)).heard()
    for each in sample_pages.PHOTOGRAPHS:
        assert ("Figure", f"Photograph: {each.caption or 'no caption'}") in heard


@pytest.mark.parametrize("title", ["<Sheet> & \x0b\ud800 \u200f", "Übergabe ⟨1⟩ 漢字", "a" * 400])
def test_any_title_is_one_that_the_metadata_can_hold(title: str) -> None:
    heading = Heading(sample_pages.LETTERHEAD, title, "R-1")
    stream = io.BytesIO()
    write_flow(text_lines("Nothing.", 400), heading, stream, PageSize.A4)
    assert read(stream.getvalue()).faults == []


def test_the_profile_of_the_colours_is_srgb() -> None:
    """IEC 61966-2-1 by LittleCMS, an outside library: the same tables, and grey stays grey through both profiles."""
    ours, theirs = colour_profile(), ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    assert ours[36:] == theirs[36:] and struct.unpack(">I", ours[:4])[0] == len(ours)
    assert ours[8] == 4, "version 4 is ISO 15076-1"


def _without(key: str) -> Callable[[pikepdf.Pdf], None]:
    def spoil(document: pikepdf.Pdf) -> None:
        del document.Root[key]

    return spoil


def _no_words_for_figures(document: pikepdf.Pdf) -> None:
    for each in document.objects:
        if isinstance(each, pikepdf.Dictionary) and each.get("/S") == "/Figure":
            each["/Alt"] = " "


def _no_scope(document: pikepdf.Pdf) -> None:
    for each in document.objects:
        if isinstance(each, pikepdf.Dictionary) and each.get("/S") == "/TH":
            del each["/A"]


def _unmarked_line(document: pikepdf.Pdf) -> None:
    page = document.pages[0]
    page.contents_add(pikepdf.Stream(document, b"0 0 m 9 9 l S"))


def _skipped_level(document: pikepdf.Pdf) -> None:
    for each in document.objects:
        if isinstance(each, pikepdf.Dictionary) and each.get("/S") == "/H2":
            each["/S"] = pikepdf.Name("/H4")


@pytest.mark.parametrize(
    "spoil, clause",
    [
        (_without("/Lang"), "14289-1, 7.2"),
        (_without("/MarkInfo"), "14289-1, 7.1"),
        (_without("/ViewerPreferences"), "14289-1, 7.1"),
        (_without("/OutputIntents"), "19005-2, 6.2.3"),
        (_without("/StructTreeRoot"), "14289-1, 7.1"),
        (_no_words_for_figures, "14289-1, 7.3"),
        (_no_scope, "14289-1, 7.5"),
        (_unmarked_line, "14289-1, 7.1"),
        (_skipped_level, "14289-1, 7.4.2"),
    ],
)
def test_the_walk_finds_what_was_spoiled(spoil: Callable[[pikepdf.Pdf], None], clause: str) -> None:
    stream = io.BytesIO()
    with pikepdf.open(io.BytesIO(made(write_ticket, sample_pages.ticket()))) as document:
        spoil(document)
        document.save(stream)
    assert any(clause in fault for fault in read(stream.getvalue()).faults)
