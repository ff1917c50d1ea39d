"""Whether a slip may still be put right by one key: one decision."""

from datetime import datetime, timedelta

WITHIN = timedelta(minutes=10)
"""How long a slip may be put right by one key: common practice, no published source."""

TYPING = "typing"
"""The reason that such a correction is recorded with."""


def why_not_put_right(said_at: datetime, said_by: int | None, now: datetime, by: int | None) -> str | None:
    """Why this person may not take back what was said at that moment, in words; None where they may.

    A clock that was set back never lengthens the time.
    """
    if said_by is not None and said_by != by:
        return "was entered by somebody else; write down what is right as a finding"
    if not said_at <= now <= said_at + WITHIN:
        return "was entered more than ten minutes ago; write down what is right as a finding"
    return None
