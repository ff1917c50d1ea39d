"""The sheets as they grow, and how they are written: rows as dicts, dates as dates until the last moment."""

import csv
import datetime as dt
import io
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

COLUMNS = {
    "centre": "name,code,timezone,altitude_m,usual_water_c,usual_depth_m,telephone,stated_day,emergency_telephone",
    "owners": "record,name,kind",
    "places": "record,name,kind",
    "people": "record,code,role,name,contact,active",
    "qualifications": "record,person,unit_type,kind,seen_on,seen_by,valid_until",
    "unit_types": "code,name,build,loop_volume_l,head_volume_l,flush_l_min,first_stage_blocked,set_point_low_bar,"
    "set_point_high_bar,manual",
    "part_types": "code,name,kind,assembly,grade,stocked_in,lead_days,pack_size,price,source",
    "part_type_lives": "record,part_type,basis,amount,unit,test,source",
    "limits": "record,unit_type,part_type,name,amount,unit,source,maker",
    "slots": "record,unit_type,assembly_type,name,kind,critical,ordinal,flow_place,oxygen_side",
    "slot_part_types": "record,slot,part_type",
    "readers": "record,unit_type,slot,name,kind,ordinal,zero_offset_mv",
    "reader_cells": "record,reader,cell_slot,shows,resolution",
    "rating_rows": "record,part_type,grade,water_c,depth_m,co2_l_min,minutes,source",
    "units": "record,tag,former_tag,unit_type,serial,owner,place,in_service_on,retired_on,harness",
    "absences": "record,unit,place,why,left_at,expected_on,back_at",
    "holds": "record,unit,part,kind,reason,placed_at,placed_by,lifted_at,lifted_by,lift_reason",
    "equipment": "record,kind,name,serial,uncertainty,unit,last_good_day,digit",
    "parts": "record,part_type,serial,lot,made_on,opened_on,received_on,fixed_on,owner,place,state,firmware,"
    "supplier,price",
    "cylinders": "part,role,size_l,working_bar,material,marking",
    "fittings": "record,part,unit,host_part,slot,fitted_at,fitted_by,removed_at,removed_by,why_removed,ticket,"
    "removal_ticket",
    "part_tests": "record,part,kind,done_on,passed,done_by",
    "containers": "record,part_type,lot,received_kg,left_kg,received_on,opened_at,last_good_day,place",
    "fills": "record,canister,container,packed_at,packed_by,mass_g,checked,diver,hire_line,wetted_at,closed_up_at,"
    "discarded_at,discarded_by,why_discarded,scale,mass_u_g",
    "runs": "record,fill,unit,hire_line,diver,started_at,minutes,clock,dives,coldest_c,deepest_m,co2_l_min,"
    "seen_at_6m_bar",
    "openings": "record,unit,at,kind,what,person,ticket",
    "bench_tests": "record,unit,part,kind,direction,at,person,ticket,equipment,held,watched_minutes,value,"
    "unit_of_value,"
    "supply_bar,result,note",
    "cylinder_fills": "record,part,at,oxygen_asked,helium_asked,start_bar,end_bar,person,batch,oxygen_compatible",
    "gas_analyses": "record,part,at,oxygen_percent,helium_percent,analyser,person,by_diver",
    "sessions": "record,started_at,person,pressure_mbar,pressure_source,temperature_c,humidity,oxygen_shown_percent,"
    "analyser,barometer,hygrometer,ended_at",
    "calibrations": "record,unit,session,person,at,made,pressure_mbar,pressure_source,temperature_c,"
    "oxygen_temperature_c,"
    "humidity,oxygen_shown_percent,analyser,barometer,head,vented,over_pressure_mbar,settled,comparison,ticket,note",
    "readings": "calibration,slot,cell,reader,point,mv,po2_shown_bar,pot_bar,seconds",
    "handset_settings": "record,calibration,unit,reader,at,fraction_set,pressure_set_mbar,shown_oxygen_bar,"
    "shown_air_bar",
    "tickets": "record,year,number,unit,cause,reason,critical,opened_at,opened_by,minutes,refers_to,signed_at,"
    "signed_by",
    "findings": "record,ticket,at,person,text",
    "tasks": "record,ticket,ordinal,text,critical,state,minutes,settled_at,person,put_off_reason,times_put_off",
    "disinfections": "record,unit,at,agent,strength,contact_minutes,rinsed,dry_at,person,ticket",
    "service_tasks": "record,unit_type,ordinal,text,basis,amount,minutes,roles,qualification,second_person,critical,"
    "source",
    "service_needs": "record,service_task,test,part_type,quantity",
    "service_steps": "record,service_task,ordinal,kind,text,what,size,unit,low,high,amount,tolerance,before,replace,"
    "oxygen,part_type,source,began_at",
    "service_work": "record,task,service_task",
    "step_results": "record,ticket,task,service_step,state,settled_at,person,before,after,seal,lubricant,lot,"
    "oxygen_compatible,photograph,second,reason",
    "turn_rounds": "record,unit,hire_line,opened_at,opened_by,flooded_at,finished_at,finished_by,ticket",
    "turn_round_lines": "record,turn_round,ordinal,step,service_task,state,settled_at,person,how",
    "disinfectants": "record,unit_type,name,strength,contact_minutes,use_within_hours,source",
    "baths": "record,disinfectant,at,mixed_at,use_by,contact_minutes,rinsed,person",
    "bath_loops": "record,bath,disinfection,part",
    "dryings": "record,disinfection,at,dry,person",
    "approved_firmware": "record,unit_type,version,source",
    "handset_looks": "record,unit,at,person,settings_reset,previous_data",
    "bookings": "record,kind,code,unit_type,starts_on,ends_on,units_wanted,renter,instructor,planned_minutes,"
    "planned_depth_m,planned_water_c,planned_co2_l_min,cancelled_at",
    "hire_lines": "record,booking,unit,diver,hand_over,out_at,out_by,received_at,received_by,wet,flooded,fault,"
    "loop_minutes,dives,note",
    "notices": "record,number,issued_on,title,text,action,by_when,weight",
    "notice_scopes": "record,notice,covers,first,last",
    "notices_done": "record,notice,unit,at,person,note",
    "kit_contents": "record,place,part_type,least",
    "accessories": "record,unit_type,name,count,ordinal",
}
PREFIX = {
    "owners": "OWN", "places": "PLA", "qualifications": "QUA", "part_type_lives": "LIF", "limits": "LIM",
    "slots": "SLO", "slot_part_types": "STY",
    "readers": "REA", "reader_cells": "RCE", "rating_rows": "RAT", "units": "UNI", "absences": "ABS", "holds": "HOL",
    "equipment": "EQU", "parts": "PRT", "fittings": "FIT", "part_tests": "PTE", "containers": "DRU", "fills": "FIL",
    "runs": "RUN", "openings": "OPE", "bench_tests": "BTE", "cylinder_fills": "CFI", "gas_analyses": "GAS",
    "sessions": "SES", "calibrations": "CAL", "handset_settings": "HSE", "tickets": "TIC", "findings": "FIN",
    "tasks": "TAS", "disinfections": "DIS", "bookings": "BKG", "hire_lines": "HLI", "notices": "NOT",
    "service_tasks": "SVT", "service_needs": "SVN", "service_steps": "SVS", "step_results": "STR",
    "service_work": "SVW", "turn_rounds": "TRD",
    "turn_round_lines": "TRL", "disinfectants": "DSF", "baths": "BAT", "bath_loops": "BLO", "dryings": "DRY",
    "approved_firmware": "AFW", "handset_looks": "HLO",
    "notice_scopes": "NSC", "notices_done": "NDO", "people": "PER", "kit_contents": "KIT", "accessories": "ACC",
}  # fmt: skip

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Marked:
    """A date as it stands on a thing: to the day, the month or the quarter."""

    day: dt.date
    precision: str = "day"

    def text(self, shift: dt.timedelta) -> str:
        """The mark as written, moved by `shift` to the day, month or quarter that holds the shifted first day."""
        first = self.day
        if self.precision == "month":
            first = first.replace(day=1)
        elif self.precision == "quarter":
            first = first.replace(month=3 * ((first.month - 1) // 3) + 1, day=1)
        moved = first + shift
        if self.precision == "month":
            return f"{moved:%Y-%m}"
        if self.precision == "quarter":
            return f"{(moved.month - 1) // 3 + 1}Q{moved.year}"
        return moved.isoformat()


class Sheets:
    """All sheets of one centre; `add` returns the record number of the new row."""

    def __init__(self) -> None:
        self.rows: dict[str, list[Row]] = {name: [] for name in COLUMNS}
        self.readings: list[tuple[Any, ...]] = []

    def add(self, sheet: str, **cells: Any) -> str:
        """The record number given to the new row; the row itself stays open to later change."""
        return str(self.row(sheet, **cells)["record"])

    def row(self, sheet: str, **cells: Any) -> Row:
        """The new row itself, with its record number in it."""
        rows = self.rows[sheet]
        prefix = PREFIX.get(sheet)
        row: Row = {"record": f"{prefix}-{len(rows) + 1:05d}"} if prefix and "record" not in cells else {}
        row.update(cells)
        rows.append(row)
        return row

    def grid(self, shift: dt.timedelta = dt.timedelta()) -> dict[str, list[list[str]]]:
        """Every sheet as written: a header row and rows of text."""
        out = {}
        for name, columns in COLUMNS.items():
            names = columns.split(",")
            if name == "readings":
                body = [[as_text(value, shift) for value in row] for row in self.readings]
            else:
                body = [[as_text(row.get(column), shift) for column in names] for row in self.rows[name]]
            out[name] = [names, *body]
        return out


_TEXT: dict[type, Callable[[Any, dt.timedelta], str]] = {
    type(None): lambda value, shift: "",
    bool: lambda value, shift: "yes" if value else "no",
    int: lambda value, shift: str(value),
    float: lambda value, shift: f"{value:.6g}",
    dt.datetime: lambda value, shift: str((value + shift).isoformat(" ", "minutes")),
    dt.date: lambda value, shift: str((value + shift).isoformat()),
    Marked: lambda value, shift: str(value.text(shift)),
}


def as_text(value: Any, shift: dt.timedelta) -> str:
    """One cell's text: ISO dates, local times to the minute, yes or no, numbers without needless noughts."""
    return value if type(value) is str else _TEXT[type(value)](value, shift)


def write(grids: dict[str, list[list[str]]], folder: Path, encoding: str = "utf-8") -> None:
    """Write one CSV file a sheet, with plain line feeds, so that the same rows give the same bytes."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in grids.items():
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows(rows)
        (folder / f"{name}.csv").write_bytes(text.getvalue().encode(encoding))
