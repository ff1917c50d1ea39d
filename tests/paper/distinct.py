"""Rows of the workshop in which no two fields hold the same value, so that a page which swaps two of them is caught."""

import enum
import types
from datetime import UTC, date, datetime, timedelta
from typing import Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

Row = TypeVar("Row")
START = datetime(2026, 1, 4, 6, 30, tzinfo=UTC)


class Distinct:
    """Makes rows; each value it gives stands in no other field of any of its rows."""

    def __init__(self) -> None:
        self._count = 10

    def row(self, kind: type[Row], /, **given: Any) -> Row:
        """A dataclass of this kind: the given fields as given, every other one with a value of its own."""
        hints = get_type_hints(kind)
        made = {name: self._value(hint, name) for name, hint in hints.items() if name not in given}
        return kind(**made, **given)

    def _value(self, hint: Any, name: str) -> Any:
        if get_origin(hint) in (Union, types.UnionType):
            hint = next(each for each in get_args(hint) if each is not type(None))
        if get_origin(hint) is tuple:
            inner = [each for each in get_args(hint) if each is not Ellipsis]
            return tuple(self._value(each, name) for each in inner)
        if get_origin(hint) is Literal:
            return get_args(hint)[0]
        if isinstance(hint, type) and issubclass(hint, enum.Enum):
            return next(iter(hint))
        return self._plain(hint, name)

    def _plain(self, hint: Any, name: str) -> Any:
        self._count += 1
        plain = {
            str: f"{name[:5].strip('_')}{self._count}",
            bool: True,
            int: self._count,
            float: self._count + 0.5,
            date: (START + timedelta(days=self._count)).date(),
            datetime: START + timedelta(days=self._count, minutes=self._count),
        }
        return plain[hint] if hint in plain else self.row(hint)
