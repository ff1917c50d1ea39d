"""The centre itself, its places and the owners of what it handles."""

from sqlalchemy import Connection, select
from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.calc.core.measures import CHOICES, IMPERIAL, METRIC, StatedUnits
from fleetbench.calc.parts.kinds import OwnerKind, PlaceKind
from fleetbench.records.core.schema import Base, Key, OwnWord, Query, Ref, Words, built_once, one_of, to


class Centre(Base):
    """The one dive centre that this database belongs to."""

    __tablename__ = "centre"
    id: Mapped[Key]
    name: Mapped[str] = mapped_column(Words(200))
    code: Mapped[str] = mapped_column(Words(8))
    timezone: Mapped[str] = mapped_column(Words(60))
    altitude_m: Mapped[float]
    usual_water_c: Mapped[float]
    usual_depth_m: Mapped[float]
    telephone: Mapped[str | None] = mapped_column(Words(60))
    emergency_telephone: Mapped[str | None] = mapped_column(Words(60))
    address: Mapped[str | None] = mapped_column(Words(300))
    currency: Mapped[str | None] = mapped_column(Words(3))
    measures: Mapped[str | None] = mapped_column(Words(10))
    pressure_unit: Mapped[str | None] = mapped_column(Words(10))
    temperature_unit: Mapped[str | None] = mapped_column(Words(10))
    length_unit: Mapped[str | None] = mapped_column(Words(10))
    mass_unit: Mapped[str | None] = mapped_column(Words(10))
    version: Mapped[int] = mapped_column(default=1)
    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute
    __table_args__ = (
        one_of("measures", (METRIC, IMPERIAL)),
        *(one_of(f"{kind}_unit", signs) for kind, signs in CHOICES.items()),
    )


class Owner(Base):
    """Whose a unit or part is: the centre's, on loan, or a renter's own (never hireable)."""

    __tablename__ = "owner"
    id: Mapped[Key]
    ref: Mapped[Ref]
    name: Mapped[str] = mapped_column(Words(120), unique=True)
    kind: Mapped[str] = mapped_column(OwnWord(20))
    __table_args__ = (one_of("kind", OwnerKind),)


class Place(Base):
    """Where things lie: a shelf, a kit, the van, a site, quarantine, or sent back."""

    __tablename__ = "place"
    id: Mapped[Key]
    ref: Mapped[Ref]
    name: Mapped[str] = mapped_column(Words(120), unique=True)
    kind: Mapped[str] = mapped_column(OwnWord(20))
    __table_args__ = (one_of("kind", PlaceKind),)


class Limit(Base):
    """One limit as data with its source: of a unit type, of a part type, or (neither) of the centre."""

    __tablename__ = "limit_value"
    id: Mapped[Key]
    ref: Mapped[Ref]
    unit_type_id: Mapped[int | None] = to("unit_type", nullable=True)
    part_type_id: Mapped[int | None] = to("part_type", nullable=True)
    name: Mapped[str] = mapped_column(Words(60))
    amount: Mapped[float]
    unit: Mapped[str] = mapped_column(Words(20))
    source: Mapped[str] = mapped_column(Words(300))
    maker: Mapped[bool] = mapped_column(default=False)


@built_once
def _timezone() -> Query:
    return select(Centre.timezone).where(Centre.id == 1)


def centre_timezone(connection: Connection) -> str | None:
    """The centre's time zone by its name in the time zone database, or nothing before there is a centre."""
    zone: str | None = connection.scalar(_timezone())
    return zone


def centre_units(connection: Connection) -> StatedUnits:
    """The units that the centre states; all metric before there is a centre."""
    named = (getattr(Centre, name) for name in ("measures", *(f"{kind}_unit" for kind in CHOICES)))
    found = connection.execute(select(*named).where(Centre.id == 1)).one_or_none()
    return StatedUnits() if found is None else StatedUnits(*found)
