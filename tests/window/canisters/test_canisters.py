"""Canisters in the window: packed in eight keys, planned, told as a story; and the absorbent they are packed from."""

from collections.abc import Iterator
from datetime import timedelta
from importlib import import_module
from pathlib import Path
from pkgutil import walk_packages
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtWidgets import QApplication

from fleetbench.calc.canisters.fill import AbsorbentRule
from fleetbench.calc.canisters.fill_clocks import FillClock
from fleetbench.records.canisters.reads import read_last_fills, read_runs_of_last_fills
from fleetbench.records.canisters.tables import Fill
from fleetbench.window.canisters import containers as absorbent
from fleetbench.window.canisters import page as canisters
from fleetbench.window.canisters.containers import ContainerList
from fleetbench.window.canisters.list import CanisterList, ClockStrip, time_left, told
from fleetbench.window.canisters.page import CanisterRecord
from fleetbench.window.look.marks import ADVISE, OK, STOP, UNKNOWN
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.canisters.containers import UseMonth
from fleetbench.workshop.canisters.packing import discard_fill, pack_canister, pack_choices
from fleetbench.workshop.canisters.runs import RunEntry, log_run
from fleetbench.workshop.core.workplace import Workplace
from tests.centres.absorbent_centre import CANISTER, AbsorbentKeys, write_absorbent
from tests.window.bench_keys import CountedKeys, shown

BERLIN = ZoneInfo("Europe/Berlin")
PACK_KEYS = 8
"""Most keys for packing a canister; common practice, no published source."""


@pytest.fixture
def keys(sqlite_database: Any, clock: Any) -> AbsorbentKeys:
    """The small centre with absorbent, written."""
    return write_absorbent(Workplace(sqlite_database, clock), clock)


@pytest.fixture
def bench(sqlite_database: Any, clock: Any, keys: AbsorbentKeys) -> Workplace:
    """The workplace with the technician at the bench."""
    return Workplace(sqlite_database, clock, keys.centre.technician)


@pytest.fixture
def context(theme: Theme, background: Background, bench: Workplace) -> PageContext:
    """What pages are given, with the technician signed in."""
    background.signed_in.choose(bench.person_id)
    return PageContext(theme, background, background.signed_in.at(bench), BERLIN)


def settled(qtbot: Any, context: PageContext) -> None:
    """Wait until nothing is on its way."""
    qtbot.waitUntil(lambda: not context.background.is_busy, timeout=10_000)
    QApplication.processEvents()


@pytest.fixture
def page(qtbot: Any, context: PageContext) -> Iterator[CanisterList]:
    """The list of canisters with the canister of LK-01 chosen and the keyboard on it."""
    made = canisters.list_page(context)
    made.resize(1200, 800)
    shown(qtbot, made)
    made.refresh()
    settled(qtbot, context)
    choose(made, CANISTER)
    made.focus_table()
    yield made
    if made.bench.dialog is not None:
        made.bench.dialog.reject()
    settled(qtbot, context)
    made.hide()


def choose(page: CanisterList, canister: str) -> None:
    """Put the cursor on a canister."""
    key = next(entry.row.part.part_id for entry in page.model.rows if entry.row.part.label == canister)
    assert page.choose(str(key))


def packed_once(bench: Workplace, keys: AbsorbentKeys, **more: Any) -> int:
    """The key of the canister of LK-01, packed."""
    pack_canister(bench, CANISTER, keys.open_one, tare_g=1240.0, filled_g=3740.0, looked_at=True, **more)
    return pack_choices(bench, CANISTER).part_id


def test_an_ordinary_canister_is_packed_and_its_label_shown_in_eight_keys(
    qtbot: Any, page: CanisterList, context: PageContext, bench: Workplace, keys: AbsorbentKeys
) -> None:
    packed_once(bench, keys)
    discard_fill(bench, CANISTER, "not used")
    bench_keys = CountedKeys()
    bench_keys.press("P")
    settled(qtbot, context)
    bench_keys.press("3", "7", "2", "0", "Enter", "1", "Enter")
    settled(qtbot, context)
    assert bench_keys.pressed <= PACK_KEYS
    with bench.database.reading() as connection:
        (fill,) = read_last_fills(connection)
    assert (fill.mass_g, fill.checked, fill.diver_id, fill.lot) == (2480.0, True, keys.renter, "F-1")
    assert "packed: 2480 g of lot F-1" in page.banner.text
    label = page.bench.dialog
    assert label is not None and label.windowTitle() == "Label of the fill"
    settled(qtbot, context)
    assert label.pdf.startswith(b"%PDF")
    assert next(entry for entry in page.model.rows if entry.row.part.label == CANISTER).row.state == "fresh"


def test_the_first_packing_asks_for_the_empty_mass_and_a_light_one_is_refused_where_it_stands(
    qtbot: Any, page: CanisterList, context: PageContext, bench: Workplace
) -> None:
    bench_keys = CountedKeys()
    bench_keys.press("P")
    settled(qtbot, context)
    dialog = page.bench.dialog
    bench_keys.press(*"3500", "Enter", *"1240", "Enter", "1", "Enter")
    settled(qtbot, context)
    assert "2260 g is under the type's least of 2300 g" in dialog.banner.text
    assert dialog.net_mark() == STOP.worded("2260 g, under the least")
    assert dialog.isVisible(), "what was typed is not lost"
    dialog.filled.setFocus()
    dialog.filled.selectAll()
    bench_keys.press("/", "Enter", "Enter")
    settled(qtbot, context)
    with bench.database.read_session() as session:
        fill = session.get(Fill, 1)
        assert fill is not None and (fill.mass_g, fill.checked) == (None, True)
    assert "Not weighed" in page.banner.text


def test_nobody_signed_in_is_told_to_choose_and_nothing_is_packed(
    qtbot: Any, page: CanisterList, context: PageContext, bench: Workplace
) -> None:
    context.signed_in.choose(None)
    bench_keys = CountedKeys()
    bench_keys.press("P")
    settled(qtbot, context)
    bench_keys.press(*"3720", "Enter", *"1240", "Enter", "1", "Enter")
    settled(qtbot, context)
    assert page.bench.dialog.banner.text == "person: nobody is signed in; choose your name at the top of the window"
    with bench.database.reading() as connection:
        assert read_last_fills(connection) == ()


def run_asked_for(qtbot: Any, page: CanisterList, context: PageContext) -> Any:
    """The dialog that J opens for the fill that was packed."""
    page.refresh()
    settled(qtbot, context)
    CountedKeys().press("J")
    settled(qtbot, context)
    return page.bench.dialog


def test_a_run_is_typed_by_keys_with_what_is_not_known_said(
    qtbot: Any, page: CanisterList, context: PageContext, bench: Workplace, keys: AbsorbentKeys, clock: Any
) -> None:
    packed_once(bench, keys, line_id=keys.line)
    clock.advance(hours=2)
    dialog, bench_keys = run_asked_for(qtbot, page, context), CountedKeys()
    bench_keys.press(*"45", "Enter", "Enter")
    assert dialog.banner.text == ""
    bench_keys.press("/", "Enter")
    assert "coldest water: is missing" in dialog.banner.text
    bench_keys.press("/", "Enter", *"18", "Enter")
    settled(qtbot, context)
    with bench.database.reading() as connection:
        (run,) = read_runs_of_last_fills(connection)
    assert (run.minutes, run.coldest_c, run.deepest_m, run.diver_id) == (45.0, None, 18.0, keys.renter)
    assert (run.started_at, run.ended_by) == (clock() - timedelta(hours=2), clock()), "no start is made up"


def test_half_a_dive_is_refused_and_never_rounded_off(
    qtbot: Any, page: CanisterList, context: PageContext, bench: Workplace, keys: AbsorbentKeys, clock: Any
) -> None:
    packed_once(bench, keys, line_id=keys.line)
    clock.advance(hours=2)
    dialog = run_asked_for(qtbot, page, context)
    dialog["dives"].setText("2.5")
    CountedKeys().press(*"45", "Enter", "/", "Enter", "/", "Enter")
    settled(qtbot, context)
    assert dialog.banner.text == "dives: 2.5 is not a whole number"
    dialog["dives"].setText("3")
    dialog.act_button.click()
    settled(qtbot, context)
    with bench.database.reading() as connection:
        assert [run.dives for run in read_runs_of_last_fills(connection)] == [3]


def test_a_diver_whom_nobody_knows_is_refused_and_enter_leads_on_from_a_field_that_it_passes_over(
    qtbot: Any, page: CanisterList, context: PageContext, bench: Workplace, keys: AbsorbentKeys, clock: Any
) -> None:
    packed_once(bench, keys, line_id=keys.line)
    clock.advance(hours=2)
    dialog = run_asked_for(qtbot, page, context)
    dialog["diver_id"].setEditText("Nobody At All")
    CountedKeys().press(*"45", "Enter", "/", "Enter", "/", "Enter")
    assert dialog.banner.text == "diver: nobody is called 'Nobody At All'; choose one from the list"
    dialog["started"].setFocus()
    CountedKeys().press("Enter")
    assert dialog["diver_id"].hasFocus()
    with bench.database.reading() as connection:
        assert not list(read_runs_of_last_fills(connection))


def test_a_typing_slip_is_corrected_and_what_was_not_touched_stays(
    qtbot: Any, page: CanisterList, context: PageContext, bench: Workplace, keys: AbsorbentKeys, clock: Any
) -> None:
    packed_once(bench, keys, line_id=keys.line)
    clock.advance(hours=2, seconds=17)
    started = clock() - timedelta(minutes=4)
    log_run(bench, CANISTER, RunEntry(minutes=4, deepest_m=18.5, co2_l_min=2.4, started_at=started))
    clock.advance(hours=1)
    page.refresh()
    settled(qtbot, context)
    bench_keys = CountedKeys()
    bench_keys.press("F4")
    settled(qtbot, context)
    bench_keys.press(*"40", "Enter", "Enter", "Enter")
    settled(qtbot, context)
    with bench.database.reading() as connection:
        (run,) = read_runs_of_last_fills(connection)
    assert (run.minutes, run.started_at, run.line_id) == (40.0, started, keys.line)
    assert (run.coldest_c, run.deepest_m, run.co2_l_min) == (None, 18.5, 2.4)


def test_a_fill_packed_for_nobody_is_given_to_the_next_hire_of_its_unit(
    qtbot: Any, page: CanisterList, context: PageContext, bench: Workplace, keys: AbsorbentKeys
) -> None:
    packed_once(bench, keys)
    page.refresh()
    settled(qtbot, context)
    bench_keys = CountedKeys()
    bench_keys.press("W")
    settled(qtbot, context)
    page.bench.dialog.act()
    settled(qtbot, context)
    with bench.database.reading() as connection:
        (fill,) = read_last_fills(connection)
    assert (fill.diver_id, fill.line_id) == (keys.renter, keys.line)


def test_closing_flooding_and_discarding_go_by_letters(
    qtbot: Any, page: CanisterList, context: PageContext, bench: Workplace, keys: AbsorbentKeys
) -> None:
    packed_once(bench, keys)
    page.refresh()
    settled(qtbot, context)
    bench_keys = CountedKeys()
    bench_keys.press("K")
    settled(qtbot, context)
    assert page.banner.text == f"{CANISTER} was closed up."
    bench_keys.press("Z", "Enter")
    settled(qtbot, context)
    bench_keys.press("X", "4", "Enter")
    settled(qtbot, context)
    with bench.database.reading() as connection:
        (fill,) = read_last_fills(connection)
    assert fill.closed_up_at and fill.wetted_at and fill.discarded_at
    assert fill.why_discarded == "flooded"
    assert not page.bench.buttons["discard"].isEnabled()
    assert page.bench.buttons["pack"].isEnabled()


def test_the_plan_answers_for_the_chosen_canister_and_for_all(
    qtbot: Any, page: CanisterList, context: PageContext, bench: Workplace, keys: AbsorbentKeys
) -> None:
    packed_once(bench, keys)
    page.refresh()
    settled(qtbot, context)
    answer, reason, of_all = page.plan.words
    assert answer == f"{CANISTER}: yes, 90 min to spare"
    assert "150 min rated at 12 °C, 40 m" in reason
    assert of_all == "Of all: 1 of 1 packed canisters cover it: LK-01 (+90 min)."
    page.plan.focus_first()
    bench_keys = CountedKeys()
    bench_keys.press("4", "Tab", "4", "0", "Tab", "Tab", "1", "2", "1", "Enter")
    settled(qtbot, context)
    assert page.plan.words[0] == f"{CANISTER}: no, 1 min short"
    assert page.plan.words[2] == "Of all: none of 1 packed canisters covers it."
    page.plan.minutes.setText("many")
    page.plan.ask()
    assert "minutes: 'many' is not a figure" in page.banner.text


def test_the_page_tells_the_fill_as_a_story_with_running_clocks_and_the_journal(
    qtbot: Any, context: PageContext, bench: Workplace, keys: AbsorbentKeys, clock: Any
) -> None:
    part_id = packed_once(bench, keys, line_id=keys.line)
    clock.advance(hours=2)
    began = clock() - timedelta(minutes=60)
    log_run(bench, CANISTER, RunEntry(minutes=60, coldest_c=12, deepest_m=18, started_at=began))
    record = canisters.record_page(context)
    assert isinstance(record, CanisterRecord)
    shown(qtbot, record)
    record.show_key(str(part_id))
    settled(qtbot, context)
    tables = {part.title: part for part in record.detail.parts}
    assert [line.cells[1] for line in tables["FILL-1, in the canister"].lines] == [
        "packed, 2500 g (3740 g filled, 1240 g empty), lot F-1, seal, seat, spacer and spring looked at",
        "60 loop minutes in LK-01, 12 °C, 18 m",
    ]
    assert [line.cells[2] for line in tables["Journal"].lines] == ["log run", "pack canister"]
    assert record.clocks.words[0] == "hours since first use: 23 h 00 min left, ends 2026-05-05 10:30"
    clock.advance(hours=22, minutes=10)
    record.clocks.tick()
    assert record.clocks.words[0] == "hours since first use: 50 min left, ends 2026-05-05 10:30"
    record.focus_first()
    CountedKeys().press("X", "3", "Enter")
    settled(qtbot, context)
    assert record.banner.text == f"The fill of {CANISTER} was discarded."
    assert record.clocks.words == ()
    record.hide()


def test_clocks_stop_when_nobody_sees_them(qtbot: Any, theme: Theme, clock: Any) -> None:
    strip = ClockStrip(theme, clock, BERLIN)
    qtbot.addWidget(strip)
    strip.show_clocks((FillClock(AbsorbentRule.FIRST_USE, None, None, 24.0),))
    assert strip.isVisible()
    assert strip.words == ("hours since first use: 24 h, not begun",)
    strip.show_clocks(())
    assert strip.words == () and not strip.isVisible()


def test_a_clock_says_its_state_in_word_and_mark_and_never_promises_a_minute(clock: Any) -> None:
    now = clock()

    def clock_of(ends: timedelta | None, known: bool = True) -> FillClock:
        return FillClock(AbsorbentRule.FIRST_USE, None, None if ends is None else now + ends, 24.0, known)

    assert told(clock_of(timedelta(hours=5)), now, BERLIN)[0] == OK.worded("5 h 00 min left")
    assert told(clock_of(timedelta(hours=2)), now, BERLIN)[0] == ADVISE.worded("2 h 00 min left")
    assert told(clock_of(timedelta(0)), now, BERLIN)[0] == STOP.worded("over")
    assert told(clock_of(None), now, BERLIN)[0] == OK.worded("24 h, not begun")
    assert told(clock_of(None, known=False), now, BERLIN)[0] == UNKNOWN.worded("not known")
    assert time_left(timedelta(minutes=59, seconds=59)) == "59 min"
    assert time_left(timedelta(days=3)) == "3 days"


@pytest.fixture
def stock_page(qtbot: Any, context: PageContext) -> Iterator[ContainerList]:
    """The list of containers with the keyboard on it."""
    made = absorbent.list_page(context)
    made.resize(1200, 800)
    shown(qtbot, made)
    made.refresh()
    settled(qtbot, context)
    made.focus_table()
    yield made
    if made.dialog is not None:
        made.dialog.reject()
    settled(qtbot, context)
    made.hide()


def test_a_container_is_received_and_counted_by_keys(
    qtbot: Any, stock_page: ContainerList, context: PageContext
) -> None:
    bench_keys = CountedKeys()
    bench_keys.press("N")
    settled(qtbot, context)
    bench_keys.press(*"F-77", "Enter", *"20", "Enter", *"2028-13-01", "Enter")
    assert "last valid day: '2028-13-01' is not a date" in stock_page.dialog.banner.text
    stock_page.dialog["last_good_day"].setText("2028-01-31")
    bench_keys.press("Enter")
    settled(qtbot, context)
    row = next(entry for entry in stock_page.model.rows if entry.row.container.lot == "F-77")
    assert (row.row.container.left_kg, row.row.container.opened_at) == (20.0, None)
    assert stock_page.choose(str(row.row.container.container_id))
    stock_page.focus_table()
    bench_keys.press("O")
    settled(qtbot, context)
    assert stock_page.banner.text == "The container of lot F-77 was opened."
    bench_keys.press("Shift+S", *"19.5", "Enter", *"weighed", "Enter")
    settled(qtbot, context)
    row = next(entry for entry in stock_page.model.rows if entry.row.container.lot == "F-77")
    assert row.row.container.left_kg == 19.5
    assert "19.5 kg, 20 on record (weighed)" in row.row.counted


def test_the_list_says_why_a_container_is_no_stock_and_the_plot_holds_its_use(
    qtbot: Any, stock_page: ContainerList, context: PageContext, bench: Workplace, keys: AbsorbentKeys
) -> None:
    said = {entry.row.container.lot: stock_page.model.columns[2].text(entry) for entry in stock_page.model.rows}
    assert said["F-0"] == "not usable: past its last valid day"
    assert said["F-X"] == "not usable: no last valid day is known"
    assert said["C-1"] == "nothing booked"
    assert said["F-1"] == "5.00 kg left over on 2026-05-15"
    packed_once(bench, keys)
    stock_page.refresh()
    settled(qtbot, context)
    assert [(each.month, each.lot, each.kg) for each in stock_page.plot.use] == [("2026-05", "F-1", 2.5)]
    assert stock_page.plot.summary.text() == "Use per month and lot, 2026-05 to 2026-05: 2.5 kg in 1 fills."


def test_a_label_that_cannot_be_saved_says_so_and_a_saved_one_is_a_page_of_its_size(
    qtbot: Any, page: CanisterList, context: PageContext, bench: Workplace, keys: AbsorbentKeys, tmp_path: Path
) -> None:
    packed_once(bench, keys)
    page.refresh()
    settled(qtbot, context)
    CountedKeys().press("L")
    settled(qtbot, context)
    dialog = page.bench.dialog
    dialog.save_to(str(tmp_path / "nowhere" / "label.pdf"))
    assert "cannot be written" in dialog.banner.text
    dialog.save_to(str(tmp_path / "label.pdf"))
    assert (tmp_path / "label.pdf").read_bytes() == dialog.pdf
    assert not dialog.picture.pixmap().isNull()


def test_every_dialog_and_plot_fills_in_what_its_kind_leaves_open() -> None:
    # Qt's own class machinery does not refuse a class that leaves an abstract method open, so this does.
    import fleetbench.window as floor
    from fleetbench.window.cells.plots import PlotCard
    from fleetbench.window.forms.form import ActDialog
    from fleetbench.window.lists.act_bar import ActList

    for module in walk_packages(floor.__path__, f"{floor.__name__}."):
        import_module(module.name)
    kinds: list[type] = [ActDialog, ActList, PlotCard]
    for kind in kinds:
        kinds += kind.__subclasses__()
    shown = [kind for kind in kinds if not kind.__subclasses__()]
    assert len(shown) > 10
    for kind in shown:
        for name in ("work", "_draw", "allowed", "dialog_for", "windowed", "do"):
            assert not getattr(getattr(kind, name, None), "__isabstractmethod__", False), f"{kind.__name__}.{name}"


def test_the_name_of_a_lot_lies_above_its_bar(qapp: QApplication, theme: Theme) -> None:
    plot = absorbent.UsePlot(theme)
    plot.show_use([UseMonth("2026-05", lot, kg=30.0, packings=12, unweighed=0) for lot in ("SL1", "SL2")])
    drawn = [type(each).__name__ for each in plot._plot.getPlotItem().items]
    assert drawn == ["BarGraphItem", "TextItem", "TextItem"]
    plot.deleteLater()
