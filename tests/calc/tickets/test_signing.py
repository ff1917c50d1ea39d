"""Signing a ticket: common practice, no published source; a unit opened for work is tested before it is released."""

from datetime import UTC, datetime, timedelta

import pytest

from fleetbench.calc.tickets.signing import RELEASE_TESTS, TaskFact, TicketTest, why_not_signable

OPENED = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
DONE = (TaskFact("replace the exhale valve", "done"),)


def passed(kind: str, direction: str | None = None, *, minutes: int = 30, good: bool = True) -> TicketTest:
    return TicketTest(kind, direction, OPENED + timedelta(minutes=minutes), good)


FULL = (
    passed("one-way valve", "inhale"),
    passed("one-way valve", "exhale"),
    passed("loop negative"),
    passed("loop positive"),
)


def reasons(**changes: object) -> tuple[str, ...]:
    facts: dict[str, object] = {"signed": False, "tasks": DONE, "findings": 0, "opened": OPENED, "tests": FULL}
    return why_not_signable(**(facts | changes))  # type: ignore[arg-type]


def test_ticket_with_every_task_done_and_every_test_passed_may_be_signed() -> None:
    assert reasons() == ()


def test_signed_ticket_is_never_signed_again() -> None:
    assert "signed already" in reasons(signed=True)[0]


def test_task_still_to_do_is_named() -> None:
    assert "still to do" in reasons(tasks=(TaskFact("pack the canister", "to do"),))[0]


@pytest.mark.parametrize("reason", [None, "", "   "])
def test_task_put_off_needs_a_reason(reason: str | None) -> None:
    assert "without a reason" in reasons(tasks=(TaskFact("new hose", "put off", reason),))[0]


def test_ticket_without_a_word_cannot_be_signed() -> None:
    assert "no task and no finding" in reasons(tasks=())[0]
    assert reasons(tasks=(), findings=1) == ()


@pytest.mark.parametrize("kind", RELEASE_TESTS)
def test_each_release_test_is_asked_for_after_an_opening(kind: str) -> None:
    said = reasons(tests=tuple(test for test in FULL if test.kind != kind))
    assert len(said) == 1
    assert said[0].startswith(kind)


@pytest.mark.parametrize("direction", ["inhale", "exhale"])
def test_one_way_valves_are_asked_for_in_each_direction(direction: str) -> None:
    assert len(reasons(tests=tuple(test for test in FULL if test.direction != direction))) == 1


def test_one_test_in_both_directions_serves() -> None:
    assert reasons(tests=(passed("one-way valve", "both"), *FULL[2:])) == ()


def test_test_before_the_opening_proves_nothing() -> None:
    early = tuple(passed(test.kind, test.direction, minutes=-1) for test in FULL)
    assert len(reasons(tests=early)) == len(RELEASE_TESTS)


def test_later_failure_undoes_an_earlier_pass() -> None:
    assert reasons(tests=(*FULL, passed("loop negative", minutes=60, good=False)))
    assert not reasons(tests=(passed("loop negative", minutes=5, good=False), *FULL))


def test_unit_that_was_not_opened_needs_no_release_test() -> None:
    assert reasons(opened=None, tests=()) == ()
