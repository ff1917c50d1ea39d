"""What may stand on the screen in no language of the program, each with its reason."""

from collections.abc import Mapping

DATA: Mapping[str, tuple[str, ...]] = {
    "absence": ("why",), "accessory": ("name",), "approved_firmware": ("version", "source"),
    "bench_test": ("note", "finding"), "calibration": ("note",), "calibration_outcome": ("finding", "next_step"),
    "centre": ("name", "code", "timezone"), "container": ("lot",), "disinfectant": ("name", "strength", "source"),
    "disinfection": ("agent", "strength"), "fill": ("why_discarded",), "finding": ("text",), "hire_note": ("text",),
    "hold": ("reason", "lift_reason"), "limit_value": ("source",), "notice": ("number", "title", "text", "action"),
    "opening": ("what",), "owner": ("name",), "part": ("serial", "lot", "supplier"), "part_test": ("done_by",),
    "part_type": ("code", "name", "grade", "source"), "part_type_life": ("source",), "person": ("code",),
    "person_private": ("name", "contact", "note"), "place": ("name",), "rating_row": ("source",),
    "reader": ("name",), "cylinder": ("marking",),
    "service_step": ("text", "what", "size", "source"), "service_task": ("text", "source", "qualification"),
    "step_result": ("lubricant", "lot"), "task": ("text", "put_off_reason"), "test_equipment": ("name", "serial"),
    "ticket": ("reason",), "unit": ("tag", "former_tag", "serial", "harness"), "unit_type": ("code", "name", "manual"),
}  # fmt: skip
"""Columns of the sample in which users, files and makers wrote, or the program in a row: they are shown as they are."""

NOT_TRANSLATED: Mapping[str, str] = {
    r"\b(bar|mbar|min|mm|psi|kg|lb|mL|mV|mSv|kPa|Pa|cm|km|ft|ppm|s|h|g|L|l|V|m|K|u|dp|px|°C|°F)(/(min|kg|h|K))?\b":
        "a sign of a unit",
    r"\b(ISO|EN|CFR|DOT|PDF|CSV|XLSX|JSON|SHA|PIN|ID|URL|PNG|JPEG|USB|SCPI|TCPIP|EET|EEST|UTC)\b":
        "a sign of a standard, a file or a zone of time",
    r"\b(Ctrl|Alt|Shift|Esc|Escape|Enter|Space|Home|End|Del|Backspace|Tab|Return|PgUp|PgDown|Ins|Left|Right)\b":
        "a key",
    r"\b(AND|OR|0BSD)\b": "a sign between licences",
    r"\bfleetbench\b": "the name of the program",
    r"\b[\w.-]+\.(sqlite|db|csv|xlsx|pdf|json|py|invalid)\b( in /\S*)?": "the name of a file or an address",
    r"(?<!\w)/[\w.]\S*": "a folder",
    r"\b(January|February|March|April|May|June|July|August|September|October|November|December) \d{4}\b":
        "a month by the locale of the pseudo-locale, which is British",
    r"\b(Mo|Tu|We|Th|Fr|Sa|Su) \d{1,2}\b": "a day over the time line, by the same locale",
    r"no such thing|tag: U-77 is not recorded.*|ValueError: an example": "what the scene itself types or says",
}  # fmt: skip
"""Patterns of what stays as it is in every language, each with the reason."""

WORDS_OF_THE_RECORD = frozenset({
    "lot", "cell", "cells", "service", "fresh", "visual", "type", "pass", "hydrostatic", "linearity", "battery",
    "voltage", "loop", "positive", "negative", "held", "oxygen", "clean", "absorbent", "holds", "capacity", "test",
    "one-way", "valve", "inhale", "exhale", "reject", "calibration", "age", "replace", "intermediate", "pressure",
    "full", "low", "supply", "opening", "due", "item", "diver", "addition", "mouthpiece", "solenoid", "alarms",
    "set-point", "bailout", "diluent", "routine", "workshop", "gas", "batteries", "manual", "hold", "rated",
    "minutes", "rest", "swim", "settled", "air", "mV", "assembled", "stock", "fitted", "spare", "away", "empty",
    "used", "drive", "analyser", "flow", "meter", "piece", "all", "instructor", "kilograms", "days", "lubricant",
    "seal", "second", "person", "torque", "figure", "photograph", "accessories", "out", "made", "received",
    "nothing", "recorded", "fell", "oxygen-clean", "handset", "flush", "notices", "idle", "return", "hygrometer",
    "barometer", "thermometer", "manometer", "renter", "manager", "technician", "shelf", "bench", "site", "kit",
    "van", "courses", "leak", "in", "part", "life", "outcome", "last",
})  # fmt: skip
"""Words of the record (kinds, roles, tests, states) that a floor below, or a list, hands on without looking them up.

They are mended with the floors below; what is mended is taken out here.
"""
FROM_BELOW: Mapping[str, str] = {
    r"if its drift goes on in a straight line": "calc, forecast of a cell",
    r"(hire|course|try day) for ": "workshop, whom a change of the plan is for",
    r"to go at a time constant|is made of|(\d|⟧|\)) to \d": "calc, limits in words",
    r"it works or it does not|mL a pulse|creep at most|readings after lock-up": "calc, limits in words",
    r"Not recorded whether it held": "calc, judgement of a bench test",
    r"facts are known": "workshop, walk-round",
    r"finning|planning|as rated|one diver and one hire a fill": "calc, works and rules of absorbent",
    r"last valid day|sat in \d+ place": "workshop, stories of parts and lots",
    r"Cannot go there": "workshop, what stands in a booking's way",
    r"seamless steel or aluminium|foreign": "calc, rules of cylinder tests",
    r"before and after": "workshop, what a step asks for",
    r" \d+ is \d+\.\d|2026-03 or 1Q2026": "an example in figures within a sentence",
    r"filled|dotted|hatched|crossed": "words of the patterns of a plot",
}
"""Patterns of texts that are still in English, with where they come from; each is taken out when it is mended."""
