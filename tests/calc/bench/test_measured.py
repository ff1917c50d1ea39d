"""Measured tests: what an instrument does not state never passes, limits are guarded, time still wanted is told."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetbench.calc.bench.flow import LockUpLimit, RatedInjector
from fleetbench.calc.bench.leak import BackLeakLimit, LoopLimit, TestSign
from fleetbench.calc.bench.measured import (
    GaugeReading,
    Instrument,
    TwoEnded,
    back_leak_by_decay,
    back_leak_by_flow,
    figure,
    injector,
    lock_up,
    loop_by_gauge,
    opening,
    pulses,
    supply_word,
)
from fleetbench.calc.core.verdict import Verdict

PASS, WATCH, REPEAT, REJECT = list(Verdict)
GAUGE = Instrument("gauge", 0.02, 0.01, in_date=True)
MANOMETER = Instrument("manometer", 0.1, 0.1, in_date=True)
THERMOMETER = Instrument("thermometer", 0.1, 0.1, in_date=True)
METER = Instrument("flow meter", 0.01, 0.01, in_date=True)
STALE = Instrument("old gauge", 0.02, 0.01, in_date=False)
UNDATED = Instrument("undated gauge", 0.02, 0.01, in_date=None)
UNSTATED = Instrument("nameless gauge", None, None, in_date=True)
LIMIT = LockUpLimit(8.5, 10.0, "invented for this test")
LOOP_LIMIT = LoopLimit(3.0, "invented for this test")
RATED = RatedInjector(0.8, 10.0, 0.10, "invented for this test", blocked_from_ambient=True)


def watched(bar_at: Any, minutes: float = 5.0, every: float = 30.0) -> list[GaugeReading]:
    times = np.arange(0.0, minutes * 60 + 1, every)
    return [GaugeReading(float(time), round(bar_at(time / 60.0), 2)) for time in times]


def stage(readings: list[GaugeReading], gauge: Instrument | None = GAUGE, supply: float | None = 190.0) -> Any:
    return lock_up(readings, limit=LIMIT, gauge=gauge, supply_bar=supply)


def test_a_steady_regulator_passes_with_a_gauge_in_date_and_is_weakened_without() -> None:
    # Out of date advises outside cells: common practice, no published source.
    steady = watched(lambda _minutes: 9.4)
    assert stage(steady).verdict is PASS
    for gauge in (STALE, UNDATED):
        found = stage(steady, gauge)
        assert found.verdict is WATCH
        assert gauge.name in found.notes[0]


def test_a_creeping_regulator_is_rejected_and_need_not_be_watched_on() -> None:
    found = stage(watched(lambda minutes: 9.0 + 0.12 * minutes))
    assert found.verdict is REJECT
    assert found.sentence.startswith("Creeps")
    assert found.seconds_left == 0.0


@pytest.mark.parametrize(("gauge", "supply"), [(UNSTATED, 190.0), (None, 190.0), (GAUGE, None)])
def test_a_regulator_never_passes_on_what_is_not_known(gauge: Instrument | None, supply: float | None) -> None:
    assert stage(watched(lambda _minutes: 9.4), gauge, supply).verdict is REPEAT


def test_a_regulator_is_not_passed_without_the_types_limits() -> None:
    found = lock_up(watched(lambda _m: 9.4), limit=None, gauge=GAUGE, supply_bar=190.0)
    assert found.verdict is REPEAT
    assert "enter the manual's" in found.sentence


@pytest.mark.parametrize(
    ("bar", "verdict"), [(9.95, PASS), (9.97, REPEAT), (10.01, REJECT), (8.53, REPEAT), (8.55, PASS)]
)
def test_where_it_ends_is_guard_banded_with_the_gauges_own_uncertainty(bar: float, verdict: Verdict) -> None:
    # JCGM 106:2012, 8.3.2: 2 x 0.02 bar must fit inside both limits.
    assert stage(watched(lambda _minutes: bar)).verdict is verdict


def test_how_long_it_must_still_be_watched_is_told() -> None:
    assert stage(watched(lambda _m: 9.4, minutes=2.0)).seconds_left == pytest.approx(180.0)
    assert stage(watched(lambda _m: 9.4, minutes=0.5)).seconds_left == pytest.approx(270.0)
    assert stage([]).seconds_left == pytest.approx(300.0)


def loop(readings: list[GaugeReading], **changed: Any) -> Any:
    facts: dict[str, Any] = {
        "sign": TestSign.POSITIVE, "ambient_mbar": 1010.0, "volume_l": 6.0, "manometer": MANOMETER,
        "thermometer": THERMOMETER, "held": True, "eye_limit": LOOP_LIMIT, "leak_limit_ml_min": None,
    }  # fmt: skip
    return loop_by_gauge(readings, **{**facts, **changed})


HELD = [GaugeReading(60.0 * n, 30.0 - 0.1 * n, 20.0) for n in range(4)]


def test_a_loop_that_held_by_eye_passes_and_its_figure_is_only_for_the_trend() -> None:
    # By eye is full evidence: common practice, no published source; ASTM E2930 leaves deformable vessels out.
    found = loop(HELD)
    assert found.verdict is PASS
    assert any("indicative" in note for note in found.notes)
    assert found.value == pytest.approx(0.1 * 6.0 * 1000 / 1013.25, rel=1e-6)


@pytest.mark.parametrize(("limit", "held", "verdict"), [(5.0, True, PASS), (0.3, True, REJECT), (5.0, None, PASS),
                                                        (0.7, True, REPEAT), (5.0, False, REJECT)])  # fmt: skip
def test_where_the_type_states_a_leak_the_worse_answer_stands(
    limit: float, held: bool | None, verdict: Verdict
) -> None:
    fine = Instrument("fine manometer", 0.01, 0.01, in_date=True)
    still = Instrument("fine thermometer", 0.005, 0.01, in_date=True)
    assert loop(HELD, leak_limit_ml_min=limit, held=held, manometer=fine, thermometer=still).verdict is verdict


def test_without_an_eye_or_a_limit_nothing_is_decided() -> None:
    assert loop(HELD, held=None).verdict is REPEAT


def test_the_same_drop_under_and_over_the_rooms_pressure_is_a_leak_of_the_same_size() -> None:
    under = loop(HELD, sign=TestSign.NEGATIVE)
    assert under.value == pytest.approx(loop(HELD).value, rel=1e-9)


def test_a_gas_temperature_that_was_not_read_widens_the_interval() -> None:
    unread = [GaugeReading(each.seconds, each.gauge) for each in HELD]
    assert loop(unread).expanded_u > 3 * loop(HELD).expanded_u


def test_a_leak_near_its_limit_says_how_long_it_takes_to_see() -> None:
    short = [GaugeReading(0.0, 30.0, 20.0), GaugeReading(10.0, 30.0, 20.0)]
    found = loop(short, leak_limit_ml_min=2.0, eye_limit=None)
    # Two digits of 0.1 mbar, rectangular, k = 2, in 6 L at 1010 mbar: the time after which they make 2 mL/min.
    needed = 2.0 * math.sqrt(2.0) * 0.1 / math.sqrt(12.0) * 6.0 * 60.0 * 1000.0 / 1013.25 / 2.0
    assert found.seconds_left == pytest.approx(needed - 10.0, rel=0.02)


def test_pressure_that_rises_in_a_positive_test_is_refused() -> None:
    rising = [GaugeReading(0.0, 20.0, 20.0), GaugeReading(60.0, 40.0, 20.0)]
    with pytest.raises(ValueError, match=r"^pressure_mbar: it rises"):
        loop(rising)


@pytest.mark.parametrize(
    ("flows", "suction", "verdict"),
    [([20.0, 20.0], 2.5, PASS), ([29.0], 2.5, REPEAT), ([35.0, 36.0], 2.5, REJECT), ([20.0], 1.0, REPEAT),
     ([20.0], None, REPEAT), ([], 2.5, REPEAT)],
)  # fmt: skip
def test_a_back_leak_is_judged_at_the_published_suction(
    flows: list[float], suction: float | None, verdict: Verdict
) -> None:
    # 42 CFR 84.182: 30 mL/min at 25 mm of water column, dry valve.
    meter = Instrument("flow meter", 1.0, 1.0, in_date=True)
    limit = BackLeakLimit()
    assert (
        back_leak_by_flow(flows, suction_mbar=suction, meter=meter, manometer=MANOMETER, limit=limit).verdict is verdict
    )


def test_a_back_leak_by_pressure_change_is_the_same_leak_as_by_hand() -> None:
    # 0.1 L rigid, 4.00 to 3.00 mbar under 1010 mbar in 60 s at 20 C: 1 mbar x 0.1 L a minute = 0.0987 mL/min.
    fine = Instrument("fine manometer", 0.01, 0.01, in_date=True)
    rows = [GaugeReading(0.0, 4.0, 20.0), GaugeReading(60.0, 3.0, 20.0)]
    found = back_leak_by_decay(rows, ambient_mbar=1010.0, volume_l=0.1, manometer=fine, thermometer=THERMOMETER,
                               limit=BackLeakLimit())  # fmt: skip
    assert found.value == pytest.approx(0.1 * 1000 / 1013.25, rel=1e-6)
    assert found.verdict is PASS


OPENS = TwoEnded(20.0, 30.0, "invented for this test")


@pytest.mark.parametrize(
    ("trials", "limit", "gauge", "verdict"),
    [
        ([25.0, 25.4, 24.8], OPENS, MANOMETER, PASS),
        ([25.0], OPENS, MANOMETER, REPEAT),
        ([31.0, 31.0], OPENS, MANOMETER, REJECT),
        ([20.1, 20.1], OPENS, MANOMETER, REPEAT),
        ([25.0, 25.0], None, MANOMETER, REPEAT),
        ([25.0, 25.0], OPENS, UNSTATED, REPEAT),
    ],
)
def test_an_opening_pressure_needs_repeats_a_limit_and_a_known_gauge(
    trials: list[float], limit: TwoEnded | None, gauge: Instrument, verdict: Verdict
) -> None:
    assert opening(trials, limit=limit, gauge=gauge).verdict is verdict


def flow(measured: float, **changed: Any) -> Any:
    facts: dict[str, Any] = {"rated": RATED, "upstream_gauge_bar": 8.98675, "ambient_bar": 1.01325,
                             "temperature_c": 20.0, "meter": METER, "gauge": GAUGE}  # fmt: skip
    return injector([measured, measured], **{**facts, **changed})


@pytest.mark.parametrize(
    ("measured", "verdict"), [(0.80, PASS), (0.87, REPEAT), (0.89, REJECT), (0.73, REPEAT), (0.71, REJECT)]
)
def test_an_injector_is_judged_on_both_sides_with_the_pressures_uncertainty(measured: float, verdict: Verdict) -> None:
    assert flow(measured).verdict is verdict


def test_the_uncertainty_of_an_injector_holds_flow_and_pressure() -> None:
    # JCGM 100:2008, 5.1.2: independent terms in quadrature, k = 2; expected flow is in proportion to pressure.
    assert flow(0.80).expanded_u == pytest.approx(math.hypot(2 * 0.01, 2 * 0.02 / 10.0 * 0.8))


def test_the_choked_depth_is_told_only_of_a_blocked_first_stage() -> None:
    assert "choked down to 42 m" in flow(0.80).notes[0]
    open_stage = RatedInjector(0.8, 10.0, 0.10, "invented", blocked_from_ambient=False)
    assert "no such depth" in flow(0.80, rated=open_stage).notes[0]


@pytest.mark.parametrize("missing", ["rated", "upstream_gauge_bar", "temperature_c", "meter", "gauge"])
def test_an_injector_never_passes_on_what_is_not_known(missing: str) -> None:
    assert flow(0.80, **{missing: None}).verdict is REPEAT


@pytest.mark.parametrize(("volume", "verdict"), [(500.0, PASS), (602.0, REJECT), (402.0, REPEAT)])
def test_a_solenoid_is_judged_by_its_gas_a_pulse(volume: float, verdict: Verdict) -> None:
    limit, meter = TwoEnded(40.0, 60.0, "invented"), Instrument("meter", 2.0, 1.0, in_date=True)
    assert pulses([volume], counted=10, limit=limit, meter=meter).verdict is verdict


def test_a_figure_with_one_limit_is_guarded_at_that_end() -> None:
    limit, meter = TwoEnded(3.6, None, "invented"), Instrument("meter", 0.01, 0.01, in_date=True)
    answers = [figure(value, limit=limit, unit="V", meter=meter).verdict for value in (3.7, 3.61, 3.59, None)]
    assert answers == [PASS, REPEAT, REJECT, REPEAT]


@given(bar=st.floats(8.5, 10.0), u=st.floats(0.001, 0.5))
def test_a_coarser_gauge_never_passes_what_a_finer_one_does_not(bar: float, u: float) -> None:
    order = list(Verdict)
    fine, coarse = (Instrument("gauge", each, 0.01, in_date=True) for each in (u, 2 * u))
    found = [stage(watched(lambda _m: bar), gauge).verdict for gauge in (fine, coarse)]
    assert order.index(found[1]) >= order.index(found[0])


def test_a_supply_is_full_low_or_between() -> None:
    # Common practice, no published source.
    assert [supply_word(bar) for bar in (190.0, 50.0, 100.0, None)] == ["full", "low", "between", "not known"]
