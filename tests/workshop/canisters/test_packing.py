"""Packing a canister, what becomes of its fill, and the journal that tells it."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import select

from fleetbench.records.canisters.tables import Container, Fill, FillEvent
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.core.journal import read_journal_about
from fleetbench.records.hires.tables import BookingDiver, BookingUnit
from fleetbench.records.notices.tables import Notice, NoticeScope
from fleetbench.records.units.tables import Hold
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.bench.equipment import add_equipment
from fleetbench.workshop.canisters.packing import (
    Packed,
    close_up,
    discard_fill,
    give_fill,
    mark_flooded,
    pack_canister,
    pack_choices,
)
from fleetbench.workshop.canisters.runs import RunEntry, log_run
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


def packed(bench: Workplace, keys: AbsorbentKeys, **more: Any) -> Packed:
    fields = {"tare_g": 1240.0, "filled_g": 3720.0, "looked_at": True, "scale_id": keys.scale}
    return pack_canister(bench, more.pop("canister", CANISTER), more.pop("container", keys.open_one), **fields | more)


def row(bench: Workplace, kind: Any, key: int) -> Any:
    with bench.database.read_session() as session:
        found = session.get(kind, key)
        session.expunge_all()
        return found


def test_a_packed_canister_keeps_both_weighings_and_the_container_gives_the_difference(
    bench: Workplace, keys: AbsorbentKeys, clock: Any
) -> None:
    done = packed(bench, keys)
    fill = row(bench, Fill, done.fill_id)
    assert (fill.tare_g, fill.filled_g, fill.mass_g, fill.checked) == (1240.0, 3720.0, 2480.0, True)
    assert (fill.packed_at, fill.packed_by_id) == (clock(), keys.centre.technician)
    assert done.left_kg == row(bench, Container, keys.open_one).left_kg == pytest.approx(6.0 - 2.48)
    assert (done.opened_container, done.warnings) == (False, ())


def test_the_scale_is_kept_with_how_well_it_told_the_mass_and_stands_ready_again(
    bench: Workplace, keys: AbsorbentKeys
) -> None:
    # JCGM 100:2008, 5.1.2: two readings of 2 g standard uncertainty each, their difference expanded by 2.
    assert pack_choices(bench, SPARE).scale_id == keys.scale, "the only one there is"
    fill = row(bench, Fill, packed(bench, keys).fill_id)
    assert (fill.scale_id, fill.mass_u_g) == (keys.scale, pytest.approx(2 * 2**0.5 * 2.0))
    manager = bench.as_person(keys.centre.manager)
    another = add_equipment(manager, kind="scale", name="Other", serial="SC-2", unit="kg", uncertainty=None,
                            last_good_day=None)  # fmt: skip
    choices = pack_choices(bench, SPARE)
    assert (len(choices.scales), choices.scale_id) == (2, keys.scale), "used last in this session"
    done = packed(bench, keys, canister=SPARE, container=keys.sealed, scale_id=another)
    assert row(bench, Fill, done.fill_id).mass_u_g is None
    assert [words.split(":")[0] for words in done.warnings] == ["Other SC-2", "Other SC-2"]
    with pytest.raises(Refused, match="scale: what was chosen is no scale"):
        packed(bench, keys, scale_id=999)


def test_a_mass_too_near_the_least_for_its_scale_is_refused_until_a_little_is_added(
    bench: Workplace, keys: AbsorbentKeys
) -> None:
    # JCGM 106:2012, 8.3.2: accepted only with the whole interval inside; U = 5.7 g here, the least is 2300 g.
    with pytest.raises(Refused, match=r"mass: 2304 ± 5.7 g does not show the type's least of 2300 g; add a little"):
        packed(bench, keys, filled_g=1240.0 + 2304.0)
    assert packed(bench, keys, filled_g=1240.0 + 2306.0).mass_g == 2306.0


@pytest.mark.parametrize(("covers", "first"), [("lot", "f-1"), ("part type", "LIME-F")])
def test_a_lot_under_a_stopping_notice_is_neither_offered_nor_packed(
    bench: Workplace, keys: AbsorbentKeys, covers: str, first: str
) -> None:
    with bench.transaction("enter", "notice") as act:
        notice = act.add(Notice(number="N-1", issued_on=bench.today(), title="dusty granules", text="",
                                action="set aside", weight="stop"))  # fmt: skip
        act.add(NoticeScope(notice_id=notice.id, covers=covers, first=first))
    offered = {each.container.container_id: each.why_not for each in pack_choices(bench, CANISTER).containers}
    assert offered[keys.open_one] == "lot F-1: notice N-1, dusty granules; choose another"
    with pytest.raises(Refused, match="lot F-1: notice N-1, dusty granules; choose another"):
        packed(bench, keys)


def test_a_sealed_container_is_opened_by_the_packing(bench: Workplace, keys: AbsorbentKeys, clock: Any) -> None:
    assert packed(bench, keys, container="F-2").opened_container
    assert row(bench, Container, keys.sealed).opened_at == clock()


def test_a_scale_set_to_zero_with_the_canister_on_it_has_no_tare_to_take_off(
    bench: Workplace, keys: AbsorbentKeys
) -> None:
    assert packed(bench, keys, tare_g=0.0, filled_g=2480.0).mass_g == 2480.0


def test_an_unweighed_fill_is_recorded_as_such_and_draws_a_full_one(bench: Workplace, keys: AbsorbentKeys) -> None:
    done = packed(bench, keys, tare_g=None, filled_g=None, looked_at=None)
    fill = row(bench, Fill, done.fill_id)
    assert (fill.mass_g, fill.checked) == (None, None)
    assert done.left_kg == pytest.approx(3.5)
    assert any("Not weighed" in line for line in done.warnings)
    assert any("not looked at" in line for line in done.warnings)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"filled_g": 3539.9}, r"mass: 2299.9 g is under the type's least of 2300 g"),
        ({"container": "expired"}, "lot F-0: its last valid day was 2026-05-03"),
        ({"container": "undated"}, "lot F-X: its last valid day is not known"),
        ({"container": "coarse"}, "grade: coarse, but the canister is rated for fine"),
        ({"tare_g": 0.0}, "is the empty canister weighed with it"),
        ({"tare_g": None}, "weigh the canister both empty and filled"),
        ({"filled_g": float("nan")}, "filled mass"),
        ({"packed_at": datetime(2026, 5, 4, 8, tzinfo=UTC)}, "packed at: lies ahead"),
    ],
)
def test_what_may_not_be_packed_is_refused_and_nothing_is_written(
    bench: Workplace, keys: AbsorbentKeys, changes: dict[str, Any], said: str
) -> None:
    if isinstance(changes.get("container"), str):
        changes = {**changes, "container": getattr(keys, changes["container"])}
    with pytest.raises(Refused, match=said):
        packed(bench, keys, **changes)
    with bench.database.read_session() as session:
        assert session.scalars(select(Fill)).all() == []
        assert session.get(Container, keys.open_one).left_kg == 6.0


def test_a_canister_that_still_holds_a_fill_is_refused_until_that_is_thrown_away(
    bench: Workplace, keys: AbsorbentKeys
) -> None:
    first = packed(bench, keys)
    with pytest.raises(Refused, match=rf"still holds FILL-{first.fill_id}; discard that first"):
        packed(bench, keys)
    discard_fill(bench, CANISTER, "not used")
    assert packed(bench, keys).fill_id != first.fill_id


def test_the_containers_stock_never_goes_below_nothing(bench: Workplace, keys: AbsorbentKeys) -> None:
    packed(bench, keys)
    packed(bench, keys, canister=SPARE)
    discard_fill(bench, SPARE, "packed badly")
    with pytest.raises(Refused, match=r"lot F-1: 1.040 kg left on record, 2.480 kg asked"):
        packed(bench, keys, canister=SPARE)
    assert row(bench, Container, keys.open_one).left_kg == pytest.approx(1.04)


def test_a_container_opened_too_long_ago_is_refused(bench: Workplace, keys: AbsorbentKeys, clock: Any) -> None:
    clock.advance(days=12)
    with pytest.raises(Refused, match="lot F-1: opened over 336 h ago"):
        packed(bench, keys)


def test_a_canister_on_hold_or_without_a_rated_table_is_refused(
    bench: Workplace, keys: AbsorbentKeys, clock: Any
) -> None:
    part_id = pack_choices(bench, SPARE).part_id
    with bench.transaction("hold", SPARE) as act:
        act.add(Hold(part_id=part_id, kind="manual", reason="lid cracked", placed_at=clock(),
                     placed_by_id=keys.centre.manager))  # fmt: skip
    with pytest.raises(Refused, match="on hold: lid cracked"):
        packed(bench, keys, canister=SPARE)


def test_a_part_that_is_no_canister_and_a_serial_nobody_has_are_not_found(
    bench: Workplace, keys: AbsorbentKeys
) -> None:
    for serial in ("V-NEW", "NOWHERE"):
        with pytest.raises(NotFound, match=f"canister {serial}: no canister has this serial"):
            packed(bench, keys, canister=serial)


def test_nobody_at_the_bench_packs_nothing(workplace: Workplace, keys: AbsorbentKeys) -> None:
    with pytest.raises(Refused, match="person: nobody is signed in; choose your name at the top of the window"):
        packed(workplace, keys)


def test_a_hire_gives_the_fill_its_diver_and_a_wrong_pair_is_refused(bench: Workplace, keys: AbsorbentKeys) -> None:
    with pytest.raises(Refused, match="diver: hire H-7 is another diver's"):
        packed(bench, keys, line_id=keys.line, diver_id=keys.other)
    fill = row(bench, Fill, packed(bench, keys, line_id=keys.line).fill_id)
    assert (fill.diver_id, fill.booking_unit_id) == (keys.renter, keys.line)


def test_a_fill_for_a_spare_of_two_divers_is_nobodys_until_its_diver_is_named(
    bench: Workplace, keys: AbsorbentKeys, clock: Any
) -> None:
    with bench.transaction("write", "test") as act:
        line = act.get(BookingUnit, keys.line, "line")
        act.change(line, diver_id=None)
        act.add(BookingDiver(booking_id=line.booking_id, person_id=keys.other, ordinal=2))
    fill = row(bench, Fill, packed(bench, keys, line_id=keys.line).fill_id)
    assert (fill.diver_id, fill.booking_unit_id) == (None, keys.line)
    clock.advance(hours=2)
    with pytest.raises(Refused, match="diver: is missing"):
        log_run(bench, CANISTER, RunEntry(minutes=40))
    log_run(bench, CANISTER, RunEntry(minutes=40, diver_id=keys.other))
    assert row(bench, Fill, fill.id).diver_id == keys.other


def test_what_is_proposed_is_the_open_container_the_last_tare_and_todays_hire(
    bench: Workplace, keys: AbsorbentKeys
) -> None:
    first = pack_choices(bench, CANISTER)
    assert (first.container_id, first.line_id, first.tare_g) == (keys.open_one, keys.line, None)
    assert (first.min_mass_g, first.full_mass_g, first.unit) == (2300.0, 2500.0, "LK-01")
    refused = {each.container.lot: each.why_not for each in first.containers if each.why_not}
    assert set(refused) == {"F-0", "C-1", "F-X"}
    packed(bench, keys)
    discard_fill(bench, CANISTER, "not used")
    assert pack_choices(bench, CANISTER).tare_g == 1240.0


def test_an_unused_fill_may_be_given_on_but_a_used_one_stays_with_its_diver(
    bench: Workplace, keys: AbsorbentKeys, clock: Any
) -> None:
    packed(bench, keys, line_id=keys.line)
    give_fill(bench, CANISTER, diver_id=keys.other)
    give_fill(bench, CANISTER, line_id=keys.line)
    clock.advance(hours=2)
    log_run(bench, CANISTER, RunEntry(minutes=40))
    with pytest.raises(Refused, match="was used by another diver or on another hire; pack a fresh one"):
        give_fill(bench, CANISTER, diver_id=keys.other)
    with pytest.raises(Refused, match="diver: is missing"):
        give_fill(bench, CANISTER)


def test_each_closing_up_is_kept_and_a_flood_is_told_from_its_first_moment(
    bench: Workplace, keys: AbsorbentKeys, clock: Any
) -> None:
    fill_id = packed(bench, keys).fill_id
    moments = [clock.advance(hours=hours) for hours in (3, 4, 1, 1)]
    clock.now = moments[0]
    close_up(bench, CANISTER)
    clock.now = moments[1]
    close_up(bench, CANISTER, note="in the dry room")
    clock.now = moments[2]
    mark_flooded(bench, CANISTER)
    clock.now = moments[3]
    mark_flooded(bench, CANISTER, note="again")
    fill = row(bench, Fill, fill_id)
    assert (fill.closed_up_at, fill.wetted_at) == (moments[1], moments[2])
    with bench.database.read_session() as session:
        kept = [(each.kind, each.at) for each in session.scalars(select(FillEvent).order_by(FillEvent.id))]
    assert kept == list(zip(("closed up", "closed up", "flooded", "flooded"), moments, strict=True))


def test_an_empty_canister_has_nothing_to_close_flood_give_or_discard(bench: Workplace, keys: AbsorbentKeys) -> None:
    for act in (close_up, mark_flooded):
        with pytest.raises(Refused, match="holds no fill; pack it first"):
            act(bench, CANISTER)
    with pytest.raises(Refused, match="holds no fill"):
        discard_fill(bench, CANISTER, "used up")
    with pytest.raises(Refused, match="reason: is empty"):
        discard_fill(bench, CANISTER, "  ")


def test_a_day_of_diving_reads_as_one_story_in_the_journal_and_the_journal_verifies(
    bench: Workplace, keys: AbsorbentKeys, clock: Any
) -> None:
    packed(bench, keys, line_id=keys.line)
    for _ in range(3):
        clock.advance(hours=2)
        log_run(bench, CANISTER, RunEntry(minutes=40, coldest_c=12, deepest_m=18))
    clock.advance(hours=1)
    close_up(bench, CANISTER)
    clock.advance(hours=14)
    discard_fill(bench, CANISTER, "hire over")
    with bench.database.reading() as connection:
        story = read_journal_about(connection, f"canister {CANISTER}")
    assert [line.act for line in story] == ["pack canister", *["log run"] * 3, "close up canister", "discard fill"]
    assert all(line.person_id == keys.centre.technician for line in story)
    assert verify(bench.database).first_break is None


def test_a_packing_typed_in_later_may_not_lie_before_the_canister_was_emptied(
    bench: Workplace, keys: AbsorbentKeys, clock: Any
) -> None:
    packed(bench, keys)
    clock.advance(hours=5)
    discard_fill(bench, CANISTER, "used up")
    clock.advance(hours=1)
    with pytest.raises(Refused, match=f"packed at: canister {CANISTER} was emptied later"):
        packed(bench, keys, packed_at=clock() - timedelta(hours=2))
    assert packed(bench, keys, packed_at=clock() - timedelta(minutes=30)).fill_id
