"""The short form of `python -m tests.machine`: the whole program through its acts at random, beside the truth.

The truth is tests/independent/truth.py, which imports nothing of the program; its rules are common practice, no
published source.
"""

import random
import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from fleetbench.records.upkeep.migrate import open_database
from tests.conftest import Clock, Server
from tests.machine.chains import ACTS
from tests.machine.histories import Fresh, a_history, one_step, run
from tests.machine.looks import last_look, look
from tests.machine.scene import Scene

NAMES = [name for name, (weight, _) in ACTS.items() for _ in range(max(1, round(weight)))]


class Machine(RuleBasedStateMachine):
    """One centre; each rule is one act, or a chain of them, with chances that can be shrunk."""

    empty: Path
    folder: Path

    @initialize()
    def open(self) -> None:
        """A centre of its own."""
        self.database = open_database(shutil.copy(self.empty, self.folder / "machine.db"))
        self.scene, self.steps = Scene(self.database, Clock()), 0

    @rule(name=st.sampled_from(NAMES), chance=st.randoms(use_true_random=False))
    def act(self, name: str, chance: random.Random) -> None:
        """Any act."""
        self.steps += 1
        one_step(self.scene, name, chance)

    @rule(chance=st.randoms(use_true_random=False))
    def hire(self, chance: random.Random) -> None:
        """A unit is made fit and leaves, so that histories go deep."""
        self.steps += 1
        ACTS["hire out"][1](self.scene, chance)

    @invariant()
    def agree(self) -> None:
        """Program and truth agree."""
        if hasattr(self, "scene"):
            look(self.scene, self.steps, every=False)

    def teardown(self) -> None:
        """The journal is whole; nothing stays behind."""
        if hasattr(self, "scene"):
            try:
                last_look(self.scene)
            finally:
                self.database.close()
                for each in self.folder.glob("machine.db*"):
                    each.unlink()


def test_whatever_is_done_nothing_unfit_is_called_fit_and_all_lists_agree(empty_file: Path, tmp_path: Path) -> None:
    Machine.empty, Machine.folder = empty_file, tmp_path
    run_state_machine_as_test(
        Machine,
        settings=settings(max_examples=2, stateful_step_count=10, deadline=None, database=None, derandomize=True,
                          suppress_health_check=list(HealthCheck)),
    )  # fmt: skip


@pytest.mark.parametrize("seed", [7])
def test_a_deep_history_leaves_program_and_truth_of_one_mind(seed: int) -> None:
    fresh = Fresh()
    try:
        told = fresh.run(a_history(seed, 36))
    finally:
        fresh.close()
    assert told.fault is None, "\n".join(told.log[-40:])
    assert told.done["hand over"] >= 2 and told.done["receive"] >= 1 and sum(told.refused.values()) >= 10


def test_a_short_history_on_a_server_leaves_them_of_one_mind(server: Server) -> None:
    database = open_database(server.emptied())
    try:
        told = run(database, a_history(11, 15))
    finally:
        database.close()
    assert told.fault is None, "\n".join(told.log[-40:])
