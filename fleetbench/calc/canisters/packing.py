"""Whether a canister may be packed: what stands in it, what goes in and from which container in; the reasons out.

Common practice, no published source, unless a type's own figure decides.
"""

import math
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta

from fleetbench.calc.core.doors import at as door

COVERAGE = 2.0
LEAST_ODD_SHARE = 1.2
"""Over this share of the type's full mass the empty canister was surely weighed with it; common practice, no
published source."""


@dataclass(frozen=True, slots=True)
class PackFacts:
    """What is known when a canister is to be packed; None is 'not known', and said so where it stops the packing.

    holds: the fill that still stands in the canister, as it is called; None for none. grades: those that the canister
    type's table rates. on: the site's date of the packing. opened_at: None where the container is opened by this act.
    mass_g: net; None is 'not weighed'. mass_u_g: its expanded uncertainty (k = 2). left_kg: by the book.
    """

    canister: str
    at: datetime
    on: date
    holds: str | None
    emptied_at: datetime | None
    grades: frozenset[str]
    grade: str | None
    lot: str
    lot_last_good_day: date | None
    opened_at: datetime | None
    left_kg: float
    mass_g: float | None = None
    mass_u_g: float | None = None
    min_mass_g: float | None = None
    full_mass_g: float | None = None
    hours_since_opened: float | None = None
    more: tuple[str, ...] = field(default=())


def net_mass_g(filled_g: float | None, tare_g: float | None) -> float | None:
    """Mass of absorbent, the filled canister less the empty one; None where either was not weighed."""
    return None if filled_g is None or tare_g is None else filled_g - tare_g


def net_u_g(scale_u_g: float | None) -> float | None:
    """Expanded uncertainty (k = 2) of a net mass in grams from the scale's standard one; None where that is not known.

    The filled and the empty canister are two readings of one scale, taken as independent: the difference has the root
    of two times the uncertainty of either (JCGM 100:2008, 5.1.2). What they share cancels, so that this is never less.
    """
    return None if scale_u_g is None else COVERAGE * math.sqrt(2.0) * scale_u_g


def shown_to_hold(mass_g: float | None, mass_u_g: float | None, least_g: float | None) -> bool:
    """Whether a mass holds the least one with its whole interval (JCGM 106:2012, 8.3.2), as far as that is known.

    A mass or a limit that is not known says nothing here; each is said where it is missing.
    """
    return mass_g is None or least_g is None or mass_g - (mass_u_g or 0.0) >= least_g


def drawn_g(facts: PackFacts) -> float | None:
    """What the container gives: the weighed mass, else the type's full mass; None where neither is known."""
    return facts.mass_g if facts.mass_g is not None else facts.full_mass_g


def why_not_packable(facts: PackFacts) -> tuple[str, ...]:
    """Every reason against packing, each with its remedy; empty where nothing stands against it."""
    return (*facts.more, *_of_canister(facts), *_of_lot(facts), *_of_mass(facts))


def _of_canister(facts: PackFacts) -> list[str]:
    reasons = []
    if facts.holds is not None:
        reasons.append(f"canister {facts.canister}: still holds {facts.holds}; discard that first")
    if facts.emptied_at is not None and facts.at < facts.emptied_at:
        reasons.append(f"packed at: canister {facts.canister} was emptied later than that; look at the time")
    if not facts.grades:
        reasons.append(
            f"canister {facts.canister}: its type has no table of rated minutes; enter it from the manual "
            f"{door('rating')}"
        )
    elif facts.grade not in facts.grades:
        rated = ", ".join(sorted(facts.grades))
        reasons.append(f"grade: {facts.grade or 'not known'}, but the canister is rated for {rated}; choose another")
    return reasons


def _of_lot(facts: PackFacts) -> list[str]:
    reasons = []
    if facts.lot_last_good_day is None:
        reasons.append(f"lot {facts.lot}: its last good day is not known; enter the date marked on the container")
    elif facts.lot_last_good_day < facts.on:
        reasons.append(f"lot {facts.lot}: its last good day was {facts.lot_last_good_day}; choose another")
    if facts.hours_since_opened is not None and facts.opened_at is not None:
        until = facts.opened_at.astimezone(UTC) + timedelta(hours=facts.hours_since_opened)
        if until <= facts.at.astimezone(UTC):
            words = f"opened over {facts.hours_since_opened:g} h ago, the canister type's limit"
            reasons.append(f"lot {facts.lot}: {words}; open another container")
    return reasons


def _of_mass(facts: PackFacts) -> list[str]:
    reasons = []
    mass, drawn = facts.mass_g, drawn_g(facts)
    if mass is not None and mass <= 0:
        reasons.append(f"mass: {mass:g} g of absorbent; look at the filled and the empty mass")
        return reasons
    if mass is not None and facts.min_mass_g is not None and mass < facts.min_mass_g:
        reasons.append(f"mass: {mass:g} g is under the type's least of {facts.min_mass_g:g} g; fill it up")
    elif not shown_to_hold(mass, facts.mass_u_g, facts.min_mass_g):
        words = f"{mass:g} ± {facts.mass_u_g:.2g} g does not show the type's least of {facts.min_mass_g:g} g"
        reasons.append(f"mass: {words}; add a little, or weigh it on a better scale")
    if mass is not None and facts.full_mass_g is not None and mass > LEAST_ODD_SHARE * facts.full_mass_g:
        words = f"{mass:g} g, but a full one holds {facts.full_mass_g:g} g"
        reasons.append(f"mass: {words}; is the empty canister weighed with it? Enter its mass")
    if drawn is None:
        reasons.append("mass: not weighed, and the type's full mass is not recorded; weigh it")
    elif drawn / 1000 > facts.left_kg + 1e-9:
        words = f"{facts.left_kg:.3f} kg left by the book, {drawn / 1000:.3f} kg asked"
        reasons.append(f"lot {facts.lot}: {words}; choose another container, or count this one anew")
    return reasons
