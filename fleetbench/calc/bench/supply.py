"""Whether the supply before a first stage counts as full or low."""

FULL_SUPPLY_BAR, LOW_SUPPLY_BAR = 150.0, 60.0
"""From where a supply counts as full and to where as low: common practice, no published source."""


def supply_word(supply_bar: float | None) -> str:
    """Whether a supply pressure in bar counts as full, low, between, or is not known."""
    if supply_bar is None:
        return "not known"
    if supply_bar >= FULL_SUPPLY_BAR:
        return "full"
    return "low" if supply_bar <= LOW_SUPPLY_BAR else "between"
