"""Counts of a source tree, taken with the standard library's own parser: sizes, imports, restated dataclasses.

A twin is a dataclass that shares five or more fields with another, and these are 60 % or more of the smaller one.
"""

import ast
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from pathlib import Path
from statistics import median

FLOORS = ("calc", "records", "workshop", "paper", "window")
LEAST_SHARED, SHARE = 5, 0.6
Function = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass(frozen=True)
class Module:
    """One source file: its dotted name, its path and its text."""

    name: str
    path: Path
    text: str

    @cached_property
    def tree(self) -> ast.Module:
        """The parsed source."""
        return ast.parse(self.text)

    @property
    def lines(self) -> int:
        """Lines of the file."""
        return self.text.count("\n")

    @property
    def floor(self) -> str:
        """The floor it stands on, or nothing for a module beside the floors."""
        parts = self.name.split(".")
        return parts[1] if len(parts) > 1 and parts[1] in FLOORS else ""

    def functions(self) -> Iterator[Function]:
        """Every function and method."""
        return (node for node in ast.walk(self.tree) if isinstance(node, Function))

    def classes(self) -> Iterator[ast.ClassDef]:
        """Every class."""
        return (node for node in ast.walk(self.tree) if isinstance(node, ast.ClassDef))


@dataclass(frozen=True, slots=True)
class Facts:
    """A dataclass of the source: the module it stands in, its name, and its fields with their types."""

    module: str
    name: str
    fields: frozenset[str]


@dataclass(frozen=True)
class House:
    """The modules of a package and what can be counted of them."""

    modules: tuple[Module, ...]

    @cached_property
    def named(self) -> dict[str, Module]:
        """Modules by dotted name."""
        return {module.name: module for module in self.modules}

    @cached_property
    def dataclasses(self) -> tuple[Facts, ...]:
        """Every class that is decorated as a dataclass."""
        return tuple(
            Facts(module.name, node.name, frozenset(_fields(node)))
            for module in self.modules
            for node in module.classes()
            if any(_called(each) == "dataclass" for each in node.decorator_list)
        )

    @cached_property
    def twin_pairs(self) -> tuple[tuple[Facts, Facts], ...]:
        """Pairs of dataclasses that restate one another."""
        large = [each for each in self.dataclasses if len(each.fields) >= LEAST_SHARED]
        return tuple((one, other) for one, other in combinations(large, 2) if _are_twins(one.fields, other.fields))

    @property
    def twins(self) -> int:
        """How many dataclasses have a twin."""
        return len({id(each) for pair in self.twin_pairs for each in pair})

    @cached_property
    def imports(self) -> dict[str, frozenset[str]]:
        """What each module imports from this package, at its top or inside a function."""
        return {module.name: frozenset(self._imported(module)) for module in self.modules}

    def _imported(self, module: Module) -> Iterator[str]:
        for node in ast.walk(module.tree):
            if isinstance(node, ast.ImportFrom) and node.module:
                for alias in node.names:
                    full = f"{node.module}.{alias.name}"
                    name = full if full in self.named else node.module
                    if name in self.named and name != module.name:
                        yield name

    def class_homes(self) -> dict[str, list[str]]:
        """The modules in which a class of each name stands."""
        homes: dict[str, list[str]] = defaultdict(list)
        for module in self.modules:
            for node in module.classes():
                homes[node.name].append(module.name)
        return homes

    def entries(self) -> dict[Path, int]:
        """How many modules each folder holds, its `__init__` not counted."""
        return Counter(module.path.parent for module in self.modules if module.path.stem != "__init__")


def _fields(node: ast.ClassDef) -> Iterator[str]:
    return (
        each.target.id for each in node.body if isinstance(each, ast.AnnAssign) and isinstance(each.target, ast.Name)
    )


def _called(node: ast.expr) -> str:
    called = node.func if isinstance(node, ast.Call) else node
    return called.id if isinstance(called, ast.Name) else called.attr if isinstance(called, ast.Attribute) else ""


def _are_twins(one: frozenset[str], other: frozenset[str]) -> bool:
    shared = len(one & other)
    return shared >= LEAST_SHARED and shared >= SHARE * min(len(one), len(other))


def read_house(folder: Path) -> House:
    """The package in that folder."""
    return House(
        tuple(
            Module(
                ".".join(path.relative_to(folder.parent).with_suffix("").parts), path, path.read_text(encoding="utf-8")
            )
            for path in sorted(folder.rglob("*.py"))
            if "_shipped" not in path.parts
        )
    )


def spread(figures: Sequence[int]) -> str:
    """Median, the value that nine in ten keep under, and the largest."""
    ordered = sorted(figures)
    return f"{median(ordered):g} / {ordered[int(0.9 * (len(ordered) - 1))]} / {ordered[-1]}" if ordered else "-"


def length(node: Function) -> int:
    """Lines of a function from its name to its end."""
    return (node.end_lineno or node.lineno) - node.lineno + 1


def typed(function: Function) -> bool:
    """Whether every argument but self and the result have a type."""
    arguments = [*function.args.posonlyargs, *function.args.args, *function.args.kwonlyargs]
    return all(each.annotation is not None for each in arguments if each.arg not in {"self", "cls"}) and (
        function.returns is not None
    )


def size_rows(house: House) -> list[tuple[str, ...]]:
    """Size and shape by floor: modules, lines, lines a module, functions, lines a function, typed."""
    rows: list[tuple[str, ...]] = []
    for floor in (*FLOORS, "all"):
        modules = [each for each in house.modules if floor in {each.floor, "all"} and each.path.stem != "__init__"]
        functions = [function for module in modules for function in module.functions()]
        rows.append(
            (
                floor,
                str(len(modules)),
                str(sum(each.lines for each in modules)),
                spread([each.lines for each in modules]),
                str(len(functions)),
                spread([length(each) for each in functions]),
                f"{100 * sum(map(typed, functions)) / max(1, len(functions)):.0f} %",
            )
        )
    return rows


def summary(house: House) -> dict[str, int | str]:
    """The figures that are kept beside those of an earlier day."""
    inner = [each for each in house.modules if each.path.stem != "__init__"]
    fan_out = {name: len(found) for name, found in house.imports.items()}
    twice = {name for name, homes in house.class_homes().items() if len(homes) > 1 and not name.startswith("_")}
    return {
        "modules": len(inner),
        "lines": sum(each.lines for each in house.modules),
        "modules in the largest folder": max(house.entries().values()),
        "functions, lines med / p90 / max": spread([length(f) for m in inner for f in m.functions()]),
        "own imports a module, med / p90 / max": spread([fan_out[each.name] for each in inner]),
        "dataclasses": len(house.dataclasses),
        "fields of dataclasses": sum(len(each.fields) for each in house.dataclasses),
        "dataclasses with a twin": house.twins,
        "class names told twice": len(twice),
        "dialogs by hand": sum(
            any(_called(base) == "ActDialog" or _called(base).endswith("Dialog") for base in node.bases)
            for module in inner
            for node in module.classes()
        ),
    }


def by_position(house: House, most: int) -> list[str]:
    """Where a function makes a dataclass of this package with more than so many arguments by position.

    Swapped neighbours pass every type check there. A table beside the functions is read row under row, as a table.
    """
    made = {each.name for each in house.dataclasses}
    return [
        f"{module.name}:{node.lineno}: {_called(node)}"
        for module in house.modules
        for node in {each for function in module.functions() for each in ast.walk(function)}
        if isinstance(node, ast.Call) and _called(node) in made and len(node.args) > most
        if not any(isinstance(each, ast.Starred) for each in node.args)
    ]
