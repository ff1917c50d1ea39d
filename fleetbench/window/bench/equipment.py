"""Test equipment: the register with uncertainty, serial and last good day, and what was last measured with each.

A new piece of test equipment, or what a new certificate says of one.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.plausible import Tool
from fleetbench.calc.core.verdict import DueState
from fleetbench.records.bench.reads import EquipmentRecord
from fleetbench.records.core.errors import Refused
from fleetbench.window.bench.valves import BENCH_SIBLINGS
from fleetbench.window.detail.detail import Detail, Fact, Section
from fleetbench.window.forms.form import REFUSED, Choices, Field, Form
from fleetbench.window.lists.act_bar import ActList, ActSpec, at_any_time
from fleetbench.window.lists.list_page import ListSpec, QuickFilter
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import Emptiness
from fleetbench.window.look.marks import ADVISE, STOP, UNKNOWN, mark_for
from fleetbench.window.look.words import NONE, NOT_RECORDED, counted, day, moment
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.bench.equipment import (
    UNITS_OF,
    EquipmentRow,
    add_equipment,
    answer_units,
    certify_equipment,
    connect_equipment,
    list_equipment,
)
from fleetbench.workshop.bench.meters import EXTRA, Told, ask_once, is_installed, visa_addresses
from fleetbench.workshop.core.workplace import Workplace

U_HINT = say("for k = 1; half of one that is stated for k = 2")


def new_form(workplace: Workplace) -> Form:
    """Adds a piece of test equipment with what its certificate states."""

    def units(found: Mapping[str, Any]) -> Mapping[str, Choices]:
        return {"unit": [(unit, unit) for unit in UNITS_OF[found["kind"]]]}

    return Form(
        "New test equipment",
        act_words="Save equipment",
        note="",
        fields=(
            Field("kind", "Kind", "choice", choices=[(kind, kind) for kind in Tool]),
            Field("name", "Name", beside=True),
            Field("serial", "Serial", beside=True),
            Field("uncertainty", "Standard uncertainty", "figure", U_HINT, spoken="uncertainty"),
            Field("digit", "Display resolution", "figure", "what the last digit stands for", spoken="resolution",
                  beside=True),
            Field("unit", "Unit of both", "choice", spoken="unit", beside=True),
            Field("last_good_day", "Last valid day", "day", "such as 2027-01-31", beside=True),
        ),
        act=partial(add_equipment, workplace),
        look=units,
        wide=220,
    )  # fmt: skip


def certificate_form(workplace: Workplace, row: EquipmentRow) -> Form:
    """What a new certificate states of a piece."""
    return Form(
        say("New certificate of {name} {serial}", name=row.tool.name, serial=row.tool.serial),
        act_words="Save certificate",
        note="",
        fields=(
            Field("uncertainty", label="Standard uncertainty", kind="figure", hint=U_HINT, default=row.tool.uncertainty,
                  unit=row.tool.unit or "", spoken="uncertainty"),
            Field("digit", label="Display resolution", kind="figure", hint="what the last digit stands for",
                default=row.tool.digit,
                  unit=row.tool.unit or "", spoken="resolution", beside=True),
            Field("last_good_day", "Last valid day", "day", "such as 2027-01-31", beside=True),
        ),
        act=partial(certify_equipment, workplace, row.tool.equipment_id),
        first="last_good_day",
        wide=200,
    )  # fmt: skip


def meter_form(workplace: Workplace, row: EquipmentRow) -> Form:
    """How a piece is read by itself: where it answers, what it is asked, and who answers there."""
    tool, told = row.tool, dict[tuple[str, str | None, str | None], Told]()

    def ask(address: str, query: str | None, answer_unit: str | None) -> Told:
        key = address.strip(), (query or "").strip() or None, answer_unit
        if key not in told:
            told[key] = ask_once(*key)
        return told[key]

    def load() -> Mapping[str, Any]:
        if not is_installed():
            return {REFUSED: EXTRA}
        return {"found": [(say("typed below"), ""), *((each, each) for each in visa_addresses())]}

    def look(found: Mapping[str, Any]) -> Mapping[str, Any]:
        chosen = {"address": found["found"]} if found["found"] else {}
        if found["asked"] is None or not (found["found"] or found["address"]):
            return chosen
        try:
            said = ask(found["found"] or found["address"], found["query"], found["answer_unit"])
        except Refused as fault:
            return {**chosen, "said": str(fault)}
        return {
            **chosen,
            "said": say(
                "{idn} answers. {what}",
                idn=said.idn,
                what=say("A reading: {reading}.", reading=said.reading) if said.reading else "",
            ),
        }

    def act(**given: Any) -> None:
        found, asked = given.pop("found"), given.pop("asked")
        given.pop("said", None)
        given["address"] = found or given["address"]
        idn = ask(given["address"], given["query"], given["answer_unit"]).idn if given["address"] and asked else None
        connect_equipment(workplace, tool.equipment_id, idn=idn, **given)

    unit = tool.unit or ""
    return Form(
        say("Read {tool} {serial} by itself", tool=tool.name, serial=tool.serial),
        act_words="Save meter",
        note="The meter must speak SCPI. Without an address its figures are typed.",
        fields=(
            Field("found", "Address", "choice", "found now", choices=[("typed below", "")], spoken="addresses found"),
            Field("address", label="VISA address", kind="text", hint="such as TCPIP::192.0.2.10::5025::SOCKET",
                default=tool.address,
                  spoken="address", beside=True),
            Field("query", label="Query of a reading", kind="text", hint="such as MEAS:VOLT:DC?", default=tool.query,
                spoken="query"),
            Field("answer_unit", "Unit of its answers", "choice", default=tool.answer_unit or tool.unit,
                  choices=[(each, each) for each in answer_units(tool.unit)], beside=True),
            Field("range_low", "Lowest figure", "figure", default=tool.range_low, unit=unit, spoken="range, lowest"),
            Field("range_high", "Highest figure", "figure", default=tool.range_high, unit=unit,
                  spoken="range, highest", beside=True),
            Field("asked", "Who answers there?", "question", choices=[("Ask the meter", "asked")]),
            Field("said", "", "told"),
        ),
        act=act,
        load=load,
        look=look,
        first="address",
        wide=200,
    )  # fmt: skip


EMPTY = Emptiness(
    "No test equipment is recorded yet",
    "Add what you measure with: without its uncertainty and last valid day no measured test can pass in full.",
    "valves",
    "add",
    "Add a piece",
)


def list_page(context: PageContext) -> "EquipmentPage":
    """The register of test equipment."""
    return EquipmentPage(context)


ACTS = (
    ActSpec(
        "add",
        "New equipment",
        "N",
        "add",
        "add test equipment",
        at_any_time,
        lambda bar, _row: new_form(bar.workplace),
        "The equipment is saved.",
    ),
    ActSpec(
        "certify",
        "New certificate",
        "Shift+C",
        "certificate",
        "certify test equipment",
        form=lambda bar, row: certificate_form(bar.workplace, row),
        said="The certificate is saved.",
    ),
    ActSpec(
        "connect",
        "Read by itself",
        "Shift+U",
        "calibrate",
        "connect test equipment",
        form=lambda bar, row: meter_form(bar.workplace, row),
        said="The meter is saved.",
    ),
)


class EquipmentPage(ActList[EquipmentRow]):
    """The register, with an act to add a piece and one to write down a new certificate."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        spec = ListSpec(
            "Test equipment",
            columns(context.zone),
            key=lambda row: str(row.tool.equipment_id),
            load=partial(list_equipment, context.workplace),
            describe=partial(describe, zone=context.zone),
            empty=EMPTY,
            sum_up=sum_up,
            choices=(
                QuickFilter("past", lambda row: row.state is DueState.PAST, STOP),
                QuickFilter("due soon", lambda row: row.state is DueState.DUE_SOON, ADVISE),
                QuickFilter(
                    "not known", lambda row: row.state is DueState.UNKNOWN or row.tool.uncertainty is None, UNKNOWN
                ),
            ),
            siblings=BENCH_SIBLINGS,
        )
        super().__init__(context, spec, ACTS, parent)


def sum_up(rows: Sequence[EquipmentRow]) -> str:
    """'12 pieces: 10 good, 1 due soon, 1 past'."""
    states = Counter(row.state for row in rows)
    each = strung(", ", (strung(" ", (str(number), say(word))) for word, number in states.most_common()))
    return strung(": ", (counted(len(rows), "piece"), each))


def columns(zone: ZoneInfo) -> tuple[Column[EquipmentRow], ...]:
    """The columns of the register."""
    return (
        Column("kind", "Kind", lambda row: say(row.tool.kind)),
        Column("name", "Name", lambda row: row.tool.name, gives_way=True),
        Column("serial", "Serial", lambda row: row.tool.serial),
        Column("state", "In date", lambda row: mark_for(row.state).word, lambda row: -mark_for(row.state).rank,
               state=lambda row: mark_for(row.state)),
        Column("until", "Last valid day", lambda row: day(row.tool.last_good_day),
               lambda row: day(row.tool.last_good_day, "0")),
        Column("u", "Standard uncertainty", lambda row: in_unit(row.tool.uncertainty, row.tool.unit)),
        Column("digit", "Resolution", lambda row: in_unit(row.tool.digit, row.tool.unit), shown=False),
        Column("used", "Last used", lambda row: moment(row.last_used_at, zone, NONE), lambda row: row.last_used_at,
               shown=False),
    )  # fmt: skip


def in_unit(value: float | None, unit: str | None) -> str:
    """A figure in its unit, or that it is not recorded."""
    return NOT_RECORDED if value is None else f"{value:g} {unit or ''}".rstrip()


def meter_facts(tool: EquipmentRecord) -> tuple[Fact, ...]:
    """Where a piece answers, what it is asked and who it says it is; one fact where it is not read by itself."""
    if tool.address is None:
        return (Fact("Address", say("none: its figures are typed")),)
    return (
        Fact("Address", tool.address),
        Fact(
            "Query of a reading",
            tool.query or NOT_RECORDED,
            note=say("answered in {answer_unit}", answer_unit=tool.answer_unit),
        ),
        Fact(
            "Range",
            say(
                "{range_low:g} to {range_high:g} {unit}",
                range_low=tool.range_low,
                range_high=tool.range_high,
                unit=tool.unit,
            ),
            note=say("outside it nothing is taken"),
        ),
        Fact("It says it is", tool.idn or NOT_RECORDED, note=say("another that answers there is refused")),
    )


def describe(row: EquipmentRow, zone: ZoneInfo) -> Detail:
    """Everything on one piece."""
    weakened = say(
        "A result read with it is weakened: cells are to be repeated, other tests say so beside their figure."
    )
    return Detail(
        row.tool.name,
        say("{kind}, serial {serial}", kind=row.tool.kind, serial=row.tool.serial),
        (mark_for(row.state),),
        (
            Section(
                "In date",
                (
                    Fact("Last valid day", day(row.tool.last_good_day), mark_for(row.state),
                         weakened if row.in_date is not True else ""),
                    Fact("Last used", moment(row.last_used_at, zone, NONE)),
                ),
            ),
            Section(
                "How well it reads",
                (
                    Fact("Standard uncertainty", in_unit(row.tool.uncertainty, row.tool.unit),
                         note=say("of one reading; results show twice it (k = 2, JCGM 100:2008)")),
                    Fact("Display resolution", in_unit(row.tool.digit, row.tool.unit),
                         note=say("what its last digit stands for")),
                ),
            ),
            Section("Read by itself", meter_facts(row.tool)),
        ),
    )  # fmt: skip
