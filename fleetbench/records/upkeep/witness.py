"""Heads of the journal kept outside the database: signed lines in folders that the centre names; how to compare them.

A line is JSON: moment, database (the hash of its first entry), number and hash of the last entry, the desk's public
key, and its Ed25519 signature (RFC 8032) over the other fields. Lines are only ever added. The private key stays in the
desk's data folder; the fingerprint of the public one (SHA-256, 16 digits) stands on papers.
"""

import hashlib
import json
import os
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from fleetbench.calc.core.languages import say
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.journal import Journal, canonical_text, moment_text
from fleetbench.records.upkeep.verify import VerifyReport, head_of, verify

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

KEY_FILE = "desk.key"
PURPOSE = b"head of a journal\n"
"""Stands before what is signed, so that no other use of the key can be taken for a head."""

DIGITS = 16
LONGEST = 4096
"""Characters of a line; a longer one is none of ours."""

FIELDS = frozenset(("at", "database", "entry", "hash", "key", "signature"))


def desk_key(folder: Path) -> "Ed25519PrivateKey":
    """The desk's own key from its data folder, made on first use in a file for its owner alone.

    Raises Refused where the file cannot be read as a key, and OSError as the system gives it.
    """
    # A start of the window or the command line that signs nothing does not pay for this import.
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    path = folder / KEY_FILE
    if not path.exists():
        part = folder / f"{KEY_FILE}.{os.getpid()}.part"
        held = os.open(part, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
        with os.fdopen(held, "wb") as file:
            file.write(Ed25519PrivateKey.generate().private_bytes_raw().hex().encode())
            file.flush()
            os.fsync(file.fileno())
        with suppress(FileExistsError):  # another window of this desk was first
            os.link(part, path)
        part.unlink()
    try:
        return Ed25519PrivateKey.from_private_bytes(bytes.fromhex(path.read_text(encoding="ascii").strip()))
    except ValueError as fault:
        raise Refused(
            say("desk key: {name} is not a key; restore it, or remove it and note the new one", name=path.name)
        ) from fault


def desk_fingerprint(folder: Path) -> str | None:
    """The fingerprint of the desk's key, as papers print it; None where the desk has none yet, or it cannot be read."""
    if not (folder / KEY_FILE).exists():
        return None
    with suppress(OSError, Refused):
        return fingerprint(desk_key(folder).public_key().public_bytes_raw())
    return None


def fingerprint(public: bytes) -> str:
    """The first 16 digits of the SHA-256 of a public key."""
    return hashlib.sha256(public).hexdigest()[:DIGITS]


def keep_heads(
    database: Database, folders: Sequence[Path], desk: Path, at: datetime, *, daily: bool = False
) -> tuple[str, ...]:
    """Add the journal's head to each folder; a sentence for each that could not be written or knows better.

    daily: leave out a folder that has a line of this day; otherwise one that has this very head. Nothing is raised for
    a folder that is missing, full or write-protected, since no act may stop for it.
    """
    with database.reading() as connection:
        number, digest = head_of(connection)
        first = connection.scalar(select(Journal.hash).order_by(Journal.id).limit(1))
    if digest is None:
        return ()
    said = {"at": moment_text(at), "database": first, "entry": number, "hash": digest}
    told: list[str] = []
    for folder in folders:
        try:
            told += _keep_head(folder, desk, said, daily)
        except (OSError, Refused) as fault:
            why = fault.strerror if isinstance(fault, OSError) else fault
            told.append(
                say(
                    "The journal's head could not be kept in {folder} ({why}); look at the folder of witnesses.",
                    folder=folder,
                    why=why,
                )
            )
    return tuple(told)


def _keep_head(folder: Path, desk: Path, said: dict[str, Any], daily: bool) -> Iterator[str]:
    key = desk_key(desk)
    public = key.public_key().public_bytes_raw()
    path = folder / f"heads-{fingerprint(public)}.jsonl"
    last = _last_line(path, said["database"])
    if last is not None and last["entry"] > said["entry"]:
        yield say(
            "{folder} holds entry {entry} of {day}, and the records end at entry {end}: an older state was put back, "
            "or entries were dropped. Verify the records with the witness.",
            folder=folder, entry=last["entry"], day=last["at"][:10], end=said["entry"],
        )  # fmt: skip
    done = last is not None and (
        last["at"][:10] == said["at"][:10] if daily else (last["entry"], last["hash"]) == (said["entry"], said["hash"])
    )
    if done:
        return
    said = {**said, "key": public.hex()}
    line = canonical_text({**said, "signature": key.sign(_signed(said)).hex()}) + "\n"
    held = os.open(path, os.O_CREAT | os.O_APPEND | os.O_WRONLY, 0o644)
    with os.fdopen(held, "ab") as file:
        file.write(line.encode())
        file.flush()
        os.fsync(file.fileno())


def _last_line(path: Path, database: str) -> dict[str, Any] | None:
    """The last line of a file that speaks of this database; None where there is none that can be read."""
    if not path.exists():
        return None
    for line in reversed(path.read_text(encoding="utf-8", errors="replace").splitlines()):
        with suppress(ValueError):
            said = _fields(line)
            if said["database"] == database:
                return said
    return None


def _signed(said: dict[str, Any]) -> bytes:
    return PURPOSE + canonical_text({name: said[name] for name in sorted(FIELDS - {"signature"})}).encode()


def _fields(line: str) -> dict[str, Any]:
    """The fields of a line; ValueError where it is none."""
    said = json.loads(line) if len(line) <= LONGEST else None
    if not isinstance(said, dict) or not said.keys() <= FIELDS or not said.keys() >= FIELDS - {"key", "signature"}:
        raise ValueError("not a head")
    if type(said["entry"]) is not int or not all(isinstance(said[each], str) for each in said if each != "entry"):
        raise ValueError("not a head")
    datetime.fromisoformat(said["at"])
    return said


@dataclass(slots=True)
class _Compared:
    """What was found at a place so far."""

    heads: dict[int, str]
    database: str
    keys: frozenset[str]
    breaks: list[str] = field(default_factory=list)
    met: Counter[str] = field(default_factory=Counter)
    last: dict[str, dict[str, Any]] = field(default_factory=dict)
    others: int = 0


def verify_beside(
    database: Database, data: Path, *, head: str | None = None, places: Sequence[Path] = (), keys: Sequence[str] = ()
) -> VerifyReport:
    """What verify finds in a database, and what the heads kept at places say; data: the folder of the desk's key."""
    report = verify(database, head)
    for place in places:
        report = with_witness(report, database, place, own=desk_fingerprint(data), keys=keys)
    return report


def with_witness(
    report: VerifyReport, database: Database, place: Path, *, own: str | None, keys: Sequence[str] = ()
) -> VerifyReport:
    """The report with what the heads kept at a folder or in a file say; Refused where none is there.

    own: the fingerprint of this desk's key. keys: fingerprints that are trusted besides; where some are given, a line
    of any other key is a break, otherwise it is told with the key, to be compared with a printed page.
    """
    files = sorted(place.glob("heads-*.jsonl")) if place.is_dir() else [place]
    if not all(each.is_file() for each in files) or not files:
        raise Refused(
            say("witness: no heads are kept at {place}; give the folder, or a file of heads in it", place=place)
        )
    with database.reading() as connection:
        heads = {number: digest for number, digest in connection.execute(select(Journal.id, Journal.hash)).all()}
    found = _Compared(heads, heads[min(heads)] if heads else "", frozenset(key.lower() for key in keys))
    if keys and own is not None:
        found.keys |= {own}
    for file in files:
        for number, line in enumerate(file.read_text(encoding="utf-8", errors="replace").splitlines(), start=1):
            _compare(found, f"{file.name} line {number}", line)
    if not found.met and not found.breaks:
        found.breaks.append(
            say(
                "witness: no head at {place} is of this database ({others} of another); it is another's "
                "witness, or the journal was made again from its first entry",
                place=place,
                others=found.others,
            )
        )
    return replace(report, breaks=(*report.breaks, *found.breaks), notes=(*report.notes, *_told(found, own)))


def _told(found: _Compared, own: str | None) -> Iterator[str]:
    own_words = say("this desk's")
    for key, count in sorted(found.met.items()):
        last = found.last[key]
        given = say("a given one") if key in found.keys else say("not this desk's: compare it on paper")
        yield say(
            "witness: {count} signed heads are those of this journal, the last entry {entry} of {day}; "
            "their key {key} is {whose}",
            count=count, entry=last["entry"], day=last["at"][:10], key=key, whose=own_words if key == own else given,
        )  # fmt: skip
    if found.others and found.met:
        yield say("witness: {others} heads are of another database", others=found.others)


def _compare(found: _Compared, where: str, line: str) -> None:
    try:
        said = _fields(line)
    except ValueError:
        found.breaks.append(say("{where}: is no head that can be read", where=where))
        return
    key = _signer(said)
    if key is None:
        found.breaks.append(say("{where}: is not signed, or its signature is not of what it says", where=where))
    elif found.keys and key not in found.keys:
        found.breaks.append(say("{where}: is signed by another key, {key}", where=where, key=key))
    elif said["database"] != found.database:
        found.others += 1
    elif said["entry"] > max(found.heads):
        found.breaks.append(say(
            "{where}: the database is shorter: entry {entry} was witnessed on {day}, the last one here is {last}",
            where=where, entry=said["entry"], day=said["at"][:10], last=max(found.heads),
        ))  # fmt: skip
    elif said["entry"] not in found.heads:
        found.breaks.append(say("{where}: entry {entry}, witnessed on {day}, is missing",
                                where=where, entry=said["entry"], day=said["at"][:10]))  # fmt: skip
    elif found.heads[said["entry"]] != said["hash"]:
        found.breaks.append(say("{where}: entry {entry} is not the one witnessed on {day}",
                                where=where, entry=said["entry"], day=said["at"][:10]))  # fmt: skip
    else:
        found.met[key] += 1
        found.last[key] = said


def _signer(said: dict[str, Any]) -> str | None:
    """The fingerprint of the key that signed a line; None where none did, or of something else."""
    try:
        public, signature = str(said.get("key", "")), bytes.fromhex(said.get("signature", ""))
        return fingerprint(bytes.fromhex(public)) if is_signed_by(public, signature, _signed(said)) else None
    except ValueError:
        return None


def is_signed_by(public: str, signature: bytes, what: bytes) -> bool:
    """Whether the owner of a public key, in hex, signed this; ValueError where it is no key."""
    # As above: only who compares pays for it.
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        Ed25519PublicKey.from_public_bytes(bytes.fromhex(public)).verify(signature, what)
    except InvalidSignature:
        return False
    return True
