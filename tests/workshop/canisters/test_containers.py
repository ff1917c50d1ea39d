"""Absorbent containers: received, opened, dated, counted anew, and how long they last."""

from datetime import date, timedelta
from typing import Any

import pytest

from fleetbench.records.canisters.tables import Container
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.canisters.containers import (
    absorbent_stock,
    date_container,
    open_container,
    receive_container,
    stock_take,
)
from fleetbench.workshop.canisters.packing import discard_fill, pack_canister
from fleetbench.workshop.core.workplace import Workplace
from tests.centres.absorbent_centre import CANISTER, SPARE, AbsorbentKeys, write_absorbent


@pytest.fixture
def keys(workplace: Workplace, clock: Any) -> AbsorbentKeys:
    """The small centre with absorbent, written."""
    return write_absorbent(workplace, clock)


@pytest.fixture
def bench(workplace: Workplace, keys: AbsorbentKeys) -> Workplace:
    """The workplace with the technician at the bench."""
    return workplace.as_person(keys.centre.technician)


def container(bench: Workplace, key: int) -> Container:
    with bench.database.read_session() as session:
        row = session.get(Container, key)
        session.expunge_all()
        assert row is not None
        return row


def test_a_received_container_is_sealed_and_whole(bench: Workplace, keys: AbsorbentKeys) -> None:
    key = receive_container(bench, "LIME-F", lot=" F-9 ", kg=20.0, last_good_day=date(2028, 1, 31))
    row = container(bench, key)
    assert (row.lot, row.left_kg, row.received_on, row.opened_at) == ("F-9", 20.0, date(2026, 5, 4), None)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"lot": " "}, "lot: is empty"),
        ({"kg": 0}, "net mass: 0 is outside"),
        ({"kg": None}, "net mass: is missing"),
        ({"received_on": date(2026, 5, 5)}, "received on: lies ahead"),
        ({"last_good_day": date(2026, 5, 3)}, "had passed when it was received; send it back"),
        ({"code": "CELL-L"}, "absorbent CELL-L: no part type counted in kilograms"),
    ],
)
def test_what_cannot_have_arrived_is_refused(
    bench: Workplace, keys: AbsorbentKeys, changes: dict[str, Any], said: str
) -> None:
    fields: dict[str, Any] = {"code": "LIME-F", "lot": "F-9", "kg": 20.0, **changes}
    with pytest.raises(Refused, match=said):
        receive_container(bench, fields.pop("code"), **fields)


def test_a_container_is_opened_once(bench: Workplace, keys: AbsorbentKeys, clock: Any) -> None:
    open_container(bench, keys.sealed)
    assert container(bench, keys.sealed).opened_at == clock()
    with pytest.raises(Refused, match="lot F-2: was opened before"):
        open_container(bench, keys.sealed)
    with pytest.raises(NotFound):
        open_container(bench, 999)


def test_a_date_that_was_not_known_is_entered_and_never_moved_out(bench: Workplace, keys: AbsorbentKeys) -> None:
    date_container(bench, keys.undated, date(2027, 3, 31))
    pack_canister(bench, SPARE, keys.undated, tare_g=0.0, filled_g=2480.0)
    with pytest.raises(Refused, match="2027-03-31 is recorded; a later one is not taken"):
        date_container(bench, keys.undated, date(2027, 4, 1))


def test_a_stock_take_says_what_the_book_said_and_never_more_than_was_received(
    bench: Workplace, keys: AbsorbentKeys
) -> None:
    stock_take(bench, keys.open_one, 5.4, "spilled")
    assert container(bench, keys.open_one).left_kg == 5.4
    counted = next(
        each.counted for each in absorbent_stock(bench).containers if each.container.container_id == keys.open_one
    )
    assert counted == "2026-05-04, Tamsin Orrel: 5.4 kg, 6 on record (spilled)"
    with pytest.raises(Refused, match="counted: 21 is outside 0 to 20"):
        stock_take(bench, keys.open_one, 21.0, "found")
    with pytest.raises(Refused, match="reason: is empty"):
        stock_take(bench, keys.open_one, 5.0, "")
    assert verify(bench.database).first_break is None


def test_the_booked_pace_is_a_fill_a_day_and_tells_when_each_container_is_empty(
    bench: Workplace, keys: AbsorbentKeys
) -> None:
    found = absorbent_stock(bench)
    # One hire of 4 to 6 May: three days, a fill of 2.5 kg each, over the 90 days that are looked ahead.
    assert found.pace_kg_a_day == {"fine": pytest.approx(7.5 / 90)}
    by_key = {each.container.container_id: each for each in found.containers}
    # The opened one may be packed from for 12 days more, which take 1 of its 6 kg; the sealed 20 kg follow, 240 days.
    assert (by_key[keys.open_one].empty_on, by_key[keys.open_one].wasted_kg) == (None, pytest.approx(5.0))
    assert by_key[keys.sealed].empty_on == date(2026, 5, 4) + timedelta(days=12 + 240 - 1)
    assert by_key[keys.coarse].empty_on is None
    assert (by_key[keys.expired].empty_on, by_key[keys.expired].wasted_kg) == (None, 5.0)


def test_use_is_summed_by_month_of_the_site_and_by_lot_and_an_unweighed_fill_counts_as_full(
    bench: Workplace, keys: AbsorbentKeys, clock: Any
) -> None:
    pack_canister(bench, CANISTER, keys.open_one, tare_g=1240.0, filled_g=3720.0)
    discard_fill(bench, CANISTER, "not used")
    # 31 May, 22:30 UTC is 1 June, 00:30 at the site.
    clock.now = clock.now.replace(month=5, day=31, hour=22, minute=30)
    pack_canister(bench, CANISTER, keys.sealed)
    use = [(each.month, each.lot, each.kg, each.packings, each.unweighed) for each in absorbent_stock(bench).use]
    assert use == [("2026-05", "F-1", pytest.approx(2.48), 1, 0), ("2026-06", "F-2", pytest.approx(2.5), 1, 1)]


def test_a_container_opened_longer_ago_than_a_canister_type_allows_is_no_stock(
    bench: Workplace, keys: AbsorbentKeys, clock: Any
) -> None:
    # Opened on 2 May at 07:30 UTC: 336 hours end on 16 May in the morning, so 15 May is its last whole day.
    row = {each.container.container_id: each for each in absorbent_stock(bench).containers}[keys.open_one]
    assert (row.usable_until, row.ended) == (date(2026, 5, 15), "")
    clock.advance(days=12)
    row = {each.container.container_id: each for each in absorbent_stock(bench).containers}[keys.open_one]
    assert (row.ended, row.empty_on, row.wasted_kg) == ("opened too long ago", None, 6.0)
