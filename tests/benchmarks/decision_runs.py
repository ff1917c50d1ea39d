"""Runs of the measured decisions: many heads through the program's own functions, and what became of their cells."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np
from scipy import stats

from fleetbench.calc.cells.decision import REASONS, Bounds, Circumstances, Decision, Reason, decide
from fleetbench.calc.cells.judge import (
    AcceptedFigures,
    Answer,
    BlameKind,
    CalibrationInput,
    CellHistory,
    CellOutcome,
    CellReadings,
    Conditions,
    Gas,
    HeadOutcome,
    HeadState,
    judge,
)
from fleetbench.calc.cells.uncertainty import REJECT, REPEAT, WATCH, Ambient, Figures, Shown, figures, rectangular_u
from fleetbench.calc.core.verdict import Verdict
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


# --- the program's own functions on many heads at once ---------------------------------------------------------------


def program_figures(seen: Seen, bench: Bench = BENCH) -> Figures:
    """The program's figures of what a bench saw, dry heads, no over-pressure recorded, (heads, cells, readers)."""

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
    """The program's decision by its default limits, for settled, vented, dry heads with analysed gas.

    The head's pressure is recorded and it had time to dry; no zero is read, so that a second undecided visit says
    nothing new.
    """
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
    no_pot = np.full(shape, np.nan)
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
            pot_highest=no_pot,
            pot_held=no_pot,
            accepted_shared_u=no_pot,
            limited_before=no_pot[..., 0],
            limited_proven=no[..., 0],
            rejected_before=no[..., 0],
            accepted_linearity=np.full(shape, np.nan) if accepted is None else accepted,
            undecided_before=none if undecided is None else undecided,
            above_before=none if above is None else above,
            damp=~yes,
            vented=yes,
            analysed=yes,
            equipment_in_date=yes,
            common_before=np.zeros(heads, dtype=int) if common is None else common,
            comparison_passed=yes & comparison,
            new_zero=no,
            pressure_recorded=yes,
            dried=yes,
            pressure_share=np.zeros(heads),
            moist_share=np.zeros(heads),
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


BARRED = ("bad_passed", "near_limit_passed", "two_under_passed", "good_lost")
FIGURES = (*BARRED, "good_rejected", "good_undecided")


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
        shares: dict[str, float | int] = {name: self.tallies[name].share for name in BARRED}
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


def _called(outcome: HeadOutcome) -> str:
    worst = [cell for cell in outcome.cells if cell.verdict is outcome.worst]
    reason = Counter(cell.reason.value for cell in worst).most_common(1)[0][0]
    return f"{outcome.worst.value} ({reason})"


# --- fourth run: the same fault at every visit, through the history that the workshop builds --------------------------


@dataclass(frozen=True)
class Fault:
    """A fault that stays through the visits, and what is measured at each: true zero (None: as stated), over-pressure.

    moist: the air point is taken in almost saturated air of 28 to 35 C which the flush then dries. evidence: the zero
    is read, the pressure recorded and the head left to dry overnight from the second visit on.
    """

    name: str
    readers: int = 2
    zero_mv: float | None = None
    over_pressure: tuple[float, float] = (0.0, 0.0)
    moist: bool = False
    history: bool = False
    evidence: bool = False


FAULTS = (
    Fault("as stated, two handsets"),
    Fault("as stated, one handset", readers=1),
    Fault("as stated, two handsets, history", history=True),
    Fault("as stated, two handsets, evidence", evidence=True),
    Fault("zero -0.2, one handset", readers=1, zero_mv=-0.2),
    Fault("zero -0.2, one handset, evidence", readers=1, zero_mv=-0.2, evidence=True),
    Fault("20-40 mbar claimed vented", over_pressure=(20.0, 40.0)),
    Fault("20-40 mbar claimed vented, history", over_pressure=(20.0, 40.0), history=True),
    Fault("air point moist, flush dries", moist=True),
    Fault("air point moist, flush dries, history", moist=True, history=True),
)
VISITS = (1, 2, 3, 8)
CLASSES = ("90 to 94.5 %", "94.5 to 95 %", "98 to 102 %")


def fourth_run(heads: int, seed: int, faults: tuple[Fault, ...] = FAULTS) -> dict[tuple[str, str], dict[int, Tally]]:
    """Share of cells that were usable by each visit, keyed by fault and class of truth, two sound cells beside each.

    A cell is dropped once it is rejected; "98 to 102 %" counts sound cells. The visits are hours apart, and go on until
    the cell is usable or rejected.
    """
    results: dict[tuple[str, str], dict[int, Tally]] = {}
    for fault in faults:
        rng = np.random.default_rng(seed)
        for name, span in zip(CLASSES, ((90.0, 94.5), (94.5, 95.0), GOOD), strict=True):
            truth = draw_heads(rng, heads, GOOD).read_on(fault.readers)
            linearity = truth.linearity.copy()
            linearity[:, 0] = rng.uniform(*span, heads)
            zero = truth.zero_mv if fault.zero_mv is None else np.full_like(truth.zero_mv, fault.zero_mv)
            bad = replace(truth, linearity=linearity, zero_mv=zero)
            tallies = results.setdefault((fault.name, name), {visit: Tally() for visit in VISITS})
            place = replace(draw_visit(rng, truth), pressure=rng.uniform(960.0, 1030.0, heads))
            past = program_figures(observe(rng, truth, place, BENCH)).linearity if fault.history else None
            usable_by = _visits(rng, fault, bad, place, past)
            for visit in VISITS:
                tallies[visit].hits += int(np.count_nonzero(usable_by <= visit))
                tallies[visit].of += heads
    return results


def _visits(rng: np.random.Generator, fault: Fault, truth: Heads, place: Visit, past: np.ndarray | None) -> np.ndarray:
    """At which visit the first cell of each head becomes usable, 99 where it never does."""
    heads = truth.linearity.shape[0]
    over = rng.uniform(*fault.over_pressure, heads)
    found = np.full(heads, 99)
    history: list[dict[str, CellHistory]] = [{} for _ in range(heads)]
    if past is not None:
        history = [_accepted_of(past[head]) for head in range(heads)]
    common = [0] * heads
    ended = np.zeros(heads, dtype=bool)
    for number in range(1, max(VISITS) + 1):
        visit = another_visit(rng, truth, place)
        visit = replace(visit, over_pressure=over)
        if fault.moist:
            warm = rng.uniform(28.0, 35.0, heads)
            visit = replace(visit, temperature=warm, wet=rng.uniform(0.9, 1.0, heads), flush_dries=True)
        proven = fault.evidence and number > 1
        zeros = np.round(truth.zero_mv / BENCH.resolution_mv) * BENCH.resolution_mv
        seen = observe(rng, truth, visit, BENCH)
        for head in np.flatnonzero(~ended):
            given = as_input(seen, head, Hidden("", GOOD), history=None, common_before=common[head], comparison=None)
            rows = given.readings
            if proven:
                rows = tuple(replace(row, zero_mv=float(zeros[head, int(row.reader[-1]) - 1])) for row in rows)
            outcome = judge(
                replace(
                    given,
                    readings=rows,
                    history=history[head],
                    over_pressure_mbar=float(np.round(visit.over_pressure[head])) if proven else None,
                    hours_since_last=24.0 if proven else 0.5,
                )
            )
            cell = outcome.cells[0]
            if cell.verdict in (Verdict.PASS, Verdict.WATCH):
                found[head] = number
            # A flush is repeated until the cell may be used or is thrown out.
            ended[head] = cell.verdict is not Verdict.REPEAT
            history[head] = {each.cell: _remembered(history[head].get(each.cell), each) for each in outcome.cells}
            common[head] = common[head] + 1 if outcome.blame.kind is BlameKind.COMMON else 0
    return found


def _accepted_of(linearity: np.ndarray) -> dict[str, CellHistory]:
    """History of a head that was accepted before with these linearities (cells, readers)."""
    return {
        f"cell {cell + 1}": CellHistory(
            accepted=tuple(
                AcceptedFigures(
                    reader=f"handset {reader + 1}",
                    linearity=float(value),
                    sensitivity_air=50.0,
                    sensitivity_oxygen=50.0,
                )
                for reader, value in enumerate(row)
            )
        )
        for cell, row in enumerate(linearity)
    }


def _remembered(before: CellHistory | None, outcome: CellOutcome) -> CellHistory:
    """A cell's history after a visit that did not end its ladder."""
    old = before or CellHistory()
    across = outcome.reason is Reason.ACROSS_LIMIT
    readers = tuple(dict.fromkeys((*old.undecided_readers, *(row.reader for row in outcome.readers))))
    rejected = outcome.verdict is Verdict.REJECT or (old.rejected_before and outcome.verdict is Verdict.REPEAT)
    return CellHistory(
        undecided_before=max(1, old.undecided_before + outcome.new_evidence) if across else 0,
        above_before=old.above_before + 1 if outcome.reason is Reason.ABOVE_LIMIT else 0,
        accepted=old.accepted,
        rejected_before=rejected,
        undecided_readers=readers if across else (),
    )
