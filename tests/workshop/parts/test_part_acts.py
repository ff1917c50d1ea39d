"""Parts on the shelf: taken in, opened, moved, set aside, sent back, scrapped, counted, and slips taken back.

Common practice, no published source, unless a line says otherwise.
"""

from datetime import date, timedelta
from typing import Any

import pytest
from sqlalchemy import select

from fleetbench.calc.core.wall_time import MarkedDate
from fleetbench.records.cells.tables import Calibration, CalibrationOutcome
from fleetbench.records.core.errors import Refused
from fleetbench.records.notices.tables import Notice, NoticeScope
from fleetbench.records.parts.tables import Part, PartEvent, PartProof, StockCount
from fleetbench.records.places.tables import Place
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.acts import (
    move_parts,
    open_part,
    quarantine_part,
    release_part,
    scrap_part,
    send_back,
    take_back,
    undo_last,
)
from fleetbench.workshop.parts.counted import count_stock, use_up
from fleetbench.workshop.parts.fit import fit_part
from fleetbench.workshop.parts.receive import Delivery, receive_lot, receive_serials
from tests.centres.bench_centre import Keys, write_centre
from tests.centres.kept_centres import kept


@pytest.fixture
@kept
def keys(workplace: Workplace, clock: Any) -> Keys:
    """The small centre, with a shelf, a van and places for what may not be used."""
    keys = write_centre(workplace.database, clock())
    with workplace.as_person(None).transaction("enter", "places") as act:
        for name, kind in (("Shelf A", "shelf"), ("Van", "van"), ("Red box", "quarantine"), ("Maker", "sent back")):
            act.add(Place(name=name, kind=kind))
    return keys


@pytest.fixture
def bench(workplace: Workplace, keys: Keys) -> Workplace:
    """The workplace with the technician at the bench."""
    return workplace.as_person(keys.technician)


def part(workplace: Workplace, key: int | str) -> Part:
    with workplace.database.read_session() as session:
        where = Part.id == key if isinstance(key, int) else Part.serial == key
        row = session.scalars(select(Part).where(where)).one()
        session.expunge(row)
        return row


def place(workplace: Workplace, name: str) -> int:
    with workplace.database.read_session() as session:
        return session.scalars(select(Place.id).where(Place.name == name)).one()


def events(workplace: Workplace, key: int) -> list[str]:
    with workplace.database.read_session() as session:
        rows = session.scalars(select(PartEvent).where(PartEvent.part_id == key).order_by(PartEvent.id))
        return [row.kind for row in rows]


def test_cells_are_received_with_their_marks_and_can_be_fitted(bench: Workplace) -> None:
    delivery = Delivery(lot="L20", made=MarkedDate.parse("2026-03"), place_id=place(bench, "Shelf A"), price=92.5,
                        supplier="Supplier North (invented)")  # fmt: skip
    got = receive_serials(bench, "CELL-L", ["C-301", "C-302"], delivery)
    first = part(bench, got.part_ids[0])
    assert (first.serial, first.lot, first.made_on, first.made_precision) == ("C-301", "L20", date(2026, 3, 1), "month")
    assert (first.state, first.received_on, got.set_aside, got.warnings) == ("stock", date(2026, 5, 4), (), ())
    assert fit_part(bench, "C-301", "LK-01", "cell 1", why_old="age").part == "C-301"


def test_a_lot_is_received_as_so_many_pieces(bench: Workplace) -> None:
    got = receive_lot(bench, "OWV-L", "V26", 4, Delivery(made=MarkedDate.parse("1Q2026")))
    held = [part(bench, key) for key in got.part_ids]
    assert [(each.serial, each.lot, each.made_precision) for each in held] == [(None, "V26", "quarter")] * 4


def test_a_cell_that_is_past_its_life_on_arrival_is_set_aside_with_the_reason(bench: Workplace) -> None:
    # 18 months from made 2024-10 end on 31 March 2026, before it is received on 4 May 2026.
    got = receive_serials(bench, "CELL-L", ["C-OLDER"], Delivery(made=MarkedDate.parse("2024-10")))
    assert "18 months from made" in got.set_aside[0]
    held = part(bench, "C-OLDER")
    assert (held.state, held.place_id) == ("quarantine", place(bench, "Red box"))
    with pytest.raises(Refused, match=r"past its last valid day.*stays set aside"):
        release_part(bench, held.id, "looks fine")


def test_a_cell_without_its_made_date_is_received_with_a_warning_and_never_as_fine(bench: Workplace) -> None:
    assert "made date not known" in receive_serials(bench, "CELL-L", ["C-9"], Delivery()).warnings[0]


def test_a_lot_under_a_stopping_notice_is_set_aside_when_it_arrives(bench: Workplace) -> None:
    with bench.as_person(None).transaction("notice", "N-1") as act:
        notice = act.add(Notice(number="N-1", issued_on=date(2026, 5, 1), title="Lot L20", text="Drifts.",
                                action="send it back", by_when=None, weight="stop"))  # fmt: skip
        act.add(NoticeScope(notice_id=notice.id, covers="lot", first="l20", last=None))
    got = receive_serials(bench, "CELL-L", ["C-301"], Delivery(lot="L20", made=MarkedDate.parse("2026-03")))
    assert got.set_aside == ("notice N-1 stops it: send it back",)
    with pytest.raises(Refused, match="set aside 2026-05-04: notice N-1 stops it"):
        fit_part(bench, "C-301", "LK-01", "cell 1", why_old="age")


@pytest.mark.parametrize(
    ("serials", "given", "said"),
    [
        (["C-NEW"], {}, "serial C-NEW: a Cell CELL-L with it is recorded"),
        (["C-7", "C-7"], {}, "serial C-7: stands twice"),
        ([" "], {}, "serial: is empty"),
        (["C-7"], {"made": MarkedDate(date(2026, 6, 1))}, "made: 2026-06-01 lies after it was received"),
        (["C-7"], {"received_on": date(2026, 5, 5)}, "received on: 2026-05-05 lies ahead"),
        (["C-7"], {"price": -1.0}, "price: -1 is outside"),
        (["C-7"], {"owner_id": 99}, "owner: not recorded"),
    ],
)
def test_a_delivery_that_cannot_be_true_is_refused_by_field(
    bench: Workplace, serials: list[str], given: dict[str, Any], said: str
) -> None:
    with pytest.raises(Refused, match=said):
        receive_serials(bench, "CELL-L", serials, Delivery(**given))


def test_a_part_that_sits_in_a_slot_is_neither_moved_set_aside_nor_scrapped(bench: Workplace) -> None:
    fitted = part(bench, "C-LK-01-1").id
    for act in (
        lambda: move_parts(bench, [fitted], place(bench, "Van")),
        lambda: quarantine_part(bench, fitted, "wet"),
        lambda: scrap_part(bench, fitted, "wet"),
        lambda: send_back(bench, fitted, "wet", outcomes=(1,)),
    ):
        with pytest.raises(Refused, match="sits in a slot; remove it first"):
            act()


def test_a_head_that_holds_cells_is_not_scrapped_with_them(bench: Workplace) -> None:
    fit_part(bench, "H-SPARE", "LK-01", "head", why_old="fault")
    with pytest.raises(Refused, match="holds 3 parts; take them out first"):
        scrap_part(bench, part(bench, "HEAD-L-LK-01").id, "cracked")


def test_parts_move_in_one_act_and_never_into_the_red_box_without_a_reason(bench: Workplace) -> None:
    both = [part(bench, "C-NEW").id, part(bench, "V-NEW").id]
    move_parts(bench, both, place(bench, "Van"))
    assert [part(bench, key).place_id for key in both] == [place(bench, "Van")] * 2
    with pytest.raises(Refused, match="is for parts set aside"):
        move_parts(bench, both, place(bench, "Red box"))


def test_a_part_set_aside_is_released_with_a_reason_and_its_events_stay(bench: Workplace) -> None:
    key = part(bench, "C-NEW").id
    quarantine_part(bench, key, "pin bent")
    with pytest.raises(Refused, match="set aside; release it first"):
        move_parts(bench, [key], place(bench, "Van"))
    release_part(bench, key, "pin straight again, seen by M1", place_id=place(bench, "Shelf A"))
    assert part(bench, key).state == "stock"
    assert events(bench, key) == ["quarantine", "released"]


def test_a_sealed_cell_is_opened_once_and_a_slip_is_taken_back_by_an_event(bench: Workplace) -> None:
    key = part(bench, "C-NEW").id
    open_part(bench, key, MarkedDate(date(2026, 5, 2)))
    with pytest.raises(Refused, match="was opened on 2026-05-02"):
        open_part(bench, key)
    assert undo_last(bench, key, "wrong cell scanned") == "opened"
    assert part(bench, key).opened_on is None
    assert events(bench, key) == ["opened", "undone"]
    with pytest.raises(Refused, match="nothing to take back"):
        undo_last(bench, key, "again")


def test_a_scrapped_part_comes_back_by_a_correcting_act_to_where_it_lay(bench: Workplace) -> None:
    key = part(bench, "C-NEW").id
    move_parts(bench, [key], place(bench, "Shelf A"))
    scrap_part(bench, key, "dropped")
    assert (part(bench, key).state, part(bench, key).place_id) == ("scrapped", None)
    undo_last(bench, key, "the other one was dropped")
    assert (part(bench, key).state, part(bench, key).place_id) == ("stock", place(bench, "Shelf A"))


def test_an_act_is_not_taken_back_once_the_part_was_fitted(bench: Workplace, clock: Any) -> None:
    key = part(bench, "C-NEW").id
    move_parts(bench, [key], place(bench, "Van"))
    clock.advance(minutes=1)
    fit_part(bench, key, "LK-01", "cell 1", why_old="age")
    with pytest.raises(Refused, match="was fitted since"):
        undo_last(bench, key, "slip")


def test_a_cell_goes_back_under_warranty_only_with_its_own_readings(bench: Workplace, keys: Keys, clock: Any) -> None:
    fit_part(bench, "C-NEW", "LK-01", "cell 1", why_old="low output")
    old, other = part(bench, "C-LK-01-1").id, part(bench, "C-LK-01-2").id
    with bench.as_person(None).transaction("calibrate", "LK-01") as act:
        made = act.add(
            Calibration(unit_id=keys.units[0], person_id=keys.technician, at=clock() - timedelta(days=1),
                        made="workshop", pressure_mbar=1008.0, pressure_source="measured", temperature_c=21.0,
                        oxygen_shown_percent=99.6, head="dry", vented="yes", settled="yes")
        )  # fmt: skip
        mine, others = (
            act.add(
                CalibrationOutcome(calibration_id=made.id, part_id=key, slot_id=keys.cell_slots[0], verdict="reject",
                                   finding="low output", next_step="replace it")
            ).id
            for key in (old, other)
        )  # fmt: skip
    with pytest.raises(Refused, match="no reading given"):
        send_back(bench, old, "low output at 4 months")
    with pytest.raises(Refused, match="readings: not all are of part"):
        send_back(bench, old, "low output at 4 months", outcomes=(mine, others))
    event = send_back(bench, old, "low output at 4 months", outcomes=(mine,))
    with bench.database.read_session() as session:
        assert session.scalars(select(PartProof.outcome_id).where(PartProof.part_event_id == event)).all() == [mine]
    assert (part(bench, old).state, part(bench, old).place_id) == ("sent back", place(bench, "Maker"))
    take_back(bench, old, "maker found no fault")
    assert part(bench, old).state == "quarantine"


def test_a_cell_that_came_out_for_a_fault_and_came_back_from_its_maker_is_measured_before_it_is_released(
    bench: Workplace, keys: Keys, clock: Any
) -> None:
    old = part(bench, "C-LK-01-1").id
    with bench.as_person(None).transaction("calibrate", "LK-01") as act:
        made = act.add(
            Calibration(unit_id=keys.units[0], person_id=keys.technician, at=clock() - timedelta(days=1),
                        made="workshop", pressure_mbar=1008.0, pressure_source="measured", temperature_c=21.0,
                        oxygen_shown_percent=99.6, head="dry", vented="yes", settled="yes")
        )  # fmt: skip
        proof = act.add(CalibrationOutcome(calibration_id=made.id, part_id=old, slot_id=keys.cell_slots[0],
                                           verdict="pass", finding="", next_step="")).id  # fmt: skip
    clock.advance(minutes=1)
    fit_part(bench, "C-NEW", "LK-01", "cell 1", why_old="fault")
    for minute in range(2):
        clock.advance(minutes=minute + 1)
        with pytest.raises(Refused, match="removed for fault, and nothing measured since"):
            release_part(bench, old, "looks fine")
        if not minute:
            send_back(bench, old, "weak", outcomes=(proof,))
            take_back(bench, old, "maker found no fault")


def test_counting_fewer_takes_the_newest_pieces_out_and_counting_them_again_brings_them_back(bench: Workplace) -> None:
    receive_lot(bench, "OWV-L", "V26", 5, Delivery(made=MarkedDate.parse("1Q2026")))
    assert count_stock(bench, "OWV-L", "V26", 3, "yearly count") == -2
    assert count_stock(bench, "OWV-L", "V26", 4, "one lay under the bench") == 1
    with pytest.raises(Refused, match="but 4 are recorded; receive the other 2"):
        count_stock(bench, "OWV-L", "V26", 7, "found more")
    with bench.database.read_session() as session:
        assert [(row.book, row.counted) for row in session.scalars(select(StockCount).order_by(StockCount.id))] == [
            (5, 3), (3, 4)
        ]  # fmt: skip
    assert verify(bench.database).first_break is None


def test_consumables_are_used_oldest_first_and_never_past_ones(bench: Workplace) -> None:
    # Storage 60 months: 1Q2021 counts from 31 March 2021 and ended before 4 May 2026 (SAE ARP5316, second-hand).
    receive_lot(bench, "OWV-L", "V21", 1, Delivery(made=MarkedDate.parse("1Q2021")))
    newer = receive_lot(bench, "OWV-L", "V26", 2, Delivery(made=MarkedDate.parse("1Q2026"))).part_ids
    older = receive_lot(bench, "OWV-L", "V25", 1, Delivery(made=MarkedDate.parse("1Q2025"))).part_ids
    assert use_up(bench, "OWV-L", 2, "loop rebuilt") == (*older, newer[0])
    with pytest.raises(Refused, match="2 asked for, 1 usable"):
        use_up(bench, "OWV-L", 2, "loop rebuilt")


def test_every_act_asks_for_a_reason_and_for_somebody_at_the_bench(bench: Workplace, workplace: Workplace) -> None:
    key = part(bench, "C-NEW").id
    with pytest.raises(Refused, match="reason: is empty"):
        quarantine_part(bench, key, "  ")
    with pytest.raises(Refused, match="person: nobody is signed in"):
        scrap_part(workplace, key, "broken")
