"""The advices that a manager accepted and that stand today: how many, on which unit, until when and why."""

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QDialog, QVBoxLayout, QWidget

from fleetbench.window.detail.detail import ACROSS, Detail, Line, Table
from fleetbench.window.detail.view import DetailView
from fleetbench.window.look.banner import Banner
from fleetbench.window.look.buttons import quiet_button, text_label
from fleetbench.window.look.theme import APART, BLOCK, GRID, Theme
from fleetbench.window.look.words import counted
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.hires.acceptances import StandingAcceptance, standing_acceptances


class AcceptedDialog(QDialog):
    """Lists what stands; every acceptance ends by itself on its day."""

    def __init__(self, theme: Theme, background: Background, shop: Shop, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Accepted advices")
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.resize(200 * GRID, 110 * GRID)
        self.banner = Banner(theme, self)
        self.view = DetailView(theme, "Looking.", self)
        self.leave_button = quiet_button(theme, "Close", "close", self)
        self.leave_button.clicked.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(BLOCK, BLOCK, BLOCK, BLOCK)
        layout.setSpacing(APART)
        layout.addWidget(text_label("Accepted advices", "title", self))
        layout.addWidget(self.banner)
        layout.addWidget(self.view, 1)
        layout.addWidget(self.leave_button, 0, Qt.AlignmentFlag.AlignLeft)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_accepted)
        self._loader.refused.connect(self.banner.say_refused)
        self._loader.ask(lambda: standing_acceptances(shop))

    @Slot(object)
    def show_accepted(self, found: tuple[StandingAcceptance, ...]) -> None:
        """Show what stands today, newest first."""
        lines = tuple(Line((each.unit, each.check, each.until.isoformat(), each.by, each.reason)) for each in found)
        table = Table(
            counted(len(found), "accepted advice"), ("Unit", "Check", "Until, inclusive", "By", "Reason"), lines,
            "No advice is accepted today: each one is told at the next hand-over.", column=ACROSS,
        )  # fmt: skip
        self.view.show_detail(Detail("They stand today", "", (), (table,)))
