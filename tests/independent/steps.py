"""Where a figure of a service step lies, recomputed with whole fractions of what was typed."""

from fractions import Fraction


def figure_verdict(value: str, low: str, high: str) -> str:
    """The verdict in words, of figures as they were typed; 'None' for a limit that is not stated.

    Limits are inclusive: common practice, no published source.
    """
    stated = {name: Fraction(text) for name, text in (("low", low), ("high", high)) if text != "None"}
    if not stated:
        return "not judged: no limits stated"
    seen = Fraction(value)
    if "low" in stated and seen - stated["low"] < 0:
        return "below the limit"
    if "high" in stated and stated["high"] - seen < 0:
        return "above the limit"
    return "in limits"
