"""What the acts on a unit's gas side ask: volts of every device at once, which parts were cleaned, serviced, opened.

What is written down of a part that keeps an oxygen-clean status, wherever it lies: cleaned, or no longer clean.
"""

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any, NamedTuple

from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.exchanged import KEPT, exchanged_words
from fleetbench.calc.core.languages import capital, say, strung
from fleetbench.calc.core.plausible import BATTERY, battery_usual
from fleetbench.calc.parts.kinds import PartState
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.form import Field, Form
from fleetbench.window.gas.acts import PASSED_WORDS, clean_form, clean_these, lost_form, lost_these
from fleetbench.window.lists.act_bar import ActBar, ActSpec
from fleetbench.window.look.words import figure
from fleetbench.window.parts.part_dialogs import MARK_HINT
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.clean import OxygenSidePart
from fleetbench.workshop.gas.entry import record_test
from fleetbench.workshop.gas.unit import GasSideService, UnitGas
from fleetbench.workshop.turn_rounds.handsets import BatteryLine, record_batteries

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
        from fleetbench.workshop.gas.unit import keeps_clean

        workplace, gone = self.workplace, state in (PartState.SCRAPPED, PartState.SENT_BACK)
        self.run(lambda: not gone and keeps_clean(workplace, part_id), self.setVisible)
