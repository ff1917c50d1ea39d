"""What the invented centre knows of its unit types and part types: every code, name and figure here is invented."""

B, C = "TYPE-B", "TYPE-C"
MANUAL_B = "invented manual of type B"
MANUAL_C = "invented manual of type C"
MANUAL_BO = "invented manual of the bailout regulator"
HABIT = "common practice, no published source"

UNIT_TYPES = (
    (B, "Back-mounted unit, type B", "back-mounted", 9.5, 0.62, 2.0, "no", 0.7, 1.3, MANUAL_B),
    (C, "Chest-mounted unit, type C", "chest-mounted", 6.0, 0.45, 1.5, "yes", 0.6, 1.2, MANUAL_C),
)

# code: (name, kind, assembly, grade, stocked in, lead days, pack size, price, source)
PART_TYPES = {
    "HEAD-B": ("Head, type B", "head", True, "", "piece", 60, 1, 890.0, MANUAL_B),
    "HEAD-C": ("Head, type C", "head", True, "", "piece", 60, 1, 640.0, MANUAL_C),
    "CELL-A": ("Oxygen cell A", "cell", False, "", "piece", 21, 3, 78.0, MANUAL_B),
    "CELL-C": ("Oxygen cell C", "cell", False, "", "piece", 21, 3, 72.0, MANUAL_C),
    "HSET-B": ("Handset, type B", "handset", False, "", "piece", 45, 1, 610.0, MANUAL_B),
    "HSET-C": ("Handset, type C", "handset", False, "", "piece", 45, 1, 540.0, MANUAL_C),
    "BATT-1": ("Rechargeable handset battery", "handset battery", False, "", "piece", 10, 2, 39.0, MANUAL_B),
    "SOLN-1": ("Oxygen solenoid", "solenoid", False, "", "piece", 30, 1, 165.0, MANUAL_B),
    "INJ-1": ("Constant-mass-flow injector", "injector", False, "", "piece", 30, 1, 58.0, MANUAL_C),
    "LOOP-B": ("Loop set, type B", "loop set", True, "", "piece", 30, 1, 310.0, MANUAL_B),
    "LOOP-C": ("Loop set, type C", "loop set", True, "", "piece", 30, 1, 265.0, MANUAL_C),
    "OWV-1": ("One-way valve", "one-way valve", False, "", "piece", 14, 4, 12.5, MANUAL_B),
    "MPV-1": ("Mouthpiece valve", "mouthpiece valve", False, "", "piece", 21, 1, 118.0, MANUAL_B),
    "MPC-1": ("Mouthpiece", "mouthpiece", False, "", "piece", 7, 5, 9.0, HABIT),
    "HOSE-1": ("Pair of loop hoses", "hose", False, "", "piece", 21, 1, 74.0, MANUAL_B),
    "LUNG-B": ("Counterlungs, type B", "counterlung", False, "", "piece", 40, 1, 240.0, MANUAL_B),
    "LUNG-C": ("Counterlung, type C", "counterlung", False, "", "piece", 40, 1, 175.0, MANUAL_C),
    "CAN-B": ("Absorbent canister, type B", "canister", False, "", "piece", 40, 1, 205.0, MANUAL_B),
    "CAN-C": ("Absorbent canister, type C", "canister", False, "", "piece", 40, 1, 160.0, MANUAL_C),
    "CYL-OX": ("Oxygen cylinder 3 L", "oxygen cylinder", False, "", "piece", 30, 1, 190.0, HABIT),
    "CYL-DI": ("Diluent cylinder 3 L", "diluent cylinder", False, "", "piece", 30, 1, 180.0, HABIT),
    "CYL-BO": ("Bailout cylinder 7 L", "bailout cylinder", False, "", "piece", 30, 1, 230.0, HABIT),
    "REG-OX": ("Oxygen first stage", "oxygen first stage", False, "", "piece", 21, 1, 215.0, MANUAL_B),
    "REG-DI": ("Diluent first stage", "diluent first stage", False, "", "piece", 21, 1, 205.0, MANUAL_B),
    "ADDV-1": ("Diluent addition valve", "addition valve", False, "", "piece", 14, 1, 88.0, MANUAL_B),
    "RLFV-1": ("Loop relief valve", "relief valve", False, "", "piece", 14, 1, 64.0, MANUAL_B),
    "WING-1": ("Wing", "wing", False, "", "piece", 21, 1, 260.0, HABIT),
    "CO2S-1": ("Carbon dioxide sensor", "carbon dioxide sensor", False, "", "piece", 30, 1, 145.0, MANUAL_B),
    "SODA-1": ("Absorbent, grade fine", "absorbent", False, "fine", "kg", 5, 20, 6.2, HABIT),
    "REG-BO": ("Bailout regulator", "bailout regulator", False, "", "piece", 21, 1, 240.0, HABIT),
}

# part type, basis, amount, unit, test, source
LIVES = (
    ("CELL-A", "opened", 12, "months", "", MANUAL_B + ", from memory of the trade"),
    ("CELL-A", "made", 18, "months", "", MANUAL_B + ", from memory of the trade"),
    ("CELL-C", "opened", 12, "months", "", MANUAL_C + ", from memory of the trade"),
    ("CELL-C", "made", 18, "months", "", MANUAL_C + ", from memory of the trade"),
    ("HEAD-B", "test_interval", 24, "months", "service", MANUAL_B),
    ("HEAD-C", "test_interval", 24, "months", "service", MANUAL_C),
    ("HSET-B", "test_interval", 24, "months", "service", MANUAL_B),
    ("HSET-C", "test_interval", 24, "months", "service", MANUAL_C),
    ("BATT-1", "made", 48, "months", "", MANUAL_B),
    ("BATT-1", "fitted", 40, "months", "", MANUAL_B),
    ("SOLN-1", "hours", 250, "hours", "", MANUAL_B),
    ("SOLN-1", "made", 84, "months", "", MANUAL_B),
    ("INJ-1", "hours", 235, "hours", "", MANUAL_C),
    ("INJ-1", "test_interval", 24, "months", "service", MANUAL_C),
    ("OWV-1", "fitted", 24, "months", "", MANUAL_B),
    ("OWV-1", "storage", 60, "months", "", MANUAL_B),
    ("MPV-1", "test_interval", 12, "months", "service", MANUAL_B),
    ("MPC-1", "hires", 40, "hires", "", HABIT),
    ("HOSE-1", "dives", 285, "dives", "", HABIT),
    ("HOSE-1", "made", 96, "months", "", MANUAL_B),
    ("LUNG-B", "fitted", 60, "months", "", MANUAL_B),
    ("LUNG-B", "storage", 60, "months", "", "SAE ARP5316, polyurethane 5 years of storage, second-hand"),
    ("LUNG-C", "fitted", 60, "months", "", MANUAL_C),
    ("LUNG-C", "storage", 60, "months", "", "SAE ARP5316, polyurethane 5 years of storage, second-hand"),
    ("CYL-OX", "test_interval", 60, "months", "hydrostatic", "BS EN ISO 18119:2018, second-hand"),
    ("CYL-OX", "test_interval", 30, "months", "visual", "BS EN ISO 18119:2018, second-hand"),
    ("CYL-OX", "test_interval", 15, "months", "oxygen clean", HABIT),
    ("CYL-DI", "test_interval", 60, "months", "hydrostatic", "BS EN ISO 18119:2018, second-hand"),
    ("CYL-DI", "test_interval", 30, "months", "visual", "BS EN ISO 18119:2018, second-hand"),
    ("CYL-BO", "test_interval", 60, "months", "hydrostatic", "BS EN ISO 18119:2018, second-hand"),
    ("CYL-BO", "test_interval", 30, "months", "visual", "BS EN ISO 18119:2018, second-hand"),
    ("REG-OX", "test_interval", 12, "months", "service", MANUAL_B),
    ("REG-DI", "test_interval", 12, "months", "service", MANUAL_B),
    ("ADDV-1", "test_interval", 24, "months", "service", MANUAL_B),
    ("RLFV-1", "fitted", 48, "months", "", MANUAL_B),
    ("WING-1", "test_interval", 24, "months", "service", HABIT),
    ("CO2S-1", "fixed_date", 0, "months", "", MANUAL_B + ": the date printed on the sensor"),
)

# The same of what was added to the sheets later; the history knows nothing of it, so that it stays as it was.
LATER_LIVES = (
    ("REG-BO", "test_interval", 12, "months", "service", HABIT),
    ("REG-OX", "test_interval", 15, "months", "oxygen clean", HABIT),
)

# slot name, part type, kind, critical, place along the loop, oxygen side
UNIT_SLOTS = {
    B: (
        ("head", "HEAD-B", "head", True, 5, True),
        ("handset 1", "HSET-B", "handset", True, None, False),
        ("handset 2", "HSET-B", "handset", True, None, False),
        ("handset 1 battery", "BATT-1", "handset battery", True, None, False),
        ("handset 2 battery", "BATT-1", "handset battery", True, None, False),
        ("solenoid", "SOLN-1", "solenoid", True, None, True),
        ("loop set", "LOOP-B", "loop set", True, 1, False),
        ("counterlung", "LUNG-B", "counterlung", True, 3, False),
        ("canister", "CAN-B", "canister", True, 4, False),
        ("oxygen cylinder", "CYL-OX", "oxygen cylinder", True, None, True),
        ("diluent cylinder", "CYL-DI", "diluent cylinder", True, None, False),
        ("bailout cylinder", "CYL-BO", "bailout cylinder", True, None, False),
        ("oxygen first stage", "REG-OX", "oxygen first stage", True, None, True),
        ("diluent first stage", "REG-DI", "diluent first stage", True, None, False),
        ("addition valve", "ADDV-1", "addition valve", True, None, False),
        ("relief valve", "RLFV-1", "relief valve", True, 6, False),
        ("wing", "WING-1", "wing", False, None, False),
        ("carbon dioxide sensor", "CO2S-1", "carbon dioxide sensor", False, 7, False),
    ),
    C: (
        ("head", "HEAD-C", "head", True, 5, True),
        ("handset 1", "HSET-C", "handset", True, None, False),
        ("handset 1 battery", "BATT-1", "handset battery", True, None, False),
        ("loop set", "LOOP-C", "loop set", True, 1, False),
        ("counterlung", "LUNG-C", "counterlung", True, 3, False),
        ("canister", "CAN-C", "canister", True, 4, False),
        ("oxygen cylinder", "CYL-OX", "oxygen cylinder", True, None, True),
        ("diluent cylinder", "CYL-DI", "diluent cylinder", True, None, False),
        ("bailout cylinder", "CYL-BO", "bailout cylinder", True, None, False),
        ("oxygen first stage", "REG-OX", "oxygen first stage", True, None, True),
        ("injector", "INJ-1", "injector", True, None, True),
        ("addition valve", "ADDV-1", "addition valve", True, None, False),
        ("relief valve", "RLFV-1", "relief valve", True, 6, False),
    ),
}
LATER_SLOTS = {unit: (("bailout regulator", "REG-BO", "bailout regulator", True, None, False),) for unit in (B, C)}

_LOOP = (
    ("inhale one-way valve", "OWV-1", "one-way valve", True, 1, False),
    ("exhale one-way valve", "OWV-1", "one-way valve", True, 3, False),
    ("mouthpiece valve", "MPV-1", "mouthpiece valve", True, 2, False),
    ("mouthpiece", "MPC-1", "mouthpiece", False, 2, False),
    ("loop hoses", "HOSE-1", "hose", True, 4, False),
)
ASSEMBLY_SLOTS = {
    "HEAD-B": tuple((f"cell {n}", "CELL-A", "cell", True, None, True) for n in (1, 2, 3)),
    "HEAD-C": tuple((f"cell {n}", "CELL-C", "cell", True, None, True) for n in (1, 2, 3)),
    "LOOP-B": _LOOP,
    "LOOP-C": _LOOP,
}
READERS = {B: ("handset 1", "handset 2"), C: ("handset 1",)}

# unit type, part type, name, amount, unit, source, maker's own figure
LIMITS = (
    ("", "CELL-A", "cell air low", 8.5, "mV", MANUAL_B, "yes"),
    ("", "CELL-A", "cell air high", 14.0, "mV", MANUAL_B, "yes"),
    ("", "CELL-A", "cell oxygen floor", 40.0, "mV", MANUAL_B, "yes"),
    ("", "CELL-A", "temperature residual", 0.1, "%/K", MANUAL_B, "yes"),
    ("", "CAN-B", "full mass", 2500, "g", MANUAL_B, "yes"),
    ("", "CAN-B", "minimum mass", 2300, "g", MANUAL_B, "yes"),
    ("", "CAN-B", "hours since opened", 720, "h", MANUAL_B, "yes"),
    ("", "CAN-B", "hours since first use", 24, "h", MANUAL_B, "yes"),
    ("", "CAN-C", "full mass", 2000, "g", MANUAL_C, "yes"),
    ("", "CAN-C", "minimum mass", 1850, "g", MANUAL_C, "yes"),
    ("", "CAN-C", "hours since opened", 720, "h", MANUAL_C, "yes"),
    ("", "CAN-C", "hours since first use", 24, "h", MANUAL_C, "yes"),
    (B, "", "loop negative minutes", 3, "min", MANUAL_B, "yes"),
    (B, "", "loop positive minutes", 3, "min", MANUAL_B, "yes"),
    (B, "", "intermediate pressure low", 8.5, "bar", MANUAL_B, "yes"),
    (B, "", "intermediate pressure high", 10.0, "bar", MANUAL_B, "yes"),
    (C, "", "loop negative minutes", 2, "min", MANUAL_C, "yes"),
    (C, "", "loop positive minutes", 2, "min", MANUAL_C, "yes"),
    (C, "", "intermediate pressure low", 9.5, "bar", MANUAL_C, "yes"),
    (C, "", "intermediate pressure high", 11.5, "bar", MANUAL_C, "yes"),
    ("", "REG-BO", "intermediate pressure low", 9.0, "bar", MANUAL_BO, "yes"),
    ("", "REG-BO", "intermediate pressure high", 10.5, "bar", MANUAL_BO, "yes"),
    ("", "", "diluent po2 limit", 1.2, "bar", HABIT, "no"),
    (B, "", "battery voltage low", 3.6, "V", MANUAL_B, "yes"),
    (C, "", "battery voltage low", 3.6, "V", MANUAL_C, "yes"),
    ("", "RLFV-1", "opening pressure low", 25, "mbar", MANUAL_B, "yes"),
    ("", "RLFV-1", "opening pressure high", 40, "mbar", MANUAL_B, "yes"),
    ("", "ADDV-1", "opening pressure low", 10, "mbar", MANUAL_B, "yes"),
    ("", "ADDV-1", "opening pressure high", 25, "mbar", MANUAL_B, "yes"),
    (B, "", "solenoid pulse low", 80, "mL", MANUAL_B, "yes"),
    (B, "", "solenoid pulse high", 130, "mL", MANUAL_B, "yes"),
    (C, "", "injector flow", 0.86, "L/min", MANUAL_C, "yes"),
    (C, "", "injector pressure", 10.5, "bar", MANUAL_C, "yes"),
    (C, "", "injector tolerance", 10, "%", MANUAL_C, "yes"),
    (C, "", "injector temperature", 20, "C", MANUAL_C, "yes"),
)

# part type, water C, depth m, CO2 L/min, rated minutes
RATINGS = tuple(
    (part_type, water, depth, 1.35, minutes)
    for part_type, rows in {
        "CAN-B": ((20, 20, 210), (20, 40, 180), (12, 20, 180), (12, 40, 150), (4, 20, 150), (4, 40, 120)),
        "CAN-C": ((20, 20, 185), (20, 40, 165), (12, 20, 165), (12, 40, 145), (4, 20, 145), (4, 40, 125)),
    }.items()
    for water, depth, minutes in rows
)

# kind, name, serial, standard uncertainty, its display's digit, unit, last good day as days after the stated day
EQUIPMENT = (
    ("analyser", "Bench oxygen analyser", "AN-1107", 0.25, 0.1, "%", 61),
    ("analyser", "Fill station analyser", "AN-1131", 0.3, 0.1, "%", 24),
    ("barometer", "Workshop barometer", "BR-204", 0.5, 0.1, "mbar", 210),
    ("hygrometer", "Workshop hygrometer", "HY-377", 2.0, 1.0, "%", 150),
    ("thermometer", "Workshop thermometer", "TH-377", 0.3, 0.1, "C", 150),
    ("bench meter", "Bench millivolt meter", "MV-052", 0.02, 0.01, "mV", 88),
    ("gauge", "Intermediate pressure gauge", "IG-18", 0.05, 0.05, "bar", 133),
    ("manometer", "Loop manometer", "LM-07", 0.5, 0.1, "mbar", 133),
    ("scale", "Packing scale", "SC-31", 5.0, 1.0, "g", 40),
    ("pressure pot", "Pressure pot", "PP-3", 0.01, 0.01, "bar", 300),
    ("flow meter", "Injector flow meter", "FM-9", 0.02, 0.01, "L/min", -12),
    ("reference cell", "Reference cell", "RC-6", 0.3, 0.1, "mV", 30),
    ("flow meter", "Valve leak flow meter", "FM-14", 0.5, 0.1, "mL/min", 174),
    ("flow meter", "Gas volume meter", "VM-3", 8.0, 1.0, "mL", 174),
)

ACCESSORIES = (
    (B, "carrying case", 1), (B, "weight pocket", 2), (B, "mouthpiece plug", 1), (B, "battery key", 1),
    (B, "check list card", 1), (C, "carrying case", 1), (C, "mouthpiece plug", 1), (C, "check list card", 1),
)  # fmt: skip
"""What goes along with every unit of a type."""

KIT_CONTENTS = (
    ("Course kit", "CELL-A", 1), ("Course kit", "OWV-1", 2), ("Course kit", "MPC-1", 1), ("Course kit", "BATT-1", 2),
    ("Van", "HOSE-1", 1), ("Van", "MPC-1", 1),
)  # fmt: skip
PLACES = (
    ("Shelf 1", "shelf"),
    ("Shelf 2", "shelf"),
    ("Shelf 3", "shelf"),
    ("Parts cabinet", "shelf"),
    ("Cold store", "shelf"),
    ("Bench 1", "bench"),
    ("Bench 2", "bench"),
    ("Course kit", "kit"),
    ("Van", "van"),
    ("North jetty", "site"),
    ("Quarantine box", "quarantine"),
    ("Returned to supplier", "sent back"),
    ("Yearly service", "away"),
)
OWNERS = (("The centre", "centre"), ("On loan from the club", "loan"), ("A renter's own", "renter"))
