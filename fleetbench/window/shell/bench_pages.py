"""What the main window knows of pages that ask for tickets or open them, without importing them."""

from typing import TYPE_CHECKING, Protocol, runtime_checkable

if TYPE_CHECKING:
    from PySide6.QtCore import SignalInstance


@runtime_checkable
class WantsTicket(Protocol):
    """A page that asks for a ticket: its signal carries tag and reason."""

    ticket_wanted: "SignalInstance"


@runtime_checkable
class BeginsTicket(Protocol):
    """The page that opens tickets."""

    def new_ticket(self, tag: str = "", reason: str = "", cause: str | None = None) -> None:
        """Begin a new ticket with what is known already."""
