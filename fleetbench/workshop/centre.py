"""The centre itself as sheets and the window's head show it.

read_centre(shop) -> CentreFacts
"""

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class CentreFacts:
    """Name, site and today's date; the counts say whether there is anything to show yet."""

    name: str
    code: str
    timezone: str
    altitude_m: float
    usual_water_c: float
    usual_depth_m: float
    telephone: str | None
    today: date
    units: int
    parts: int
