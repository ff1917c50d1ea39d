"""Canisters with their fills, and containers. Rated minutes are the small centre's invented table."""

from typing import Any

import pytest

from fleetbench.calc.core.verdict import due_state
from fleetbench.records.canisters.tables import Fill
from fleetbench.records.core.errors import NotFound
from fleetbench.workshop.canisters.containers import absorbent_stock
from fleetbench.workshop.canisters.list import CanisterRow, canister_page, list_canisters
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.lives import DUE_SOON_DAYS
from tests.centres.ready_centre import Centre, counted


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> Centre:
    """The small centre, its units fit to leave."""
    return Centre(workplace, clock)


def row(centre: Centre) -> CanisterRow:
    return next(each for each in list_canisters(centre.workplace) if each.part.label == "CAN-L-LK-01")


def test_a_canister_is_empty_fresh_in_use_or_spent(centre: Centre) -> None:
    assert (row(centre).state, (row(centre).left and row(centre).left.minutes)) == ("empty", None)
    fill = centre.pack(0.5)
    # 150 min are rated at the centre's usual 12 C and 30 m, which takes the 40 m row.
    assert (row(centre).state, (row(centre).left and row(centre).left.minutes)) == ("fresh", pytest.approx(150.0))
    centre.run(centre.one, fill, 0.4, 60)
    centre.change(Fill, fill, diver_id=centre.keys.renter)
    assert (row(centre).state, row(centre).diver) == ("in use", "Ines Quell")
    assert (row(centre).left and row(centre).left.minutes) == pytest.approx(100.0)
    centre.run(centre.one, fill, 0.3, 200)
    assert (row(centre).state, (row(centre).left and row(centre).left.minutes)) == ("spent", 0.0)
    centre.change(Fill, fill, discarded_at=centre.ago(0.1))
    assert row(centre).state == "empty"


def test_a_fill_not_weighed_says_so_and_one_under_the_minimum_is_spent(centre: Centre) -> None:
    fill = centre.pack(0.5, mass_g=None)
    assert "not weighed" in (row(centre).left.cautions if row(centre).left else ())
    centre.change(Fill, fill, mass_g=2000.0)
    assert (row(centre).state, (row(centre).left and row(centre).left.rule)) == ("spent", "packed mass")


def test_the_page_tells_every_fill_with_what_each_run_used(centre: Centre) -> None:
    first = centre.pack(3, discarded_at=centre.ago(2), why_discarded="end of the day")
    centre.run(centre.one, first, 2.9, 90)
    centre.run(centre.one, first, 2.8, 30, clock="dive", dives=1)
    centre.pack(0.5)
    page = canister_page(centre.workplace, centre.part("CAN-L-LK-01"))
    assert [story.loop_minutes for story in page.fills] == [0, 130.0]
    assert [line.used_after for line in page.fills[1].runs] == [pytest.approx(90 / 180), pytest.approx(130 / 180)]
    assert len(page.rating) == 5
    with pytest.raises(NotFound):
        canister_page(centre.workplace, centre.part("C-NEW"))


def test_containers_show_what_is_left_and_whether_their_date_is_known(centre: Centre) -> None:
    stock = absorbent_stock(centre.workplace)
    found = (each.container for each in stock.containers)
    states = {each.lot: (each.left_kg, due_state(each.last_good_day, stock.today, DUE_SOON_DAYS)) for each in found}
    assert states["F-1"] == (6.0, "good")
    assert states["F-0"] == (5.0, "past")
    assert states["F-X"] == (20.0, "unknown")


def test_the_lists_take_a_fixed_number_of_statements(centre: Centre, sample_workplace: Workplace) -> None:
    counts = []
    for workplace in (centre.workplace, sample_workplace):
        key = list_canisters(workplace)[0].part.part_id
        with counted(workplace) as seen:
            list_canisters(workplace)
            absorbent_stock(workplace)
            canister_page(workplace, key)
        counts.append(len(seen))
    assert counts[0] == counts[1]


def test_the_sample_fleets_canisters_all_have_a_state(sample_workplace: Workplace) -> None:
    rows = list_canisters(sample_workplace)
    assert len(rows) >= 14
    assert {each.state for each in rows} >= {"empty", "fresh"}
    assert all(((each.left and each.left.minutes) or 0) >= 0 for each in rows)
