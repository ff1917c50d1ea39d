"""What an act would refuse a folder may not bring, and whoever brings one is a manager who gives their PIN."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from fleetbench.records.core.errors import Refused
from fleetbench.records.units.tables import Hold
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.acts_rules import look_of
from fleetbench.workshop.import_export.import_folder import import_folder
from tests.centres.pins import give_pin
from tests.workshop.small_folder import Rows, import_small, small_rows, spoiled, write_folder

TECHNICIAN, MANAGER = 1, 2


def put(sheet: str, place: int = 0, **cells: str) -> Callable[[Rows], None]:
    return lambda rows: rows[sheet][place].update(cells)


def add(sheet: str, **cells: str) -> Callable[[Rows], None]:
    return lambda rows: rows[sheet].append({**rows[sheet][0], **cells})


@pytest.mark.parametrize(
    ("change", "sheet", "column", "said"),
    [
        (put("bench_tests", held="no", result="pass"), "bench_tests", "result", "reject"),
        (put("bench_tests", held="", value="", result="pass"), "bench_tests", "result", "is pass"),
        (put("tickets", signed_at="2026-05-02 10:00", signed_by="R1"), "tickets", "signed_by", "is a renter"),
        (put("tickets", signed_at="2026-05-02 10:00", signed_by="M1"), "tickets", "signed_by", "no technician's"),
        (put("tickets", signed_at="2027-05-02 10:00", signed_by="T1"), "tickets", "signed_at", "still to come"),
        (put("tickets", signed_at="2026-05-02 10:00", signed_by="T1", second="T1"), "tickets", "second", "the signer"),
        (add("tickets", record="TIC-9", number="9"), "tickets", "number", "is missing before it"),
        (put("calibrations", at="2031-05-02 10:00"), "calibrations", "at", "still to come"),
        (add("people", record="PER-9", code="T\u200b1"), "people", "code", "letters, digits"),
        (add("people", record="PER-9", code="t1"), "people", "code", "looks like 'T1'"),
        (add("units", record="UNI-9", tag="b-01", former_tag="", serial="9"), "units", "tag", "looks like 'B-01'"),
        (put("centre", timezone="localtime"), "centre", "timezone", "not a known time zone"),
        (put("rating_rows", minutes="0"), "rating_rows", "minutes", "give 1 to 3000"),
        (put("rating_rows", co2_l_min="0"), "rating_rows", "co2_l_min", "give 0.1 to 10"),
        (put("limits", amount="0.001"), "limits", "amount", "cannot be judged by"),
        (put("limits", amount="900"), "limits", "amount", "out of range"),
        (put("part_type_lives", amount="99999"), "part_type_lives", "amount", "over any part's life"),
        (put("qualifications", seen_by="T1"), "qualifications", "seen_by", "seen by a manager"),
        (put("equipment", address="TCPIP::192.0.2.9::5025::SOCKET", query="OUTP ON"), "equipment", "query", "?"),
        (put("equipment", query="MEAS:VOLT:DC?"), "equipment", "address", "is missing"),
        (put("acceptances", person="T1"), "acceptances", "person", "is for a manager"),
    ],
)
def test_what_an_act_would_refuse_is_a_fault_of_its_row(
    workplace: Workplace, tmp_path: Path, change: Callable[[Rows], None], sheet: str, column: str, said: str
) -> None:
    report = import_folder(workplace, spoiled(tmp_path / "sheets", change))
    found = [each for each in report.faults if (each.sheet, each.column) == (sheet, column)]
    assert any(said in each.message for each in found), report.faults
    assert not report.written


def test_a_unit_is_out_once_at_a_time(workplace: Workplace, tmp_path: Path) -> None:
    def twice(rows: Rows) -> None:
        first = rows["hire_lines"][0]
        first.update(out_at="2026-04-01 09:00", received_at="2026-04-05 09:00")
        rows["hire_lines"].append({**first, "record": "HLI-9", "out_at": "2026-04-03 09:00"})

    report = import_folder(workplace, spoiled(tmp_path / "sheets", twice))
    assert any(each.column == "out_at" and "out on another line" in each.message for each in report.faults)


def test_once_people_are_recorded_only_a_manager_with_their_pin_brings_more(
    workplace: Workplace, tmp_path: Path
) -> None:
    import_small(workplace)
    more = spoiled(tmp_path / "more", add("owners", record="OWN-9", name="Another owner"))
    for person, said in ((None, "imported by a manager"), (TECHNICIAN, "ask a manager")):
        with pytest.raises(Refused, match=said):
            import_folder(workplace.as_person(person), more)
    give_pin(workplace, MANAGER, "2468")
    bench = workplace.as_person(MANAGER)
    with pytest.raises(Refused, match="PIN: does not match"):
        import_folder(bench, more, pin="1111")
    assert import_folder(bench, more, pin="2468").written
    assert verify(workplace.database).whole


def test_a_frozen_unit_gets_no_test_from_a_sheet(workplace: Workplace, tmp_path: Path) -> None:
    import_small(workplace)
    with workplace.as_person(MANAGER).transaction("hold", "unit B-01") as act:
        act.add(Hold(unit_id=1, kind="incident", reason="Looked into", placed_at=act.at, placed_by_id=MANAGER))
    more = spoiled(tmp_path / "more", add("bench_tests", record="BTE-9"))
    with pytest.raises(Refused, match="frozen after an incident"):
        import_folder(workplace.as_person(MANAGER), more)


def test_a_file_that_is_no_plain_sheet_is_told_before_it_is_read(workplace: Workplace, tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "sheets", small_rows())
    for name in ("owners", "places"):
        (folder / f"{name}.csv").unlink()
    os.mkfifo(folder / "owners.csv")
    (folder / "places.csv").symlink_to("/dev/zero")
    with (folder / "units.csv").open("r+b") as file:
        file.truncate(60_000_000)
    told = {each.sheet: each.message for each in import_folder(workplace, folder).faults}
    assert "not a plain file" in told["owners"]
    assert "leads out of the folder" in told["places"]
    assert "is the most that is read" in told["units"]


def test_what_looks_alike_is_known() -> None:
    # Letters that look like others: Unicode Technical Standard 39, from memory.
    assert look_of("B-01") == look_of("b\u200d-01") == look_of("\u0412-01") == look_of("\uff22-01")
    assert look_of("B-01") != look_of("B-02")
