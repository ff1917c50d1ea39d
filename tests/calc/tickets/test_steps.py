"""The steps of a service task: what each lacks, and where a figure lies against its limits.

That a step is settled by its record and never by a word: common practice, no published source.
"""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as some

from fleetbench.calc.tickets.steps import (
    PlanStep,
    StepGiven,
    Within,
    asks,
    band,
    step_lacks,
    step_state,
    steps_lacking,
    steps_left_out,
    within,
)
from tests.independent.steps import figure_verdict

BASE = {"text": "x", "source": "invented manual"}
PRESSURE = PlanStep(kind="figure", what="Intermediate pressure", unit="bar", low=9, high=10, before=True, **BASE)
TORQUE = PlanStep(kind="torque", amount=2.5, tolerance=0.1, **BASE)
SEAL = PlanStep(kind="seal", what="cell port", size="12 x 2", replace=True, part_type_id=7, **BASE)
GREASE = PlanStep(kind="lubricant", what="Grease O", oxygen=True, **BASE)
KIT = PlanStep(kind="parts", part_type_id=7, amount=3, **BASE)
PICTURE = PlanStep(kind="photograph", **BASE)
SECOND = PlanStep(kind="second person", **BASE)
DONE = StepGiven(state="done")


def test_every_kind_is_settled_by_its_own_evidence_and_by_nothing_less() -> None:
    cases = (
        (PlanStep(kind="work", **BASE), {}, ()),
        (PRESSURE, {}, ("before", "after")),
        (PRESSURE, {"after": 9.5}, ("before",)),
        (PRESSURE, {"before": 12.0, "after": 10.1}, ("after",)),
        (PRESSURE, {"before": 12.0, "after": 10.0}, ()),
        (TORQUE, {}, ("torque",)),
        (TORQUE, {"after": 2.39}, ("torque",)),
        (TORQUE, {"after": 2.4}, ()),
        (replace(TORQUE, amount=None, tolerance=None), {"after": 2.5}, ("torque",)),
        (SEAL, {"seal": "inspected"}, ("seal",)),
        (SEAL, {"seal": "replaced"}, ("parts",)),
        (SEAL, {"seal": "replaced", "pieces": 1}, ()),
        (replace(SEAL, replace=False), {"seal": "inspected"}, ()),
        (GREASE, {"lubricant": "grease  o", "lot": "G-1", "oxygen_compatible": True}, ()),
        (GREASE, {"lubricant": "Grease O", "lot": "G-1"}, ("oxygen-compatible",)),
        (GREASE, {"lubricant": "Grease P", "lot": " ", "oxygen_compatible": True}, ("lubricant", "lot")),
        (KIT, {"pieces": 2}, ("parts",)),
        (KIT, {"pieces": 3}, ()),
        (PICTURE, {}, ("photograph",)),
        (PICTURE, {"photographed": True}, ()),
        (SECOND, {}, ("second person",)),
        (SECOND, {"seconded": True}, ()),
    )
    for step, entered, fields in cases:
        lacks = step_lacks(step, replace(DONE, **entered))
        assert tuple(each.split(":")[0] for each in lacks) == fields, (step.kind, entered)
        assert step_state(step, replace(DONE, **entered)) == ("to do" if fields else "done")


def test_a_step_is_left_out_with_a_reason_only_and_keeps_its_task_from_counting() -> None:
    out = StepGiven(state="left out", reason="no wrench")
    assert step_lacks(TORQUE, out) == () and step_lacks(TORQUE, replace(out, reason=" ")) != ()
    steps = (("1.1", TORQUE, out), ("1.2", TORQUE, replace(DONE, after=2.5)), ("1.3", TORQUE, StepGiven()))
    assert [each[:8] for each in steps_lacking(steps)] == ["step 1.3"]
    assert [each[:8] for each in steps_left_out(steps)] == ["step 1.1", "step 1.3"]
    assert "no wrench" in steps_left_out(steps)[0]


TENTHS = some.integers(-500, 500).map(lambda whole: whole / 10)


@given(TENTHS, TENTHS | some.none(), TENTHS | some.none())
def test_a_figure_is_judged_as_an_independent_recomputation_judges_it(
    value: float, low: float | None, high: float | None
) -> None:
    step = replace(PRESSURE, low=low, high=high)
    assert within(step, value).value == figure_verdict(repr(value), repr(low), repr(high))


@given(some.integers(1, 400), some.integers(0, 60), some.integers(1, 500))
def test_a_torque_is_judged_by_its_tolerance_to_the_last_digit_that_was_typed(
    stated: int, tolerance: int, seen: int
) -> None:
    step = replace(TORQUE, amount=stated / 10, tolerance=tolerance / 10)
    low, high = stated - tolerance, stated + tolerance
    expected = Within.BELOW if seen < low else Within.ABOVE if seen > high else Within.IN
    assert within(step, seen / 10) is expected


def test_a_figure_without_limits_is_kept_and_said_to_be_not_judged() -> None:
    free = replace(PRESSURE, low=None, high=None, before=False)
    assert within(free, 3.0) is Within.NOT_JUDGED and step_lacks(free, replace(DONE, after=3.0)) == ()
    assert band(free) == "no limits stated" and band(replace(free, low=9)) == "at least 9 bar"
    assert asks(TORQUE) == "torque 2.5 ± 0.1 N·m"


@pytest.mark.parametrize(
    ("step", "column"),
    [
        (PlanStep(kind="polish", **BASE), "kind"),
        (PlanStep(kind="work", text=" ", source="m"), "text"),
        (PlanStep(kind="work", text="x", source=""), "source"),
        (replace(PRESSURE, what=None), "what"),
        (replace(PRESSURE, unit=""), "unit"),
        (replace(PRESSURE, low=11), "high"),
        (replace(PRESSURE, low=float("nan")), "low"),
        (replace(TORQUE, tolerance=None), "tolerance"),
        (replace(TORQUE, amount=2500), "amount"),
        (replace(TORQUE, tolerance=2.5), "tolerance"),
        (replace(KIT, amount=1.5), "amount"),
        (replace(KIT, part_type_id=None), "part_type_id"),
        (replace(PICTURE, size="12 x 2"), "size"),
        (replace(TORQUE, oxygen=True), "oxygen"),
    ],
)
def test_a_step_that_means_nothing_is_refused_by_its_column(step: PlanStep, column: str) -> None:
    assert column in [name for name, _remedy in step.faults()]


def test_a_sound_step_of_each_kind_has_no_fault() -> None:
    for step in (PRESSURE, TORQUE, SEAL, GREASE, KIT, PICTURE, SECOND, replace(TORQUE, amount=None, tolerance=None)):
        assert step.faults() == ()
