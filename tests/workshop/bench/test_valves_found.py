"""Valves on the invented fleet: the leaking valve and the creeping regulator are found, and trends stay apart."""

import csv
from datetime import UTC, datetime
from typing import Any

import pytest

from fleetbench.calc.bench.flow import LockUpLimit
from fleetbench.calc.bench.leak import BackLeakLimit
from fleetbench.calc.bench.measured import GaugeReading, Instrument, back_leak_by_flow, lock_up
from fleetbench.calc.core.verdict import Verdict
from fleetbench.calc.readiness.judge import HandoverKind
from fleetbench.records.bench.reads import read_tests
from fleetbench.records.core.errors import NotFound
from fleetbench.shipped import shipped
from fleetbench.workshop.bench.measured import SetUp, Stamped, record_measured
from fleetbench.workshop.bench.offers import Method, bench_plan
from fleetbench.workshop.bench.valves import list_valves, valve_page
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.readiness.ready import assess_unit
from tests.centres.valve_centre import write_valve_centre


def sheet() -> list[dict[str, str]]:
    """The invented centre's own sheet of bench tests."""
    with (shipped("sample_fleet") / "bench_tests.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def row_of(workplace: Workplace, unit: str, slot: str) -> Any:
    return next(row for row in list_valves(workplace) if (row.unit, row.slot) == (unit, slot))


def test_the_creeping_regulator_of_the_sample_is_found_in_the_list_and_on_its_page(sample_workplace: Workplace) -> None:
    failed = [row for row in list_valves(sample_workplace) if row.test_state == "failed"]
    assert [(row.unit, row.slot) for row in failed] == [("C-05", "oxygen first stage")]
    page = valve_page(sample_workplace, "C-05", failed[0].slot_id)
    assert {series.name for series in page.series} == {
        "intermediate pressure, full supply", "intermediate pressure, low supply"
    }  # fmt: skip
    for series in page.series:
        assert series.points[-1][1] > (series.high or 0.0), "it ended over the type's most"
        assert all(value <= (series.high or 0.0) for _at, value, _u in series.points[:-1])


def test_what_the_sheet_says_of_the_creep_would_be_rejected_here_too() -> None:
    limit = LockUpLimit(9.5, 11.5, "invented manual of type C")
    gauge = Instrument("gauge", 0.05, None, in_date=True)
    crept = next(row for row in sheet() if row["kind"] == "intermediate pressure" and row["result"] == "reject")
    start = float(crept["note"].split(" bar")[0].split("at ")[1])
    step = (float(crept["value"]) - start) / 10
    readings = [GaugeReading(30.0 * number, start + step * number) for number in range(11)]
    assert lock_up(readings, limit=limit, gauge=gauge, supply_bar=float(crept["supply_bar"])).verdict is Verdict.REJECT


def test_the_leaking_valve_of_the_sample_is_found_by_breath_and_by_figure(sample_workplace: Workplace) -> None:
    # 42 CFR 84.182: at most 30 mL/min, dry valve, 25 mm of water column.
    leaking = [row for row in sheet() if row["kind"] == "one-way valve" and row["result"] == "reject"]
    assert leaking
    with sample_workplace.database.reading() as connection:
        recorded = read_tests(connection, kinds=("one-way valve",))
    assert sorted(each.ref or "" for each in recorded if each.result == "reject") == sorted(
        r["record"] for r in leaking
    )
    meter = Instrument("flow meter", 1.0, 1.0, in_date=True)
    for row in leaking:
        found = back_leak_by_flow(
            [float(row["value"])], suction_mbar=2.5, meter=meter, manometer=None, limit=BackLeakLimit()
        )
        assert found.verdict is Verdict.REJECT


def test_the_unit_of_the_leaking_valve_was_held_from_the_test_until_it_was_replaced_and_tested(
    sample_workplace: Workplace,
) -> None:
    leak = max((row for row in sheet() if row["kind"] == "one-way valve" and row["result"] == "reject"),
               key=lambda row: row["at"])  # fmt: skip
    day = sample_workplace.today()
    check = next(each for each in assess_unit(sample_workplace, leak["unit"], day, day, HandoverKind.KIT).checks
                 if each.check == "one-way valves and loop")  # fmt: skip
    assert check.result != "stop", "replaced and tested since"
    row = row_of(sample_workplace, leak["unit"], f"{leak['direction']} one-way valve")
    assert row.test_state == "fresh"
    assert row.fitted_on is not None and row.fitted_on >= datetime.fromisoformat(leak["at"]).date()


def test_no_page_asks_the_database_once_per_valve(sample_workplace: Workplace) -> None:
    from sqlalchemy import event

    counted = []
    listen = lambda *_args: counted.append(1)  # noqa: E731
    event.listen(sample_workplace.database.engine, "before_cursor_execute", listen)
    rows = list_valves(sample_workplace)
    event.remove(sample_workplace.database.engine, "before_cursor_execute", listen)
    assert len(rows) > 100
    assert len(counted) < len(rows), "as many statements for a hundred valves as for one"


def test_an_unknown_valve_is_refused_in_one_line(sample_workplace: Workplace) -> None:
    with pytest.raises(NotFound, match="has no valve in slot"):
        valve_page(sample_workplace, "B-01", 99_999)


def test_a_first_stage_tried_at_one_supply_only_is_undecided(sqlite_database: Any, clock: Any) -> None:
    # A full and a low supply: common practice, no published source.
    keys = write_valve_centre(sqlite_database, clock())
    bench = Workplace(sqlite_database, clock, keys.centre.technician)
    offer = next(each for each in bench_plan(bench, "LK-01").offers if each.method is Method.LOCK_UP)
    states = []
    for supply in (None, 190.0, 50.0):
        if supply is not None:
            readings = []
            for _reading in range(11):
                readings.append(Stamped(clock(), 9.4))
                clock.advance(seconds=30)
            record_measured(bench, "LK-01", offer.key,
                            SetUp(supply_bar=supply, tools={"gauge": keys.tools["gauge"]}), readings)  # fmt: skip
        states.append(row_of(bench, "LK-01", "oxygen first stage").test_state)
    assert states == ["not tested", "undecided", "fresh"]
    page = valve_page(bench, "LK-01", row_of(bench, "LK-01", "oxygen first stage").slot_id)
    assert [(each.name, each.low, each.high) for each in page.series] == [
        ("intermediate pressure, full supply", 8.5, 10.0), ("intermediate pressure, low supply", 8.5, 10.0),
    ]  # fmt: skip
    assert page.series[0].points[0][2] == pytest.approx(0.04), "the figure keeps its uncertainty"
    assert page.tests[0].record.finding is not None
    assert datetime.now(UTC) > page.tests[0].record.at
