"""Hand-over sheets signed, on paper or drawn: that one was signed is kept for good, its drawing can be erased."""

import hashlib
from dataclasses import dataclass
from datetime import datetime

from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.hires.lookups import booking_by_code, drawings_of, lines_of, signatures_on
from fleetbench.records.hires.tables import SheetSignature, SignatureDrawing
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.core.figures import one_word
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.tickets.work import somebody

PARTIES, WAYS = ("diver", "centre"), ("drawn", "paper")
WIDE, HIGH = 1000, 300
"""The box in which a signature is drawn, in its own steps; a page scales it."""

MOST_POINTS = 4000
LEAST_POINTS = 4

Stroke = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Signed:
    """One signature under a sheet; strokes are empty for paper and for a drawing that was erased."""

    party: str
    how: str
    at: datetime
    strokes: tuple[Stroke, ...] = ()


def sign_sheet(shop: Shop, code: str, tag: str, party: str, strokes: tuple[Stroke, ...] = ()) -> int:
    """The key of the signature under the sheet of one unit on a booking; without strokes it was signed on paper.

    party: `diver` or `centre`. A newer signature of the same party stands above an older one, which stays on record.
    Raises Refused for a drawing that is no signature, and for a unit that has not left on the booking.
    """
    person = somebody(shop)
    one_word("party", party, PARTIES)
    drawn = as_text(strokes) if strokes else None
    with shop.acting("sign sheet", f"unit {tag}") as act:
        booking, unit = booking_by_code(act.session, code), unit_by_tag(act.session, tag)
        line = next((each for each in lines_of(act.session, booking.id) if each.unit_id == unit.id), None)
        if line is None:
            raise NotFound(f"unit {unit.tag}: is not on booking {booking.code}; choose one of its units")
        if line.out_at is None:
            raise Refused(f"unit {unit.tag}: has not left yet; hand it over first, then sign its sheet")
        row = act.add(
            SheetSignature(
                booking_unit_id=line.id,
                party=party,
                how="drawn" if drawn else "paper",
                at=act.at,
                person_id=person,
                digest=digest_of(drawn) if drawn else None,
            )
        )
        if drawn:
            act.add(SignatureDrawing(sheet_signature_id=row.id, strokes=drawn))
        return row.id


def signatures(shop: Shop, line_id: int) -> tuple[Signed, ...]:
    """The signatures that stand under the sheet of a booking's line, the diver's first; two statements.

    A drawing that no longer matches what was signed is left out, as if it were erased.
    """
    with shop.database.reading() as connection:
        rows = signatures_on(connection, line_id)
        drawings = drawings_of(connection, [key for key, *_ in rows])
    last: dict[str, Signed] = {}
    for key, party, how, at, digest in rows:
        text = drawings.get(key, "")
        last[party] = Signed(party, how, at, as_strokes(text) if text and digest_of(text) == digest else ())
    return tuple(last[party] for party in PARTIES if party in last)


def as_text(strokes: tuple[Stroke, ...]) -> str:
    """Strokes as they are kept: points `x,y` with blanks between, strokes with semicolons; Refused for no signature."""
    points = sum(map(len, strokes))
    if points < LEAST_POINTS:
        raise Refused("signature: is hardly more than a dot; sign again, or sign on paper")
    if points > MOST_POINTS:
        raise Refused("signature: has too many strokes; clear it and sign again")
    if any(not (0 <= x <= WIDE and 0 <= y <= HIGH) for stroke in strokes for x, y in stroke):
        raise Refused("signature: leaves its box; clear it and sign again")
    return ";".join(" ".join(f"{x},{y}" for x, y in stroke) for stroke in strokes if stroke)


def as_strokes(text: str) -> tuple[Stroke, ...]:
    """The strokes that `as_text` wrote."""
    return tuple(
        tuple((int(x), int(y)) for x, y in (point.split(",") for point in stroke.split())) for stroke in text.split(";")
    )


def digest_of(text: str) -> str:
    """SHA-256 of a drawing as it is kept, in hexadecimal."""
    return hashlib.sha256(text.encode()).hexdigest()
