"""What is hidden in the readings of the invented centre, calibration by calibration: the answers to its own riddle.

A flaw stands at the first workshop calibration whose readings show it; one above 1 bar only where the pot was used.
"""

import csv
from collections.abc import Iterator
from pathlib import Path

from tests.fleet_maker.centre import Centre
from tests.fleet_maker.sensing import Shot, day_number

FOLDER, FILE = "answers", "readings.csv"
HEADER = ["calibration", "unit", "slot", "cell", "flaw"]
SLOTS = ("cell 1", "cell 2", "cell 3")


def hidden(centre: Centre) -> list[list[str]]:
    """One row a flaw and cell, in the order of the calibrations."""
    units = {row["record"]: row["unit"] for row in centre.sheets.rows["calibrations"] if row["made"] == "workshop"}
    told: set[int] = set()
    rows = []
    for shot in sorted(centre.shots, key=lambda each: (each.at, each.record)):
        if shot.record in units:
            for place, flaw in (*_of_the_head(shot), *_of_cells(centre, shot, told)):
                cell = centre.cells[shot.cells[place]].part
                rows.append([shot.record, units[shot.record], SLOTS[place], cell, flaw])
    return rows


def _of_the_head(shot: Shot) -> Iterator[tuple[int, str]]:
    if shot.bad_contact is not None:
        yield shot.bad_contact[0], "bad contact"
    for flaw, there in (("not vented", shot.over_mbar > 0), ("short flush", shot.air_left > 0.003)):
        if there:
            yield from ((place, flaw) for place in range(len(shot.cells)))


def _of_cells(centre: Centre, shot: Shot, told: set[int]) -> Iterator[tuple[int, str]]:
    """Cells that fail, each at its first calibration since; where the head hides it nothing can be asked of one."""
    if shot.over_mbar > 0 or shot.air_left > 0.003:
        return
    shown = [
        place
        for place, cell in enumerate(centre.cells[number] for number in shot.cells)
        if shot.cells[place] not in told
        and cell.kind != "none"
        and cell.full_day <= day_number(shot.at)
        and (cell.kind != "current-limited" or shot.pot)
    ]
    told.update(shot.cells[place] for place in shown)
    kinds = {place: centre.cells[shot.cells[place]].kind for place in shown}
    together = len(shown) == len(shot.cells) and len(set(kinds.values())) == 1
    for place, kind in kinds.items():
        yield place, f"{kind}, all cells together" if together else kind


def write_answers(centre: Centre, folder: Path) -> Path:
    """Write them into a folder of their own beside the sheets."""
    path = folder / FOLDER / FILE
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows([HEADER, *hidden(centre)])
    return path
