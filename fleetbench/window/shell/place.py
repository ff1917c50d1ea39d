"""Somewhere the window can go."""

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class PageKey:
    """A page of the rail, or the page of one thing on it by its key; then: what is begun there on the way in."""

    page: str
    key: str | None = None
    then: "PageKey | None" = field(default=None, compare=False)


TEST = "bench_test"
"""The page of a place that asks the bench for a test by its name, the place's key."""
HALF_DONE = "half_done"
"""The page of a place that asks a page to take up what was left half-done of its unit."""
