"""Whether a part is oxygen-clean: what its cleanings and what has happened to it since leave of that status.

Lost by an opening off the clean bench, a fill with air that is not oxygen-compatible, a flood, or a lubricant that is
not oxygen-compatible: common practice, no published source. Nothing but a cleaning that passed gives it back.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, tzinfo
from typing import final


@dataclass(frozen=True, slots=True)
class Cleaning:
    """One cleaning for oxygen; at: None where only its day is known."""

    day: date
    passed: bool
    at: datetime | None = None

    def since(self, zone: tzinfo) -> datetime:
        """The moment from which it may be counted; of a day without an hour its first moment, the cautious choice."""
        return self.at if self.at is not None else datetime.combine(self.day, time(), tzinfo=zone)


@dataclass(frozen=True, slots=True)
class Loss:
    """Something that ends the status: when, and what in words."""

    at: datetime
    why: str


@final
@dataclass(frozen=True, slots=True)
class CleanStatus:
    """What is left of the status: True, False with its reason, or None where nothing is recorded."""

    clean: bool | None
    cleaned_at: datetime | None
    lost_at: datetime | None = None
    why: str = ""

    @property
    def words(self) -> str:
        """The status in words, with its reason where it was lost."""
        if self.clean is None:
            return "not known: no cleaning on record"
        if self.clean:
            return "oxygen-clean"
        return f"lost: {self.why}"


def clean_status(cleanings: Iterable[Cleaning], losses: Iterable[Loss], zone: tzinfo) -> CleanStatus:
    """The status as cleanings and losses leave it; a loss on the day of a cleaning without an hour ends it.

    zone: of the site's calendar days. The last cleaning counts; one that failed leaves the part unclean.
    """
    last = max(cleanings, key=lambda each: (each.since(zone), not each.passed), default=None)
    since = last.since(zone) if last is not None else None
    after = sorted((loss for loss in losses if since is None or loss.at >= since), key=lambda loss: loss.at)
    if last is None or since is None:
        return CleanStatus(False, None, after[0].at, after[0].why) if after else CleanStatus(None, None)
    if not last.passed:
        return CleanStatus(False, None, since, "its last cleaning did not pass")
    if after:
        return CleanStatus(False, since, after[0].at, after[0].why)
    return CleanStatus(True, since)
