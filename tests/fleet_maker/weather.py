"""Room air day by day: pressure, temperature and humidity, with one tropical day."""

import datetime as dt

import numpy as np

TROPICAL_DAY = dt.date(2025, 7, 22)


class Weather:
    """Ambient pressure (mbar), room temperature (C) and humidity (0..1) by calendar day."""

    def __init__(self, first: dt.date, days: int, rng: np.random.Generator) -> None:
        self.first = first
        walk = np.zeros(days)
        steps = rng.normal(0, 3.6, days)
        for i in range(1, days):
            walk[i] = 0.82 * walk[i - 1] + steps[i]
        self.pressure = np.clip(1011.8 + walk, 985, 1036).round(1)
        year_part = np.array([(first + dt.timedelta(i)).timetuple().tm_yday for i in range(days)]) / 365.25
        self.temperature = (21.5 + 4.0 * np.sin(2 * np.pi * (year_part - 0.31)) + rng.normal(0, 1.0, days)).round(1)
        self.humidity = np.clip(rng.normal(0.58, 0.09, days), 0.3, 0.85).round(2)
        hot = (TROPICAL_DAY - first).days
        if 0 <= hot < days:
            self.temperature[hot], self.humidity[hot] = 30.0, 0.90
        self.water = 17.5 + 5.5 * np.sin(2 * np.pi * (year_part - 0.38))

    def on(self, day: dt.date) -> tuple[float, float, float]:
        """Pressure, temperature and humidity of a day."""
        i = (day - self.first).days
        return float(self.pressure[i]), float(self.temperature[i]), float(self.humidity[i])

    def water_on(self, day: dt.date) -> float:
        """Temperature of the sea in C."""
        return float(self.water[(day - self.first).days])
