"""Somewhere the window can go."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PageKey:
    """A page of the rail, or the page of one thing on it by its key."""

    page: str
    key: str | None = None


HALF_DONE = "half_done"
"""The page of a place that asks a page to take up what was left half-done of its unit."""
