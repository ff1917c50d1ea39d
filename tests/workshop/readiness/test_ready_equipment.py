"""What was measured with what, and packed from which lot, bears on whether a unit may leave."""

from datetime import date, timedelta
from typing import Any

import pytest

from fleetbench.calc.core.verdict import Result
from fleetbench.calc.readiness.judge import Check, HandoverKind
from fleetbench.records.bench.tables import BenchTest, TestEquipment
from fleetbench.records.canisters.tables import Fill
from fleetbench.records.cells.tables import Calibration, CalibrationOutcome, CalibrationReading
from fleetbench.records.notices.tables import Notice, NoticeScope
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.readiness.ready import assess_unit
from tests.centres.ready_centre import Centre


@pytest.fixture
def centre(sqlite_database: Any, clock: Any) -> Centre:
    """The small centre with both units fit to leave."""
    return Centre(Workplace(sqlite_database, clock), clock)


def answer(centre: Centre) -> Check:
    days = (centre.today, centre.today)
    checks = assess_unit(centre.workplace, "LK-01", *days, HandoverKind.ASSEMBLED).checks
    return next(each for each in checks if each.check == "test equipment")


def piece(centre: Centre, kind: str, until: date | None, uncertainty: float | None = 0.1) -> int:
    unit = {"manometer": "mbar", "analyser": "%", "barometer": "mbar"}[kind]
    return centre.add(TestEquipment(kind=kind, name=f"Bench {kind}", serial=f"{kind}-1", uncertainty=uncertainty,
                                    unit=unit, last_good_day=until))  # fmt: skip


def test_what_was_tested_without_a_named_piece_asks_nothing_of_equipment(centre: Centre) -> None:
    assert answer(centre).result is Result.OK


def test_a_gauge_out_of_date_when_it_was_used_advises_and_names_the_test(centre: Centre) -> None:
    # For other tests than of cells it advises: common practice, no published source.
    stale = piece(centre, "manometer", centre.today - timedelta(days=3))
    centre.test(centre.one, "loop negative", None, 1, equipment_id=stale)
    said = answer(centre)
    assert said.result is Result.ADVISE
    assert "Bench manometer manometer-1, loop negative: out of date when used" in said.evidence


def test_a_gauge_that_ran_out_after_it_was_used_is_no_matter(centre: Centre) -> None:
    used = centre.today - timedelta(days=2)
    centre.test(centre.one, "loop negative", None, 2, equipment_id=piece(centre, "manometer", used))
    assert answer(centre).result is Result.OK


def test_an_analyser_out_of_date_at_the_calibration_stops(centre: Centre) -> None:
    # For cells it stops: common practice, no published source.
    stale = piece(centre, "analyser", None)
    with centre.workplace.database.read_session() as session:
        key = session.query(Calibration).filter_by(unit_id=centre.one).one().id
    centre.change(Calibration, key, analyser_id=stale)
    said = answer(centre)
    assert said.result is Result.STOP
    assert "not known to be in date" in said.evidence


@pytest.mark.parametrize("kind", ["analyser", "barometer"])
def test_a_calibration_with_what_states_no_uncertainty_is_told(centre: Centre, kind: str) -> None:
    # Missing data never pass for good: the unit's release says what is not known.
    unstated = piece(centre, kind, centre.today + timedelta(days=90), uncertainty=None)
    with centre.workplace.database.read_session() as session:
        key = session.query(Calibration).filter_by(unit_id=centre.one).one().id
    centre.change(Calibration, key, **{f"{kind}_id": unstated})
    said = answer(centre)
    assert said.result is Result.ADVISE
    assert f"Bench {kind} {kind}-1, calibration: its uncertainty is not recorded" in said.evidence


def test_cells_verified_at_height_only_are_told_where_the_unit_is_used(centre: Centre) -> None:
    # 640 mbar is the standard atmosphere of 3700 m (ISO 2533): pure oxygen there shows a cell no more than 0.64 bar.
    days = (centre.today, centre.today)

    def calibration() -> Any:
        checks = assess_unit(centre.workplace, "LK-01", *days, HandoverKind.ASSEMBLED).checks
        return next(each for each in checks if each.check == "workshop calibration")

    assert "verified only" not in calibration().evidence
    with centre.workplace.database.read_session() as session:
        keys = [row.id for row in session.query(CalibrationOutcome).filter(CalibrationOutcome.verdict == "pass")]
        pots = [row.id for row in session.query(CalibrationReading).filter_by(point="pot")]
    for key in keys:
        centre.change(CalibrationOutcome, key, verified_up_to_bar=0.62)
    assert "verified only" not in calibration().evidence, "a pressure pot showed more since they were fitted"
    for key in pots:
        centre.change(CalibrationReading, key, point="settling")
    said = calibration()
    assert said.result is Result.ADVISE
    assert "verified only up to 0.62 bar of oxygen" in said.evidence


def test_what_was_measured_on_a_part_that_has_left_the_unit_bears_on_nothing(centre: Centre) -> None:
    stale = piece(centre, "manometer", centre.today - timedelta(days=30))
    with centre.workplace.database.read_session() as session:
        elsewhere = session.query(BenchTest).filter_by(unit_id=centre.two, kind="battery voltage").one().part_id
    centre.test(centre.one, "opening pressure", None, 1, equipment_id=stale, part_id=elsewhere, value=30, unit="mbar")
    assert answer(centre).result is Result.OK


def test_a_fill_packed_from_a_lot_under_a_stopping_notice_holds_the_unit(centre: Centre) -> None:
    days = (centre.today, centre.today)
    fill = centre.pack()
    notice = centre.add(Notice(number="N-1", issued_on=centre.today, title="dusty granules", text="",
                               action="discard it", weight="stop"))  # fmt: skip
    centre.add(NoticeScope(notice_id=notice, covers="lot", first="F-1"))

    def told() -> list[str]:
        checks = assess_unit(centre.workplace, "LK-01", *days, HandoverKind.ASSEMBLED).checks
        return [each.evidence for each in checks if each.result is Result.STOP and "dusty granules" in each.evidence]

    assert len(told()) == 1
    centre.change(Fill, fill, discarded_at=centre.clock(), why_discarded="recalled")
    assert told() == []
