"""An invented centre's spreadsheets as people keep them, made from a seed, with what is true of each unit beside them.

The mess is invented; that lists look so is common practice, no published source.
"""

import csv
import random
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from xml.sax.saxutils import escape

Truth = dict[str, dict[str, str | None]]
"""By unit tag: what must be recorded; None is not known."""


@dataclass
class Messy:
    """A file, what is true, and how many cells cannot be read as they stand."""

    path: Path
    truth: Truth
    unreadable: int = 0
    notes: dict[str, str] = field(default_factory=dict)


def fleet(seed: int, units: int = 9) -> Truth:
    """What is true of an invented fleet."""
    chance = random.Random(seed)
    day = date(2023, 1, 1)
    return {
        f"R{n}": {
            "type": "Type A" if n % 3 else "Type B", "serial": f"{chance.randrange(1000, 9999)}-{n}",
            "since": str(day + timedelta(days=chance.randrange(700))), "place": f"Shelf {n % 2 + 1}",
            **{f"cell {c} serial": f"C{seed}{n}{c}" for c in (1, 2, 3)},
            **{f"cell {c} lot": f"L{chance.randrange(3)}" for c in (1, 2, 3)},
            **{f"cell {c} made": f"2025-{chance.randrange(1, 13):02}" for c in (1, 2, 3)},
        }
        for n in range(1, units + 1)
    }  # fmt: skip


def merged_headers(folder: Path, seed: int) -> Messy:
    """An XLSX with a title, two rows of merged names, dates as text, and a sum below."""
    from openpyxl import Workbook

    truth = fleet(seed)
    chance = random.Random(seed + 1)
    book = Workbook()
    sheet = book.active
    sheet.append(["Rebreathers of the centre"])
    sheet.append([])
    sheet.append(
        [
            "Unit",
            "Model",
            "S/N",
            "Bought",
            "Shelf",
            *(f"Cell {c}" if not k else None for c in (1, 2, 3) for k in range(3)),
            "Remarks",
        ]
    )
    sheet.append([None, None, None, None, None, *("S/N", "Lot", "Made") * 3, None])
    for first in (6, 9, 12):
        sheet.merge_cells(start_row=3, end_row=3, start_column=first, end_column=first + 2)
    wrong = 0
    for tag, said in truth.items():
        made = [_month(chance, said[f"cell {c} made"] or "") for c in (1, 2, 3)]
        if tag == "R4":
            made[1], wrong = "31.02." + (said["cell 2 made"] or "")[:4], wrong + 1
            said["cell 2 made"] = (said["cell 2 made"] or "")[:4] + "-02"
        if tag == "R7":
            made[2], wrong = "?? maybe spring", wrong + 1
            said["cell 3 made"] = None
        cells = [
            text
            for c, when in zip((1, 2, 3), made, strict=True)
            for text in (said[f"cell {c} serial"], said[f"cell {c} lot"], when)
        ]
        sheet.append(
            [tag, said["type"], said["serial"], _german(said["since"] or ""), said["place"], *cells, "=1+1 hose new"]
        )
    sheet.append(["Total 9"])
    path = folder / "fleet 2026.xlsx"
    book.save(path)
    return Messy(path, truth, wrong)


def semicolons(folder: Path, seed: int) -> Messy:
    """A CSV of cylinders, divided by semicolons, decimal commas, cp1252, with a title line."""
    chance = random.Random(seed)
    truth: Truth = {}
    lines = [["Flaschen der Station – Stand März", "", "", "", "", ""], []]
    lines.append(["Flasche Nr.", "Gas", "Größe (l)", "Druck (bar)", "TÜV", "Standort"])
    for n in range(1, 13):
        size = chance.choice((2.0, 3.0, 1.5))
        tested = date(2024, 1, 1) + timedelta(days=chance.randrange(500))
        truth[f"T{n:03}"] = {
            "role": "oxygen" if n % 2 else "diluent",
            "size": str(size),
            "tested": str(tested),
            "place": "Prüfraum",
        }
        lines.append([f"T{n:03}", "O2" if n % 2 else "Luft", f"{size:.1f}".replace(".", ","), "200,0",
                      f"{tested:%d.%m.%Y}", "Prüfraum"])  # fmt: skip
    lines[6][2] = "drei"
    truth["T004"]["size"] = "3.0"
    path = folder / "flaschen.csv"
    with path.open("w", encoding="cp1252", newline="") as file:
        csv.writer(file, delimiter=";").writerows(lines)
    return Messy(path, truth, 1)


def bookings(folder: Path, seed: int, name: str = "buchungen.csv") -> Messy:
    """A CSV of bookings, divided by semicolons, cp1252, with a title line, and one day that no calendar has.

    The truth by renter: first and last day, units wanted.
    """
    chance = random.Random(seed)
    truth: Truth = {}
    lines = [["Buchungen Sommer – Stand März", "", "", "", ""], [], ["Kunde", "Von", "Bis", "Anzahl", "Modell"]]
    for n, renter in enumerate(("Jörg Åberg", "Lea Nuß", "Tomé Ruiz", "Ada Fjord", "Ian Möwe"), 1):
        first = date(2026, 7, 1) + timedelta(days=7 * n)
        last = first + timedelta(days=chance.randrange(1, 5))
        truth[renter] = {"from": str(first), "to": str(last), "units": str(chance.randrange(1, 4))}
        lines.append([renter, f"{first:%d.%m.%Y}", f"{last:%d.%m.%Y}", str(truth[renter]["units"]), "Type A"])
    lines[5][2] = "31.06.2026"
    path = folder / name
    with path.open("w", encoding="cp1252", newline="") as file:
        csv.writer(file, delimiter=";").writerows(lines)
    return Messy(path, truth, 1)


def half_unknown(folder: Path, seed: int) -> Messy:
    """An ODS in which half of all fields but the tag are not known."""
    truth = fleet(seed)
    chance = random.Random(seed + 2)
    names = [
        "Unit",
        "Type",
        "Serial",
        "In service",
        "Place",
        *(f"Cell {c} {k}" for c in (1, 2, 3) for k in ("serial", "lot", "made")),
    ]
    rows = [names]
    keys = [
        "type",
        "serial",
        "since",
        "place",
        *(f"cell {c} {k}" for c in (1, 2, 3) for k in ("serial", "lot", "made")),
    ]
    for tag, said in truth.items():
        row = [tag]
        for key in keys:
            if chance.random() < 0.5:
                said[key] = None
                row.append(chance.choice(("", "?", "unknown", "n/a", "-")))
            else:
                text = said[key] or ""
                row.append(text[:4] if key == "since" else text)
                said[key] = text[:4] if key == "since" else text
        rows.append(row)
    path = folder / "from the whiteboard.ods"
    _ods(path, rows)
    return Messy(path, truth)


def _ods(path: Path, rows: list[list[str]]) -> None:
    """A minimal OpenDocument spreadsheet (ISO/IEC 26300-1, 3.2): texts alone."""
    cell = '<table:table-cell office:value-type="string"><text:p>{}</text:p></table:table-cell>'
    lines = "".join(
        f"<table:table-row>{''.join(cell.format(escape(text)) for text in row)}</table:table-row>" for row in rows
    )
    names = "urn:oasis:names:tc:opendocument:xmlns:"
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content xmlns:office="{names}office:1.0" '
        f'xmlns:table="{names}table:1.0" xmlns:text="{names}text:1.0" office:version="1.2"><office:body>'
        f'<office:spreadsheet><table:table table:name="Board">{lines}</table:table></office:spreadsheet>'
        "</office:body></office:document-content>"
    )
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    manifest = (
        f'<?xml version="1.0"?><manifest:manifest xmlns:manifest="{names}manifest:1.0"><manifest:file-entry '
        f'manifest:full-path="/" manifest:media-type="{kind}"/><manifest:file-entry manifest:full-path="content.xml" '
        'manifest:media-type="text/xml"/></manifest:manifest>'
    )
    with zipfile.ZipFile(path, "w") as book:
        book.writestr("mimetype", kind)
        book.writestr("content.xml", content)
        book.writestr("META-INF/manifest.xml", manifest)


def _german(day: str) -> str:
    return f"{day[8:]}.{day[5:7]}.{day[:4]}"


def _month(chance: random.Random, month: str) -> str:
    names = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
    forms: tuple[Callable[[], str], ...] = (
        lambda: f"{names[int(month[5:]) - 1]} {month[:4]}", lambda: f"{month[5:]}/{month[:4]}", lambda: month,
        lambda: f"{names[int(month[5:]) - 1]}-{month[2:4]}",
    )  # fmt: skip
    return chance.choice(forms)()
