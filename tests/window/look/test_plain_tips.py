"""What was recorded is plain text in every tool tip and label of the window's source."""

import ast
from pathlib import Path

import pytest

import fleetbench.window

SOURCE = Path(fleetbench.window.__file__).parent
PLAIN = {"as_plain_tip", "only_for"}
"""What makes a text plain, and what only names roles of the program."""

FIXED = {
    ("availability", "tip"), ("availability", "HINT"), ("pages", "f'Alt+{number}'"),
    ("frame", "f'{worded(spec.title)} ({spec.keys})'"),
    ("figure", "say('{figure} is unusual, and was kept when it was typed again', figure=figure)"),
    ("metered", "f'{worded(METER_WORDS)}   {METER_KEY}'"),
    ("signed_in", "say('For a {act}', act=strung(' or ', who_may(act)))"),
}  # fmt: skip
"""Tips that hold nothing but the program's own words and figures."""


def plain(module: str, node: ast.expr) -> bool:
    if isinstance(node, ast.Constant):
        return True
    if isinstance(node, ast.IfExp):
        return plain(module, node.body) and plain(module, node.orelse)
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in PLAIN:
        return True
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("shown", "worded"):
        return plain(module, node.args[0])
    return (module, ast.unparse(node)) in FIXED


@pytest.mark.parametrize("path", sorted(SOURCE.rglob("*.py")), ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_every_tool_tip_of_the_source_is_plain_text(path: Path) -> None:
    tips = [
        node.args[0]
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "setToolTip"
    ]
    assert [ast.unparse(tip) for tip in tips if not plain(path.stem, tip)] == []


@pytest.mark.parametrize("path", sorted(SOURCE.rglob("*.py")), ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_a_label_with_words_is_made_by_the_one_function_that_shows_them_as_they_are(path: Path) -> None:
    made = [
        ast.unparse(node)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "QLabel"
        if node.args and isinstance(node.args[0], ast.Constant | ast.JoinedStr)
    ]
    assert made == []
