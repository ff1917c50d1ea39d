"""Which measured figures are taken, asked about and refused, against values outside the program."""

import pytest

from fleetbench.calc.core import plausible as table
from fleetbench.calc.core.plausible import Likely, Quantity, battery_usual, depth_usual, plausible

QUANTITIES = [each for each in vars(table).values() if isinstance(each, Quantity)]


def likely(quantity: Quantity, value: float, **known: object) -> Likely:
    return plausible(quantity, value, **known).likely  # type: ignore[arg-type]


@pytest.mark.parametrize("quantity", QUANTITIES, ids=[each.name for each in QUANTITIES])
def test_every_quantity_says_its_range_its_reason_and_its_remedy(quantity: Quantity) -> None:
    assert quantity.low < quantity.high and quantity.why and quantity.remedy
    if quantity.usual is not None:
        assert quantity.low <= quantity.usual[0] < quantity.usual[1] <= quantity.high
    for absurd in (quantity.low - 1, quantity.high * 1.01 + 1, float("nan"), float("inf")):
        found = plausible(quantity, absurd)
        assert found.likely is Likely.REFUSE and f"{quantity.low:g} to {quantity.high:g}" in found.words


@pytest.mark.parametrize("mbar", [870.0, 1083.8])
def test_the_extremes_of_weather_at_sea_level_are_never_refused(mbar: float) -> None:
    # WMO World Weather and Climate Extremes Archive: 870 hPa in typhoon Tip, 1083.8 hPa at Agata; from memory.
    assert likely(table.ROOM_PRESSURE, mbar) is not Likely.REFUSE


def test_the_fall_of_an_exceptional_storm_is_taken_over_a_day_and_asked_about_within_minutes() -> None:
    # Sanders and Gyakum, Monthly Weather Review 108 (1980) 1589: a fall of 24 hPa in 24 h; from memory.
    assert likely(table.ROOM_PRESSURE, 989.0, last=1013.0, hours=24.0) is Likely.FINE
    assert likely(table.ROOM_PRESSURE, 989.0, last=1013.0, hours=0.1) is Likely.ASK


def test_a_barometer_misread_by_100_mbar_is_asked_about_whatever_is_known() -> None:
    for hours in (0.05, 2.0, None):
        assert likely(table.ROOM_PRESSURE, 913.0, last=1013.0, hours=hours) is Likely.ASK


@pytest.mark.parametrize(("fresh", "replace"), [(1.6, 1.1), (4.2, 3.5), (9.6, 7.5), (3.2, 2.7)])
def test_a_fresh_battery_is_taken_and_its_tenfold_is_asked_about(fresh: float, replace: float) -> None:
    # Open-circuit voltages of fresh alkaline, lithium ion, 9 V block and lithium cells; from memory.
    usual = battery_usual(replace)
    assert likely(table.BATTERY, fresh, usual=usual) is Likely.FINE
    assert likely(table.BATTERY, 10 * fresh, usual=usual) in (Likely.ASK, Likely.REFUSE)
    assert likely(table.BATTERY, fresh / 10, usual=usual) is Likely.ASK


def test_what_a_technician_mistyped_on_one_day_is_asked_about_or_refused() -> None:
    assert likely(table.BATTERY, 41.0, last=4.05, usual=battery_usual(3.5)) is not Likely.FINE
    assert likely(table.GAUGE, 102.0) is Likely.REFUSE
    assert likely(table.LOOP_MINUTES, 650.0) is Likely.ASK
    assert likely(table.DEPTH, 180.0, usual=depth_usual(20.0)) is Likely.ASK
    assert likely(table.DEPTH, 22.0, usual=depth_usual(20.0)) is Likely.FINE
    assert likely(table.PURE_OXYGEN, 21.2) is Likely.ASK


@pytest.mark.parametrize(
    ("quantity", "value", "known"),
    [
        (table.AIR_MV, 10.4, {"usual": (4.8, 16.9)}), (table.OXYGEN_MV, 49.8, {"usual": (27.0, 80.8)}),
        (table.ROOM_PRESSURE, 1013.0, {"last": 1012.0, "hours": 1.0}), (table.ROOM_TEMPERATURE, 21.0, {}),
        (table.GAUGE, 9.5, {}), (table.FLUSH_OXYGEN, 99.6, {}), (table.PURE_OXYGEN, 99.6, {}),
        (table.MIXED_OXYGEN, 21.0, {"last": 21.0}), (table.LOOP_MINUTES, 65.0, {}),
        (table.DEPTH, 18.0, {"usual": depth_usual(20.0)}), (table.HUMIDITY, 45.0, {}),
        (table.FILLED_MASS, 2900.0, {"last": 2850.0}), (table.CONTAINER_MASS, 20.0, {}),
    ],
)  # fmt: skip
def test_a_decimal_point_in_the_wrong_place_is_never_taken_in_silence(
    quantity: Quantity, value: float, known: dict[str, object]
) -> None:
    assert likely(quantity, value, **known) is Likely.FINE
    assert likely(quantity, value * 10, **known) is not Likely.FINE
    assert likely(quantity, value / 10, **known) is not Likely.FINE
