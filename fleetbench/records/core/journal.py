"""The append-only journal: canonical text of every act, chained by SHA-256."""

import hashlib
import json
import math
import unicodedata
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import String, Text
from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.records.core.errors import Refused
from fleetbench.records.core.schema import Base, Key, to

FIRST_PREVIOUS = "0" * 64
"""What stands as the previous hash before the first entry."""

ALLOWED_CONTROLS = "\n\t"


class Journal(Base):
    """One act: who, when, what, on which subject, the facts, and the chain."""

    __tablename__ = "journal"
    id: Mapped[Key]
    at: Mapped[datetime] = mapped_column(index=True)
    person_id: Mapped[int | None] = to("person", nullable=True)
    act: Mapped[str] = mapped_column(String(60))
    subject: Mapped[str] = mapped_column(String(120), index=True)
    content: Mapped[str] = mapped_column(Text)
    previous: Mapped[str] = mapped_column(String(64))
    hash: Mapped[str] = mapped_column(String(64), unique=True)


def moment_text(value: datetime) -> str:
    """A moment as UTC text to the microsecond."""
    return value.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def clean_text(value: str) -> str:
    """The text in NFC; control characters other than new line and tab, and lone surrogates, are refused."""
    if value.isascii() and value.isprintable():
        return value
    text = unicodedata.normalize("NFC", value.replace("\r\n", "\n"))
    for char in text:
        if unicodedata.category(char) in ("Cc", "Cs") and char not in ALLOWED_CONTROLS:
            raise Refused(f"text: holds the control character U+{ord(char):04X}; take it out and enter it again")
    return text


def canonical(value: Any) -> Any:  # noqa: PLR0911 - one line a kind of value reads best
    """The value in the one form that is hashed: finite floats, Decimal and dates as text, NFC strings."""
    if isinstance(value, float):
        if not math.isfinite(value):
            raise Refused("figure: give a finite number")
        return value + 0.0
    if isinstance(value, str):
        return clean_text(value)
    if isinstance(value, datetime):
        return moment_text(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, dict):
        return {str(key): canonical(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [canonical(inner) for inner in value]
    return value


def canonical_text(content: Any) -> str:
    """Canonical JSON: sorted keys, no spaces, shortest float form, UTF-8 as it is."""
    return json.dumps(canonical(content), sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def entry_hash(
    number: int, at: datetime, person_id: int | None, act: str, subject: str, content: str, previous: str
) -> str:
    """SHA-256 over the previous hash and every field of the entry, as 64 hex digits."""
    head = canonical_text([number, moment_text(at), person_id, act, subject, previous])
    return hashlib.sha256(head.encode() + b"\n" + content.encode()).hexdigest()
