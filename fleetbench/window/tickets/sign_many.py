"""Several finished tickets signed with one PIN, each shown with what its signature stands for."""

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QCheckBox, QScrollArea, QVBoxLayout, QWidget

from fleetbench.records.core.errors import Refused
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.theme import APART, CLOSE, GRID, TIGHT, Theme, font
from fleetbench.window.look.words import counted
from fleetbench.window.shell.background import Background
from fleetbench.window.tickets.sign import SignDialog
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.tickets.page import FinishedTicket, Signer


class SignManyDialog(SignDialog):
    """Shows every finished ticket; those that stay ticked are signed together or not at all.

    Signals:
        done_with: the hash of the journal entry that holds the signatures.
    """

    def __init__(
        self,
        theme: Theme,
        background: Background,
        shop: Shop,
        finished: Sequence[FinishedTicket],
        signers: Sequence[Signer],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(
            theme, background, shop, (), f"Sign {counted(len(finished), 'finished ticket')}", signers,
            needs_second=any(each.needs_second for each in finished), parent=parent,
        )  # fmt: skip
        self.setMinimumWidth(180 * GRID)
        self.ticks: dict[int, QCheckBox] = {}
        listed = QWidget()
        listed.setObjectName("scrolled")
        lines = QVBoxLayout(listed)
        lines.setSpacing(TIGHT)
        for each in finished:
            tick = QCheckBox(f"{each.row.number}   {each.row.unit}", listed)
            tick.setFont(font("strong"))
            tick.setChecked(True)
            tick.toggled.connect(self._on_ticked)
            self.ticks[each.row.ticket_id] = tick
            lines.addWidget(tick)
            for words in finished_words(each):
                label = text_label(words, "small", listed)
                label.setWordWrap(True)
                label.setContentsMargins(6 * GRID, 0, 0, 0)
                lines.addWidget(label)
            lines.addSpacing(CLOSE)
        lines.addStretch(1)
        scroll = QScrollArea(self)
        scroll.setWidgetResizable(True)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setMinimumHeight(min(80 * GRID, listed.sizeHint().height() + APART))
        scroll.setWidget(listed)
        self.body.insertWidget(0, scroll, 1)

    @property
    def ticked(self) -> tuple[int, ...]:
        """Keys of the tickets that stay ticked."""
        return tuple(key for key, tick in self.ticks.items() if tick.isChecked())

    def work(self) -> Callable[[], object]:
        """The signatures of all that is ticked."""
        self._ticket_ids = self.ticked
        if not self._ticket_ids:
            raise Refused("tickets: none is ticked; tick what is to be signed")
        return super().work()

    @Slot(bool)
    def _on_ticked(self, _on: bool) -> None:
        self.act_button.setEnabled(bool(self.ticked))


def finished_words(each: FinishedTicket) -> tuple[str, ...]:
    """What a signature stands for, a line each: why it was opened, findings, tasks, parts, tests, time."""
    lines = [each.row.reason]
    for title, said in (("found", each.findings), ("tasks", each.tasks), ("stays due", each.not_counted),
                        ("parts", each.parts), ("tests", each.tests)):  # fmt: skip
        if said:
            lines.append(f"{title}: {'; '.join(said)}")
    return (*lines, f"{each.row.minutes:.0f} min")
