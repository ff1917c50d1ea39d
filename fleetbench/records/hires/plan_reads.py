"""What acts on the plan look up: the centre's own limit of a name."""

from sqlalchemy import select
from sqlalchemy.orm import Session

from fleetbench.records.places.tables import Limit


def centre_limit(session: Session, name: str) -> Limit | None:
    """The centre's own limit of that name, the newest where there are several, None where there is none."""
    query = select(Limit).where(Limit.name == name, Limit.unit_type_id.is_(None), Limit.part_type_id.is_(None))
    return session.scalar(query.order_by(Limit.id.desc()).limit(1))
