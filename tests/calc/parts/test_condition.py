"""One decision on the condition of a part: what a reject is lifted by, what a release rests on.

Common practice, no published source: a reject travels with the part until the same measurement shows it in limits, a
current-limited cell only by a point above 1 bar; what came out for a fault is measured before it goes in again.
"""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from fleetbench.calc.core.verdict import Verdict
from fleetbench.calc.parts.condition import (
    Aside,
    Condition,
    Judgement,
    PartFacts,
    condition,
    release,
    standing_reject,
)
from fleetbench.calc.parts.life import Governing, by_forecast

DAY = date(2026, 5, 4)


def on(day: int) -> datetime:
    return datetime(2026, 4, 1, 10, tzinfo=UTC) + timedelta(days=day)


def said(verdict: str, day: int, kind: str = "calibration", **more: Any) -> Judgement:
    return Judgement(kind, on(day), Verdict(verdict), f"{verdict} on day {day}", **more)


def facts(*judgements: Judgement, **more: Any) -> PartFacts:
    given = {"state": "stock", "today": DAY, "life": Governing(None), "measured_by": "calibration", **more}
    return PartFacts(judgements=judgements, **given)


@pytest.mark.parametrize(
    ("later", "stands"),
    [
        ((), True),
        ((said("repeat", 2),), True),
        ((said("repeat", 2), said("pass", 3)), False),
        ((said("watch", 2),), False),
        ((said("pass", 2, diver=True),), True),
        ((said("pass", 2, "intermediate pressure"),), True),
        ((said("pass", 2, "service"),), True),
    ],
)
def test_a_cells_reject_stands_until_the_workshop_calibrates_it_in_limits(
    later: tuple[Judgement, ...], stands: bool
) -> None:
    assert (standing_reject((said("reject", 1), *later)) is not None) is stands


@pytest.mark.parametrize(("reached", "stands"), [(None, True), (1.0, True), (1.4, True), (1.6, False)])
def test_current_limiting_is_lifted_by_a_point_above_1_bar_at_the_pressure_where_it_left_its_line(
    reached: float | None, stands: bool
) -> None:
    limited = said("reject", 1, limited_from_bar=1.59)
    assert (standing_reject((limited, said("pass", 2, verified_up_to_bar=reached))) is not None) is stands
    low = said("reject", 1, limited_from_bar=0.8)
    assert standing_reject((low, said("pass", 2, verified_up_to_bar=1.0))) is not None, "1 bar shows nothing above it"


def test_a_failed_test_is_lifted_by_one_at_the_same_supply_or_by_a_passed_service() -> None:
    low = said("reject", 1, "intermediate pressure, low supply")
    assert standing_reject((low, said("pass", 2, "intermediate pressure, full supply"))) is not None
    assert standing_reject((low, said("pass", 2, "intermediate pressure, low supply"))) is None
    assert standing_reject((low, said("pass", 2, "service"))) is None


def test_a_divers_reject_counts_until_the_next_calibration() -> None:
    assert standing_reject((said("pass", 1), said("reject", 2, diver=True))) is not None
    assert standing_reject((said("reject", 2, diver=True), said("pass", 3, diver=True))) is None
    assert standing_reject((said("reject", 2, diver=True), said("pass", 3))) is None


@pytest.mark.parametrize(
    ("given", "state"),
    [
        (facts(), "usable"),
        (facts(said("reject", 1)), "rejected"),
        (facts(said("reject", 1), state="fitted", calibrated=False), "rejected"),
        (facts(state="fitted", calibrated=False), "not calibrated"),
        (facts(state="quarantine"), "set aside"),
        (facts(against=("on hold: wet",)), "on hold"),
        (facts(state="quarantine", against=("on hold: wet",)), "on hold"),
        (facts(last=Verdict.REPEAT), "undecided"),
        (facts(last=Verdict.WATCH), "watch"),
        (facts(life=Governing(by_forecast(DAY - timedelta(days=1), "linearity"))), "past"),
        (facts(life=Governing(by_forecast(DAY, "linearity"))), "ends soon"),
        (facts(state="sent back"), "sent back"),
        (facts(said("reject", 1), state="scrapped"), "scrapped"),
    ],
)
def test_the_gravest_of_the_records_is_the_condition(given: PartFacts, state: str) -> None:
    found = condition(given)
    assert found.state == Condition(state)
    assert found.usable is (state in ("usable", "watch", "ends soon"))
    assert found.usable or found.why, "what is not usable says why"


def test_a_reject_that_was_lifted_is_told_with_what_lifted_it() -> None:
    found = condition(facts(said("reject", 1, source="LK-01, cell 2, by T1"), said("pass", 3)))
    assert found.state == Condition.USABLE and not found.against
    assert found.told == (
        "was rejected 2026-04-02 by calibration (LK-01, cell 2, by T1): reject on day 1; in limits again 2026-04-04",
    )


def test_a_release_is_refused_while_a_reject_stands_and_says_the_way() -> None:
    aside = Aside(on(5), "set aside 2026-04-06: removed for fault", fault=True)
    asked = release(facts(said("reject", 1), state="quarantine", aside=aside))
    assert "only a measurement in limits lifts it; fit it with 'only to test it'" in asked.refused[-1]
    limited = release(facts(said("reject", 1, limited_from_bar=1.59), state="quarantine", aside=aside))
    assert "only a pressure-pot point in limits at 1.59 bar or above" in limited.refused[-1]


def test_what_came_out_for_a_fault_is_released_on_a_measurement_in_limits_since() -> None:
    aside = Aside(on(5), "set aside 2026-04-06: removed for fault", fault=True)
    assert (
        "nothing measured since shows it in limits"
        in release(facts(said("pass", 4), state="quarantine", aside=aside)).refused[0]
    )
    stay = Aside(on(5), aside.words, fault=True, since=on(1))
    asked = release(facts(said("reject", 1), said("repeat", 2), said("pass", 4), state="quarantine", aside=stay))
    assert not asked.refused
    assert [each.at for each in asked.evidence] == [on(4)]
    assert asked.overrules == ("rejected 2026-04-02 by calibration: reject on day 1", aside.words)
    valve = facts(said("pass", 6, "service"), state="quarantine", aside=aside, measured_by="intermediate pressure")
    assert not release(valve).refused


def test_what_was_set_aside_by_hand_and_never_measured_bad_is_released_on_the_reason_alone() -> None:
    asked = release(facts(state="quarantine", aside=Aside(on(5), "set aside 2026-04-06: bag torn")))
    assert not asked.refused and asked.overrules == ("set aside 2026-04-06: bag torn",)
    hose = facts(state="quarantine", aside=Aside(on(5), "removed for fault", fault=True), measured_by=None)
    assert not release(hose).refused


def test_a_part_whose_loop_was_opened_is_not_good_before_its_test_and_says_what_is_lacking() -> None:
    answer = condition(
        facts(state="fitted", measured_by="one-way valve", untested="one-way valve not passed since then")
    )
    assert (answer.state, answer.usable, answer.against) == (Condition.NOT_TESTED, False, ())
    assert answer.told == ("one-way valve not passed since then: test it before it is relied on",)
    rejected = said("reject", 1, "one-way valve")
    assert condition(facts(rejected, state="fitted", untested="one-way valve")).state is Condition.REJECTED
