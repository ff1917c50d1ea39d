"""Use and cost on paper and as XLSX: every cell against its line, and read by another reader."""

import io
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from python_calamine import CalamineWorkbook

from fleetbench.calc.earnings.days import (
    CureBy,
    DayState,
    OwnFigures,
    StopCause,
    UnitDay,
    UnitSpent,
    by_cause,
    keeping,
    lines,
    savings,
)
from fleetbench.paper.core.document import PageSize
from fleetbench.paper.earnings.report import write_earnings, write_earnings_xlsx
from fleetbench.workshop.earnings.report import EarningsReport
from tests.paper.pdf_reader import made, texts
from tests.paper.sample_pages import LETTERHEAD

FIRST = date(2026, 1, 1)
OWN = OwnFigures(6000.0, 5.0, 70.0)


def report_of(*, tag: str = "U-1", cause: str = "part life: Solenoid") -> EarningsReport:
    """A hundred days of one unit: 40 out, 30 fit, 7 waiting, 12 lost of which 5 were wanted, 11 not known."""
    spare, work = StopCause(cause, CureBy.SPARE, "solenoid S-1"), StopCause("turn-round to do", CureBy.WORK)
    kinds = [(DayState.OUT, 40, ()), (DayState.FIT, 30, ()), (DayState.WORK, 7, (work,)), (DayState.LOST, 12, (spare,)),
             (DayState.UNKNOWN, 11, ())]  # fmt: skip
    days: list[UnitDay] = []
    for state, count, causes in kinds:
        for number in range(count):
            unrecorded = ("periodic service",) if state is DayState.UNKNOWN else ()
            on = FIRST + timedelta(days=len(days))
            wanted = state is DayState.LOST and number < 5
            days.append(UnitDay(tag, "Type T", on, state, state is DayState.OUT, wanted, causes, unrecorded))
    spent = {tag: UnitSpent(1230.0, 31, 456.0, 8, 2, 3, 1, 789.5, 21.25, 131.75, 4)}
    units, types = lines(days, spent)
    return EarningsReport(
        FIRST, days[-1].day, days[-1].day, "EUR", units, types, by_cause(days), savings(days, {}),
        {tag: keeping(units[0], OWN)}, {"Type T": OWN}, tuple(days),
    )  # fmt: skip


@pytest.mark.parametrize("size", PageSize, ids=lambda each: each.name)
def test_the_page_says_the_days_the_work_the_verdict_and_what_would_have_saved_days(size: PageSize) -> None:
    pdf = made(write_earnings, report_of(), size=size, head=replace(LETTERHEAD, currency="EUR"))
    text = " ".join(" ".join(texts(pdf)).split())
    for said in (
        "2026-01-01 through 2026-04-10", "prices in EUR", "One spare on the shelf against 'part life: Solenoid'",
        "would have saved 11 days", "On 4 of them a unit was wanted",
        "U-1 40 40 30 7 12 11 5 70 to 81 %",  # promised, out, fit, waiting, lost, not known, down while wanted
        "U-1 20.5 456 11.4 22.2 4, 1 unpriced 789.50 19.74 38.51 21.2 kg",
        # (789.5 + 5 x 70) x 365 / 100 days, beside 6000 / 5 years
        "U-1 4,159.18 1,200.00 costs more than another", "11 days not known, 1 part without a price",
        "part life: Solenoid 12 12 5 1 0", "periodic service 0 0 0 0 11", "never by cost",
    ):  # fmt: skip
        assert said in text, said


def sheets(report: EarningsReport) -> dict[str, list[list[Any]]]:
    stream = io.BytesIO(made(write_earnings_xlsx, report, head=LETTERHEAD))
    book = CalamineWorkbook.from_filelike(stream)
    return {name: book.get_sheet_by_name(name).to_python() for name in book.sheet_names}


def test_another_reader_finds_every_figure_under_its_title_and_every_day() -> None:
    found = sheets(report_of())
    titles, whole, kind, unit = found["Units and types"]
    assert (whole[0], kind[0], unit[0]) == ("All units", "Type T", "U-1")
    row = dict(zip(titles, unit, strict=True))
    told = {"promised": 40, "promised and out": 40, "out": 40, "fit, not out": 30, "waiting for work": 7, "lost": 12,
            "not known": 11, "not in service": 0, "down while wanted": 5, "available, least": 0.7,
            "available, most": 0.81, "loop minutes": 1230, "dives": 31, "bench minutes": 456, "signed tickets": 8,
            "without minutes": 2, "parts priced": 3, "parts without a price": 1, "parts, EUR": 789.5,
            "absorbent, kg": 21.25, "absorbent, EUR": 131.75, "fills without mass or price": 4,
            "keeping it a year, EUR": 4159.18, "another a year, EUR": 1200}  # fmt: skip
    assert {title: row[title] for title in told} == told
    assert len(found["Days"]) == 101
    assert found["Days"][1][:4] == [FIRST, "U-1", "Type T", "out"]
    assert found["Savings"][1][1:5] == ["part life: Solenoid", 11, 11, 4]


def test_no_cell_of_the_spreadsheet_is_a_formula() -> None:
    found = sheets(report_of(tag="=1+1", cause="@SUM(A1)"))
    assert found["Units and types"][3][0] == "=1+1"
    assert found["Causes"][1][0] == "@SUM(A1)"
