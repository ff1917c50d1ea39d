"""Forms made from the columns of a register: one to enter a row, one to correct it with a reason."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from textwrap import shorten
from typing import Any

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import METRIC, Measure
from fleetbench.calc.parts.kinds import PART_KINDS
from fleetbench.calc.readiness.limits import BY_NAME, unit_of_limit
from fleetbench.calc.tickets.steps import asked_of_kind
from fleetbench.window.forms.form import Choices, Field, Form, Shown, replacing
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.lists.act_bar import ActBar
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.columns import UNIT_COLUMNS, Kind, SheetColumn
from fleetbench.workshop.places.amend import correct, enter
from fleetbench.workshop.places.register import (
    REGISTERS,
    WORDS,
    Register,
    RegisterRow,
    label_of,
    link_choices,
    register_rows,
)

OWN_LISTS: Mapping[str, Choices] = {
    "part_types": [(f"{kind}: {said}", kind) for kind, said in PART_KINDS.items()],
    "slots": [(f"{kind}: {said}", kind) for kind, said in PART_KINDS.items()],
    "part_type_lives": [
        ("none", None),
        *((test, test) for test in ("hydrostatic", "visual", "service", say("oxygen clean"), "calibration")),
    ],
}
"""Words that the program owns, each with one line of help, by register."""


def _own_list(sheet: str) -> Choices:
    if sheet != "limits":
        return OWN_LISTS[sheet]
    units = {name: unit_of_limit(name, word.units[0]) for name, word in BY_NAME.items()}
    return [(f"{name}, {units[name]}: {word.help}", name) for name, word in BY_NAME.items()]


OWNED = {"part_types": "kind", "slots": "kind", "limits": "name", "part_type_lives": "test"}
BESIDE = frozenset((
    "unit", "opened_on", "lot", "flow_place", "ordinal", "lead_days", "pack_size", "price", "set_point_high_bar",
    "head_volume_l", "flush_l_min", "usual_water_c", "usual_depth_m", "retired_on", "expected_on", "back_at",
    "resolution", "depth_m", "co2_l_min", "minutes", "working_bar", "use_within_hours", "contact_minutes",
    "size", "high", "tolerance", "replace",
    "oxygen_side", "second_person", "uncertainty", "digit", "amount", "former_tag", "currency", "pressure_unit",
    "temperature_unit", "length_unit", "mass_unit",
))  # fmt: skip
"""Fields that stand beside the one before, so that a form fits a small screen."""

BASES = {
    "made": say("made: months or days since it was made"), "opened": say("opened: since its packing was opened"),
    "fitted": say("fitted: since it was first fitted"), "hours": say("hours of use"), "dives": say("dives of use"),
    "hires": say("hires of use"), "fixed_date": say("use-by date printed on the part"),
    "test_interval": say("test interval: since its last test"), "storage": say("storage: months or days on the shelf"),
}  # fmt: skip
"""What a life is counted from, with one line of help."""

HINTS = {
    Kind.DAY: "2026-03-14", Kind.MARKED: "2026-03-14, 2026-03 or 1Q2026", Kind.MOMENT: "2026-03-14 16:30",
}  # fmt: skip
WORTH_SAYING = {
    "address": say("in one line, as on your papers"), "currency": say("three letters, for instance EUR"),
    "timezone": say("for instance Europe/Berlin"), "manual": say("for instance: maker's manual, edition 3"),
    "source": say("document, edition and page"),
    "roles": say("technician, manager; empty for all"),
    "part_type": "", "grade": say("as the maker names it"),
}  # fmt: skip
DEFAULTS: Mapping[str, Any] = {"stocked_in": "piece", "critical": True, "maker": True, "oxygen_side": False,
                               "assembly": False, "ordinal": 1, "shows": "mV", "resolution": 0.1, "kind": None,
                               "zero_offset_mv": 0.1, "altitude_m": 0, "usual_water_c": 15, "usual_depth_m": 20,
                               "second_person": False, "unit": None, "before": False, "replace": False,
                               "oxygen": False}  # fmt: skip


def enter_form(workplace: Workplace, sheet: str, currency: str = "") -> Form:
    """Enters a new row of a register; currency: of prices."""
    register = REGISTERS[sheet]

    def act(**given: Any) -> str:
        _, said = enter(workplace, sheet, with_unit_of(register, given))
        return strung(" ", (say("New {thing}: entered.", thing=register.thing), *said))

    return Form(
        say("Add: {thing}", thing=register.thing),
        act_words=say("Save {thing}", thing=register.thing),
        note=NOTES.get(sheet, ""),
        fields=tuple(_fields(register, register.entered, {}, {}, currency)),
        act=act,
        load=partial(_choices, workplace, register, register.entered),
        look=LOOKS.get(sheet),
        wide=WIDE,
    )


def correct_form(workplace: Workplace, row: RegisterRow, currency: str = "") -> Form:
    """Corrects a row of a register with a reason; the form begins with what is recorded."""
    register = REGISTERS[row.sheet]

    def act(reason: str, seen: dict[str, Any], **given: Any) -> str:
        return strung(
            " ", correct(workplace, row.sheet, row.key, with_unit_of(register, given, row.values), reason, seen)
        )

    reason = Field("reason", "Reason, kept in the journal with the old values", "words", spoken="reason",
                   wants="is empty; say why it is corrected")  # fmt: skip
    return Form(
        shorten(say("Correct: {thing} {label}", thing=register.thing, label=row.label), 120, placeholder=" …"),
        act_words=say("Correct {thing}", thing=register.thing),
        note="The journal keeps the old and the new values. What rests on them is calculated again, and you are told "
        "what changed. A looser limit or a longer life needs a source of its own.",
        fields=(*_fields(register, register.corrected, row.values, row.shown, currency), reason),
        act=replacing(dict(row.values), act),
        load=partial(_choices, workplace, register, register.corrected),
        look=LOOKS.get(row.sheet),
        wide=WIDE,
    )


def ask_correction(bar: ActBar, sheet: str, key: int) -> None:
    """Open the form that corrects a row of a register, once what is recorded of it was read."""

    def opened(rows: Sequence[RegisterRow]) -> None:
        form = correct_form(bar.workplace, rows[0], bar.context.currency)
        bar.open(FormDialog(bar.context.theme, bar.context.background, form, bar.window()), str)

    bar.run(partial(register_rows, bar.workplace, sheet, key), opened)


def _step_columns(given: Mapping[str, Any]) -> Mapping[str, Shown]:
    return {column.removesuffix("_id"): asked for column, asked in asked_of_kind(given["kind"] or "").items()}


LOOKS = {"service_steps": _step_columns}
"""What a form of a register asks for by what stands in it already."""
WIDE = 170
"""Width of a form of a register, in steps of the grid."""
NOTES = {
    "limits": say(
        "Enter it from the maker's manual or a published standard, with edition and page. Of two "
        "limits for the same thing the stricter is in force."
    ),
    "part_type_lives": say(
        "Enter it from the maker's manual, with edition and page. Of several lives the one that ends first is in force."
    ),
    "service_tasks": say("Enter it from the maker's manual, with edition and page."),
    "service_steps": say(
        "Enter your own text of the maker's manual, with edition and page. The amount is a "
        "torque in N·m, or the number of parts. Open tickets keep the steps they were opened "
        "with."
    ),
    "rating_rows": say("Enter each row of the maker's table. Between rows the shorter duration counts."),
    "disinfectants": say("Enter strength and contact time from the maker's manual of the unit."),
}


def with_unit_of(register: Register, given: Mapping[str, Any], row: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """What was given, with the unit that a limit of that name is stored in, and its amount in that.

    row: what is recorded; an amount that was left as the form began with it stays what it is.
    """
    if register.sheet != "limits" or given.get("name") not in BY_NAME:
        return dict(given)
    unit = BY_NAME[given["name"]].units[0]
    read, amount = unit_of_limit(given["name"], unit), given.get("amount")
    if amount is not None and isinstance(read, Measure):
        same = row is not None and row["name"] == given["name"] and amount == limit_amount(row)
        amount = row["amount"] if same and row is not None else read.typed(amount)
    return {**given, "unit": unit, "amount": amount}


def limit_amount(row: Mapping[str, Any]) -> float | None:
    """The amount of a recorded limit as its form begins with it, in the unit in use."""
    read = unit_of_limit(row["name"], row["unit"])
    return (
        float(read.number(row["amount"])) if isinstance(read, Measure) and row["amount"] is not None else row["amount"]
    )


def _fields(
    register: Register, names: Iterable[str], values: Mapping[str, Any], shown: Mapping[str, str], currency: str
) -> Iterable[Field]:
    for name in names:
        if (register.sheet, name) != ("limits", "unit"):
            field = _field(register, register.spec.column(name), values, shown)
            yield replace(field, unit=currency) if name == "price" else field


def _field(register: Register, column: SheetColumn, values: Mapping[str, Any], shown: Mapping[str, str]) -> Field:
    name = column.name
    value = values[name] if name in values else DEFAULTS.get(name, column.default)
    if (register.sheet, name) == ("limits", "amount") and values:
        value = limit_amount(values)
    label, unit = label_of(name), WORDS.get(name, ("", ""))[1]
    make = partial(Field, name, label, beside=name in BESIDE)
    if OWNED.get(register.sheet) == name:
        return make("choice", choices=_own_list(register.sheet), default=value)
    if column.kind in CHOSEN:
        return make("choice", choices=CHOSEN[column.kind](column), default=value, nothing=_nothing(column))
    if column.kind in (Kind.FIGURE, Kind.WHOLE):
        return make("figure" if column.kind is Kind.FIGURE else "whole", unit=unit, default=value)
    hint = HINTS.get(column.kind, WORTH_SAYING.get(name, ""))
    return make(TYPED.get(column.kind, "text"), hint, default=shown.get(name, ""), longest=column.longest or 2000)


TYPED = {Kind.DAY: "day", Kind.MARKED: "marked"}


def _nothing(column: SheetColumn) -> str:
    """What to do first where a list that a row must point at is still empty."""
    if not column.required or column.target not in REGISTERS:
        return ""
    return say("{column}: none is recorded yet; add one under Centre first", column=label_of(column.name))


def _words(column: SheetColumn) -> Choices:
    words = [(BASES.get(word, word.replace("_", " ")), word) for word in column.words]
    if column.name in NONE_MEANS:
        none = NONE_MEANS[column.name]
        return [(none, None), *(each for each in words if each[0] != none)]
    return words if column.required or column.default is not None else [("none", None), *words]


NONE_MEANS = {"measures": METRIC} | dict.fromkeys(UNIT_COLUMNS.split(",")[1:], say("as the units above"))
"""What stands for nothing chosen, where that is an answer of its own."""


def _yes_no(column: SheetColumn) -> Choices:
    known: list[tuple[str, object]] = [("yes", True), ("no", False)]
    return known if column.required or column.default is not None else [*known, (say("not known"), None)]


def _loaded(_column: SheetColumn) -> Choices:
    return ()


CHOSEN: Mapping[Kind, Callable[[SheetColumn], Choices]] = {
    Kind.LINK: _loaded, Kind.WORD: _words, Kind.YES_NO: _yes_no,
}  # fmt: skip
"""How the choices of a column are made that is chosen and not typed."""


def _choices(workplace: Workplace, register: Register, names: Sequence[str]) -> Mapping[str, Choices]:
    found: dict[str, Choices] = {}
    for name, listed in link_choices(workplace, register.sheet, names).items():
        found[name] = listed if register.spec.column(name).required else [("none", None), *listed]
    return found


def told(_row: object, value: object) -> str:
    """What an act returned, as its sentence."""
    return str(value)
