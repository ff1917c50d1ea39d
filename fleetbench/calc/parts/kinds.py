"""Every kind of part and slot that the program knows, and what it knows of each: one line of help, default intervals.

An interval or shelf life is data with its source; the part type's own figure stands above it.

Trade words; common practice, no published source. A kind that is not here would be judged by no rule, so it is refused.
"""

import re
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.parts.life import LifeLimit, LimitBasis, LimitUnit

PART_KINDS: dict[str, str] = {
    "absorbent": say("absorbent as bought, counted in kilograms"),
    "addition valve": say("valve that adds gas to the loop"),
    "bailout cylinder": say("cylinder of bailout gas"),
    "bailout first stage": say("first stage of the bailout cylinder"),
    "bailout regulator": say("regulator of the bailout cylinder, both stages"),
    "bailout second stage": say("second stage of the bailout cylinder"),
    "bailout set": say("bailout cylinder with its regulator, as one"),
    "bailout valve": say("mouthpiece valve that switches to bailout gas"),
    "canister": say("container of absorbent in the loop"),
    "canister temperature probe": say("probe that follows the absorbent's warm front"),
    "carbon dioxide sensor": say("sensor of carbon dioxide in the loop"),
    "cell": say("galvanic oxygen cell"),
    "counterlung": say("breathing bag"),
    "diluent cylinder": say("cylinder of diluent"),
    "diluent first stage": say("first stage of the diluent cylinder"),
    "drive gas cylinder": say("cylinder of gas that drives a mechanism"),
    "drive gas first stage": say("first stage of the drive gas cylinder"),
    "gauge": say("pressure gauge"),
    "gland": say("seal around a cable"),
    "handset": say("electronics that read the cells"),
    "handset battery": say("battery of a handset"),
    "harness": say("harness, by its size"),
    "head": say("assembly that holds the cells"),
    "head-up display": say("display before the eye"),
    "head-up display battery": say("battery of a head-up display"),
    "hose": say("hose of any pressure"),
    "inflator": say("inflator of the wing"),
    "injector": say("constant mass flow injector"),
    "loop set": say("assembly of hoses, valves and mouthpiece"),
    "lubricant": say("lubricant as bought"),
    "manual addition valve": say("addition valve worked by hand"),
    "mouthpiece": say("mouthpiece without its valve"),
    "mouthpiece valve": say("valve that closes the mouthpiece"),
    "one-way valve": say("valve that keeps the gas going round"),
    "other": say("a part to which no rule but its lives applies"),
    "oxygen cylinder": say("cylinder of oxygen"),
    "oxygen first stage": say("first stage of the oxygen cylinder"),
    "relief valve": say("valve that lets gas out of the loop"),
    "seal": say("O-ring or other seal"),
    "seal kit": say("seals and small parts for one service"),
    "shut-off": say("valve that shuts a gas off"),
    "solenoid": say("valve that the electronics open"),
    "solenoid battery": say("battery of the solenoid"),
    "water trap": say("trap for water in the loop"),
    "wing": say("buoyancy behind the diver"),
}


class PartState(StrEnum):
    """Where a part is in its life at the centre."""

    STOCK = "stock"
    FITTED = "fitted"
    QUARANTINE = "quarantine"
    SCRAPPED = "scrapped"
    SENT_BACK = "sent back"


GONE = (PartState.SCRAPPED, PartState.SENT_BACK)
"""What is no longer at the centre."""


class ShelfEvent(StrEnum):
    """What happened to a part on the shelf."""

    RECEIVED = "received"
    OPENED = "opened"
    MOVED = "moved"
    QUARANTINE = "quarantine"
    RELEASED = "released"
    SENT_BACK = "sent back"
    CAME_BACK = "came back"
    SCRAPPED = "scrapped"
    USED_UP = "used up"
    NOT_FOUND = "not found"
    FOUND = "found"
    UNDONE = "undone"


class OpeningKind(StrEnum):
    """How a loop or gas side was opened: after workshop work a release test must follow."""

    WORKSHOP = "workshop"
    ROUTINE = "routine"


class PlaceKind(StrEnum):
    """What a place is where parts lie and units stand."""

    SHELF = "shelf"
    BENCH = "bench"
    KIT = "kit"
    VAN = "van"
    SITE = "site"
    QUARANTINE = "quarantine"
    SENT_BACK = "sent back"
    AWAY = "away"


KITS = (PlaceKind.KIT, PlaceKind.VAN)
NOT_TO_FIT = (PlaceKind.QUARANTINE, PlaceKind.SENT_BACK, PlaceKind.AWAY)
"""Where nothing lies that could be fitted."""


class OwnerKind(StrEnum):
    """Whose a part or unit is."""

    CENTRE = "centre"
    LOAN = "loan"
    RENTER = "renter"


MOUTH_KINDS = ("mouthpiece", "mouthpiece valve", "bailout valve")
LOOP_KINDS = frozenset((
    *MOUTH_KINDS, "one-way valve", "hose", "counterlung", "canister", "head", "loop set",
        "relief valve", "water trap",
    "carbon dioxide sensor", "canister temperature probe",
))  # fmt: skip
"""What lies on the breathing loop itself."""

USUAL_SLOTS = (
    "inhale one-way valve", "exhale one-way valve", "loop hoses", "inhale hose", "exhale hose",
    "inhale counterlung", "exhale counterlung",
)  # fmt: skip
"""Names of slots that are no kind, as centres usually give them; common practice, no published source."""


@lru_cache(2_000)
def slot_said(name: str) -> str:
    """The name of a slot, said where it is the usual one, such as cell 3: any other is a centre's own and stays."""
    if name in PART_KINDS or name in USUAL_SLOTS:
        return say(name)
    if found := re.fullmatch(r"(handset|head-up display) (\d+) battery", name):
        return say("{device} battery", device=slot_said(f"{found[1]} {found[2]}"))
    kind, _, number = name.rpartition(" ")
    return strung(" ", (say(kind), number)) if number.isdigit() and kind in PART_KINDS else name


HYDROSTATIC = "hydrostatic"
INTERNAL_VISUAL = say("internal visual")

_CFR = "49 CFR 180.209 Table 1"
_ISO_18119 = say("BS EN ISO 18119:2018 guide interval where no local rule stands, second-hand")
_ARP_5316 = say("SAE ARP5316, storage and not service life, second-hand")
_ISO_2230 = say("ISO 2230:2002, unassembled, without its extension, from memory")


@dataclass(frozen=True, slots=True)
class CylinderRule:
    """Periodic test of one cylinder specification.

    years: every period the rule knows, the shortest first; the longer ones hang on conditions of the rule.
    edition: the edition in which the periods were read, since they differ between editions.
    """

    rule: str
    specification: str
    years: tuple[int, ...]
    source: str
    edition: str

    @property
    def limit(self) -> LifeLimit:
        """The shortest period, which holds until the centre states that a longer one's conditions are met."""
        return LifeLimit(
            LimitBasis.TEST_INTERVAL, 12 * self.years[0], LimitUnit.MONTHS, self.source, test_kind=HYDROSTATIC
        )


def _cfr(specification: str, *years: int, edition: str = "as read; a 2017 edition agrees") -> CylinderRule:
    return CylinderRule("49 CFR 180.209", specification=specification, years=years, source=_CFR, edition=edition)


CYLINDER_RULES: tuple[CylinderRule, ...] = (
    _cfr("DOT 3", 5),
    _cfr("DOT 3A", 5, 10, 12),
    _cfr("DOT 3AA", 5, 10, 12),
    _cfr("DOT 3AL", 5, 12, edition=say("as read; a 2017 edition has 5, 10 or 12")),
    _cfr("DOT 3AX", 5, edition=say("as read; a 2017 edition has 5 or 10")),
    _cfr("DOT 3AAX", 5, edition=say("as read; a 2017 edition has 5 or 10")),
    _cfr("DOT 3B", 5, 10),
    _cfr("DOT 3BN", 5, 10),
    _cfr("DOT 3HT", 3),
    _cfr("DOT 3T", 5),
    _cfr("DOT 4D", 5),
    _cfr("DOT 4DA", 5),
    _cfr("DOT 4DS", 5),
    _cfr("DOT 8", 10, 20),
    _cfr("DOT 8AL", 10, 20),
    _cfr("foreign", 5),
    CylinderRule("ISO 18119", say("seamless steel or aluminium"), (5,), _ISO_18119, "2018"),
)

INTERNAL_VISUAL_YEARLY = LifeLimit(
    LimitBasis.TEST_INTERVAL,
    12,
    LimitUnit.MONTHS,
    _ISO_18119,
    test_kind=INTERNAL_VISUAL,
    also_counts=(HYDROSTATIC,),
)
INTERNAL_VISUAL_AFTER_RISK_ASSESSMENT = LifeLimit(
    LimitBasis.TEST_INTERVAL,
    30,
    LimitUnit.MONTHS,
    say("BS EN ISO 18119:2018, longest interval after a risk assessment of low internal degradation, second-hand"),
    test_kind=INTERNAL_VISUAL,
    also_counts=(HYDROSTATIC,),
)

# Ages at which an oxygen cell is replaced where its maker states none.
CELL_AGE_LIMITS: tuple[LifeLimit, ...] = (
    LifeLimit(LimitBasis.OPENED, 12, LimitUnit.MONTHS, say("common practice, no published source; from memory")),
    LifeLimit(LimitBasis.MADE, 18, LimitUnit.MONTHS, say("common practice, no published source; from memory")),
)


def cylinder_limits(rule: str, specification: str) -> tuple[LifeLimit, ...]:
    """Hydrostatic and yearly internal visual limits of a specification under a rule; ValueError where none is known."""
    for each in CYLINDER_RULES:
        if (each.rule, each.specification) == (rule, specification):
            return (each.limit, INTERNAL_VISUAL_YEARLY)
    raise ValueError(
        say(
            "specification: no default interval is known for {specification!r} under {rule!r}; enter the rule's own",
            specification=specification,
            rule=rule,
        )
    )


@dataclass(frozen=True, slots=True)
class ElastomerRule:
    """Shelf life of an elastomer in whole years; None years is unlimited by the rule."""

    material: str
    years: int | None
    source: str

    @property
    def limit(self) -> LifeLimit | None:
        """The limit of storage, None where the rule sets none."""
        if self.years is None:
            return None
        return LifeLimit(LimitBasis.STORAGE, 12 * self.years, LimitUnit.MONTHS, self.source)


# SBR is missing on purpose: two published lists disagree (3 and 15 years), so the centre enters its own figure.
ELASTOMER_RULES: tuple[ElastomerRule, ...] = (
    *(ElastomerRule(material, 5, _ARP_5316) for material in ("AU", "EU")),
    *(ElastomerRule(material, 15, _ARP_5316) for material in ("NBR", "HNBR", "CR", "ACM", "AEM")),
    *(ElastomerRule(material, None, _ARP_5316) for material in ("EPDM", "FKM", "FFKM", "VMQ", "FVMQ", "IIR", "PTFE")),
)

# The older and stricter list, for a centre that prefers it.
ELASTOMER_RULES_ISO_2230: tuple[ElastomerRule, ...] = (
    *(ElastomerRule(material, 5, _ISO_2230) for material in ("NR", "SBR", "IR", "BR", "AU", "EU")),
    *(ElastomerRule(material, 7, _ISO_2230) for material in ("NBR", "HNBR", "CR", "IIR", "ACM")),
    *(ElastomerRule(material, 10, _ISO_2230) for material in ("EPDM", "FKM", "VMQ", "FVMQ", "CSM")),
)
