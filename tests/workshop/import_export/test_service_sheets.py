"""Service plans in sheets: brought in whole, told wrong by row and column, and written out again."""

import csv
from pathlib import Path
from typing import Any

import pytest

from fleetbench.records.core.database import Database
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.export import export_folder
from fleetbench.workshop.import_export.import_folder import import_folder
from fleetbench.workshop.tickets.service_plan import service_plan
from tests.workshop.small_folder import small_rows, write_folder


@pytest.fixture
def workplace(sqlite_database: Database, clock: Any) -> Workplace:
    return Workplace(sqlite_database, clock)


def plan(folder: Path, **changed: str) -> tuple[Path, str]:
    """The small folder with a plan of one task; the unit type's code."""
    rows = small_rows()
    code = rows["unit_types"][0]["code"]
    task = {"record": "S1", "unit_type": code, "ordinal": "1", "text": "Seals changed", "basis": "months",
            "amount": "12", "minutes": "60", "roles": "technician", "second_person": "yes", "critical": "yes",
            "source": "invented manual"}  # fmt: skip
    rows["service_tasks"] = [{**task, **changed}]
    return write_folder(folder, rows), code


@pytest.mark.parametrize(
    ("changed", "column"),
    [({"amount": ""}, "amount"), ({"basis": "hand-back"}, "amount"), ({"basis": "weekly"}, "basis"),
     ({"amount": "1.5"}, "amount"), ({"source": " "}, "source")],
)  # fmt: skip
def test_a_task_that_cannot_be_calculated_is_a_fault_of_its_row(
    workplace: Workplace, tmp_path: Path, changed: dict[str, str], column: str
) -> None:
    folder, _ = plan(tmp_path / "in", **changed)
    found = [(fault.sheet, fault.column) for fault in import_folder(workplace, folder).faults]
    assert found == [("service_tasks", column)]


def test_a_plan_comes_in_and_goes_out_again_as_it_was(workplace: Workplace, tmp_path: Path) -> None:
    folder, code = plan(tmp_path / "in")
    assert import_folder(workplace, folder).faults == ()
    (task,) = service_plan(workplace, code)
    assert (task.task.describe(), task.task.second_person, task.minutes) == ("every 12 months", True, 60)
    export_folder(workplace, tmp_path / "out")
    with (tmp_path / "out" / "service_tasks.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [(row["record"], row["text"], row["basis"], float(row["amount"])) for row in rows] == [
        ("S1", "Seals changed", "months", 12.0)
    ]
