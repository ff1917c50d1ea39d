"""A figure is given its unit in one place: no window or page writes bar, °C, m, kg or g beside one by hand."""

import ast
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import fleetbench

HOUSE = Path(fleetbench.__file__).parent
UNIT = r"(bar|°C|m|kg|g|metres|kilograms|grams)(?![\w/²³'’])"
BY_HAND = re.compile(rf"^ {UNIT}|(?<=[,\d_}}]) {UNIT}|^{UNIT}$")

OXYGEN_PRESSURE = {
    "window/cells/extras.py": 7, "window/cells/grid.py": 1, "window/cells/list.py": 1, "window/cells/words.py": 1,
    "window/gas/acts.py": 1, "window/gas/page.py": 1, "window/hires/handback.py": 1,
    "window/units/page.py": 1, "paper/cells/table.py": 2, "paper/gas/label.py": 2, "paper/hires/back.py": 3,
    "paper/hires/front.py": 1,
}  # fmt: skip
"""Oxygen partial pressures, which the trade reads in bar everywhere."""
OTHERS = {
    "window/gas/acts.py": 3, "window/gas/list.py": 2,  # reference conditions, and the key of a column
    "window/canisters/containers.py": 1,  # the key of a field
    "window/parts/orders.py": 2, "window/parts/stock.py": 1, "paper/parts/pages.py": 1,  # a word of the records
    "window/look/marks.py": 1, "paper/core/marks.py": 1,  # a shape
    "window/bench/readings.py": 1,  # a thermometer's own uncertainty, as its certificate states it
}  # fmt: skip


def by_hand(path: Path) -> Iterator[str]:
    """Texts of a module in which a unit stands by hand."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    left_out = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.FormattedValue) and node.format_spec is not None:
            left_out |= {id(each) for each in ast.walk(node.format_spec)}
    for node in ast.walk(tree):
        text = node.value if isinstance(node, ast.Constant) and id(node) not in left_out else None
        if isinstance(text, str) and BY_HAND.search(text):
            yield text


def test_only_the_listed_texts_name_a_unit_by_hand_and_the_list_only_shrinks() -> None:
    found = {
        str(path.relative_to(HOUSE)): Counter(by_hand(path)).total()
        for floor in ("window", "paper")
        for path in sorted((HOUSE / floor).rglob("*.py"))
    }
    listed = Counter(OXYGEN_PRESSURE) + Counter(OTHERS)
    assert {name: count for name, count in found.items() if count} == dict(listed)
