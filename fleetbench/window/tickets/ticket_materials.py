"""Lubricants and seal kits with their lots, kept on the ticket under which they were used."""

from collections.abc import Callable, Sequence
from itertools import pairwise

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QComboBox, QWidget

from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import AnswerKey, Question, labelled
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.look.buttons import plain_button
from fleetbench.window.look.theme import GRID, Theme
from fleetbench.window.parts.part_dialogs import line_field
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.window.tickets.cards import LinesCard
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.gas.clean import use_material
from fleetbench.workshop.gas.unit import fitted_in

KINDS = (AnswerKey("1", "lubricant", "lubricant"), AnswerKey("2", "seal kit", "seal kit"))
COMPATIBLE = (AnswerKey("y", "yes", "yes"), AnswerKey("n", "no", "no"), AnswerKey("/", "not known", "not known"))
SAID = {"yes": True, "no": False}


class MaterialsCard(LinesCard):
    """What was used under the ticket.

    Signals:
        use_wanted: a lubricant or a seal kit is to be written down.
    """

    use_wanted = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, "Lubricants and seal kits", parent)
        self.use_button = plain_button(theme, "Used…", "", self)
        self.tools.addWidget(self.use_button)
        self.use_button.clicked.connect(self.use_wanted)

    def show_materials(self, materials: Sequence[str], is_open: bool) -> None:
        """Show what was used, a line each."""
        self.clear_lines()
        for words in materials:
            self.say(words)
        if not materials:
            self.say("None is recorded.", "small")
        self.use_button.setVisible(is_open)


class MaterialDialog(ActDialog):
    """A lubricant or a seal kit: its name, its lot, whether it is oxygen-compatible, and the part it went into.

    Signals:
        done_with: the keys of what was written down.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, ticket_id: int, tag: str, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, "Lubricant or seal kit used", "Save material", parent)
        self._shop, self._ticket_id = shop, ticket_id
        self.setMinimumWidth(150 * GRID)
        self.note.setText(
            "On a part of the oxygen side, what is not known to be oxygen-compatible ends its oxygen-clean status."
        )
        self.kind = Question(theme, "What", KINDS, self)
        self.name, self.lot = line_field("name", self, "as on the tube or bag"), line_field("lot", self)
        self.compatible = Question(theme, "Oxygen-compatible?", COMPATIBLE, self)
        self.part = QComboBox(self)
        self.part.setAccessibleName("part")
        self.part.addItem("no single part, the job", None)
        self.body.addWidget(self.kind)
        self.body.addLayout(labelled(self.name, "Name", self))
        self.body.addLayout(labelled(self.lot, "Lot", self))
        self.body.addWidget(self.compatible)
        self.body.addLayout(labelled(self.part, "On which part", self))
        self.kind.answered.connect(self.name.setFocus)
        for before, after in pairwise((self.name, self.lot)):
            before.returnPressed.connect(after.setFocus)
        self.lot.returnPressed.connect(self.compatible.setFocus)
        self.compatible.answered.connect(self.part.setFocus)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_parts)
        self._loader.refused.connect(self.banner.say_refused)
        self._loader.ask(lambda: fitted_in(shop, tag))
        self.kind.setFocus()

    @Slot(object)
    def show_parts(self, parts: Sequence[tuple[int, str]]) -> None:
        """Offer the parts that sit in the unit."""
        for key, words in parts:
            self.part.addItem(words, key)

    def work(self) -> Callable[[], object]:
        """Writing it down."""
        kind, compatible = self.kind.given, self.compatible.given
        if kind is None:
            raise Refused("what: press 1 for a lubricant, 2 for a seal kit")
        if compatible is None:
            raise Refused("oxygen-compatible: press y, n, or / for not known")
        shop, ticket, name, lot, part = (
            self._shop, self._ticket_id, self.name.text(), self.lot.text(), self.part.currentData()
        )  # fmt: skip
        return lambda: use_material(
            shop, ticket, kind=kind, name=name, lot=lot, oxygen_compatible=SAID.get(compatible),
            part_ids=() if part is None else (part,),
        )  # fmt: skip
