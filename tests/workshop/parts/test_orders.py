"""What to order and what to fetch, on the sample fleet and on a small centre. Common practice, no published source."""

import csv
from collections import Counter
from datetime import date, timedelta
from typing import Any

import pytest
from sqlalchemy import event, select

from fleetbench.calc.core.wall_time import MarkedDate
from fleetbench.records.core.database import Database
from fleetbench.records.hires.tables import Booking
from fleetbench.records.parts.tables import PartType
from fleetbench.records.places.tables import Place
from fleetbench.shipped import shipped
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import list_due
from fleetbench.workshop.notices.acts import recall_lot
from fleetbench.workshop.parts.acts import move_parts, quarantine_part
from fleetbench.workshop.parts.counted import list_kits, set_kit_content, use_up
from fleetbench.workshop.parts.fit import fit_part
from fleetbench.workshop.parts.orders import OrderLine, fetch_list, order_list
from fleetbench.workshop.parts.receive import Delivery, receive_lot, receive_serials
from fleetbench.workshop.parts.stock import add_place, list_shelf
from fleetbench.workshop.tickets.work import open_ticket
from tests.centres.absorbent_centre import write_absorbent
from tests.centres.bench_centre import Keys, write_centre
from tests.conftest import Clock


@pytest.fixture
def keys(workplace: Workplace, clock: Any) -> Keys:
    """The small centre, written."""
    return write_centre(workplace.database, clock())


@pytest.fixture
def bench(workplace: Workplace, keys: Keys) -> Workplace:
    """The workplace with the technician at the bench."""
    return workplace.as_person(keys.technician)


def line(workplace: Workplace, code: str, **more: Any) -> OrderLine:
    return next(each for each in order_list(workplace, **more) if each.code == code)


def sheet(name: str) -> list[dict[str, str]]:
    with (shipped("sample_fleet") / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_on_hand_in_the_sample_is_what_its_sheet_counts_in_stock(sample_workplace: Workplace) -> None:
    counted = Counter(row["part_type"] for row in sheet("parts") if row["state"] == "stock")
    lines = order_list(sample_workplace)
    pieces = [each for each in lines if each.stocked_in == "piece"]
    assert {each.code: each.on_hand for each in pieces if each.on_hand} == dict(counted)
    left = sum(float(row["left_kg"]) for row in sheet("containers"))
    assert [each.on_hand for each in lines if each.stocked_in == "kg"] == [pytest.approx(left)]
    assert all(each.usable <= each.on_hand for each in lines)
    types = {row["code"]: row for row in sheet("part_types")}
    for each in lines:
        assert each.lead_days == int(types[each.code]["lead_days"] or 21)
        assert each.quantity == each.packs * each.pack_size
        assert (each.order_on is None) == (each.quantity == 0)


def test_those_to_order_first_stand_first_and_none_is_ordered_before_lead_time_asks(
    sample_workplace: Workplace,
) -> None:
    lines = order_list(sample_workplace)
    wanted = [each for each in lines if each.order_on is not None]
    assert wanted and lines[: len(wanted)] == tuple(wanted)
    assert [each.order_on for each in wanted] == sorted(each.order_on for each in wanted)  # type: ignore[type-var]
    for each in wanted:
        assert each.short_on is not None and each.order_on is not None
        lasts = (each.short_on - each.order_on).days
        assert lasts + each.late_by == each.lead_days
        assert not each.late_by or each.order_on == date(2026, 6, 15)


def test_a_higher_service_level_never_orders_less_or_later(sample_workplace: Workplace) -> None:
    low = {each.code: each for each in order_list(sample_workplace, service_level=0.8)}
    for each in order_list(sample_workplace, service_level=0.99):
        less = low[each.code]
        assert each.safety >= less.safety
        assert (each.short_on or date.max) <= (less.short_on or date.max)


def test_lists_of_orders_take_as_many_statements_for_a_fleet_as_for_one_unit(
    sample_workplace: Workplace, bench: Workplace
) -> None:
    counts = []
    for workplace in (sample_workplace, bench):
        seen: list[str] = []
        listen = (workplace.database.engine, "before_cursor_execute", lambda *args, seen=seen: seen.append(args[2]))
        event.listen(*listen)
        order_list(workplace)
        fetch_list(workplace, list_due(workplace, within_days=60), workplace.today() + timedelta(days=60))
        event.remove(*listen)
        counts.append(len([each for each in seen if each.lstrip().upper().startswith(("SELECT", "WITH"))]))
    assert counts[0] == counts[1]


def test_an_order_names_who_supplied_the_newest_piece_and_no_word_of_statistics(
    bench: Workplace, sample_workplace: Workplace
) -> None:
    assert line(bench, "CELL-L").supplier is None
    for serial, supplier in (("N-1", "Yard & Co"), ("N-2", "Quay Stores"), ("N-3", "")):
        receive_serials(bench, "CELL-L", (serial,), Delivery(made=MarkedDate.parse("2026-04"), supplier=supplier))
    assert line(bench, "CELL-L").supplier == "Quay Stores"
    told = "; ".join(why for each in order_list(sample_workplace) for why in each.why)
    assert "by the age at which they failed, " in told and "the same at any age, " in told
    assert not any(word in told for word in ("Kaplan", "Poisson", "Gamma", "quantile"))


def test_a_task_to_replace_a_part_reserves_one_and_brings_its_need_forward(bench: Workplace) -> None:
    assert (line(bench, "CELL-L").reserved, line(bench, "CELL-L").usable) == (0, 1)
    tasks = ("Replace cell 2 and calibrate", "Test valves")
    open_ticket(bench, "LK-01", cause="failed test", reason="low", tasks=tasks)
    reserved = line(bench, "CELL-L")
    assert reserved.reserved == 1 and reserved.due >= 1.0
    open_ticket(bench, "LK-02", cause="failed test", reason="low", tasks=("Replace all cells",))
    short = line(bench, "CELL-L")
    assert short.reserved == 4
    assert (short.order_on, short.late_by > 0) == (bench.today(), True)


def test_a_finished_task_reserves_nothing(bench: Workplace) -> None:
    open_ticket(bench, "LK-01", cause="failed test", reason="low", tasks=("Look at cell 2",))
    assert line(bench, "CELL-L").reserved == 0


def test_what_is_set_aside_recalled_or_undated_is_not_usable(bench: Workplace) -> None:
    serials = receive_serials(bench, "CELL-L", ["C-1", "C-2"], Delivery(lot="L50", made=MarkedDate.parse("2026-03")))
    assert line(bench, "CELL-L").usable == 3
    quarantine_part(bench, serials.part_ids[0], "dented")
    assert line(bench, "CELL-L").usable == 2
    recall_lot(bench, "L50", "drift")
    assert line(bench, "CELL-L").usable == 1
    why = {row.part.label: row.why_not for row in list_shelf(bench)}
    assert why["C-NEW"] == ()
    assert "set aside 2026-05-04: dented" in why["C-1"]
    assert any("RECALL L50" in each for each in why["C-1"]) and any("RECALL L50" in each for each in why["C-2"])
    assert "made date not known" in why["C-UNDATED"][0]
    assert "past its last valid day" in why["C-OLD"][0]


def test_consumables_are_needed_at_last_years_pace_and_kits_keep_their_least(bench: Workplace) -> None:
    receive_lot(bench, "MPV-L", "M1", 12, Delivery())
    use_up(bench, "MPV-L", 10, "replaced at rebuilds")
    need = line(bench, "MPV-L")
    assert need.need == pytest.approx(10 / 365 * 90, rel=0.2)
    with bench.as_person(None).transaction("enter", "kit") as act:
        van = act.add(Place(name="Van kit", kind="kit")).id
    set_kit_content(bench, van, "MPV-L", 3)
    assert [(each.needs.place, each.needs.least, each.missing) for each in list_kits(bench)] == [("Van kit", 3, 3)]
    kept = line(bench, "MPV-L")
    assert kept.quantity == need.quantity + 3
    assert "3 more must lie in kits" in kept.why


def test_absorbent_is_ordered_by_the_pace_that_is_booked_in_whole_packs(
    sqlite_database: Database, clock: Clock
) -> None:
    workplace = Workplace(sqlite_database, clock)
    write_absorbent(workplace, clock)
    fine, coarse = line(workplace, "LIME-F"), line(workplace, "LIME-C")
    # One unit is booked for three days from today, a fill of 2.5 kg a day: 7.5 kg in 90 days. The open container of
    # 6 kg ends 14 days after it was opened, the sealed one of 20 kg is good; 5 kg are past, 20 kg have no date.
    assert (fine.stocked_in, fine.on_hand, fine.usable, fine.expiring) == ("kg", 51.0, 26.0, 6.0)
    assert fine.need == pytest.approx(7.5)
    assert fine.order_on is None and fine.lead_days == 21
    assert (coarse.need, coarse.order_on) == (0.0, None)
    with workplace.as_person(None).transaction("enter", "booking and type") as act:
        kind = act.session.scalars(select(PartType).where(PartType.code == "LIME-F")).one()
        act.change(kind, pack_size=20.0, price=6.0, lead_days=7)
        booking = act.session.scalars(select(Booking)).one()
        act.change(booking, ends_on=booking.ends_on + timedelta(days=20), units_wanted=2)
    more = line(workplace, "LIME-F")
    # 23 days of two units: 115 kg expected.
    assert more.need == pytest.approx(115.0)
    assert more.quantity == more.packs * 20.0 and more.quantity + more.usable >= more.need + more.safety
    assert more.cost == pytest.approx(more.quantity * 6.0)
    assert more.order_on is not None and more.short_on is not None
    assert (more.short_on - more.order_on).days + more.late_by == 7
    assert "booked 1.28" in more.why[0] and "the highest" in more.why[0]


def test_what_is_fetched_is_the_oldest_usable_and_what_is_not_there_is_short(bench: Workplace, clock: Any) -> None:
    receive_serials(bench, "CELL-L", ["C-LATER"], Delivery(made=MarkedDate.parse("2026-04")))
    # Opened 5 March 2026: the six cells of both units end on 4 March 2027.
    through = date(2027, 3, 10)
    rows = {row.code: row for row in fetch_list(bench, list_due(bench), through)}
    cells = rows["CELL-L"]
    assert (cells.wanted, [piece.part.label for piece in cells.take], cells.short) == (6, ["C-NEW", "C-LATER"], 4)
    assert "LK-01, cell 1" in cells.wanted_for
    assert "CELL-L" not in {row.code for row in fetch_list(bench, list_due(bench), date(2027, 3, 3))}


def test_what_lies_in_a_kit_is_not_fetched_out_of_it(bench: Workplace) -> None:
    van = add_place(bench, "Van", "van")
    move_parts(bench, [row.part.part_id for row in list_shelf(bench) if row.part.label == "C-NEW"], van)
    row = next(r for r in fetch_list(bench, list_due(bench), date(2027, 3, 10)) if r.code == "CELL-L")
    assert (row.take, row.short) == ((), 6)


def test_a_piece_that_ends_on_the_shelf_before_the_last_day_is_not_fetched(bench: Workplace) -> None:
    # C-NEW was made on 25 March 2026: its 18 months end on 24 September 2027.
    fit_part(bench, "C-NEW", "LK-01", "cell 1", why_old="age")
    receive_serials(bench, "CELL-L", ["C-SOON"], Delivery(made=MarkedDate.parse("2025-02")))
    row = next(r for r in fetch_list(bench, list_due(bench), date(2027, 3, 10)) if r.code == "CELL-L")
    assert row.take == () and row.short == row.wanted == 5
