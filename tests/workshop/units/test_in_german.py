"""What comes up from the floors below the window, read in German: words of records, checks, labels and refusals."""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from fleetbench import printing
from fleetbench.calc.canisters.packing import WORK_RATES
from fleetbench.calc.core.languages import language, reading, say, shown
from fleetbench.calc.core.measures import BAR, span_in
from fleetbench.calc.gas.real import Mixture
from fleetbench.calc.readiness.judge import CHECKS
from fleetbench.records.bench.reads import BenchTestRecord
from fleetbench.records.core.errors import Refused
from fleetbench.records.tickets.reads import MoveRecord
from fleetbench.workshop.units.history import test_words as words_of_test


@pytest.fixture(autouse=True)
def german() -> Iterator[None]:
    with reading(language("de")):
        yield


def bench_test(**more: Any) -> BenchTestRecord:
    facts: dict[str, Any] = dict.fromkeys(BenchTestRecord.__slots__)
    facts |= {"test_id": 1, "unit_id": 1, "kind": say("loop negative"), "at": datetime(2026, 5, 4, tzinfo=UTC)}
    return BenchTestRecord(**{**facts, "result": say("pass"), **more})


def test_a_bench_test_of_the_history_is_told_whole() -> None:
    test = bench_test(held=True, watched_minutes=3.0)
    assert words_of_test(test) == "loop negative: held, watched 3 min", "English is what is compared"
    told = shown(words_of_test(test))
    assert told.startswith("Kreislauf Unterdruck: hielt, ") and "watched" not in told
    valve = bench_test(kind=say("one-way valve"), direction=say("exhale"), held=False)
    assert shown(words_of_test(valve)) == "Richtungsventil, Ausatmen: fiel"


def test_every_check_of_a_unit_has_a_name_that_is_read() -> None:
    said = {each.check: shown(each.check) for each in CHECKS}
    assert said["holds"] == "Sperren" and said["idle"] == "Lange unbenutzt" and said["signer"] == "Freigebende Person"
    assert {each for each, told in said.items() if each == told} <= {"bailout", "gas"}, "the trade's own words"


def test_a_part_without_a_serial_is_called_by_its_lot_or_number() -> None:
    facts = dict.fromkeys(MoveRecord.__slots__)
    assert shown(MoveRecord(**cast(Any, {**facts, "lot": "OWV2509"})).label) == "Charge OWV2509"
    assert shown(MoveRecord(**cast(Any, {**facts, "part_id": 7})).label) == "Teil 7"


def test_a_span_and_the_names_of_work_are_read() -> None:
    assert shown(BAR.span(4, 20)) == "4 bis 20 bar" and shown(span_in(12, 98, "%")) == "12 bis 98 %"
    assert "Schwimmen" in [shown(each.name) for each in WORK_RATES]


def test_refusals_are_read() -> None:
    with pytest.raises(Refused) as refused:
        printing.print_due(cast(Any, SimpleNamespace()), (), cast(Any, None), cast(Any, None), Path("due.doc"))
    assert shown(str(refused.value)).startswith("due.doc: den Namen mit .pdf, ")
    with pytest.raises(ValueError, match="over 100 %") as fault:
        Mixture(0.6, 0.6)
    assert shown(str(fault.value)).startswith("Helium: Sauerstoff und Helium sind zusammen über 100 %")
