"""Fitting a part: what goes in, what comes out, what is refused, and what must be tested after."""

from datetime import date, timedelta
from typing import Any

import pytest
from sqlalchemy import func, select

from fleetbench.records.bench.tables import Opening
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.core.journal import Journal
from fleetbench.records.notices.tables import Notice, NoticeScope
from fleetbench.records.parts.tables import Fitting, Part, PartType
from fleetbench.records.units.tables import Hold, SlotPartType
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import list_due
from fleetbench.workshop.parts.fit import fit_part, remove_part
from fleetbench.workshop.parts.lives import rebuild_lives
from fleetbench.workshop.tickets.work import open_ticket
from tests.centres.bench_centre import Keys, write_centre
from tests.centres.time_passes import let_pass


@pytest.fixture
def keys(workplace: Workplace, clock: Any) -> Keys:
    """The small centre, written."""
    return write_centre(workplace.database, clock())


@pytest.fixture
def bench(workplace: Workplace, keys: Keys) -> Workplace:
    """The workplace with the technician at the bench."""
    return workplace.as_person(keys.technician)


def parts_by_serial(workplace: Workplace) -> dict[str | None, Part]:
    with workplace.database.read_session() as session:
        rows = session.scalars(select(Part)).all()
        session.expunge_all()
        return {row.serial: row for row in rows}


def openings(workplace: Workplace) -> list[tuple[str, str]]:
    with workplace.database.read_session() as session:
        return [(row.kind, row.what) for row in session.scalars(select(Opening).order_by(Opening.id))]


def test_a_cell_goes_into_the_fitted_head_and_the_old_one_comes_out_in_one_act(bench: Workplace, keys: Keys) -> None:
    with bench.database.read_session() as session:
        before = session.scalar(select(func.count()).select_from(Journal))
    fitted = fit_part(bench, "C-NEW", "LK-01", "cell 2", why_old="low output")
    held = parts_by_serial(bench)
    assert (fitted.part, fitted.old_part, fitted.opening) == ("C-NEW", "C-LK-01-2", "workshop")
    assert held["C-NEW"].state == "fitted"
    assert held["C-LK-01-2"].state == "quarantine"
    with bench.database.read_session() as session:
        assert session.scalar(select(func.count()).select_from(Journal)) == (before or 0) + 1
        old = session.scalars(select(Fitting).where(Fitting.part_id == held["C-LK-01-2"].id)).one()
        new = session.scalars(select(Fitting).where(Fitting.part_id == held["C-NEW"].id)).one()
        assert (old.why_removed, old.removed_at) == ("low output", new.fitted_at)
        assert (new.host_part_id, new.unit_id) == (held["HEAD-L-LK-01"].id, None)
        assert new.slot_id == keys.cell_slots[1]


def test_a_sealed_cell_is_opened_on_the_day_it_is_fitted_and_its_earliest_limit_is_kept(
    bench: Workplace, keys: Keys
) -> None:
    fitted = fit_part(bench, "C-NEW", "LK-01", "cell 1", why_old="age")
    assert parts_by_serial(bench)["C-NEW"].opened_on == date(2026, 5, 4)
    # Opened 4 May 2026, 12 months: last good day the day before the anniversary; made 25 March 2026 + 18 months is
    # later. Common practice, no published source.
    assert (fitted.last_good_day, fitted.last_good_basis) == (date(2027, 5, 3), "opened")


def test_a_part_past_its_life_is_refused_with_the_limit_that_ended(bench: Workplace, keys: Keys) -> None:
    with pytest.raises(Refused, match=r"C-OLD: past its last valid day.*18 months from made"):
        fit_part(bench, "C-OLD", "LK-01", "cell 1", why_old="age")
    assert parts_by_serial(bench)["C-OLD"].opened_on is None


def test_a_part_whose_date_is_not_known_is_fitted_with_a_warning_and_without_hiding_it(
    bench: Workplace, keys: Keys
) -> None:
    fitted = fit_part(bench, "C-UNDATED", "LK-01", "cell 1", why_old="age")
    assert fitted.warnings and "made date not known" in fitted.warnings[0]


def test_a_part_of_another_kind_is_refused(bench: Workplace, keys: Keys) -> None:
    with pytest.raises(Refused, match="V-NEW: is a one-way valve, the slot cell 1 takes a cell"):
        fit_part(bench, "V-NEW", "LK-01", "cell 1", why_old="age")


def test_a_part_that_sits_elsewhere_is_refused(bench: Workplace, keys: Keys) -> None:
    with pytest.raises(Refused, match="is fitted, not in stock; sits in another slot"):
        fit_part(bench, "C-LK-02-1", "LK-01", "cell 1", why_old="age")


def test_the_reason_for_the_old_part_is_asked_for(bench: Workplace, keys: Keys) -> None:
    with pytest.raises(Refused, match="reason: say why C-LK-01-1 is removed"):
        fit_part(bench, "C-NEW", "LK-01", "cell 1")
    with pytest.raises(Refused, match="reason: 'tired' is not known"):
        fit_part(bench, "C-NEW", "LK-01", "cell 1", why_old="tired")


def test_a_part_on_hold_is_refused_with_the_reason_of_the_hold(bench: Workplace, keys: Keys, clock: Any) -> None:
    held = parts_by_serial(bench)["C-NEW"].id
    with bench.transaction("hold", "part C-NEW") as act:
        act.add(Hold(part_id=held, kind="manual", reason="dropped", placed_at=clock(), placed_by_id=keys.manager))
    with pytest.raises(Refused, match="C-NEW: on hold: dropped"):
        fit_part(bench, "C-NEW", "LK-01", "cell 1", why_old="age")


def test_a_lot_under_a_stopping_notice_is_refused(bench: Workplace, keys: Keys) -> None:
    with bench.transaction("notice", "N-1") as act:
        notice = act.add(Notice(number="N-1", issued_on=date(2026, 5, 1), title="Lot L9", text="Lot L9 drifts.",
                                action="send it back", by_when=None, weight="stop"))  # fmt: skip
        act.add(NoticeScope(notice_id=notice.id, covers="lot", first="L9", last=None))
    with pytest.raises(Refused, match="notice N-1 stops it; send it back"):
        fit_part(bench, "C-NEW", "LK-01", "cell 1", why_old="age")


def test_a_whole_head_is_swapped_with_the_cells_that_sit_in_it(bench: Workplace, keys: Keys) -> None:
    fit_part(bench, "H-SPARE", "LK-01", "head", why_old="fault")
    held = parts_by_serial(bench)
    assert held["HEAD-L-LK-01"].state == "quarantine"
    assert held["C-LK-01-1"].state == "fitted", "cells travel with their head"
    fitted = fit_part(bench, "C-NEW", "LK-01", "cell 1")
    assert fitted.old_part is None, "the spare head came empty"


def test_a_moved_part_goes_back_to_stock_and_may_be_fitted_again(bench: Workplace, keys: Keys) -> None:
    fit_part(bench, "C-NEW", "LK-01", "cell 1", why_old="moved")
    fitted = fit_part(bench, "C-LK-01-1", "LK-02", "cell 1", why_old="age")
    assert fitted.part == "C-LK-01-1"


def test_a_life_from_fitting_runs_on_while_the_part_is_out_and_when_it_is_fitted_again(
    bench: Workplace, keys: Keys, clock: Any
) -> None:
    first = fit_part(bench, "V-NEW", "LK-01", "inhale one-way valve", why_old="fault")
    clock.advance(days=200)
    remove_part(bench, "LK-01", "inhale one-way valve", why="moved")
    again = fit_part(bench, "V-NEW", "LK-02", "inhale one-way valve", why_old="fault")
    assert first.last_good_day is not None
    assert again.last_good_day == first.last_good_day, "24 months from the first fitting; refitting lengthens nothing"
    assert [each for each in rebuild_lives(bench) if each.part == "V-NEW"] == []
    item = next(each for each in list_due(bench) if each.part == "V-NEW")
    assert (item.last_good_day, item.basis) == (first.last_good_day, "fitted")


def test_a_part_whose_life_from_fitting_ended_on_the_shelf_is_refused(bench: Workplace, keys: Keys, clock: Any) -> None:
    fit_part(bench, "V-NEW", "LK-01", "inhale one-way valve", why_old="fault")
    remove_part(bench, "LK-01", "inhale one-way valve", why="moved")
    let_pass(bench, clock, 800)
    with pytest.raises(Refused, match="past its last valid day"):
        fit_part(bench, "V-NEW", "LK-01", "inhale one-way valve")


def test_loop_parts_are_workshop_openings_a_canister_is_routine_a_battery_none(bench: Workplace, keys: Keys) -> None:
    fit_part(bench, "V-NEW", "LK-01", "inhale one-way valve", why_old="fault")
    fit_part(bench, "CAN-SPARE", "LK-01", "canister", why_old="service")
    remove_part(bench, "LK-01", "handset 1 battery", why="age")
    assert openings(bench) == [("workshop", "inhale one-way valve replaced"), ("routine", "canister replaced")]


def test_a_slot_that_the_unit_has_not_is_named_with_those_it_has(bench: Workplace, keys: Keys) -> None:
    with pytest.raises(NotFound, match="slot cell 9: unit LK-01 has none of that name; it has head, cell 1"):
        fit_part(bench, "C-NEW", "LK-01", "cell 9", why_old="age")


def test_a_ticket_of_another_unit_is_refused_and_nothing_is_written(bench: Workplace, keys: Keys) -> None:
    ticket = open_ticket(bench, "LK-02", cause="by hand", reason="look")
    with pytest.raises(Refused, match="ticket: is of another unit"):
        fit_part(bench, "C-NEW", "LK-01", "cell 1", why_old="age", ticket_id=ticket)
    assert parts_by_serial(bench)["C-NEW"].state == "stock"


def test_an_opening_date_marked_on_the_part_is_kept(bench: Workplace, keys: Keys) -> None:
    day = date(2026, 5, 4) - timedelta(days=30)
    with bench.transaction("open", "part C-NEW") as act:
        act.change(act.get(Part, parts_by_serial(bench)["C-NEW"].id, "part"), opened_on=day)
    fit_part(bench, "C-NEW", "LK-01", "cell 1", why_old="age")
    assert parts_by_serial(bench)["C-NEW"].opened_on == day


def test_a_slot_takes_the_part_types_it_is_made_for_and_refuses_others_with_the_list(
    bench: Workplace, keys: Keys
) -> None:
    with bench.as_person(None).transaction("enter", "types") as act:
        kind = act.add(PartType(code="CELL-X", name="Cell of another build", kind="cell", source="invented"))
        act.add(Part(part_type_id=kind.id, serial="X-1", owner_id=keys.owner, lot="X", made_on=bench.today(),
                     state="stock"))  # fmt: skip
    assert any("cell 1 is made for is not recorded" in each for each in fit_cell(bench, "X-1").told)
    with bench.as_person(None).transaction("enter", "types") as act:
        right = act.session.scalars(select(PartType).where(PartType.code == "CELL-L")).one()
        act.add(SlotPartType(slot_id=keys.cell_slots[1], part_type_id=right.id))
        act.add(Part(part_type_id=kind.id, serial="X-2", owner_id=keys.owner, lot="X", made_on=bench.today(),
                     state="stock"))  # fmt: skip
    with pytest.raises(Refused, match=r"is Cell of another build \(CELL-X\), the slot cell 2 is made for Cell CELL-L"):
        fit_part(bench, "X-2", "LK-01", "cell 2", why_old="age")
    done = fit_part(bench, "C-NEW", "LK-01", "cell 2", why_old="age")
    assert not any("is made for" in each for each in done.told)


def fit_cell(bench: Workplace, serial: str) -> Any:
    return fit_part(bench, serial, "LK-01", "cell 1", why_old="age")


def test_a_shared_lot_or_age_and_a_first_calibration_are_told_at_the_fit(bench: Workplace, keys: Keys) -> None:
    with bench.as_person(None).transaction("enter", "cells") as act:
        kind = act.session.scalars(select(PartType).where(PartType.code == "CELL-L")).one()
        act.add(Part(part_type_id=kind.id, serial="C-MATE", owner_id=keys.owner, lot="L2",
                     made_on=bench.today() - timedelta(days=60), state="stock"))  # fmt: skip
    told = fit_cell(bench, "C-MATE").told
    assert any(each.startswith("same lot as cell 2; made within 30 days of cell 3") for each in told)
    assert any("first calibration is still to come" in each for each in told)
