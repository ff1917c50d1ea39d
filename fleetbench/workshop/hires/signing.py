"""Pages of a booking: their language and hour of return, who signed them, and each page as it was signed."""

import hashlib
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from fleetbench.calc.core.languages import ENGLISH, LANGUAGES, say
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.core.transaction import Transaction, last_entry
from fleetbench.records.hires.lookups import (
    KeptPage,
    booking_by_code,
    drawings_of,
    lines_of,
    signatures_on,
    signed_pages_on,
)
from fleetbench.records.hires.tables import PARTIES, SheetSignature, SignatureDrawing, SignedPage
from fleetbench.records.tickets.photographs import PDF, keep_file, photograph_folder, read_file
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.core.workplace import Workplace, one_word, require_person, with_theirs

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
    of_other_days: bool = False
    state: str | None = None


@dataclass(frozen=True, slots=True)
class PageToSign:
    """The page that is signed: what it states as SHA-256, how it is drawn with the new signature, and the journal's
    last entry when it was shown.
    """

    state: str
    draw: Callable[[Signed], bytes]
    seen: int


def sign_sheet(
    workplace: Workplace,
    code: str,
    tag: str,
    party: str,
    strokes: tuple[Stroke, ...] = (),
    page: PageToSign | None = None,
) -> int:
    """The key of the signature under the sheet of one unit on a booking; without strokes it was signed on paper.

    party: `diver` or `centre`. A newer signature of the same party stands above an older one, which stays on record.
    The page is kept as it was signed, its file before its record. Raises Refused for a drawing that is no signature,
    for a unit that has not left on the booking, and where anything was recorded since the page was shown.
    """
    person = require_person(workplace)
    one_word("party", party, PARTIES)
    drawn = as_text(strokes) if strokes else None
    with workplace.transaction("sign sheet", f"unit {tag}") as act:
        booking, unit = booking_by_code(act.session, code), unit_by_tag(act.session, tag)
        line = next((each for each in lines_of(act.session, booking.id) if each.unit_id == unit.id), None)
        if line is None:
            raise NotFound(
                say("unit {tag}: is not on booking {code}; choose one of its units", tag=unit.tag, code=booking.code)
            )
        if line.out_at is None:
            raise Refused(say("unit {tag}: has not left yet; hand it over first, then sign its sheet", tag=unit.tag))
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
        if page is not None:
            _keep_page(act, workplace, row, page, strokes)
        return row.id


def _keep_page(
    act: Transaction, workplace: Workplace, row: SheetSignature, page: PageToSign, strokes: tuple[Stroke, ...]
) -> None:
    if last_entry(act.session).number != page.seen:
        raise Refused(say("page: something was recorded since it was shown; look at it again, then sign"))
    folder = photograph_folder(workplace.database.path)
    data = page.draw(Signed(row.party, row.how, act.at, strokes, state=page.state))
    digest = keep_file(folder, data, PDF)
    act.add(SignedPage(sheet_signature_id=row.id, sha256=digest, size=len(data), state=page.state))


def signed_page(workplace: Workplace, page: KeptPage) -> bytes:
    """The PDF as it was signed; Refused where its file is missing or was changed."""
    return read_file(photograph_folder(workplace.database.path), page.sha256, PDF)


def signatures(workplace: Workplace, line_id: int) -> tuple[Signed, ...]:
    """The signatures that stand under the sheet of a booking's line, the diver's first; three statements.

    A drawing that no longer matches what was signed is left out, as if it were erased.
    """
    with workplace.database.reading() as connection:
        rows = signatures_on(connection, line_id)
        drawings = drawings_of(connection, [key for key, *_ in rows])
        states = {each.signature_id: each.state for each in signed_pages_on(connection, [line_id])}
    last: dict[str, Signed] = {}
    for key, party, how, at, digest in rows:
        text = drawings.get(key, "")
        strokes = as_strokes(text) if text and digest_of(text) == digest else ()
        last[party] = Signed(party, how, at, strokes, state=states.get(key))
    return tuple(last[party] for party in PARTIES if party in last)


def as_text(strokes: tuple[Stroke, ...]) -> str:
    """Strokes as they are kept: points `x,y` with blanks between, strokes with semicolons; Refused for no signature."""
    points = sum(map(len, strokes))
    if points < LEAST_POINTS:
        raise Refused(say("signature: is hardly more than a dot; sign again, or sign on paper"))
    if points > MOST_POINTS:
        raise Refused(say("signature: has too many strokes; clear it and sign again"))
    if any(not (0 <= x <= WIDE and 0 <= y <= HIGH) for stroke in strokes for x, y in stroke):
        raise Refused(say("signature: leaves its box; clear it and sign again"))
    return ";".join(" ".join(f"{x},{y}" for x, y in stroke) for stroke in strokes if stroke)


def as_strokes(text: str) -> tuple[Stroke, ...]:
    """The strokes that `as_text` wrote."""
    return tuple(
        tuple((int(x), int(y)) for x, y in (point.split(",") for point in stroke.split())) for stroke in text.split(";")
    )


def digest_of(text: str) -> str:
    """SHA-256 of a drawing as it is kept, in hexadecimal."""
    return hashlib.sha256(text.encode()).hexdigest()


_HOUR = re.compile(r"([01]?\d|2[0-3])[:.]([0-5]\d)")


def set_page_terms(
    workplace: Workplace, code: str, language: str, back_by: str = "", seen: Mapping[str, Any] | None = None
) -> str:
    """What is agreed now, in words; back_by: an hour as 17:00, empty where none is agreed.

    seen: both as the user saw them; what another desk saved since stays, and Clash is raised where both changed one.
    Pages that are signed stay as they were signed. Raises Refused for an unknown language and for what is no hour.
    """
    require_person(workplace)
    one_word("language", language, tuple(LANGUAGES))
    hour = _hour(back_by)
    with workplace.transaction("set page terms", f"booking {code}") as act:
        booking = booking_by_code(act.session, code)
        mine: dict[str, Any] = {"language": language, "back_by": hour}
        now = {"language": booking.language or ENGLISH, "back_by": booking.back_by}
        mine = with_theirs(
            say("booking {code}", code=code), mine, seen, now, {"language": ("language",), "return by": ("back_by",)}
        )
        act.change(booking, **mine)
    agreed = say("by {back_by}", back_by=mine["back_by"]) if mine["back_by"] else say("hour not agreed")
    return say(
        "{code}: pages in {language}, return {agreed}.", code=code, language=LANGUAGES[mine["language"]], agreed=agreed
    )


def _hour(text: str) -> str | None:
    if not text.strip():
        return None
    found = _HOUR.fullmatch(text.strip())
    if found is None:
        raise Refused(
            say("return by: {text!r} is no hour; write it as 17:00, or leave it empty", text=text.strip()[:10])
        )
    return f"{int(found[1]):02d}:{found[2]}"
