"""One plain word a thing: texts that a user can see hold no word that was retired.

The list is ours (common practice, no published source). The window is held to it whole. A figure of a floor that still
has some may only fall.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

TOP = Path(__file__).parents[2] / "fleetbench"
RETIRED = {
    r"\b(bring|brings|brought|bringing) (it )?in\b": "import, imported",
    r"\bcentre's sheets?\b|\bfolder of sheets\b": "file",
    r"^leave it$|\bcall(ed|ing)? (it )?off\b": "Cancel",
    r"^(enter it|set it|keep|keep it|note them|write it down|it was seen|it is back|book it|fit it)$":
        "Save …, or the verb of the act with its object",
    r"\bput(s|ting)? (it |a slip |the last \w+ )?right\b|\bmend(s|ed|ing)?\b|\btake it back\b": "Correct, Undo",
    r"\bslips?\b": "typing error, entry error",
    r"\bnought\b": "zero",
    r"\bout of reason\b": "out of range",
    r"\banew\b": "again",
    r"\breckon(s|ed|ing)?\b": "calculate, calculated, calculation",
    r"\b(foretold|foreseen)\b": "forecast",
    r"\blast good day|\bgood until\b|\bin test to\b|\bruns? out\b|\buse by\b|\bvalid until\b": "last valid day",
    r"\bgovern(s|ed)\b": "set by",
    r"\bhits\b": "affects",
    r"\bwants? gas\b": "needs filling",
    r"\bheight of the water\b": "altitude of the dive site",
    r"\bdigit of its display\b": "display resolution",
    r"\bnot said\b": "not recorded",
    r"\bwaiting line\b": "waiting list",
    r"\btoo few are free\b": "if not enough units",
    r"\bpapers? seen\b|\bsee a paper\b": "certificate",
    r"\b(throw|throws|thrown) (it )?away\b|\btip(ped)? out\b": "discard",
    r"\b(takes?|taken|comes?|came) (it |one |a part )?out\b": "remove",
    r"\btime to erase\b|\byears kept\b|\bwords about\b": "due for erasure, retention, notes",
    r"\bunits leave\b": "hand over as",
    r"\badvices?\b": "recommendation",
    r"\bto fetch\b": "pick list",
    r"\bworks or not\b": "function check",
    r"\bhours of hands\b|\bdays of life\b": "working hours, remaining life lost",
    r"\bsomebody\b|\bwhoever\b": "signed-in user, user",
    r"\bby the book\b|\bthe book\b": "on record",
}  # fmt: skip
"""What is not written any more, as a pattern, and what is written instead."""
IDS = frozenset(["ActSpec", "ActionSpec", "Column", "Field", "_spec"])
"""What these are given first is a name of the code's own, never shown."""
PERMITS = {"ActSpec": 4, "_spec": 3, "only_for": 0, "withhold": 1}
"""At which place these are given the name of an act, which stands in the journal for good; by keyword it is `act`."""
READ_ALSO = frozenset(["_LAST_DAY"])
"""Names of texts that others write and the program reads: the headings of a centre's own lists."""
MOST = {"calc": 1, "records": 1, "workshop": 1, "paper": 0, "cli": 0}
"""What is left stands in databases: a kind of words to be erased, and tasks that an earlier program wrote."""


def seen_texts(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Line and text of every literal but docstrings, the code's own names, and names of acts."""
    hidden = {id(part) for node in ast.walk(tree) for unseen in _unseen(node) for part in ast.walk(unseen)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in hidden:
            yield node.lineno, node.value


def _unseen(node: ast.AST) -> Iterator[ast.AST]:
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        yield node.value
    if isinstance(node, ast.Assign) and any(isinstance(to, ast.Name) and to.id in READ_ALSO for to in node.targets):
        yield node.value
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
        called = node.func.id
        yield from node.args[:1] if called in IDS else ()
        yield from node.args[PERMITS[called] :][:1] if called in PERMITS else ()
        yield from (each.value for each in node.keywords if each.arg == "act" and called in PERMITS)


def retired_in(tree: ast.Module) -> list[str]:
    """Every text that holds a retired word, with its line and what is written instead."""
    return [
        f"{line}: {text!r}: write {instead}"
        for line, text in seen_texts(tree)
        for pattern, instead in RETIRED.items()
        if re.search(pattern, text, re.IGNORECASE)
    ]


def _found(floor: str) -> list[str]:
    place = TOP / floor
    paths = sorted(place.rglob("*.py")) if place.is_dir() else [place.with_suffix(".py")]
    return [
        f"{path.relative_to(TOP)}:{each}"
        for path in paths
        for each in retired_in(ast.parse(path.read_text(encoding="utf-8")))
    ]


def test_a_retired_word_is_found_in_a_text_and_not_in_a_name_or_docstring() -> None:
    source = '''"""Nobody reckons here."""
ActSpec("hits", "Reckon anew", "R", act="put right line")
f"{name}: put right"
'''
    assert [each.partition(":")[0] for each in retired_in(ast.parse(source))] == ["2", "2", "3"]


def test_the_window_uses_no_retired_word() -> None:
    assert _found("window") == []


@pytest.mark.parametrize("floor", MOST)
def test_retired_words_below_the_window_become_fewer(floor: str) -> None:
    found = _found(floor)
    assert len(found) <= MOST[floor], "\n".join(found)
