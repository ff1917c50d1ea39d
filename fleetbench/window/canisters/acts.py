"""Acts on a fill that ask only one thing: why it is thrown away, for whom it is, whether it was really flooded."""

from collections.abc import Callable

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QComboBox, QLineEdit, QWidget

from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.calibrate_question import AnswerKey, Question
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.look.theme import GRID, Theme
from fleetbench.window.look.words import day
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.canisters.packing import (
    WHY_DISCARDED,
    PackChoices,
    discard_fill,
    give_fill,
    mark_flooded,
    pack_choices,
)
from fleetbench.workshop.core.workplace import Shop

_WIDE = 270 * GRID


class DiscardDialog(ActDialog):
    """Throws a fill away with its reason on one key, or written out.

    Signals:
        done_with: the fill's key.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, part_id: int, name: str, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, f"Discard the fill of {name}", "Throw it away", parent)
        self._shop, self._part_id = shop, part_id
        self.note.setText("Used absorbent is never poured back, packed again or passed on.")
        answers = tuple(AnswerKey(str(number), word, word) for number, word in enumerate(WHY_DISCARDED, start=1))
        self.why = Question(theme, "Why", answers, self)
        self.setMinimumWidth(_WIDE)
        self.other = QLineEdit(self)
        self.other.setPlaceholderText("or in your own words")
        self.other.setAccessibleName("reason in your own words")
        self.other.setMaxLength(200)
        self.body.addWidget(self.why)
        self.body.addWidget(self.other)
        self.other.returnPressed.connect(self.act)
        self.why.setFocus()

    @property
    def reason(self) -> str:
        """The reason as it stands."""
        return self.other.text().strip() or self.why.given or ""

    def work(self) -> Callable[[], object]:
        """Throwing it away for the reason given."""
        shop, part_id, why = self._shop, self._part_id, self.reason
        if not why:
            raise Refused(f"reason: is missing; press 1 to {len(WHY_DISCARDED)}, or write it")
        return lambda: discard_fill(shop, part_id, why)


class GiveDialog(ActDialog):
    """Says for which hire of its unit a fill is.

    Signals:
        done_with: the fill's key.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, part_id: int, name: str, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, f"For whom is {name}?", "Give it", parent)
        self._shop, self._part_id = shop, part_id
        self.note.setText("A fill serves one diver and one hire. A used one stays with its diver.")
        self.hire = QComboBox(self)
        self.hire.setAccessibleName("hire")
        self.body.addWidget(self.hire)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_choices)
        self._loader.refused.connect(self.banner.say_refused)
        self._loader.ask(lambda: pack_choices(shop, part_id))
        self.hire.setFocus()

    @Slot(object)
    def show_choices(self, choices: PackChoices) -> None:
        """Offer the hires of the unit in which it sits, the next one first."""
        for each in choices.hires:
            self.hire.addItem(
                f"{each.diver}, {each.booking}, {day(each.starts_on)} to {day(each.ends_on)}", each.line_id
            )
        if not choices.hires:
            where = f"unit {choices.unit} has no hire to come" if choices.unit else "it sits in no unit"
            self.banner.say_refused(f"hire: {where}; the first run says whose the fill is")

    def work(self) -> Callable[[], object]:
        """Giving it to the hire that is chosen."""
        line = self.hire.currentData()
        if line is None:
            raise Refused("hire: is missing; the first run says whose the fill is")
        shop, part_id = self._shop, self._part_id
        return lambda: give_fill(shop, part_id, line_id=int(line))


class FloodedDialog(ActDialog):
    """Asks before a fill is recorded as flooded, which spends it.

    Signals:
        done_with: the fill's key.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, part_id: int, name: str, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, f"{name} was flooded", "It was flooded", parent)
        self._shop, self._part_id = shop, part_id
        self.note.setText(
            "Flooded, or wetted beyond breath: the fill is spent at once. Wet absorbent is caustic: gloves, glasses "
            "and the maker's data sheet."
        )
        self.remark = QLineEdit(self)
        self.remark.setPlaceholderText("remark, for instance how much water")
        self.remark.setAccessibleName("remark")
        self.remark.setMaxLength(200)
        self.body.addWidget(self.remark)
        self.remark.returnPressed.connect(self.act)
        self.act_button.setFocus()

    def work(self) -> Callable[[], object]:
        """Recording the flood."""
        shop, part_id, note = self._shop, self._part_id, self.remark.text()
        return lambda: mark_flooded(shop, part_id, note=note)
