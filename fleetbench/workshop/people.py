"""People as lists and pages show them; a name that was erased leaves the number only.

list_people(shop) -> tuple[PersonRow, ...]
"""

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class PersonRow:
    """One person; `name` is the code where the name was erased or never entered."""

    person_id: int
    code: str
    role: str
    name: str
    contact: str | None
    active: bool
    erased: bool


@dataclass(frozen=True, slots=True)
class QualificationRow:
    """A qualification as seen; unit_type is None where it holds for every type."""

    person_id: int
    person: str
    kind: str
    unit_type: str | None
    seen_on: date
    valid_until: date | None
