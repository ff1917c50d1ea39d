"""Each record that a check is fed from, broken alone, turns the answer with its reason.

Limits are common practice with no published source, as fleetbench.calc.readiness.limits states them.
"""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import update

from fleetbench.calc.core.verdict import Result
from fleetbench.calc.readiness.judge import Assessment, HandoverKind
from fleetbench.records.cells.tables import CalibrationOutcome, HandsetSetting
from fleetbench.records.core.database import Database
from fleetbench.records.hires.tables import Booking, BookingDiver
from fleetbench.records.people.tables import Qualification
from fleetbench.records.turn_rounds.tables import TurnRound
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.readiness.ready import assess_unit
from tests.centres.ready_centre import Centre

STOP, ADVISE = Result.STOP, Result.ADVISE


@pytest.fixture
def centre(sqlite_database: Database, clock: Any) -> Centre:
    """The small centre, its units fit to leave; LK-01 is hired from today."""
    return Centre(Workplace(sqlite_database, clock), clock)


def every(centre: Centre, table: Any, **values: Any) -> None:
    """Change every row of a table, behind the acts' back: only what is read from it counts here."""
    with centre.workplace.database.engine.begin() as connection:
        connection.execute(update(table).values(**values))


def older(centre: Centre, column: str, days: int) -> Any:
    return {column: centre.today - timedelta(days=days)}


def handset_was_never_calibrated(centre: Centre) -> None:
    every(centre, HandsetSetting, unit_id=centre.two)


def handset_shows_too_much_in_air(centre: Centre) -> None:
    every(centre, HandsetSetting, shown_air_bar=0.25)


def handset_was_not_read_in_air(centre: Centre) -> None:
    every(centre, HandsetSetting, shown_air_bar=None)


def handsets_lie_far_apart(centre: Centre) -> None:
    every(centre, CalibrationOutcome, reader_gap_bar=0.12)


def handsets_lie_apart(centre: Centre) -> None:
    every(centre, CalibrationOutcome, reader_gap_bar=0.07)


def cells_were_never_in_the_pot(centre: Centre) -> None:
    from fleetbench.records.cells.tables import CalibrationReading

    every(centre, CalibrationReading, point="zero")


def mouthpiece_valve_failed(centre: Centre) -> None:
    centre.test(centre.one, "mouthpiece valve", None, 0.5, "reject")


def signer_lapsed(centre: Centre) -> None:
    every(centre, Qualification, valid_until=centre.today - timedelta(days=30))


def card_was_signed_last_by_somebody_else(centre: Centre) -> None:
    renter = centre.keys.renter
    centre.add(TurnRound(unit_id=centre.one, opened_at=centre.ago(1), finished_at=centre.ago(0), finished_by_id=renter))


def divers_paper_ends_within_the_hire(centre: Centre) -> None:
    with centre.workplace.database.engine.begin() as connection:
        connection.execute(update(Qualification).where(Qualification.kind == "diver").values(valid_until=centre.today))


def diver_was_long_away(centre: Centre) -> None:
    every(centre, BookingDiver, **older(centre, "last_dive_on", 184))


def diver_is_a_student_without_an_instructor(centre: Centre) -> None:
    every(centre, Booking, kind="course")


BROKEN: tuple[tuple[Callable[[Centre], None], str, Result, str], ...] = (
    (handset_was_never_calibrated, "handset calibration", STOP, "handset 1: no calibration stored in it on record"),
    (handset_shows_too_much_in_air, "handset calibration", STOP, "handset 1: showed 0.25 bar back in air"),
    (handset_was_not_read_in_air, "handset calibration", ADVISE, "handset 1: not read back in air"),
    (handsets_lie_far_apart, "handset agreement", STOP, "cell 1: handsets 0.12 bar apart in oxygen"),
    (handsets_lie_apart, "handset agreement", ADVISE, "cell 1: handsets 0.07 bar apart in oxygen"),
    (cells_were_never_in_the_pot, "point above 1 bar", ADVISE, "cell 1: no point above 1 bar since it was fitted"),
    (mouthpiece_valve_failed, "bailout or mouthpiece valve", STOP, "mouthpiece valve: failed"),
    (signer_lapsed, "signer", STOP, "signed by Tamsin Orrel, not qualified for the type"),
    (card_was_signed_last_by_somebody_else, "signer", STOP, "signed by Ines Quell, not qualified for the type"),
    (divers_paper_ends_within_the_hire, "diver", STOP, "qualification none for this type"),
    (diver_was_long_away, "diver", ADVISE, "last dive on this type 2025-11-01, 184 days before hand-over"),
    (diver_is_a_student_without_an_instructor, "diver", STOP, "instructor not known to be current on this type"),
)


def answer(centre: Centre) -> Assessment:
    return assess_unit(centre.workplace, "LK-01", centre.today, centre.today + timedelta(days=2), HandoverKind.KIT)


@pytest.mark.parametrize(("broken", "check", "result", "words"), BROKEN, ids=[each[0].__name__ for each in BROKEN])
def test_a_record_broken_alone_turns_the_answer_with_its_reason(
    centre: Centre, broken: Callable[[Centre], None], check: str, result: Result, words: str
) -> None:
    before = {each.check: each.result for each in answer(centre).checks}
    assert before[check] is Result.OK
    broken(centre)
    found = {each.check: each for each in answer(centre).checks}
    assert found[check].result is result
    assert words in found[check].evidence
    assert found[check].remedy


def test_a_standing_acceptance_counts_through_its_end_date_and_no_longer(centre: Centre) -> None:
    from fleetbench.records.hires.tables import Acceptance

    handsets_lie_apart(centre)
    centre.add(
        Acceptance(unit_id=centre.one, check_name="handset agreement", until=centre.today + timedelta(days=2),
                   at=centre.ago(0), person_id=centre.keys.centre.manager, reason="seen")
    )  # fmt: skip
    (accepted,) = answer(centre).accepted
    assert accepted.accepted == f"accepted by Jarek Vinthe until {centre.today + timedelta(days=2)}: seen"
    centre.clock.advance(days=1)
    assert answer(centre).accepted == ()
