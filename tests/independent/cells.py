"""Oxygen cells judged a second time, one figure after another in plain Python, from the raw sheets alone.

Air point 0.20939 * (p - RH * es), CIPM-2007 fraction, es by WMO-No. 8 (2008) Annex 4.B; combination of uncertainties
by JCGM 100 with k = 2; guard band by JCGM 106; the ladder of verdicts and every default limit: common practice, no
published source.
"""

import math
from dataclasses import dataclass, field

from tests.independent.sheet_reading import Folder, Row, number

OXYGEN_IN_AIR = 0.20939
STANDARD_MBAR = 1013.25
RESOLUTION_MV = 0.1
REPEAT_MV = 0.05
LINEARITY = (95.0, 105.0)
# A head short of oxygen shows in all its cells at once against their own last good values, percent.
SHORT_FLUSH = 2.0


@dataclass
class Seen:
    """What one reader showed of one cell, with its values as calculated."""

    reader: str
    air_mv: float | None = None
    oxygen_mv: float | None = None
    zero_mv: float | None = None
    pot: list[tuple[float, float]] = field(default_factory=list)
    linearity: float | None = None
    expanded: float | None = None
    air_norm: float = 0.0
    oxygen_norm: float = 0.0


@dataclass
class Judged:
    """One cell's verdict in one calibration."""

    calibration: str
    at: str
    made: str
    cell: str
    slot: str
    verdict: str
    finding: str
    linearity: float | None = None


class Cells:
    """All calibrations of a folder, judged in order of time."""

    def __init__(self, folder: Folder) -> None:
        self.sheets = folder
        self.parts = folder.by("parts", "record")
        self.equipment = folder.by("equipment", "record")
        self.sessions = folder.by("sessions", "record")
        self.calibrations = folder.by("calibrations", "record")
        self.readings = folder.grouped("readings", "calibration")
        self.limits = {
            (row["part_type"], row["name"]): float(row["amount"]) for row in folder["limits"] if row["part_type"]
        }
        self.last_good: dict[str, float] = {}
        self.undecided: dict[str, int] = {}
        self.sound_calibrations: set[str] = set()

    def judge_all(self) -> list[Judged]:
        """Every cell of every calibration, the oldest first."""
        judged: list[Judged] = []
        for row in sorted(self.sheets["calibrations"], key=lambda row: (row["at"], row["record"])):
            judged += self.judge(row)
        return judged

    def latest(self) -> dict[str, Judged]:
        """The latest verdict of each cell that was ever calibrated."""
        return {each.cell: each for each in self.judge_all()}

    def judge(self, row: Row) -> list[Judged]:
        """The verdicts of one calibration's cells, which also become their history."""
        seen = self._gather(row)
        for (_slot, cell), readers in seen.items():
            for reader in readers.values():
                self._values(row, cell, reader)
        common = self._all_low(row, seen)
        out = []
        for (slot, cell), readers in seen.items():
            verdict, finding = self._verdict(row, cell, list(readers.values()), common)
            values = [r.linearity for r in readers.values() if r.linearity is not None]
            worst = min(values, key=lambda v: -abs(v - 100), default=None)
            out.append(Judged(row["record"], row["at"], row["made"], cell, slot, verdict, finding, worst))
            if verdict in {"pass", "watch"}:
                self.undecided[cell] = 0
                if worst is not None:
                    self.last_good[cell] = sum(values) / len(values)
            elif verdict == "repeat":
                self.undecided[cell] = self.undecided.get(cell, 0) + 1
        if out and all(each.verdict in {"pass", "watch"} for each in out):
            self.sound_calibrations.add(row["record"])
        return out

    def _gather(self, row: Row) -> dict[tuple[str, str], dict[str, Seen]]:
        found: dict[tuple[str, str], dict[str, Seen]] = {}
        for reading in self.readings.get(row["record"], []):
            mv = number(reading["mv"])
            if mv is None:
                continue
            key = (reading["slot"], reading["cell"])
            reader = found.setdefault(key, {}).setdefault(reading["reader"], Seen(reading["reader"]))
            match reading["point"]:
                case "air":
                    reader.air_mv = mv
                case "oxygen":
                    reader.oxygen_mv = mv
                case "zero":
                    reader.zero_mv = mv
                case "pot":
                    reader.pot.append((float(reading["pot_bar"]), mv))
        return found

    def _values(self, row: Row, cell: str, reader: Seen) -> None:
        if reader.air_mv is None or reader.oxygen_mv is None or not row["oxygen_shown_percent"]:
            return
        pressure, temperature = float(row["pressure_mbar"]), float(row["temperature_c"])
        vapour = 6.112 * math.exp(17.62 * temperature / (243.12 + temperature))
        humidity = number(row["humidity"])
        wet = 0.5 if humidity is None or row["head"] != "dry" else humidity / 100
        u_wet = (
            0.5 / math.sqrt(3) if humidity is None or row["head"] != "dry" else self._u(row, "hygrometer", 2.0) / 100
        )
        fraction = min(float(row["oxygen_shown_percent"]), 100.0) / 100
        over = number(row["over_pressure_mbar"]) or 0.0
        oxygen_wet = wet if row["head"] != "dry" else 0.0
        air_mbar = OXYGEN_IN_AIR * (pressure - wet * vapour)
        oxygen_mbar = fraction * (pressure + over - oxygen_wet * vapour)
        zero = reader.zero_mv or 0.0
        air, oxygen = reader.air_mv - zero, reader.oxygen_mv - zero
        u_zero = 0.1 / math.sqrt(3) if reader.zero_mv is None else RESOLUTION_MV / math.sqrt(12)
        u_read = math.hypot(RESOLUTION_MV / math.sqrt(12), REPEAT_MV)
        oxygen_c = number(row["oxygen_temperature_c"])
        warmer = abs(oxygen_c - temperature) if oxygen_c is not None else 1.0
        residual = self.limits.get((self.parts[cell]["part_type"], "temperature residual"), 0.1) / 100
        terms = [
            u_read / air, u_read / oxygen, u_zero * (1 / air - 1 / oxygen),
            self._u(row, "analyser", 0.5) / 100 / fraction, u_wet * vapour / (pressure - wet * vapour),
            (u_wet * vapour / pressure) if row["head"] != "dry" else 0.0, residual * warmer / math.sqrt(3),
        ]  # fmt: skip
        reader.linearity = 100 * (oxygen / oxygen_mbar) / (air / air_mbar)
        reader.expanded = 2 * reader.linearity * math.sqrt(sum(term * term for term in terms))
        reader.air_norm = air * OXYGEN_IN_AIR * STANDARD_MBAR / air_mbar
        reader.oxygen_norm = oxygen * STANDARD_MBAR / oxygen_mbar

    def _u(self, row: Row, kind: str, default: float) -> float:
        record = row.get(kind) or (self.sessions[row["session"]].get(kind) if row["session"] else "")
        return float(self.equipment[record]["uncertainty"]) if record else default

    def _all_low(self, row: Row, seen: dict[tuple[str, str], dict[str, Seen]]) -> bool:
        """True where every cell is low in oxygen together, by the limit or against its own last good value."""
        lows, drops = [], []
        for (_, cell), readers in seen.items():
            values = [r.linearity for r in readers.values() if r.linearity is not None]
            if not values:
                return False
            mean = sum(values) / len(values)
            lows.append(mean < LINEARITY[0])
            drops.append(cell in self.last_good and self.last_good[cell] - mean > SHORT_FLUSH)
        return len(lows) > 1 and (all(lows) or all(drops)) and row["comparison"] not in self.sound_calibrations

    def _verdict(self, row: Row, cell: str, readers: list[Seen], common: bool) -> tuple[str, str]:  # noqa: PLR0911
        judged = [r for r in readers if r.linearity is not None]
        if not judged or not row["oxygen_shown_percent"]:
            return "repeat", "no oxygen point with an analysis"
        if float(row["oxygen_shown_percent"]) > 101 or row["head"] == "damp" or row["settled"] != "yes":
            return "repeat", "gas, head or settling not as it must be"
        if row["vented"] != "yes" and not row["over_pressure_mbar"]:
            return "repeat", "not vented, and no over-pressure recorded"
        if self._readers_differ(judged):
            return "repeat", "low on one handset only: contact or handset"
        if any(self._limits_above_one_bar(reader) for reader in judged):
            return "reject", "current-limited above 1 bar"
        if common:
            return "repeat", "all cells low together with nothing to compare: gas, flush or pressure"
        return max((self._one_reader(cell, reader) for reader in judged), key=lambda v: ORDER.index(v[0]))

    def _readers_differ(self, readers: list[Seen]) -> bool:
        low = min(r.oxygen_mv or 0.0 for r in readers)
        high = max(r.oxygen_mv or 0.0 for r in readers)
        each = 0.1**2 / 3 + RESOLUTION_MV**2 / 12 + REPEAT_MV**2
        return high - low > 2 * math.sqrt(2 * each)

    def _one_reader(self, cell: str, reader: Seen) -> tuple[str, str]:
        assert reader.linearity is not None and reader.expanded is not None
        code = self.parts[cell]["part_type"]
        low_mv, high_mv = self.limits.get((code, "cell air low"), 8.0), self.limits.get((code, "cell air high"), 13.0)
        floor = self.limits.get((code, "cell oxygen floor"))
        value, u = reader.linearity, reader.expanded
        if reader.air_norm < low_mv or (floor is not None and reader.oxygen_norm < floor):
            return "reject", "output under the limit"
        if value < LINEARITY[0]:
            return "reject", "not linear"
        if value > LINEARITY[1] or reader.air_norm > high_mv:
            return ("reject" if self.undecided.get(cell, 0) else "repeat"), "above the upper limit"
        if value - u < LINEARITY[0] or value + u > LINEARITY[1]:
            return ("repeat", "watch", "reject")[min(self.undecided.get(cell, 0), 2)], "interval across a limit"
        if floor is None and reader.oxygen_norm < 45.0:
            return "watch", "low output"
        return "pass", "in limits"

    @staticmethod
    def _limits_above_one_bar(reader: Seen) -> bool:
        # Departure from the line through the two points at and under 1 bar, over 5 percent: common practice.
        assert reader.oxygen_mv is not None
        oxygen_bar = reader.oxygen_mv / (reader.oxygen_norm / (STANDARD_MBAR / 1000))
        return any(mv / bar < 0.95 * reader.oxygen_mv / oxygen_bar for bar, mv in reader.pot)


ORDER = ("pass", "watch", "repeat", "reject")
