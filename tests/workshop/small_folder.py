"""An invented centre's folder small enough to read: every sheet with a row or more, to be spoiled by tests."""

import csv
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.columns import SHEETS
from fleetbench.workshop.import_export.import_folder import import_folder
from tests.centres.kept_centres import kept

Rows = dict[str, list[dict[str, str]]]
SOURCE = "invented manual"


def small_rows() -> Rows:
    """Every sheet's rows, fresh for each caller to change."""
    rows = {name: [_row(line) for line in text.strip().splitlines()] for name, text in _SHEETS.items()}
    rows["readings"] = [*_readings("CAL-1", 10.4, 49.1), *_readings("CAL-2", 10.3, 48.9)]
    return rows


def write_folder(folder: Path, rows: Rows) -> Path:
    """The folder, one CSV file a sheet; cells that a row does not name are empty."""
    folder.mkdir(exist_ok=True)
    for name, spec in SHEETS.items():
        if spec.optional and not rows.get(name):
            continue
        columns = [column.name for column in spec.columns if not column.optional]
        columns += sorted({key for row in rows[name] for key in row} - set(columns))
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, columns, restval="")
            writer.writeheader()
            writer.writerows(rows[name])
    return folder


@kept
def import_small(workplace: Workplace) -> None:
    """Bring every row into an empty workplace, as the tests of the import show it to come in."""
    with TemporaryDirectory() as folder:
        report = import_folder(workplace, write_folder(Path(folder), small_rows()))
    assert report.written, report.faults


def spoiled(folder: Path, change: Callable[[Rows], object]) -> Path:
    """The folder with one change made to its rows."""
    rows = small_rows()
    change(rows)
    return write_folder(folder, rows)


def _row(line: str) -> dict[str, str]:
    return dict(cell.strip().split("=", 1) for cell in line.split(";"))


def _readings(calibration: str, air: float, oxygen: float) -> list[dict[str, str]]:
    return [
        {"calibration": calibration, "slot": f"cell {n}", "cell": f"PRT-C{n}", "reader": reader, "point": point,
         "mv": f"{mv + n / 10:.1f}"}
        for point, mv in (("air", air), ("oxygen", oxygen))
        for n in (1, 2)
        for reader in ("handset 1", "handset 2")
    ]  # fmt: skip


_TYPES = {
    "centre": "name=Invented Lake;code=LK;timezone=Europe/Berlin;altitude_m=120;usual_water_c=12;usual_depth_m=30;"
    "stated_day=2026-05-04",
    "owners": "record=OWN-1;name=The centre;kind=centre",
    "places": "record=PLA-1;name=Shelf A;kind=shelf\nrecord=PLA-2;name=Test house;kind=away",
    "people": "record=PER-1;code=T1;role=technician;name=Tamsin Orrel;contact=t1@mail.invalid;active=yes\n"
    "record=PER-2;code=M1;role=manager;name=Jarek Vinthe;active=yes\n"
    "record=PER-3;code=R1;role=renter;name=Žofia Ångqvist;active=yes",
    "unit_types": "code=TYPE-B;name=Back unit;build=back-mounted;loop_volume_l=9.5;head_volume_l=0.6;flush_l_min=2;"
    f"first_stage_blocked=no;set_point_low_bar=0.7;set_point_high_bar=1.3;manual={SOURCE}",
    "part_types": "\n".join(
        f"code={code};name={kind} of B;kind={kind};assembly={assembly};stocked_in={kept};price=10;source={SOURCE}"
        for code, kind, assembly, kept in (
            ("HEAD-B", "head", "yes", "piece"), ("CELL-A", "cell", "no", "piece"), ("CAN-B", "canister", "no", "piece"),
            ("CYL-OX", "oxygen cylinder", "no", "piece"), ("HSET-B", "handset", "no", "piece"),
            ("SODA", "absorbent", "no", "kg"),
        )
    ),
    "qualifications": "record=QUA-1;person=T1;unit_type=TYPE-B;kind=technician;seen_on=2025-01-10;seen_by=M1;"
    "valid_until=2027-01-09",
    "part_type_lives": f"record=LIF-1;part_type=CELL-A;basis=opened;amount=12;unit=months;source={SOURCE}\n"
    f"record=LIF-2;part_type=CELL-A;basis=made;amount=18;unit=months;source={SOURCE}\n"
    f"record=LIF-3;part_type=CYL-OX;basis=test_interval;amount=60;unit=months;test=hydrostatic;source={SOURCE}",
    "limits": f"record=LIM-1;part_type=CELL-A;name=cell air low;amount=8.5;unit=mV;source={SOURCE};maker=yes\n"
    f"record=LIM-2;part_type=CELL-A;name=cell oxygen floor;amount=40;unit=mV;source={SOURCE};maker=yes",
    "slots": "\n".join(
        f"record=SLO-{n};{owner};name={name};kind={kind};critical=yes;ordinal={n};oxygen_side=no"
        for n, (owner, name, kind) in enumerate(
            (
                ("unit_type=TYPE-B", "head", "head"), ("unit_type=TYPE-B", "handset 1", "handset"),
                ("unit_type=TYPE-B", "handset 2", "handset"), ("unit_type=TYPE-B", "canister", "canister"),
                ("unit_type=TYPE-B", "oxygen cylinder", "oxygen cylinder"),
                ("assembly_type=HEAD-B", "cell 1", "cell"), ("assembly_type=HEAD-B", "cell 2", "cell"),
            ),
            1,
        )
    ),
    "slot_part_types": "record=STY-1;slot=SLO-6;part_type=CELL-A",
    "readers": "\n".join(
        f"record=REA-{n};unit_type=TYPE-B;slot=handset {n};name=handset {n};kind=handset;ordinal={n};zero_offset_mv=0.1"
        for n in (1, 2)
    ),
    "reader_cells": "\n".join(
        f"record=RCE-{reader}{cell};reader=REA-{reader};cell_slot=SLO-{5 + cell};shows=mV;resolution=0.1"
        for reader in (1, 2)
        for cell in (1, 2)
    ),
    "rating_rows": "record=RAT-1;part_type=CAN-B;grade=fine;water_c=12;depth_m=40;co2_l_min=1.35;minutes=160;"
    f"source={SOURCE}",
    "notices": "record=NOT-1;number=N-1;issued_on=2026-01-05;title=Glands;text=Some leak.;action=Look.;weight=advise",
    "notice_scopes": "record=NSC-1;notice=N-1;covers=unit type;first=TYPE-B",
    "equipment": "record=EQU-1;kind=analyser;name=Bench analyser;serial=AN-1;uncertainty=0.25;unit=%;"
    "last_good_day=2026-12-31\n"
    "record=EQU-2;kind=barometer;name=Barometer;serial=BR-1;uncertainty=0.5;unit=mbar;last_good_day=2026-12-31",
}  # fmt: skip

_THINGS = {
    "units": "record=UNI-1;tag=B-01;former_tag=OLD-1;unit_type=TYPE-B;serial=1001;owner=The centre;place=Shelf A;"
    "in_service_on=2024-03-01\n"
    "record=UNI-2;tag=B-02;unit_type=TYPE-B;serial=1002;owner=The centre;in_service_on=2024-03-01",
    "parts": "\n".join(
        f"record=PRT-{name};part_type={code};serial={name}77;{dates};owner=The centre;state={state}"
        for name, code, dates, state in (
            ("H1", "HEAD-B", "made_on=2Q2023", "fitted"),
            ("C1", "CELL-A", "made_on=2026-01;opened_on=2026-02-01", "fitted"),
            ("C2", "CELL-A", "made_on=2026-01;opened_on=2026-02-01", "fitted"),
            ("C3", "CELL-A", "made_on=2026-01", "stock"),
            ("K1", "CAN-B", "received_on=2024-03-01", "fitted"),
            ("O1", "CYL-OX", "made_on=2022-05", "stock"),
        )
    ),
    "cylinders": "part=PRT-O1;role=oxygen;size_l=3;working_bar=200;material=steel;marking=O2 1",
    "part_tests": "record=PTE-1;part=PRT-O1;kind=hydrostatic;done_on=2025-03;passed=yes;done_by=Test house",
    "containers": "record=DRU-1;part_type=SODA;lot=S7;received_kg=20;left_kg=12.5;received_on=2026-03-01;"
    "opened_at=2026-05-01 09:00;last_good_day=2028-03-31;place=Shelf A",
}  # fmt: skip

_EVENTS = {
    "absences": "record=ABS-1;unit=B-02;place=Test house;why=yearly service;left_at=2026-04-20 10:00;"
    "expected_on=2026-05-10",
    "holds": "record=HOL-1;unit=B-02;kind=manual;reason=Away;placed_at=2026-04-20 10:00;placed_by=T1",
    "notices_done": "record=NDO-1;notice=N-1;unit=B-01;at=2026-01-10 12:00;person=T1",
    "bookings": "record=BKG-1;kind=hire;code=H-7;unit_type=TYPE-B;starts_on=2026-05-01;ends_on=2026-05-03;"
    "units_wanted=1;"
    "renter=R1;planned_minutes=90;planned_depth_m=30",
    "booking_terms": "booking=H-7;spares=1;bailout=yes;diluent_oxygen=18;diluent_helium=45",
    "booking_divers": "record=BDI-1;booking=H-7;person=R1;ordinal=1",
    "hand_overs": "hire_line=HLI-1;at=2026-05-01 08:30;person=T1;harness=M;accessories=6;deposit=200",
    "hand_backs": "",
    "unit_swaps": "",
    "acceptances": "record=ACC-1;unit=B-01;check_name=idle;until=2026-06-01;at=2026-05-01 08:20;person=M1;reason=dived",
    "hire_lines": "record=HLI-1;booking=H-7;unit=B-01;diver=R1;hand_over=kit;out_at=2026-05-01 08:00;out_by=T1;"
    "received_at=2026-05-03 18:00;received_by=T1;wet=yes;flooded=no;fault=no;loop_minutes=140;dives=2;note=fine",
    "tickets": "record=TIC-1;year=2026;number=1;unit=B-01;cause=turn-round;reason=After hand-back;critical=yes;"
    "opened_at=2026-05-03 18:10;opened_by=T1;minutes=50;signed_at=2026-05-04 09:00;signed_by=T1\n"
    "record=TIC-2;year=2026;number=2;unit=B-01;cause=failed test;reason=Valve;critical=no;opened_at=2026-05-04 09:10;"
    "opened_by=T1;minutes=0;refers_to=TIC-1",
    "findings": "record=FIN-1;ticket=TIC-1;at=2026-05-03 18:30;person=T1;text=A little sand",
    "tasks": "record=TAS-1;ticket=TIC-1;ordinal=1;text=Calibrate;critical=yes;state=done;minutes=10;"
    "settled_at=2026-05-04 08:40;person=T1;times_put_off=0",
    "fittings": "record=FIT-1;part=PRT-H1;unit=B-01;slot=head;fitted_at=2024-03-01 10:00\n"
    "record=FIT-2;part=PRT-C1;host_part=PRT-H1;slot=cell 1;fitted_at=2026-02-01 10:00;fitted_by=T1\n"
    "record=FIT-3;part=PRT-C2;host_part=PRT-H1;slot=cell 2;fitted_at=2026-02-01 10:00;fitted_by=T1\n"
    "record=FIT-4;part=PRT-K1;unit=B-01;slot=canister;fitted_at=2026-05-01 07:00\n"
    "record=FIT-5;part=PRT-C3;host_part=PRT-H1;slot=cell 2;fitted_at=2026-01-20 10:00;removed_at=2026-02-01 10:00;"
    "removed_by=T1;why_removed=wrong part",
    "fills": "record=FIL-1;canister=PRT-K1;container=DRU-1;packed_at=2026-05-01 07:30;packed_by=T1;mass_g=2450;"
    "checked=yes;"
    "diver=R1;hire_line=HLI-1;discarded_at=2026-05-03 18:20;discarded_by=T1",
    "runs": "record=RUN-1;fill=FIL-1;unit=B-01;hire_line=HLI-1;diver=R1;started_at=2026-05-02 10:00;minutes=70;"
    "clock=loop;"
    "dives=1;coldest_c=11;deepest_m=28;seen_at_6m_bar=1.5",
    "log_readings": "record=LOR-1;hire_line=HLI-1;unit=B-01;run=RUN-1;part=PRT-O1;dive=1;on_day=2026-05-02;"
    "started_at=2026-05-02 10:00;quantity=oxygen bar before;value=195",
    "openings": "record=OPE-1;unit=B-01;at=2026-05-03 18:20;kind=workshop;what=loop stripped;person=T1;ticket=TIC-1",
    "bench_tests": "record=BTE-1;unit=B-01;kind=loop negative;at=2026-05-04 08:30;person=T1;ticket=TIC-1;held=yes;"
    "watched_minutes=3;value=-2.5;unit_of_value=mbar;result=pass",
    "cylinder_fills": "record=CFI-1;part=PRT-O1;at=2026-04-30 16:00;oxygen_asked=100;helium_asked=0;start_bar=40;"
    "end_bar=195;person=T1;oxygen_compatible=yes",
    "gas_analyses": "record=GAS-1;part=PRT-O1;at=2026-04-30 16:30;oxygen_percent=99.6;analyser=EQU-1;person=T1;"
    "by_diver=no",
    "disinfections": "record=DIS-1;unit=B-01;at=2026-05-03 18:40;agent=bath;strength=50 ppm;contact_minutes=5;"
    "rinsed=yes;"
    "dry_at=2026-05-04 08:00;person=T1;ticket=TIC-1",
    "sessions": "record=SES-1;started_at=2026-05-04 08:20;person=T1;pressure_mbar=1001.5;pressure_source=measured;"
    "temperature_c=19.5;humidity=55;oxygen_shown_percent=99.7;analyser=EQU-1;barometer=EQU-2",
    "calibrations": "\n".join(
        f"record=CAL-{n};unit=B-01;session={session};person=T1;at={at};made=workshop;pressure_mbar=1001.5;"
        "pressure_source=measured;temperature_c=19.5;humidity=55;oxygen_shown_percent=99.7;analyser=EQU-1;"
        "barometer=EQU-2;"
        "head=dry;vented=yes;over_pressure_mbar=0;settled=yes"
        for n, session, at in ((1, "", "2026-04-01 09:00"), (2, "SES-1", "2026-05-04 08:40"))
    ),
    "readings": "",
    "kit_contents": "record=KIT-1;place=Shelf A;part_type=CELL-A;least=2",
    "stock_counts": "record=SCO-1;part_type=CELL-A;lot=L1;at=2026-05-02 12:00;person=T1;book=3;counted=2;reason=yearly",
    "part_events": "record=PEV-1;part=PRT-C3;kind=received;at=2026-01-19 10:00;person=T1;place=Shelf A\n"
    "record=PEV-2;part=PRT-C3;kind=undone;at=2026-01-19 10:05;person=T1;reason=typing;undoes=PEV-1",
    "stock_takes": "record=STA-1;container=DRU-1;at=2026-05-02 12:00;person=T1;book_kg=13;counted_kg=12.5;reason=scale",
    "fill_events": "record=FEV-1;fill=FIL-1;kind=given;at=2026-05-01 08:00;person=T1;diver=R1;hire_line=HLI-1",
    "run_corrections": "record=RCO-1;run=RUN-1;at=2026-05-03 19:00;person=T1;reason=typed twice",
    "bench_readings": "bench_test=BTE-1;ordinal=1;at=2026-05-04 08:27;quantity=pressure;value=-2.5;unit=mbar\n"
    "bench_test=BTE-1;ordinal=2;at=2026-05-04 08:30;quantity=pressure;value=-2.5;unit=mbar",
    "cylinder_readings": "record=CRE-1;part=PRT-O1;at=2026-05-03 18:15;bar=80;temperature_c=18;person=T1",
    "gas_certificates": "record=CER-1;batch=B7;gas=oxygen;supplier=North;issued_on=2026-04-01;at=2026-04-02 09:00;"
    "person=T1",
    "gas_certificate_lines": "gas_certificate=CER-1;what=oxygen;value=99.7\n"
    "gas_certificate=CER-1;what=water;value=3",
    "clean_losses": "record=CLO-1;part=PRT-O1;at=2026-05-03 18:16;why=flooded;person=T1;ticket=TIC-2;note=wet inside",
    "ticket_materials": "record=TMA-1;ticket=TIC-2;part=PRT-O1;kind=lubricant;name=Grease O;lot=G-7;"
    "oxygen_compatible=yes;at=2026-05-04 09:15;person=T1",
    "handset_settings": "record=HSE-1;calibration=CAL-2;unit=B-01;reader=handset 1;at=2026-05-04 08:50;"
    "fraction_set=0.997;"
    "pressure_set_mbar=1001;shown_oxygen_bar=1;shown_air_bar=0.21",
}  # fmt: skip

_SHEETS = {name: ({**_TYPES, **_THINGS, **_EVENTS}).get(name, "") for name in SHEETS}
