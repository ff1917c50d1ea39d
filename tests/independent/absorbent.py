"""The absorbent ledger calculated a second time from the raw sheets with pandas, importing nothing of the program.

Rules: the manual's table, nearest colder-or-equal and deeper-or-equal row, never interpolated; unknown water or depth
is the coldest or deepest row; work not recorded is the rated rate, harder work scales, lighter does not; ten minutes a
dive are added where only dive time is known; a run beyond the table spends the fill; so do more than the hours since
first use and since the container was opened, another diver, a hire that is over, a wetted or too light fill, a lot
past its date. Common practice, no published source.

Ceiling: calcium hydroxide binds 302.52 L of carbon dioxide a kilogram at 0 C and 1013.25 mbar (stoichiometry with the
ideal gas, worked from the IUPAC abridged atomic weights of 2021).
"""

import datetime as dt
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

CEILING_L_PER_KG = 302.52
ADDED_A_DIVE = 10.0


def _as_row(row: object) -> Any:
    """A row of a frame, whose columns no stub knows."""
    return row


class Ledger:
    """Every fill of a folder of sheets, with what its runs used and what is left of it."""

    def __init__(self, folder: Path | str) -> None:
        self.folder = Path(folder)
        centre = self.sheet("centre").iloc[0]
        self.zone = ZoneInfo(centre["timezone"])
        self.usual = float(centre["usual_water_c"]), float(centre["usual_depth_m"])
        self.limits = self.sheet("limits").dropna(subset="part_type").pivot(
            index="part_type", columns="name", values="amount"
        )  # fmt: skip
        self.rows = self.sheet("rating_rows")
        parts = self.sheet("parts")[["record", "part_type", "serial"]]
        parts = parts.rename(columns={"record": "canister", "part_type": "type", "serial": "canister_serial"})
        boxes = self.sheet("containers").merge(
            self.sheet("part_types")[["code", "grade"]], left_on="part_type", right_on="code"
        )[["record", "lot", "grade", "opened_at", "last_good_day"]].rename(columns={"record": "container"})  # fmt: skip
        self.fills = self.sheet("fills").merge(parts, on="canister").merge(boxes, on="container", how="left")
        self.runs = self._runs()

    def sheet(self, name: str) -> pd.DataFrame:
        """One sheet as it stands; an empty cell is missing."""
        return pd.read_csv(self.folder / f"{name}.csv")

    def moment(self, text: object) -> dt.datetime | None:
        """A local time of the sheets as a moment."""
        if not isinstance(text, str):
            return None
        return dt.datetime.fromisoformat(text).replace(tzinfo=self.zone).astimezone(dt.UTC)

    def share_a_minute(self, kind: str, grade: str, water: float, depth: float, rate: float) -> float:
        """Share used by one loop minute, NaN where the table has no row; NaN for water, depth or rate is not known."""
        rows = self.rows[(self.rows["part_type"] == kind) & (self.rows["grade"] == grade)]
        if rows.empty:
            return np.nan
        water = rows["water_c"].min() if pd.isna(water) else water
        depth = rows["depth_m"].max() if pd.isna(depth) else depth
        rows = rows[(rows["water_c"] <= water) & (rows["depth_m"] >= depth)]
        if rows.empty:
            return np.nan
        rows = rows[rows["water_c"] == rows["water_c"].max()]
        row = rows[rows["depth_m"] == rows["depth_m"].min()].iloc[0]
        harder = 1.0 if pd.isna(rate) else max(1.0, rate / row["co2_l_min"])
        return float(harder / row["minutes"])

    def _runs(self) -> pd.DataFrame:
        fills = self.fills[["record", "type", "grade", "diver", "hire_line"]].rename(
            columns={"record": "fill", "diver": "fill_diver", "hire_line": "fill_line"}
        )
        runs = self.sheet("runs").merge(fills, on="fill")
        runs["loop"] = runs["minutes"] + np.where(runs["clock"] == "dive", ADDED_A_DIVE * runs["dives"], 0.0)
        shares = [
            self.share_a_minute(run.type, run.grade, run.coldest_c, run.deepest_m, run.co2_l_min)
            for run in map(_as_row, runs.itertuples())
        ]
        runs["share"] = runs["loop"] * shares
        rated = self.rows.groupby("part_type")["co2_l_min"].max()
        runs["co2_l"] = runs["loop"] * runs["co2_l_min"].fillna(runs["type"].map(rated))
        runs["stray"] = (runs["diver"] != runs["fill_diver"]) | (runs["hire_line"] != runs["fill_line"])
        return runs

    def used(self) -> pd.DataFrame:
        """By fill: share used, loop minutes, carbon dioxide in litres, and whether every run has a rating."""
        found = self.runs.groupby("fill").agg(
            share=("share", "sum"), loop=("loop", "sum"), co2_l=("co2_l", "sum"),
            rated=("share", lambda each: bool(each.notna().all())), first=("started_at", "min"), stray=("stray", "any"),
        )  # fmt: skip
        found.loc[~found["rated"], "share"] = found["share"].clip(lower=1.0)
        return found

    def left(self, now: dt.datetime) -> pd.DataFrame:
        """By fill that nobody threw away: canister, minutes left in usual water and depth, and every reason why not."""
        used, over = self.used(), self.sheet("hire_lines").dropna(subset="received_at")["record"]
        told = []
        for fill in map(_as_row, self.fills[self.fills["discarded_at"].isna()].itertuples()):
            mine = used.loc[fill.record] if fill.record in used.index else None
            reasons, hours_left = self._reasons(fill, mine, now, set(over))
            share = 0.0 if mine is None else mine["share"]
            minute = self.share_a_minute(fill.type, fill.grade, *self.usual, np.nan)
            minutes = [(1.0 - share) / minute, *hours_left, *self._ceiling(fill, mine)]
            told.append({
                "fill": fill.record, "canister": fill.canister, "serial": fill.canister_serial,
                "minutes": 0.0 if reasons else min(minutes), "reasons": tuple(reasons),
            })  # fmt: skip
        return pd.DataFrame(told).set_index("fill")

    def _ceiling(self, fill: Any, used: pd.Series | None) -> list[float]:
        if pd.isna(fill.mass_g):
            return []
        rate = self.rows[self.rows["part_type"] == fill.type]["co2_l_min"].max()
        return [(CEILING_L_PER_KG * fill.mass_g / 1000 - (0.0 if used is None else used["co2_l"])) / rate]

    def _reasons(
        self, fill: Any, used: pd.Series | None, now: dt.datetime, over: set[str]
    ) -> tuple[list[str], list[float]]:
        limits, today = self.limits.loc[fill.type], now.astimezone(self.zone).date()
        clocks: tuple[tuple[str, Any, Any], ...] = (
            ("first use", self.moment(used["first"]) if used is not None else now, limits["hours since first use"]),
            ("opened", self.moment(fill.opened_at), limits["hours since opened"]),
        )
        reasons, left = [], []
        for name, since, hours in clocks:
            minutes = (since + dt.timedelta(hours=hours) - now).total_seconds() / 60
            reasons += [name] if minutes <= 0 else []
            left.append(minutes)
        checks = (
            ("used up", used is not None and used["share"] >= 1.0),
            ("another's", used is not None and (used["stray"] or pd.isna(fill.diver))),
            ("hire over", isinstance(fill.hire_line, str) and fill.hire_line in over),
            ("wetted", isinstance(fill.wetted_at, str)),
            ("too light", not pd.isna(fill.mass_g) and fill.mass_g < limits["minimum mass"]),
            ("lot date", dt.date.fromisoformat(fill.last_good_day) < today),
        )
        return reasons + [name for name, holds in checks if holds], left

    def kilograms(self) -> pd.DataFrame:
        """Kilograms packed by month and lot; a fill that was not weighed counts as a full one."""
        fills = self.fills.copy()
        fills["kg"] = fills["mass_g"].fillna(fills["type"].map(self.limits["full mass"])) / 1000
        fills["month"] = fills["packed_at"].str[:7]
        return fills.groupby(["month", "lot"])["kg"].agg(["sum", "size"])
