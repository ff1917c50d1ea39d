"""Who may do what: every act of the program is in the table, and the table is what a workshop would expect."""

import ast
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

import fleetbench
from fleetbench.calc.people.permits import (
    ACTS,
    GRANTS,
    MOST_TRIES,
    Permit,
    Role,
    act_word,
    granted,
    may,
    still_to_wait,
    wait_after,
    who_may,
)
from tests.centres.writing_acts import WRITING_ACTS

WORKSHOP = Path(fleetbench.__file__).parent
LOOKED_AT_INSIDE = {"fit other than a cell", "lift incident hold"}
"""Asked for within an act that has another name."""


def act_names() -> set[str]:
    """The first word of every act that the program begins, read from its source."""
    names: set[str] = set()
    for path in WORKSHOP.rglob("*.py"):
        tree = ast.parse(path.read_text())
        for call in ast.walk(tree):
            if not (
                isinstance(call, ast.Call) and isinstance(call.func, ast.Attribute) and call.func.attr == "transaction"
            ):
                continue
            for text in ast.walk(call.args[0]):
                if isinstance(text, ast.Constant) and isinstance(text.value, str):
                    names.add(act_word(text.value))
    return names


def test_every_act_of_the_program_stands_in_the_table_and_none_that_it_does_not_know() -> None:
    spoken = act_names() | {"calibrate", "correct calibration"}  # the two that are chosen by a condition
    begun = {name for name in spoken if name.endswith(" ")}  # `use ` and a kind
    for first in begun:
        spoken |= {name for name in ACTS if name.startswith(first)}
        assert any(name.startswith(first) for name in ACTS)
    assert spoken - begun - set(ACTS) == set()
    assert set(ACTS) - WRITING_ACTS - LOOKED_AT_INSIDE - spoken == set()


def test_only_the_workplace_begins_an_act_so_that_no_way_leads_around_the_table() -> None:
    others = {
        path.name
        for path in WORKSHOP.rglob("*.py")
        if re.search(r"core\.transaction import (\w+, )*transaction\b", path.read_text())
    }
    # A restore erases again whom the centre had erased under the table; it can do nothing else.
    assert others == {"erasure.py", "workplace.py"}


def test_every_role_that_people_may_have_is_in_the_table() -> None:
    assert set(GRANTS) == set(Role)


# Who may do what: common practice, no published source.
@pytest.mark.parametrize(
    ("act", "roles"),
    [
        ("sign ticket", {"technician", "manager"}),
        ("hand over", {"technician", "manager"}),
        ("fit part", {"technician", "manager", "instructor"}),
        ("fit other than a cell", {"technician", "manager"}),
        ("calibrate", {"technician", "manager", "instructor"}),
        ("discard fill", {"technician", "manager", "instructor"}),
        ("bench test: loop negative", {"technician", "manager"}),
        ("place hold", {"technician", "manager", "instructor"}),
        ("lift hold", {"technician", "manager"}),
        ("lift incident hold", {"manager"}),
        ("reset PIN", {"manager"}),
        ("import", {"manager"}),
        ("scrap part", {"technician", "manager"}),
        ("change PIN", set(Role)),
        ("set first PIN", {"manager"}),
        ("an act nobody named", set()),
    ],
)
def test_roles_decide_acts(act: str, roles: set[str]) -> None:
    assert set(who_may(act)) == roles


def test_a_manager_may_all_and_an_unknown_role_nothing() -> None:
    assert all(may("manager", act) for act in ACTS)
    assert not any(may("visitor", act) for act in ACTS)
    assert [role for role in GRANTS if granted(role, Permit.PERSONAL)] == ["manager", "technician"]


def test_waits_after_wrong_pins_grow_from_half_a_minute_to_an_hour_and_then_close() -> None:
    # NIST SP 800-63B (2017) section 5.2.2, from memory: waits that grow, e.g. 30 seconds up to an hour, and no more
    # than 100 consecutive failed attempts.
    waits = [wait_after(tries) for tries in range(MOST_TRIES + 1)]
    seconds = [wait.total_seconds() for wait in waits[:-1] if wait is not None]
    assert seconds[:6] == [0, 0, 0, 30, 60, 120]
    assert seconds == sorted(seconds) and seconds[-1] == 3600
    assert len(seconds) == 100 and waits[-1] is None


def test_a_clock_set_back_does_not_shorten_the_wait() -> None:
    wrong = datetime(2026, 5, 4, 8, tzinfo=UTC)
    assert still_to_wait(3, wrong, wrong - timedelta(days=1)) == timedelta(seconds=30)
    assert still_to_wait(3, wrong, wrong + timedelta(seconds=29)) == timedelta(seconds=1)
    assert still_to_wait(3, wrong, wrong + timedelta(seconds=30)) == timedelta(0)
