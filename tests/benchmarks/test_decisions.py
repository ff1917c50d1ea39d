"""A short form of the measured decisions, so that the suite notices when a rule gets worse."""

import ast
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fleetbench.calc.cells.decision import REASONS
from fleetbench.calc.cells.judge import judge
from fleetbench.calc.core.verdict import Verdict
from tests.benchmarks import simulated_heads
from tests.benchmarks.decision_runs import (
    BENCH,
    FAULTS,
    FLUSH_CASES,
    HIDDEN,
    METHODS,
    as_input,
    first_run,
    fourth_run,
    program_decision,
    program_figures,
    second_run,
    third_run,
)
from tests.benchmarks.decisions import main, missed_bars
from tests.benchmarks.simulated_heads import draw_heads, draw_visit, observe

SEED = 4711


def test_the_simulator_knows_nothing_of_the_program() -> None:
    tree = ast.parse(Path(simulated_heads.__file__).read_text(encoding="utf-8"))
    imported = {name.name for node in ast.walk(tree) if isinstance(node, ast.Import) for name in node.names}
    imported |= {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert imported == {"dataclasses", "numpy"}


def test_short_first_and_second_run_meet_every_bar() -> None:
    results, ladders = first_run(4000, SEED)
    flush = second_run(3000, SEED)
    assert missed_bars(results, flush) == []
    assert results["fleetbench"].n == 12_000
    # A plain independent trial: dry-air habit about one bad cell in ten, raw mV about one in five.
    assert 0.07 < results["dry_air"].tallies["bad_passed"].share < 0.12
    assert 0.17 < results["raw_mv"].tallies["bad_passed"].share < 0.26
    for ladder in ladders.values():
        final = ladder.counts["truly under 95 %", 3]
        assert (final["pass"] + final["watch"]) / sum(final.values()) < 1e-3


def test_a_short_flush_blames_no_cell_where_history_is_known() -> None:
    flush = second_run(2000, SEED + 1)
    assert flush[FLUSH_CASES[1], True].blamed.share < 0.002
    assert flush[FLUSH_CASES[1], False].blamed.share > 0.1


def test_each_hidden_cause_is_called_by_its_name() -> None:
    called = third_run(20, SEED)
    tired, damp, claimed = (
        next(cause.name for cause in HIDDEN if part in cause.name)
        for part in ("tired to", "said damp", "good cells, not vented, claimed")
    )
    assert set(called[tired, "again, history, nothing to compare"]) == {"repeat (common_low)"}
    assert set(called[tired, "again, history, comparison in limits"]) == {"reject (below_limit)"}
    assert set(called[damp, "first flush"]) == {"repeat (head_damp)"}
    usable = sum(n for name, n in called[claimed, "first flush, history"].items() if name.startswith(("pass", "watch")))
    assert usable <= 2


def test_judge_and_the_simulation_give_the_same_verdicts() -> None:
    rng = np.random.default_rng(SEED)
    truth = draw_heads(rng, 60, (90.0, 104.0))
    seen = observe(rng, truth, draw_visit(rng, truth), BENCH)
    together = program_decision(program_figures(seen))
    for place in range(60):
        given = as_input(seen, place, HIDDEN[0], history=None, common_before=0, comparison=None)
        outcome = judge(replace(given, over_pressure_mbar=0.0, hours_since_last=24.0))
        assert [cell.verdict for cell in outcome.cells] == [list(Verdict)[int(s)] for s in together.severity[place]]
        assert [cell.reason for cell in outcome.cells] == [REASONS[int(code)] for code in together.reason[place]]


def test_a_fault_that_stays_makes_no_bad_cell_usable_by_trying_again() -> None:
    chosen = ("zero -0.2, one handset", "air point moist, flush dries", "as stated, two handsets, evidence")
    run = fourth_run(30, SEED, tuple(fault for fault in FAULTS if fault.name in chosen))
    for name in chosen:
        assert run[name, "90 to 94.5 %"][8].hits == 0
        assert run[name, "94.5 to 95 %"][8].share <= 0.05
        assert run[name, "98 to 102 %"][8].share >= 0.9
    assert run[chosen[2], "98 to 102 %"][2].share >= 0.95


def test_an_over_pressure_that_nobody_measured_is_mostly_held() -> None:
    named = [fault for fault in FAULTS if "claimed vented" in fault.name]
    run = fourth_run(30, SEED, tuple(named))
    for fault in named:
        assert run[fault.name, "90 to 94.5 %"][8].share <= 0.07
        assert run[fault.name, "94.5 to 95 %"][1].share <= 0.15


def test_json_holds_the_shares_of_each_method(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    picture = tmp_path / "passed.svg"
    main(["--json", "--heads", "2000", "--plot", str(picture)])
    printed = json.loads(capsys.readouterr().out)
    assert tuple(printed) == METHODS
    for shares in printed.values():
        assert set(shares) == {"bad_passed", "near_limit_passed", "two_under_passed", "good_lost", "n"}
    assert "<svg" in picture.read_text(encoding="utf-8")
