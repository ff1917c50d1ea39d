"""What two desks changed at once: what only one changed stays, and what both changed is shown before it is replaced."""

from collections.abc import Callable, Mapping
from typing import Any

from fleetbench.records.core.errors import Clash

Values = Mapping[str, Any]


def in_words(values: Values) -> str:
    """Values one after the other, as a refusal shows them."""
    said = [{True: "yes", False: "no"}.get(each, str(each)) for each in values.values() if each not in ("", None)]
    return ", ".join(said) or "not recorded"


def with_theirs(
    about: str,
    mine: Values,
    seen: Values | None,
    now: Values,
    together: Mapping[str, tuple[str, ...]],
    *,
    shown: Callable[[Values], str] = in_words,
    plain: Callable[[Any], Any] = lambda value: value,
) -> dict[str, Any]:
    """Mine, with what another desk saved since it was seen wherever mine is as it was seen.

    together: by its word, the values that make sense together alone. plain: what of a value counts. Raises Clash, with
    what stands there now, where both changed the same: given as seen with the next try, it is replaced.
    """
    merged, twice, said = dict(mine), dict[str, Any](), list[str]()
    for word, names in together.items() if seen is not None else ():
        theirs, began, ours = ({name: plain(each.get(name)) for name in names} for each in (now, seen or {}, mine))
        if theirs in (began, ours):
            continue
        stands = {name: now.get(name) for name in names}
        if ours == began:
            merged |= stands
        else:
            twice |= stands
            said.append(f"{word}: {shown(theirs)} by another desk, {shown(ours)} here")
    if said:
        raise Clash(f"{about}: {'; '.join(said)}. Save again to replace theirs by yours", twice)
    return merged
