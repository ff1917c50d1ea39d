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
    "service_step": ("text", "what", "size", "source"), "service_task": ("text", "source", "qualification"),
    "step_result": ("lubricant", "lot"), "task": ("text", "put_off_reason"), "test_equipment": ("name", "serial"),
    "ticket": ("reason",), "unit": ("tag", "former_tag", "serial", "harness"), "unit_type": ("code", "name", "manual"),
}  # fmt: skip
"""Columns of the sample in which users, files and makers wrote, or the program in a row: they are shown as they are."""

NOT_TRANSLATED: Mapping[str, str] = {
    r"\b(bar|mbar|min|mm|psi|kg|lb|mL|mV|mSv|kPa|Pa|cm|km|ft|ppm|s|h|g|L|l|V|m|K|u|dp|px|°C|°F)(/(min|kg|h|K))?\b":
        "a sign of a unit",
    r"\b(ISO|EN|CFR|BSD|GNU|LGPL|PDF|CSV|XLSX|JSON|SHA|PIN|ID|URL|PNG|JPEG|USB|SCPI|TCPIP|EET|EEST|UTC)\b":
        "a sign of a standard, a file or a zone of time",
    r"\b(Ctrl|Alt|Shift|Esc|Escape|Enter|Space|Home|End|Del|Backspace|Tab|Return|PgUp|PgDown|Ins)\b": "a key",
    r"\bfleetbench\b": "the name of the program",
    r"\b[\w.-]+\.(sqlite|db|csv|xlsx|pdf|json|py|invalid)\b": "the name of a file or an address",
    r"/tmp\S*": "a folder",
}  # fmt: skip
"""Patterns of what stays as it is in every language, each with the reason."""

FROM_BELOW: Mapping[str, str] = {}
"""Patterns of what the floors below the window still say in English."""
