"""The due list as it leaves the program, in every kind of file, read back by general-purpose readers."""

import csv
import io
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from icalendar import Calendar
from sqlalchemy import select

from fleetbench.paper.turn_rounds.pages import write_turn_round_card
from fleetbench.printing import print_blank, print_due, print_notices, print_orders, print_return, print_turn_round
from fleetbench.records.cells.tables import CalibrationOutcome
from fleetbench.records.core.errors import Refused
from fleetbench.records.parts.tables import Fitting
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import list_due
from fleetbench.workshop.parts.acts import send_back
from fleetbench.workshop.parts.fit import fit_part, remove_part
from fleetbench.workshop.parts.list import part_page
from fleetbench.workshop.parts.orders import fetch_list, order_list
from fleetbench.workshop.parts.stock import list_shelf
from fleetbench.workshop.people.list import list_people
from fleetbench.workshop.turn_rounds.card import open_card
from fleetbench.workshop.turn_rounds.page import turn_round_desk
from tests.paper.pdf_reader import texts


@pytest.fixture
def desk(sample_workplace: Workplace) -> Workplace:
    """The sample fleet with a manager at the desk."""
    manager = next(person for person in list_people(sample_workplace) if person.role == "manager")
    return sample_workplace.as_person(manager.person_id)


def printed(workplace: Workplace, folder: Path, ending: str, days: int = 60) -> bytes:
    """The due list of so many days in one kind of file."""
    today, path = workplace.today(), folder / f"due{ending}"
    print_due(workplace, list_due(workplace, within_days=days), today, today + timedelta(days=days), path)
    return path.read_bytes()


def events(data: bytes) -> dict[str, Any]:
    """Events by their UID, as the icalendar package reads them (RFC 5545)."""
    found = Calendar.from_ical(data).walk("VEVENT")
    by_uid = {str(event["uid"]): event for event in found}
    assert len(by_uid) == len(found), "two events with one UID"
    return by_uid


def test_the_calendar_holds_every_item_once_on_its_last_good_day(desk: Workplace, tmp_path: Path) -> None:
    items = list_due(desk, within_days=60)
    found = {uid: each for uid, each in events(printed(desk, tmp_path, ".ics")).items() if "status" not in each}
    days = sorted(max(item.last_good_day or desk.today(), desk.today()) for item in items)
    starts = sorted(event.decoded("dtstart") for event in found.values())
    assert starts[: len(days)] == days
    assert all(on > desk.today() + timedelta(days=60) for on in starts[len(days) :]), "done, and due again later"
    assert all(event.decoded("dtend") - event.decoded("dtstart") == timedelta(days=1) for event in found.values())


def test_a_second_export_keeps_its_uids_so_that_a_reader_updates_instead_of_doubling(
    desk: Workplace, tmp_path: Path
) -> None:
    before = events(printed(desk, tmp_path, ".ics", 365))
    replaced = [item for item in list_due(desk, within_days=365) if item.item == "replace"]
    row = next(item for item in replaced if (item.slot or "").startswith("cell"))
    fetched = next(r for r in fetch_list(desk, [row], row.last_good_day or desk.today()) if r.take)
    assert row.unit is not None and row.slot is not None
    fit_part(desk, fetched.take[0].part.part_id, row.unit, row.slot, why_old="age")
    after = events(printed(desk, tmp_path, ".ics", 365))
    shared = before.keys() & after.keys()
    assert len(shared) >= len(before) - 6, "a new cell opens the loop, so that a few tests of its unit fall due anew"
    moved = [uid for uid in shared if before[uid].decoded("dtstart") != after[uid].decoded("dtstart")]
    assert any(f"{row.unit} {row.slot}" in str(after[uid]["summary"]) for uid in moved)


def test_what_was_done_is_cancelled_in_the_next_calendar_and_what_is_still_due_is_not(
    desk: Workplace, tmp_path: Path
) -> None:
    """STATUS:CANCELLED under the same UID with a higher SEQUENCE: RFC 5545, 3.8.1.11, 3.8.4.7 and 3.8.7.4."""
    before, longer = events(printed(desk, tmp_path, ".ics", 60)), events(printed(desk, tmp_path, ".ics", 3650))
    row = next(each for each in list_due(desk, within_days=60) if (each.slot or "").startswith("cell"))
    fetched = next(r for r in fetch_list(desk, [row], row.last_good_day or desk.today()) if r.take)
    assert row.unit is not None and row.slot is not None
    fit_part(desk, fetched.take[0].part.part_id, row.unit, row.slot, why_old="age")
    names = {f"{each.unit} {each.slot}" for each in list_due(desk, within_days=60)}
    assert f"{row.unit} {row.slot}" not in names, "the new cell lasts beyond the list"
    later = replace(desk, clock=lambda: desk.clock() + timedelta(minutes=1))
    after = events(printed(later, tmp_path, ".ics", 60))
    again = next(each for each in list_due(desk) if (each.unit, each.slot) == (row.unit, row.slot))
    (moved,) = (uid for uid in before if f"{row.unit} {row.slot}:" in str(before[uid]["summary"]))
    assert "status" not in after[moved] and after[moved].decoded("dtstart") == again.last_good_day
    assert before.keys() <= after.keys() and all(after[uid]["sequence"] > before[uid]["sequence"] for uid in before)
    gone = {uid for uid, event in after.items() if "CANCELLED" in str(event.get("status"))}
    assert all(after[uid].decoded("dtstart") <= desk.today() for uid in gone)
    whole = events(printed(later, tmp_path, ".ics", 3650))
    due = {uid for uid, event in whole.items() if "status" not in event}
    assert gone and not gone & due and moved in longer, "nothing that is still due is cancelled, however far ahead"


def test_the_blank_card_has_the_lines_of_the_card_that_is_opened_then_in_the_same_order(
    desk: Workplace, tmp_path: Path
) -> None:
    tag = "B-03"
    print_blank(desk, write_turn_round_card, tag, tmp_path / "blank.pdf")
    open_card(desk, tag)
    print_turn_round(desk, tag, tmp_path / "card.pdf")
    card = turn_round_desk(desk, tag).card
    assert card is not None and len(card.lines) == 17 and card.lines[-1].text.startswith("Water traps")
    for name in ("blank.pdf", "card.pdf"):
        page = " ".join(" ".join(texts((tmp_path / name).read_bytes())).split())
        places = [page.index(f"{number} {line.text}") for number, line in enumerate(card.lines, start=1)]
        assert places == sorted(places)


def test_the_spreadsheet_holds_due_items_and_parts_to_fetch_as_dates_and_numbers(
    desk: Workplace, tmp_path: Path
) -> None:
    items = list_due(desk, within_days=60)
    book = openpyxl.load_workbook(io.BytesIO(printed(desk, tmp_path, ".xlsx")))
    due, fetch = book["due"], book["fetch"]
    assert due.max_row == len(items) + 1
    dated = [item for item in items if item.last_good_day is not None]
    column = [cell.value.date() for cell in due["A"][1:] if hasattr(cell.value, "date")]
    assert column == [item.last_good_day for item in dated]
    rows = fetch_list(desk, items, desk.today() + timedelta(days=60))
    told = [(row[0].value, row[1].value) for row in fetch.iter_rows(min_row=2)]
    assert told == [(row.part_type, row.wanted) for row in rows]


def test_the_csv_and_the_page_hold_as_many_items(desk: Workplace, tmp_path: Path) -> None:
    items = list_due(desk, within_days=60)
    rows = list(csv.DictReader(io.StringIO(printed(desk, tmp_path, ".csv").decode("utf-8-sig"))))
    assert [row["last valid day"] for row in rows] == [
        item.last_good_day.isoformat() if item.last_good_day else "not recorded" for item in items
    ]
    page = " ".join(texts(printed(desk, tmp_path, ".pdf")))
    assert f"{len(items)} items" in page and "Pick list from the shelf" in page


def test_orders_and_notices_are_printed_from_the_records(desk: Workplace, tmp_path: Path) -> None:
    print_orders(desk, tmp_path / "orders.pdf")
    print_orders(desk, tmp_path / "orders.csv")
    print_notices(desk, tmp_path / "notices.pdf")
    lines = order_list(desk)
    rows = list(csv.DictReader(io.StringIO((tmp_path / "orders.csv").read_text("utf-8-sig"))))
    assert [row["part type"] for row in rows] == [line.part_type for line in lines]
    page = " ".join(texts((tmp_path / "orders.pdf").read_bytes()))
    assert all(line.part_type in page for line in lines if line.order_on is not None)
    assert "Notices not done" in texts((tmp_path / "notices.pdf").read_bytes())[0]


@pytest.mark.parametrize("name", ["due.doc", "due"])
def test_another_kind_of_file_is_refused_by_name(desk: Workplace, tmp_path: Path, name: str) -> None:
    with pytest.raises(Refused, match="end the name in"):
        print_due(desk, (), desk.today(), desk.today(), tmp_path / name)
    with pytest.raises(Refused, match="end the name in"):
        print_orders(desk, tmp_path / name)


def test_the_note_of_a_return_holds_the_readings_that_prove_it(desk: Workplace, tmp_path: Path) -> None:
    with desk.database.read_session() as session:
        query = select(CalibrationOutcome, Fitting).join(Fitting, Fitting.part_id == CalibrationOutcome.part_id)
        query = query.where(CalibrationOutcome.verdict == "reject", Fitting.removed_at.is_(None))
        outcome, _ = session.execute(query.order_by(CalibrationOutcome.id.desc())).first() or (None, None)
        assert outcome is not None
        part_id, key, finding = outcome.part_id, outcome.id, outcome.finding
        air = f"air {outcome.air_mv:.1f} mV"
    page = part_page(desk, part_id)
    assert page.unit is not None and page.slot is not None
    remove_part(desk, page.unit, page.slot, why="low output")
    send_back(desk, part_id, "Low output long before its time", outcomes=(key,))
    print_return(desk, part_id, tmp_path / "return.pdf")
    text = " ".join(texts((tmp_path / "return.pdf").read_bytes()))
    for said in (f"Return of {page.part.label}", "Low output long before its time", "reject", air,
                 finding.split()[0], f"{page.part.lot}"):  # fmt: skip
        assert said in text
    with pytest.raises(Refused, match="was never sent back"):
        print_return(desk, next(p.part.part_id for p in list_shelf(desk)), tmp_path / "other.pdf")
