"""Sensors against a reference and figures that stand by themselves.

Guard band: JCGM 106:2012, 8.3.2, worked by hand. That what is not known never passes is common practice, no published
source. Limits and readings are invented.
"""

import pytest

from fleetbench.calc.bench.measured import Instrument, Measured, TwoEnded
from fleetbench.calc.bench.sensors import SENSOR_TESTS, against_reference, asked_of_slot, own_figure
from fleetbench.calc.readiness.limits import BY_NAME
from fleetbench.calc.tickets.signing import TEST_KINDS

TEST = {each.kind: each for each in SENSOR_TESTS}
THERMOMETER = Instrument("Bath thermometer", 0.1, in_date=True)


def warm(
    *shown: float, reference: float | None = 20.0, tool: Instrument | None = THERMOMETER, tolerance: float | None
) -> Measured:
    return against_reference(shown, test=TEST["temperature stick"], reference=reference, reference_u=None, tool=tool,
                             tolerance=tolerance, source="manual")  # fmt: skip


@pytest.mark.parametrize(
    ("shown", "verdict"),
    # 2 x 0.1 C of the thermometer: an error of 0.79 C lies inside 1 C with its interval, 0.9 C across it.
    [(20.79, "pass"), (20.9, "repeat"), (21.3, "reject"), (19.21, "pass"), (18.7, "reject")],
)
def test_a_stick_is_judged_by_its_error_with_the_thermometers_own_uncertainty(shown: float, verdict: str) -> None:
    assert warm(shown, tolerance=1.0).verdict == verdict


def test_what_is_not_known_never_passes() -> None:
    assert warm(20.0, tolerance=None).verdict == "repeat"
    assert warm(20.0, tolerance=1.0, reference=None).verdict == "repeat"
    assert warm(20.0, tolerance=1.0, tool=None).verdict == "repeat"
    assert warm(20.0, tolerance=1.0, tool=Instrument("T", None)).verdict == "repeat"
    assert warm(20.0, tolerance=1.0, tool=Instrument("T", 0.1, in_date=None)).verdict == "watch"
    assert warm(tolerance=1.0).verdict == "repeat"
    span = TEST["carbon dioxide span"]
    given = {"test": span, "tool": None, "tolerance": 10.0, "source": "manual"}
    assert against_reference([10.0], reference=10.0, reference_u=None, **given).verdict == "repeat"
    # 10 % of 10 mbar is 1 mbar: 10.7 ± 0.2 lies inside, 10.9 ± 0.2 across, 11.3 ± 0.2 outside.
    for shown, verdict in ((10.7, "pass"), (10.9, "repeat"), (11.3, "reject")):
        assert against_reference([shown], reference=10.0, reference_u=0.2, **given).verdict == verdict


def test_a_battery_under_load_counts_by_its_lowest_and_its_charges_as_they_are() -> None:
    load, limit = TEST["battery under load"], TwoEnded(3.4, None, "manual")
    meter = Instrument("Bench meter", 0.01, in_date=True)
    assert own_figure([3.8, 3.35, 3.6], test=load, tool=meter, limit=limit).verdict == "reject"
    assert own_figure([3.8, 3.6], test=load, tool=meter, limit=limit).verdict == "pass"
    assert own_figure([3.8], test=load, tool=None, limit=limit).verdict == "repeat"
    cycles, most = TEST["charge cycles"], TwoEnded(None, 300.0, "manual")
    for count, verdict in ((300, "pass"), (301, "reject")):
        assert own_figure([count], test=cycles, tool=None, limit=most).verdict == verdict
    assert own_figure([10], test=cycles, tool=None, limit=None).verdict == "repeat"


def test_a_test_is_asked_for_where_the_type_has_the_part_and_states_its_limit() -> None:
    assert asked_of_slot("carbon dioxide sensor", ()) == ()
    stated = {"carbon dioxide zero tolerance", "carbon dioxide span tolerance", "depth sensor tolerance"}
    assert [each.kind for each in asked_of_slot("carbon dioxide sensor", stated)] == [
        "carbon dioxide zero", "carbon dioxide span",
    ]  # fmt: skip
    assert [each.kind for each in asked_of_slot("handset", stated)] == ["depth sensor"]
    assert [each.kind for each in asked_of_slot("solenoid", {"solenoid pulse low"})] == []
    for test in SENSOR_TESTS:
        assert test.kind in TEST_KINDS and all(name in BY_NAME for name in test.limits)
