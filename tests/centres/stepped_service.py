"""The invented centre with a yearly service of one step a kind, and the seals and lubricant that it asks for."""

from pathlib import Path
from typing import Any

from PIL import Image
from sqlalchemy import select

from fleetbench.records.parts.tables import PartType
from fleetbench.workshop.bench.steps import leave_out_step, settle_step
from fleetbench.workshop.parts.receive import Delivery, receive_lot
from fleetbench.workshop.places.amend import enter
from fleetbench.workshop.tickets.list import TicketPage, ticket_page
from fleetbench.workshop.tickets.photographs import add_photograph
from fleetbench.workshop.tickets.service_plan import NewServiceTask, enter_service_task, open_service_ticket
from fleetbench.workshop.tickets.work import SecondPerson
from tests.centres.kept_centres import kept
from tests.centres.turn_round_bench import TurnRoundBench

MANUAL = "invented manual of type L, edition 2, page 31"
SERVICE = NewServiceTask(
    text="Yearly service", basis="months", amount=12, minutes=60, roles=("technician",), source=MANUAL,
    tests=("loop negative",),
)  # fmt: skip
STEPS: tuple[dict[str, Any], ...] = (
    {"kind": "work", "text": "Housing looked at for corrosion"},
    {"kind": "figure", "text": "First stage adjusted", "what": "intermediate pressure", "unit": "bar", "low": 9,
     "high": 10, "before": True},
    {"kind": "torque", "text": "Head screws tightened crosswise", "amount": 2.5, "tolerance": 0.1},
    {"kind": "seal", "text": "Seal of the cell port", "what": "cell port 1", "size": "12 x 2", "replace": True,
     "part_type": "ORI-L"},
    {"kind": "lubricant", "text": "Seals greased thinly", "what": "Grease O", "oxygen": True},
    {"kind": "parts", "text": "Seal kit of the first stage used up", "part_type": "ORI-L", "amount": 2},
    {"kind": "photograph", "text": "Valve seat photographed"},
    {"kind": "second person", "text": "Head closed: looked at by another one"},
)  # fmt: skip
ENTRIES: tuple[dict[str, Any], ...] = (
    {}, {"before": 10.8, "after": 9.5}, {"after": 2.4}, {"seal": "replaced"},
    {"lubricant": "Grease O", "lot": "G-7", "oxygen_compatible": True}, {}, {}, {},
)  # fmt: skip
"""What is entered of each step, in order."""


class SteppedService(TurnRoundBench):
    """Unit LK-01 with that plan, five seals of lot S-1 on the shelf, and a manager with a PIN who may look too."""

    @kept
    def __init__(self, workplace: Any, clock: Any) -> None:
        super().__init__(workplace, clock)
        with self.boss.transaction("write", "test") as act:
            act.add(PartType(code="ORI-L", name="O-ring 12 x 2", kind="other", source=MANUAL))
        receive_lot(self.workplace, "ORI-L", "S-1", 5, Delivery())
        self.service = enter_service_task(self.boss, "TYPE-L", SERVICE)
        self.steps = [self.enter_step(place, step) for place, step in enumerate(STEPS, 1)]

    def enter_step(self, ordinal: int, step: dict[str, Any]) -> int:
        """The key of a step entered as the manager's form enters it."""
        with self.boss.database.read_session() as session:
            types = {row.code: row.id for row in session.scalars(select(PartType))}
        given = {"before": False, "replace": False, "oxygen": False, "source": MANUAL, **step}
        given |= {"part_type": types[step["part_type"]]} if "part_type" in step else {}
        return enter(self.boss, "service_steps", {"service_task": self.service, "ordinal": ordinal, **given})[0]

    def open(self) -> int:
        """The key of a ticket of the service."""
        return open_service_ticket(self.workplace, "LK-01", [self.service])

    def page(self, number: str = "2026-1") -> TicketPage:
        """The ticket as its page shows it."""
        return ticket_page(self.workplace, number)

    def results(self, number: str = "2026-1") -> list[int]:
        """The keys of the ticket's steps in order."""
        return [each.step_result_id for each in self.page(number).steps]

    def photograph(self, ticket: int, folder: Path) -> None:
        """Add a photograph to the ticket."""
        path = folder / "seat.png"
        Image.new("RGB", (60, 40), "grey").save(path)
        add_photograph(self.workplace, ticket, path, "valve seat")

    def settle(self, ticket: int, folder: Path, *, skip: int | None = None, number: str = "2026-1") -> None:
        """Settle every step with its evidence; skip: the place of one that is left out, from 0 on."""
        for place, (key, entry) in enumerate(zip(self.results(number), ENTRIES, strict=True)):
            if place == skip:
                leave_out_step(self.workplace, key, "no torque wrench in the house")
                continue
            if STEPS[place]["kind"] == "photograph":
                self.photograph(ticket, folder)
            second = SecondPerson(self.centre.manager, "2468") if STEPS[place]["kind"] == "second person" else None
            settle_step(self.workplace, key, **entry, second=second)
