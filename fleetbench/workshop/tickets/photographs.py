"""Photographs under a ticket: taken in from a file, made small, freed of all that a camera writes beside them."""

import io
import warnings
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from fleetbench.records.core.errors import Refused
from fleetbench.records.core.plain_file import plain_bytes
from fleetbench.records.tickets.photographs import Photograph, keep_file, photograph_folder, read_file
from fleetbench.records.tickets.reads import read_photographs
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
    # it is needed where a picture is taken in only, and costs the start of the window
    from PIL import Image, ImageOps

    if len(data) > MOST_BYTES_IN:
        raise Refused(f"photograph: the file is over {MOST_BYTES_IN // 1024 // 1024} MB; save it smaller")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(data), formats=FORMATS) as opened:
                if max(opened.size) > LONGEST_SIDE_IN:  # each row costs its own place in memory
                    raise Refused(f"photograph: a side is over {LONGEST_SIDE_IN:,} pixels; save it smaller")
                if opened.width * opened.height > MOST_PIXELS_IN:
                    raise Refused(f"photograph: is over {MOST_PIXELS_IN // 1_000_000} million pixels; save it smaller")
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
        raise Refused("photograph: the file is no picture that can be read here; save it as JPEG or PNG") from fault
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
    try:
        data = plain_bytes(source, MOST_BYTES_IN, f"photograph: {source.name}")
    except OSError as fault:
        raise Refused(f"photograph: {source.name} cannot be read ({fault.strerror}); choose another file") from fault
    picture = encode(data)
    folder = photograph_folder(workplace.database.path)
    with workplace.transaction("add photograph", f"ticket {ticket_id}") as act:
        open_one(act, ticket_id)
        known = read_photographs(act.session.connection(), ticket_ids=(ticket_id,))
        if len(known) >= MOST_ON_A_TICKET:
            raise Refused(f"photograph: the ticket holds {MOST_ON_A_TICKET} already; open one that refers to it")
        digest = keep_file(folder, picture.data)
        if any(each.sha256 == digest for each in known):
            raise Refused("photograph: this one is kept under the ticket already")
        act.add(
            Photograph(
                ticket_id=ticket_id,
                at=act.at,
                person_id=workplace.person_id,
                sha256=digest,
                size=len(picture.data),
                wide=picture.wide,
                high=picture.high,
                caption=caption.strip()[:200],
            )
        )
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
