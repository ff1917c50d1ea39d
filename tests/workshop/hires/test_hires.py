"""Bookings, their units, and what the hand-over sheet says of a unit."""

from datetime import timedelta
from typing import Any

import pytest

from fleetbench.records.cells.tables import HandsetSetting
from fleetbench.records.core.errors import NotFound
from fleetbench.records.gas.tables import Cylinder, CylinderFill, GasAnalysis
from fleetbench.records.hires.tables import Booking, BookingUnit, HireNote
from fleetbench.records.parts.tables import Fitting, Part, PartType
from fleetbench.records.units.tables import Slot
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.list import handover_facts, hire_lines, list_bookings
from tests.centres.ready_centre import Centre, counted


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> Centre:
    """The small centre, its units fit to leave."""
    return Centre(workplace, clock)


def test_a_booking_is_to_come_out_late_back_or_cancelled(centre: Centre) -> None:
    def state(code: str) -> str:
        return {row.booking.code: row.state for row in list_bookings(centre.workplace, past=True)}[code]

    assert state("H-7") == "to come"
    line = centre.book(centre.two, -3, -1, "H-8", out_at=centre.ago(3))
    assert state("H-8") == "late"
    centre.change(BookingUnit, line, received_at=centre.ago(0.1))
    assert state("H-8") == "back"
    centre.change(BookingUnit, centre.keys.line, out_at=centre.ago(0.1))
    assert state("H-7") == "out"
    with centre.act() as act:
        from sqlalchemy import select

        row = act.session.scalars(select(Booking).where(Booking.code == "H-7")).one()
        act.change(row, cancelled_at=centre.ago(0.05))
    assert state("H-7") == "cancelled"


def test_what_is_over_is_left_out_unless_a_unit_is_still_out(centre: Centre) -> None:
    centre.book(centre.two, -9, -5, "H-1", out_at=centre.ago(9), received_at=centre.ago(5))
    centre.book(centre.one, -4, -2, "H-2", out_at=centre.ago(4))
    assert [row.booking.code for row in list_bookings(centre.workplace)] == ["H-2", "H-7"]
    assert [row.booking.code for row in list_bookings(centre.workplace, past=True)] == ["H-1", "H-2", "H-7"]


def test_the_lines_of_a_booking_carry_their_notes_and_an_unknown_code_is_told(centre: Centre) -> None:
    with centre.act() as act:
        # Notes are erasable and so not in the journal; an act writes them beside what it records.
        act.change(act.get(BookingUnit, centre.keys.line, "line"), wet=False)
        act.add(HireNote(booking_unit_id=centre.keys.line, at=centre.ago(0.2), text="asked for a long hose"))
    (line,) = hire_lines(centre.workplace, "H-7")
    assert (line.line.unit, line.diver, line.note) == ("LK-01", "Ines Quell", "asked for a long hose")
    with pytest.raises(NotFound, match="booking H-99"):
        hire_lines(centre.workplace, "H-99")


def test_the_sheet_states_cells_calibration_fill_and_tests_of_the_unit(centre: Centre) -> None:
    centre.pack(0.5, diver_id=centre.keys.renter, booking_unit_id=centre.keys.line)
    setting = {"fraction_set": 0.996, "pressure_set_mbar": 1008.0, "shown_oxygen_bar": 1.0, "shown_air_bar": 0.21}
    centre.add(HandsetSetting(unit_id=centre.one, reader_id=centre.keys.centre.readers[0], at=centre.ago(2), **setting))
    facts = handover_facts(centre.workplace, "LK-01")
    assert (facts.booking, facts.renter, facts.hand_over) == ("H-7", "Ines Quell", "assembled")
    first = facts.cells[0]
    assert (first.position, first.part and first.part.label, first.verdict) == ("cell 1", "C-LK-01-1", "pass")
    assert (facts.calibrated_at, facts.calibrated_by) == (centre.ago(2), "Tamsin Orrel")
    assert facts.head_serial == "HEAD-L-LK-01"
    assert [handset.shown_air_bar for handset in facts.handsets] == [0.21, 0.21]
    assert facts.fill is not None
    # The container was opened two days ago and the invented manual gives it 336 h.
    assert facts.discard_by == centre.ago(2) + timedelta(hours=336)
    tested = {(test.record.kind, test.record.direction) for test in facts.tests}
    assert tested >= {("one-way valve", "inhale"), ("loop negative", None)}
    assert facts.assessment.span == (centre.today, centre.today + timedelta(days=2))
    assert facts.known_faults == ()


def test_a_fill_in_use_is_discarded_by_the_clock_of_its_first_use(centre: Centre) -> None:
    fill = centre.pack(0.5, diver_id=centre.keys.renter, booking_unit_id=centre.keys.line)
    centre.run(centre.one, fill, 0.25, 30)
    assert handover_facts(centre.workplace, "LK-01").discard_by == centre.ago(0.25) + timedelta(hours=24)


def test_an_analysis_older_than_the_last_fill_is_stale(centre: Centre) -> None:
    kind = centre.add(PartType(code="CYL-L", name="Oxygen cylinder", kind="oxygen cylinder", source="invented"))
    owner = centre.keys.centre
    part = centre.add(Part(part_type_id=kind, serial="CY-1", owner_id=owner.owner, state="fitted"))
    slot = centre.add(
        Slot(unit_type_id=owner.unit_type, name="oxygen cylinder", kind="oxygen cylinder", ordinal=9, oxygen_side=True)
    )
    centre.add(
        Cylinder(part_id=part, role="oxygen", size_l=3.0, working_bar=200.0),
        Fitting(part_id=part, slot_id=slot, unit_id=centre.one, fitted_at=centre.ago(9)),
        GasAnalysis(part_id=part, at=centre.ago(2), oxygen_percent=99.5, person_id=owner.technician),
    )
    (before,) = handover_facts(centre.workplace, "LK-01").cylinders
    assert (before.part.label, before.filled.stale, before.analysed_by) == ("CY-1", False, "Tamsin Orrel")
    centre.add(CylinderFill(part_id=part, at=centre.ago(1), oxygen_asked=100.0, helium_asked=0.0, end_bar=195.0))
    (after,) = handover_facts(centre.workplace, "LK-01").cylinders
    assert (after.filled.stale, after.end_bar) == (True, 195.0)


def test_a_unit_without_a_booking_has_a_sheet_and_one_not_on_the_booking_has_not(centre: Centre) -> None:
    facts = handover_facts(centre.workplace, "LK-02")
    assert (facts.booking, facts.renter, facts.hand_over) == (None, None, "assembled")
    with pytest.raises(NotFound, match="unit LK-02: not on booking H-7"):
        handover_facts(centre.workplace, "LK-02", "H-7")
    with pytest.raises(NotFound, match="booking H-99"):
        handover_facts(centre.workplace, "LK-01", "H-99")


def test_known_faults_name_holds_and_open_tickets(centre: Centre) -> None:
    centre.hold(unit_id=centre.one)
    centre.ticket(centre.one, 3, critical=False)
    faults = handover_facts(centre.workplace, "LK-01").known_faults
    assert faults == ("manual hold: strap torn", "ticket 2026-003: strange noise")


def test_list_and_sheet_take_a_fixed_number_of_statements(centre: Centre, sample_workplace: Workplace) -> None:
    counts = []
    for workplace in (centre.workplace, sample_workplace):
        row = next(row for row in list_bookings(workplace) if row.units)
        with counted(workplace) as seen:
            list_bookings(workplace)
            hire_lines(workplace, row.booking.code)
            handover_facts(workplace, row.units[0])
        counts.append(len(seen))
    assert counts[0] == counts[1]


def test_every_promised_unit_of_the_sample_fleet_has_a_sheet(sample_workplace: Workplace) -> None:
    standing = [row for row in list_bookings(sample_workplace) if row.state in ("out", "to come")]
    promised = [(row.booking.code, unit) for row in standing for unit in row.units]
    assert promised
    for code, unit in promised[:6]:
        facts = handover_facts(sample_workplace, unit, code)
        assert (facts.booking, facts.tag, len(facts.cells)) == (code, unit, 3)
        assert len(facts.cylinders) == 3


def test_only_the_latest_test_of_each_kind_and_direction_and_of_parts_inside_is_on_the_sheet(centre: Centre) -> None:
    centre.test(centre.one, "loop negative", None, 40.0, "reject")
    newest = centre.test(centre.one, "loop negative", None, 0.2)
    # A test of a part that lies on the shelf now speaks of nothing that goes along.
    gone = centre.test(centre.one, "one-way valve", "inhale", 0.1, part_id=centre.part("C-NEW"))
    tests = [test for test in handover_facts(centre.workplace, "LK-01").tests if test.record.kind != "battery voltage"]
    assert [test.record.test_id for test in tests if test.record.kind == "loop negative"] == [newest]
    assert gone not in {test.record.test_id for test in tests}
    assert [(test.record.kind, test.record.direction) for test in tests].count(("one-way valve", "inhale")) == 1


def test_the_sheet_has_the_room_of_the_last_calibration_and_what_each_handset_showed(
    sample_workplace: Workplace,
) -> None:
    told = 0
    for booking in list_bookings(sample_workplace):
        for tag in booking.units:
            facts = handover_facts(sample_workplace, tag, booking.booking.code)
            assert (facts.conditions is None) == (facts.calibrated_at is None)
            for cell in facts.cells:
                told += len(cell.shown)
                assert bool(cell.shown) == (cell.outcome is not None)
                names = [each.reader for each in cell.shown]
                assert len(set(names)) == len(names)
    assert told
