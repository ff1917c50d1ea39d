"""Forms to fill in by hand: one page, in the order of the bench and of the entry grid."""

import json

import pytest

from fleetbench.calc.hires.log import LINES, columns_of, field_name
from fleetbench.calc.tickets.service_plan import PlanTask
from fleetbench.calc.tickets.steps import PlanStep
from fleetbench.calc.turn_rounds.card import FLOOD_ONLY, WORDS, Step
from fleetbench.paper.core.document import PageSize
from fleetbench.paper.core.marks import sheet_texts
from fleetbench.paper.turn_rounds.pages import write_daily_log, write_service_card, write_turn_round_card
from fleetbench.workshop.hires.pages import form_fields
from fleetbench.workshop.tickets.service_plan import PlanLine
from tests.paper import sample_pages
from tests.paper.pdf_reader import made, texts
from tests.paper.structure import read

NO_FLOOD = [step for step in Step if step not in FLOOD_ONLY and step is not Step.SERVICE]
WRITERS = [write_daily_log, write_turn_round_card]


@pytest.mark.parametrize("size", list(PageSize))
@pytest.mark.parametrize("write", WRITERS)
@pytest.mark.parametrize("facts", [sample_pages.form, sample_pages.blank_form])
def test_a_form_is_one_page_with_cautions_and_record_number(write: object, facts: object, size: PageSize) -> None:
    pages = texts(made(write, facts(), size=size))
    assert len(pages) == 1 and "page 1 of 1" in pages[0] and f"record {facts().record}" in pages[0]
    assert all(caution in pages[0] for caution in sheet_texts().cautions)


def test_the_log_has_a_numbered_line_a_dive_and_the_columns_that_are_typed() -> None:
    """The same columns in the same order on paper, on the screen and in the form: `columns_of`."""
    form = sample_pages.form()
    heard = read(made(write_daily_log, form)).heard()
    titles = [each.title for each in columns_of(form.cells, form.handsets)]
    printed = [text for kind, text in heard if kind == "TH"]
    assert [text for text in printed if text in titles] == titles[: titles.index("handset 1 cell 1 air mV")]
    assert [text for text in printed if text.isdigit()] == [str(number) for number in range(1, LINES + 1)]
    assert printed.count("air mV") == printed.count("oxygen mV") == LINES
    assert [text for text in printed if text.startswith(("handset", "cell"))] == [
        "handset 1", "handset 2", *("cell 1", "cell 2", "cell 3") * 2,
    ]  # fmt: skip


def test_the_form_to_fill_in_has_a_field_a_cell_and_says_whose_it_is_and_claims_no_archive() -> None:
    """Its fields are set in a face that every reader has and no file holds, which ISO 19005-2, 6.2.11.4 forbids."""
    form = sample_pages.form()
    pdf = made(write_daily_log, form, fields=True)
    fields = form_fields("log.pdf", pdf)
    columns = columns_of(form.cells, form.handsets)
    cells = {field_name(line, place) for line in range(1, LINES + 1) for place in range(len(columns))}
    assert fields.keys() == cells | {"log of", "columns"} and fields["log of"] == "H-26-031 KB-07"
    assert json.loads(fields["columns"]) == [each.title for each in columns]
    found = read(pdf)
    assert all("6.2.11.4" in fault or "claims" in fault for fault in found.faults)


def test_a_blank_form_has_room_for_the_unit_and_no_code_of_nothing() -> None:
    text = texts(made(write_turn_round_card, sample_pages.blank_form()))[0]
    assert "unit ____" in text and "booking ____" in text


def test_the_card_follows_the_bench_order() -> None:
    text = " ".join(texts(made(write_turn_round_card, sample_pages.form()))[0].split())
    places = [text.index(f"{number} {WORDS[step]}") for number, step in enumerate(NO_FLOOD, start=1)]
    assert places == sorted(places) and len(places) == 16
    assert "never in the bath" in text
    assert set(sheet_texts().turn_round) == {*NO_FLOOD, Step.SERVICE}, "each step has what is noted beside it"


@pytest.mark.parametrize("cells, handsets", [(0, 1), (3, 0)])
def test_a_log_of_no_cell_or_no_handset_is_refused(cells: int, handsets: int) -> None:
    form = sample_pages.form(cells=("cell",) * cells, handsets=("handset",) * handsets)
    with pytest.raises(ValueError, match="the log holds none"):
        made(write_daily_log, form)


def test_a_further_page_of_the_log_refers_to_the_dives_and_asks_for_none_of_them_again() -> None:
    first, second = texts(made(write_daily_log, sample_pages.form(cells=tuple(f"cell {n}" for n in range(1, 7)))))
    assert "fill number" in first and "on page 1" not in first
    assert "fill number" not in second and all(f"line {n} on page 1" in second for n in range(1, LINES + 1))


@pytest.mark.parametrize("cells, handsets, pages", [(6, 1, 2), (3, 4, 2), (7, 5, 4)])
def test_more_cells_and_handsets_than_a_page_holds_go_on_the_next_ones(cells: int, handsets: int, pages: int) -> None:
    names = [f"cell {n}" for n in range(1, cells + 1)], [f"handset {n}" for n in range(1, handsets + 1)]
    form = sample_pages.form(cells=tuple(names[0]), handsets=tuple(names[1]))
    listed = texts(made(write_daily_log, form))
    assert [f"page {n} of {pages}" in text for n, text in enumerate(listed, 1)] == [True] * pages
    assert all(any(name in text for text in listed) for name in (*names[0], *names[1]))
    assert all(text.count("air mV") == text.count("oxygen mV") == LINES for text in listed)


@pytest.mark.parametrize("write", WRITERS)
def test_the_same_form_gives_the_same_bytes(write: object) -> None:
    assert made(write, sample_pages.form()) == made(write, sample_pages.form())


@pytest.mark.parametrize("size", list(PageSize))
def test_the_service_card_holds_every_task_and_step_in_order_with_room_for_its_record(size: PageSize) -> None:
    by = "invented manual"
    steps = (
        PlanStep(kind="figure", text="Flow read", source=by, what="flow", unit="L/min", low=0.7, high=0.9, before=True),
        PlanStep(kind="torque", text="Screws tightened", source=by, amount=1.2, tolerance=0.1),
        PlanStep(kind="seal", text="Seal of the head", source=by, what="head, both grooves " * 6, size="58 x 2"),
        PlanStep(kind="lubricant", text="Seals greased", source=by, what="Oxygen grease", oxygen=True),
        PlanStep(kind="second person", text="Head closed", source=by),
    )
    task = PlanTask("Yearly service", "months", 12.0, by, second_person=True)
    plan = [
        PlanLine(1, task, 90.0, ("injector flow",), ("1 injector",), steps),
        PlanLine(2, PlanTask("Hoses looked at", "dives", 50.0, by), None, (), (), ()),
    ]
    text = " ".join("\n".join(texts(made(write_service_card, plan, sample_pages.form(), size=size))).split())
    wanted = (
        "1 Yearly service", "90 min", "tests: injector flow", "1.1 Flow read", "0.7 to 0.9 L/min", "before, L/min",
        "after, L/min", "1.2 Screws tightened: torque 1.2 ± 0.1 N·m", "set, N·m", "1.3 Seal of the head",
        "inspected or replaced", "1.4 Seals greased", "lot", "1.5 Head closed", "signature", "second person",
        "2 Hoses looked at", "every 50 dives",
    )  # fmt: skip
    assert [words for words in wanted if words not in text] == []
    assert [text.index(each.text) for each in steps] == sorted(text.index(each.text) for each in steps)
    empty = texts(made(write_service_card, [], sample_pages.form(), size=size))[0]
    assert "No service plan is on record" in empty and "maker's manual" in empty
