"""Today through the window: whom to ring, on which number, until when a unit may be dived, and how each leaves."""

import threading
from collections.abc import Iterator
from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from fleetbench.records.core.database import Database
from fleetbench.records.hires.tables import BookingUnit
from fleetbench.records.parts.tables import Part
from fleetbench.records.people.tables import Person, PersonPrivate
from fleetbench.window.detail.detail import Table
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.detail.view import TableView
from fleetbench.window.lists.lines_view import LinesView
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.window.units import today
from fleetbench.window.units.today import today_detail
from fleetbench.workshop.canisters.packing import give_fill, pack_canister
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.promises import PromiseLine, judged_promises
from fleetbench.workshop.import_export.walk_round import WalkLine, WalkRound
from fleetbench.workshop.people.list import list_people
from fleetbench.workshop.units.today import today_page
from tests.centres.ready_centre import Centre
from tests.window.bench_keys import shown

NUMBER = "+49 30 0000 4711"


@pytest.fixture
def centre(sqlite_database: Database, clock: Any) -> Centre:
    """The small centre; the renter's number is recorded, and an instructor may not see it."""
    made = Centre(Workplace(sqlite_database, clock), clock)
    with made.act() as act:
        private = act.session.query(PersonPrivate).filter_by(person_id=made.keys.renter).one()
        act.change(private, contact=NUMBER)
        teacher = act.add(Person(code="I9", role="instructor"))
        act.add(PersonPrivate(person_id=teacher.id, name="Jon Ahlbeck"))
    return made


@pytest.fixture
def page(qtbot: Any, theme: Theme, background: Background, centre: Centre) -> Iterator[RecordPage]:
    """Today, as the window opens it: over a workshop in which the signed-in user acts."""
    workplace = Workplace(centre.workplace.database, centre.clock, attended=True)
    background.signed_in.show_people(list_people(workplace))
    context = PageContext(theme, background, background.signed_in.at(workplace), ZoneInfo("Europe/Berlin"))
    made = today.list_page(context)
    made.resize(1200, 800)
    shown(qtbot, made)
    yield made
    qtbot.waitUntil(lambda: not background.is_busy, timeout=20_000)
    made.hide()


def signed_in(qtbot: Any, background: Background, role: str) -> None:
    background.signed_in.choose(next(each.person_id for each in background.signed_in.offered if each.role == role))
    qtbot.waitUntil(lambda: not background.is_busy, timeout=20_000)
    qtbot.wait(20)


def lines(page: RecordPage, title: str) -> tuple[tuple[str, ...], ...]:
    """What a table of the page shows."""
    assert page.detail is not None
    found = next(part for part in page.detail.parts if isinstance(part, Table) and part.title == title)
    return tuple(line.cells for line in found.lines)


RING = "Out and on hold: ring the renter"


def test_a_unit_out_whose_battery_ends_before_its_return_is_rung_about_with_the_day_and_the_number(
    qtbot: Any, page: RecordPage, background: Background, centre: Centre
) -> None:
    centre.change(BookingUnit, centre.keys.line, out_at=centre.ago(0.1), hand_over="assembled")
    last = centre.today + timedelta(days=1)
    battery = centre.part("BATT-L-LK-01")
    centre.change(Part, battery, made_on=(last + timedelta(days=1)).replace(year=last.year - 4))
    signed_in(qtbot, background, "technician")
    page.refresh()
    qtbot.waitUntil(lambda: page.detail is not None and not background.is_busy, timeout=20_000)
    (line,) = lines(page, RING)
    assert line[1] == f"ring Ines Quell, {NUMBER}: not after {last.day} {last:%B}"


def test_who_may_not_see_contacts_is_told_so_instead_of_the_number(
    qtbot: Any, page: RecordPage, background: Background, centre: Centre
) -> None:
    centre.change(BookingUnit, centre.keys.line, out_at=centre.ago(0.1), hand_over="assembled")
    centre.hold(unit_id=centre.one, reason="lot recalled")
    signed_in(qtbot, background, "instructor")
    page.refresh()
    qtbot.waitUntil(lambda: page.detail is not None and not background.is_busy, timeout=20_000)
    ((_, told, *_),) = lines(page, RING)
    assert told == "ring Ines Quell (the telephone is not shown to the role instructor): it must not be dived"
    signed_in(qtbot, background, "technician")
    qtbot.waitUntil(lambda: NUMBER in str(lines(page, RING)), timeout=20_000)


def test_a_call_is_recorded_from_the_line_that_says_whom_to_ring_and_leaves_the_list_by_its_answer(
    qtbot: Any, page: RecordPage, background: Background, centre: Centre
) -> None:
    centre.change(BookingUnit, centre.keys.line, out_at=centre.ago(0.1), hand_over="assembled")
    centre.hold(unit_id=centre.one, reason="lot recalled")
    centre.clock.advance(minutes=5)
    signed_in(qtbot, background, "technician")
    for key, words in (("N", "no answer, "), ("W", "will not dive it, ")):
        page.refresh()
        qtbot.waitUntil(lambda: page.detail is not None and not background.is_busy, timeout=20_000)
        table = page.part(RING).findChild(LinesView)
        table.setFocus()
        table.selectRow(0)
        QTest.keyClick(table, Qt.Key.Key_Return)
        dialog = page.dialog  # type: ignore[attr-defined]
        qtbot.waitUntil(dialog.isVisible)
        QTest.keyClick(dialog.fields["answer"], key)
        qtbot.waitUntil(lambda: dialog.fields["again"].isVisible() is (key == "N"))  # noqa: B023 - waited for here
        with qtbot.waitSignal(dialog.done_with, timeout=20_000):
            dialog.act()
        qtbot.waitUntil(lambda: words in str(page.detail) and not background.is_busy, timeout=20_000)  # noqa: B023
        centre.clock.advance(minutes=1)
    assert all(part.title != RING for part in page.detail.parts)
    ((unit, told, *_),) = lines(page, "Out and on hold: the diver was told")
    assert unit == "LK-01" and told.startswith("Ines Quell: it must not be dived; will not dive it, ")


def test_the_day_is_shown_before_its_promises_are_judged_and_says_that_they_are_not_known(
    qtbot: Any, theme: Theme, background: Background, centre: Centre, monkeypatch: pytest.MonkeyPatch
) -> None:
    may_go_on = threading.Event()

    def judged_later(workplace: Workplace) -> dict[str, PromiseLine]:
        assert may_go_on.wait(20)
        return judged_promises(workplace)

    monkeypatch.setattr(today, "judged_promises", judged_later)
    centre.hold(unit_id=centre.one, reason="lot recalled")
    page = today.list_page(PageContext(theme, background, centre.workplace, ZoneInfo("Europe/Berlin")))
    page.resize(1200, 800)
    shown(qtbot, page)
    page.refresh()
    qtbot.waitUntil(lambda: page.is_loaded, timeout=20_000)
    titles = [view.title for view in page.findChildren(TableView)]
    assert "Out today" in titles and "Bookings to ring about" not in titles
    assert page.summary.endswith("bookings to ring about: being calculated")
    bench = page.part("On the bench")
    may_go_on.set()
    qtbot.waitUntil(lambda: "being calculated" not in page.summary, timeout=20_000)
    assert lines(page, "Bookings to ring about")
    assert page.part("On the bench") is bench, "what says the same as before stays"
    page.hide()


def test_a_unit_with_another_divers_fill_is_judged_for_the_way_in_which_it_leaves(
    qtbot: Any, page: RecordPage, background: Background, centre: Centre
) -> None:
    pack_canister(centre.workplace, "CAN-L-LK-01", centre.keys.sealed, tare_g=1000.0, filled_g=3500.0, looked_at=True)
    give_fill(centre.workplace, "CAN-L-LK-01", diver_id=centre.keys.other)
    signed_in(qtbot, background, "technician")
    page.refresh()
    qtbot.waitUntil(lambda: page.detail is not None and not background.is_busy, timeout=20_000)
    ((_, fit, act, *_),) = lines(page, "Out today")
    assert fit == "hold as assembled" and act != "hand it over"
    centre.change(BookingUnit, centre.keys.line, hand_over="kit")
    page.refresh()
    qtbot.waitUntil(lambda: lines(page, "Out today")[0][1].endswith("as kit"), timeout=20_000)


def test_today_says_how_far_the_fleet_is_known_and_leads_to_the_walk_round(sample_workplace: Workplace) -> None:
    lines = tuple(
        WalkLine("R1", "Shelf 1", f"cell {n}", "made_on", f"Cell {n}: made, on its label") for n in range(1, 13)
    )
    page = today_page(sample_workplace)
    told = today_detail(page, WalkRound(lines, 88, 100)).parts[-1]
    assert isinstance(told, Table)
    assert told.title == "88 of 100 facts are known, 88 %; what to look for first"
    assert [line.cells[1] for line in told.lines] == [f"Cell {n}: made, on its label" for n in range(1, 11)]
    assert {line.leads_to for line in told.lines} == {PageKey("walk_round")}
    assert today_detail(page, WalkRound((), 100, 100)) == today_detail(page)  # absent where all is known


def test_the_bench_stands_above_what_goes_out_and_comes_back_for_a_technician(sample_workplace: Workplace) -> None:
    page = today_page(sample_workplace)
    usual, technician = today_detail(page), today_detail(page, bench_first=True)
    titles = [part.title.split(":")[0] for part in technician.parts]
    assert titles.index("On the bench") < titles.index("Out today") < titles.index("Blocks the next course")
    assert sorted(part.title for part in usual.parts) == sorted(part.title for part in technician.parts)
