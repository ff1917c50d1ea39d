"""What a person gives of one calibration, as plain values that a draft file can hold."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from typing import Any

from fleetbench.calc.cells.readings import Answer, CellPoint, HeadState
from fleetbench.calc.core.languages import say
from fleetbench.calc.core.plausible import (
    FLUSH_OXYGEN,
    HUMIDITY,
    OF_POINT,
    OVER_PRESSURE,
    ROOM_PRESSURE,
    ROOM_TEMPERATURE,
    SHOWN_PO2,
    span_of,
)
from fleetbench.records.core.errors import Refused
from fleetbench.workshop.core.workplace import figure_or_none, measured, measured_or_none, one_word

POINTS = ("zero", "air", "settling", "oxygen", "pot")


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingEntry:
    """One figure that one reader showed of one cell; mv and po2_bar None where it was not read.

    pot_bar: oxygen partial pressure in the pot, bar absolute, at point `pot`. seconds: since the flush began, at point
    `settling`.
    """

    slot_id: int
    reader_id: int
    point: str
    mv: float | None = None
    po2_bar: float | None = None
    pot_bar: float | None = None
    seconds: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HandsetEntry:
    """The calibration stored in a handset itself: fraction and pressure set in it, pO2 in bar displayed after."""

    reader_id: int
    fraction_set: float | None = None
    pressure_set_mbar: float | None = None
    shown_oxygen_bar: float | None = None
    shown_air_bar: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperConditions:
    """Conditions of a calibration typed from paper, where no bench session holds; percent, None for not known."""

    pressure_mbar: float | None
    temperature_c: float
    humidity_percent: float | None = None
    oxygen_shown_percent: float | None = None
    analyser_id: int | None = None
    barometer_id: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationEntry:
    """One calibration as it was entered.

    session_id: the bench session that holds; None only with `paper`. at: None for now, else when it was done on paper.
    settled counts on paper alone: at the bench it follows from the stamped readings.
    """

    tag: str
    session_id: int | None = None
    head: str = "unknown"
    vented: str = "unknown"
    over_pressure_mbar: float | None = None
    oxygen_temperature_c: float | None = None
    settled: str = "unknown"
    figures: tuple[ReadingEntry, ...] = ()
    handsets: tuple[HandsetEntry, ...] = ()
    paper: PaperConditions | None = None
    at: datetime | None = None
    ticket_id: int | None = None
    note: str | None = None

    def at_point(self, point: str) -> tuple[ReadingEntry, ...]:
        """The figures of one point, as entered."""
        return tuple(figure for figure in self.figures if figure.point == point)

    def with_figures(self, point: str, figures: tuple[ReadingEntry, ...]) -> "CalibrationEntry":
        """The same entry with these figures in place of all others of the point."""
        kept = tuple(figure for figure in self.figures if figure.point != point)
        return replace(self, figures=kept + figures)


def checked(entry: CalibrationEntry) -> CalibrationEntry:
    """The entry where every word and figure is in reason; Refused naming the first that is not."""
    one_word("head", entry.head, tuple(HeadState))
    one_word("vented", entry.vented, tuple(Answer))
    one_word("settled", entry.settled, tuple(Answer))
    measured_or_none(OVER_PRESSURE, entry.over_pressure_mbar)
    measured_or_none(ROOM_TEMPERATURE, entry.oxygen_temperature_c, "temperature in oxygen")
    if (entry.session_id is None) == (entry.paper is None):
        raise Refused(say("bench session: open one first, or give the conditions as they stand on the paper"))
    if entry.paper is not None and entry.at is None:
        raise Refused(say("when: give day and time of the calibration as they stand on the paper"))
    _check_paper(entry.paper)
    seen: set[tuple[int, int, str, float | None, float | None]] = set()
    for each in entry.figures:
        one_word("point", each.point, POINTS)
        # The judgement that follows holds each point to its own range, and names the cell and the reader.
        figure_or_none(
            say("{point} reading", point=say(each.point)),
            each.mv,
            *span_of(*OF_POINT.values()),
            "enter what the reader shows, in mV",
        )
        measured_or_none(SHOWN_PO2, each.po2_bar, say("{point} pO2", point=say(each.point)))
        figure_or_none("pot", each.pot_bar, 0.15, 4, "enter the oxygen partial pressure in the pot, in bar absolute")
        figure_or_none("seconds", each.seconds, 0, 7200, "enter seconds since the flush began")
        if each.point == CellPoint.POT and each.pot_bar is None:
            raise Refused(say("pot: enter the oxygen partial pressure in the pot, in bar absolute"))
        if each.point == CellPoint.SETTLING and each.seconds is None:
            raise Refused(say("settling: a reading has no time; stamp it again"))
        key = (each.slot_id, each.reader_id, each.point, each.pot_bar, each.seconds)
        if key in seen:
            raise Refused(
                say("{point} reading: stands twice for one cell on one reader; keep one", point=say(each.point))
            )
        seen.add(key)
    for handset in entry.handsets:
        _check_handset(handset)
    return entry


def _check_paper(paper: PaperConditions | None) -> None:
    if paper is None:
        return
    measured_or_none(ROOM_PRESSURE, paper.pressure_mbar)
    measured(ROOM_TEMPERATURE, paper.temperature_c)
    measured_or_none(HUMIDITY, paper.humidity_percent)
    measured_or_none(FLUSH_OXYGEN, paper.oxygen_shown_percent)


def _check_handset(handset: HandsetEntry) -> None:
    figure_or_none("fraction set", handset.fraction_set, 0.5, 1, "enter 99.5 % as 99.5")
    measured_or_none(ROOM_PRESSURE, handset.pressure_set_mbar, "pressure set")
    measured_or_none(SHOWN_PO2, handset.shown_oxygen_bar, "displayed in oxygen")
    measured_or_none(SHOWN_PO2, handset.shown_air_bar, "displayed in air")


def as_content(entry: CalibrationEntry) -> dict[str, Any]:
    """The entry as plain values for a draft file; times as ISO text."""
    content = asdict(entry)
    content["at"] = entry.at.isoformat() if entry.at is not None else None
    return content


def from_content(content: Mapping[str, Any]) -> CalibrationEntry:
    """The entry that a draft file holds; Refused where the file is not one of this program's."""
    try:
        values = dict(content)
        values["figures"] = tuple(ReadingEntry(**each) for each in values["figures"])
        values["handsets"] = tuple(HandsetEntry(**each) for each in values["handsets"])
        values["paper"] = PaperConditions(**values["paper"]) if values["paper"] else None
        values["at"] = datetime.fromisoformat(values["at"]) if values["at"] else None
        return CalibrationEntry(**values)
    except (KeyError, TypeError, ValueError) as fault:
        raise Refused(say("draft: cannot be read; discard it and start again")) from fault
