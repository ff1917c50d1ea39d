"""Names, notes, PINs and drawings get a salt, and one entry of the journal binds those that stand already.

Revision 0020, after 0019.
"""

import hashlib
import json
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from secrets import token_hex
from typing import Any

import sqlalchemy as sa
from alembic import op

revision: str = "0020"
down_revision: str | Sequence[str] | None = "0019"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

_BOUND = {
    "hire_note": (sa.column("booking_unit_id"), sa.column("at", sa.DateTime(timezone=True)), sa.column("text")),
    "person_pin": (sa.column("person_id"), sa.column("pin_hash")),
    "person_private": (sa.column("person_id"), sa.column("name"), sa.column("contact"), sa.column("note")),
    "signature_drawing": (sa.column("sheet_signature_id"), sa.column("strokes")),
}
_JOURNAL = sa.table(
    "journal", sa.column("id"), sa.column("at", sa.DateTime(timezone=True)), sa.column("person_id"), sa.column("act"),
    sa.column("subject"), sa.column("content"), sa.column("previous"), sa.column("hash"),
)  # fmt: skip
_AHEAD = timedelta(days=200)


def upgrade() -> None:
    """Give every erasable row a salt, and write the entry that binds them, where there are any."""
    bound: list[list[Any]] = []
    for table, columns in _BOUND.items():
        with op.batch_alter_table(table) as batch_op:
            batch_op.add_column(sa.Column("salt", sa.String(length=32), nullable=True))
        bound += _salt(sa.table(table, sa.column("id"), sa.column("salt"), *columns))
        with op.batch_alter_table(table) as batch_op:
            batch_op.alter_column("salt", existing_type=sa.String(length=32), nullable=False)
    if bound:
        _enter(bound)


def _salt(table: sa.TableClause) -> list[list[Any]]:
    bound: list[list[Any]] = []
    for row in op.get_bind().execute(sa.select(table).order_by(table.c.id)).mappings().all():
        salted = {**row, "salt": token_hex(16)}
        op.execute(sa.update(table).where(table.c.id == row["id"]).values(salt=salted["salt"]))
        said = {name: _moment(value) if isinstance(value, datetime) else value for name, value in salted.items()}
        text = json.dumps([table.name, said], sort_keys=True, separators=(",", ":"))
        bound.append([table.name, row["id"], hashlib.sha256(text.encode()).hexdigest()])
    return bound


def _enter(bound: list[list[Any]]) -> None:
    last = op.get_bind().execute(sa.select(_JOURNAL).order_by(_JOURNAL.c.id.desc()).limit(1)).mappings().first()
    number, previous = (last["id"] + 1, last["hash"]) if last is not None else (1, "0" * 64)
    entry: dict[str, Any] = {
        "id": number, "at": _after(last["at"] if last is not None else None), "person_id": None,
        "act": "bind what can be erased", "subject": "upgrade", "previous": previous,
        "content": _plain({"bound": bound, "rows": []}),
    }  # fmt: skip
    head = [number, _moment(entry["at"]), None, entry["act"], entry["subject"], previous]
    digest = hashlib.sha256(_plain(head).encode() + b"\n" + entry["content"].encode()).hexdigest()
    on_file = op.get_bind().dialect.name == "sqlite"
    at = entry["at"].replace(tzinfo=None) if on_file else entry["at"]
    op.execute(sa.insert(_JOURNAL).values(**{**entry, "at": at, "hash": digest}))


def _after(last: datetime | None) -> datetime:
    """Now, where the clock runs on from the last entry; else that entry's time, since one of the two must be wrong."""
    now = datetime.now(UTC)
    if last is None:
        return now
    last = last.replace(tzinfo=UTC) if last.tzinfo is None else last.astimezone(UTC)
    return now if last <= now <= last + _AHEAD else last


def _moment(value: datetime) -> str:
    utc = value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)
    return utc.strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def _plain(content: Any) -> str:
    return json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
