"""Acts on a fill that ask only one thing, on keys: why it is thrown away, and whether it was really flooded."""

from collections.abc import Callable

from PySide6.QtWidgets import QLineEdit, QWidget

from fleetbench.records.errors import Refused
from fleetbench.window.background import Background
from fleetbench.window.calibrate_question import AnswerKey, Question
from fleetbench.window.canister_dialog import ActDialog
from fleetbench.window.theme import GRID, Theme
from fleetbench.workshop.packing import WHY_DISCARDED, discard_fill, mark_flooded
from fleetbench.workshop.shop import Shop

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
