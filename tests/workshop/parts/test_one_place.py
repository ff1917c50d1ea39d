"""Parts fitted, taken out, moved, set aside, released, scrapped and taken back at random, on both databases.

Whatever is asked for, allowed or refused: no part is in two places, no slot holds two, no due item is lost or doubled,
and what is kept on the fittings is what the records say.
"""

import shutil
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime
from itertools import count
from pathlib import Path
from typing import Any, ClassVar

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test
from sqlalchemy import func, select

from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.journal import Journal
from fleetbench.records.parts.tables import Fitting, Part, PartType, PartTypeLife
from fleetbench.records.places.tables import Place
from fleetbench.records.units.tables import Slot, Unit
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import list_due
from fleetbench.workshop.parts.acts import move_parts, quarantine_part, release_part, scrap_part, undo_last
from fleetbench.workshop.parts.fit import fit_part, remove_part
from fleetbench.workshop.parts.lives import rebuild_lives, refresh_lives
from fleetbench.workshop.parts.refit import move_fitted, undo_fitting
from tests.centres.bench_centre import write_centre
from tests.conftest import Clock, Server

TAGS = ("LK-01", "LK-02")
SLOTS = ("head", "loop set", "canister", "handset 1 battery", "cell 1", "cell 2", "cell 3", "inhale one-way valve",
         "exhale one-way valve", "mouthpiece valve")  # fmt: skip
WHY = ("age", "low output", "fault", "service", "moved", "wrong part")
ANY_PART = st.integers(0, 60)
NUMBERS = count(1)


class OnePlace(RuleBasedStateMachine):
    """A bench at which anything is tried; `where` is what an onlooker would write down of each part.

    where: (unit or head, slot) of a part that sits somewhere, else its state on the shelf.
    """

    fresh: ClassVar[Callable[[], Database]]

    @initialize()
    def open_up(self) -> None:
        self.clock = Clock(datetime(2026, 5, 4, 7, 30, tzinfo=UTC))
        self.database = self.fresh()
        keys = write_centre(self.database, self.clock())
        self.workplace = Workplace(self.database, self.clock, keys.technician)
        with self.workplace.as_person(None).transaction("enter", "places") as act:
            self.places = [act.add(Place(name=name, kind="shelf")).id for name in ("A", "B")]
            act.add(Place(name="Red box", kind="quarantine"))
            refresh_lives(act, act.session.scalars(select(Part.id)))
        self.where = self.seen()
        self.parts = sorted(self.where)

    def teardown(self) -> None:
        if hasattr(self, "database"):
            assert verify(self.database).first_break is None
            self.database.close()

    def seen(self) -> dict[int, tuple[str, str] | str]:
        """What the records say of each part; a part in two places fails at once."""
        with self.database.read_session() as session:
            states = {part: state for part, state in session.execute(select(Part.id, Part.state))}
            query = (
                select(Fitting.part_id, Unit.tag, Fitting.host_part_id, Slot.name)
                .join(Slot, Slot.id == Fitting.slot_id)
                .outerjoin(Unit, Unit.id == Fitting.unit_id)
                .where(Fitting.removed_at.is_(None))
            )
            seats = [(part, tag or f"part {host}", slot) for part, tag, host, slot in session.execute(query)]
        assert max(Counter(part for part, _, _ in seats).values()) == 1, "a part in two places"
        assert max(Counter((at, slot) for _, at, slot in seats).values()) == 1, "two parts in one slot"
        sits = {part: (at, slot) for part, at, slot in seats}
        for part, state in states.items():
            assert (state == "fitted") == (part in sits), f"part {part} is {state} and sits in {sits.get(part)}"
        return {part: sits.get(part, state) for part, state in states.items()}

    def tried(self, act: Callable[[], Any]) -> bool:
        """Whether the act was done; a refused one must have changed nothing at all."""
        self.clock.advance(minutes=7)
        before = self.entries()
        try:
            act()
        except Refused as refusal:
            assert "\n" not in str(refusal)
            assert self.entries() == before
            return False
        assert self.entries() == before + 1
        return True

    def entries(self) -> int:
        with self.database.read_session() as session:
            return session.scalar(select(func.count()).select_from(Journal)) or 0

    def holder(self, tag: str, slot: str) -> tuple[str, str] | None:
        """The place that a slot's name means on a unit now: its own, or that of an assembly in it."""
        if slot in SLOTS[:4]:
            return tag, slot
        outer = "head" if slot.startswith("cell") else "loop set"
        host = next((part for part, at in self.where.items() if at == (tag, outer)), None)
        return None if host is None else (f"part {host}", slot)

    def out_of(self, seat: tuple[str, str], why: str) -> None:
        for part, at in self.where.items():
            if at == seat:
                self.where[part] = "stock" if why in ("moved", "wrong part") else "quarantine"

    @rule(number=ANY_PART, tag=st.sampled_from(TAGS), slot=st.sampled_from(SLOTS), why=st.sampled_from((*WHY, None)))
    def fit(self, number: int, tag: str, slot: str, why: str | None) -> None:
        part, seat = self.parts[number % len(self.parts)], self.holder(tag, slot)
        if self.tried(lambda: fit_part(self.workplace, part, tag, slot, why_old=why)):
            assert seat is not None
            assert self.where[part] == "stock", "only what lay in stock was fitted"
            self.out_of(seat, why or "")
            self.where[part] = seat

    @rule(number=ANY_PART, tag=st.sampled_from(TAGS))
    def fit_where_it_belongs(self, number: int, tag: str) -> None:
        """The same with a part that lies in stock and a slot that takes it, so that more of it succeeds."""
        stock = [part for part in self.parts if self.where[part] == "stock"]
        if not stock:
            return
        part = stock[number % len(stock)]
        with self.database.read_session() as session:
            kind = session.scalars(select(PartType.kind).join(Part).where(Part.id == part)).one()
        words = kind.split()
        fitting = [slot for slot in SLOTS if all(word in slot.split() for word in words)]
        self.fit(self.parts.index(part), tag, fitting[number % len(fitting)], "moved")

    @rule(tag=st.sampled_from(TAGS), slot=st.sampled_from(SLOTS), why=st.sampled_from(WHY))
    def take_out(self, tag: str, slot: str, why: str) -> None:
        seat = self.holder(tag, slot)
        if self.tried(lambda: remove_part(self.workplace, tag, slot, why=why)):
            assert seat is not None and seat in self.where.values()
            self.out_of(seat, why)

    @rule(slot=st.sampled_from(SLOTS), tags=st.permutations(TAGS), why=st.sampled_from((*WHY, None)))
    def go_over(self, slot: str, tags: list[str], why: str | None) -> None:
        """A fitted part goes straight into the other unit, with all that is in it."""
        left, seat = self.holder(tags[0], slot), self.holder(tags[1], slot)
        if self.tried(lambda: move_fitted(self.workplace, tags[0], slot, tags[1], why_old=why)):
            assert left is not None and seat is not None
            part = next(part for part, at in self.where.items() if at == left)
            self.out_of(seat, why or "")
            self.where[part] = seat

    @rule(slot=st.sampled_from(SLOTS), tag=st.sampled_from(TAGS))
    def take_back_the_last_fitting(self, slot: str, tag: str) -> None:
        """What the last change of the slot did is undone: `before` is what the onlooker saw before it."""
        seat = self.holder(tag, slot)
        held = next((part for part, at in self.where.items() if at == seat), None)
        if self.tried(lambda: undo_fitting(self.workplace, tag, slot, "tried")):
            now = self.seen()
            changed = {part for part, at in now.items() if at != self.where[part]}
            assert changed, "something was put right"
            assert held is None or now[held] != seat, "what was fitted by mistake left the slot"
            assert all(now[part] == seat for part in changed - {held}), "only what belongs there came back"
            self.where = now

    @rule(number=ANY_PART, place=st.integers(0, 1))
    def move(self, number: int, place: int) -> None:
        part = self.parts[number % len(self.parts)]
        if self.tried(lambda: move_parts(self.workplace, [part], self.places[place])):
            assert self.where[part] == "stock"

    @rule(number=ANY_PART)
    def set_aside(self, number: int) -> None:
        part = self.parts[number % len(self.parts)]
        if self.tried(lambda: quarantine_part(self.workplace, part, "tried")):
            assert self.where[part] == "stock"
            self.where[part] = "quarantine"

    @rule(number=ANY_PART)
    def release(self, number: int) -> None:
        part = self.parts[number % len(self.parts)]
        if self.tried(lambda: release_part(self.workplace, part, "tried")):
            assert self.where[part] == "quarantine"
            self.where[part] = "stock"

    @rule(number=ANY_PART)
    def scrap(self, number: int) -> None:
        part = self.parts[number % len(self.parts)]
        if self.tried(lambda: scrap_part(self.workplace, part, "tried")):
            assert self.where[part] in ("stock", "quarantine")
            assert f"part {part}" not in {at[0] for at in self.where.values()}, "nothing was scrapped with it"
            self.where[part] = "scrapped"

    @rule(number=ANY_PART)
    def take_back_the_last_act(self, number: int) -> None:
        part = self.parts[number % len(self.parts)]
        if self.tried(lambda: undo_last(self.workplace, part, "tried")):
            assert isinstance(self.where[part], str)
            told = self.seen()[part]
            assert told in ("stock", "quarantine")
            self.where[part] = told

    @invariant()
    def every_part_is_where_an_onlooker_saw_it(self) -> None:
        if hasattr(self, "where"):
            assert self.seen() == self.where

    @rule()
    def look_at_the_due_list(self) -> None:
        """Each part that sits in a unit and has a limit stands in it once, and once more where a date is not known."""
        assert rebuild_lives(self.workplace) == []
        listed = Counter(
            (item.part_id, item.last_good_day is None) for item in list_due(self.workplace) if item.part_id
        )
        assert not listed or max(listed.values()) == 1, "a due item is doubled"
        with self.database.read_session() as session:
            limited = set(
                session.scalars(
                    select(Part.id).join(PartTypeLife, PartTypeLife.part_type_id == Part.part_type_id)
                    .where(PartTypeLife.basis != "storage")
                )
            )  # fmt: skip
        fitted = {part for part, at in self.where.items() if not isinstance(at, str)}
        assert {part for part, _ in listed} == fitted & limited, "a due item is lost, or stands for nothing fitted"


def run(fresh: Callable[[], Database], examples: int) -> None:
    machine = type("Bench", (OnePlace,), {"fresh": staticmethod(fresh)})
    checks = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much]
    run_state_machine_as_test(
        machine,
        settings=settings(max_examples=examples, stateful_step_count=30, deadline=None, suppress_health_check=checks),
    )


@pytest.mark.timeout(600)
def test_one_part_is_in_one_place_on_sqlite(empty_file: Path, tmp_path: Path) -> None:
    run(lambda: open_database(shutil.copy(empty_file, tmp_path / f"{next(NUMBERS)}.db")), 12)


@pytest.mark.timeout(600)
def test_one_part_is_in_one_place_on_postgresql(server: Server) -> None:
    run(lambda: open_database(server.fresh(f"place_{next(NUMBERS)}")), 4)
