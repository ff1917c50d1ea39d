"""Lines of the daily log: what a cell may say, and what is against it (common practice, no published source)."""

from dataclasses import replace
from datetime import date, time

import pytest

from fleetbench.calc.hires.log import LogFigure, LogSpan, RunBack, columns_of, overlaps, read_line, readings_words

COLUMNS = columns_of(("cell 1", "cell 2"), ("handset 1", "handset 2"))
SPAN = LogSpan(first=date(2026, 5, 30), last=date(2026, 6, 2), planned_depth_m=30.0, fills={"FIL-01733": 12})
DIVE = {"day": "31", "start": "930", "minutes": "62", "deepest_m": "22,5", "coldest_c": "11", "fill": "fil-01733"}


def test_a_line_is_read_with_its_day_in_the_month_and_its_start_as_they_are_typed() -> None:
    read = read_line(
        COLUMNS, DIVE | {"oxygen_in": "200", "oxygen_out": "150", "loop": "y", "handset 2|cell 1|air": "10.4"}, SPAN
    )
    assert (read.wrong, read.doubted) == ({}, {})
    assert read.run == RunBack(
        minutes=62, on=date(2026, 5, 31), start=time(9, 30), deepest_m=22.5, coldest_c=11, fill_id=12,
        told="loop tested",
        readings=(
            LogFigure("oxygen bar before", "", "", 200.0), LogFigure("oxygen bar after", "", "", 150.0),
            LogFigure("air mV", "handset 2", "cell 1", 10.4),
        ),
    )  # fmt: skip
    assert readings_words(read.run.readings) == "oxygen 200 to 150 bar; handset 2: air cell 1 10.4 mV"


def test_an_empty_line_is_no_dive_and_a_line_without_minutes_is_refused() -> None:
    assert read_line(COLUMNS, {"day": " ", "fault": ""}, SPAN).run is None
    assert read_line(COLUMNS, {"fault": "handset blank"}, SPAN).wrong.keys() == {"minutes", "day", "start"}


@pytest.mark.parametrize("word", ["?", "not known"])
def test_a_day_or_start_is_marked_as_not_known_and_never_left_out(word: str) -> None:
    read = read_line(COLUMNS, DIVE | {"day": word, "start": word}, SPAN)
    assert read.run is not None and (read.run.on, read.run.start) == (None, None)
    assert "start" in read_line(COLUMNS, DIVE | {"start": ""}, SPAN).wrong


@pytest.mark.parametrize(
    "column, text, words",
    [
        ("day", "3", "no day of the hire"),
        ("day", "2026-06-03", "is not from 2026-05-30 to 2026-06-02"),
        ("day", "31.5.", "is no day"),
        ("start", "2460", "is no hour"),
        ("start", "9", "is no hour"),
        ("minutes", "1e3", "is no figure"),
        ("minutes", "2000", "outside"),
        ("deepest_m", "-1", "outside"),
        ("oxygen_in", "2000", "outside"),
        ("fill", "FIL-9", "no fill of this hire: FIL-01733"),
        ("valves", "maybe", "neither y nor n"),
        ("handset 1|cell 1|air", "1040", "outside"),
    ],
)
def test_a_cell_that_cannot_be_is_named_with_its_remedy(column: str, text: str, words: str) -> None:
    read = read_line(COLUMNS, DIVE | {column: text}, SPAN)
    assert list(read.wrong) == [column] and words in read.wrong[column] and read.run is None


def test_every_bad_cell_of_a_line_is_told_at_once() -> None:
    read = read_line(COLUMNS, DIVE | {"day": "x", "minutes": "y", "valves": "z"}, SPAN)
    assert read.wrong.keys() == {"day", "minutes", "valves"}


def test_an_unusual_figure_is_doubted_and_not_refused() -> None:
    read = read_line(COLUMNS, DIVE | {"deepest_m": "220"}, SPAN)
    assert read.run is not None and list(read.doubted) == ["deepest_m"]


def test_a_number_that_two_days_of_a_long_hire_share_is_no_day() -> None:
    long = LogSpan(first=date(2026, 5, 1), last=date(2026, 6, 2), fills={})
    assert "more than one day" in read_line(COLUMNS, DIVE | {"day": "1", "fill": ""}, long).wrong["day"]


def test_dives_that_overlap_are_told_on_the_later_line() -> None:
    day = date(2026, 5, 31)
    lines = [(1, RunBack(minutes=60, on=day, start=time(11))), (2, RunBack(minutes=60, on=day, start=time(10, 30)))]
    assert overlaps(lines) == {1: "start: line 2 runs until 11:30"}
    assert overlaps([(1, RunBack(minutes=60, on=day, start=None)), lines[0]]) == {}


def test_a_cylinder_that_holds_more_after_the_dive_than_before_is_asked_about() -> None:
    """A breathed cylinder empties; how far two readings of a gauge differ: common practice, no published source."""
    line = DIVE | {"oxygen_in": "150", "oxygen_out": "190", "diluent_in": "180", "diluent_out": "184"}
    read = read_line(COLUMNS, line, SPAN)
    assert list(read.doubted) == ["oxygen_out"]
    assert "190 is over the 150" in read.doubted["oxygen_out"] and read.run is not None
    assert read_line(COLUMNS, line | {"oxygen_out": "110"}, SPAN).doubted == {}


def test_a_reading_far_from_the_last_calibration_or_not_over_its_air_is_asked_about_and_kept_with_a_remark() -> None:
    """In oxygen a cell gives about five times its reading in air: fractions 0.209 and 1 (CIPM-2007 composition)."""
    air, oxygen = "handset 1|cell 1|air", "handset 1|cell 1|oxygen"
    calibrated = replace(SPAN, last_mv={air: 10.0, oxygen: 48.0})
    fine = read_line(COLUMNS, DIVE | {air: "10.6", oxygen: "50"}, calibrated)
    assert fine.doubted == {}
    far = read_line(COLUMNS, DIVE | {air: "16", oxygen: "50"}, calibrated)
    assert list(far.doubted) == [air] and "far from the last, 10 mV" in far.doubted[air]
    swapped = read_line(COLUMNS, DIVE | {air: "50", oxygen: "10.6"}, SPAN)
    assert list(swapped.doubted) == [oxygen] and "not over the 50 mV in air" in swapped.doubted[oxygen]
    assert swapped.run is not None
    assert [each.note for each in swapped.run.readings] == [None, "typed twice: 10.6 mV"]
