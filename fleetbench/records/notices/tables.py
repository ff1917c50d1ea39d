"""Safety notices and recalls, what they cover, and on which units their action was done."""

from datetime import date, datetime

from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.calc.notices.scope import Covers, Weight
from fleetbench.records.core.schema import Base, Key, OwnWord, Ref, Words, one_of, to


class Notice(Base):
    """A safety notice or recall."""

    __tablename__ = "notice"
    id: Mapped[Key]
    ref: Mapped[Ref]
    number: Mapped[str] = mapped_column(Words(60), unique=True)
    issued_on: Mapped[date]
    title: Mapped[str] = mapped_column(Words(200))
    text: Mapped[str]
    action: Mapped[str]
    by_when: Mapped[date | None]
    weight: Mapped[str] = mapped_column(OwnWord(8))
    __table_args__ = (one_of("weight", Weight),)


class NoticeScope(Base):
    """What a notice covers: a unit type, a part type, a lot, a span of serials or a firmware."""

    __tablename__ = "notice_scope"
    id: Mapped[Key]
    ref: Mapped[Ref]
    notice_id: Mapped[int] = to("notice")
    covers: Mapped[str] = mapped_column(OwnWord(12))
    first: Mapped[str] = mapped_column(Words(60))
    last: Mapped[str | None] = mapped_column(Words(60))
    __table_args__ = (one_of("covers", Covers),)


class NoticeDone(Base):
    """A notice's action was done on a unit."""

    __tablename__ = "notice_done"
    id: Mapped[Key]
    ref: Mapped[Ref]
    notice_id: Mapped[int] = to("notice")
    unit_id: Mapped[int] = to("unit")
    at: Mapped[datetime]
    person_id: Mapped[int] = to("person")
    note: Mapped[str | None]
