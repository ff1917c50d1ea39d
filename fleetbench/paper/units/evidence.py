"""The evidence folder of one unit: a PDF to read, every reading as CSV, and a manifest to hold them against."""

import csv
import hashlib
import io
import shutil
import tempfile
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

from fleetbench.paper.core import from_workshop
from fleetbench.paper.core.document import Heading, PageSize
from fleetbench.paper.core.flow import Block, Column, section, space, table, text_lines, write_flow
from fleetbench.paper.core.shapes import Letterhead
from fleetbench.paper.core.words import said
from fleetbench.paper.due.tables import neutral
from fleetbench.paper.tickets.photographs import photograph_blocks
from fleetbench.records.core.errors import Refused
from fleetbench.records.units.evidence_reads import Sheet
from fleetbench.records.upkeep.verify import journal_end
from fleetbench.workshop.core.centre import read_centre
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.units.evidence import Evidence, gather_evidence

MANIFEST = "manifest.txt"
_HISTORY = (Column("when", 16), Column("what", 14), Column("recorded", 50), Column("verdict", 9), Column("by", 11))


def write_evidence(shop: Shop, tag: str, first: date, last: date, folder: Path) -> tuple[Path, ...]:
    """The files of a new folder that holds what is recorded of a unit over the site's days, both inclusive."""
    evidence = gather_evidence(shop, tag, first, last)
    centre = read_centre(shop)
    number, digest = journal_end(shop.database)
    zone = shop.zone()
    head = from_workshop.letterhead(
        centre.name, shop.clock(), zone, telephone=centre.telephone, journal_entry=number or None, journal_hash=digest
    )
    return write_evidence_folder(evidence, head, zone, folder)


def write_evidence_folder(
    evidence: Evidence, head: Letterhead, zone: ZoneInfo, folder: Path, *, size: PageSize = PageSize.A4
) -> tuple[Path, ...]:
    """The files written, the manifest last; the folder appears whole or not at all.

    The manifest gives each file's SHA-256 (FIPS 180-4) before its name, and the journal's head. Raises Refused where
    the folder exists already, OSError as the system gives it.
    """
    if folder.exists():
        raise Refused(f"{folder.name}: exists already; choose a new folder, so that no evidence is overwritten")
    beside = Path(tempfile.mkdtemp(prefix=f".{folder.name[:40]}-", dir=folder.parent))
    try:
        _write_pdf(evidence, head, zone, beside / "evidence.pdf", size)
        for sheet in evidence.sheets:
            (beside / f"{sheet.name}.csv").write_bytes(_as_csv(sheet))
        for name, data in _pictures(evidence):
            (beside / name).write_bytes(data)
        names = sorted(path.name for path in beside.iterdir())
        (beside / MANIFEST).write_text(_manifest(evidence, beside, names), encoding="utf-8")
        beside.rename(folder)
    except BaseException:
        shutil.rmtree(beside, ignore_errors=True)
        raise
    return tuple(folder / name for name in (*names, MANIFEST))


def _manifest(evidence: Evidence, folder: Path, names: list[str]) -> str:
    lines = [f"{hashlib.sha256((folder / name).read_bytes()).hexdigest()}  {name}" for name in names]
    lines += [
        f"# unit {evidence.tag}, serial {evidence.serial}, {evidence.first} to {evidence.last}",
        f"# journal head {evidence.head}",
        f"# journal and records: {evidence.broken or 'no break found'}",
    ]
    return "\n".join(lines) + "\n"


def _pictures(evidence: Evidence) -> Iterator[tuple[str, bytes]]:
    """Each photograph under a name that tells its ticket; one whose file is missing is told on the page only."""
    for place, each in enumerate(evidence.photographs, start=1):
        if each.data is not None:
            yield f"photograph-{each.ticket}-{place:02d}-{each.line.sha256[:12]}.jpg", each.data


def _as_csv(sheet: Sheet) -> bytes:
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(sheet.columns)
    for row in sheet.rows:
        writer.writerow([neutral(cell) if isinstance(cell, str) else cell for cell in row])
    return stream.getvalue().encode("utf-8-sig")


def _write_pdf(evidence: Evidence, head: Letterhead, zone: ZoneInfo, target: Path, size: PageSize) -> None:
    record = f"{evidence.tag} {evidence.first} to {evidence.last}"
    heading = Heading(head, "Evidence", record, f"serial {evidence.serial}, {evidence.first} to {evidence.last}",
                      evidence.tag, "unit")  # fmt: skip
    wide = size.inner
    blocks: list[Block] = [section("Journal")]
    blocks += text_lines(f"Head, as `verify --head` reads it: {evidence.head}", wide)
    blocks += text_lines(f"Walk over chain and records: {evidence.broken or 'no break found'}", wide)
    blocks += [space(6), section("Files")]
    for sheet in evidence.sheets:
        blocks += text_lines(f"{sheet.name}.csv: {len(sheet.rows)} rows", wide)
    if evidence.photographs:
        blocks += text_lines(f"photograph-*.jpg: {len(evidence.photographs)} pictures", wide)
        lines = tuple(each.line for each in evidence.photographs)
        pictures = {each.line.sha256: each.data for each in evidence.photographs if each.data is not None}
        blocks += [space(6), *photograph_blocks(from_workshop.photograph_facts(lines, pictures, zone))]
    blocks += [space(6), section("What was done", f"{len(evidence.history)} records, oldest first")]
    rows = [
        (f"{line.at.astimezone(zone):%Y-%m-%d %H:%M}", line.kind, line.words, line.verdict or "", said(line.person))
        for line in evidence.history
    ]
    if rows:
        blocks += table(_HISTORY, rows, wide, 7.4, 5)
    else:
        blocks += text_lines("Nothing is recorded of this unit in these days.", wide)
    write_flow(blocks, heading, target, size)
