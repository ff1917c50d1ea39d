"""Reads of the centre and of limits that are data."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, func, select

from fleetbench.calc.core.measures import StatedUnits
from fleetbench.calc.readiness.limits import in_force
from fleetbench.records.core.schema import Query, built_once, read_if_changed, record_or_none, records_of, select_of
from fleetbench.records.places.tables import Centre, Limit
from fleetbench.records.units.tables import Unit


@dataclass(frozen=True, slots=True)
class CentreRecord:
    """The centre and how many units it has; fills are calculated at the usual water and depth without a plan."""

    name: str
    code: str
    timezone: str
    altitude_m: float
    usual_water_c: float
    usual_depth_m: float
    telephone: str | None
    emergency_telephone: str | None
    address: str | None
    currency: str | None
    measures: str | None
    pressure_unit: str | None
    temperature_unit: str | None
    length_unit: str | None
    mass_unit: str | None
    units: int

    @property
    def zone(self) -> ZoneInfo:
        """The site's time zone."""
        return ZoneInfo(self.timezone)

    @property
    def stated(self) -> StatedUnits:
        """The units that are typed and read."""
        return StatedUnits(self.measures, self.pressure_unit, self.temperature_unit, self.length_unit, self.mass_unit)


@dataclass(frozen=True, slots=True)
class LimitRecord:
    """One limit as data; of a unit type, a part type, or the centre where both are None."""

    unit_type_id: int | None
    part_type_id: int | None
    name: str
    amount: float
    unit: str
    source: str
    maker: bool


@built_once
def _centre() -> Query:
    units = select(func.count(Unit.id)).scalar_subquery()
    return select_of(CentreRecord, Centre, units=units).where(Centre.id == 1)


@read_if_changed
def read_centre(connection: Connection) -> CentreRecord | None:
    """The centre, None before anything was entered; one statement."""
    return record_or_none(connection, _centre(), CentreRecord)


@built_once
def _limits() -> Query:
    return select_of(LimitRecord, Limit).order_by(Limit.id)


@read_if_changed
def read_limits(connection: Connection) -> tuple[LimitRecord, ...]:
    """Every limit that is in force: of two for the same thing the stricter; one statement."""
    return in_force(records_of(connection, _limits(), LimitRecord))
