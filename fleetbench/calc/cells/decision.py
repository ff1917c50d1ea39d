"""Verdict of every cell of a head from its figures, for one head or for a hundred thousand at once.

Arrays are shaped (..., cells, readers) or, per cell, (..., cells), or, per head, (...,). A reader that does not show a
cell in mV is masked by ``read``. The rules are in the docstring of ``decide``, in the order in which they act.
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from fleetbench.calc.cells.blame import median_shift, summed
from fleetbench.calc.cells.readings import WHOLE_MV
from fleetbench.calc.cells.uncertainty import (
    COVERAGE,
    PASS,
    REJECT,
    REPEAT,
    WATCH,
    Array,
    Codes,
    Figures,
    Standing,
    by_ladder,
    can_never_decide,
    floor_severity,
    standing,
)

Mask = NDArray[np.bool_]

DIFFER_COVERAGE = 2.3
"""Coverage factor of each reader's own part where readers are compared: over 2, since a head makes several comparisons
and one good head in a thousand, not one in two hundred, may be sent back for it (found by simulation)."""

READER_TOLERANCE = 0.02
"""Relative difference in mV that two handsets may have by their gains alone: common practice, no published source."""

SHIFT_COVERAGE = 2.6
"""Coverage factor of a shift of all cells against their last accepted figures; about 1 good head in 200 each way."""

AGEING_U = 0.0015
"""Relative standard uncertainty left for ageing between two visits and for the last 0.3 % of air that a good flush may
leave: common practice, no published source."""

_MEDIAN_FACTOR = 1.2533
"""Standard error of a median over that of a mean, sqrt(pi / 2), for normal errors."""


class Reason(StrEnum):
    """Why a cell got its verdict; kept with the outcome, since the ladder counts the visits that ended alike."""

    WITHIN_LIMITS = "within_limits"
    LOW_OUTPUT = "low_output"
    ACROSS_LIMIT = "across_limit"
    CANNOT_DECIDE = "cannot_decide"
    ABOVE_LIMIT = "above_limit"
    BELOW_LIMIT = "below_limit"
    MV_OUT_OF_LIMITS = "mv_out_of_limits"
    CURRENT_LIMITED = "current_limited"
    NOT_VENTED = "not_vented"
    SHIFTED_UP = "shifted_up"
    COMMON_LOW = "common_low"
    READERS_DIFFER = "readers_differ"
    NOT_SETTLED = "not_settled"
    GAS_NOT_ANALYSED = "gas_not_analysed"
    MISSING = "missing"
    HEAD_DAMP = "head_damp"
    EQUIPMENT = "equipment"
    LIMITED_BEFORE = "limited_before"
    POT_UNDECIDED = "pot_undecided"
    REJECTED_BEFORE = "rejected_before"


REASONS = tuple(Reason)
_CODE = {reason: code for code, reason in enumerate(REASONS)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """Limits as arrays that broadcast with the figures, in mV and percent."""

    air_low: Array
    air_high: Array
    oxygen_floor: Array
    makers_floor: Mask
    linearity_low: Array
    linearity_high: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Circumstances:
    """What else bears on the verdict.

    Per cell and reader: read, missing_air, missing_oxygen, settled, resolution (mV), pot_standing (Standing codes),
    pot_highest and pot_held (highest pot pressure taken, and up to which the line is held, bar, NaN none),
    accepted_linearity (percent, NaN unknown), accepted_shared_u (relative, NaN as today's). Per cell: undecided_before,
    above_before, limited_before (bar, NaN not), limited_proven, rejected_before. Per head: damp, vented (or the
    over-pressure recorded), analysed, equipment_in_date, common_before, comparison_passed (known and true).
    What shows that a fault of the visits before is not in this one too: per cell and reader new_zero (its zero was
    read, or the reader is new to the cell since it is undecided); per head pressure_recorded and dried. Per head, how
    much too high linearity can be where they are not (relative): pressure_share, by over-pressure in a head vented by
    word only, and moist_share, by an air point taken in saturated air that the flush then dried.
    """

    read: Mask
    missing_air: Mask
    missing_oxygen: Mask
    settled: Mask
    resolution: Array
    pot_standing: Codes
    pot_highest: Array
    pot_held: Array
    accepted_linearity: Array
    accepted_shared_u: Array
    undecided_before: NDArray[np.int64]
    above_before: NDArray[np.int64]
    limited_before: Array
    limited_proven: Mask
    rejected_before: Mask
    damp: Mask
    vented: Mask
    analysed: Mask
    equipment_in_date: Mask
    common_before: NDArray[np.int64]
    comparison_passed: Mask
    new_zero: Mask
    pressure_recorded: Mask
    dried: Mask
    pressure_share: Array
    moist_share: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """Severity and reason code (index into REASONS) per cell, with what led there.

    Per cell and reader: linearity, air, floor and pot standings, reader_severity, coarse (a display that can never
    decide). Per cell: differ (its readers do), limited (what pot points said before still stands), departed (pot points
    that count show it current-limited now); what this visit lacks to be new evidence where the cell is undecided:
    lacks_zero, lacks_pressure, lacks_drying; by_word (in limits only if what was merely said holds). Per head:
    common_low, shifted_up, shift and shift_threshold (relative, NaN without history).
    """

    severity: Codes
    reason: Codes
    linearity_standing: Codes
    air_standing: Codes
    floor_standing: Codes
    reader_severity: Codes
    coarse: Mask
    differ: Mask
    limited: Mask
    departed: Mask
    common_low: Mask
    shifted_up: Mask
    shift: Array
    shift_threshold: Array
    lacks_zero: Mask
    lacks_pressure: Mask
    lacks_drying: Mask
    by_word: Mask

    @property
    def new_evidence(self) -> Mask:
        """Whether a visit that ends undecided counts as another one, (..., C): no fault of the one before fits it."""
        return ~(self.lacks_zero | self.lacks_pressure | self.lacks_drying)

    def of_head(self, head: int, shape: tuple[int, int]) -> "Decision":
        """The decision on one head out of many, by its own shape."""
        own = (head, slice(shape[0]), slice(shape[1]))
        return Decision(**{name: (array := getattr(self, name))[own[: array.ndim]] for name in Decision.__slots__})


@dataclass(frozen=True, slots=True)
class _Lacks:
    """What this visit lacks to be new evidence on a cell, (..., C)."""

    zero: Mask
    pressure: Mask
    drying: Mask

    @property
    def any(self) -> Mask:
        return np.asarray(self.zero | self.pressure | self.drying, dtype=bool)


def _telling(figures: Figures, bounds: Bounds, given: Circumstances) -> Mask:
    """Readers of a cell that can decide it, (..., C, R); all of them where none can."""
    fine = given.read & ~coarse_display(figures, bounds, given.resolution)
    return np.asarray(np.where(np.any(fine, axis=-1, keepdims=True), fine, given.read), dtype=bool)


def _lacks(figures: Figures, bounds: Bounds, given: Circumstances, telling: Mask) -> _Lacks:
    """What would have to be measured for a second undecided visit to tell more than the first.

    A handset's zero, over-pressure in the head and an air point in moist air are the same at each visit unless
    something changed. Pressure and drying are not asked for where even their full effect leaves the value in limits.
    """

    def stays(share: Array) -> Mask:
        lowest = figures.linearity * (1.0 - share[..., None, None])
        return np.asarray(np.all((lowest >= bounds.linearity_low) | ~telling, axis=-1), dtype=bool)

    return _Lacks(
        ~np.any(given.new_zero & telling, axis=-1),
        ~given.pressure_recorded[..., None] & ~stays(given.pressure_share),
        ~given.dried[..., None] & ~stays(given.moist_share),
    )


def _by_word(figures: Figures, bounds: Bounds, given: Circumstances, telling: Mask, shift: Array) -> Mask:
    """Cells whose whole interval is in limits only if a head is vented and dry as was said, with nothing to compare.

    Where the head's last accepted figures are known, a fault of that size shows as a shift.
    """
    share = np.maximum(
        np.where(given.pressure_recorded, 0.0, given.pressure_share), np.where(given.dried, 0.0, given.moist_share)
    )
    low_end = figures.linearity - figures.linearity_expanded
    left = low_end * (1.0 - np.asarray(share)[..., None, None])
    short = np.any((low_end >= bounds.linearity_low) & (left < bounds.linearity_low) & telling, axis=-1)
    return np.asarray(short & np.isnan(shift)[..., None], dtype=bool)


def coarse_display(figures: Figures, bounds: Bounds, resolution: Array) -> Mask:
    """Whether a display alone keeps the linearity of a cell from ever being decided: whole mV, or as uncertain."""
    own = COVERAGE * figures.own_u * figures.linearity
    return np.asarray(
        (resolution >= WHOLE_MV) | can_never_decide(own, bounds.linearity_low, bounds.linearity_high), dtype=bool
    )


def readers_differ(figures: Figures, read: Mask) -> Mask:
    """Whether two readers of a cell differ by more than both their own expanded uncertainties, (..., C, R) to (..., C).

    What readers share (room, gas) cancels. In mV a difference of ``READER_TOLERANCE`` is granted to their gains.
    """
    wider = DIFFER_COVERAGE / COVERAGE
    spans = (
        (figures.linearity, DIFFER_COVERAGE * figures.own_u * figures.linearity, 0.0),
        (figures.oxygen_normal, wider * figures.oxygen_own_expanded, READER_TOLERANCE / 2),
        (figures.air_normal, wider * figures.air_own_expanded, READER_TOLERANCE / 2),
    )
    differ = np.zeros(read.shape[:-1], dtype=bool)
    for value, half_width, granted in spans:
        usable = read & ~np.isnan(value) & ~np.isnan(half_width)
        half = half_width + granted * value
        highest_low_end = np.max(np.where(usable, value - half, -np.inf), axis=-1)
        lowest_high_end = np.min(np.where(usable, value + half, np.inf), axis=-1)
        differ |= highest_low_end > lowest_high_end
    return np.asarray(differ)


def shift_against_history(
    figures: Figures, accepted: Array, read: Mask, accepted_shared_u: Array | float = np.nan
) -> tuple[Array, Array]:
    """Median relative shift of a head's cells against their last accepted linearity, and the threshold it must pass.

    A handset's zero stays with the handset and is left out; the rest of both sessions' uncertainty is in, the earlier
    as it was and never smaller than this one's, so that a rough session sends no good head back. NaN with fewer than
    two cells with history.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        deviation = np.where(read, np.log(figures.linearity / accepted), np.nan)
        deviation = np.where(np.isfinite(deviation), deviation, np.nan)
        shift = median_shift(deviation)
        own = np.where(np.isnan(deviation), 0.0, figures.own_u**2 - figures.zero_part_u**2)
        count = np.maximum(np.count_nonzero(~np.isnan(deviation), axis=(-2, -1)), 1)
        own_u = _MEDIAN_FACTOR * np.sqrt(summed(own.reshape(*own.shape[:-2], -1))) / count
    shared_u = np.max(np.broadcast_to(figures.shared_u, deviation.shape), axis=(-2, -1))
    earlier = np.where(np.isnan(deviation) | np.isnan(accepted_shared_u), 0.0, accepted_shared_u)
    earlier_u = np.maximum(shared_u, np.max(earlier, axis=(-2, -1)))
    threshold = SHIFT_COVERAGE * np.sqrt(2.0 * own_u**2 + shared_u**2 + earlier_u**2 + AGEING_U**2)
    return shift, np.asarray(np.where(np.isnan(shift), np.nan, threshold))


def _coarse_severity(standings: Codes, clear: Mask) -> Codes:
    """Severity on a display that can never decide: reject where the whole interval is out, else repeat, no ladder."""
    return np.asarray(np.where((standings == Standing.BELOW) & clear, REJECT, REPEAT), dtype=np.int8)


def _all_low(figures: Figures, bounds: Bounds, standings: Codes, usable: Mask) -> Mask:
    """Whether all of two or more cells stand at or under the lower limit of linearity on every reader."""
    middle = (bounds.linearity_low + bounds.linearity_high) / 2.0
    low = (standings == Standing.BELOW) | ((standings == Standing.ACROSS) & (figures.linearity < middle))
    cells = np.count_nonzero(np.any(usable, axis=-1), axis=-1)
    return np.asarray(np.all(low | ~usable, axis=(-2, -1)) & (cells >= 2), dtype=bool)


def _at_best(severity: Codes, floor: int, where: Mask) -> Codes:
    return np.asarray(np.where(where, np.maximum(severity, floor), severity), dtype=np.int8)


def _exactly(severity: Codes, value: int, where: Mask) -> Codes:
    return np.asarray(np.where(where, value, severity), dtype=np.int8)


@dataclass(frozen=True, slots=True)
class _Alone:
    """What each reader says on its own, (..., C, R): standings, severities by side, and who has a vote."""

    linear: Codes
    air: Codes
    floor: Codes
    coarse: Mask
    clear: Mask
    void: Mask
    oxygen_severity: Codes
    air_severity: Codes
    pot_severity: Codes
    votes: Mask

    @property
    def severity(self) -> Codes:
        return np.asarray(np.maximum.reduce([self.oxygen_severity, self.air_severity, self.pot_severity]))


def _each_alone(figures: Figures, bounds: Bounds, given: Circumstances, lacks: _Lacks) -> _Alone:
    """Rules 1 and 2 of ``decide``."""
    above = given.above_before[..., None]
    undecided = np.where(lacks.any, 0, given.undecided_before)[..., None]
    vented = given.vented[..., None, None]
    linear = standing(figures.linearity, figures.linearity_expanded, bounds.linearity_low, bounds.linearity_high)
    air = standing(figures.air_normal, figures.air_normal_expanded, bounds.air_low, bounds.air_high)
    floor = standing(figures.oxygen_normal, figures.oxygen_normal_expanded, bounds.oxygen_floor)
    coarse = coarse_display(figures, bounds, given.resolution) & given.read
    clear = np.asarray(figures.linearity + figures.linearity_expanded < bounds.linearity_low)
    # Too high a linearity in a head that was not vented is the over-pressure's, and never climbs the ladder.
    of_linearity = _exactly(by_ladder(linear, undecided, above), REPEAT, (linear == Standing.ABOVE) & ~vented)
    of_linearity = np.where(coarse, _coarse_severity(linear, clear), of_linearity)
    of_floor = floor_severity(floor, bounds.makers_floor, undecided)
    of_floor = _exactly(of_floor, REPEAT, coarse & (floor == Standing.ACROSS))
    of_air = _exactly(by_ladder(air, undecided, above), REPEAT, coarse & (air == Standing.ACROSS))
    void = given.missing_oxygen | given.missing_air | ~given.settled | ~given.analysed[..., None, None]
    oxygen_severity = _exactly(np.maximum(of_linearity, of_floor).astype(np.int8), REPEAT, void)
    # A cell without output in air has no linearity; its reading in air already rejects it.
    air_severity = _exactly(of_air, REPEAT, given.missing_air)
    pot_severity = _exactly(by_ladder(given.pot_standing, undecided, above), PASS, void)
    worst = np.maximum.reduce([oxygen_severity, air_severity, pot_severity])
    fine = given.read & ~coarse & ~given.missing_oxygen & ~given.missing_air
    beside_finer = np.any(fine, axis=-1, keepdims=True)
    votes = given.read & ~(coarse & beside_finer & (worst < REJECT))
    return _Alone(
        linear,
        air=air,
        floor=floor,
        coarse=coarse,
        clear=clear,
        void=void,
        oxygen_severity=oxygen_severity,
        air_severity=air_severity,
        pot_severity=pot_severity,
        votes=votes,
    )


def _worst_vote(severity: Codes, votes: Mask) -> Codes:
    return np.asarray(np.max(np.where(votes, severity, PASS), axis=-1), dtype=np.int8)


def decide(figures: Figures, bounds: Bounds, given: Circumstances) -> Decision:
    """Severity and reason of each cell, (..., C), by the rules of the bench, in this order.

    1. Each reader alone: linearity, mV in air and in oxygen and pot points by guard band and ladder. An oxygen point
       that is missing, unsettled or without analysed gas is `repeat`, whatever it shows. A further undecided visit
       climbs the ladder only as new evidence: with a zero read or another reader, the head's pressure recorded and
       the head left to dry, each where it could matter (see ``_lacks``); otherwise it stays `repeat`.
    2. A cell has the worst of its readers, but a display that can never decide has no vote beside one that can, unless
       it shows the cell wholly under the limit.
    3. Readers that differ beyond both their uncertainties: `repeat`, unless every reader rejects.
    4. All cells low together, or shifted down against their last accepted figures: `repeat`; again after a new flush,
       with a comparison in limits on the same gas, each cell's own verdict, at best `watch`; with nothing to compare
       `repeat`, or `watch` where the cell is in limits all the same. Shifted up together: twice `repeat`, then at best
       `watch` with the head's pressure recorded and the head dried, else `repeat`. What the air point or a pressure
       pot shows stands beside this.
    5. Head not vented and no pressure recorded: at best `repeat`. Vented or dry by word only, with no accepted figures
       to compare with: `repeat` where the interval would not stay in limits if it were not so.
    6. Head damp, or equipment out of date: `repeat`.
    7. What was decided before stands until the same kind of evidence lifts it. A cell that left its line in a pressure
       pot stays `reject` (where that visit ended undecided, at best `repeat`) until a clean pot point at or above the
       pressure at which it did is in limits (where undecided, until one is taken). A cell rejected by its readings is
       at best `repeat` at the first visit that would pass it: it takes two. One rejected because it could not be
       shown to meet the limit passes as soon as it is shown.

    Common practice, no published source, save the guard band (JCGM 106:2012, 8.3.2).
    """
    telling = _telling(figures, bounds, given)
    lacks = _lacks(figures, bounds, given, telling)
    alone = _each_alone(figures, bounds, given, lacks)
    cell_oxygen, cell_air, cell_pot = (
        _worst_vote(severity, alone.votes)
        for severity in (alone.oxygen_severity, alone.air_severity, alone.pot_severity)
    )
    differ = readers_differ(figures, given.read)
    moved = differ & ~np.all((alone.severity == REJECT) | ~alone.votes, axis=-1)
    cell_oxygen, cell_air, cell_pot = (_exactly(side, REPEAT, moved) for side in (cell_oxygen, cell_air, cell_pot))

    usable = given.read & ~alone.coarse & ~np.isnan(figures.linearity) & ~alone.void
    shift, threshold = shift_against_history(figures, given.accepted_linearity, usable, given.accepted_shared_u)
    common_low = _all_low(figures, bounds, alone.linear, usable) | (shift < -threshold)
    shifted_up = (shift > threshold) & ~common_low
    in_limits = np.all((alone.linear == Standing.INSIDE) | ~alone.votes, axis=-1) & (cell_oxygen <= WATCH)
    cell_oxygen = _common_severity(cell_oxygen, in_limits, common_low, shifted_up, given)
    by_word = _by_word(figures, bounds, given, telling, shift) & (cell_oxygen <= WATCH)
    cell_oxygen = _at_best(cell_oxygen, REPEAT, ~given.vented[..., None] | by_word)

    severity = np.maximum.reduce([cell_oxygen, cell_air, cell_pot])
    severity = _exactly(severity, REPEAT, (given.damp | ~given.equipment_in_date)[..., None])
    sides = _Sides(
        cell_oxygen, air=cell_air, moved=moved, common_low=common_low, shifted_up=shifted_up, by_word=by_word
    )
    departed = np.any((given.pot_standing == Standing.BELOW) & ~alone.void & alone.votes, axis=-1)
    limited = _still_limited(alone, given, sides)
    standing_before = _Before(severity, limited, departed)
    return Decision(
        severity=_with_what_stood(severity, limited, given),
        reason=_reasons_with_history(_reasons(alone, bounds, given, sides), standing_before, given),
        linearity_standing=alone.linear,
        air_standing=alone.air,
        floor_standing=alone.floor,
        reader_severity=alone.severity,
        coarse=alone.coarse,
        differ=differ,
        limited=limited,
        departed=departed,
        common_low=common_low,
        shifted_up=shifted_up,
        shift=shift,
        shift_threshold=threshold,
        lacks_zero=lacks.zero,
        lacks_pressure=lacks.pressure,
        lacks_drying=lacks.drying,
        by_word=by_word,
    )


@dataclass(frozen=True, slots=True)
class _Sides:
    """Severity of each cell by its oxygen and its air point, and what moved it, (..., C) or (...,)."""

    oxygen: Codes
    air: Codes
    moved: Mask
    common_low: Mask
    shifted_up: Mask
    by_word: Mask


@dataclass(frozen=True, slots=True)
class _Before:
    """Severity of each cell by this visit alone, and whether pot points hold it since an earlier one or do now."""

    alone: Codes
    limited: Mask
    departed: Mask


def _still_limited(alone: _Alone, given: Circumstances, sides: _Sides) -> Mask:
    """Whether what a pressure pot showed before still stands, (..., C): no clean pot point reaches as far."""
    sound = given.vented & ~given.damp & given.equipment_in_date & ~sides.common_low & ~sides.shifted_up
    counts = alone.votes & ~alone.void & sound[..., None, None] & ~sides.moved[..., None]
    before = given.limited_before[..., None]
    held = np.any(counts & (given.pot_held >= before), axis=-1)
    held &= np.all((given.pot_standing == Standing.INSIDE) | ~alone.votes, axis=-1)
    reached = np.any(counts & (given.pot_highest >= before), axis=-1)
    lifted = held | (~given.limited_proven & reached)
    return np.asarray(~np.isnan(given.limited_before) & ~lifted, dtype=bool)


def _with_what_stood(severity: Codes, limited: Mask, given: Circumstances) -> Codes:
    """Rule 7 of ``decide``; it makes no verdict better."""
    severity = _at_best(severity, REPEAT, given.rejected_before | limited)
    return _exactly(severity, REJECT, limited & given.limited_proven)


def _reasons_with_history(reasons: Codes, now: _Before, given: Circumstances) -> Codes:
    """Reason codes where an earlier visit governs; a cell that is across a limit keeps that, for its ladder counts."""
    usable = now.alone <= WATCH
    first = given.rejected_before & usable & (reasons != _CODE[Reason.ACROSS_LIMIT])
    reasons = np.where(first, _CODE[Reason.REJECTED_BEFORE], reasons)
    reasons = np.where(now.limited & ~given.limited_proven & usable, _CODE[Reason.POT_UNDECIDED], reasons)
    proven = now.limited & given.limited_proven
    reasons = np.where(proven & ~now.departed, _CODE[Reason.LIMITED_BEFORE], reasons)
    return np.asarray(np.where(proven & now.departed, _CODE[Reason.CURRENT_LIMITED], reasons), dtype=np.int8)


def _reasons(alone: _Alone, bounds: Bounds, given: Circumstances, sides: _Sides) -> Codes:
    """Reason code of each cell: the first of these that holds governs."""

    def any_of(mask: Mask) -> Mask:
        return np.asarray(np.any(mask & alone.votes, axis=-1), dtype=bool)

    def per_cell(mask: Mask) -> Mask:
        return np.asarray(mask[..., None])

    linear, air, floor, pot = alone.linear, alone.air, alone.floor, given.pot_standing
    weak = (air == Standing.BELOW) & ~given.missing_air
    under_floor = (floor == Standing.BELOW) & bounds.makers_floor & ~alone.void
    above = (linear == Standing.ABOVE) | (air == Standing.ABOVE) | (pot == Standing.ABOVE)
    across = ((linear == Standing.ACROSS) | (pot == Standing.ACROSS)) & ~alone.coarse
    across |= (air == Standing.ACROSS) | ((floor == Standing.ACROSS) & bounds.makers_floor)
    rules = (
        (Reason.EQUIPMENT, per_cell(~given.equipment_in_date)),
        (Reason.HEAD_DAMP, per_cell(given.damp)),
        (Reason.READERS_DIFFER, sides.moved & ~any_of(alone.void)),
        (Reason.MV_OUT_OF_LIMITS, any_of(weak)),
        (Reason.MISSING, any_of(given.missing_oxygen | given.missing_air)),
        (Reason.GAS_NOT_ANALYSED, per_cell(~given.analysed)),
        (Reason.NOT_SETTLED, any_of(~given.settled)),
        (Reason.READERS_DIFFER, sides.moved),
        (Reason.CURRENT_LIMITED, any_of(pot == Standing.BELOW)),
        (Reason.COMMON_LOW, per_cell(sides.common_low) & (sides.oxygen <= REPEAT)),
        (Reason.BELOW_LIMIT, any_of((linear == Standing.BELOW) & (~alone.coarse | alone.clear))),
        (Reason.MV_OUT_OF_LIMITS, any_of(under_floor)),
        (Reason.CANNOT_DECIDE, any_of(alone.coarse)),
        (Reason.NOT_VENTED, per_cell(~given.vented) | (sides.by_word & per_cell(~given.pressure_recorded))),
        (Reason.HEAD_DAMP, sides.by_word),
        (Reason.ABOVE_LIMIT, any_of(above)),
        (Reason.SHIFTED_UP, per_cell(sides.shifted_up) & (sides.oxygen > PASS)),
        (Reason.ACROSS_LIMIT, any_of(across)),
        (Reason.LOW_OUTPUT, any_of((floor != Standing.INSIDE) & ~given.missing_oxygen)),
    )
    chosen = np.zeros(sides.oxygen.shape, dtype=np.int8)
    for name, holds in reversed(rules):
        np.copyto(chosen, _CODE[name], where=holds)
    return chosen


def _common_severity(own: Codes, in_limits: Mask, common_low: Mask, shifted_up: Mask, given: Circumstances) -> Codes:
    """Severity on the oxygen side when all cells of a head stand off together (rule 4 of ``decide``)."""
    again = (given.common_before >= 1)[..., None]
    cleared = again & given.comparison_passed[..., None]
    low = common_low[..., None]
    severity = _exactly(own, REPEAT, low & ~again)
    severity = np.where(low & again & ~cleared, np.where(in_limits, WATCH, REPEAT), severity).astype(np.int8)
    severity = _at_best(severity, WATCH, low & cleared)
    up = shifted_up[..., None]
    shown = given.pressure_recorded & given.dried
    severity = _at_best(severity, REPEAT, up & ((given.common_before < 2) | ~shown)[..., None])
    return _at_best(severity, WATCH, up)
