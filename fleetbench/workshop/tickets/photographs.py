"""Photographs of a ticket or beside a record: kept small, freed of all that a camera writes beside them."""

import io
import warnings
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fleetbench.calc.core.languages import reworded, say
from fleetbench.records.bench.tables import BenchTest
from fleetbench.records.cells.tables import Calibration
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.plain_file import plain_bytes
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.tickets.photographs import Photograph, keep_file, photograph_folder, read_file
from fleetbench.records.tickets.reads import PhotographRecord, read_photographs
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.core.workplace import Workplace, require_person
from fleetbench.workshop.tickets.work import open_one

FORMATS = ("JPEG", "PNG", "WEBP", "BMP", "TIFF")
MOST_BYTES_IN = 40 * 1024 * 1024
MOST_PIXELS_IN, LONGEST_SIDE_IN = 50_000_000, 30_000
LONGEST_SIDE = 1600
"""Pixels: enough to see a scratch on a valve seat, small enough for thousands of tickets."""

MOST_BYTES_KEPT = 700 * 1024
MOST_ON_A_TICKET = 30
QUALITIES = (85, 75, 65, 50, 35)


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture as it is kept: JPEG bytes and its size in pixels."""

    data: bytes
    wide: int
    high: int


def encode(data: bytes) -> Picture:
    """The picture drawn anew as a small upright JPEG: place, camera, time and comments of the file are left behind.

    Size and kind are told from the file's header before anything is decoded, and it is made small before it is turned
    and its colours are changed, so that no more than one picture of full size is ever held. Raises Refused for what is
    no picture, too large, or of a kind that is not read here.
    """
    # it is needed where a picture is kept only, and costs the start of the window
    from PIL import Image, ImageOps

    if len(data) > MOST_BYTES_IN:
        raise Refused(
            say("photograph: the file is over {most} MB; save it smaller", most=MOST_BYTES_IN // 1024 // 1024)
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(data), formats=FORMATS) as opened:
                if max(opened.size) > LONGEST_SIDE_IN:  # each row costs its own place in memory
                    raise Refused(
                        say("photograph: a side is over {most:,} pixels; save it smaller", most=LONGEST_SIDE_IN)
                    )
                if opened.width * opened.height > MOST_PIXELS_IN:
                    raise Refused(
                        say(
                            "photograph: is over {most} million pixels; save it smaller", most=MOST_PIXELS_IN // 1000000
                        )
                    )
                # shades of a palette cannot be mixed
                small = opened.convert("RGBA") if opened.mode == "P" else opened
                small.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
                upright = ImageOps.exif_transpose(small)
                bare = Image.new("RGB", upright.size, "white")
                drawn = upright.convert("RGBA")
                bare.paste(drawn, mask=drawn.getchannel("A"))
    except Refused:
        raise
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError, Image.DecompressionBombWarning) as fault:
        raise Refused(
            say("photograph: the file is no picture that can be read here; save it as JPEG or PNG")
        ) from fault
    while True:
        for quality in QUALITIES:
            stream = io.BytesIO()
            bare.save(stream, "JPEG", quality=quality, optimize=True)
            if stream.tell() <= MOST_BYTES_KEPT:
                return Picture(stream.getvalue(), bare.width, bare.height)
        bare.thumbnail((bare.width // 2, bare.height // 2))


def add_photograph(workplace: Workplace, ticket_id: int, source: Path, caption: str = "") -> str:
    """The SHA-256 of a photograph kept under an open ticket; its caption must name nobody, since it stays.

    The file is written before the record, so that no record ever lacks its picture.
    """
    require_person(workplace)
    picture = encode(_bytes_of(source))
    with workplace.transaction("add photograph", f"ticket {ticket_id}") as act:
        open_one(act, ticket_id)
        known = read_photographs(act.session.connection(), ticket_ids=(ticket_id,))
        return _keep(act, workplace, picture, known, say("the ticket"), ticket_id=ticket_id, caption=caption)


def photograph_record(workplace: Workplace, made: str, key: int, source: Path | bytes) -> str:
    """The SHA-256 of a photograph kept beside a calibration or a bench test, as evidence of what was typed.

    made: `calibration` or `bench test`. source: a file, or the bytes of a picture that was pasted.
    """
    require_person(workplace)
    picture = encode(source if isinstance(source, bytes) else _bytes_of(source))
    with workplace.transaction("add photograph", f"{made} {key}") as act:
        row = act.get(OF_RECORDS[made], key, made)
        unit = act.session.get_one(Unit, row.unit_id)
        column = f"{made.replace(' ', '_')}_id"
        of_unit = read_photographs(act.session.connection(), unit_id=unit.id)
        known = [each for each in of_unit if getattr(each, column) == key]
        words = _caption(row, unit)
        return _keep(act, workplace, picture, known, OF_RECORDS_WORDS[made], caption=words, **{column: key})


def hold_photograph(workplace: Workplace, source: Path | bytes) -> str:
    """The SHA-256 of a photograph of what is not recorded yet: its file alone is kept until the record names it."""
    require_person(workplace)
    picture = encode(source if isinstance(source, bytes) else _bytes_of(source))
    return keep_file(photograph_folder(workplace.database.path), picture.data)


def keep_beside(
    act: Transaction, workplace: Workplace, made: str, row: Calibration | BenchTest, digests: Iterable[str]
) -> None:
    """Keep photographs that were held beside a record, within the act that makes it.

    Where it takes another's place, that one's photographs stand beside it from now on. Refused where a file is gone.
    """
    column, known = f"{made.replace(' ', '_')}_id", list[PhotographRecord]()
    if row.supersedes_id is not None:
        of_unit = read_photographs(act.session.connection(), unit_id=row.unit_id)
        known = [each for each in of_unit if getattr(each, column) == row.supersedes_id]
        for each in known:
            act.change(act.get(Photograph, each.photograph_id, "photograph"), **{column: row.id})
    told = dict.fromkeys(digests)
    if told:
        words = _caption(row, act.session.get_one(Unit, row.unit_id))
        for digest in (each for each in told if all(each != kept.sha256 for kept in known)):
            _keep(
                act, workplace, _held(workplace, digest), (), OF_RECORDS_WORDS[made], caption=words, **{column: row.id}
            )


def _caption(row: Calibration | BenchTest, unit: Unit) -> str:
    """'Calibration of LK-01', 'Loop negative of LK-01'."""
    return say(
        "{kind} of {tag}",
        kind=reworded(row.kind.capitalize(), row.kind) if isinstance(row, BenchTest) else say("Calibration"),
        tag=unit.tag,
    )


def _held(workplace: Workplace, digest: str) -> Picture:
    from PIL import Image  # as in `encode`

    try:
        data = photograph_bytes(workplace, digest)
        with Image.open(io.BytesIO(data), formats=("JPEG",)) as opened:
            return Picture(data, *opened.size)
    except (Refused, OSError) as fault:
        raise Refused(
            say("photograph: one that was taken is missing or was changed; remove it from the page, or take it again")
        ) from fault


def photographs_beside(
    workplace: Workplace, *, tag: str | None = None, part_id: int | None = None
) -> tuple[tuple[PhotographRecord, bytes | None], ...]:
    """Photographs beside what was recorded of a unit or of a part, newest first, MOST_SHOWN at most.

    The picture is None where its file is missing or was changed.
    """
    with workplace.database.read_session() as session:
        unit_id = unit_by_tag(session, tag).id if tag is not None else None
        found = read_photographs(session.connection(), unit_id=unit_id, part_id=part_id)
    newest = found[: -MOST_SHOWN - 1 : -1]
    pictures = pictures_of(workplace, (each.sha256 for each in newest))
    return tuple((each, pictures.get(each.sha256)) for each in newest)


MOST_SHOWN = 12
"""Photographs on the page of a thing; the evidence folder has all."""

OF_RECORDS: dict[str, type[Calibration] | type[BenchTest]] = {"calibration": Calibration, "bench test": BenchTest}
"""What a photograph can stand beside."""
OF_RECORDS_WORDS = {"calibration": say("the calibration"), "bench test": say("the bench test")}


def _bytes_of(source: Path) -> bytes:
    try:
        return plain_bytes(source, MOST_BYTES_IN, say("photograph: {file}", file=source.name))
    except OSError as fault:
        raise Refused(
            say(
                "photograph: {file} cannot be read ({fault}); choose another file",
                file=source.name,
                fault=fault.strerror,
            )
        ) from fault


def _keep(
    act: Transaction, workplace: Workplace, picture: Picture, known: Sequence[PhotographRecord], where: str, **of: Any
) -> str:
    if len(known) >= MOST_ON_A_TICKET:
        raise Refused(
            say(
                "photograph: {where} holds {most} already; open a ticket that refers to it",
                where=where,
                most=MOST_ON_A_TICKET,
            )
        )
    digest = keep_file(photograph_folder(workplace.database.path), picture.data)
    if any(each.sha256 == digest for each in known):
        raise Refused(say("photograph: this one is kept under {where} already", where=where))
    row = Photograph(
        at=act.at, person_id=workplace.person_id, sha256=digest, size=len(picture.data), wide=picture.wide,
        high=picture.high, **{**of, "caption": of["caption"].strip()[:200]},
    )  # fmt: skip
    act.add(row)
    return digest


def photograph_bytes(workplace: Workplace, digest: str) -> bytes:
    """The picture of that SHA-256 as JPEG; Refused where its file is missing or was changed."""
    return read_file(photograph_folder(workplace.database.path), digest)


def pictures_of(workplace: Workplace, digests: Iterable[str]) -> dict[str, bytes]:
    """The pictures by SHA-256, without those whose file is missing or was changed."""
    found: dict[str, bytes] = {}
    for digest in digests:
        with suppress(Refused):
            found[digest] = photograph_bytes(workplace, digest)
    return found
