"""Placement of stock cells against trying every placement, on small invented stocks."""

from datetime import date, timedelta
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetbench.calc.cells.spread import (
    AGE_WORTH_DAYS,
    LOT_WORTH_DAYS,
    FittedCell,
    OpenSlot,
    StockCell,
    shared_causes,
    spread_cells,
)

TODAY = date(2031, 3, 1)


def cell(key: str, lot: str | None, age: int, left: int) -> StockCell:
    """A stock cell made ``age`` days ago with ``left`` days to go."""
    return StockCell(key, "cell", lot, TODAY - timedelta(days=age), TODAY + timedelta(days=left))


def slots(heads: str, each: int = 3) -> list[OpenSlot]:
    """Open slots of heads named by a letter."""
    return [OpenSlot(head, f"cell {place + 1}", ("cell",)) for head in heads for place in range(each)]


def test_two_lots_are_spread_over_two_heads() -> None:
    stock = [cell(f"a{i}", "lot A", 100, 200 + i) for i in range(2)] + [
        cell(f"b{i}", "lot B", 20, 300 + i) for i in range(2)
    ]
    plan = spread_cells(stock, slots("xy", 2), [], TODAY)
    assert plan.same_lot == 0 and not plan.empty and plan.proven
    for head in "xy":
        assert {placed.cell[0] for placed in plan.placements if placed.head == head} == {"a", "b"}


def test_among_equals_the_cell_soonest_to_expire_goes_first_and_costs_nothing() -> None:
    stock = [cell("late", "lot A", 10, 300), cell("soon", "lot A", 100, 90)]
    plan = spread_cells(stock, slots("x", 1), [], TODAY)
    assert [placed.cell for placed in plan.placements] == ["soon"]
    assert plan.cost_days == 0


def test_spreading_says_what_it_costs_in_days_of_life() -> None:
    stock = [cell("soon", "lot A", 100, 90), cell("other", "lot B", 10, 190)]
    plan = spread_cells(stock, slots("x", 1), [FittedCell("x", "lot A", TODAY - timedelta(days=300))], TODAY)
    assert [placed.cell for placed in plan.placements] == ["other"]
    assert plan.cost_days == 100


def test_spreading_is_not_bought_at_any_price() -> None:
    stock = [cell("soon", "lot A", 100, 40), cell("other", "lot B", 10, 400)]
    plan = spread_cells(stock, slots("x", 1), [FittedCell("x", "lot A", TODAY - timedelta(days=300))], TODAY)
    assert [placed.cell for placed in plan.placements] == ["soon"]
    assert plan.same_lot == 1


def test_expired_and_unfitting_cells_are_never_proposed() -> None:
    stock = [
        cell("dead", "lot A", 500, -1),
        StockCell("other type", "another", "lot B", TODAY, TODAY + timedelta(days=99)),
    ]
    plan = spread_cells(stock, slots("x", 1), [], TODAY)
    assert plan.placements == () and len(plan.empty) == 1


def test_a_cell_on_its_last_good_day_may_still_be_fitted() -> None:
    assert spread_cells([cell("last", "lot A", 300, 0)], slots("x", 1), [], TODAY).placements


def test_unknown_lots_count_as_one_lot() -> None:
    assert shared_causes([(None, TODAY), (None, TODAY - timedelta(days=200))]) == (1, 0)


def test_near_equal_age_of_different_lots_is_a_shared_cause() -> None:
    assert shared_causes([("A", TODAY), ("B", TODAY - timedelta(days=30)), ("C", TODAY - timedelta(days=90))]) == (0, 1)


def test_a_serial_twice_in_stock_is_refused() -> None:
    with pytest.raises(ValueError, match="stock"):
        spread_cells([cell("a", "A", 1, 9), cell("a", "A", 1, 9)], slots("x", 1), [], TODAY)


def worth(order: tuple[StockCell, ...], places: list[OpenSlot], staying: list[FittedCell]) -> float:
    """Cost in days of one placement, told again from the docstring's words."""
    total = float(sum((one.last_good_day - TODAY).days for one in order))
    for head in {place.head for place in places}:
        inside = [(one.lot, one.made) for one, place in zip(order, places, strict=True) if place.head == head]
        stay = [(one.lot, one.made) for one in staying if one.head == head]
        all_lots = [lot for lot, _ in inside + stay]
        before = len(stay) - len({lot for lot, _ in stay})
        total += LOT_WORTH_DAYS * (len(all_lots) - len(set(all_lots)) - before)
        members = inside + stay
        for i, first in enumerate(members):
            for j in range(i + 1, len(members)):
                second = members[j]
                both_stay = i >= len(inside)
                if not both_stay and first[0] != second[0] and abs((first[1] - second[1]).days) <= 30:
                    total += AGE_WORTH_DAYS
    return total


@settings(max_examples=20, deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from("ABC"), st.integers(0, 120), st.integers(10, 300)), min_size=4, max_size=6),
    st.sampled_from("ABC"),
)
def test_no_placement_of_a_small_stock_is_better(rows: list[tuple[str, int, int]], stays: str) -> None:
    stock = [cell(str(i), lot, age, left) for i, (lot, age, left) in enumerate(rows)]
    places = slots("xy", 2)
    staying = [FittedCell("x", stays, TODAY - timedelta(days=60))]
    plan = spread_cells(stock, places, staying, TODAY)
    by_key = {one.key: one for one in stock}
    chosen = tuple(by_key[placed.cell] for placed in plan.placements)
    best = min(worth(order, places, staying) for order in permutations(stock, len(places)))
    assert worth(chosen, places, staying) == pytest.approx(best)
