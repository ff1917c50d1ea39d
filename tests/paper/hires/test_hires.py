"""The hand-over sheet: front and back, every fact on them, nothing cut, and no type smaller than is promised."""

import gc
import io
import tracemalloc
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetbench.calc.core.languages import LANGUAGES, language
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.readiness.judge import Check, Moment
from fleetbench.paper.core.document import PageSize
from fleetbench.paper.core.marks import surface_warning, whole_metres
from fleetbench.paper.core.pen import REGULAR, width, wrapped
from fleetbench.paper.hires.front import Front
from fleetbench.paper.hires.handover_sheet import HandoverSheet
from fleetbench.paper.hires.pages import HandoverCancelledError, handover_batch, write_handover
from tests.paper import sample_pages
from tests.paper.pdf_reader import made, pictures, sizes_of_words, texts, written_on


def text_of(**changes: object) -> str:
    """Front and back of an ordinary sheet."""
    front, back = texts(made(write_handover, sample_pages.handover(**changes)))
    return f"{front} {back}"


def test_every_fact_of_an_ordinary_hire_is_on_the_page() -> None:
    text = text_of(back_by="17:00", emergency_telephone="112")
    for fact in (
        "Søren Østergård",
        "8 May 2026 to 12 May 2026",
        "Bring it back by 12 May 2026 (2026-05-12) at 17:00",
        "Emergency number 112",
        "assembled",
        "KB-07",
        "U2207-0071",
        "HD-1187",
        "HS-4471, firmware 5.2.1",
        "low 0.70 bar, high 1.20 bar",
        "cell 1 OC-25-0411 2026-10-11 10.4 mV 49.8 mV",
        "100.3 ± 1.2 %",
        "1.01 bar",
        "2026-05-06 16:20, Łucja Żuraw",
        "fill 1733",
        "2026-05-07 08:10",
        "2026-05-08 08:10",
        "CY-0301",
        "196 bar",
        "O2 99.4 %",
        "He 45.0 %",
        "Bailout CY-0441: must not be breathed at the surface.",
        "bail out to open circuit first, and end the dive",
        "the centre has seen no proof",
        "hydrostatic 2023-06-01",
        "visual 2026-02-01",
        "2027-01-31",
        "to 30 m: gas density 5.2 g/L",
        "30 m, set by gas density (5.2 g/L); by oxygen at 1.2 bar 45 m",
        "not breathable at the surface",
        "3.61 V",
        "one-way valve, inhale",
        "disinfected 2026-05-05 18:00, dry 2026-05-06",
        "2× spare mouthpiece",
        "Addition valve sticks",
        "Before each dive",
        "+00 555 0134",
        "your O2 %",
        "Signature",
        "record HIR-00217",
    ):
        assert fact in text


def test_a_gas_that_was_doubted_and_kept_says_so_beside_its_figures() -> None:
    mine = sample_pages.cylinder("diluent", "C1", 34.0, 0.0)
    kept = replace(mine, filled=replace(mine.filled, analysis_note="oxygen typed twice: 34 %",
                                        fill_note="kept although over the working pressure"))  # fmt: skip
    text = text_of(cylinders=(kept,))
    assert "analysis: oxygen typed twice: 34 %; fill: kept although over the working pressure" in text


SHEETS = (
    sample_pages.handover, sample_pages.handover_long_names, sample_pages.handover_empty,
    sample_pages.handover_hostile, sample_pages.handover_on_hold,
    lambda: sample_pages.handover_hostile(hand_over="not for diving"),
)  # fmt: skip


@pytest.mark.parametrize("size", list(PageSize))
@pytest.mark.parametrize("facts", SHEETS)
def test_no_type_on_the_front_is_under_ten_points_and_none_on_the_back_under_seven(
    facts: Callable[[], HandoverSheet], size: PageSize
) -> None:
    """10 and 7 points: common practice, no published source."""
    pdf = made(write_handover, facts(), size=size)
    for text, written in zip(texts(pdf), written_on(pdf), strict=True):
        least = 6.99 if "Technical record" in text else 9.99
        assert min(each.size for each in written) >= least
        assert min(each.left for each in written) >= 35 and max(each.right for each in written) <= size.wide - 35


@pytest.mark.parametrize("size", list(PageSize))
@pytest.mark.parametrize("code", list(LANGUAGES))
def test_an_ordinary_hire_is_one_sheet_of_paper_in_every_language(code: str, size: PageSize) -> None:
    pdf = made(write_handover, sample_pages.handover(language=code, back_by="17:00"), size=size)
    front, back = written_on(pdf)
    assert min(each.size for each in front) >= 9.99 and min(each.size for each in back) >= 6.99
    assert max(each.right for each in (*front, *back)) <= size.wide - 35
    text, spoken = texts(pdf)[0], language(code)
    assert "…" not in text and "None" not in text and "{" not in text
    assert spoken.say("What you state by signing") in text
    assert spoken.say("As you were trained: bail out to open circuit first, and end the dive.") in text
    unsure = spoken.say("No native speaker of the trade has confirmed this text: ask for the page in English.")
    assert (unsure in text) == (code != "en")
    drawn = Front(sample_pages.handover(language=code, back_by="17:00"), size)
    free = drawn.room - sum(block.height for block in (*drawn.blocks(), drawn.signatures()))
    assert free >= 6, (
        "a gap that is seen between what is stated and the signatures; common practice, no published source"
    )


def test_how_many_of_a_thing_stays_on_the_line_of_its_name() -> None:
    """A no-break space ties two words (UAX #14, class GL), where a plain one lets a line end between them."""
    room = width("strap, 1×", REGULAR, 10.0) + 1.0
    assert wrapped("strap, 1×\u00a0key", REGULAR, 10.0, room) == ("strap,", "1×\u00a0key")
    assert wrapped("strap, 1× key", REGULAR, 10.0, room) == ("strap, 1×", "key")


@settings(max_examples=12, deadline=None)
@given(
    cells=st.integers(0, 6), cylinders=st.integers(0, 9), tests=st.integers(0, 30), accessories=st.integers(0, 60),
    remarks=st.integers(0, 15), length=st.integers(1, 200),
    kind=st.sampled_from(["assembled", "kit", "not for diving"]),
    size=st.sampled_from(list(PageSize)),
)  # fmt: skip
def test_any_mixture_of_lists_is_printed_whole(
    cells: int, cylinders: int, tests: int, accessories: int, remarks: int, length: int, kind: str, size: PageSize
) -> None:
    sheet = sample_pages.handover(
        hand_over=kind,
        cells=tuple(sample_pages.cell(f"cell {n}", f"S{n}") for n in range(cells)),
        cylinders=tuple(sample_pages.cylinder("oxygen", f"C{n}", 99.0, 0.0) for n in range(cylinders)),
        tests=(sample_pages.bench_tests() * 4)[:tests],
        accessories=tuple(sample_pages.accessory(f"thing{n};", n) for n in range(accessories)),
        known_faults=("faulty " * length,) * remarks,
    )
    pages = texts(made(write_handover, sheet, size=size))
    fronts = [text for text in pages if "Technical record" not in text]
    front, back = " ".join(fronts), " ".join(pages[len(fronts) :])
    assert front.count("faulty") == length * remarks
    assert [text.count("Day and hour") for text in fronts] == [0] * (len(fronts) - 1) + [2], "signed at its end"
    assert all(f"{n}× thing{n};" in front and f"{n} × thing{n};" in back for n in range(accessories))
    assert all(f"S{n} " in back for n in range(cells)) and all(f" C{n} " in back for n in range(cylinders))
    assert "more: see" not in front + back and "see record" not in front + back


def test_not_for_diving_is_in_large_white_on_black() -> None:
    sheet = sample_pages.handover(hand_over="not for diving")
    pdf = made(write_handover, sheet)
    text = texts(pdf)[0]
    assert "NOT FOR DIVING" in text and "No check of fitness was made" in text
    assert "Before each dive" not in text and "I do not dive this unit" in text
    dark_rows = (pictures(pdf, 1.0)[0] < 60).mean(axis=1) > 0.6
    assert dark_rows.sum() >= 12


@pytest.mark.parametrize("tests", range(4, 30))
def test_accessories_stand_together_under_their_heading(tests: int) -> None:
    many = (sample_pages.bench_tests() * 4)[:tests]
    pages = texts(made(write_handover, sample_pages.handover(tests=many)))[1:]
    listed = [page for page in pages if "drysuit hose" in page or "battery key" in page]
    assert len(listed) == 1 and "tick out, then back" in listed[0]


def test_the_schematic_names_each_slot_with_its_state() -> None:
    text = text_of()
    for words in (
        "exhale one-way valve good",
        "inhale counterlung due soon",
        "solenoid unknown",
        "failed",
        "cell 2: watch",
    ):
        assert words in text
    assert "back to the mouthpiece" in text
    assert "Breathing loop" not in text_of(schematic=None)


def test_a_routine_opening_adds_a_line_to_what_the_diver_still_does() -> None:
    line = "canister out on 2026-05-07: test the one-way valves and the loop again before the dive"
    assert line in text_of(also_do=(line,))
    assert line not in text_of(hand_over="not for diving", also_do=(line,))


def test_a_sheet_for_a_dive_does_not_say_not_for_diving() -> None:
    assert "NOT FOR DIVING" not in text_of()


@pytest.mark.parametrize("oxygen, warned", [(15.96, True), (16.0, False), (100.4, False), (0.0, True)])
def test_under_sixteen_percent_is_not_breathable_at_the_surface(oxygen: float, warned: bool) -> None:
    """16 %: common practice, no published source. A figure that rounds to 16.0 still warns."""
    assert surface_warning(oxygen) == ("not breathable at the surface" if warned else None)


@pytest.mark.parametrize("oxygen", [None, float("nan"), -1.0])
def test_a_gas_that_nobody_analysed_must_not_be_breathed(oxygen: float | None) -> None:
    assert surface_warning(oxygen) == "oxygen not recorded: do not breathe it"


def test_an_analysis_older_than_the_fill_shows_no_figures() -> None:
    fresh = sample_pages.cylinder("oxygen", "CY-1", 99.4, 0.0)
    stale = replace(fresh, filled=replace(fresh.filled, analysed_at=fresh.filled.filled_at))
    text = text_of(cylinders=(stale,))
    assert "filled after its last analysis: analyse it" in text and "99.4" not in text.split("Cylinders")[1]
    assert "CY-1: filled after its last analysis. Do not breathe it" in text and "O2 99.4" not in text


def test_a_greatest_depth_is_rounded_down() -> None:
    assert whole_metres(39.99) == "39 m" and whole_metres(40.0) == "40 m"


def test_an_empty_sheet_says_not_recorded_for_each_thing() -> None:
    text = " ".join(texts(made(write_handover, sample_pages.handover_empty())))
    for words in (
        "Diver not recorded", "Bring it back by not recorded", "Calibration not recorded", "Tests not recorded",
        "Emergency number not recorded: ask for it", "Depth: not recorded.", "No cylinder is recorded",
        "batteries not recorded", "Accessories not recorded", "handsets not recorded", "not marked dry",
    ):  # fmt: skip
        assert words in text


def test_a_batch_in_one_pdf_has_a_page_a_sheet_and_reports_progress() -> None:
    told: list[tuple[int, int]] = []
    sheets = [sample_pages.handover(tag=f"KB-{n:02d}", record=f"HIR-{n}") for n in range(1, 5)]
    out = io.BytesIO()
    assert handover_batch(sheets, out, lambda done, of: told.append((done, of))) == 4
    pages = texts(out.getvalue())
    assert [f"KB-{n // 2 + 1:02d}" in text for n, text in enumerate(pages)] == [True] * 8
    assert [f"page {n % 2 + 1} of 2" in text for n, text in enumerate(pages)] == [True] * 8
    assert told == [(1, 4), (2, 4), (3, 4), (4, 4)]


def test_a_batch_into_a_folder_makes_a_file_a_sheet_with_plain_names(tmp_path: Path) -> None:
    sheets = [sample_pages.handover(tag="KB/../07"), sample_pages.handover(tag="KB-08", record="Ж")]
    assert handover_batch(sheets, tmp_path) == 2
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "handover-KB----07-HIR-00217.pdf", "handover-KB-08-Ж.pdf",
    ]  # fmt: skip


def test_a_batch_of_two_sheets_of_one_name_is_refused_before_it_writes(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="same unit and record number"):
        handover_batch([sample_pages.handover()] * 2, tmp_path)
    assert not list(tmp_path.iterdir())


def test_a_stopped_batch_leaves_no_half_pdf(tmp_path: Path) -> None:
    sheets = [sample_pages.handover(record=f"HIR-{n}") for n in range(5)]
    with pytest.raises(HandoverCancelledError, match="after 2 of 5"):
        handover_batch(sheets, tmp_path / "all.pdf", lambda done, of: done < 2)
    assert not list(tmp_path.iterdir())


def test_a_batch_holds_less_than_it_writes() -> None:
    """What is held grows with the pages, each packed, and not with the marks on them or with the file."""

    class Counted(io.RawIOBase):
        size = 0

        def write(self, words) -> int:
            self.size += len(words)
            return len(words)

    def held_and_written(count: int) -> tuple[int, int]:
        file = Counted()
        tracemalloc.start()
        try:
            handover_batch([sheet] * count, file, lambda *_: gc.collect() >= 0)
            return tracemalloc.get_traced_memory()[1], file.size
        finally:
            tracemalloc.stop()

    sheet = sample_pages.handover()
    held_and_written(1)  # whatever is known of its words from now on
    (few_held, few_written), (many_held, many_written) = held_and_written(4), held_and_written(12)
    assert many_held - few_held < many_written - few_written


def test_no_sheet_at_all_is_refused() -> None:
    with pytest.raises(ValueError, match="choose at least one hire"):
        handover_batch([], io.BytesIO())


THICK = sample_pages.cylinder("diluent", "CY-0302", 20.9, 0.0, maximum_depth_m=45.4, dense_at_m=(30.4, 38.7),
                              limit_bar=1.2)  # fmt: skip


def test_the_smaller_depth_stands_first_with_what_sets_it_in_at_least_seven_points_beside_the_plan() -> None:
    """A cautious page leads with the smaller depth: common practice, no published source. The depths are invented."""
    full = {"tests": sample_pages.bench_tests(), "cylinders": (THICK, THICK), "planned_depth_m": 40.0,
            "planned_minutes": 60.0}  # fmt: skip
    text = text_of(**full)
    depth = "to 30 m: gas density 5.2 g/L; the 40 m planned are deeper"
    beside = "6.2 g/L at 38 m, oxygen 1.2 bar at 45 m"
    plan = "planned on this hire: 40 m, 60 min a fill"
    assert depth in text and beside in text and plan in text and "to 45 m" not in text
    assert "Diluent CY-0302: the agreed 40 m are deeper than this gas allows. Keep to 30 m." in text
    for words in (depth, beside, plan):
        assert min(sizes_of_words(made(write_handover, sample_pages.handover(**full)), words)) >= 6.99, words


def test_a_sheet_printed_ahead_says_so_and_a_spare_is_called_a_spare() -> None:
    ahead = text_of(out_at=None)
    assert "Prepared for 8 May 2026, not handed over yet" in ahead
    assert "Handed over: assembled" not in ahead
    assert "Handed over: assembled" in text_of()
    spare = text_of(renter=None, diver=None, spare=True)
    assert "Diver spare unit, no diver is named" in spare and "Diver not recorded" not in spare


def test_a_fill_that_is_not_this_divers_is_not_printed_as_this_divers() -> None:
    text = text_of(hand_over="kit", fill_against="the fill is another diver's")
    assert "Absorbent: the fill in the canister is not for you. Discard it." in text
    assert "fill 1733 stands in the canister and is not for this diver: the fill is another diver's. Discard" in text
    assert "2480 g" not in text


def test_regulators_stand_with_their_last_good_day() -> None:
    regulators = (
        sample_pages.fitted("bailout regulator", "regulator", "RB-1", date(2026, 8, 31)),
        replace(sample_pages.fitted("oxygen first stage", "oxygen first stage", "FS-2"), last_good_day=None),
    )
    text = text_of(fitted=regulators)
    assert "bailout regulator RB-1, last valid day 2026-08-31" in text
    assert "oxygen first stage FS-2, last valid day not recorded" in text


def test_checks_holds_and_tickets_are_named_in_the_divers_language_and_the_record_stays_in_its_words() -> None:
    def check(name: str, result: Result) -> Check:
        return Check(name, Moment.RELEASE, result, f"what {name} found, {{0}} %s", "")

    found = sample_pages.handover(language="de", known_faults=("manual: strap torn", "ticket 2026-012: Replace cell 2"))
    assessment = replace(
        found.facts.assessment, checks=(check("part life", Result.STOP), check("cell age", Result.ADVISE))
    )
    text = " ".join(texts(made(write_handover, replace(found, facts=replace(found.facts, assessment=assessment)))))
    for words in (
        "Lebensdauer der Teile: what part life found, {0} %s", "Von Hand gesperrt: strap torn",
        "Hinweis: Alter der Zellen: what cell age found", "Offener Auftrag 2026-012: Replace cell 2",
    ):  # fmt: skip
        assert words in text, words
