"""What the main window knows of pages on which work is done, without importing them before they are shown."""

from typing import TYPE_CHECKING, Protocol, runtime_checkable

if TYPE_CHECKING:
    from PySide6.QtCore import SignalInstance

    from fleetbench.window.shell.person import BenchPerson


@runtime_checkable
class AtTheBench(Protocol):
    """A page on which somebody works: it shows who, and is told who it is."""

    person: "BenchPerson"

    def set_person(self, person_id: int | None) -> None:
        """Say who is at the bench."""


@runtime_checkable
class WantsTicket(Protocol):
    """A page that asks for a ticket: its signal carries tag and reason."""

    ticket_wanted: "SignalInstance"


@runtime_checkable
class BeginsTicket(Protocol):
    """The page that opens tickets."""

    def new_ticket(self, tag: str = "", reason: str = "", cause: str | None = None) -> None:
        """Begin a new ticket with what is known already."""
