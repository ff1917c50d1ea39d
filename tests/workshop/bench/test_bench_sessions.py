"""A bench session: how long it holds, what ends it, and what is refused."""

from datetime import timedelta
from typing import Any

import pytest

from fleetbench.records.bench.tables import TestEquipment
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.workshop.bench.sessions import bench_equipment, current_session, end_session, open_session, why_over
from fleetbench.workshop.core.workplace import Workplace
from tests.centres.bench_centre import Keys, write_centre


@pytest.fixture
def workplace(sqlite_database: Database, clock: Any) -> Workplace:
    """An empty workplace on a SQLite file: the rules here are the same on either database."""
    return Workplace(sqlite_database, clock)


@pytest.fixture
def keys(workplace: Workplace, clock: Any) -> Keys:
    """The small centre, written."""
    return write_centre(workplace.database, clock())


@pytest.fixture
def bench(workplace: Workplace, keys: Keys) -> Workplace:
    """The workplace with the technician at the bench."""
    return workplace.as_person(keys.technician)


def opened(bench: Workplace, keys: Keys, **changed: Any) -> int:
    facts: dict[str, Any] = {
        "pressure_mbar": 1008.4, "temperature_c": 21.0, "humidity_percent": 45.0, "oxygen_shown_percent": 99.6,
        "analyser_id": keys.analyser, "barometer_id": keys.barometer, "hygrometer_id": keys.hygrometer,
    }  # fmt: skip
    return open_session(bench, **{**facts, **changed})


def test_a_session_holds_for_two_hours_and_then_no_longer(bench: Workplace, keys: Keys, clock: Any) -> None:
    key = opened(bench, keys)
    clock.advance(hours=2, seconds=-1)
    held = current_session(bench)
    assert held is not None and held.session_id == key
    clock.advance(seconds=1)
    assert current_session(bench) is None


def test_a_pressure_that_moved_two_millibar_or_another_gas_ends_it(bench: Workplace, keys: Keys) -> None:
    opened(bench, keys)
    assert current_session(bench, pressure_now_mbar=1010.3) is not None
    assert current_session(bench, pressure_now_mbar=1010.4) is None
    assert current_session(bench, gas_changed=True) is None


def test_why_a_session_is_over_says_what_to_do(clock: Any) -> None:
    said = why_over(clock(), 1000.0, now=clock() + timedelta(hours=3))
    assert said == "Two hours have passed: take conditions and gas again."


def test_a_new_session_ends_the_earlier_one_of_the_same_person_only(bench: Workplace, keys: Keys) -> None:
    opened(bench, keys)
    other = opened(bench.as_person(keys.manager), keys)
    second = opened(bench, keys, oxygen_shown_percent=98.9)
    mine, theirs = current_session(bench), current_session(bench.as_person(keys.manager))
    assert mine is not None and theirs is not None
    assert (mine.session_id, theirs.session_id) == (second, other)
    end_session(bench, second)
    assert current_session(bench) is None


def test_without_a_barometer_the_standard_pressure_of_the_altitude_is_taken_and_said(
    bench: Workplace, keys: Keys
) -> None:
    opened(bench, keys, pressure_mbar=None)
    held = current_session(bench)
    # ISO 2533:1975, 120 m: 1013.25 * (1 - 0.0065 * 120 / 288.15) ** 5.25588 = 998.91 mbar.
    assert held is not None and held.pressure_mbar == pytest.approx(998.91, abs=0.02)
    assert held.pressure_source == "altitude" and held.barometer is None
    assert any("altitude" in line for line in held.warnings)


def test_equipment_out_of_date_is_said(bench: Workplace, keys: Keys, clock: Any) -> None:
    with bench.transaction("lapse", "AN-1") as act:
        row = act.get(TestEquipment, keys.analyser, "analyser")
        act.change(row, last_good_day=clock().date() - timedelta(days=1))
    opened(bench, keys)
    held = current_session(bench)
    assert held is not None and held.analyser is not None and held.analyser.in_date is False
    assert any("past its last valid day" in line for line in held.warnings)


def test_equipment_to_choose_from_is_listed(bench: Workplace, keys: Keys) -> None:
    assert [tool.tool.kind for tool in bench_equipment(bench)] == ["analyser", "barometer", "hygrometer"]


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"pressure_mbar": 29.9}, "pressure"),
        ({"temperature_c": None}, "temperature"),
        ({"temperature_c": 70.0}, "temperature"),
        ({"humidity_percent": 101.0}, "humidity"),
        ({"oxygen_shown_percent": 101.2}, "oxygen"),
        ({"oxygen_shown_percent": 21.0}, "oxygen"),
        ({"analyser_id": None}, "analyser"),
        ({"analyser_id": 2}, "analyser"),
    ],
)
def test_a_wrong_figure_is_refused_with_the_field_named(
    bench: Workplace, keys: Keys, changed: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refused, match=f"^{field}: "):
        opened(bench, keys, **changed)


def test_nobody_at_the_bench_opens_no_session(workplace: Workplace, keys: Keys) -> None:
    with pytest.raises(Refused, match=r"^person: "):
        opened(workplace, keys)
