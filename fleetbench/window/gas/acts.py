"""Acts on cylinders that ask little: a gauge read, a test, a certificate, cleaned for oxygen, cleanliness lost."""

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import Any, Protocol

from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import capital, say, strung
from fleetbench.calc.core.measures import BAR
from fleetbench.calc.core.wall_time import MarkedDate
from fleetbench.calc.gas.cylinders import PurityLimit, Specification
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import AnswerKey
from fleetbench.window.forms.form import ActDialog, Field, Form, Shown
from fleetbench.window.gas.cylinder_words import OXYGEN_CAUTION
from fleetbench.window.gas.fill_grid import BarField
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.clean import WHY_LOST, clean_parts, lose_clean
from fleetbench.workshop.gas.entry import record_test, specification_of
from fleetbench.workshop.gas.fills import enter_certificate, record_pressures
from fleetbench.workshop.gas.list import CylinderLine
from fleetbench.workshop.gas.unit import UnitCylinder


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


class GaugeDialog(ActDialog):
    """What gauges show now, a cylinder a field; three digits move on."""

    def __init__(
        self, theme: Theme, background: Background, workplace: Workplace, lines: Sequence[CylinderLine | UnitCylinder],
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(
            theme,
            background,
            say("Gauge of {part}", part=named([line.part for line in lines])),
            say("Save gauges"),
            parent,
        )
        self._workplace = workplace
        self.fields = []
        for line in lines:
            field = BarField(strung(", ", (line.part.label, line.state.facts.role)), moves_on=True, parent=self)
            self.fields.append((line, field))
            self.body.addWidget(
                text_label(strung(", ", (line.part.label, line.state.facts.role, str(BAR))), "label", self)
            )
            self.body.addWidget(field)
        widgets = [field for _, field in self.fields]
        for field, following in zip(widgets, (*widgets[1:], self.act_button), strict=True):
            field.entered.connect(following.setFocus)
        widgets[0].setFocus()

    def work(self) -> Callable[[], object]:
        """Recording what was read."""
        bars = {line.part.part_id: field.value for line, field in self.fields if field.value is not None}
        if not bars:
            raise Refused(say("pressure: is missing; read the gauge"))
        workplace = self._workplace
        return lambda: record_pressures(workplace, bars)


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
