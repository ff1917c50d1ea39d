"""The text that an entry of the journal holds, at the encoder's speed: the same as value by value."""

import json
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetbench.records.core.errors import Refused
from fleetbench.records.core.journal import canonical_rows, canonical_text

VALUES = st.one_of(
    st.none(), st.booleans(), st.integers(-(2**31), 2**31), st.floats(), st.text(max_size=8), st.dates(),
    st.datetimes(timezones=st.just(UTC)), st.decimals(allow_nan=False, allow_infinity=False),
    st.sampled_from(["e\u0301", "\r\n", "a\tb", "\\r", '"', "\x7f", "-0.0", "Å", "\u212b", "\ud800", "\u0301x"]),
    st.sampled_from([-0.0, -0.05, 1e22, 5e-324]),
)  # fmt: skip
ROWS = st.lists(
    st.tuples(st.just("part"), st.integers(1, 9), st.dictionaries(st.text("abc_", min_size=1), VALUES)).map(list)
)


def text_or_refusal(make: Any, content: Any) -> tuple[str, str]:
    try:
        return "text", make(content)
    except Refused as refusal:
        return "refused", str(refusal)


@settings(max_examples=100)
@given(ROWS)
def test_rows_have_the_canonical_text(rows: list[list[Any]]) -> None:
    content = {"rows": rows, "clock": datetime(2026, 5, 4, 7, 30, tzinfo=UTC)}
    assert text_or_refusal(canonical_rows, content) == text_or_refusal(canonical_text, content)


def test_the_text_is_sorted_json_without_spaces_that_reads_back() -> None:
    row = {"b": 1.5, "a": None, "c": date(2026, 5, 4), "d": Decimal("2.50")}
    text = canonical_rows({"rows": [["part", 7, row]]})
    # RFC 8259: what is written is a JSON text; read back by Python's own library.
    assert json.loads(text) == {"rows": [["part", 7, {"a": None, "b": 1.5, "c": "2026-05-04", "d": "2.50"}]]}
    assert text == '{"rows":[["part",7,{"a":null,"b":1.5,"c":"2026-05-04","d":"2.50"}]]}'


def test_what_stands_in_no_column_is_refused_by_the_encoder() -> None:
    with pytest.raises(TypeError, match="stands in no column"):
        canonical_rows({"rows": [["part", 1, {"a": {1, 2}}]]})
