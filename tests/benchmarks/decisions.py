"""How well the program decides on cells whose truth is hidden, beside the two habits that it replaces.

``python -m tests.benchmarks.decisions [--json] [--plot FILE.svg] [--heads N] [--seed N]``. The heads and their readings
come from ``simulated_heads``, which knows nothing of the program; the verdicts come from the program's own functions,
the same that ``judge`` uses. Every share is printed with its 95 % interval (Clopper and Pearson 1934).
"""

import argparse
import json
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from scipy import stats

from fleetbench.calc.cells import (
    AcceptedFigures,
    Answer,
    CalibrationInput,
    CalibrationOutcome,
    CellHistory,
    CellReadings,
    Conditions,
    Gas,
    HeadState,
    judge,
)
from fleetbench.calc.decision import REASONS, Bounds, Circumstances, Decision, Reason, decide
from fleetbench.calc.guard import REJECT, REPEAT, WATCH
from fleetbench.calc.uncertainty import Ambient, Figures, Shown, figures, rectangular_u
from fleetbench.calc.verdict import Verdict
from tests.benchmarks.simulated_heads import (
    Bench,
    Heads,
    Seen,
    Visit,
    another_visit,
    draw_heads,
    draw_visit,
    dry_air_habit,
    observe,
    raw_millivolt_habit,
)

CHUNK = 50_000
METHODS = ("fleetbench", "dry_air", "raw_mv")
BENCH = Bench()
LIMIT = 95.0
GOOD = (98.0, 102.0)

BARS = {"bad_passed": 3e-4, "near_limit_passed": 1 / 200, "two_under_passed": 0.0, "good_lost": 1 / 100}
FLUSH_CAUGHT, FLUSH_FALSE = 0.95, 0.01


# --- the program's own functions on many heads at once ---------------------------------------------------------------


def program_figures(seen: Seen, bench: Bench = BENCH) -> Figures:
    """The program's figures of what a bench saw, dry and vented heads, arrays (heads, cells, readers)."""

    def per_head(values: np.ndarray) -> np.ndarray:
        return values[:, None, None]

    nought = np.asarray(0.0)
    ambient = Ambient(
        pressure=per_head(seen.pressure),
        pressure_u=np.asarray(bench.barometer_mbar),
        temperature=per_head(seen.temperature),
        temperature_u=np.asarray(bench.thermometer_c),
        oxygen_temperature=per_head(seen.oxygen_temperature),
        temperature_step_u=np.asarray(0.2),
        air_humidity=per_head(seen.humidity),
        air_humidity_u=np.asarray(bench.hygrometer),
        oxygen_humidity=nought,
        oxygen_humidity_u=nought,
        fraction=per_head(seen.fraction),
        fraction_u=np.asarray(bench.analyser),
        over_pressure=nought,
        over_pressure_u=np.asarray(1.0),
    )
    shown = Shown(
        air=seen.air_mv,
        oxygen=seen.oxygen_mv,
        zero=nought,
        zero_u=np.asarray(rectangular_u(bench.zero_half_width_mv)),
        resolution=np.asarray(bench.resolution_mv),
        repeatability=np.asarray(bench.repeatability_mv),
        gain_u=np.asarray(bench.gain),
        compensation_u_per_k=np.asarray(bench.compensation_per_k),
    )
    return figures(ambient, shown)


def program_decision(
    values: Figures,
    *,
    accepted: np.ndarray | None = None,
    undecided: np.ndarray | None = None,
    above: np.ndarray | None = None,
    common: np.ndarray | None = None,
    comparison: bool = False,
) -> Decision:
    """The program's decision by its default limits, for settled, vented, dry heads with analysed gas."""
    shape = values.linearity.shape
    heads, cells, _ = shape
    no, yes = np.zeros(shape, dtype=bool), np.ones(heads, dtype=bool)
    bounds = Bounds(
        air_low=np.asarray(8.0),
        air_high=np.asarray(13.0),
        oxygen_floor=np.asarray(45.0),
        makers_floor=np.asarray(False),
        linearity_low=np.asarray(LIMIT),
        linearity_high=np.asarray(105.0),
    )
    none = np.zeros((heads, cells), dtype=int)
    return decide(
        values,
        bounds,
        Circumstances(
            read=~no,
            missing_air=no,
            missing_oxygen=no,
            settled=~no,
            resolution=np.asarray(BENCH.resolution_mv),
            pot_standing=np.zeros(shape, dtype=np.int8),
            accepted_linearity=np.full(shape, np.nan) if accepted is None else accepted,
            undecided_before=none if undecided is None else undecided,
            above_before=none if above is None else above,
            damp=~yes,
            vented=yes,
            analysed=yes,
            equipment_in_date=yes,
            common_before=np.zeros(heads, dtype=int) if common is None else common,
            comparison_passed=yes & comparison,
        ),
    )


# --- counting --------------------------------------------------------------------------------------------------------


@dataclass
class Tally:
    """Counts of one share: how many of how many."""

    hits: int = 0
    of: int = 0

    def add(self, mask: np.ndarray, among: np.ndarray) -> None:
        """Adds the cells of ``among`` that are in ``mask``."""
        self.hits += int(np.count_nonzero(mask & among))
        self.of += int(np.count_nonzero(among))

    @property
    def share(self) -> float:
        """The share, NaN of none."""
        return self.hits / self.of if self.of else float("nan")

    def interval(self) -> tuple[float, float]:
        """95 % interval of the share (Clopper and Pearson, Biometrika 26 (1934) 404)."""
        low = stats.beta.ppf(0.025, self.hits, self.of - self.hits + 1) if self.hits else 0.0
        high = stats.beta.ppf(0.975, self.hits + 1, self.of - self.hits) if self.hits < self.of else 1.0
        return float(low), float(high)

    def __str__(self) -> str:
        """The share per cent with its interval and counts."""
        low, high = self.interval()
        return f"{100 * self.share:8.4f} % [{100 * low:.4f}, {100 * high:.4f}]  ({self.hits} of {self.of})"


FIGURES = ("bad_passed", "near_limit_passed", "two_under_passed", "good_lost", "good_rejected", "good_undecided")


@dataclass
class MethodResult:
    """Tallies of one method and its share passed by true linearity in half points (for the plot)."""

    tallies: dict[str, Tally] = field(default_factory=lambda: {name: Tally() for name in FIGURES})
    passed: np.ndarray = field(default_factory=lambda: np.zeros(40))
    seen: np.ndarray = field(default_factory=lambda: np.zeros(40))
    n: int = 0

    def add(self, truth: np.ndarray, passed: np.ndarray, undecided: np.ndarray) -> None:
        """Adds cells, each with its truth, whether it passed (or is to be watched) and whether it is undecided."""
        bad, good = truth < LIMIT, (truth >= GOOD[0]) & (truth <= GOOD[1])
        lost = ~passed
        for name, mask, among in (
            ("bad_passed", passed, bad),
            ("near_limit_passed", passed, bad & (truth >= LIMIT - 0.5)),
            ("two_under_passed", passed, truth <= LIMIT - 2.0),
            ("good_lost", lost, good),
            ("good_rejected", lost & ~undecided, good),
            ("good_undecided", undecided, good),
        ):
            self.tallies[name].add(mask, among)
        place = np.clip(((truth - 85.0) / 0.5).astype(int), 0, 39)
        self.passed += np.bincount(place[passed], minlength=40)
        self.seen += np.bincount(place.ravel(), minlength=40)
        self.n += truth.size

    def as_json(self) -> dict[str, float | int]:
        """The four shares that the bars speak of, and the number of calibrated cells."""
        shares: dict[str, float | int] = {name: self.tallies[name].share for name in BARS}
        return {**shares, "n": self.n}


# --- first run: one visit, and the ladder of three -------------------------------------------------------------------


def chunks(total: int) -> Iterator[int]:
    """Sizes that add up to ``total``."""
    while total > 0:
        yield min(CHUNK, total)
        total -= CHUNK


@dataclass
class LadderResult:
    """Cells by what became of them at the end of each of three visits: verdict counts by class of truth."""

    counts: dict[tuple[str, int], Counter[str]] = field(default_factory=dict)

    def add(self, truth: np.ndarray, state: np.ndarray, visit: int) -> None:
        """Adds the states (severities) in which cells stand after a visit."""
        for name, among in (
            ("truly under 95 %", truth < LIMIT),
            ("94.5 to 95 %", (truth < LIMIT) & (truth >= LIMIT - 0.5)),
            ("95 to 98 %", (truth >= LIMIT) & (truth < GOOD[0])),
            ("98 to 102 %", (truth >= GOOD[0]) & (truth <= GOOD[1])),
        ):
            counter = self.counts.setdefault((name, visit), Counter())
            for verdict in Verdict:
                counter[verdict.value] += int(np.count_nonzero(state[among] == verdict.severity))


def first_run(heads: int, seed: int) -> tuple[dict[str, MethodResult], dict[bool, LadderResult]]:
    """One visit of every head by the three methods, then the program's ladder to its third visit.

    The ladders are keyed by whether another head on the same gas was in limits at the later visits.
    """
    rng = np.random.default_rng(seed)
    results = {method: MethodResult() for method in METHODS}
    ladders = {False: LadderResult(), True: LadderResult()}
    for size in chunks(heads):
        truth = draw_heads(rng, size, (85.0, 105.0))
        visit = draw_visit(rng, truth)
        seen = observe(rng, truth, visit, BENCH)
        decision = program_decision(program_figures(seen))
        results["fleetbench"].add(truth.linearity, decision.severity <= WATCH, decision.severity == REPEAT)
        for method, habit in (("dry_air", dry_air_habit), ("raw_mv", raw_millivolt_habit)):
            passed = habit(seen)
            results[method].add(truth.linearity, passed, np.zeros_like(passed))
        for comparison, ladder in ladders.items():
            _climb(rng, (truth, visit), decision, ladder, comparison=comparison)
    return results, ladders


def _climb(
    rng: np.random.Generator, hidden: tuple[Heads, Visit], decision: Decision, ladder: LadderResult, *, comparison: bool
) -> None:
    """Follows every cell to a third visit; a pass or a reject ends its ladder, a new flush is taken each time."""
    truth, visit = hidden
    state = decision.severity.copy()
    ladder.add(truth.linearity, state, 1)
    undecided = (decision.reason == REASONS.index(Reason.ACROSS_LIMIT)).astype(int)
    above = (decision.reason == REASONS.index(Reason.ABOVE_LIMIT)).astype(int)
    common = (decision.common_low | decision.shifted_up).astype(int)
    for number in (2, 3):
        seen = observe(rng, truth, another_visit(rng, truth, visit), BENCH)
        decision = program_decision(
            program_figures(seen), undecided=undecided, above=above, common=common, comparison=comparison
        )
        going_on = (state == REPEAT) | (state == WATCH)
        state = np.where(going_on, decision.severity, state)
        ladder.add(truth.linearity, state, number)
        again = decision.reason == REASONS.index(Reason.ACROSS_LIMIT)
        undecided = np.where(again, undecided + 1, 0)
        above = np.where(decision.reason == REASONS.index(Reason.ABOVE_LIMIT), above + 1, 0)
        common = np.where(decision.common_low | decision.shifted_up, common + 1, 0)


# --- second run: flushes cut short -----------------------------------------------------------------------------------


@dataclass
class FlushResult:
    """Heads of the second run: sent to repeat for any cause, by the flush rule alone, and with a cell blamed."""

    repeated: Tally = field(default_factory=Tally)
    by_rule: Tally = field(default_factory=Tally)
    blamed: Tally = field(default_factory=Tally)

    def add(self, decision: Decision, among: np.ndarray) -> None:
        """Adds heads; repeated means that the worst verdict is repeat, so that no cell is rejected."""
        worst = decision.severity.max(axis=1)
        self.repeated.add(worst == REPEAT, among)
        self.by_rule.add((decision.common_low | decision.shifted_up) & (worst == REPEAT), among)
        self.blamed.add(worst == REJECT, among)


FLUSH_CASES = ("good flush", "2 to 8 % air left", "0.3 to 2 % air left", "2 to 8 % air left and a slow cell")


def second_run(heads: int, seed: int, *, lowest_mbar: float = 960.0) -> dict[tuple[str, bool], FlushResult]:
    """Heads of good cells (98 to 102 %), accepted at the visit before, flushed well or short, with history and without.

    A slow cell has not reached the last 1 to 6 % of its oxygen reading. Keys are (case, history known).
    """
    rng = np.random.default_rng(seed)
    results = {(case, known): FlushResult() for case in FLUSH_CASES for known in (True, False)}
    for size in chunks(heads):
        truth = draw_heads(rng, size, GOOD)
        before = replace(draw_visit(rng, truth), pressure=rng.uniform(lowest_mbar, 1030.0, size))
        past = program_figures(observe(rng, truth, before, BENCH))
        accepted = np.all(program_decision(past).severity <= WATCH, axis=1)
        good = another_visit(rng, truth, before)
        slow = np.zeros(truth.linearity.shape)
        slow[:, 0] = rng.uniform(0.01, 0.06, size)
        visits = {
            FLUSH_CASES[0]: good,
            FLUSH_CASES[1]: replace(good, air_left=rng.uniform(0.02, 0.08, size)),
            FLUSH_CASES[2]: replace(good, air_left=rng.uniform(0.003, 0.02, size)),
            FLUSH_CASES[3]: replace(good, air_left=rng.uniform(0.02, 0.08, size), slowness=slow),
        }
        for case, visit in visits.items():
            values = program_figures(observe(rng, truth, visit, BENCH))
            for known in (True, False):
                decision = program_decision(values, accepted=past.linearity if known else None)
                results[case, known].add(decision, accepted)
    return results


# --- third run: causes that hide behind one another, through ``judge`` itself ----------------------------------------


@dataclass(frozen=True)
class Hidden:
    """One hidden cause and how the bench's questions were answered about it."""

    name: str
    linearity: tuple[float, float]
    over_pressure: tuple[float, float] = (0.0, 0.0)
    wet: bool = False
    vented: Answer = Answer.YES
    head: HeadState = HeadState.DRY


HIDDEN = (
    Hidden("good head, all answered", (98.0, 102.0)),
    Hidden("three cells of one lot tired to 90-94.5 %", (90.0, 94.5)),
    Hidden("three cells of one lot tiring at 95-97 %", (95.0, 97.0)),
    Hidden("weak cells, not vented, said so", (92.0, 94.5), (20.0, 40.0), vented=Answer.NO),
    Hidden("weak cells, not vented, not known", (92.0, 94.5), (20.0, 40.0), vented=Answer.UNKNOWN),
    Hidden("weak cells, not vented, claimed vented", (92.0, 94.5), (20.0, 40.0)),
    Hidden("good cells, not vented, claimed vented", (98.0, 102.0), (20.0, 40.0)),
    Hidden("good cells, wet head, said damp", (98.0, 102.0), wet=True, head=HeadState.DAMP),
    Hidden("good cells, wet head, not known", (98.0, 102.0), wet=True, head=HeadState.UNKNOWN),
    Hidden("good cells, wet head, claimed dry", (98.0, 102.0), wet=True),
    Hidden("weak cells, wet head, not known", (92.0, 94.5), wet=True, head=HeadState.UNKNOWN),
    Hidden("weak cells, wet head, claimed dry", (92.0, 94.5), wet=True),
)


def as_input(
    seen: Seen, place: int, cause: Hidden, *, history: np.ndarray | None, common_before: int, comparison: bool | None
) -> CalibrationInput:
    """One simulated head as the input of ``judge``; history holds accepted linearities (cells, readers)."""
    cells, readers = seen.air_mv.shape[1:]
    rows = tuple(
        CellReadings(
            cell=f"cell {cell + 1}",
            reader=f"handset {reader + 1}",
            air_mv=float(seen.air_mv[place, cell, reader]),
            oxygen_mv=float(seen.oxygen_mv[place, cell, reader]),
            settled=Answer.YES,
        )
        for cell in range(cells)
        for reader in range(readers)
    )
    past = {}
    if history is not None:
        for cell in range(cells):
            kept = tuple(
                AcceptedFigures(
                    reader=f"handset {reader + 1}",
                    linearity=float(history[cell, reader]),
                    sensitivity_air=50.0,
                    sensitivity_oxygen=50.0,
                )
                for reader in range(readers)
            )
            past[f"cell {cell + 1}"] = CellHistory(accepted=kept)
    return CalibrationInput(
        conditions=Conditions(
            pressure_mbar=float(seen.pressure[place]),
            pressure_u_mbar=BENCH.barometer_mbar,
            temperature_c=float(seen.temperature[place]),
            temperature_u_c=BENCH.thermometer_c,
            oxygen_temperature_c=float(seen.oxygen_temperature[place]),
            humidity=float(seen.humidity[place]),
            humidity_u=BENCH.hygrometer,
        ),
        gas=Gas(oxygen_fraction=float(seen.fraction[place]), oxygen_fraction_u=BENCH.analyser),
        readings=rows,
        equipment_in_date=True,
        history=past,
        vented=cause.vented,
        head=cause.head,
        common_before=common_before,
        comparison_passed=comparison,
    )


def third_run(heads: int, seed: int) -> dict[tuple[str, str], Counter[str]]:
    """What ``judge`` calls each hidden cause, at the first flush and at the second, with a comparison and without.

    History is the cells' accepted figures of a time when they were good. Keys are (cause, what was known); values count
    heads by worst verdict and the main reason of their cells.
    """
    rng = np.random.default_rng(seed)
    results: dict[tuple[str, str], Counter[str]] = {}
    for cause in HIDDEN:
        truth = draw_heads(rng, heads, cause.linearity)
        aged = cause.linearity != GOOD
        young = replace(truth, linearity=rng.uniform(*GOOD, truth.linearity.shape)) if aged else truth
        visit = replace(draw_visit(rng, truth), pressure=rng.uniform(960.0, 1030.0, heads))
        past = program_figures(observe(rng, young, visit, BENCH)).linearity
        if cause.wet:
            visit = replace(visit, wet=rng.uniform(0.9, 1.0, heads))
        visit = replace(visit, over_pressure=rng.uniform(*cause.over_pressure, heads))
        seen = observe(rng, truth, visit, BENCH)
        for known, with_history, before, comparison in (
            ("first flush", False, 0, None),
            ("first flush, history", True, 0, None),
            ("again, history, nothing to compare", True, 1, None),
            ("again, history, comparison in limits", True, 1, True),
        ):
            counter = results.setdefault((cause.name, known), Counter())
            for place in range(heads):
                outcome = judge(
                    as_input(
                        seen,
                        place,
                        cause,
                        history=past[place] if with_history else None,
                        common_before=before,
                        comparison=comparison,
                    )
                )
                counter[_called(outcome)] += 1
    return results


def _called(outcome: CalibrationOutcome) -> str:
    worst = [cell for cell in outcome.cells if cell.verdict is outcome.worst]
    reason = Counter(cell.reason.value for cell in worst).most_common(1)[0][0]
    return f"{outcome.worst.value} ({reason})"


# --- printing --------------------------------------------------------------------------------------------------------


def print_first(results: dict[str, MethodResult], ladders: dict[bool, LadderResult]) -> None:
    """The first run in words and figures."""
    cells = results["fleetbench"].n
    print(f"First run: {cells} cells calibrated, three a head, two handsets; hidden linearity 85 to 105 %.")
    for method, result in results.items():
        print(f"  {method}")
        for name, tally in result.tallies.items():
            bar = f"  bar {100 * BARS[name]:.3f} %" if method == "fleetbench" and name in BARS else ""
            print(f"    {name:18s} {tally}{bar}")
    for comparison, ladder in ladders.items():
        beside = "another head on the gas in limits" if comparison else "nothing to compare"
        print(f"  Ladder, {beside}: where cells stand after each visit, % (a pass or reject ends a ladder)")
        for (name, visit), counter in ladder.counts.items():
            total = max(sum(counter.values()), 1)
            shares = "  ".join(f"{verdict} {100 * count / total:8.4f}" for verdict, count in counter.items())
            print(f"    {name:17s} visit {visit}:  {shares}   of {total}")


def print_second(results: dict[tuple[str, bool], FlushResult], title: str) -> None:
    """The second run in words and figures."""
    print(title)
    for (case, known), result in results.items():
        print(f"  {case}, {'with' if known else 'without'} history")
        print(f"    sent to repeat      {result.repeated}")
        print(f"    by the flush rule   {result.by_rule}")
        print(f"    a cell blamed       {result.blamed}")


def print_third(results: dict[tuple[str, str], Counter[str]]) -> None:
    """The third run in words and figures."""
    print("Third run: what each hidden cause is called (worst verdict of the head and its main reason).")
    for (cause, known), counter in results.items():
        total = sum(counter.values())
        shares = ", ".join(f"{name} {100 * count / total:.1f} %" for name, count in counter.most_common(4))
        print(f"  {cause:42s} | {known:37s} | {shares}")


def plot(results: dict[str, MethodResult], path: Path) -> None:
    """Writes the share passed over true linearity of the three methods as SVG or PDF, by the file's ending."""
    from reportlab.graphics import renderPDF, renderSVG
    from reportlab.graphics.charts.lineplots import LinePlot
    from reportlab.graphics.shapes import Drawing, Line, String
    from reportlab.lib.colors import black, grey

    drawing = Drawing(620, 380)
    chart = LinePlot()
    chart.x, chart.y, chart.width, chart.height = 60, 60, 520, 270
    centres = 85.25 + 0.5 * np.arange(40)
    chart.data = [
        [(float(x), float(100 * p / s)) for x, p, s in zip(centres, result.passed, result.seen, strict=True) if s]
        for result in results.values()
    ]
    for place, dash in enumerate((None, (6, 3), (2, 3))):
        chart.lines[place].strokeColor = black
        chart.lines[place].strokeWidth = 1.6
        chart.lines[place].strokeDashArray = dash
        drawing.add(Line(70 + 180 * place, 345, 100 + 180 * place, 345, strokeColor=black, strokeDashArray=dash))
        drawing.add(String(106 + 180 * place, 341, list(results)[place], fontSize=11))
    chart.xValueAxis.valueMin, chart.xValueAxis.valueMax, chart.xValueAxis.valueStep = 85, 105, 1
    chart.yValueAxis.valueMin, chart.yValueAxis.valueMax, chart.yValueAxis.valueStep = 0, 100, 20
    limit_x = chart.x + chart.width * (LIMIT - 85.0) / 20.0
    drawing.add(Line(limit_x, chart.y, limit_x, chart.y + chart.height, strokeColor=grey, strokeDashArray=(1, 2)))
    drawing.add(chart)
    drawing.add(String(230, 22, "true linearity, %", fontSize=11))
    drawing.add(String(8, 360, "cells passed at the first visit, %", fontSize=11))
    (renderPDF if path.suffix.lower() == ".pdf" else renderSVG).drawToFile(drawing, str(path))


def missed_bars(
    results: dict[str, MethodResult], flush: dict[tuple[str, bool], FlushResult] | None = None
) -> list[str]:
    """Names of the bars that the program missed, empty when all are met."""
    program = results["fleetbench"].tallies
    missed = [name for name, bar in BARS.items() if program[name].share > bar]
    if flush is not None:
        if flush[FLUSH_CASES[1], True].repeated.share < FLUSH_CAUGHT:
            missed.append("short flush caught")
        if flush[FLUSH_CASES[0], True].repeated.share > FLUSH_FALSE:
            missed.append("good heads sent to repeat")
    return missed


def main(arguments: list[str] | None = None) -> int:
    """Runs the measurement; 0 when every bar is met, 1 when one is missed."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.decisions", description=__doc__)
    parser.add_argument("--json", action="store_true", help="print the first run's shares as JSON and nothing else")
    parser.add_argument("--plot", type=Path, metavar="FILE", help="write share passed over true linearity (.svg, .pdf)")
    parser.add_argument("--heads", type=int, default=400_000, help="heads in the first run, three cells each")
    parser.add_argument("--seed", type=int, default=20_250_301)
    chosen = parser.parse_args(arguments)
    results, ladders = first_run(chosen.heads, chosen.seed)
    if chosen.plot:
        plot(results, chosen.plot)
    if chosen.json:
        print(json.dumps({method: result.as_json() for method, result in results.items()}, indent=2))
        return 1 if missed_bars(results) else 0
    print_first(results, ladders)
    quarter = max(chosen.heads // 4, 1000)
    flush = second_run(quarter, chosen.seed + 1)
    print_second(flush, "Second run: flush cut short; good cells, 960 to 1030 mbar, accepted at the visit before.")
    high = second_run(quarter, chosen.seed + 2, lowest_mbar=780.0)
    print_second(high, "The same from 780 to 1030 mbar.")
    print_third(third_run(min(1000, max(chosen.heads // 400, 50)), chosen.seed + 3))
    missed = missed_bars(results, flush)
    print("All bars are met." if not missed else f"Bars missed: {', '.join(missed)}.")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
