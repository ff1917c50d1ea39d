"""Fills, analyses, pressures and certificates: whole or not at all, refused or asked about as a filler expects."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import func, select

from fleetbench.records.core.errors import Refused
from fleetbench.records.gas.reads import read_cylinders, read_gas
from fleetbench.records.gas.tables import CylinderFill, GasAnalysis
from fleetbench.records.places.tables import Limit
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.analyses import AnalysisEntry, correct_analysis, record_analyses
from fleetbench.workshop.gas.entry import record_test
from fleetbench.workshop.gas.fills import (
    FillEntry,
    check_fills,
    correct_fill,
    enter_certificate,
    record_fills,
    record_pressures,
)
from fleetbench.workshop.gas.state import CylinderBook, GasState
from tests.centres.gas_centre import GasCentre
from tests.centres.pins import give_pin


@pytest.fixture
def centre(sqlite_database: Any, clock: Any) -> GasCentre:
    """The small centre with gas."""
    return GasCentre(Workplace(sqlite_database, clock), clock)


@pytest.fixture
def anywhere(workplace: Workplace, clock: Any) -> GasCentre:
    """The same on either database."""
    return GasCentre(workplace, clock)


def state(centre: GasCentre, part_id: int) -> GasState:
    with centre.workplace.database.reading() as connection:
        return CylinderBook(read_gas(connection, (part_id,)), centre.workplace.zone()).states[part_id]


def count(centre: GasCentre, table: type[Any]) -> int:
    with centre.workplace.database.reading() as connection:
        return connection.scalar(select(func.count()).select_from(table)) or 0


def row_of(centre: GasCentre, **changed: Any) -> list[FillEntry]:
    """A row of five cylinders of oxygen."""
    keys = [centre.cylinders["oxygen"], *centre.spares["oxygen"]]
    return [replace(FillEntry(part_id=key, oxygen_percent=100.0, start_bar=50.0, end_bar=190.0, batch="B1",
                              machine="booster 1", oxygen_compatible=True), **changed) for key in keys]  # fmt: skip


def test_a_row_of_cylinders_is_filled_in_one_act_and_the_journal_verifies(anywhere: GasCentre) -> None:
    centre = anywhere
    keys = record_fills(centre.workplace, row_of(centre))
    assert len(keys) == 5
    found = state(centre, centre.cylinders["oxygen"])
    assert found.fill is not None
    assert (found.fill.end_bar, found.fill.machine, found.fill.batch) == (190.0, "booster 1", "B1")
    assert found.stale
    assert verify(centre.workplace.database).whole


def test_one_stop_refuses_the_whole_row_and_names_every_finding(centre: GasCentre) -> None:
    entries = row_of(centre)
    entries[1] = replace(entries[1], end_bar=20.0)
    entries[3] = replace(entries[3], end_bar=None)
    with pytest.raises(Refused, match=r"O-2: start: .*O-4: end: .*missing; read the gauge"):
        record_fills(centre.workplace, entries)
    assert count(centre, CylinderFill) == 0


def test_what_is_only_odd_is_asked_about_once_and_then_kept(centre: GasCentre) -> None:
    entries = row_of(centre)
    entries[0] = replace(entries[0], end_bar=215.0)
    told = check_fills(centre.workplace, entries)
    assert [len(each.asks) for each in told] == [1, 0, 0, 0, 0]
    assert "over the working pressure" in told[0].lines()[0]
    with pytest.raises(Refused, match="let it down"):
        record_fills(centre.workplace, entries)
    assert len(record_fills(centre.workplace, entries, confirmed={entries[0].part_id})) == 5
    kept, plain = (state(centre, each.part_id).fill for each in entries[:2])
    assert kept is not None and kept.note is not None and "kept although" in kept.note and "over the work" in kept.note
    assert plain is not None and plain.note is None


def test_a_gas_that_is_far_from_what_was_asked_keeps_that_it_was_typed_twice(anywhere: GasCentre) -> None:
    centre = anywhere
    centre.fill("diluent")
    centre.later(minutes=20)
    key = centre.cylinders["diluent"]
    for shown, note in ((21.2, None), (34.0, "oxygen typed twice: 34 %")):
        record_analyses(centre.workplace, [AnalysisEntry(part_id=key, oxygen_percent=shown)])
        found = state(centre, key).analysis
        assert found is not None and found.note == note
        centre.later(minutes=1)
    with centre.workplace.database.reading() as connection:
        (sheet,) = (each for each in read_cylinders(connection) if each.part_id == key)
    assert sheet.analysis_note == "oxygen typed twice: 34 %"


def test_a_cylinder_out_of_test_is_not_filled_even_if_confirmed(centre: GasCentre) -> None:
    key = centre.spares["diluent"][0]
    entry = FillEntry(part_id=key, oxygen_percent=21.0, end_bar=200.0)
    # Last tested 1 September 2025: the visual's 30 months end on 29 February 2028, the day before the anniversary.
    centre.later(days=(centre.today.replace(year=2028, month=2, day=29) - centre.today).days)
    assert check_fills(centre.workplace, [entry])[0].findings == ()
    centre.later(days=1)
    with pytest.raises(Refused, match="out of test since 2028-02-29; do not fill it"):
        record_fills(centre.workplace, [entry], confirmed={key})


def test_a_failed_test_and_a_hold_stop_a_fill(centre: GasCentre) -> None:
    key = centre.spares["diluent"][0]
    record_test(centre.workplace, [key], "visual", passed=False, done_by="Test house")
    entry = FillEntry(part_id=key, oxygen_percent=21.0, end_bar=200.0)
    with pytest.raises(Refused, match="visual not passed on 2026-05-04; clear its cause"):
        record_fills(centre.workplace, [entry])
    other = centre.spares["diluent"][1]
    centre.hold(part_id=other, reason="valve stiff")
    with pytest.raises(Refused, match="valve stiff"):
        record_fills(centre.workplace, [replace(entry, part_id=other)])


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"oxygen_percent": 60.0, "helium_percent": 41.0}, "^helium: oxygen 60 % and helium 41 % are over 100 %"),
        ({"oxygen_percent": 101.0}, "^oxygen: "),
        ({"start_bar": -1.0}, "^start: "),
        ({"end_bar": float("nan")}, "^end: "),
        ({"temperature_c": 90.0}, "^temperature: "),
    ],
)
def test_figures_that_no_fill_has_are_refused_by_name(centre: GasCentre, changed: dict[str, Any], said: str) -> None:
    entry = FillEntry(part_id=centre.spares["diluent"][0], oxygen_percent=21.0, end_bar=200.0)
    with pytest.raises(Refused, match=said):
        record_fills(centre.workplace, [replace(entry, **changed)])


def test_a_part_that_is_no_cylinder_and_one_named_twice_are_refused(centre: GasCentre) -> None:
    with pytest.raises(Refused, match="is not recorded as a cylinder"):
        record_fills(centre.workplace, [FillEntry(part_id=centre.regulator, oxygen_percent=21.0, end_bar=200.0)])
    entry = FillEntry(part_id=centre.spares["diluent"][0], oxygen_percent=21.0, end_bar=200.0)
    with pytest.raises(Refused, match="stands twice"):
        record_fills(centre.workplace, [entry, entry])


def test_a_fill_may_be_typed_up_to_seven_days_later_and_never_ahead(centre: GasCentre) -> None:
    entry = [FillEntry(part_id=centre.spares["diluent"][0], oxygen_percent=21.0, end_bar=200.0)]
    with pytest.raises(Refused, match="lies ahead"):
        record_fills(centre.workplace, entry, at=centre.clock() + timedelta(minutes=1))
    with pytest.raises(Refused, match="seven days"):
        record_fills(centre.workplace, entry, at=centre.ago(8))
    record_fills(centre.workplace, entry, at=centre.ago(2))
    found = state(centre, entry[0].part_id).fill
    assert found is not None
    assert found.at == centre.ago(2)


def test_a_slip_is_corrected_within_ten_minutes_and_keeps_the_moment_of_filling(centre: GasCentre) -> None:
    filled = centre.clock()
    wrong = centre.fill("diluent", end_bar=109.0)
    centre.later(minutes=5)
    right = FillEntry(part_id=centre.cylinders["diluent"], oxygen_percent=21.0, start_bar=40.0, end_bar=190.0)
    correct_fill(centre.workplace, wrong, right)
    found = state(centre, centre.cylinders["diluent"]).fill
    assert found is not None
    assert (found.end_bar, found.at) == (190.0, filled)
    with pytest.raises(Refused, match="corrected already"):
        correct_fill(centre.workplace, wrong, right)
    centre.later(minutes=11)
    with pytest.raises(Refused, match="older than ten minutes"):
        correct_fill(centre.workplace, found.fill_id, right)
    assert count(centre, CylinderFill) == 2


def test_a_later_fill_makes_an_analysis_stale(anywhere: GasCentre) -> None:
    centre = anywhere
    centre.fill("diluent")
    centre.later(minutes=20)
    centre.analyse("diluent")
    found = state(centre, centre.cylinders["diluent"])
    assert found.gas is not None
    assert found.gas.oxygen == pytest.approx(0.212)
    centre.later(minutes=20)
    centre.fill("diluent")
    found = state(centre, centre.cylinders["diluent"])
    assert (found.stale, found.gas) == (True, None)


def test_an_analysis_at_the_very_moment_of_the_fill_says_nothing_of_it(centre: GasCentre) -> None:
    centre.fill("diluent")
    centre.analyse("diluent")
    assert state(centre, centre.cylinders["diluent"]).stale


def test_the_analysers_uncertainty_is_kept_as_it_was_certified(centre: GasCentre) -> None:
    centre.fill("diluent")
    centre.later(minutes=20)
    centre.analyse("diluent")
    from fleetbench.workshop.bench.equipment import certify_equipment

    certify_equipment(
        centre.workplace, centre.keys.centre.analyser, last_good_day=centre.last(), uncertainty=0.9, digit=0.1
    )
    found = state(centre, centre.cylinders["diluent"]).analysis
    assert found is not None
    assert found.uncertainty == 0.25


def test_the_diver_analyses_a_second_time_and_signs_on_paper_or_by_pin(centre: GasCentre) -> None:
    centre.fill("diluent")
    centre.later(minutes=20)
    centre.analyse("diluent")
    own = {"by_diver": True, "person_id": centre.diver, "oxygen_percent": 21.0}
    with pytest.raises(Refused, match="signed: is missing"):
        centre.analyse("diluent", **own)
    with pytest.raises(Refused, match="PIN"):
        centre.analyse("diluent", signed="by PIN", pin="4711", **own)
    give_pin(centre.workplace, centre.diver, "4711")
    centre.analyse("diluent", signed="by PIN", pin="4711", **own)
    centre.later(minutes=1)
    centre.analyse("diluent", signed="on paper", **own)
    found = state(centre, centre.cylinders["diluent"])
    assert found.diver_analysis is not None
    assert (found.diver_analysis.signed, found.diver_analysis.person_id) == ("on paper", centre.diver)
    with pytest.raises(Refused, match="only the diver's own"):
        centre.analyse("diluent", signed="on paper")


@pytest.mark.parametrize(
    ("role", "shown", "helium", "result", "said"),
    [
        ("diluent", 21.9, None, [], ""),
        ("diluent", 24.0, None, ["stop"], "oxygen 24.0% analysed, 21.0% asked"),
        ("oxygen", 99.0, None, [], ""),
        ("oxygen", 98.5, None, ["advise"], "under 99%"),
        ("oxygen", 32.0, None, ["stop"], "not oxygen"),
        ("oxygen", 100.4, None, [], ""),
    ],
)
def test_what_was_analysed_is_held_against_what_was_asked(
    centre: GasCentre, role: str, shown: float, helium: float | None, result: list[str], said: str
) -> None:
    """Tolerances of 1 % oxygen and 2 % helium, 99 % for oxygen: common practice, no published source."""
    centre.fill(role)
    centre.later(minutes=20)
    entry = AnalysisEntry(part_id=centre.cylinders[role], oxygen_percent=shown, helium_percent=helium,
                          analyser_id=centre.keys.centre.analyser)  # fmt: skip
    answer = record_analyses(centre.workplace, [entry])[0]
    assert [str(each.result) for each in answer.findings] == result
    assert said in " ".join(each.words for each in answer.findings)


def test_helium_that_was_asked_for_must_be_analysed(centre: GasCentre) -> None:
    centre.fill("diluent", oxygen_percent=18.0, helium_percent=45.0)
    centre.later(minutes=20)
    entry = AnalysisEntry(part_id=centre.cylinders["diluent"], oxygen_percent=18.1,
                          analyser_id=centre.keys.centre.analyser)  # fmt: skip
    assert "helium not analysed" in record_analyses(centre.workplace, [entry])[0].findings[0].words
    assert state(centre, entry.part_id).gas is None
    answer = record_analyses(centre.workplace, [replace(entry, helium_percent=44.0)])[0]
    assert answer.findings == ()
    gas = state(centre, entry.part_id).gas
    assert gas is not None
    assert (gas.oxygen, gas.helium) == (pytest.approx(0.181), pytest.approx(0.44))


def test_an_analyser_out_of_date_or_not_named_is_told(centre: GasCentre) -> None:
    centre.fill("diluent")
    centre.later(days=100)
    entry = AnalysisEntry(part_id=centre.cylinders["diluent"], oxygen_percent=21.0,
                          analyser_id=centre.keys.centre.analyser)  # fmt: skip
    for each, said in ((entry, "not known to be in date"), (replace(entry, analyser_id=None), "analyser not recorded")):
        assert said in record_analyses(centre.workplace, [each])[0].findings[0].words
    with pytest.raises(Refused, match="choose an analyser"):
        record_analyses(centre.workplace, [replace(entry, analyser_id=centre.keys.centre.barometer)])


@pytest.mark.parametrize(
    ("oxygen", "helium", "said"),
    [
        (18.0, 83.0, "O-1: helium: .*over 100 %"),
        (102.0, None, "oxygen: 102 % is outside 0 to 101 %; enter what the analyser shows .*check the analyser in air"),
        (18.0, -1.0, "helium: -1 % is outside 0 to 100 %; enter what the analyser shows"),
        (None, None, "read the analyser"),
    ],
)
def test_an_analysis_that_no_gas_has_is_refused_and_nothing_of_its_row_is_kept(
    centre: GasCentre, oxygen: float | None, helium: float | None, said: str
) -> None:
    centre.fill("oxygen")
    good = AnalysisEntry(part_id=centre.spares["oxygen"][0], oxygen_percent=99.5)
    bad = AnalysisEntry(part_id=centre.cylinders["oxygen"], oxygen_percent=oxygen, helium_percent=helium)
    with pytest.raises(Refused, match=said):
        record_analyses(centre.workplace, [good, bad])
    assert count(centre, GasAnalysis) == 0


def test_an_analysis_is_corrected_within_ten_minutes(centre: GasCentre) -> None:
    centre.fill("diluent")
    centre.later(minutes=20)
    wrong = centre.analyse("diluent", oxygen_percent=31.0)
    centre.later(minutes=2)
    entry = AnalysisEntry(part_id=centre.cylinders["diluent"], oxygen_percent=21.0)
    correct_analysis(centre.workplace, wrong, entry)
    gas = state(centre, entry.part_id).gas
    assert gas is not None
    assert gas.oxygen == pytest.approx(0.21)
    centre.later(minutes=11)
    with pytest.raises(Refused, match="corrected already"):
        correct_analysis(centre.workplace, wrong, entry)


def test_a_gauge_read_later_is_what_is_in_the_cylinder(centre: GasCentre) -> None:
    centre.fill("oxygen")
    centre.later(hours=5)
    record_pressures(centre.workplace, {centre.cylinders["oxygen"]: 84.0}, temperature_c=12.0)
    found = state(centre, centre.cylinders["oxygen"])
    assert (found.now_bar, found.temperature_c) == (84.0, 12.0)
    with pytest.raises(Refused, match="pressure: "):
        record_pressures(centre.workplace, {centre.cylinders["oxygen"]: 900.0})


def test_a_bad_certificate_stops_the_batch_and_the_sites_own_limit_stands_above_the_specification(
    centre: GasCentre,
) -> None:
    """MIL-PRF-27210 as in US Navy Diving Manual Table 4-3: at most 7 ppm water, at least 99.5 % oxygen."""
    found = enter_certificate(centre.workplace, batch="B9", gas="oxygen", issued_on=centre.today,
                              values={"oxygen": 99.6, "water": 12.0})  # fmt: skip
    assert {each.field for each in found if each.result == "stop"} == {"water"}
    with pytest.raises(Refused, match="batch B9: water 12 ppm"):
        centre.fill("oxygen", batch="B9")
    centre.add(Limit(name="oxygen water most", amount=20.0, unit="ppm", source="the site's supplier", maker=False))
    centre.fill("oxygen", batch="B9")
    with pytest.raises(Refused, match="not a line of"):
        enter_certificate(centre.workplace, batch="B9", gas="oxygen", issued_on=centre.today, values={"argon": 1.0})


def test_nobody_at_the_bench_writes_nothing(centre: GasCentre) -> None:
    alone = centre.workplace.as_person(None)
    with pytest.raises(Refused):
        record_fills(alone, row_of(centre))
    with pytest.raises(Refused):
        record_pressures(alone, {centre.cylinders["oxygen"]: 84.0})
