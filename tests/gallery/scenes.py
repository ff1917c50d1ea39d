"""What the gallery shows: one entry a view, dialog or state; every change to the window adds its own here."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import partial

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QScrollArea, QWidget

from fleetbench.calc.bench.meter import Metered, MeterSource
from fleetbench.records.tickets.reads import read_tickets, ticket_number
from fleetbench.records.tickets.service_plan import read_steps
from fleetbench.window.bench.page import BenchPage
from fleetbench.window.canisters.list import CanisterList
from fleetbench.window.cells.calibrate import CalibratePage
from fleetbench.window.cells.list import CellList
from fleetbench.window.due.page import DuePage
from fleetbench.window.earnings.page import EarningsPage
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.gas.list import CylinderList
from fleetbench.window.gas.unit import UnitGasPage
from fleetbench.window.hires.availability import AvailabilityPage
from fleetbench.window.hires.list import HireList
from fleetbench.window.hires.plan import PlanView
from fleetbench.window.lists.act_bar import ActList
from fleetbench.window.lists.list_page import ListPage
from fleetbench.window.look.buttons import Emptiness, EmptyState
from fleetbench.window.parts.shelf import ShelfList
from fleetbench.window.people.list import PeopleList, PersonRecordPage
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.background import ProgramFault
from fleetbench.window.shell.fault_report import FaultReport
from fleetbench.window.shell.pages import BESIDE_THE_RAIL, PAGES
from fleetbench.window.shell.pictures import settle, sign_in, wait_until
from fleetbench.window.shell.place import PageKey
from fleetbench.window.tickets.steps import step_form
from fleetbench.window.tickets.work import TicketWorkPage
from fleetbench.window.turn_rounds.list import TurnRoundList
from fleetbench.window.units.acts import UnitRecordPage
from fleetbench.window.units.today import TodayView, call_place
from fleetbench.workshop.bench.equipment import list_equipment
from fleetbench.workshop.cells.entry import CalibrationEntry, PaperConditions, ReadingEntry
from fleetbench.workshop.cells.plan import CalibrationPlan
from fleetbench.workshop.units.today import today_page


@dataclass(frozen=True, slots=True)
class Scene:
    """One picture: its name, and what to do on the desk; gives the widget to take."""

    name: str
    arrange: Callable[[Desk], QWidget]


def at(place: PageKey) -> Callable[[Desk], QWidget]:
    """The whole window at a place."""

    def arrange(desk: Desk) -> QWidget:
        desk.window.go(place)
        settle(desk)
        return desk.window

    return arrange


def first_of(name: str, wanted: Callable[[object], bool] = lambda _row: True) -> Callable[[Desk], QWidget]:
    """The window on the page of the first row of a list that is wanted, or of the first."""

    def arrange(desk: Desk) -> QWidget:
        desk.window.go(PageKey(name))
        settle(desk)
        page = desk.window.page
        assert isinstance(page, ListPage)
        rows = [number for number, row in enumerate(page.model.rows) if wanted(row)] or [0]
        page.table.open_requested.emit(rows[0])
        settle(desk)
        return desk.window

    return arrange


def filtered(name: str, text: str) -> Callable[[Desk], QWidget]:
    """The window on a list with a filter."""

    def arrange(desk: Desk) -> QWidget:
        desk.window.go(PageKey(name))
        settle(desk)
        page = desk.window.page
        assert isinstance(page, ListPage)
        page.filter_field.setText(text)
        return desk.window

    return arrange


def found(text: str) -> Callable[[Desk], QWidget]:
    """The window with what the find box came upon."""

    def arrange(desk: Desk) -> QWidget:
        desk.window.go(PageKey("today"))
        desk.window.find_box.setText(text)
        desk.window.find_box.returnPressed.emit()
        wait_until(lambda: desk.window.here != PageKey("today"))
        settle(desk)
        return desk.window

    return arrange


def refused(desk: Desk) -> QWidget:
    """The window with a refusal inside the page."""
    desk.window.go(PageKey("units"))
    settle(desk)
    desk.window.page.banner.say_refused("tag: U-77 is not recorded; check the label or look under its former tag")
    return desk.window


def time_line(what: str) -> Callable[[Desk], QWidget]:
    """The time line zoomed out to a year, or with a booking in hand where it cannot go."""

    def arrange(desk: Desk) -> QWidget:
        desk.window.go(PageKey("availability"))
        settle(desk)
        page = desk.window.page
        assert isinstance(page, AvailabilityPage)
        chart = page.chart
        if what == "year":
            for _ in range(3):
                chart.narrow()
            return desk.window
        for _ in range(3):
            chart.widen()
        taken = [(n, strip) for n, row in enumerate(chart.rows) if row.tag for strip in row.strips
                 if strip.state == "to come"]  # fmt: skip
        if taken and chart.shown is not None:
            number, strip = taken[0]
            chart.go_to(number, (strip.first - chart.shown.first).days)
            chart.take_up()
            while chart.taken is not None and chart.taken.row < len(chart.rows) - 1 and not chart.in_the_way.refused:
                chart._shift(1, 0, last_only=False)
        return desk.window

    return arrange


def plan_made(desk: Desk) -> QWidget:
    """A plan of the sample fleet, to accept or leave."""
    desk.window.go(PageKey("plan"))
    settle(desk)
    page = desk.window.page
    assert isinstance(page, PlanView)
    page.seconds = 3.0
    page.make()
    wait_until(lambda: page.page is not None)
    settle(desk)
    return desk.window


def earnings_judged(desk: Desk) -> QWidget:
    """A week of the sample fleet: use, cost, causes, and what would have saved days."""
    desk.window.go(PageKey("earnings"))
    settle(desk)
    page = desk.window.page
    assert isinstance(page, EarningsPage)
    page.first_field.setDate(page.last_field.date().addDays(-6))
    page.judge()
    wait_until(lambda: page.report is not None)
    settle(desk)
    return desk.window


def columns_menu(desk: Desk) -> QWidget:
    """The choice of columns."""
    desk.window.go(PageKey("units"))
    settle(desk)
    page = desk.window.page
    assert isinstance(page, ListPage)
    menu = page.columns_button.menu()
    menu.adjustSize()
    return menu


def canister_dialog(name: str, holds_fill: bool) -> Callable[[Desk], QWidget]:
    """A dialog of the canisters' bench, on the first canister that holds a fill or none."""

    def arrange(desk: Desk) -> QWidget:
        desk.window.go(PageKey("canisters"))
        settle(desk)
        page = desk.window.page
        assert isinstance(page, CanisterList)
        rows = [number for number, entry in enumerate(page.model.rows) if (entry.gauge is not None) == holds_fill]
        page.choose(str(page.model.row_at(rows[0]).row.part.part_id))
        page.bench.start(name)
        settle(desk)
        dialog = page.bench.dialog
        assert dialog is not None
        return dialog

    return arrange


def hire_dialog(name: str) -> Callable[[Desk], QWidget]:
    """A dialog of the hire desk, on the first booking to come of more than one unit, or on the first."""

    def arrange(desk: Desk) -> QWidget:
        desk.window.go(PageKey("hires"))
        settle(desk)
        page = desk.window.page
        assert isinstance(page, HireList)
        rows = [row for row in page.model.rows if row.state == "to come" and len(row.units) > 1]
        page.choose((rows or list(page.model.rows))[0].booking.code)
        settle(desk)
        page.bench.start(name)
        settle(desk)
        dialog = page.bench.dialog
        assert dialog is not None
        return dialog

    return arrange


def cells_dialog(name: str) -> Callable[[Desk], QWidget]:
    """A dialog of the list of cells, with what it loaded."""

    def arrange(desk: Desk) -> QWidget:
        desk.window.go(PageKey("cells"))
        settle(desk)
        page = desk.window.page
        assert isinstance(page, CellList)
        getattr(page, name)()
        settle(desk)
        assert page.dialog is not None
        return page.dialog

    return arrange


def calibrating(step: str) -> Callable[[Desk], QWidget]:
    """A head on the Calibrate page with all its readings, one cell weak; the page shown at a step."""

    def arrange(desk: Desk) -> QWidget:
        desk.window.go(PageKey("units"))
        settle(desk)
        units = desk.window.page
        assert isinstance(units, ListPage)
        tag = next(row.tag for row in units.model.rows if row.where != "out")
        desk.window.go(PageKey("calibrate", tag))
        settle(desk)
        page = desk.window.page
        assert isinstance(page, CalibratePage)
        wait_until(lambda: page.sheet is not None)
        sign_in(desk)
        assert page.sheet is not None
        tools = {role: box.itemData(1) for role, box in page.sheet.session.tools_of.items()}
        entry = head_entry(page.sheet.held, tools)
        page.sheet.show_entry(entry, datetime.now(UTC) - timedelta(seconds=210), early=False)
        page.refresh()
        settle(desk)
        assert page.sheet is not None
        sheet = page.sheet
        if step == "flush":
            scroll_to(sheet.flush)
        else:
            sheet.show_outcome_step()
        settle(desk)
        return desk.window

    return arrange


def metered(desk: Desk) -> QWidget:
    """The conditions of a calibration, of which three are read by meters, and the pressure just was."""
    calibrating("outcome")(desk)
    page = desk.window.page
    assert isinstance(page, CalibratePage)
    assert page.sheet is not None
    assert desk.window.context is not None
    register = [row.tool for row in list_equipment(desk.window.context.workplace)]
    idn = "Bench instruments,BM-1,0042,1.0"
    tools = tuple(
        replace(each, address="TCPIP::192.0.2.10::5025::SOCKET", query="READ?", answer_unit=each.unit, idn=idn,
                digit=each.digit or 0.1, range_low=0.0, range_high=1100.0)
        for each in register if each.kind in ("barometer", "hygrometer", "analyser", "bench meter")
    )  # fmt: skip
    desk.window.meters.show_tools(tools)
    session = page.sheet.session
    session.ask_anew()
    scroll_to(session)
    barometer = next(each.equipment_id for each in tools if each.kind == "barometer")
    source = MeterSource(barometer, idn, "1011.42", "mbar", datetime.now(UTC))
    session.pressure.take_reading(Metered(1011.4, source, 0.1))
    settle(desk)
    return desk.window


def meter_asked(desk: Desk) -> QWidget:
    """The form that says how a piece is read by itself, which only a manager may."""
    manager_in(desk)
    return list_dialog("equipment", "connect", 1)(desk)


def manager_in(desk: Desk) -> None:
    """A manager is signed in."""
    signed_in = desk.background.signed_in
    signed_in.choose(next(each.person_id for each in signed_in.offered if each.role == "manager"))


def step_of_plan(desk: Desk) -> QWidget:
    """The form of a step that is corrected in the service plan, over the list of steps."""
    manager_in(desk)
    desk.window.go(PageKey("centre", "service_steps"))
    settle(desk)
    page = desk.window.page
    assert isinstance(page, ActList)
    page.table.selectRow(1)
    page.start("correct")
    wait_until(lambda: page.dialog is not None and page.dialog.isVisible())
    settle(desk)
    assert page.dialog is not None
    return page.dialog


def step_on_ticket(desk: Desk) -> QWidget:
    """The form of a step that asks for figures before and after, over the ticket of a yearly service."""
    assert desk.window.context is not None
    workplace = desk.window.context.workplace
    with workplace.database.reading() as connection:
        tickets = read_tickets(connection)
        step = next(each for each in read_steps(connection, [t.ticket_id for t in tickets]) if each.plan.before)
    number = next(ticket_number(each.year, each.number) for each in tickets if each.ticket_id == step.ticket_id)
    desk.window.go(PageKey("ticket_work", number))
    settle(desk)
    page = desk.window.page
    assert isinstance(page, TicketWorkPage)
    assert page.desk is not None
    dialog = FormDialog(desk.theme, desk.background, step_form(workplace, step, page.desk), page)
    dialog.open()
    wait_until(dialog.isVisible)
    settle(desk)
    return dialog


def scroll_to(card: QWidget) -> None:
    """Bring the top of a card into view in the area that scrolls it."""
    area = card.parentWidget()
    while area is not None and not isinstance(area, QScrollArea):
        area = area.parentWidget()
    assert isinstance(area, QScrollArea)
    area.verticalScrollBar().setValue(card.y())


def head_entry(held: CalibrationPlan, tools: Mapping[str, int | None]) -> CalibrationEntry:
    """Sound readings of every cell on every handset, but for the last cell, which lags in oxygen."""
    figures = []
    for position, reader, _shown in held.in_mv():
        weak = 0.92 if position.slot_id == held.positions[-1].slot_id else 1.0
        air, oxygen = 10.4, round(49.6 * weak, 1)
        at = {"slot_id": position.slot_id, "reader_id": reader.reader_id}
        figures += [ReadingEntry(point="air", mv=air, **at), ReadingEntry(point="oxygen", mv=oxygen, **at)]
        if reader.reader_id == held.readers[0].reader_id:
            for seconds, gap in ((30.0, 6.0), (60.0, 1.4), (90.0, 0.3), (150.0, 0.0), (180.0, 0.0), (210.0, 0.0)):
                figures.append(ReadingEntry(point="settling", mv=round(oxygen - gap, 1), seconds=seconds, **at))
    return CalibrationEntry(
        tag=held.tag, head="dry", vented="yes", settled="yes", figures=tuple(figures), at=datetime.now(UTC),
        paper=PaperConditions(
            pressure_mbar=1011.0, temperature_c=20.5, humidity_percent=52.0, oxygen_shown_percent=99.5,
            analyser_id=tools.get("analyser"), barometer_id=tools.get("barometer"),
        ),
    )  # fmt: skip


def ticket_on_bench(desk: Desk) -> QWidget:
    """The work page of the first open ticket."""
    desk.window.go(PageKey("tickets"))
    settle(desk)
    page = desk.window.page
    assert isinstance(page, ListPage)
    number = next(row.number for row in page.model.rows if row.ticket.signed_at is None)
    desk.window.go(PageKey("ticket_work", number))
    settle(desk)
    return desk.window


def asked(place: PageKey, word: str) -> Callable[[Desk], QWidget]:
    """A dialog that a page opens by a word, for a manager: some ask what nobody else may."""

    def arrange(desk: Desk) -> QWidget:
        signed_in = desk.background.signed_in
        signed_in.choose(next(each.person_id for each in signed_in.offered if each.role == "manager"))
        desk.window.go(place)
        settle(desk)
        page = desk.window.page
        assert isinstance(page, UnitRecordPage | PeopleList | PersonRecordPage)
        dialog = page.ask(word)
        settle(desk)
        assert dialog is not None
        return dialog

    return arrange


def call(desk: Desk) -> QWidget:
    """The form that records a call to the first diver to be rung."""
    desk.window.go(PageKey("today"))
    settle(desk)
    page = desk.window.page
    assert isinstance(page, TodayView)
    ring = today_page(page.context.workplace).ring_the_renter
    page.begin_at(call_place(ring[0]))
    settle(desk)
    assert page.dialog is not None
    return page.dialog


def fault(desk: Desk) -> QWidget:
    """The report of a fault of ours."""
    trace = 'Traceback (most recent call last):\n  File "list_page.py", line 1, in load\nValueError: an example\n'
    report = FaultReport(desk.theme, ProgramFault("ValueError: an example", trace), desk.window)
    report.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    report.show()
    return report


def no_units(desk: Desk) -> QWidget:
    """What stands where a list would be."""
    state = EmptyState(
        desk.theme, Emptiness("No units are recorded yet", "Import the centre's files.", "units"), desk.window
    )
    state.resize(800, 500)
    state.show()
    return state


def bench(words: str) -> Callable[[Desk], QWidget]:
    """The window with the first unit on the bench and that test chosen."""

    def arrange(desk: Desk) -> QWidget:
        desk.window.go(PageKey("units"))
        settle(desk)
        page = desk.window.page
        assert isinstance(page, ListPage)
        desk.window.go(PageKey("bench", page.model.rows[-1].tag))
        settle(desk)
        shown = desk.window.page
        assert isinstance(shown, BenchPage)
        shown.test_button(words).click()
        settle(desk)
        return desk.window

    return arrange


def is_on_hold(row: object) -> bool:
    """True for a row of a unit on hold."""
    return getattr(row, "fit", None) == "hold"


def is_rejected(row: object) -> bool:
    """True for a row of a rejected cell."""
    return getattr(row, "verdict", None) == "reject"


def cylinder_dialog(name: str) -> Callable[[Desk], QWidget]:
    """A dialog of the fill station, on what is to do there or on the first cylinder."""

    def arrange(desk: Desk) -> QWidget:
        desk.window.go(PageKey("cylinders"))
        settle(desk)
        page = desk.window.page
        assert isinstance(page, CylinderList)
        sign_in(desk)
        page.bench.start(name)
        wait_until(lambda: page.bench.dialog is not None)
        settle(desk)
        dialog = page.bench.dialog
        assert dialog is not None
        return dialog

    return arrange


def unit_gas_dialog(name: str) -> Callable[[Desk], QWidget]:
    """A dialog of a unit's gas side."""

    def arrange(desk: Desk) -> QWidget:
        desk.window.go(PageKey("unit_gas", "B-03"))
        settle(desk)
        page = desk.window.page
        assert isinstance(page, UnitGasPage)
        wait_until(lambda: page.side is not None)
        page.start(name)
        settle(desk)
        assert page.dialog is not None
        return page.dialog

    return arrange


def _opens_on_a_cell(page: ShelfList, name: str) -> bool:
    """Start an act on the first cell that allows it, whether or not the list is just being filled again."""
    for row in page.model.rows:
        if row.kind.kind == "cell":
            page.choose(str(row.part.part_id))
            page.desk.start(name)
            if page.desk.dialog is not None and page.desk.dialog.isVisible():
                return True
    return False


def part_dialog(name: str) -> Callable[[Desk], QWidget]:
    """A dialog of the shelf's acts, on the first cell that lies there."""

    def arrange(desk: Desk) -> QWidget:
        desk.window.go(PageKey("shelf"))
        settle(desk)
        page = desk.window.page
        assert isinstance(page, ShelfList)
        wait_until(partial(_opens_on_a_cell, page, name))
        settle(desk)
        assert page.desk.dialog is not None
        return page.desk.dialog

    return arrange


def list_dialog(place: str, act: str, row: int = 0) -> Callable[[Desk], QWidget]:
    """A dialog of a list with acts, opened on one of its rows."""

    def arrange(desk: Desk) -> QWidget:
        desk.window.go(PageKey(place))
        settle(desk)
        page = desk.window.page
        assert isinstance(page, ActList)
        if page.model.rows:
            page.table.selectRow(row)
        page.start(act)
        settle(desk)
        assert page.dialog is not None
        return page.dialog

    return arrange


def due_by_unit(desk: Desk) -> QWidget:
    """What ends within sixty days, unit by unit."""
    desk.window.go(PageKey("due"))
    settle(desk)
    page = desk.window.page
    assert isinstance(page, DuePage)
    page.horizon.choose(60)
    page.group_by("unit")
    settle(desk)
    return desk.window


def turn_round_bath(desk: Desk) -> QWidget:
    """The bath of several loops, over the list of turn-rounds."""
    desk.window.go(PageKey("turn_rounds"))
    settle(desk)
    page = desk.window.page
    assert isinstance(page, TurnRoundList)
    page.start("bath")
    settle(desk)
    assert page.dialog is not None
    return page.dialog


HIRE_DIALOGS = ("book", "sell", "hand_over", "receive", "details", "log", "swap", "sheets", "page_terms", "accepted")
"""The acts of the hire desk that ask something."""

SCENES: tuple[Scene, ...] = (
    *(Scene(spec.name, at(PageKey(spec.name))) for spec in PAGES),
    *(Scene(spec.name, at(PageKey(spec.name))) for spec in BESIDE_THE_RAIL if not spec.has_record),
    Scene("availability_year", time_line("year")),
    Scene("availability_conflict", time_line("conflict")),
    Scene("plan_made", plan_made),
    Scene("earnings_judged", earnings_judged),
    Scene("notices", at(PageKey("notices"))),
    Scene("unit", first_of("units")),
    Scene("unit_on_hold", first_of("units", is_on_hold)),
    Scene("cell", first_of("cells", lambda row: bool(getattr(row, "forecast_day", None)))),
    Scene("cell_rejected", first_of("cells", is_rejected)),
    Scene("cells_to_fit", cells_dialog("spread")),
    Scene("cells_life", cells_dialog("lives")),
    Scene(
        "canister", first_of("canisters", lambda entry: getattr(getattr(entry, "row", None), "state", "") == "in use")
    ),
    Scene("canister_pack", canister_dialog("pack", holds_fill=False)),
    Scene("canister_run", canister_dialog("log_run", holds_fill=True)),
    Scene("canister_discard", canister_dialog("discard", holds_fill=True)),
    Scene("canister_label", canister_dialog("label", holds_fill=True)),
    Scene("cylinders", at(PageKey("cylinders"))),
    Scene("cylinder", first_of("cylinders", lambda row: getattr(row, "content_l", None) is not None)),
    Scene("cylinder_fill_log", cylinder_dialog("fill")),
    Scene("cylinder_analyses", cylinder_dialog("analyse")),
    Scene("cylinder_not_clean", cylinder_dialog("lost")),
    Scene("cylinder_label", cylinder_dialog("label")),
    Scene("cylinder_new", cylinder_dialog("enter")),
    Scene("cylinder_test_rule", cylinder_dialog("rule")),
    Scene("cylinder_certificate", cylinder_dialog("certificate")),
    Scene("unit_gas", at(PageKey("unit_gas", "B-03"))),
    Scene("unit_gas_batteries", unit_gas_dialog("batteries")),
    Scene("unit_gas_serviced", unit_gas_dialog("serviced")),
    Scene("unit_gas_lost", unit_gas_dialog("lost")),
    Scene("valve", first_of("valves")),
    Scene("valve_failed", first_of("valves", lambda row: getattr(row, "test_state", None) == "failed")),
    Scene("bench_release", bench("One-way valves and loop")),
    Scene("bench_lock_up", bench("Oxygen first stage: intermediate pressure")),
    Scene("bench_loop", bench("Loop negative, by manometer")),
    Scene("ticket", first_of("tickets")),
    Scene("turn_rounds", at(PageKey("turn_rounds"))),
    Scene("turn_round", at(PageKey("turn_rounds", "B-05"))),
    Scene("turn_round_finished", at(PageKey("turn_rounds", "B-01"))),
    Scene("turn_round_bath", turn_round_bath),
    Scene("calibrate_flush", calibrating("flush")),
    Scene("calibrate_verdicts", calibrating("outcome")),
    Scene("calibrate_metered", metered),
    Scene("equipment_meter", meter_asked),
    Scene("ticket_on_bench", ticket_on_bench),
    Scene("ticket_step", step_on_ticket),
    Scene("service_step", step_of_plan),
    Scene("ticket_new", at(PageKey("ticket_work"))),
    *(Scene(f"hires_{name}", hire_dialog(name)) for name in HIRE_DIALOGS),
    Scene("walk_round", at(PageKey("walk_round"))),
    Scene("people", at(PageKey("people"))),
    Scene("person", at(PageKey("people", "R0001"))),
    Scene("people_enter", asked(PageKey("people"), "enter")),
    Scene("people_years", asked(PageKey("people"), "years")),
    Scene("person_paper", asked(PageKey("people", "T1"), "paper")),
    Scene("person_erase", asked(PageKey("people", "R0001"), "erase")),
    Scene("unit_incident", asked(PageKey("units", "B-03"), "incident")),
    Scene("unit_leak", asked(PageKey("units", "B-03"), "leak")),
    Scene("today_call", call),
    Scene("unit_near_miss", asked(PageKey("units", "B-03"), "near_miss")),
    Scene("unit_evidence", asked(PageKey("units", "B-03"), "evidence")),
    Scene("part", first_of("due", lambda row: getattr(row, "part_id", None) is not None)),
    Scene("part_receive", part_dialog("receive")),
    Scene("part_move", part_dialog("move_parts")),
    Scene("part_send_back", part_dialog("send_back")),
    Scene("part_scrap", part_dialog("scrap_part")),
    Scene("notice", first_of("notices")),
    Scene("notice_recall", list_dialog("notices", "recall")),
    Scene("notice_enter", list_dialog("notices", "enter")),
    Scene("stock_count", list_dialog("stock", "count", 1)),
    Scene("stock_use_up", list_dialog("stock", "use_up", 1)),
    Scene("kit_contents", list_dialog("kits", "set")),
    Scene("place_new", list_dialog("places", "place")),
    Scene("units_filtered", filtered("units", "hold")),
    Scene("due_nothing_left_by_filter", filtered("due", "nothing has these words")),
    Scene("due_by_unit", due_by_unit),
    Scene("keys", at(PageKey("keys"))),
    Scene("help", at(PageKey("help"))),
    Scene("help_page", at(PageKey("help", "cylinders"))),
    Scene("help_calculation", at(PageKey("help", "linearity"))),
    Scene("found_several", found("cell")),
    Scene("found_none", found("no such thing")),
    Scene("refused", refused),
    Scene("columns_menu", columns_menu),
    Scene("fault_report", fault),
    Scene("empty_state", no_units),
)
