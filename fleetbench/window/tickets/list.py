"""The list of tickets, with what is finished waiting for signatures."""

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QWidget

from fleetbench.window.lists.list_page import ListPage, ListSpec
from fleetbench.window.look.buttons import lead_button, plain_button
from fleetbench.window.look.words import counted
from fleetbench.window.shell.background import Refresher
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.person import grey
from fleetbench.window.tickets.sign_many import SignManyDialog
from fleetbench.workshop.tickets.list import TicketRow
from fleetbench.workshop.tickets.page import FinishedTicket, Signer, finished_tickets, may_sign

Ready = tuple[tuple[FinishedTicket, ...], tuple[Signer, ...]]


class TicketList(ListPage[TicketRow]):
    """The list page with two buttons: a new ticket, and the signature of all that is finished."""

    def __init__(self, context: PageContext, spec: ListSpec[TicketRow], parent: QWidget | None = None) -> None:
        super().__init__(context.theme, context.background, spec, parent)
        self._background, self._shop = context.background, context.shop
        self.new_button = plain_button(self.theme, "New ticket", "tickets", self)
        self.sign_button = lead_button(self.theme, "Sign what is finished…", "", self)
        self.heading.addWidget(self.new_button)
        self.heading.addWidget(self.sign_button)
        context.signed_in.changed.connect(self._grey)
        self._grey()
        self._finished = Refresher(context.background, self)
        self._finished.loaded.connect(self._on_finished)
        self._finished.refused.connect(self.banner.say_refused)
        self.new_button.clicked.connect(self._on_new)
        self.sign_button.clicked.connect(self._on_sign)

    @Slot()
    def _grey(self) -> None:
        grey({"sign": self.sign_button}, {"sign": "sign ticket"}, self._background.signed_in.role)

    @Slot()
    def _on_new(self) -> None:
        self.action_requested.emit("new_ticket")

    @Slot()
    def _on_sign(self) -> None:
        shop = self._shop

        def load() -> Ready:
            finished = finished_tickets(shop)
            return finished, may_sign(shop, tuple({each.row.unit for each in finished}))

        self._finished.ask(load)

    @Slot(object)
    def _on_finished(self, ready: Ready) -> None:
        finished, signers = ready
        if not finished:
            self.banner.say_note(
                "No open ticket is finished: each has a task to do, a test to pass or a clock running."
            )
            return
        dialog = SignManyDialog(self.theme, self._background, self._shop, finished, signers, self)
        dialog.done_with.connect(self._on_signed)
        dialog.open()

    @Slot(object)
    def _on_signed(self, digest: object) -> None:
        dialog = self.sender()
        count = len(dialog.ticked) if isinstance(dialog, SignManyDialog) else 0
        self.banner.say_note(f"{counted(count, 'ticket')} signed; journal hash {str(digest)[:16]}.")
        self.refresh()
