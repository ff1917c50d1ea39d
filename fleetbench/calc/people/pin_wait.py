"""How long to wait after wrong PINs: one decision."""

from datetime import datetime, timedelta

FREE_TRIES = 3
"""Wrong entries before the first wait; common practice, no published source."""

FIRST_WAIT = timedelta(seconds=30)
LONGEST_WAIT = timedelta(hours=1)
"""Waits grow from 30 seconds up to an hour: NIST SP 800-63B (2017) section 5.2.2, from memory."""

MOST_TRIES = 100
"""Consecutive wrong entries after which the PIN is closed: NIST SP 800-63B (2017) section 5.2.2, from memory."""


def wait_after(tries: int) -> timedelta | None:
    """How long to wait after this many wrong entries in a row; None where the PIN is closed for good."""
    if tries >= MOST_TRIES:
        return None
    if tries < FREE_TRIES:
        return timedelta(0)
    doublings = min(tries - FREE_TRIES, 10)
    return min(LONGEST_WAIT, timedelta(seconds=FIRST_WAIT.total_seconds() * 2.0**doublings))


def still_to_wait(tries: int, last_wrong: datetime | None, now: datetime) -> timedelta | None:
    """What is left of the wait, nought where there is none; None where the PIN is closed for good.

    A clock that was set back never shortens the wait.
    """
    wait = wait_after(tries)
    if wait is None or last_wrong is None:
        return wait
    return max(timedelta(0), min(wait, last_wrong + wait - now) if now >= last_wrong else wait)
