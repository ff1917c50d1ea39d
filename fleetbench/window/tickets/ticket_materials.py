"""Lubricants and seal kits with their lots, kept on the ticket under which they were used."""

from collections.abc import Mapping, Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import say
from fleetbench.window.forms.form import PRESS_YES_NO, YES_NO_KEYS, YES_NO_WORDS, Choices, Field, Form
from fleetbench.window.look.buttons import plain_button
from fleetbench.window.look.theme import Theme
from fleetbench.window.tickets.cards import LinesCard
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.clean import use_material
from fleetbench.workshop.gas.unit import fitted_in

KINDS = (("lubricant", "lubricant"), (say("seal kit"), say("seal kit")))


class MaterialsCard(LinesCard):
    """What was used under the ticket.

    Signals:
        use_wanted: a lubricant or a seal kit is to be written down.
    """

    use_wanted = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, say("Lubricants and seal kits"), parent)
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


def material_form(workplace: Workplace, ticket_id: int, tag: str) -> Form:
    """A lubricant or a seal kit: its name, its lot, whether it is oxygen-compatible, and the part it went into."""

    def use(kind: str, name: str, lot: str, oxygen_compatible: bool | None, part: int | None) -> object:
        parts = () if part is None else (part,)
        return use_material(
            workplace, ticket_id, kind=kind, name=name, lot=lot, oxygen_compatible=oxygen_compatible, part_ids=parts
        )

    def parts() -> Mapping[str, Choices]:
        return {
            "part": [
                (say("no single part, the job"), None),
                *((words, key) for key, words in fitted_in(workplace, tag)),
            ]
        }

    return Form(
        "Lubricant or seal kit used",
        act_words="Save material",
        note="On a part of the oxygen side, what is not known to be oxygen-compatible ends its oxygen-clean status.",
        fields=(
            Field("kind", "What", "question", choices=KINDS, wants="press 1 for a lubricant, 2 for a seal kit"),
            Field("name", "Name", hint="as on the tube or bag"),
            Field("lot", "Lot", beside=True),
            Field("oxygen_compatible", "Oxygen-compatible?", "question", choices=YES_NO_WORDS, keys=YES_NO_KEYS,
                  spoken="oxygen-compatible", wants=PRESS_YES_NO),
            Field("part", "On which part", "choice"),
        ),
        act=use,
        load=parts,
    )  # fmt: skip
