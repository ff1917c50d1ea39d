"""Pasted tables and logs give the same result as figures that were typed, or one line that says what to mend."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetbench.calc.cells.readings import DEFAULT_LIMITS
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.workshop.cells.calibrate import plan, preview
from fleetbench.workshop.cells.calibration_log import read_log, read_table
from fleetbench.workshop.cells.entry import CalibrationEntry, ReadingEntry
from fleetbench.workshop.cells.plan import CalibrationPlan, CellPosition, ReaderDisplay, ReaderFacts
from fleetbench.workshop.core.workplace import Workplace
from tests.centres.bench_centre import open_bench, write_centre


@pytest.fixture
def held() -> CalibrationPlan:
    """A head of three cells on two handsets."""
    return a_plan()


def a_plan() -> CalibrationPlan:
    cells = tuple(
        CellPosition(slot, f"cell {slot}", 10 + slot, f"C-{slot}", None, 1, "Cell", None, DEFAULT_LIMITS, None)
        for slot in (1, 2, 3)
    )
    readers = tuple(ReaderFacts(key, f"handset {key}", "handset", 0.1) for key in (1, 2))
    matrix = {(reader, slot): ReaderDisplay("mV", 0.1) for reader in (1, 2) for slot in (1, 2, 3)}
    return CalibrationPlan(1, "LK-01", "type L", "H-1", cells, readers, matrix, None, None, None, None, ())


def shown(figures: tuple[ReadingEntry, ...]) -> dict[tuple[int, int], float | None]:
    return {(each.slot_id, each.reader_id): each.mv for each in figures}


EXPECTED = {(1, 1): 10.4, (1, 2): 10.5, (2, 1): 10.2, (2, 2): None, (3, 1): 10.6, (3, 2): 10.6}


@pytest.mark.parametrize(
    "text",
    [
        "10.4\t10.5\n10.2\t-\n10.6\t10.6\n",
        "10,4;10,5\n10,2;\n10,6;10,6",
        "10.4,10.5\n10.2,\n10.6,10.6",
        "\thandset 1\thandset 2\ncell 1\t10.4 mV\t10.5 mV\ncell 2\t10.2\t?\ncell 3\t10.6\t10.6\n",
        "cell;Handset 2;Handset 1\r\n3;10.6;10.6\r\n1;10.5;10.4\r\nC-2;not known;10.2\r\n",
    ],
)
def test_a_pasted_table_is_read_as_it_stands_on_the_grid(held: CalibrationPlan, text: str) -> None:
    assert shown(read_table(held, "air", text)) == EXPECTED


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        ("10.4\t10.5\n10.2", "row 2 has 1 figures for 2 handsets"),
        ("10.4\t1O.5\n10.2\t10.2\n10.6\t10.6", "cell 1 on handset 2: '1O.5' is not a figure"),
        ("10.4\t10.5\n" * 4, "more rows than the 3 cells"),
        ("cell 9\t10.4\t10.5", "'cell 9' is no cell"),
        ("cell 1\t10.4\t10.5\ncell 1\t10.4\t10.5", "stands twice"),
        ("10.4\t1040\n", "out of range"),
        ("cell\thandset 1\thandset 7\ncell 1\t10.4\t10.5", "names a handset"),
    ],
)
def test_a_table_that_cannot_be_placed_is_refused_with_row_and_column(
    held: CalibrationPlan, text: str, words: str
) -> None:
    with pytest.raises(Refused, match=words):
        read_table(held, "air", text)


def log(times: list[str], values: dict[tuple[str, str], list[float]]) -> str:
    lines = [
        f"{time},{handset},{cell},{mv[place]}"
        for place, time in enumerate(times)
        for (handset, cell), mv in values.items()
    ]
    return "time,handset,cell,mV\n" + "\n".join(lines)


SERIES = [10.4, 10.4, 30.2, 44.8, 49.1, 49.8, 49.8, 49.8]


@pytest.mark.parametrize(
    "times",
    [
        [str(20 * n) for n in range(8)],
        [f"09:{30 + n // 3}:{20 * (n % 3):02d}" for n in range(8)],
        [f"2026-05-04T09:{30 + n // 3}:{20 * (n % 3):02d}+02:00" for n in range(8)],
    ],
)
def test_a_log_gives_air_before_the_flush_stamps_during_it_and_oxygen_at_its_end(
    held: CalibrationPlan, times: list[str]
) -> None:
    found = read_log(held, log(times, {("handset 1", "cell 1"): SERIES, ("2", "3"): SERIES}))
    assert shown(found.air) == {(1, 1): 10.4, (3, 2): 10.4}
    assert shown(found.oxygen) == {(1, 1): 49.8, (3, 2): 49.8}
    stamps = [(each.seconds, each.mv) for each in found.settling if each.slot_id == 1]
    assert stamps == [(20.0, 30.2), (40.0, 44.8), (60.0, 49.1), (80.0, 49.8), (100.0, 49.8), (120.0, 49.8)]


def test_a_log_that_starts_in_oxygen_has_no_air_point_and_one_in_air_no_oxygen(held: CalibrationPlan) -> None:
    times = [str(20 * n) for n in range(3)]
    wet = read_log(held, log(times, {("handset 1", "cell 1"): [49.7, 49.8, 49.8]}))
    assert (wet.air, len(wet.settling), shown(wet.oxygen)) == ((), 3, {(1, 1): 49.8})
    dry = read_log(held, log(times, {("handset 1", "cell 1"): [10.4, 10.4, 10.5]}))
    assert (shown(dry.air), dry.settling, dry.oxygen) == ({(1, 1): 10.5}, (), ())


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "first line must be"),
        ("time,handset,cell,mA\n1,1,1,2", "first line must be"),
        ("time,handset,cell,mV\n1,1,1", "line 2 has 3 fields"),
        ("time,handset,cell,mV\nnoon,1,1,10.4", "'noon' is no time"),
        ("time,handset,cell,mV\nnan,1,1,10.4", "'nan' is no time"),
        ("time,handset,cell,mV\n1,1,1,nan", "out of range"),
        ("time,handset,cell,mV\n1,9,1,10.4", "'9' is no handset"),
        ("time,handset,cell,mV\n2,1,1,10.4\n1,1,1,10.4", "do not rise"),
        ('time,handset,cell,mV\n"1,1,1,10.4', "line 2 has 1 fields"),
    ],
)
def test_a_broken_log_is_refused_with_its_line(held: CalibrationPlan, text: str, words: str) -> None:
    with pytest.raises(Refused, match=words):
        read_log(held, text)


@given(st.text())
def test_no_text_whatever_breaks_the_readers(text: str) -> None:
    heading = "time,handset,cell,mV\n"
    for read in (lambda: read_table(a_plan(), "air", text), lambda: read_log(a_plan(), heading + text)):
        try:
            read()
        except Refused as refusal:
            assert str(refusal).startswith(("table", "log"))


def test_typed_pasted_and_logged_readings_come_out_alike(sqlite_database: Database, clock: Any) -> None:
    keys = write_centre(sqlite_database, clock())
    workplace = Workplace(sqlite_database, clock, keys.technician)
    session_id = open_bench(sqlite_database, keys, clock())
    found = plan(workplace, "LK-01")
    steady = [*SERIES, SERIES[-1]]
    values = {(reader, str(n)): [mv + n / 10 for mv in steady] for reader in "12" for n in (1, 2, 3)}
    logged = read_log(found, log([str(20 * n) for n in range(9)], values))
    entry = CalibrationEntry(tag="LK-01", session_id=session_id, head="dry", vented="yes",
                             figures=logged.air + logged.settling + logged.oxygen)  # fmt: skip
    table = "\n".join(f"{49.8 + n / 10:.1f}\t{49.8 + n / 10:.1f}" for n in (1, 2, 3))
    pasted = entry.with_figures("oxygen", read_table(found, "oxygen", table))
    typed = replace(entry, figures=tuple(
        replace(each, mv=round(each.mv or 0, 1)) for each in entry.figures
    ))  # fmt: skip
    outcomes = [preview(workplace, each) for each in (entry, pasted, typed)]
    assert outcomes[0].settled == "yes"
    first = outcomes[0].outcome
    for other in outcomes[1:]:
        for one, two in zip(first.cells, other.outcome.cells, strict=True):
            assert (one.verdict, one.finding) == (two.verdict, two.finding)
            assert one.linearity == pytest.approx(two.linearity)
