"""Every sentence that the program shows, read from its source, and the catalogues that hold them in other languages.

    python -m tests.house.sentences              counts a floor: sentences, not translatable, glued; missing a language
    python -m tests.house.sentences --list ROOM  what is not translatable or glued in a room, such as window/parts
    python -m tests.house.sentences --missing de what a catalogue lacks, a line each
    python -m tests.house.sentences --write      gives every catalogue the sentences it lacks, empty, and drops the rest

A sentence is what stands in a call of `say` and its like, or where a table of the window takes words (`TABLES`). A text
is not translatable where it has two words, or a capital and three letters, and stands in neither. What is by its nature
no text of the screen is left out: docstrings, annotations, keys, paths, names of Qt's, of classes, acts, limits and
doors, statements of SQL, spellings of other people's headings, reasons for readers of the source (`SOURCES`), texts
that go into a row (`in_row`), files that keep English (`ENGLISH_FILES`), and words that a sentence of the program has
already, which are looked up where they are shown. Glued is a text in braces of another text, and one that begins or
ends with a blank, a comma or a colon.
"""

import ast
import re
import sys
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po, write_po

from fleetbench.calc.core.doors import DOORS
from fleetbench.calc.core.languages import PROGRAM_LANGUAGES
from fleetbench.calc.people.permits import ACTS
from fleetbench.calc.readiness.judge import CHECKS
from fleetbench.calc.readiness.limits import LIMITS
from fleetbench.paper.core.marks import sheet_texts
from fleetbench.paper.hires import front
from fleetbench.terminal import help_text
from fleetbench.workshop.places.shipped import read_topic
from tests.house.sentences.tables import CONSTANTS, ENGLISH_FILES, RIGHTLY

TOP = Path(__file__).parents[3]
FOLDER = TOP / "resources" / "languages"
TRANSLATED = ("de", "es", "fr")
"""Whose catalogues hold the program's sentences beside those of the renter's page."""
Sentence = str | tuple[str, str]

MARKED: Mapping[str, tuple[int, ...]] = {
    "say": (0,), "_unusable": (0,), "say_ref": (0,), "say_small": (0,), "worded": (0,), "strung": (0,),
    "say_count": (0, 1),
}  # fmt: skip
TABLES: Mapping[str, tuple[int | str, ...]] = {
    "Option": ("help",),
    "Argument": ("help",),
    "Typer": ("help",),
    "ActSpec": (1, 3, "words", "means", 7, "said"),
    "ActionSpec": (1, 2, 6),
    "PageSpec": (1,),
    "Setting": (1, 2, 4),
    "Column": (1, "title", "heading_tip"),
    "QuickFilter": (0,),
    "ListSpec": (0, "title"),
    "Emptiness": (0, 1, 4, "action_text"),
    "nothing_recorded": (0, 2, 4, "what", "words"),
    "Field": (1, 3, 5, "label", "hint", "choices", "spoken", "wants", "nothing"),
    "Form": (0, 1, 2, "title", "act_words", "note"),
    "StepCard": (1,),
    "AnswerKey": (1,),
    "QuestionField": (1,),
    "Section": (0, 2, "title", "empty"),
    "Table": (0, 1, 3, "title", "headings", "empty"),
    "Fact": (0, "label"),
    "Badge": (1,),
    "Onward": (0,),
    "Mark": (0,),
    "lead_button": (1,),
    "plain_button": (1,),
    "quiet_button": (1,),
    "choice_button": (1,),
    "labelled": (1,),
    "with_unit": (1,),
    "search_field": (0, 1),
    "typed_choice": (0,),
    "text_field": (0,),
    "line_field": (0, 2),
    "chooser": (0,),
    "_chooser": (0,),
    "_people_box": (0,),
    "_pin_field": (0,),
    "EntryTable": (0,),
    "DayField": (0,),
    "DetailView": (1,),
    "DecimalField": (0,),
    "mark_for": (0,),
    "_prose": (0,),
    "_links": (0,),
    "Ticks": (1,),
    "_spec": (1, "means"),
    "required": (0,),
    "figure": (0, 4),
    "figure_or_none": (0, 4),
    "measured": (2,),
    "measured_or_none": (2,),
    "one_word": (0,),
    "require_read_with": (0,),
    "get": (2,),
    "with_theirs": (0, 4),
    "past_moment": (0,),
    "Quantity": ("name", "remedy", "read_with"),
    "SensorTest": (0, 2, 4, 5),
    "PurityLimit": (0,),
    "Specification": (0,),
    "TableField": (1,),
    "TableColumn": (0, "title", "over"),
}
"""Where words of the program's own are taken, by place or name; what is taken there is shown by `worded`."""
HELP = ("command", "callback")
"""Decorators under which a docstring is the help of a command."""
COUNTED = ("counted", "count_words")
"""Count things that they are told in one and several."""
OF_THE_RENTER = ("paper/hires/front.py",)
"""Whose `say` is that of the page's own language."""
KEPT_NAMES: Mapping[str, tuple[str, ...]] = {
    "what an empty list leads to, compared and never shown": (
        "go to ", "go to units", "go to equipment", "go to cylinders", "go to places", "go to due", "go to hires",
    ),
    "members of an enumeration that are never shown": (
        "open ring", "crossed square", "once a database is open", "on a page with a list", "after another page",
        "while the sample is open", "without promises",
    ),
    "a state by which a mark is looked up": ("out now",),
    "names of fields and properties in the source": ("years of {}", "rule for {}", "act words"),
    "patterns, keys, faces and files": ("LLLL y", "Ctrl+,", "Noto Sans Arabic", "NotoSans-", "Roboto-{}.ttf"),
    "the command line of a tool for those who build": (
        "usage: python -m fleetbench.window.shell.pictures DATABASE FOLDER",
    ),
}  # fmt: skip
"""Texts of the source that no reader meets, by the reason."""
_KEPT = frozenset(each for names in KEPT_NAMES.values() for each in names)
SOURCES = {"Quantity": ("why",)}
"""What a table states for the reader of its source alone."""
NAMES = frozenset({*ACTS, *DOORS, *(each.name for each in LIMITS)})
"""Names of acts, doors and limits, which are kept and compared, and shown by words of their own."""
_TECHNICAL = frozenset({
    "in_row", "contains", "like", "cast", "text", "setTypeface", "CheckConstraint", "Index", "ForeignKey",
    "setObjectName", "setProperty", "Signal", "getattr", "hasattr", "TypeVar", "import_module", "QKeySequence", "icon",
    "strftime", "encode", "decode", "findChild", "startswith", "endswith", "removeprefix", "removesuffix", "partition",
    "split", "replace", "transaction", "trying", "require",
})  # fmt: skip
_KEYS = re.compile(r"^((Ctrl|Alt|Shift)\+\S+|[A-Z][a-z]*\d?|F\d+)$")
_WORDS = re.compile(r"[A-Za-zé’']{2,}[,;:.]? +\(?[\"“{]?[A-Za-z]|^[A-Z][a-z]{3,}[ .…:?]?")
_NO_TEXT = re.compile(
    r"\b(SELECT|PRAGMA|FROM|ALTER TABLE|CREATE|SAVEPOINT|BEGIN|ROLLBACK|IS (NOT )?NULL|COMMITTED|REPEATABLE|DROP|GRANT|"
    r"SET|VACUUM|COMMENT ON|GRANT|BMC|EMC|BT|WITH GRANT OPTION|AND table_schema)\b"
    r"|^[A-Z][a-z]+([A-Z][A-Za-z0-9]*)+$|^\|?[\w#/.,; -]+\|[^ ]|\(\*\.|^/[A-Z]|^\w+\[|://|^-//"
)
_UNITS = frozenset({"bar", "mbar", "min", "mm", "psi", "kg", "lb", "mL", "mV", "empty_text"})
_ERRORS = ("ValueError", "TypeError", "RuntimeError", "ArithmeticError")
_ARGUMENT = re.compile(r"[a-z]+(_[a-z0-9]+)+: |\{\}: ")
"""An error that names an argument of its function tells the caller that it was called wrongly, and reaches no user."""
_EDGE = re.compile(r"^[ ,;:]|[ ,:]$")


@dataclass
class Read:
    """What was found in one module: sentences, the line and text of what is not translatable or glued, and what of
    `RIGHTLY` was met."""

    sentences: set[Sentence] = field(default_factory=set)
    bare: list[tuple[int, str]] = field(default_factory=list)
    glued: list[tuple[int, str]] = field(default_factory=list)
    kept: set[str] = field(default_factory=set)


class _Reader:
    def __init__(self, path: Path, home: Path) -> None:
        self.tree = ast.parse(path.read_text(encoding="utf-8"))
        self.name = path.relative_to(home).as_posix()
        self.found = Read()
        self.nodes = list(ast.walk(self.tree))
        self.above: dict[ast.AST, ast.AST] = {}
        self.constants = {
            target.id: node.value
            for node in self.tree.body if isinstance(node, ast.Assign)
            for target in node.targets if isinstance(target, ast.Name)
        }  # fmt: skip
        self.taken: set[ast.AST] = set()
        self.english: set[ast.AST] = set()
        self.kept: set[str] = set()

    def read(self, *, sentences_alone: bool) -> Read:
        for name in CONSTANTS.get(self.name, ()):
            found = self.constants.get(name.rstrip("=")) or self._annotated(name.rstrip("="))
            inner = found.values if isinstance(found, ast.Dict) and name.endswith("=") else [found]
            for each in inner:
                self._take(each, whole=True)
        for node in self.nodes:
            if isinstance(node, ast.Call):
                self._call(node)
            elif isinstance(node, ast.FunctionDef):
                self._help(node)
        if sentences_alone:
            return self.found
        self.above = {child: node for node in self.nodes for child in ast.iter_child_nodes(node)}
        self.english = set(self._rightly())
        for node in self.nodes:
            if isinstance(node, ast.Constant | ast.JoinedStr):
                self._left_over(node)
        self.found.kept = self.kept
        return self.found

    def _annotated(self, name: str) -> ast.AST | None:
        for each in self.tree.body:
            if isinstance(each, ast.AnnAssign) and isinstance(each.target, ast.Name) and each.target.id == name:
                return each.value
            if isinstance(each, ast.ClassDef) and each.name == name:
                return ast.List([row.value for row in each.body if isinstance(row, ast.Assign)])
        return None

    def _call(self, node: ast.Call) -> None:
        name = _called(node)
        if name in MARKED and self.name not in OF_THE_RENTER:
            if name == "say_count" and len(words := _literal(node.args[:2])) == 2:
                self.found.sentences.add((words[0], words[1]))
                self.taken.update(node.args[:2])
                return
            for at in MARKED[name]:
                if at < len(node.args):
                    self._take(node.args[at])
        self._set_aside(node, name)
        if name in COUNTED and (words := _literal(node.args[1:])):
            one, many = words[0], words[1] if len(words) > 1 else f"{words[0]}s"
            self.found.sentences.add((f"{{count}} {one}", f"{{count}} {many}"))
            self.taken.update(node.args[1:])
        for place in TABLES.get(name, ()):
            if isinstance(place, int) and place < len(node.args):
                self._take(node.args[place])
            for word in node.keywords if isinstance(place, str) else ():
                if word.arg == place:
                    self._take(word.value, pairs=place == "choices")

    def _help(self, node: ast.FunctionDef) -> None:
        words = help_text(ast.get_docstring(node))
        if words and any(isinstance(each, ast.Call) and _called(each) in HELP for each in node.decorator_list):
            self.found.sentences.add(words)

    def _set_aside(self, node: ast.Call, name: str) -> None:
        """What has its place elsewhere: the renter's sentences, and what is for readers of the source."""
        if self.name in OF_THE_RENTER and name in ("say", "count"):
            self.taken.update(node.args)
        for word in node.keywords:
            if word.arg in SOURCES.get(name, ()):
                self.taken.update(ast.walk(word.value))

    def _take(self, node: ast.AST | None, *, pairs: bool = False, whole: bool = False) -> None:
        match node:
            case ast.Constant(value=str() as text):
                self.taken.add(node)
                if re.search(r"[A-Za-z]{2}", text) and not re.fullmatch(r"[a-z_]+\.[a-z_]+", text):
                    self.found.sentences.add(text)
            case ast.Tuple(elts=elts) | ast.List(elts=elts):
                first = pairs and elts and isinstance(elts[0], ast.Constant)
                for each in elts[:1] if first else elts:
                    self._take(each, pairs=pairs, whole=whole)
            case ast.Dict(keys=keys):
                for key in keys:
                    self._take(key)
            case ast.IfExp(body=body, orelse=other):
                self._take(body, pairs=pairs)
                self._take(other, pairs=pairs)
            case ast.BoolOp(values=values):
                for each in values:
                    self._take(each, pairs=pairs)
            case ast.Name(id=name) if name in self.constants:
                self._take(self.constants[name], pairs=pairs)
            case ast.Starred(value=value):
                self._take(value, pairs=pairs)

    def _rightly(self) -> Iterator[ast.AST]:
        """What stays English: all that stands in a constant, class or function of `RIGHTLY`, and its texts."""
        named = {each for listed in RIGHTLY.get(self.name, {}).values() for each in listed}
        for node in self.nodes:
            if isinstance(node, ast.ClassDef | ast.FunctionDef) and node.name in named:
                self.kept.add(node.name)
                yield from ast.walk(node)
            elif isinstance(node, ast.Assign | ast.AnnAssign) and isinstance(self.above.get(node), ast.Module):
                target = node.targets[0] if isinstance(node, ast.Assign) else node.target
                if isinstance(target, ast.Name) and target.id in named:
                    self.kept.add(target.id)
                    yield from ast.walk(node)
            elif isinstance(node, ast.Constant | ast.JoinedStr) and (text := _text(node)) in named:
                self.kept.add(text or "")
                yield node

    def _left_over(self, node: ast.Constant | ast.JoinedStr) -> None:
        text = _text(node)
        up = self.above.get(node)
        if (
            node in self.english
            or self.name in ENGLISH_FILES
            or (text is not None and (text in NAMES or text in _KEPT or text in _UNITS or _NO_TEXT.search(text)))
        ):
            return
        if text is None or node in self.taken or isinstance(up, ast.Expr | ast.JoinedStr) or self._technical(node):
            return
        if isinstance(up, ast.AugAssign | ast.BinOp) and _WORDS.search(text):
            self.found.glued.append((node.lineno, text))
        within = up
        while within is not None and not isinstance(within, ast.stmt):
            if isinstance(within, ast.FormattedValue) and re.search("[a-z]{2}", text):
                self.found.glued.append((node.lineno, text))
                return
            within = self.above.get(within)
        if _WORDS.search(text) and not _KEYS.match(text) and ("." not in text or " " in text):
            self.found.bare.append((node.lineno, text))
        if re.search("[a-z]{2}", text) and _EDGE.search(text):
            self.found.glued.append((node.lineno, text))

    def _technical(self, node: ast.AST) -> bool:
        up = self.above.get(node)
        text = _text(node) if isinstance(node, ast.Constant | ast.JoinedStr) else None
        while up is not None and not isinstance(up, ast.stmt):
            if isinstance(up, ast.Call) and _called(up) in _ERRORS and _ARGUMENT.match(text or ""):
                return True
            if isinstance(up, ast.arg) or (isinstance(up, ast.Call) and _called(up) in _TECHNICAL):
                return True
            if isinstance(up, ast.Subscript | ast.Compare):
                return True
            node, up = up, self.above.get(up)
        if isinstance(up, ast.AnnAssign):
            return node is up.annotation
        return isinstance(up, ast.FunctionDef | ast.Assert | ast.Import | ast.ImportFrom)


def _literal(nodes: Sequence[ast.AST]) -> list[str]:
    return [each.value for each in nodes if isinstance(each, ast.Constant) and isinstance(each.value, str)]


def _called(node: ast.Call) -> str:
    return node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")


def _text(node: ast.Constant | ast.JoinedStr) -> str | None:
    if isinstance(node, ast.Constant):
        return node.value if isinstance(node.value, str) else None
    return "".join(str(each.value) if isinstance(each, ast.Constant) else "{}" for each in node.values)


def read_source(home: Path = TOP / "fleetbench", *, sentences_alone: bool = False) -> dict[str, Read]:
    """What each module says, by its path; of sentences alone, which takes half the time, nothing else is looked for."""
    found = {
        path.relative_to(home).as_posix(): _Reader(path, home).read(sentences_alone=sentences_alone)
        for path in sorted(home.rglob("*.py"))
    }
    if sentences_alone:
        return found
    known = {
        word
        for read in found.values()
        for each in read.sentences
        for word in (each, *(each if isinstance(each, tuple) else ()))
    }
    known |= renter_sentences()
    for read in found.values():
        read.bare = [each for each in read.bare if each[1] not in known]
    return found


@cache
def program_sentences() -> frozenset[Sentence]:
    """Every sentence of the program; one with a plural stands once."""
    said: set[Sentence] = set().union(*(each.sentences for each in read_source(sentences_alone=True).values()))
    texts = sheet_texts()
    said |= {*texts.cautions, texts.oxygen_handling, texts.fill_label, texts.shared_fill_label,
             texts.signed, texts.not_signed,
             *(line for lines in texts.turn_round.values() for line in lines)}  # fmt: skip
    said.update(*(read_topic(each).sentences - {""} for each in (TOP / "resources" / "help").rglob("*.toml")))
    return frozenset(said - {each[0] for each in said if isinstance(each, tuple)})


def renter_sentences() -> set[Sentence]:
    """Every sentence of the renter's page, from its source and from the standing texts."""
    texts = sheet_texts()
    said: set[Sentence] = set()
    for node in ast.walk(ast.parse(Path(front.__file__).read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and _called(node) in ("say", "count"):
            literal = [each.value for each in node.args if isinstance(each, ast.Constant)]
            if literal and _called(node) == "say":
                said.add(str(literal[0]))
            elif literal:
                said.add((str(literal[0]), str(literal[1])))
    standing = {texts.cautions[0], texts.cautions[2], texts.lacking_glyph, *texts.kind_said.values()}
    standing |= {row.check for row in CHECKS} | set(front.HELD_AS.values())
    return said | standing | {line for lines in texts.still_to_do.values() for line in lines}


def catalogue_of(code: str) -> Catalog:
    """A catalogue as its file stands now."""
    with (FOLDER / f"{code}.po").open("rb") as file:
        return read_po(file, locale=code, domain="fleetbench", abort_invalid=True)


def lacking(code: str) -> list[Sentence]:
    """What the catalogue of a language has no words for yet."""
    kept = catalogue_of(code)
    known = {each.id for each in kept if each.id and not each.fuzzy and each.string and all(_forms(each.string))}
    return sorted(program_sentences() - known, key=str)


def _forms(string: str | tuple[str, ...] | list[str]) -> tuple[str, ...]:
    return (string,) if isinstance(string, str) else tuple(string)


def renewed(code: str) -> bytes:
    """The file of a catalogue with every sentence that it should have: the renter's in their order, then the rest."""
    kept = catalogue_of(code)
    wanted = renter_sentences() | program_sentences()
    first = [each.id for each in kept if each.id in wanted]
    fresh = Catalog(locale=code, header_comment=kept.header_comment, creation_date=kept.creation_date,
                    revision_date=kept.revision_date, project="fleetbench", version="1")  # fmt: skip
    for sentence in (*first, *sorted(wanted - set(first), key=str)):
        old = kept.get(sentence if isinstance(sentence, str) else sentence[0])
        if old is not None and old.id == sentence:
            fresh.add(sentence, old.string, flags=old.flags, user_comments=old.user_comments)
        else:
            fresh.add(sentence, "" if isinstance(sentence, str) else ("",) * fresh.num_plurals)
    stream = BytesIO()
    write_po(stream, fresh, width=118, omit_header=True)
    head = (FOLDER / f"{code}.po").read_bytes().partition(b"\n\n")[0]
    return head + b"\n\n" + stream.getvalue().strip() + b"\n"


def main() -> int:
    """Count, list or write, as the command line says."""
    given = sys.argv[1:]
    if given[:1] == ["--write"]:
        for code in TRANSLATED:
            (FOLDER / f"{code}.po").write_bytes(renewed(code))
        return 0
    if given[:1] == ["--missing"]:
        print("\n".join(map(repr, lacking(given[1]))))
        return 0
    if given[:1] == ["--list"]:
        for name, read in read_source().items():
            for kind, told in (("bare", read.bare), ("glued", read.glued)) if name.startswith(given[1]) else ():
                print("\n".join(f"{name}:{line}: {kind}: {text!r}" for line, text in told))
        return 0
    counts: dict[str, Counter[str]] = {}
    for name, read in read_source().items():
        of_floor = counts.setdefault(name.partition("/")[0] if "/" in name else "top", Counter())
        of_floor.update(sentences=len(read.sentences), bare=len(read.bare), glued=len(read.glued))
    print(f"{'floor':12}{'sentences':>12}{'not translatable':>20}{'glued':>8}")
    for floor, of_floor in counts.items():
        print(f"{floor:12}{of_floor['sentences']:12}{of_floor['bare']:20}{of_floor['glued']:8}")
    whole = sum(counts.values(), Counter())
    print(f"{'all':12}{len(program_sentences()):12}{whole['bare']:20}{whole['glued']:8}   (each sentence once)")
    print(
        "missing:", ", ".join(f"{code} {len(lacking(code))}" for code in (*TRANSLATED,)), "offered:", PROGRAM_LANGUAGES
    )
    return 0
