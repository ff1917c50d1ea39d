"""What acts on cylinders and on a unit's gas side ask, and the words on cylinders that stand in several places.

What is written down of a part that keeps an oxygen-clean status, wherever it lies: cleaned, or no longer clean.
"""

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from functools import partial
from operator import attrgetter
from typing import Any, NamedTuple, Protocol

from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.exchanged import KEPT, exchanged_words
from fleetbench.calc.core.languages import capital, say, strung
from fleetbench.calc.core.measures import BAR, METRE
from fleetbench.calc.core.plausible import BATTERY, battery_usual
from fleetbench.calc.core.wall_time import MarkedDate
from fleetbench.calc.gas.cylinders import PurityLimit, Specification
from fleetbench.calc.gas.depth import DENSITY_ADVISED_G_L, DENSITY_MOST_G_L, depth_limit
from fleetbench.calc.gas.real import Mixture
from fleetbench.calc.parts.kinds import GONE
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import AnswerKey
from fleetbench.window.forms.form import Field, Form, Shown
from fleetbench.window.gas.fill_grid import BarField
from fleetbench.window.lists.act_bar import ActBar, ActSpec
from fleetbench.window.look.words import NONE, figure
from fleetbench.window.parts.dialogs import MARK_HINT
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.entry import record_test, specification_of
from fleetbench.workshop.gas.fills import enter_certificate, record_pressures
from fleetbench.workshop.gas.list import CylinderLine
from fleetbench.workshop.gas.oxygen_side import (
    WHY_LOST,
    GasSideService,
    OxygenSidePart,
    UnitCylinder,
    UnitGas,
    clean_parts,
    lose_clean,
)
from fleetbench.workshop.gas.state import GasDepths
from fleetbench.workshop.turn_rounds.handsets import BatteryLine, record_batteries

OXYGEN_CAUTION = say(
    "Oxygen: open valves slowly, clean hands and tools, trained people only; local law and "
    "the maker's manual stand above this."
)
"""Common practice, no published source."""

CONTENT_METHOD = say("real gas, multi-fluid Helmholtz model in the form of GERG-2008; litres at 15 °C and 1.01325 bar")
DENSITY_CONVENTION = say("dry gas at 0 °C; advised up to 5.2 g/L, at most 6.2 g/L (from memory)")
DEPTH_METHOD = say("oxygen at the upper end of the analysis, rounded down, 10 m of sea water a bar")


def gas_words(gas: Mixture | None, missing: str = NONE) -> str:
    """'O2 32.0 %' or 'O2 18.0 %, He 45.0 %'."""
    if gas is None:
        return missing
    helium = f", He {100 * gas.helium:.1f} %" if gas.helium > 0.0 else ""
    return f"O2 {100 * gas.oxygen:.1f} %{helium}"


def gas_in_short(gas: Mixture | None) -> str:
    """'21.0' or '18.0 / 45.0', oxygen and helium in percent as the trade writes them."""
    if gas is None:
        return say("not analysed")
    return f"{100 * gas.oxygen:.1f}" + (f" / {100 * gas.helium:.1f}" if gas.helium > 0.0 else "")


def bar_words(line: CylinderLine) -> str:
    """The pressure in it now, without its unit, or that it was used since."""
    if line.state.now_bar is not None:
        return BAR.number(line.state.now_bar, 0)
    return NONE if line.state.bar is None else "used"


def metres(depth: float | None, missing: str = NONE) -> str:
    """A maximum operating depth in whole metres, rounded down."""
    return missing if depth is None else METRE.whole(depth)


def depth_words(depths: GasDepths, missing: str = NONE) -> str:
    """'30 m (5.2 g/L); oxygen 46 m (1.2 bar)': the smaller depth first, each with what limits it; as it prints."""
    limit = depth_limit(depths.maximum_depth_m, depths.dense_at_m[0])
    if limit is None:
        return missing
    by_oxygen = say(
        "{maximum_depth_m} ({limit_bar:g} bar)",
        maximum_depth_m=metres(depths.maximum_depth_m),
        limit_bar=depths.limit_bar,
    )
    if not limit.by_density:
        return by_oxygen
    return say(
        "{depth_m} ({density_advised_g_l:g} g/L); oxygen {by_oxygen}",
        depth_m=metres(limit.depth_m),
        density_advised_g_l=DENSITY_ADVISED_G_L,
        by_oxygen=by_oxygen,
    )


def least_depth_m(depths: GasDepths) -> float | None:
    """The smaller of both depths, m; None not known."""
    limit = depth_limit(depths.maximum_depth_m, depths.dense_at_m[0])
    return limit.depth_m if limit is not None else None


def density_depths(depths: tuple[float | None, float | None], missing: str = NONE) -> str:
    """'30 m at 5.2 g/L, 38 m at 6.2 g/L', in whole metres, rounded down."""
    advised, most = depths
    if advised is None or most is None:
        return missing
    limits = ((advised, DENSITY_ADVISED_G_L), (most, DENSITY_MOST_G_L))
    return strung(", ", (say("{depth} at {limit:g} g/L", depth=metres(depth), limit=limit) for depth, limit in limits))


def pressure_words(line: CylinderLine) -> str:
    """What is known to be in it: '186 bar', 'used since 186 bar', or nothing."""
    if line.state.now_bar is not None:
        return BAR.words(line.state.now_bar, 0)
    return NONE if line.state.bar is None else say("used since {bar}", bar=BAR.words(line.state.bar, 0))


def whereabouts(line: CylinderLine) -> str:
    """The unit it is in, else the place where it lies."""
    return line.unit or line.state.facts.place or NONE


class Named(Protocol):
    """A cylinder, or any other part, by its key and what it is called."""

    @property
    def part_id(self) -> int: ...
    @property
    def label(self) -> str: ...


_WIDE = 245
GASES, IN_A_ROW = ("oxygen", "air"), 3
PASSED_WORDS = (("passed", "yes"), (say("not passed"), "no"))
PASSED = tuple(AnswerKey(str(number), word, value) for number, (word, value) in enumerate(PASSED_WORDS, 1))


def named(parts: Sequence[Named]) -> str:
    """'O-1' or '3 cylinders'."""
    return parts[0].label if len(parts) == 1 else say("{count} cylinders", count=len(parts))


def gauge_form(workplace: Workplace, lines: Sequence[CylinderLine | UnitCylinder]) -> Form:
    """What gauges show now, a cylinder a field; three digits move on."""
    parts = {str(line.part.part_id): line for line in lines}

    def record(**bars: float | None) -> object:
        read = {int(key): bar for key, bar in bars.items() if bar is not None}
        if not read:
            raise Refused(say("pressure: is missing; read the gauge"))
        return record_pressures(workplace, read)

    def asked(key: str, line: CylinderLine | UnitCylinder) -> Field:
        name = strung(", ", (line.part.label, line.state.facts.role))
        made = partial(BarField, name, moves_on=True)
        words = strung(", ", (name, str(BAR)))
        return Field(key, words, "own", spoken=words, made=made, read=attrgetter("value"))

    return Form(
        say("Gauge of {part}", part=named([line.part for line in lines])),
        act_words="Save gauges",
        note="",
        fields=tuple(asked(key, line) for key, line in parts.items()),
        act=record,
    )


def test_form(workplace: Workplace, parts: Sequence[Named]) -> Form:
    """A periodic test as stamped: which, when, by whom, passed or not."""

    def record(kind: str, passed: str, done: MarkedDate | None, done_by: str) -> object:
        keys = [part.part_id for part in parts]
        return record_test(workplace, keys, kind, done=done, passed=passed == "yes", done_by=done_by.strip() or None)

    return Form(
        say("Test of {parts}", parts=named(parts)),
        act_words="Save test",
        note="A late visual leaves the day of the hydrostatic test where it is. One not passed holds it.",
        fields=(
            Field("kind", "Which test", "question", choices=[(kind, kind) for kind in ("visual", "hydrostatic")],
                  spoken="test", wants="say which it was, and whether it was passed"),
            Field("passed", "Result", "question", choices=PASSED_WORDS, spoken="test",
                  wants="say whether it was passed"),
            Field("done", "Done on", "marked", "as stamped: 2026-05-04 or 2026-05; today where empty"),
            Field("done_by", "Done by", hint="test house or inspector", longest=120),
        ),
        act=record,
        wide=_WIDE,
    )  # fmt: skip


def clean_form(
    workplace: Workplace, title: str, fields: Sequence[Field], chosen: Callable[..., Sequence[int]], first: str = "how"
) -> Form:
    """Cleaned for oxygen on the clean bench: how, and whether it was found clean."""

    def clean(how: str, passed: str, **ticked: object) -> object:
        return clean_parts(workplace, chosen(**ticked), how, passed=passed == "yes")

    return Form(
        title,
        act_words="Save cleaning",
        note=OXYGEN_CAUTION,
        fields=(
            *fields,
            Field("how", "How", hint="method and where, for instance bath 2, clean bench", spoken="how", longest=120),
            Field("passed", "Looked at afterwards", "question", choices=PASSED_WORDS, spoken="looked at",
                  wants="say whether it was found clean"),
        ),
        act=clean,
        first=first,
        wide=_WIDE,
    )  # fmt: skip


def lost_form(
    workplace: Workplace, title: str, fields: Sequence[Field], chosen: Callable[..., Sequence[int]], first: str = "why"
) -> Form:
    """What ended the oxygen-clean status."""

    def lose(why: str, note: str, **ticked: object) -> object:
        return lose_clean(workplace, chosen(**ticked), why, note=note)

    return Form(
        title,
        act_words="Record as not clean",
        note="From now on it stops every hand-over until it is cleaned for oxygen again.",
        fields=(
            *fields,
            Field("why", "What ended it", "question", choices=[(why, why) for why in WHY_LOST],
                  spoken="what ended it", wants=say("is missing; press 1 to {count}", count=len(WHY_LOST))),
            Field("note", "Note", hint="in your own words", spoken="note", longest=120),
        ),
        act=lose,
        first=first,
        wide=_WIDE,
    )  # fmt: skip


def clean_these(workplace: Workplace, parts: Sequence[Named]) -> Form:
    """These parts cleaned for oxygen."""
    return clean_form(
        workplace, say("{parts} cleaned for oxygen", parts=named(parts)), (), lambda: [part.part_id for part in parts]
    )


def lost_these(workplace: Workplace, parts: Sequence[Named]) -> Form:
    """These parts not oxygen-clean any more."""
    return lost_form(
        workplace, say("{parts}: oxygen-clean lost", parts=named(parts)), (), lambda: [part.part_id for part in parts]
    )


def specifications(workplace: Workplace) -> dict[str, Specification]:
    """What each gas is held against."""
    return {gas: specification_of(workplace, gas) for gas in GASES}


def certificate_form(workplace: Workplace, held: Mapping[str, Specification], batch: str) -> Form:
    """What a certificate states; what it does not state stays empty and is told as not stated."""

    def look(found: Mapping[str, Any]) -> Mapping[str, Shown]:
        chosen = held[found["gas"]]
        asked = {_name(gas, line): gas == found["gas"] for gas, each in held.items() for line in each.lines}
        return {"held": say("Held against {chosen}: {source}.", chosen=chosen.name, source=chosen.source), **asked}

    def enter(gas: str, batch: str, supplier: str, issued: date, **stated: float | None) -> object:
        named = {line.what: stated[_name(gas, line)] for line in held[gas].lines}
        values = {what: value for what, value in named.items() if value is not None}
        return enter_certificate(workplace, batch=batch, gas=gas, issued_on=issued, values=values, supplier=supplier)

    return Form(
        "Gas certificate",
        act_words="Save certificate",
        note=say("A figure outside its limit stops every cylinder filled from the batch. What is not "
"stated stays empty. {oxygen_caution}", oxygen_caution=OXYGEN_CAUTION),
        fields=(
            Field("gas", "Gas", "choice", choices=[(gas, gas) for gas in held]),
            Field("batch", "Batch", hint="as on the bank or cylinder", default=batch, beside=True),
            Field("supplier", "Supplier or laboratory", spoken="supplier", beside=True),
            Field("issued", "Issued on", "day", "such as 2026-05-04", wants="is missing; enter the day on it",
                  beside=True),
            Field("held", kind="told"),
            *(
                Field(_name(gas, line), capital(line.what), "figure", asked_words(line), unit=line.unit,
                      spoken=line.what, hidden=gas != GASES[0], beside=at % IN_A_ROW > 0)
                for gas, each in held.items()
                for at, line in enumerate(each.lines)
            ),
        ),
        act=enter,
        look=look,
        first="supplier" if batch else "batch",
        wide=230,
    )  # fmt: skip


def _name(gas: str, line: PurityLimit) -> str:
    return f"{gas} {line.what}"


def asked_words(line: PurityLimit) -> str:
    """'at least 99.5' or '20 to 22' or 'at most 10'."""
    if line.least is not None and line.most is not None:
        return say("{least:g} to {most:g}", least=line.least, most=line.most)
    return (
        say("at least {least:g}", least=line.least)
        if line.least is not None
        else say("at most {most:g}", most=line.most)
    )


OWN_DISPLAY = say("each device's own display")


def _named(parts: Sequence[OxygenSidePart]) -> list[tuple[str, object]]:
    return [(strung("", (each.slot, ", ", each.part, ": ", each.status.words)), each.part_id) for each in parts]


def battery_form(workplace: Workplace, side: UnitGas) -> Form:
    """Volts of every device of a unit, in one act; a device left empty was not read."""

    lines = [each for each in side.batteries if each.part_id is not None]
    last = {each.slot: each.volts for each in lines if each.volts is not None}

    def doubt(volts: Mapping[str, Any]) -> str:
        return exchanged_words({slot: volts[slot] for slot in last if volts[slot] is not None}, last, "V")

    def record(meter: int | None, **volts: float | None) -> object:
        read = {slot: value for slot, value in volts.items() if value is not None}
        if not read:
            raise Refused(say("volts: none is typed; read at least one battery"))
        kept = doubt(volts)
        return record_batteries(workplace, side.tag, read, equipment_id=meter, kept=f"{KEPT} {kept}" if kept else "")

    return Form(
        say("Batteries of {tag}", tag=side.tag),
        act_words="Save voltages",
        note="A device left empty was not read, and stays without a reading.",
        fields=(
            Field("meter", "Read on", "choice",
                  choices=[(OWN_DISPLAY, None), *((name, key) for key, name in side.meters)]),
            *(
                Field(each.slot, capital(each.device), "figure", _battery_hint(each), unit="V",
                      spoken=say("{device} battery", device=each.device), quantity=BATTERY,
                      expects={"last": each.volts, "usual": battery_usual(each.replace_volts)})
                for each in lines
            ),
        ),
        act=record,
        doubt=doubt,
        first=lines[0].slot if lines else "",
    )  # fmt: skip


def _battery_hint(line: BatteryLine) -> str:
    return say("replace under {replace_volts}", replace_volts=figure(line.replace_volts, "V", 2, "not recorded"))


def _ticks(choices: Sequence[tuple[str, object]]) -> Field:
    return Field("part_ids", "Which parts; a number ticks one, 0 all", "ticks", choices=choices, spoken="parts")


def _ticked(part_ids: tuple[int, ...]) -> tuple[int, ...]:
    return part_ids


def service_form(workplace: Workplace, tag: str, lines: Sequence[GasSideService]) -> Form:
    """A service done: which parts, passed or not, when, by whom and how."""

    def record(part_ids: tuple[int, ...], passed: str, **how: Any) -> object:
        return record_test(workplace, part_ids, "service", passed=passed == "yes", **how)

    return Form(
        say("Service on {tag}", tag=tag),
        act_words="Save service",
        note="Only by whom the maker and local law allow. Lots of lubricant and seal kits are kept on the ticket.",
        fields=(
            _ticks([(strung(", ", (each.slot, each.serial)), each.part_id) for each in lines]),
            Field("passed", "Result", "question", choices=PASSED_WORDS, wants="say whether it was passed"),
            Field("done", "Done on", "marked", say("today where empty, or {mark_hint}", mark_hint=MARK_HINT)),
            Field("done_by", "Done by", hint="workshop or technician", beside=True),
            Field("how", "What was done", spoken="how"),
        ),
        act=record,
        first="passed" if len(lines) == 1 else "part_ids",
        wide=150,
    )


def parts_clean_form(workplace: Workplace, tag: str, parts: Sequence[OxygenSidePart]) -> Form:
    """Parts on the oxygen side of a unit, cleaned for oxygen on the clean bench."""
    return clean_form(
        workplace, say("{tag}: cleaned for oxygen", tag=tag), (_ticks(_named(parts)),), _ticked, "part_ids"
    )


def parts_lost_form(workplace: Workplace, tag: str, parts: Sequence[OxygenSidePart]) -> Form:
    """What ended the oxygen-clean status of parts of a unit."""
    return lost_form(workplace, say("{tag}: oxygen-clean lost", tag=tag), (_ticks(_named(parts)),), _ticked, "part_ids")


class OnePart(NamedTuple):
    """The part that the acts are for."""

    part_id: int
    label: str


def _said(words: str, part: OnePart, _value: object) -> str:
    return strung(": ", (part.label, words))


ACTS = (
    ActSpec("cleaned", "Cleaned for oxygen", act="clean for oxygen",
            form=lambda bar, part: clean_these(bar.workplace, (part,)), said=partial(_said, say("cleaning recorded."))),
    ActSpec("lost", "Not clean any more", act="oxygen-clean lost",
            form=lambda bar, part: lost_these(bar.workplace, (part,)),
            said=partial(_said, say("recorded; it stops every hand-over until it is cleaned for oxygen again."))),
)  # fmt: skip


class PartTests(ActBar):
    """Buttons for what is written down of one part."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        super().__init__(context, ACTS, None, parent)
        self.hide()

    def choose_part(self, part_id: int, name: str, state: str) -> None:
        """Act on this part where it keeps a status; of one scrapped or sent back nothing more is written down."""
        self.choose(OnePart(part_id, name))
        # It calculates with what the start of the window does without.
        from fleetbench.workshop.gas.oxygen_side import keeps_clean

        workplace, gone = self.workplace, state in GONE
        self.run(lambda: not gone and keeps_clean(workplace, part_id), self.setVisible)
