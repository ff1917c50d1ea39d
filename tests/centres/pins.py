"""PINs of the invented people, as if each was set beside another manager, without the hands that it takes."""

from sqlalchemy import select

from fleetbench.records.core.transaction import transaction
from fleetbench.records.people.tables import Person, keep_pin
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.people.acts import HASHER


def give_pin(workplace: Workplace, person_id: int, pin: str) -> None:
    """Keep the PIN with a journal entry that names a manager beside, or that the manager is the first."""
    with workplace.database.read_session() as session:
        others = select(Person.id).where(Person.role == "manager", Person.id != person_id).order_by(Person.id)
        manager = session.scalars(others).first()
    name = "set first PIN" if manager is not None else "set first manager's PIN"
    with transaction(workplace.database, workplace.clock, manager or person_id, name, f"person {person_id}") as act:
        keep_pin(act, act.get(Person, person_id, "person"), HASHER.hash(pin))
