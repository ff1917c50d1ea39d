"""What is known of one calibration before it is judged: conditions, gas, readings, limits and history of each cell.

Every value is checked where it enters. A refusal is a ValueError that names the field and the remedy.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType

from fleetbench.calc.cells.uncertainty import WEATHER_PRESSURE_U_MBAR, pressure_at_altitude_mbar
from fleetbench.calc.core.languages import say


class CellPoint(StrEnum):
    """In what a cell is read; settling: oxygen on its way to the value that counts."""

    ZERO = "zero"
    AIR = "air"
    OXYGEN = "oxygen"
    POT = "pot"
    SETTLING = "settling"


ANALYSER_CLAMP = 1.01
"""Largest oxygen fraction an analyser may show and still be read as pure oxygen: common practice, no published
source."""

VENTED_HALF_WIDTH_MBAR = 5.0
"""How far the pressure in a head that is vented by word only may lie from the room's, flowing gas and all: common
practice, no published source."""

UNVENTED_MBAR = 20.0
"""Over-pressure that a head said to be vented may hold all the same, for what cannot be checked against anything:
common practice, no published source."""

DRYING_HOURS = 12.0
"""Time in which a head dries at room temperature: common practice, no published source."""

DEFAULT_ZERO_HALF_WIDTH_MV = 0.1
"""Half width of a handset's zero offset where none was measured or stated: common practice, no published source."""

ANALYSER_NOT_STATED_U = 0.02 / math.sqrt(3.0)
"""Standard uncertainty of an oxygen fraction whose analyser's own is not recorded, ± 2 % oxygen (rectangular): common
practice, no published source."""

HYGROMETER_NOT_STATED_U = 0.10 / math.sqrt(3.0)
"""The same of a relative humidity, ± 10 %: common practice, no published source."""

THERMOMETER_NOT_STATED_U_K = 1.0
"""The same of a room's temperature: common practice, no published source."""

WHOLE_MV = 1.0

_ABSURD_MV = 300.0


class Answer(StrEnum):
    """Answer of a person at the bench; unknown is never read as yes."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


class HeadState(StrEnum):
    """Whether head and cells were dry and at room temperature for half an hour."""

    DRY = "dry"
    DAMP = "damp"
    UNKNOWN = "unknown"


class MadeBy(StrEnum):
    """Who made a calibration: the workshop at its bench, or a diver in the field."""

    WORKSHOP = "workshop"
    DIVER = "diver"


class PressureSource(StrEnum):
    """Where the ambient pressure comes from."""

    MEASURED = "measured"
    ALTITUDE = "altitude"


def _between(name: str, value: float, low: float, high: float, remedy: str) -> None:
    if not (math.isfinite(value) and low <= value <= high):
        raise ValueError(
            say(
                "{name}: {value} is outside {low:g} to {high:g}; {remedy}",
                name=name,
                value=value,
                low=low,
                high=high,
                remedy=remedy,
            )
        )


def _not_negative(name: str, value: float, high: float, remedy: str) -> None:
    _between(name, value, 0.0, high, remedy)


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """Room conditions of a bench session.

    pressure_mbar is absolute ambient pressure. humidity is relative, 0 to 1; None is unknown and widens the result to
    anything from dry to saturated. oxygen_temperature_c None means taken at the air point's temperature, give or take
    ``UNRECORDED_TEMPERATURE_HALF_WIDTH_K``. All ``_u`` are standard uncertainties; None is not recorded, and then the
    wide one of the constants ``..._NOT_STATED_U`` counts (for the pressure that of the weather), never a good one.
    """

    pressure_mbar: float
    temperature_c: float
    pressure_u_mbar: float | None = None
    pressure_source: PressureSource = PressureSource.MEASURED
    humidity: float | None = None
    humidity_u: float | None = None
    temperature_u_c: float | None = None
    oxygen_temperature_c: float | None = None

    def __post_init__(self) -> None:
        """Refuses what no bench can have: each field in its own words."""
        _between("pressure_mbar", self.pressure_mbar, 300.0, 1100.0, say("enter absolute pressure in mbar (hPa)"))
        _between("temperature_c", self.temperature_c, -10.0, 50.0, say("enter the room's temperature in degrees C"))
        _not_negative("pressure_u_mbar", self.used_pressure_u, 100.0, say("enter the barometer's uncertainty in mbar"))
        _not_negative("temperature_u_c", self.used_temperature_u, 10.0, say("enter the thermometer's uncertainty in K"))
        _not_negative("humidity_u", self.used_humidity_u, 0.5, say("enter the hygrometer's uncertainty as a fraction"))
        if self.humidity is not None:
            _between(
                "humidity", self.humidity, 0.0, 1.0, say("enter 0 to 100 % relative humidity, or leave it unknown")
            )
        if self.oxygen_temperature_c is not None:
            _between(
                "oxygen_temperature_c",
                self.oxygen_temperature_c,
                -10.0,
                50.0,
                say("enter it in degrees C, or leave it empty"),
            )

    @property
    def used_pressure_u(self) -> float:
        """Standard uncertainty of the pressure in mbar, that of the weather where none is recorded."""
        return WEATHER_PRESSURE_U_MBAR if self.pressure_u_mbar is None else self.pressure_u_mbar

    @property
    def used_humidity_u(self) -> float:
        """Standard uncertainty of the relative humidity, a wide one where none is recorded."""
        return HYGROMETER_NOT_STATED_U if self.humidity_u is None else self.humidity_u

    @property
    def used_temperature_u(self) -> float:
        """Standard uncertainty of the temperature in K, a wide one where none is recorded."""
        return THERMOMETER_NOT_STATED_U_K if self.temperature_u_c is None else self.temperature_u_c


def conditions_from_altitude(
    altitude_m: float, temperature_c: float, *, humidity: float | None = None, humidity_u: float | None = None
) -> Conditions:
    """Conditions with the standard pressure of an altitude (ISO 2533:1975) and the wide uncertainty of the weather."""
    return Conditions(
        pressure_mbar=pressure_at_altitude_mbar(altitude_m),
        pressure_u_mbar=WEATHER_PRESSURE_U_MBAR,
        pressure_source=PressureSource.ALTITUDE,
        temperature_c=temperature_c,
        humidity=humidity,
        humidity_u=humidity_u,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Gas:
    """Calibration gas as the analyser showed it, a fraction of one; None means that it was not analysed.

    oxygen_fraction_u: the analyser's standard uncertainty; None is not recorded: ``ANALYSER_NOT_STATED_U`` counts.
    """

    oxygen_fraction: float | None
    oxygen_fraction_u: float | None = None

    def __post_init__(self) -> None:
        """Refuses fractions no oxygen supply has, and an analyser that shows over 101 %."""
        if self.oxygen_fraction is None:
            return
        _not_negative("oxygen_fraction_u", self.used_fraction_u, 0.1, say("enter the analyser's own as a fraction"))
        if self.oxygen_fraction > ANALYSER_CLAMP:
            raise ValueError(
                say(
                    "oxygen_fraction: {oxygen_fraction} is over {analyser_clamp:.0%} oxygen; check the "
                    "analyser in air and analyse the gas again (98.5 % is 0.985)",
                    oxygen_fraction=self.oxygen_fraction,
                    analyser_clamp=ANALYSER_CLAMP,
                )
            )
        _between("oxygen_fraction", self.oxygen_fraction, 0.5, ANALYSER_CLAMP, say("enter 98.5 % oxygen as 0.985"))

    @property
    def used_fraction(self) -> float | None:
        """Fraction used: what was shown, but never over 1, since no gas is purer than pure."""
        return None if self.oxygen_fraction is None else min(self.oxygen_fraction, 1.0)

    @property
    def used_fraction_u(self) -> float:
        """Standard uncertainty of the fraction, a wide one where the analyser's is not recorded."""
        return ANALYSER_NOT_STATED_U if self.oxygen_fraction_u is None else self.oxygen_fraction_u


@dataclass(frozen=True, slots=True, kw_only=True)
class CellReadings:
    """What one reader (handset, head-up display or bench meter) showed for one cell.

    mV at the air and oxygen point, None for 'not done'. zero_mv is what the reader shows with no oxygen or shorted
    input, None for 'not taken' (then zero_half_width_mv bounds it). resolution_mv is the display's last digit,
    repeatability_mv the standard deviation of the last readings. gain_u is the reader's relative standard uncertainty
    of gain, which cancels in linearity but not in mV. settled speaks of the oxygen point. pot holds points from a
    pressure pot as (oxygen partial pressure in bar, mV), pot_u_bar their gauge's standard uncertainty.
    A cell that a reader does not show in mV has no row here and is not missing.
    """

    cell: str
    reader: str
    air_mv: float | None
    oxygen_mv: float | None
    zero_mv: float | None = None
    zero_half_width_mv: float = DEFAULT_ZERO_HALF_WIDTH_MV
    resolution_mv: float = 0.1
    repeatability_mv: float = 0.02
    gain_u: float = 0.003
    settled: Answer = Answer.UNKNOWN
    pot: tuple[tuple[float, float], ...] = ()
    pot_u_bar: float = 0.01

    def __post_init__(self) -> None:
        """Refuses readings that no cell gives, naming the cell, the reader and the field."""
        again = say("read it again, in mV, and mind the decimal point")
        for name, value, low, high, remedy in (
            ("air_mv", self.air_mv, 0.0, _ABSURD_MV, again),
            ("oxygen_mv", self.oxygen_mv, 0.0, _ABSURD_MV, again),
            ("zero_mv", self.zero_mv, -2.0, 2.0, say("a larger zero is a fault of the reader")),
            ("zero_half_width_mv", self.zero_half_width_mv, 0.0, 2.0, say("enter the reader's zero error in mV")),
            ("resolution_mv", self.resolution_mv, 0.0001, 10.0, say("enter the last digit of the display in mV")),
            ("repeatability_mv", self.repeatability_mv, 0.0, 10.0, say("enter a standard deviation in mV")),
            ("gain_u", self.gain_u, 0.0, 0.2, say("enter the reader's gain uncertainty as a fraction")),
            ("pot_u_bar", self.pot_u_bar, 0.0, 0.5, say("enter the gauge's uncertainty in bar")),
        ):
            if value is not None and not low <= value <= high:
                where = say(" of {cell} on {reader}", cell=self.cell, reader=self.reader)
                _between(name + where, value, low, high, remedy)
        for po2_bar, mv in self.pot:
            _between(
                say("pot oxygen pressure of {cell} on {reader}", cell=self.cell, reader=self.reader),
                po2_bar, 0.15, 4.0, say("enter absolute partial pressure in bar"),
            )  # fmt: skip
            _not_negative(
                say("pot mV of {cell} on {reader}", cell=self.cell, reader=self.reader), mv, 2 * _ABSURD_MV, again
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class CellLimits:
    """Limits of a cell's part type, stated at 1013.25 mbar, dry air and pure oxygen, with their source.

    mV in air and floor in oxygen, linearity in percent. makers_floor tells a floor from a manual, which rejects, from
    the common-practice figure, under which a linear cell is to be watched. compensation_u_per_k is the relative
    standard uncertainty left by the cell's temperature compensation, per kelvin between the two points. Defaults: 8 to
    13 mV, over 45 mV, 95 to 105 %: common practice, no published source.
    """

    air_low_mv: float = 8.0
    air_high_mv: float = 13.0
    oxygen_floor_mv: float = 45.0
    linearity_low: float = 95.0
    linearity_high: float = 105.0
    makers_floor: bool = False
    compensation_u_per_k: float = 0.002
    source: str = say("common practice, no published source")

    def __post_init__(self) -> None:
        """Refuses limits that are not numbers or the wrong way round."""
        _between("air_low_mv", self.air_low_mv, 0.1, 100.0, say("enter the part type's lower limit in air, in mV"))
        _between("air_high_mv", self.air_high_mv, self.air_low_mv, 100.0, say("it must be over the lower limit"))
        _between(
            "oxygen_floor_mv", self.oxygen_floor_mv, 0.1, 500.0, say("enter the part type's floor in oxygen, in mV")
        )
        _between("linearity_low", self.linearity_low, 50.0, 100.0, say("enter percent, as 95"))
        _between("linearity_high", self.linearity_high, 100.0, 150.0, say("enter percent, as 105"))
        _not_negative("compensation_u_per_k", self.compensation_u_per_k, 0.05, say("enter a fraction per kelvin"))


DEFAULT_LIMITS = CellLimits()


@dataclass(frozen=True, slots=True, kw_only=True)
class AcceptedFigures:
    """Figures of a cell on one reader at its last accepted (pass or watch) calibration; linearity in percent.

    shared_u is the relative standard uncertainty of that linearity from room and gas; None: as large as today's.
    """

    reader: str
    linearity: float
    sensitivity_air: float
    sensitivity_oxygen: float
    shared_u: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CellHistory:
    """What the visits before say of a cell.

    undecided_before and above_before count the consecutive calibrations (visits, or new flushes in one) just before
    this one whose outcome had the reason ``across_limit`` and ``above_limit``. accepted is the last accepted
    calibration, a row a reader, empty if none. limited_before is the lowest pot pressure in bar at which the cell left
    its line and has not been shown to hold it since; limited_proven tells a visit that rejected it for that from one
    that ended undecided. rejected_before tells that the last decided visit rejected the cell by its readings.
    Of undecided visits only those that brought new evidence count (outcome's ``new_evidence``); undecided_readers names
    the readers that took them.
    """

    undecided_before: int = 0
    above_before: int = 0
    accepted: tuple[AcceptedFigures, ...] = ()
    limited_before: float | None = None
    limited_proven: bool = False
    rejected_before: bool = False
    undecided_readers: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuses negative counts and accepted figures that cannot be divided by."""
        if self.undecided_before < 0 or self.above_before < 0:
            raise ValueError(say("undecided_before and above_before: count visits from 0 upward"))
        for row in self.accepted:
            if 1.0 <= row.linearity <= 400.0 and 0.0 <= (row.shared_u or 0.0) <= 10.0:
                continue
            _between(
                say("accepted linearity on {reader}", reader=row.reader),
                row.linearity,
                1.0,
                400.0,
                say("leave out what is not known"),
            )
            if row.shared_u is not None:
                _not_negative(
                    say("accepted shared_u on {reader}", reader=row.reader),
                    row.shared_u,
                    10.0,
                    say("leave it empty if not known"),
                )
        if self.limited_before is not None:
            _between("limited_before", self.limited_before, 0.15, 4.0, say("enter absolute partial pressure in bar"))


NO_HISTORY = CellHistory()


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationInput:
    """One calibration of one head, all that is needed to judge it.

    over_pressure_mbar is gauge pressure in the head at the oxygen point, None if not recorded: it is nought only where
    ``vented`` is yes. limits and history are keyed by cell; a cell without a row has the default limits and no history.
    comparison_passed tells whether another head or a reference cell on the same gas in this session was in limits
    (None: nothing to compare). common_before counts the flushes just before this one, in this session or the visits
    before, after which all cells stood off together (outcome's ``blame.kind`` common). hours_since_last: from the
    head's last calibration to this one, in which a head that is dry now could dry; None where there was none.
    """

    conditions: Conditions
    gas: Gas
    readings: tuple[CellReadings, ...]
    equipment_in_date: bool
    limits: Mapping[str, CellLimits] = field(default_factory=lambda: MappingProxyType({}))
    history: Mapping[str, CellHistory] = field(default_factory=lambda: MappingProxyType({}))
    vented: Answer = Answer.UNKNOWN
    over_pressure_mbar: float | None = None
    over_pressure_u_mbar: float = 1.0
    head: HeadState = HeadState.UNKNOWN
    comparison_passed: bool | None = None
    common_before: int = 0
    hours_since_last: float | None = None

    def __post_init__(self) -> None:
        """Refuses an empty or doubled grid, an absurd over-pressure, and air and oxygen readings swapped."""
        if not self.readings:
            raise ValueError(say("readings: none given; enter at least one cell on one reader"))
        keys = [(row.cell, row.reader) for row in self.readings]
        if len(set(keys)) != len(keys):
            raise ValueError(say("readings: a cell stands twice on one reader; keep one row for each"))
        if self.over_pressure_mbar is not None:
            _between(
                "over_pressure_mbar", self.over_pressure_mbar, -50.0, 500.0, say("enter mbar over the room's pressure")
            )
        _not_negative("over_pressure_u_mbar", self.over_pressure_u_mbar, 100.0, say("enter the gauge's own in mbar"))
        if self.hours_since_last is not None and not self.hours_since_last >= 0:
            raise ValueError(say("hours_since_last: count hours from 0 upward, or leave it empty"))
        if self.common_before < 0:
            raise ValueError(say("common_before: count flushes from 0 upward"))
        for row in self.readings:
            _refuse_slips(row, self.limits_of(row.cell))

    def limits_of(self, cell: str) -> CellLimits:
        """Limits in force for a cell."""
        return self.limits.get(cell, DEFAULT_LIMITS)

    def history_of(self, cell: str) -> CellHistory:
        """History of a cell, empty if none is known."""
        return self.history.get(cell, NO_HISTORY)


def _refuse_slips(row: CellReadings, limits: CellLimits) -> None:
    """Refuses an air and an oxygen reading that changed places, and a reading with its decimal point lost."""
    air, oxygen = row.air_mv, row.oxygen_mv
    high = 2 * limits.air_high_mv
    if (air or 0.0) <= high and (oxygen or 0.0) <= 4 * 4.776 * limits.air_high_mv:
        return
    where = say(" of {cell} on {reader}", cell=row.cell, reader=row.reader)
    if air is not None and oxygen is not None and air > high >= oxygen and oxygen < air / 2:
        raise ValueError(
            say(
                "air_mv and oxygen_mv{where}: {air} and {oxygen} look swapped; change them over",
                where=where,
                air=air,
                oxygen=oxygen,
            )
        )
    if air is not None and air > 4 * limits.air_high_mv:
        raise ValueError(
            say(
                "air_mv{where}: {air} mV is absurd in air; mind the decimal point (10.4, not 104)", where=where, air=air
            )
        )
    if oxygen is not None and oxygen > 4 * 4.776 * limits.air_high_mv:
        raise ValueError(
            say(
                "oxygen_mv{where}: {oxygen} mV is absurd in oxygen; mind the decimal point (49.8, not 498)",
                where=where,
                oxygen=oxygen,
            )
        )
