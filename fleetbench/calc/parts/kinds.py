"""Every kind of part and slot that the program knows, each with one line of help; and where a part is in its life.

Trade words; common practice, no published source. A kind that is not here would be judged by no rule, so it is refused.
"""

import re
from enum import StrEnum
from functools import lru_cache

from fleetbench.calc.core.languages import say, strung

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
