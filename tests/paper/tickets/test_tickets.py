"""The service ticket on paper: what was found, measured, changed, and who signed."""

from dataclasses import replace

from fleetbench.paper.tickets.ticket import test_seen as seen
from fleetbench.paper.tickets.ticket import write_ticket
from fleetbench.workshop.cells.outlook import ReaderShown
from tests.paper import sample_pages
from tests.paper.pdf_reader import made, texts


def text_of(**changes: object) -> str:
    return " ".join(texts(made(write_ticket, sample_pages.ticket(**changes))))


def test_findings_readings_parts_time_and_signature_are_on_the_ticket() -> None:
    text = text_of()
    for fact in (
        "Service ticket KB-2026-0042",
        "U2207-0071",
        "Cell 2 stops at 44.1 mV on both handsets",
        "95 min",
        "OC-24-0298",
        "L-2404",
        "OC-25-0412",
        "L-2510",
        "88.7 ± 1.2 %",
        "reject",
        "held, watched 5 min",
        "9.4 bar",
        "180 bar",
        "gauge G-3",
        "signed 2026-05-06 17:05",
        "Łucja Żuraw",
        "Αθηνά Νικολάου",
        "journal entry 4170 3b07d1e6aa51c9f2",
    ):
        assert fact in text


def test_readings_stand_by_handset_with_their_unit() -> None:
    text = text_of()
    assert text.count("handset 1") == text.count("handset 2") >= 2
    assert "cell 2 OC-24-0298 10.4 mV 44.1 mV 10.4 mV 44.0 mV 88.7 ± 1.2 % 1.01 bar reject" in text


def test_a_handset_that_does_not_read_a_cell_is_neither_missing_nor_nought() -> None:
    read = (ReaderShown("handset 2", 2, 0.21, 1.0, in_bar=True),)
    other = sample_pages.outcome("cell 2", "OC-2")
    cells = (sample_pages.outcome("cell 1", "OC-1", shown=read), other)
    assert "OC-1 not read not read 0.21 bar 1.00 bar" in text_of(calibrations=cells)


def test_a_missing_reading_and_a_missing_uncertainty_say_so() -> None:
    room = replace(sample_pages.ROOM, humidity_percent=None)
    read = (ReaderShown("handset 1", 1, None, 49.8),)
    cell = sample_pages.outcome("cell 1", "OC-1", expanded_u=None, shown=read, conditions=room)
    text = text_of(calibrations=(cell,))
    assert "OC-1 not recorded 49.8 mV" in text
    assert "100.3 %, U not recorded" in text and "humidity not recorded" in text


def test_a_tag_of_any_length_stands_whole_at_the_head() -> None:
    tag = "KELP-BANK-OUTER-PIER-UNIT-0007"
    assert tag in " ".join(texts(made(write_ticket, sample_pages.ticket_of(unit=tag))))


def test_no_state_and_no_name_on_the_drawing_is_cut() -> None:
    drawn = sample_pages.schematic()
    long = replace(drawn.loop[4], slot="carbon dioxide sensor", state="out, use not known")
    drawn = replace(drawn, loop=(*drawn.loop, long, drawn.loop[2]))
    text = " ".join(texts(made(write_ticket, sample_pages.ticket(), schematic=drawn)))
    assert "carbon dioxide sensor out, use not known" in " ".join(text.split()) and "…" not in text


def test_a_put_off_task_shows_its_reason_and_how_often() -> None:
    assert "3 put off (2 times): no paint in stock until June" in text_of()


def test_an_unsigned_ticket_says_so_in_large() -> None:
    text = text_of(row=sample_pages.ticket_of(signed_at=None).row)
    assert "NOT SIGNED: work is not finished, and the unit stays on hold." in text
    assert "Signed: a change" not in text


def test_a_ticket_that_holds_nothing_names_each_thing_that_is_missing() -> None:
    text = " ".join(texts(made(write_ticket, sample_pages.ticket_empty())))
    for words in (
        "No finding was recorded",
        "No calibration was taken",
        "No bench test",
        "No part was removed",
        "No task",
    ):
        assert words in text
    assert "unit serial not recorded" in text


def test_a_bench_test_is_told_by_what_was_seen() -> None:
    def told(**changes: object) -> str:
        return seen(sample_pages.bench_test("injector flow", **changes).record)

    assert told(held=True) == "held, watched not recorded"
    assert told(value=0.71, unit_of_value="L/min") == "0.71 L/min"
    assert told(value=0.71) == "0.71 (unit not recorded)"
    assert told(value=0.71, unit_of_value="L/min", expanded_u=0.02) == "0.71 ± 0.02 L/min"
    assert told(held=False, watched_minutes=2, value=3, unit_of_value="mbar") == "fell, watched 2 min, 3 mbar"
