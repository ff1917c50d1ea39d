"""Freshness limits as data: a unit type's own figure, else the centre's, else the trade's (common practice)."""

from datetime import timedelta
from typing import Any

import pytest

from fleetbench.calc.readiness.judge import Freshness, HandoverKind
from fleetbench.records.places.reads import LimitRecord
from fleetbench.records.places.tables import Limit
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import list_due
from fleetbench.workshop.readiness.ready import FreshnessBook, assess_unit
from tests.centres.ready_centre import Centre


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> Centre:
    """The small centre, its units fit to leave."""
    return Centre(workplace, clock)


def stated(unit_type: int | None, name: str, amount: float, unit: str = "days") -> LimitRecord:
    return LimitRecord(unit_type, None, name, amount, unit, "the centre's own rule", False)


def test_without_a_figure_of_its_own_the_trades_default_stands() -> None:
    assert FreshnessBook(()).of(1).calibration == Freshness(30, 7)
    assert FreshnessBook([stated(1, "workshop calibration", 10, "h")]).of(1).calibration == Freshness(30, 7)


def test_a_unit_types_figure_stands_above_the_centres_and_an_advice_never_after_the_stop() -> None:
    book = FreshnessBook([stated(None, "workshop calibration", 20), stated(2, "workshop calibration", 5)])
    assert book.of(1).calibration == Freshness(20, 7, "the centre's own rule")
    assert book.of(2).calibration == Freshness(5, 5, "the centre's own rule")


def test_the_band_of_a_handset_back_in_air_is_the_centres_to_replace() -> None:
    rows = [
        stated(None, "handset back in air, minimum", 0.2, "bar"),
        stated(2, "handset back in air, minimum", 0.195, "bar"),
        stated(None, "handset back in air, advise off", 5, "%"),
        stated(None, "handset back in air, maximum", 230, "mbar"),
    ]
    centre, own = FreshnessBook(rows).of(1), FreshnessBook(rows).of(2)
    assert (centre.air_least_bar, centre.air_most_bar, centre.air_off_advise) == (0.2, 0.23, pytest.approx(0.05))
    assert (own.air_least_bar, own.air_source) == (0.195, "the centre's own rule")
    assert centre.source != centre.air_source


def test_readiness_and_the_due_list_go_by_the_figure_in_force(centre: Centre) -> None:
    kind = centre.keys.centre.unit_type
    facts = {"unit": "days", "source": "invented manual", "maker": True, "unit_type_id": kind}
    centre.add(Limit(name="workshop calibration", amount=4, **facts))
    centre.add(Limit(name="one-way valves and loop", amount=6, **facts))
    done = centre.today - timedelta(days=2)
    items = {item.item: item.last_good_day for item in list_due(centre.workplace) if item.unit == "LK-01"}
    assert items["workshop calibration"] == done + timedelta(days=4)
    assert items["loop negative test"] == done + timedelta(days=6)
    after = centre.today + timedelta(days=3)
    answer = assess_unit(centre.workplace, "LK-01", after, after, HandoverKind.KIT)
    assert [check.check for check in answer.stops] == ["workshop calibration"]
    assert "invented manual" in answer.stops[0].rule
