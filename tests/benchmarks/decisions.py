"""How well the program decides on cells whose truth is hidden, beside the two habits that it replaces.

``python -m tests.benchmarks.decisions [--json] [--plot FILE.svg] [--heads N] [--seed N]
[--visits N]``. The heads and their readings
come from ``simulated_heads``, which knows nothing of the program; the verdicts come from the program's own functions,
the same that ``judge`` uses. Every share is printed with its 95 % interval (Clopper and Pearson 1934).
"""

import argparse
import json
import sys
from collections import Counter
from pathlib import Path

import numpy as np

from tests.benchmarks.decision_runs import (
    FLUSH_CASES,
    LIMIT,
    FlushResult,
    LadderResult,
    MethodResult,
    Tally,
    first_run,
    fourth_run,
    second_run,
    third_run,
)

BARS = {"bad_passed": 3e-4, "near_limit_passed": 1 / 200, "two_under_passed": 0.0, "good_lost": 1 / 100}
FLUSH_CAUGHT, FLUSH_FALSE = 0.95, 0.01


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


def print_fourth(results: dict[tuple[str, str], dict[int, Tally]]) -> None:
    """The fourth run in words and figures."""
    print("Fourth run: the same fault at every visit. Cells usable by visit 1, 2, 3 and 8, %, two sound ones beside.")
    for (fault, truth), tallies in results.items():
        shares = "  ".join(f"{100 * each.share:6.2f}" for each in tallies.values())
        print(f"  {fault:40s} | truly {truth:12s} | {shares}   of {tallies[1].of}")


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
    parser.add_argument("--visits", type=int, metavar="N", help="only the fourth run, N heads a row: usable by visit")
    chosen = parser.parse_args(arguments)
    if chosen.visits:
        print_fourth(fourth_run(chosen.visits, chosen.seed + 4))
        return 0
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
    print_fourth(fourth_run(min(300, max(chosen.heads // 1000, 50)), chosen.seed + 4))
    missed = missed_bars(results, flush)
    print("All bars are met." if not missed else f"Bars missed: {', '.join(missed)}.")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
