"""Acts on cylinders that ask little: a gauge read, a test done, cleaned for oxygen, cleanliness lost."""

from collections.abc import Callable, Sequence
from typing import Protocol

from PySide6.QtWidgets import QLineEdit, QWidget

from fleetbench.calc.parts.life import MarkedDate
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import AnswerKey, Question
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.gas.cylinder_words import OXYGEN_CAUTION
from fleetbench.window.gas.fill_grid import BarField
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.theme import GRID, Theme
from fleetbench.window.shell.background import Background
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.gas.clean import WHY_LOST, clean_parts, lose_clean
from fleetbench.workshop.gas.entry import record_test
from fleetbench.workshop.gas.fills import record_pressures


class Named(Protocol):
    """A cylinder, or any other part, by its key and serial."""

    @property
    def part_id(self) -> int: ...
    @property
    def serial(self) -> str: ...


class Cylindrical(Named, Protocol):
    """A cylinder with its role."""

    @property
    def role(self) -> str: ...


_WIDE = 300 * GRID
KINDS = (AnswerKey("1", "visual", "visual"), AnswerKey("2", "hydrostatic", "hydrostatic"))
PASSED = (AnswerKey("1", "passed", "yes"), AnswerKey("2", "not passed", "no"))


def named(lines: Sequence[Named]) -> str:
    """'O-1' or '3 cylinders'."""
    return lines[0].serial if len(lines) == 1 else f"{len(lines)} cylinders"


class GaugeDialog(ActDialog):
    """What gauges show now, a cylinder a field; three digits move on."""

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, lines: Sequence[Cylindrical],
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(theme, background, f"Gauge of {named(lines)}", "Record", parent)
        self._shop = shop
        self.fields = []
        for line in lines:
            field = BarField(f"{line.serial}, {line.role}", moves_on=True, parent=self)
            self.fields.append((line, field))
            self.body.addWidget(text_label(f"{line.serial}, {line.role}, bar", "label", self))
            self.body.addWidget(field)
        widgets = [field for _, field in self.fields]
        for field, following in zip(widgets, (*widgets[1:], self.act_button), strict=True):
            field.entered.connect(following.setFocus)
        widgets[0].setFocus()

    def work(self) -> Callable[[], object]:
        """Recording what was read."""
        bars = {line.part_id: field.value for line, field in self.fields if field.value is not None}
        if not bars:
            raise Refused("pressure: is missing; read the gauge")
        shop = self._shop
        return lambda: record_pressures(shop, bars)


class TestDialog(ActDialog):
    """A periodic test as stamped: which, when, by whom, passed or not."""

    __test__ = False  # pytest collects classes by this name's beginning

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, lines: Sequence[Named],
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(theme, background, f"Test of {named(lines)}", "Record", parent)
        self._shop, self._keys = shop, tuple(line.part_id for line in lines)
        self.setMinimumWidth(_WIDE)
        self.note.setText("A late visual leaves the day of the hydrostatic test where it is. One not passed holds it.")
        self.kind = Question(theme, "Which test", KINDS, self)
        self.passed = Question(theme, "Result", PASSED, self)
        self.done_on = _field("as stamped: 2026-05-04 or 2026-05; today where empty", "done on", self)
        self.done_by = _field("test house or inspector", "done by", self)
        for widget in (self.kind, self.passed, self.done_on, self.done_by):
            self.body.addWidget(widget)
        self.kind.answered.connect(self.passed.setFocus)
        self.passed.answered.connect(self.done_on.setFocus)
        self.done_on.returnPressed.connect(self.done_by.setFocus)
        self.done_by.returnPressed.connect(self.act)
        self.kind.setFocus()

    def work(self) -> Callable[[], object]:
        """Recording the test."""
        kind, passed, text = self.kind.given, self.passed.given, self.done_on.text().strip()
        if kind is None or passed is None:
            raise Refused("test: say which it was, and whether it was passed")
        try:
            done = MarkedDate.parse(text) if text else None
        except ValueError as fault:
            raise Refused(f"done on: {fault}") from fault
        shop, keys, by = self._shop, self._keys, self.done_by.text().strip() or None
        return lambda: record_test(shop, keys, kind, done=done, passed=passed == "yes", done_by=by)


class CleanDialog(ActDialog):
    """Cleaned for oxygen on the clean bench: how, and whether it was found clean."""

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, lines: Sequence[Named],
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(theme, background, f"{named(lines)} cleaned for oxygen", "Record", parent)
        self._shop, self._keys = shop, tuple(line.part_id for line in lines)
        self.setMinimumWidth(_WIDE)
        self.note.setText(OXYGEN_CAUTION)
        self.passed = Question(theme, "Looked at afterwards", PASSED, self)
        self.how = _field("method and where, for instance bath 2, clean bench", "how", self)
        self.body.addWidget(self.how)
        self.body.addWidget(self.passed)
        self.how.returnPressed.connect(self.passed.setFocus)
        self.how.setFocus()

    def work(self) -> Callable[[], object]:
        """Recording the cleaning."""
        if self.passed.given is None:
            raise Refused("looked at: say whether it was found clean")
        shop, keys, how, passed = self._shop, self._keys, self.how.text(), self.passed.given == "yes"
        return lambda: clean_parts(shop, keys, how, passed=passed)


class LostDialog(ActDialog):
    """What ended the oxygen-clean status."""

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, lines: Sequence[Named],
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(theme, background, f"{named(lines)}: oxygen-clean lost", "Record", parent)
        self._shop, self._keys = shop, tuple(line.part_id for line in lines)
        self.setMinimumWidth(_WIDE)
        self.note.setText("From now on it stops every hand-over until it is cleaned for oxygen again.")
        answers = tuple(AnswerKey(str(number), word, word) for number, word in enumerate(WHY_LOST, start=1))
        self.why = Question(theme, "What ended it", answers, self)
        self.words = _field("in your own words", "note", self)
        self.body.addWidget(self.why)
        self.body.addWidget(self.words)
        self.why.answered.connect(self.words.setFocus)
        self.words.returnPressed.connect(self.act)
        self.why.setFocus()

    def work(self) -> Callable[[], object]:
        """Recording the loss."""
        why = self.why.given
        if why is None:
            raise Refused(f"what ended it: is missing; press 1 to {len(WHY_LOST)}")
        shop, keys, note = self._shop, self._keys, self.words.text()
        return lambda: lose_clean(shop, keys, why, note=note)


def _field(hint: str, name: str, parent: QWidget) -> QLineEdit:
    field = QLineEdit(parent)
    field.setPlaceholderText(hint)
    field.setAccessibleName(name)
    field.setMaxLength(120)
    return field
