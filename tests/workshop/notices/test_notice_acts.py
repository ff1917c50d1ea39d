"""Notices and recalls: what they touch, what one act holds, and what is left to do. Common practice, no published
source."""

from datetime import date, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import func, select

from fleetbench.calc.notices.scope import Covered, NoticeFacts
from fleetbench.records.canisters.tables import Fill, Run
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.core.journal import Journal
from fleetbench.records.hires.tables import Booking, BookingUnit
from fleetbench.records.parts.tables import Part
from fleetbench.records.units.tables import Hold, Unit
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.notices.acts import (
    hold_for_notice,
    list_notices,
    notice_done,
    notice_page,
    recall_lot,
    record_notice,
    units_not_done,
    what_lot_touched,
)
from fleetbench.workshop.parts.fit import fit_part
from fleetbench.workshop.parts.receive import Delivery, receive_serials
from fleetbench.workshop.units.list import list_units
from tests.centres.bench_centre import Keys, write_centre


@pytest.fixture
def keys(workplace: Workplace, clock: Any) -> Keys:
    """The small centre, written."""
    return write_centre(workplace.database, clock())


@pytest.fixture
def bench(workplace: Workplace, keys: Keys) -> Workplace:
    """The workplace with the manager at the bench."""
    return workplace.as_person(keys.manager)


def hire(
    workplace: Workplace, keys: Keys, unit: int, code: str, out: datetime, back: datetime | None, going: bool = True
) -> None:
    with workplace.as_person(None).transaction("book", code) as act:
        booking = act.add(
            Booking(
                kind="hire",
                code=code,
                unit_type_id=keys.unit_type,
                starts_on=out.date(),
                ends_on=(back or out + timedelta(days=5)).date(),
                renter_id=keys.technician,
            )
        )
        act.add(BookingUnit(booking_id=booking.id, unit_id=keys.units[unit], out_at=out if going else None,
                            received_at=back, hand_over="assembled" if going else None))  # fmt: skip


Entry = tuple[NoticeFacts, tuple[Covered, ...]]


def entry(number: str, *scopes: Covered, weight: str = "stop", by_when: date | None = None) -> Entry:
    facts = NoticeFacts(number=number, issued_on=date(2026, 5, 1), title="Cells may drift", text="Drift seen.",
                        action="swap the cell", by_when=by_when, weight=weight)  # fmt: skip
    return facts, scopes


def open_holds(workplace: Workplace) -> list[tuple[str | None, str | None]]:
    with workplace.database.read_session() as session:
        query = (
            select(Unit.tag, Part.serial).select_from(Hold).outerjoin(Unit, Unit.id == Hold.unit_id)
            .outerjoin(Part, Part.id == Hold.part_id).where(Hold.lifted_at.is_(None)).order_by(Hold.id)
        )  # fmt: skip
        return [(tag, serial) for tag, serial in session.execute(query)]


def test_a_recall_finds_the_unit_it_is_in_the_one_it_was_in_and_every_hire_of_that_time(
    bench: Workplace, keys: Keys, clock: Any
) -> None:
    start = clock()
    hire(bench, keys, 0, "H-BEFORE", start - timedelta(days=90), start - timedelta(days=85))
    hire(bench, keys, 0, "H-WITH", start - timedelta(days=20), start - timedelta(days=15))
    clock.advance(hours=1)
    fit_part(bench, "C-NEW", "LK-01", "cell 1", why_old="moved")
    clock.advance(hours=1)
    fit_part(bench, "C-LK-01-1", "LK-02", "cell 1", why_old="age")
    clock.advance(hours=1)
    hire(bench, keys, 0, "H-AFTER", clock(), None)
    hire(bench, keys, 1, "H-NEXT", clock() + timedelta(days=3), None, going=False)
    touched = what_lot_touched(bench, "l1")
    # Lot L1 was cell 1 of each unit: C-LK-01-1 (now in LK-02) and C-LK-02-1 (out of LK-02 since).
    assert {part.part: part.unit for part in touched.parts} == {"C-LK-01-1": "LK-02", "C-LK-02-1": None}
    assert [(unit.unit, unit.now) for unit in touched.units] == [("LK-02", True), ("LK-01", False)]
    assert "in cell 1 until 2026-05-04" in touched.units[1].why[0]
    assert {each.booking: each.state for each in touched.hires} == {"H-WITH": "back", "H-NEXT": "to come"}


def test_a_recall_holds_everything_in_one_act_and_stops_the_lot_for_good(bench: Workplace, keys: Keys) -> None:
    with bench.database.read_session() as session:
        before = session.scalar(select(func.count()).select_from(Journal)) or 0
    answer = recall_lot(bench, "L1", "maker reports drift after three months")
    with bench.database.read_session() as session:
        assert session.scalar(select(func.count()).select_from(Journal)) == before + 1
    assert open_holds(bench) == [("LK-01", None), ("LK-02", None), (None, "C-LK-01-1"), (None, "C-LK-02-1")]
    assert len(answer.holds) == 4
    got = receive_serials(bench, "CELL-L", ["C-LATE"], Delivery(lot="L1"))
    assert got.set_aside == ("notice RECALL L1 stops it: remove it and set it aside",)
    assert verify(bench.database).first_break is None


def test_a_unit_that_no_longer_carries_the_lot_is_told_with_its_days_and_divers_and_not_stopped(
    bench: Workplace, keys: Keys, clock: Any
) -> None:
    hire(bench, keys, 0, "H-WITH", clock() - timedelta(days=20), clock() - timedelta(days=15))
    clock.advance(hours=1)
    fit_part(bench, "C-NEW", "LK-01", "cell 1", why_old="fault")
    answer = recall_lot(bench, "L1", "drift")
    assert open_holds(bench) == [("LK-02", None), (None, "C-LK-01-1"), (None, "C-LK-02-1")]
    (told,) = answer.touched.told
    assert told.startswith("LK-01: Cell CELL-L C-LK-01-1, lot L1 in cell 1 until 2026-05-04; Tamsin Orrel may have ")
    assert [each.unit.unit for each in units_not_done(bench)] == ["LK-02"]
    with pytest.raises(Refused, match="everything that carries it now is on hold"):
        hold_for_notice(bench, "RECALL L1")


def test_done_on_a_unit_lifts_its_hold_but_not_that_of_the_part(bench: Workplace, keys: Keys) -> None:
    recall_lot(bench, "L1", "drift")
    assert [each.unit.unit for each in units_not_done(bench)] == ["LK-01", "LK-02"]
    fit_part(bench, "C-NEW", "LK-01", "cell 1", why_old="fault")
    # The cell is out, so that the unit is named no longer; done takes its hold away.
    assert [each.unit.unit for each in units_not_done(bench)] == ["LK-02"]
    assert len(notice_done(bench, "RECALL L1", "LK-01", "cell swapped")) == 1
    assert open_holds(bench) == [("LK-02", None), (None, "C-LK-01-1"), (None, "C-LK-02-1")]
    with pytest.raises(Refused, match="done on unit LK-01 already"):
        notice_done(bench, "RECALL L1", "LK-01")
    with pytest.raises(Refused, match="on hold"):
        fit_part(bench, "C-LK-01-1", "LK-01", "cell 2", why_old="age")


def test_a_recalled_part_is_not_fitted_to_a_unit_on_which_the_notice_is_done(bench: Workplace, keys: Keys) -> None:
    record_notice(bench, *entry("N-7", Covered("lot", "L9"), Covered("unit type", "TYPE-L")))
    notice_done(bench, "N-7", "LK-01")
    with pytest.raises(Refused, match="notice N-7 stops it"):
        fit_part(bench, "C-NEW", "LK-01", "cell 1", why_old="age")


@pytest.mark.parametrize(
    ("scope", "units"),
    [
        (Covered("unit type", "TYPE-L"), ["LK-01", "LK-02"]),
        (Covered("part type", "HEAD-L"), ["LK-01", "LK-02"]),
        (Covered("serials", "C-LK-02-1", "C-LK-02-3"), ["LK-02"]),
        (Covered("serials", "S-LK-01", "S-LK-01"), ["LK-01"]),
        (Covered("lot", "L2"), ["LK-01", "LK-02"]),
        (Covered("firmware", "2.4"), []),
    ],
)
def test_each_kind_of_scope_finds_the_units_it_names(bench: Workplace, scope: Covered, units: list[str]) -> None:
    record_notice(bench, *entry("N-1", scope))
    assert [each.unit.unit for each in units_not_done(bench)] == units


def test_a_notice_records_without_holds_and_holds_later_only_what_is_not_held(bench: Workplace) -> None:
    assert record_notice(bench, *entry("N-1", Covered("lot", "L1"))).holds == ()
    assert len(hold_for_notice(bench, "N-1").holds) == 4
    with pytest.raises(Refused, match="on hold for it already"):
        hold_for_notice(bench, "N-1")


def test_the_list_says_how_far_each_notice_is(bench: Workplace) -> None:
    record_notice(bench, *entry("N-1", Covered("lot", "L9"), weight="advise", by_when=date(2026, 5, 3)))
    record_notice(bench, *entry("N-2", Covered("unit type", "TYPE-L")))
    notice_done(bench, "N-2", "LK-02")
    rows = {row.notice.number: row for row in list_notices(bench)}
    assert (rows["N-1"].units, rows["N-1"].not_done, rows["N-1"].in_stock) == (0, (), 1)
    assert (rows["N-2"].units, rows["N-2"].not_done) == (2, ("LK-01",))


def test_stopping_notices_come_first_and_a_late_one_says_so(bench: Workplace) -> None:
    record_notice(bench, *entry("N-1", Covered("lot", "L1"), weight="advise", by_when=date(2026, 5, 3)))
    record_notice(bench, *entry("N-2", Covered("unit type", "TYPE-L"), by_when=date(2026, 6, 1)))
    found = units_not_done(bench)
    assert [(each.notice.number, each.late) for each in found] == [("N-2", False)] * 2 + [("N-1", True)] * 2


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"number": " "}, "number: is empty"),
        ({"scopes": ()}, "scope: covers nothing"),
        ({"scopes": (Covered("colour", "red"),)}, "scope: 'colour' is not known"),
        ({"scopes": (Covered("lot", " "),)}, "lot: is empty"),
        ({"issued_on": date(2027, 1, 1)}, "issued on: 2027-01-01 lies ahead"),
        ({"by_when": date(2020, 1, 1)}, "by when: 2020-01-01 lies before"),
        ({"weight": "perhaps"}, "weight: 'perhaps' is not known"),
    ],
)
def test_a_notice_that_cannot_be_meant_is_refused_by_field(
    bench: Workplace, changed: dict[str, Any], said: str
) -> None:
    facts = {"number": "N-1", "issued_on": date(2026, 5, 1), "title": "t", "text": "x", "action": "a"}
    scopes = changed.get("scopes", (Covered("lot", "L1"),))
    given = {name: value for name, value in {**facts, **changed}.items() if name != "scopes"}
    with pytest.raises(Refused, match=said):
        record_notice(bench, NoticeFacts(**given), scopes)


def test_a_number_twice_a_lot_never_seen_and_a_unit_not_touched_are_refused(bench: Workplace) -> None:
    record_notice(bench, *entry("N-1", Covered("serials", "C-LK-02-1")))
    with pytest.raises(Refused, match="N-1: is recorded"):
        record_notice(bench, *entry("N-1", Covered("lot", "L1")))
    with pytest.raises(NotFound, match="no part and no container of it"):
        recall_lot(bench, "L77", "drift")
    with pytest.raises(Refused, match="does not touch unit LK-01"):
        notice_done(bench, "N-1", "LK-01")
    with pytest.raises(NotFound):
        notice_page(bench, "N-9")


def test_a_misspelt_type_is_refused_and_a_name_will_do(bench: Workplace) -> None:
    with pytest.raises(Refused, match="part type CELL-LL: is not recorded"):
        record_notice(bench, *entry("N-31", Covered("part type", "CELL-LL")))
    record_notice(bench, *entry("N-31", Covered("part type", "cell cell-l")))
    with pytest.raises(Refused, match="unit type X"):
        record_notice(bench, *entry("N-32", Covered("unit type", "X")))


def test_a_notice_page_tells_on_which_units_it_is_done_by_whom_and_what_is_left(bench: Workplace) -> None:
    record_notice(bench, *entry("N-33", Covered("part type", "CELL-L")))
    notice_done(bench, "N-33", "LK-01", "all three looked at")
    page = notice_page(bench, "N-33")
    assert [(each.unit, each.person, each.note) for each in page.done] == [
        ("LK-01", "Jarek Vinthe", "all three looked at")
    ]
    assert page.not_done == ("LK-02",)


@pytest.mark.parametrize(("weight", "holds"), [("stop", True), ("advise", False)])
def test_a_part_whose_serial_is_not_known_cannot_be_excluded_from_a_span_of_serials(
    bench: Workplace, keys: Keys, weight: str, holds: bool
) -> None:
    """Missing data never passes: the notice counts as its kind says, and says why."""
    with bench.transaction("correct stock record", "the label is lost") as act:
        cell = act.session.scalars(select(Part).where(Part.serial == "C-LK-01-1")).one()
        act.change(cell, serial=None, lot="L-9")
    facts, scopes = entry("N-9", Covered("serials", "ZZ-100", "ZZ-200"), weight=weight)
    answer = record_notice(bench, facts, scopes)
    assert [each.unit for each in answer.touched.units_now] == ["LK-01"]
    assert "serial not recorded, so it cannot be excluded" in answer.touched.units_now[0].why[0]
    row = next(each for each in list_units(bench) if each.tag == "LK-01")
    words = "cell 1: serial not recorded, so it cannot be excluded; enter it under Shelf, Correct the part"
    said = " ".join(row.reasons if holds else row.advises)
    assert "notice N-9 not done" in said and words in said
    other = next(each for each in list_units(bench) if each.tag == "LK-02")
    assert "N-9" not in " ".join((*other.reasons, *other.advises))


def dive(workplace: Workplace, keys: Keys, unit: int, at: datetime, line: str | None, dives: int = 1) -> None:
    """A run of a fill in a unit, on a hire's line or (None) on none."""
    with workplace.as_person(None).transaction("run", "x") as act:
        canister = act.session.scalars(select(Part.id)).first()
        fill = act.add(Fill(part_id=canister or 0, packed_at=at - timedelta(hours=1)))
        of_code = select(BookingUnit.id).join(Booking, Booking.id == BookingUnit.booking_id).where(Booking.code == line)
        act.add(
            Run(fill_id=fill.id, unit_id=keys.units[unit], booking_unit_id=act.session.scalar(of_code), minutes=60,
                diver_id=None if line else keys.manager, started_at=at, clock="loop", dives=dives)
        )  # fmt: skip


def say_dives(workplace: Workplace, code: str, dives: int) -> None:
    """What the hand-back of a hire stated."""
    with workplace.as_person(None).transaction("hand back", code) as act:
        query = select(BookingUnit).join(Booking, Booking.id == BookingUnit.booking_id).where(Booking.code == code)
        for row in act.session.scalars(query):
            act.change(row, dives=dives)


def test_a_recall_tells_by_runs_who_dived_with_the_part_and_who_may_have_before_anything_is_held(
    bench: Workplace, keys: Keys, clock: Any
) -> None:
    # The cell of lot L1 sits in LK-01 from 30 days ago and comes out now, in the middle of one hire.
    start = clock()
    hire(bench, keys, 0, "H-WITH", start - timedelta(days=20), start - timedelta(days=15))
    hire(bench, keys, 0, "H-SAID", start - timedelta(days=12), start - timedelta(days=10))
    hire(bench, keys, 0, "H-SPLIT", start - timedelta(days=2), start + timedelta(days=2))
    dive(bench, keys, 0, start - timedelta(days=19), "H-WITH", dives=2)
    dive(bench, keys, 0, start - timedelta(days=14), None)
    clock.advance(hours=1)
    fit_part(bench, "C-NEW", "LK-01", "cell 1", why_old="moved")
    clock.advance(hours=1)
    dive(bench, keys, 0, start + timedelta(days=1), "H-SPLIT", dives=3)
    say_dives(bench, "H-SPLIT", 3)
    touched = what_lot_touched(bench, "L1")
    told = [(each.booking, each.exposure.value, each.dives) for each in touched.hires]
    assert sorted(told) == [
        ("H-SAID", "may have dived with it", 0),  # no run of it is recorded and no number of dives was stated
        ("H-SPLIT", "no dive with it", 0),  # all three stated dives are recorded, after the part came out
        ("H-WITH", "dived with it", 2),
        ("no booking", "dived with it", 1),  # a dive of the house, that no hire shows
    ]
    house = next(each for each in touched.hires if each.booking == "no booking")
    assert (house.diver, house.state, house.starts_on) == ("Jarek Vinthe", "back", (start - timedelta(days=14)).date())
    assert open_holds(bench) == []
    say_dives(bench, "H-SPLIT", 4)  # a fourth dive that no run tells of may have been one with the part
    split = next(each for each in what_lot_touched(bench, "L1").hires if each.booking == "H-SPLIT")
    assert split.exposure.value == "may have dived with it"
