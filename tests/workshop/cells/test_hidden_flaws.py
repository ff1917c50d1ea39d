"""Every flaw that is hidden in the readings of the sample fleet is found and named, and nothing sound is rejected.

The answers stand in the sample's own answers file, written by its generator from the hidden truth of each cell; what
the program says is read from its lists. The sample is invented.
"""

import csv

import pytest
from sqlalchemy import select

from fleetbench.records.cells.tables import Calibration
from fleetbench.records.parts.tables import Part
from fleetbench.shipped import shipped
from fleetbench.workshop.cells.list import cell_page, list_cells
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import REJECT, list_due

LOW, SHORT = "Low output", "is under 95 %"
NAMED = {
    "low output": ("reject", "cell", LOW),
    "dead when new": ("reject", "cell", LOW),
    "wet or corroded": ("reject", "cell", LOW),
    "not linear": ("reject", "cell", SHORT),
    "not linear, all cells together": ("reject", "common", "All cells of the head stand low together"),
    "current-limited": ("reject", "cell", "current-limited"),
    "bad contact": ("repeat", "contact", "readers differ"),
    "not vented": ("repeat", "common", "not shown to be vented"),
    "short flush": ("repeat", "common", "All cells of the head stand low together"),
}
"""Verdict, what is blamed, and words of the finding, by hidden flaw."""

Row = dict[str, str]


@pytest.fixture
def answers() -> list[Row]:
    """The hidden flaws, one a cell and calibration."""
    with (shipped("sample_fleet") / "answers" / "readings.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def refs_of(workplace: Workplace) -> dict[int, str | None]:
    """The record's number of each part."""
    with workplace.database.reading() as connection:
        return {key: ref for key, ref in connection.execute(select(Part.id, Part.ref))}


def test_every_flaw_hidden_in_the_readings_is_found_and_named(sample_workplace: Workplace, answers: list[Row]) -> None:
    """Cells that were replaced keep what was last said of them; of heads that were put right the page is asked."""
    assert {row["flaw"] for row in answers} == set(NAMED)
    with sample_workplace.database.reading() as connection:
        visits = {ref: key for key, ref in connection.execute(select(Calibration.id, Calibration.ref))}
    refs = refs_of(sample_workplace)
    listed = {refs[row.part.part_id]: row for row in list_cells(sample_workplace, include_worn=True)}
    for row in answers:
        verdict, blame, words = NAMED[row["flaw"]]
        found = listed[row["cell"]]
        assert words in (found.finding or "") or verdict == "repeat", (row, found.finding)
        if verdict == "repeat" or "together" in row["flaw"]:
            page = cell_page(sample_workplace, found.part.part_id)
            line = next(each for each in page.calibrations if each.outcome.calibration_id == visits[row["calibration"]])
            assert (line.outcome.unit, line.outcome.position) == (row["unit"], row["slot"])
            assert (line.outcome.verdict, line.outcome.blame) == (verdict, blame), (row, line.outcome.finding)
            assert words in line.outcome.finding, (row, line.outcome.finding)


def test_the_lists_hold_each_of_them_and_no_sound_cell(sample_workplace: Workplace, answers: list[Row]) -> None:
    cells, refs = list_cells(sample_workplace, include_worn=True), refs_of(sample_workplace)
    rejected = {row["cell"] for row in answers if NAMED[row["flaw"]][0] == "reject"}
    assert {refs[row.part.part_id] for row in cells if row.verdict == "reject"} == rejected
    fitted = {refs[row.part.part_id]: row for row in cells if row.unit is not None}
    for row in answers:
        if row["cell"] in fitted and row["flaw"] in ("bad contact", "not vented"):
            assert (fitted[row["cell"]].verdict, fitted[row["cell"]].unit) == ("repeat", row["unit"])
    by_key = {row.part.part_id for row in cells}
    due = {refs[item.part_id] for item in list_due(sample_workplace) if item.basis == REJECT and item.part_id in by_key}
    assert due == rejected & fitted.keys()
