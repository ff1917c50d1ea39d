"""Absorbent in a canister: the carbon dioxide that it binds, and whether a canister may be packed with it.

Litres are at 0 C, 1013.25 mbar, dry, unless said otherwise. What stands in a canister, what goes in and from which
container in; the reasons out.

Common practice, no published source, unless a type's own figure decides.

How long the absorbent in stock lasts at the pace that is booked: containers and booked fills in, days out.

Common practice, no published source. Every diving day of a booked unit takes one fill.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta

from fleetbench.calc.core.doors import at as door
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import GRAM, KILOGRAM

# IUPAC abridged standard atomic weights 2021, from memory; g/mol.
_CALCIUM, _CARBON, _OXYGEN, _HYDROGEN = 40.078, 12.011, 15.999, 1.008
CALCIUM_HYDROXIDE_G_PER_MOL = _CALCIUM + 2 * (_OXYGEN + _HYDROGEN)
CARBON_DIOXIDE_G_PER_MOL = _CARBON + 2 * _OXYGEN
# CODATA 2018 molar gas constant, exact; J/(mol K).
GAS_CONSTANT = 8.314462618


@dataclass(frozen=True, slots=True)
class WorkRate:
    """A grade of work: oxygen uptake in L/min STPD, respiratory quotient, where both come from."""

    name: str
    oxygen_l_min: float
    respiratory_quotient: float
    source: str

    @property
    def co2_l_min(self) -> float:
        """Carbon dioxide made, L/min in the terms of the uptake."""
        return co2_production_l_min(self.oxygen_l_min, self.respiratory_quotient)


_CFR_TABLE = "42 CFR 84.304 Table 2"
RESPIRATORY_STEPS: tuple[tuple[float, float, str], ...] = (
    (1.35, 1.15 / 1.35, _CFR_TABLE),
    (2.00, 1.80 / 2.00, _CFR_TABLE),
    (2.50, 2.50 / 2.50, _CFR_TABLE),
)


def _and_quotient(source: str) -> str:
    return say("{source}; quotient of the next harder step of {table}", source=source, table=_CFR_TABLE)


WORK_RATES: tuple[WorkRate, ...] = (
    WorkRate(say("rest"), 0.64, 1.15 / 1.35, _and_quotient("Knafelc, NEDU Report 1-89, 1989")),
    WorkRate(say("planning, 0.85 knot"), 1.4, 0.9, _and_quotient("US Navy Diving Manual Rev 4 Change A p. 17-11")),
    WorkRate(say("swim"), 1.5, 0.9, _and_quotient("Knafelc, NEDU Report 1-89, 1989")),
    WorkRate(say("finning, 0.7 knot"), 1.55, 0.9, _and_quotient("EUBS 2007 proceedings p. 77")),
    WorkRate(say("finning, 1.1 knot"), 2.70, 1.0, _and_quotient("EUBS 2007 proceedings p. 77")),
    WorkRate(say("capacity test 3"), 1.35, 1.15 / 1.35, _CFR_TABLE),
    WorkRate(say("capacity test 2"), 2.00, 0.9, _CFR_TABLE),
    WorkRate(say("capacity test 1"), 2.50, 1.0, _CFR_TABLE),
)


def respiratory_quotient(oxygen_l_min: float) -> float:
    """Quotient of the next harder step of 42 CFR 84.304 Table 2; 1.0 for uptake above its hardest step."""
    _require_positive("oxygen_l_min", oxygen_l_min, 10.0)
    return next((quotient for uptake, quotient, _ in RESPIRATORY_STEPS if oxygen_l_min <= uptake), 1.0)


def co2_production_l_min(oxygen_l_min: float, quotient: float | None = None) -> float:
    """Carbon dioxide made, L/min, from oxygen uptake and respiratory quotient (by work rate where none is given).

    Raises ValueError for an uptake outside 0 to 10 L/min or a quotient outside 0.6 to 1.3.
    """
    _require_positive("oxygen_l_min", oxygen_l_min, 10.0)
    used = respiratory_quotient(oxygen_l_min) if quotient is None else quotient
    if not 0.6 <= used <= 1.3:
        raise ValueError(f"respiratory_quotient: {used!r} is not a quotient of a working body; give 0.6 to 1.3")
    return oxygen_l_min * used


def co2_capacity_l(
    mass_g: float, *, purity: float = 1.0, temperature_c: float = 0.0, pressure_mbar: float = 1013.25
) -> float:
    """Most carbon dioxide that a mass of absorbent can bind, in litres of ideal gas at the stated conditions.

    Ca(OH)2 + CO2 -> CaCO3 + H2O, one mole a mole. purity: mass fraction of Ca(OH)2; the default of 1 is a ceiling
    that no product passes. Real canisters bind a third to a half of it (Harvey et al., Diving Hyperb Med 46(2) 2016).
    Raises ValueError for a mass, purity, temperature or pressure that cannot be.
    """
    _require_positive("mass_g", mass_g, 100_000.0)
    _require_positive("purity", purity, 1.0)
    _require_positive("pressure_mbar", pressure_mbar, 100_000.0)
    if not -50.0 <= temperature_c <= 100.0:
        raise ValueError(f"temperature_c: {temperature_c!r} is out of range; give -50 to 100 C")
    moles = mass_g * purity / CALCIUM_HYDROXIDE_G_PER_MOL
    litres_per_mole = 1000.0 * GAS_CONSTANT * (temperature_c + 273.15) / (pressure_mbar * 100.0)
    return moles * litres_per_mole


def _require_positive(name: str, value: float, most: float) -> None:
    if not math.isfinite(value) or not 0.0 < value <= most:
        raise ValueError(f"{name}: {value!r} is out of range; give a number above 0, at most {most:g}")


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
        reasons.append(
            say(
                "canister {canister}: still holds {holds}; discard that first",
                canister=facts.canister,
                holds=facts.holds,
            )
        )
    if facts.emptied_at is not None and facts.at < facts.emptied_at:
        reasons.append(
            say("packed at: canister {canister} was emptied later than that; look at the time", canister=facts.canister)
        )
    if not facts.grades:
        reasons.append(
            say(
                "canister {canister}: its type has no table of rated minutes; enter it from the manual {what}",
                canister=facts.canister,
                what=door("rating"),
            )
        )
    elif facts.grade not in facts.grades:
        rated = strung(", ", sorted(facts.grades))
        reasons.append(
            say(
                "grade: {grade}, but the canister is rated for {rated}; choose another",
                grade=facts.grade or say("not known"),
                rated=rated,
            )
        )
    return reasons


def _of_lot(facts: PackFacts) -> list[str]:
    reasons = []
    if facts.lot_last_good_day is None:
        reasons.append(
            say("lot {lot}: its last valid day is not known; enter the date marked on the container", lot=facts.lot)
        )
    elif facts.lot_last_good_day < facts.on:
        reasons.append(
            say(
                "lot {lot}: its last valid day was {lot_last_good_day}; choose another",
                lot=facts.lot,
                lot_last_good_day=facts.lot_last_good_day,
            )
        )
    if facts.hours_since_opened is not None and facts.opened_at is not None:
        until = facts.opened_at.astimezone(UTC) + timedelta(hours=facts.hours_since_opened)
        if until <= facts.at.astimezone(UTC):
            words = say(
                "opened over {hours_since_opened:g} h ago, the canister type's limit",
                hours_since_opened=facts.hours_since_opened,
            )
            reasons.append(say("lot {lot}: {words}; open another container", lot=facts.lot, words=words))
    return reasons


def _of_mass(facts: PackFacts) -> list[str]:
    reasons = []
    mass, drawn = facts.mass_g, drawn_g(facts)
    if mass is not None and mass <= 0:
        reasons.append(say("mass: {mass} of absorbent; look at the filled and the empty mass", mass=GRAM.words(mass)))
        return reasons
    if mass is not None and facts.min_mass_g is not None and mass < facts.min_mass_g:
        least = GRAM.words(facts.min_mass_g)
        reasons.append(
            say("mass: {mass} is under the type's least of {least}; fill it up", mass=GRAM.words(mass), least=least)
        )
    elif not shown_to_hold(mass, facts.mass_u_g, facts.min_mass_g):
        shown, least = GRAM.within(mass or 0.0, facts.mass_u_g or 0.0), GRAM.words(facts.min_mass_g or 0.0)
        words = say("{shown} does not show the type's least of {least}", shown=shown, least=least)
        reasons.append(say("mass: {words}; add a little, or weigh it on a better scale", words=words))
    if mass is not None and facts.full_mass_g is not None and mass > LEAST_ODD_SHARE * facts.full_mass_g:
        words = say(
            "{mass}, but a full one holds {full_mass_g}",
            mass=GRAM.words(mass),
            full_mass_g=GRAM.words(facts.full_mass_g),
        )
        reasons.append(say("mass: {words}; is the empty canister weighed with it? Enter its mass", words=words))
    if drawn is None:
        reasons.append(say("mass: not weighed, and the type's full mass is not recorded; weigh it"))
    elif drawn / 1000 > facts.left_kg + 1e-9:
        words = say(
            "{left_kg} left on record, {drawn} asked",
            left_kg=KILOGRAM.words(facts.left_kg, 3),
            drawn=KILOGRAM.words(drawn / 1000, 3),
        )
        reasons.append(
            say("lot {lot}: {words}; choose another container, or count this one again", lot=facts.lot, words=words)
        )
    return reasons


HORIZON_DAYS = 90
"""How far ahead bookings are read for the pace; common practice, no published source."""


@dataclass(frozen=True, slots=True)
class BookedFills:
    """Fills that one booking will take: units wanted, its first and last day, and kilograms a fill.

    kg: None where the canister's mass is not known.
    """

    starts_on: date
    ends_on: date
    units: int
    kg: float | None


@dataclass(frozen=True, slots=True)
class StockLine:
    """One container as the book has it; last_good_day None is not known, and then it counts for nothing."""

    key: int
    left_kg: float
    opened: bool
    last_good_day: date | None


@dataclass(frozen=True, slots=True)
class RunOut:
    """The day whose use empties a container at the pace; None where nothing is booked or it may not be used.

    wasted_kg: what is left on its last good day, to be thrown away.
    """

    key: int
    empty_on: date | None
    wasted_kg: float


def booked_kg_a_day(bookings: Iterable[BookedFills], today: date, days: int = HORIZON_DAYS) -> float | None:
    """Mean kilograms a day that bookings take within the days from today on; None where a mass is not known."""
    last = today + timedelta(days=days - 1)
    total = 0.0
    for booking in bookings:
        first, until = max(booking.starts_on, today), min(booking.ends_on, last)
        fills = booking.units * max(0, (until - first).days + 1)
        if fills and booking.kg is None:
            return None
        total += fills * (booking.kg or 0.0)
    return total / days


def run_out(stock: Sequence[StockLine], kg_a_day: float | None, today: date) -> tuple[RunOut, ...]:
    """When each container is empty, taken one after the other: opened ones first, then by last good day.

    A container past its date, or of unknown date, is passed over; one that outlives its date is used until then.
    """
    order = sorted(stock, key=lambda line: (not line.opened, line.last_good_day or date.max, line.key))
    used_days = 0.0
    found = {}
    for line in order:
        usable = line.last_good_day is not None and line.last_good_day >= today
        if not usable or not kg_a_day or line.left_kg <= 0:
            found[line.key] = RunOut(line.key, None, 0.0 if usable else line.left_kg)
            continue
        assert line.last_good_day is not None
        days_to_date = (line.last_good_day - today).days + 1.0
        taken_kg = min(line.left_kg, max(0.0, days_to_date - used_days) * kg_a_day)
        used_days += taken_kg / kg_a_day
        empty = taken_kg >= line.left_kg - 1e-9
        # Far ahead a date says nothing, and would pass the calendar's end.
        on = today + timedelta(days=math.ceil(used_days - 1e-9) - 1) if empty and used_days < 36_500 else None
        found[line.key] = RunOut(line.key, on, 0.0 if empty else line.left_kg - taken_kg)
    return tuple(found[line.key] for line in stock)
