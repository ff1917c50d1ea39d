"""Rows of a file that could not be imported, kept as a list to finish until each of them can.

A list to finish is no record; it stands beside the records, readable by its owner only.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from fleetbench.calc.core.languages import say_count
from fleetbench.calc.import_export.tables import FoundTable
from fleetbench.workshop.core.drafts import Drafts
from fleetbench.workshop.import_export.spreadsheet import Answers, Ask, Layout, SheetTable, layout_from, layout_kept

FOLDER = "to-finish"


@dataclass(frozen=True, slots=True)
class Unfinished:
    """The rows of one file that are left, where they came from, and how its columns are read."""

    table: SheetTable
    layout: Layout
    path: Path

    @property
    def label(self) -> str:
        """What is left, in a few words."""
        rows = len(self.table.found.rows)
        return say_count("{path}: {count} row to finish", "{path}: {count} rows to finish", rows, path=self.path.name)

    @classmethod
    def keep(
        cls,
        folder: Path,
        table: SheetTable,
        layout: Layout,
        path: Path,
        asks: Sequence[Ask],
        answers: Answers,
        at: datetime,
    ) -> None:
        """Keep the rows that are asked about, with what was answered already; nothing is kept where none is."""
        kept = Drafts(folder / FOLDER)
        rows = sorted({ask.row for ask in asks})
        if not rows:
            kept.drop(table.signature)
            return
        cells = [[answers.get((row, at), table.cell(row, at)) for at in table.found.columns] for row in rows]
        content = {"names": list(table.found.names), "rows": rows, "cells": cells, "layout": layout_kept(layout)}
        content |= {"path": str(path), "sheet": table.sheet, "title": table.found.title}
        kept.save(table.signature, content, at)

    @classmethod
    def listed(cls, folder: Path) -> "tuple[Unfinished, ...]":
        """Every list to finish, the newest first; a torn one is left out."""
        found = []
        for draft in Drafts(folder / FOLDER).listed():
            try:
                found.append(cls._of(dict(draft.content)))
            except (KeyError, TypeError, ValueError):
                continue
        return tuple(found)

    @classmethod
    def _of(cls, content: dict[str, object]) -> "Unfinished":
        names, rows, cells = (list(content[name]) for name in ("names", "rows", "cells"))  # type: ignore[call-overload]
        grid: list[list[str]] = [[] for _ in range(max(rows) + 1)]
        for row, texts in zip(rows, cells, strict=True):
            grid[row] = list(texts)
        wide = tuple(range(len(names)))
        found = FoundTable(str(content["title"]), names=tuple(names), columns=wide, rows=tuple(rows), name_rows=())
        layout = layout_from(content["layout"], len(names))  # type: ignore[arg-type]
        return cls(SheetTable(str(content["sheet"]), grid, found), layout, Path(str(content["path"])))
