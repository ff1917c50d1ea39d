"""The sample fleet's absorbent: the ledger against a second calculation from the sheets, and two fills that stop."""

from collections import defaultdict
from datetime import timedelta

import pytest

from fleetbench.calc.canisters.fill import used_share
from fleetbench.calc.readiness.judge import HandoverKind, Result
from fleetbench.records.canisters.reads import read_fills_of, read_runs_of
from fleetbench.records.parts.reads import read_parts
from fleetbench.records.readiness.reads import read_catalogue
from fleetbench.shipped import shipped
from fleetbench.workshop.canisters.absorbent import Absorbent, as_run, fill_outlook
from fleetbench.workshop.canisters.containers import absorbent_stock
from fleetbench.workshop.canisters.list import list_canisters
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.readiness.ready import assess_unit
from fleetbench.workshop.units.list import list_units
from tests.independent.absorbent import Ledger


@pytest.fixture(scope="module")
def ledger() -> Ledger:
    """The second calculation."""
    return Ledger(shipped("sample_fleet"))


def test_the_used_share_of_every_fill_equals_a_second_calculation(sample_workplace: Workplace, ledger: Ledger) -> None:
    expected = ledger.used()
    compared = 0
    with sample_workplace.database.reading() as connection:
        canisters = read_parts(connection, kind="canister")
        absorbent = Absorbent(read_catalogue(connection), (), ())
        for canister in canisters:
            runs = defaultdict(list)
            for run in read_runs_of(connection, canister.part_id):
                runs[run.fill_id].append(as_run(run))
            table = absorbent.table(canister.part_type_id)
            assert table is not None
            for fill in read_fills_of(connection, canister.part_id):
                found = used_share(runs[fill.fill_id], table, fill.grade or "")
                if fill.ref not in expected.index:
                    assert (found.share, found.loop_minutes) == (0.0, 0.0)
                    continue
                mine = expected.loc[fill.ref]
                assert found.share == pytest.approx(mine["share"], rel=1e-9), fill.ref
                assert found.loop_minutes == pytest.approx(mine["loop"]), fill.ref
                assert found.co2_l == pytest.approx(mine["co2_l"]), fill.ref
                assert found.rated == mine["rated"], fill.ref
                compared += 1
    assert compared == len(expected)
    assert compared > 1500
    assert (expected["share"] > 1).any(), "a sample without an overrun fill shows nothing"


def test_what_is_left_of_every_standing_fill_equals_the_second_calculation(
    sample_workplace: Workplace, ledger: Ledger
) -> None:
    expected = ledger.left(sample_workplace.clock()).set_index("serial")
    outlook = fill_outlook(sample_workplace)
    found = {each.canister: each for each in outlook.answers if each.fill is not None}
    assert set(found) == set(expected.index)
    out = {row.tag for row in list_units(sample_workplace) if row.where == "out"}
    with_divers = {serial for serial, answer in found.items() if answer.unit in out}
    assert with_divers, "a sample without a fill under water shows nothing"
    for serial, mine in expected.iterrows():
        left = 0.0 if serial in with_divers else mine["minutes"]  # what a diver has of it left is not known
        assert found[str(serial)].minutes == pytest.approx(left, abs=1e-6), (serial, mine["reasons"])
    states = {row.part.label: row.state for row in list_canisters(sample_workplace)}
    assert {each for each, state in states.items() if state == "spent"} == {
        serial for serial, mine in expected.iterrows() if mine["reasons"]
    }


def test_the_overrun_canister_and_the_stale_fill_both_stop_a_hand_over(
    sample_workplace: Workplace, ledger: Ledger
) -> None:
    now = sample_workplace.clock()
    standing = ledger.left(now)
    overrun = standing[standing["reasons"].map(lambda reasons: "used up" in reasons)]
    stale = standing[standing["reasons"].map(lambda reasons: "first use" in reasons and "used up" not in reasons)]
    assert len(overrun) >= 1 and len(stale) >= 1
    units = {row.part.label: row.unit for row in list_canisters(sample_workplace)}
    today = sample_workplace.today()
    for serial, words in [(each, "used up") for each in overrun["serial"]] + [
        (each, "24 h end at") for each in stale["serial"]
    ]:
        unit = units[serial]
        assert unit is not None
        kind = HandoverKind.ASSEMBLED
        assessment = assess_unit(sample_workplace, unit, today, today + timedelta(days=1), kind, at_act=True)
        stops = [check for check in assessment.checks if check.check == "absorbent" and check.result is Result.STOP]
        assert any(words in check.evidence for check in stops), (unit, [check.evidence for check in stops])


def test_kilograms_by_month_and_lot_equal_the_second_calculation(sample_workplace: Workplace, ledger: Ledger) -> None:
    expected = ledger.kilograms()
    use = absorbent_stock(sample_workplace, months=120).use
    assert len(use) == len(expected)
    for each in use:
        mine = expected.loc[(each.month, each.lot)]
        assert (each.kg, each.packings) == (pytest.approx(mine["sum"]), mine["size"])
