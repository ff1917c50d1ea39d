"""Somewhere the window can go."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PageKey:
    """A page of the rail, or the page of one thing on it by its key."""

    page: str
    key: str | None = None
