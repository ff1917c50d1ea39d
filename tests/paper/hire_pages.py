"""Invented rows for the hire desk's pages beside the hand-over sheet, and for a sheet that is signed."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

from fleetbench.paper.hires.handover_sheet import HandoverSheet
from fleetbench.records.hires.reads import BookingRecord
from fleetbench.workshop.hires.handover import AccessoryLine
from fleetbench.workshop.hires.list import BookingRow
from fleetbench.workshop.hires.pages import Board, BoardUnit, ReturnFacts
from fleetbench.workshop.hires.signing import Signed
from tests.paper import sample_pages
from tests.paper.distinct import Distinct

AT = datetime(2026, 5, 7, 8, 45, tzinfo=ZoneInfo("Europe/Berlin"))
STROKES = (((60, 220), (140, 40), (230, 230), (300, 90)), ((340, 150), (520, 120), (760, 190)))
FIRST, LAST = date(2026, 5, 8), date(2026, 5, 12)


def handover_signed() -> HandoverSheet:
    """A sheet that its diver signed by hand and the centre on paper, with deposit."""
    by_hand = Signed(party="diver", how="drawn", at=AT, strokes=STROKES)
    return sample_pages.handover(signatures=(by_hand, Signed(party="centre", how="paper", at=AT)), deposit=200.0)


def board_unit(unit: str, who: str | None, leaves: str, harness: str | None, why: str) -> BoardUnit:
    """A unit that is to go."""
    return BoardUnit(unit=unit, who=who, leaves=leaves, harness=harness, state="to go", why=why)


def board() -> Board:
    """A course of two students with a spare, one student still without a unit."""
    some = Distinct()
    booking = some.row(
        BookingRow,
        instructor="Łucja Żuraw",
        booking=some.row(
            BookingRecord,
            code="C-2026-004",
            kind="course",
            unit_type="back-mounted, two handsets",
            starts_on=FIRST,
            ends_on=LAST,
            units_wanted=4,
            planned_minutes=90.0,
            planned_depth_m=30.0,
        ),
    )
    rows = (
        board_unit("KB-07", "Søren Østergård", "kit", "L", "nothing"),
        board_unit("KB-09", "Łucja Żuraw", "kit", None, "stop: workshop calibration, one-way valves and loop"),
        board_unit("KB-11", None, "not chosen yet", "M", "advise: batteries"),
    )
    return Board(booking=booking, spares=1, rows=rows, without=("Zoë Kovačová",))


def receipt() -> ReturnFacts:
    """A return a day late, with a weight missing and a whistle that nobody counted."""
    counted = (("torch", 1, 1), ("weight", 2, 1), ("whistle", 1, None))
    return ReturnFacts(
        record="HIR-00217",
        unit="KB-07",
        booking="H-26-031",
        renter="Søren Østergård",
        starts_on=FIRST,
        ends_on=LAST,
        received_at=AT,
        received_by="Łucja Żuraw",
        days_late=1,
        deposit=200.0,
        deposit_back=150.0,
        loop_minutes=171.0,
        dives=3,
        damaged=None,
        missing="1 weight",
        accessories=tuple(
            AccessoryLine(accessory_id=1, name=name, count=sent, sent=sent, back=back) for name, sent, back in counted
        ),
    )
