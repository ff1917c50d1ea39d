"""Readings of meters: what an answer may look like, who may answer, and that nothing else is ever taken.

IEEE Std 488.2-1992 (NR1, NR2, NR3, *IDN?) and SCPI-1999 (9.9E37, 9.91E37, SYSTem:ERRor?), both from memory.
"""

from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from fleetbench.calc.bench.meter import Metered, error_of, query_fault, reading_of
from fleetbench.records.core.errors import Refused
from fleetbench.workshop.bench import meters
from fleetbench.workshop.bench.equipment import add_equipment, connect_equipment, list_equipment
from fleetbench.workshop.bench.meters import EXTRA, Meter, ask_once, meters_of, value_in, visa_addresses
from fleetbench.workshop.core.workplace import Workplace
from tests.centres.bench_centre import write_centre
from tests.meter_faults import IDN, TODAY, BadMeter, bad_meter, run, tool

SIMULATED = """
spec: "1.1"
devices:
  meter:
    eom:
      {kind}: {{q: "\\n", r: "\\n"}}
    error: ERROR
    dialogues:
      - {{q: "*IDN?", r: "{idn}"}}
      - {{q: "*CLS"}}
      - {{q: "SYST:ERR?", r: '0,"No error"'}}
      - {{q: "MEAS:VOLT:DC?", r: "+1.04300E-02"}}
    properties:
      mask:
        default: 0
        getter: {{q: "*ESE?", r: "{{:d}}"}}
        setter: {{q: "*ESE {{:d}}"}}
        specs: {{min: 0, max: 255, type: int}}
resources:
  {address}: {{device: meter}}
"""


def clock() -> datetime:
    return datetime(2026, 12, 7, 9, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("kind", "address"),
    [
        ("USB INSTR", "USB0::0x1111::0x2222::0042::0::INSTR"),
        ("TCPIP INSTR", "TCPIP0::192.0.2.10::inst0::INSTR"),
        ("TCPIP SOCKET", "TCPIP0::192.0.2.10::5025::SOCKET"),
        ("ASRL INSTR", "ASRL1::INSTR"),
    ],
)
def test_a_simulated_instrument_is_read_over_each_kind_of_line(tmp_path: Path, kind: str, address: str) -> None:
    path = tmp_path / "meter.yaml"
    path.write_text(SIMULATED.format(kind=kind, address=address, idn=IDN), encoding="utf-8")
    library = f"{path}@sim"
    assert address in visa_addresses(library)
    assert ask_once(address, "MEAS:VOLT:DC?", "V", library=library).reading == "0.01043 V"
    meter = Meter(tool(address), clock, library=library)
    for _ in range(2):
        value = meter.read("mV", TODAY)
        assert (float(value), value.source.equipment_id, value.source.idn) == (10.43, 7, IDN)
        assert (value.source.answer, value.source.unit, value.source.at) == ("+1.04300E-02", "V", clock())
    meter.close()


@pytest.mark.parametrize(
    ("answer", "value"),
    [("42", "42"), ("-1", "-1"), ("+10.43", "10.43"), ("1.043E+1", "10.43"), ("+1.0430E-02", "0.01043"),
     ("0.0104 V", "0.0104"), ("0.0104VDC", "0.0104"), (" 12 v\r", "12")],
)  # fmt: skip
def test_the_number_formats_of_the_standard_are_read(answer: str, value: str) -> None:
    assert str(reading_of(answer, "V")[0].normalize()) == value


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        ("9.9E37", "overload"), ("-9.9E+37", "overload"), ("+9.90000000E+37", "overload"), ("9.91E37", "no number"),
        ("1,5", "not one number"), ("1.0;2.0", "not one number"), ("1.0 2.0", "not one number"), ("", "not one"),
        ("NaN", "not one"), ("inf", "not one"), ("0x10", "not one"), ("1_0", "not one"), ("١", "not one"),
        (".5", "not one"), ("5.", "not one"), ("1.0E", "not one"), ("10.4 MV", "in MV"), ("10.4 OHM", "in OHM"),
        ("1E99", "reason"),
    ],
)  # fmt: skip
def test_whatever_else_is_answered_is_no_reading(answer: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        reading_of(answer, "V")


def test_an_error_queue_and_a_query_are_what_the_standard_says() -> None:
    assert error_of('+0,"No error"') is None
    assert error_of('-113,"Undefined header"') == "error -113, Undefined header"
    with pytest.raises(ValueError, match="errors"):
        error_of("0")
    assert query_fault("MEAS:VOLT:DC? 0.1,1E-5") is None and query_fault("READ?") is None
    for bad in ("MEAS:VOLT:DC", "READ?;*RST", "*IDN?", "FETCh?", ":FETC:VOLT?", "READ?\n*RST", ""):
        assert query_fault(bad) is not None


@pytest.fixture
def bad() -> Iterator[BadMeter]:
    with bad_meter(lambda: 0.01043) as made:
        yield made


@pytest.mark.parametrize(
    ("other", "words"),
    [
        ({"last_good_day": date(2026, 12, 6)}, "its calibration ended on 2026-12-06; have it calibrated"),
        ({"last_good_day": None}, "no last valid day is recorded"),
        ({"idn": "Bench meter,BM-1,0043,1.0"}, "answers at its address; correct address or meter"),
        ({"range_high": 10.0}, "10.43 mV is out of its range of -1 to 10; look at its leads"),
        ({"answer_unit": "bar"}, "does not measure in mV"),
    ],
)
def test_a_reading_is_refused_with_its_remedy(bad: BadMeter, other: dict[str, Any], words: str) -> None:
    meter = Meter(tool(bad.address, **other), clock, timeout_s=1.0)
    with pytest.raises(Refused, match=words):
        meter.read("mV", TODAY)


def test_its_last_valid_day_and_newer_firmware_are_still_good(bad: BadMeter) -> None:
    meter = Meter(tool(bad.address, last_good_day=TODAY, idn="Bench meter,BM-1,0042,0.9"), clock, timeout_s=1.0)
    assert meter.read("V", TODAY) == 0.01043
    meter.close()


def test_an_answer_that_was_cut_short_is_told_by_its_places() -> None:
    assert value_in(tool(""), "+1.04300E-02", "mV") == 10.43
    for cut in ("+1.04300E-0", "+1.04", "+1.0E-02"):
        with pytest.raises(Refused):
            value_in(tool(""), cut, "mV")


def test_nobody_at_the_address_is_told_in_one_sentence() -> None:
    with bad_meter(lambda: 0.0) as gone:
        address = gone.address
    with pytest.raises(Refused, match=r"^Bench meter 0042: .*; look at its power"):
        Meter(tool(address), clock, timeout_s=0.3).read("mV", TODAY)


def test_no_reading_is_wrong_among_sixty_tries_with_faults() -> None:
    told = run(60, seed=488)
    assert not [name for name in told if name.startswith("WRONG")]
    assert told["right"] > 18, "it comes back into step after each fault"


def test_without_the_extra_it_is_said_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(meters, "find_spec", lambda _name: None)
    with pytest.raises(Refused, match="install fleetbench with its extra"):
        visa_addresses()
    assert "extra" in EXTRA


@pytest.fixture
def bench(workplace: Workplace, clock: Any) -> Workplace:
    return workplace.as_person(write_centre(workplace.database, clock()).manager)


CONNECTED: dict[str, Any] = {
    "address": "TCPIP::192.0.2.10::5025::SOCKET", "query": "MEAS:VOLT:DC?", "answer_unit": "V", "range_low": 0.0,
    "range_high": 200.0, "idn": IDN,
}  # fmt: skip


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("query", "FETC?", "query: FETCh\\? gives an old reading"), ("answer_unit", "bar", "does not fit mV"),
        ("range_high", None, "range: enter"), ("range_low", 300.0, "range: enter"), ("idn", None, "ask it first"),
    ],
)  # fmt: skip
def test_the_register_takes_no_meter_that_could_not_be_read(
    bench: Workplace, field: str, value: Any, words: str
) -> None:
    key = add_equipment(
        bench, kind="bench meter", name="Bench meter", serial="0042", uncertainty=0.02, unit="mV",
        last_good_day=date(2027, 1, 31), digit=0.01,
    )  # fmt: skip
    with pytest.raises(Refused, match=words):
        connect_equipment(bench, key, **{**CONNECTED, field: value})
    assert meters_of(bench) == ()
    connect_equipment(bench, key, **CONNECTED)
    (found,) = meters_of(bench)
    assert (found.equipment_id, found.idn, found.range_high) == (key, IDN, 200.0)
    connect_equipment(bench, key, address="")
    assert meters_of(bench) == () and all(row.tool.idn is None for row in list_equipment(bench))


def test_a_figure_keeps_its_source_only_while_it_is_that_figure() -> None:
    from copy import deepcopy

    with bad_meter(lambda: 0.01043) as made:
        meter = Meter(tool(made.address), clock, timeout_s=1.0)
        value = meter.read("mV", TODAY)
        meter.close()
    assert deepcopy(value).source == value.source and value == 10.43
    assert not isinstance(value + 0, Metered) and not isinstance(round(value, 1), Metered)


def test_a_recorded_figure_keeps_the_meter_that_gave_it_and_a_typed_one_has_none(bench: Workplace) -> None:
    from fleetbench.calc.bench.meter import MeterSource
    from fleetbench.records.bench.tables import BenchTest, TestEquipment
    from fleetbench.records.core.journal import MeterReading
    from fleetbench.records.units.tables import Unit

    key = list_equipment(bench)[0].tool.equipment_id
    given = Metered(4.05, MeterSource(key, IDN, "+4.050E+00", "V", clock()))
    with bench.transaction("bench test", "unit") as act:
        unit = act.session.query(Unit).first()
        assert unit is not None
        stated: dict[str, Any] = {"unit_id": unit.id, "kind": "battery voltage", "at": act.at, "result": "pass"}
        one = act.add(BenchTest(**stated, value=given, supply_bar=9.5))
        act.change(one, value=Metered(4.04, given.source))
        act.bulk(BenchTest, [{**stated, "value": given}, {**stated, "value": 4.05}])
        certified = act.get(TestEquipment, key, "test equipment")
        assert type(one.value) is float and certified is not None
    with bench.database.read_session() as session:
        rows = [
            (row.made_of, row.made_id - one.id, row.figure, row.value, row.idn) for row in session.query(MeterReading)
        ]
    assert rows == [("bench_test", place, "value", value, IDN) for place, value in ((0, 4.05), (0, 4.04), (1, 4.05))]
