"""What a typed or scanned text leads to.

find(shop, text) -> tuple[Hit, ...]    exact matches first, at most 50
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Hit:
    """One thing found; kind: unit, cell, canister, cylinder, part, container, ticket, person, booking.

    key: the tag, part id, ticket number, person id or booking code with which its page opens.
    """

    kind: str
    key: str
    title: str
    detail: str
    exact: bool
