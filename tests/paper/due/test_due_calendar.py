"""The due list as iCalendar, read back with the icalendar package."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta, timezone

import icalendar
import pytest

from fleetbench.paper.due.exports import calendar_uid, write_due_ics
from tests.paper import sample_pages
from tests.paper.pdf_reader import made

STAMP = datetime(2026, 5, 7, 6, 40, tzinfo=UTC)


def events(page: object, stamp: datetime = STAMP) -> list:
    calendar = icalendar.Calendar.from_ical(made(write_due_ics, page, stamp=stamp))
    assert calendar["VERSION"] == "2.0"
    return list(calendar.walk("VEVENT"))


def test_each_item_is_one_all_day_event_on_its_last_good_day_and_what_is_past_on_the_day_of_the_list() -> None:
    """All-day events: RFC 5545 section 3.6.1, DTSTART as a date and DTEND the day after; reminders: section 3.6.6."""
    page = sample_pages.due(24)
    found = events(page)
    assert len(found) == 25
    first = found[0]
    assert first.decoded("dtstart") == page.on and first.decoded("dtend") == page.on + timedelta(days=1)
    assert first["SUMMARY"] == "past since 2026-05-01: KB-01 cell 2: replace"
    assert first.decoded("dtstamp") == STAMP
    for event, item in zip(found, page.items, strict=True):
        (alarm,) = event.walk("VALARM")
        ahead = item.last_good_day is not None and item.last_good_day > page.on
        if ahead:
            assert event.decoded("dtstart") == item.last_good_day
        assert (alarm["ACTION"], alarm["DESCRIPTION"]) == ("DISPLAY", event["SUMMARY"])
        morning = datetime.combine(event.decoded("dtstart"), time()) + alarm.decoded("trigger")
        assert morning.hour == 9 and (event.decoded("dtstart") - morning.date()).days == (7 if ahead else 0)


def test_a_second_export_keeps_each_uid_though_the_day_moved() -> None:
    dated = tuple(sample_pages.due_line(number) for number in range(24))
    page = sample_pages.due(0, items=dated)
    moved = replace(
        page, items=tuple(replace(item, last_good_day=date(2027, 1, 1), part="OC-99", basis="made") for item in dated)
    )
    later = events(moved, STAMP + timedelta(days=3))
    assert [event["UID"] for event in later] == [event["UID"] for event in events(page)]
    assert len({str(event["UID"]) for event in later}) == 24


def test_uids_of_two_centres_or_two_items_differ() -> None:
    assert len({calendar_uid("A", "x"), calendar_uid("B", "x"), calendar_uid("A", "y")}) == 3


def test_an_item_without_a_day_is_not_dropped() -> None:
    undated = events(sample_pages.due(1))[-1]
    assert undated["SUMMARY"].startswith("day not recorded: KB-03")
    assert undated.decoded("dtstart") == date(2026, 5, 7)


def test_hostile_text_stays_inside_its_event() -> None:
    """Line ends and separators are escaped: RFC 5545 section 3.3.11."""
    item = "a\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nSUMMARY:forged;,\\"
    found = events(sample_pages.due(0, items=(sample_pages.due_line(1, item=item),)))
    assert len(found) == 1
    assert "END:VEVENT" in found[0]["SUMMARY"] and "forged;,\\" in found[0]["SUMMARY"]


def test_lines_are_folded_at_75_octets() -> None:
    """RFC 5545 section 3.1."""
    raw = made(write_due_ics, sample_pages.due_hostile(), stamp=STAMP)
    assert raw.endswith(b"\r\n") and all(len(line) <= 75 for line in raw.split(b"\r\n"))


def test_the_stamp_is_written_in_utc_whatever_its_zone() -> None:
    there = STAMP.astimezone(timezone(timedelta(hours=9)))
    assert made(write_due_ics, sample_pages.due(), stamp=there) == made(write_due_ics, sample_pages.due(), stamp=STAMP)


def test_two_items_of_one_place_are_two_events() -> None:
    line = sample_pages.due_line(1)
    assert len({str(event["UID"]) for event in events(sample_pages.due(0, items=(line, line)))}) == 2


def test_a_stamp_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="stamp: has no time zone"):
        made(write_due_ics, sample_pages.due(), stamp=datetime(2026, 5, 7))
