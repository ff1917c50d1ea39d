"""Every kind of part and slot that the program knows, each with one line of help.

Trade words; common practice, no published source. A kind that is not here would be judged by no rule, so it is refused.
"""

PART_KINDS: dict[str, str] = {
    "absorbent": "absorbent as bought, counted in kilograms",
    "addition valve": "valve that adds gas to the loop",
    "bailout cylinder": "cylinder of bailout gas",
    "bailout first stage": "first stage of the bailout cylinder",
    "bailout regulator": "regulator of the bailout cylinder, both stages",
    "bailout second stage": "second stage of the bailout cylinder",
    "bailout set": "bailout cylinder with its regulator, as one",
    "bailout valve": "mouthpiece valve that switches to bailout gas",
    "canister": "container of absorbent in the loop",
    "canister temperature probe": "probe that follows the absorbent's warm front",
    "carbon dioxide sensor": "sensor of carbon dioxide in the loop",
    "cell": "galvanic oxygen cell",
    "counterlung": "breathing bag",
    "diluent cylinder": "cylinder of diluent",
    "diluent first stage": "first stage of the diluent cylinder",
    "drive gas cylinder": "cylinder of gas that drives a mechanism",
    "drive gas first stage": "first stage of the drive gas cylinder",
    "gauge": "pressure gauge",
    "gland": "seal around a cable",
    "handset": "electronics that read the cells",
    "handset battery": "battery of a handset",
    "harness": "harness, by its size",
    "head": "assembly that holds the cells",
    "head-up display": "display before the eye",
    "head-up display battery": "battery of a head-up display",
    "hose": "hose of any pressure",
    "inflator": "inflator of the wing",
    "injector": "constant mass flow injector",
    "loop set": "assembly of hoses, valves and mouthpiece",
    "lubricant": "lubricant as bought",
    "manual addition valve": "addition valve worked by hand",
    "mouthpiece": "mouthpiece without its valve",
    "mouthpiece valve": "valve that closes the mouthpiece",
    "one-way valve": "valve that keeps the gas going round",
    "other": "a part to which no rule but its lives applies",
    "oxygen cylinder": "cylinder of oxygen",
    "oxygen first stage": "first stage of the oxygen cylinder",
    "relief valve": "valve that lets gas out of the loop",
    "seal": "O-ring or other seal",
    "seal kit": "seals and small parts for one service",
    "shut-off": "valve that shuts a gas off",
    "solenoid": "valve that the electronics open",
    "solenoid battery": "battery of the solenoid",
    "water trap": "trap for water in the loop",
    "wing": "buoyancy behind the diver",
}

MOUTH_KINDS = ("mouthpiece", "mouthpiece valve", "bailout valve")
LOOP_KINDS = frozenset((
    *MOUTH_KINDS, "one-way valve", "hose", "counterlung", "canister", "head", "loop set", "relief valve", "water trap",
    "carbon dioxide sensor", "canister temperature probe",
))  # fmt: skip
"""What lies on the breathing loop itself."""
