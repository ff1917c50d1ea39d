"""Many rows of a spreadsheet at once: what is done is told all along, and what is cancelled leaves nothing behind.

A short form of 100 000 rows: three thousand, which is several journal entries and every stage.
"""

from pathlib import Path

import pytest
from sqlalchemy import func, select

from fleetbench.records.core.journal import Journal
from fleetbench.records.parts.tables import Part
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.bring import RowState, bring, examine
from fleetbench.workshop.import_export.files import Cancelled
from fleetbench.workshop.import_export.spreadsheet import Layout, SheetTable, guessed, open_spreadsheet

ROWS = 3000


@pytest.fixture
def many(tmp_path: Path) -> tuple[SheetTable, Layout]:
    path = tmp_path / "parts.csv"
    lines = [f"C{n:05},cell,L{n % 40},2026-0{1 + n % 4}" for n in range(ROWS)]
    path.write_text("\n".join(["Serial,Kind,Lot,Made", *lines]), encoding="utf-8")
    (table,) = open_spreadsheet(path).tables
    return table, guessed(table)


def rows_of(workplace: Workplace) -> tuple[int, int]:
    with workplace.database.reading() as connection:
        counted = (connection.scalar(select(func.count()).select_from(each)) for each in (Part, Journal))
        parts, entries = (each or 0 for each in counted)
        return parts, entries


def test_many_rows_tell_how_far_they_are_and_are_called_off_while_they_are_looked_at(
    workplace: Workplace, many: tuple[SheetTable, Layout]
) -> None:
    told: list[float] = []
    found = examine(workplace, *many, {}, lambda _what, part: told.append(part))
    assert found.count(RowState.NEW) == ROWS
    assert told == sorted(told) and len(told) > 10 and told[0] >= 0 and told[-1] <= 1

    def stop(_what: str, part: float) -> None:
        if part > 0.5:
            raise Cancelled("cancelled")

    with pytest.raises(Cancelled):
        examine(workplace, *many, {}, stop)


def test_what_is_called_off_while_it_is_written_leaves_nothing_and_goes_in_whole_afterwards(
    workplace: Workplace, many: tuple[SheetTable, Layout]
) -> None:
    before, said = rows_of(workplace), []

    def stop(what: str, _part: float) -> None:
        said.append(what)
        if what == "writing parts":
            raise Cancelled("cancelled")

    with pytest.raises(Cancelled):
        bring(workplace, *many, {}, name="parts.csv", told=stop)
    assert said[-1] == "writing parts" and rows_of(workplace) == before
    assert bring(workplace, *many, {}, name="parts.csv").written >= ROWS
    assert rows_of(workplace)[0] == ROWS
