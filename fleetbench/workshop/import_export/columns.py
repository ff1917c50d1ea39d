"""Which sheets a centre's folder holds, which columns each has, and what a cell of each may hold.

Most of a column follows from the table behind it: its kind, whether it may be empty, its words and its length. Only
what differs is said here.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import Enum
from typing import Any

from fleetbench.calc.core.languages import say
from fleetbench.calc.core.plausible import (
    CONTACT_MINUTES,
    CONTAINER_MASS,
    CYLINDER_PRESSURE,
    CYLINDER_TEMPERATURE,
    DEPTH,
    EMPTY_MASS,
    FILLED_MASS,
    FLUSH_OXYGEN,
    GAS_TEMPERATURE,
    HELIUM,
    HIRE_MINUTES,
    HUMIDITY,
    MIXED_OXYGEN,
    OF_POINT,
    OVER_PRESSURE,
    PURE_OXYGEN,
    ROOM_PRESSURE,
    ROOM_TEMPERATURE,
    SEEN_AT_6M,
    SHOWN_PO2,
    SUPPLY,
    WATCHED,
    WATER,
    Quantity,
    span_of,
)
from fleetbench.calc.hires.log import READINGS
from fleetbench.records.bench.tables import BenchReading, BenchTest, LoopLeak, Opening, TestEquipment
from fleetbench.records.canisters.tables import Container, Fill, FillEvent, RatingRow, Run, RunCorrection, StockTake
from fleetbench.records.cells.tables import BenchSession, Calibration, CalibrationReading, HandsetSetting
from fleetbench.records.core.schema import Base
from fleetbench.records.gas.tables import (
    CleanLoss,
    Cylinder,
    CylinderFill,
    CylinderReading,
    GasAnalysis,
    GasCertificate,
    GasCertificateLine,
    TicketMaterial,
)
from fleetbench.records.hires.tables import (
    Acceptance,
    Accessory,
    AccessoryCount,
    Booking,
    BookingDiver,
    BookingTerms,
    BookingUnit,
    HandBack,
    HandOver,
    HireCall,
    KeptPlan,
    LogReading,
    SheetSignature,
    UnitSwap,
)
from fleetbench.records.notices.tables import Notice, NoticeDone, NoticeScope
from fleetbench.records.parts.tables import (
    Fitting,
    KitContent,
    Part,
    PartEvent,
    PartOrder,
    PartTest,
    PartType,
    PartTypeLife,
    StockCount,
)
from fleetbench.records.people.retention import LegalHold, Retention
from fleetbench.records.people.tables import Person, Qualification
from fleetbench.records.places.tables import Centre, Limit, Owner, Place
from fleetbench.records.tickets.tables import (
    Disinfection,
    Finding,
    ServiceNeed,
    ServiceStep,
    ServiceTask,
    ServiceWork,
    StepResult,
    Task,
    Ticket,
    TicketTime,
)
from fleetbench.records.turn_rounds.tables import (
    ApprovedFirmware,
    Bath,
    BathLoop,
    Disinfectant,
    Drying,
    FirmwareChange,
    HandsetLook,
    TurnRound,
    TurnRoundLine,
)
from fleetbench.records.units.tables import Absence, Hold, Reader, ReaderCell, Slot, SlotPartType, Unit, UnitType
from fleetbench.records.upkeep.tables import ColumnFacts, Holds, column_facts, table_name


class Kind(Enum):
    """What a cell of a column holds, and how it is written."""

    TEXT = "text"
    WORD = "word"
    WHOLE = "whole number"
    FIGURE = "number"
    PERCENT = "percent"
    YES_NO = "yes or no"
    DAY = "date"
    MARKED = "marked date"
    MOMENT = "date and time"
    LINK = "link"


@dataclass(frozen=True, slots=True)
class SheetColumn:
    """One column: where it goes and what it may hold.

    field: the table's column; None for what is kept elsewhere (a name in the erasable table) or not kept at all.
    target: the sheet that a link points into. low, high: bounds of a figure as it stands in the sheet.
    optional: the whole column may be left out of the sheet.
    """

    name: str
    kind: Kind
    field: str | None
    required: bool
    words: tuple[str, ...] = ()
    longest: int | None = None
    low: float | None = None
    high: float | None = None
    target: str | None = None
    precision_field: str | None = None
    default: Any = None
    optional: bool = False


@dataclass(frozen=True, slots=True)
class SheetSpec:
    """One sheet: its table, its columns, and by which columns other sheets name its rows.

    identity: the table's columns by which a row without a record number is known. optional: the folder may lack it.
    """

    name: str
    table: type[Base]
    columns: tuple[SheetColumn, ...]
    keys: tuple[str, ...]
    identity: tuple[str, ...] = ()
    optional: bool = False

    @property
    def fields(self) -> tuple[str, ...]:
        """The table's columns that the sheet states."""
        stated = [column.field for column in self.columns if column.field]
        return (*stated, *(column.precision_field for column in self.columns if column.precision_field))

    def column(self, name: str) -> SheetColumn:
        """The column of that name."""
        return next(column for column in self.columns if column.name == name)


@dataclass(frozen=True, slots=True)
class _Plan:
    """A sheet as it is laid down below: names of its columns, keys, and what does not follow from the table."""

    table: type[Base]
    names: str
    keys: tuple[str, ...] = ("record",)
    fields: Mapping[str, str | None] = field(default_factory=dict)
    bounds: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    optional: str = ""
    identity: tuple[str, ...] = ()
    optional_sheet: bool = False


MEASURED: Mapping[str, tuple[Quantity, ...]] = {
    "pressure_mbar": (ROOM_PRESSURE,), "temperature_c": (ROOM_TEMPERATURE,), "oxygen_temperature_c": (GAS_TEMPERATURE,),
    "humidity": (HUMIDITY,), "oxygen_shown_percent": (FLUSH_OXYGEN,), "over_pressure_mbar": (OVER_PRESSURE,),
    "mv": (*OF_POINT.values(),), "po2_shown_bar": (SHOWN_PO2,), "oxygen_percent": (PURE_OXYGEN, MIXED_OXYGEN),
    "helium_percent": (HELIUM,), "start_bar": (CYLINDER_PRESSURE,), "end_bar": (CYLINDER_PRESSURE,),
    "bar": (CYLINDER_PRESSURE,), "coldest_c": (WATER,), "deepest_m": (DEPTH,), "seen_at_6m_bar": (SEEN_AT_6M,),
    "watched_minutes": (WATCHED,), "supply_bar": (SUPPLY,), "pressure_set_mbar": (ROOM_PRESSURE,),
    "shown_oxygen_bar": (SHOWN_PO2,), "shown_air_bar": (SHOWN_PO2,), "contact_minutes": (CONTACT_MINUTES,),
    "received_kg": (CONTAINER_MASS,), "tare_g": (EMPTY_MASS,), "filled_g": (FILLED_MASS,),
    "loop_minutes": (HIRE_MINUTES,),
}  # fmt: skip
"""What is measured, column by column: its hard range is that of the one table of quantities."""

ANYWHERE: Mapping[str, tuple[float, float]] = {
    "years": (0, 100), "count": (0, 100), "sent": (0, 100), "back": (0, 100), "absorbent_kg": (0, 100),
    "spares": (0, 20), "accessories": (0, 100), "deposit": (0, 100_000), "deposit_back": (0, 100_000),
    "pot_bar": (0.15, 4), "seconds": (0, 86_400), "oxygen_asked": (0, 100), "helium_asked": (0, 100),
    "minutes": (0, 1440), "co2_l_min": (0, 6), "dives": (0, 500), "mass_g": (0, 20_000), "mass_u_g": (0, 1000),
    "value": (-1_000_000, 1_000_000), "fraction_set": (0, 1), "size_l": (0.1, 100), "working_bar": (1, 450),
    "altitude_m": (-500, 9000), "usual_water_c": (-3, 45), "usual_depth_m": (0, 350), "water_c": (-3, 45),
    "depth_m": (0, 350), "planned_minutes": (0, 1440), "planned_depth_m": (0, 350), "planned_water_c": (-3, 45),
    "planned_co2_l_min": (0, 6), "units_wanted": (1, 1000), "loop_volume_l": (0.1, 100), "head_volume_l": (0.01, 20),
    "flush_l_min": (0.01, 200), "set_point_low_bar": (0.1, 2), "set_point_high_bar": (0.1, 2), "lead_days": (0, 3650),
    "pack_size": (0, 100_000), "price": (0, 1_000_000), "amount": (-100_000, 1_000_000), "ordinal": (0, 1000),
    "flow_place": (0, 1000), "zero_offset_mv": (0, 2), "resolution": (0.0001, 10), "uncertainty": (0, 1000),
    "left_kg": (0, 5000), "year": (1980, 2199), "number": (1, 1_000_000), "times_put_off": (0, 1000),
    "least": (0, 1000), "book": (0, 100_000), "counted": (0, 100_000), "book_kg": (0, 5000), "counted_kg": (0, 5000),
    "digit": (0, 1000), "expanded_u": (0, 1_000_000), "diluent_oxygen": (0, 100), "diluent_helium": (0, 100),
}  # fmt: skip
"""What a figure may be, column by column: wide enough for any centre, tight enough to catch a slipped decimal point."""

UNIT_COLUMNS = "measures,pressure_unit,temperature_unit,length_unit,mass_unit"
"""The columns by which a centre states its units."""

_NOTED: dict[str, str | None] = {"note": None}

_FIGURES = dict.fromkeys(("low", "high", "amount", "tolerance", "before", "after"), (-1_000_000.0, 1_000_000.0))

_PLANS: dict[str, _Plan] = {
    "centre": _Plan(
        Centre, "name,code,timezone,altitude_m,usual_water_c,usual_depth_m,telephone,stated_day", (),
        {"stated_day": None}, optional=f"emergency_telephone,address,currency,{UNIT_COLUMNS}",
    ),
    "owners": _Plan(Owner, "record,name,kind", ("record", "name")),
    "places": _Plan(Place, "record,name,kind", ("record", "name")),
    "people": _Plan(
        Person, "record,code,role,name,contact,active", ("record", "code"), {"name": None, "contact": None},
        optional="erased_at",
    ),
    "unit_types": _Plan(
        UnitType,
        "code,name,build,loop_volume_l,head_volume_l,flush_l_min,first_stage_blocked,set_point_low_bar,"
        "set_point_high_bar,manual",
        ("code",),
    ),
    "part_types": _Plan(
        PartType, "code,name,kind,assembly,grade,stocked_in,lead_days,pack_size,price,source", ("code",)
    ),
    "qualifications": _Plan(Qualification, "record,person,unit_type,kind,seen_on,seen_by,valid_until"),
    "part_type_lives": _Plan(
        PartTypeLife, "record,part_type,basis,amount,unit,test,source", bounds={"amount": (0, 100_000)}
    ),
    "limits": _Plan(Limit, "record,unit_type,part_type,name,amount,unit,source,maker"),
    "slots": _Plan(
        Slot, "record,unit_type,assembly_type,name,kind,critical,ordinal,flow_place,oxygen_side"
    ),
    "slot_part_types": _Plan(SlotPartType, "record,slot,part_type", optional_sheet=True),
    "readers": _Plan(Reader, "record,unit_type,slot,name,kind,ordinal,zero_offset_mv"),
    "reader_cells": _Plan(ReaderCell, "record,reader,cell_slot,shows,resolution"),
    "rating_rows": _Plan(RatingRow, "record,part_type,grade,water_c,depth_m,co2_l_min,minutes,source"),
    "units": _Plan(
        Unit, "record,tag,former_tag,unit_type,serial,owner,place,in_service_on,retired_on,harness",
        ("record", "tag", "former_tag"),
    ),
    "equipment": _Plan(
        TestEquipment, "record,kind,name,serial,uncertainty,unit,last_good_day", ("record", "serial"),
        optional="digit,address,query,answer_unit,range_low,range_high,idn",
    ),
    "parts": _Plan(
        Part,
        "record,part_type,serial,lot,made_on,opened_on,received_on,fixed_on,owner,place,state,firmware,supplier,price",
    ),
    "cylinders": _Plan(
        Cylinder, "part,role,size_l,working_bar,material,marking", (), identity=("part_id",)
    ),
    "kit_contents": _Plan(KitContent, "record,place,part_type,least", optional_sheet=True),
    "stock_counts": _Plan(
        StockCount, "record,part_type,lot,at,person,book,counted,reason", optional_sheet=True
    ),
    "absences": _Plan(Absence, "record,unit,place,why,left_at,expected_on,back_at"),
    "holds": _Plan(
        Hold, "record,unit,part,kind,reason,placed_at,placed_by,lifted_at,lifted_by,lift_reason"
    ),
    "notices": _Plan(
        Notice, "record,number,issued_on,title,text,action,by_when,weight", ("record", "number")
    ),
    "notice_scopes": _Plan(NoticeScope, "record,notice,covers,first,last"),
    "notices_done": _Plan(NoticeDone, "record,notice,unit,at,person,note"),
    "bookings": _Plan(
        Booking,
        "record,kind,code,unit_type,starts_on,ends_on,units_wanted,renter,instructor,planned_minutes,planned_depth_m,"
        "planned_water_c,planned_co2_l_min,cancelled_at",
        ("record", "code"), optional="ended_as,ended_for,language,back_by",
    ),
    "hire_lines": _Plan(
        BookingUnit,
        "record,booking,unit,diver,hand_over,out_at,out_by,received_at,received_by,wet,flooded,fault,loop_minutes,dives,"
        "note",
        fields=_NOTED, optional="taken_off_at,taken_off_for,put_on_for",
    ),
    "booking_terms": _Plan(
        BookingTerms, "booking,spares,waiting_since", (), identity=("booking_id",), optional_sheet=True,
        optional="bailout,diluent_oxygen,diluent_helium,altitude_m,price_terms,waited_since",
    ),
    "booking_divers": _Plan(
        BookingDiver, "record,booking,person,ordinal", optional_sheet=True, optional="harness,last_dive_on,left_at"
    ),
    "hand_overs": _Plan(
        HandOver, "hire_line,at,person,harness,accessories,deposit", (), {"hire_line": "booking_unit_id"},
        identity=("booking_unit_id",), optional_sheet=True, optional="absorbent_kg",
    ),
    "accessories": _Plan(Accessory, "record,unit_type,name,count,ordinal", optional_sheet=True),
    "accessory_counts": _Plan(
        AccessoryCount, "hire_line,accessory,sent,back", (), {"hire_line": "booking_unit_id"},
        identity=("booking_unit_id", "accessory_id"), optional_sheet=True,
    ),
    "sheet_signatures": _Plan(
        SheetSignature, "record,hire_line,party,how,at,person,digest", fields={"hire_line": "booking_unit_id"},
        optional_sheet=True,
    ),
    "hand_backs": _Plan(
        HandBack, "hire_line,at,person,missing,damaged,deposit_back", (), {"hire_line": "booking_unit_id"},
        identity=("booking_unit_id",), optional_sheet=True,
    ),
    "hire_calls": _Plan(
        HireCall, "record,hire_line,at,person,told,answer,again_at", fields={"hire_line": "booking_unit_id"},
        optional_sheet=True,
    ),
    "unit_swaps": _Plan(UnitSwap, "record,failed,instead,at,person,reason", optional_sheet=True),
    "accepted_plans": _Plan(
        KeptPlan, "record,code,at,person,undone_at,undone_for", ("record", "code"), optional_sheet=True
    ),
    "part_orders": _Plan(
        PartOrder, "record,part_type,pieces,ordered_at,ordered_by,expected_on,made_for,arrived,cancelled_at",
        bounds={"pieces": (1, 10_000), "arrived": (0, 10_000)}, optional_sheet=True,
    ),
    "acceptances": _Plan(Acceptance, "record,unit,check_name,until,at,person,reason", optional_sheet=True),
    "retention": _Plan(Retention, "record,kind,years,source", optional_sheet=True),
    "legal_holds": _Plan(
        LegalHold, "record,person,reason,placed_at,placed_by,lifted_at,lifted_by", optional_sheet=True
    ),
    "tickets": _Plan(
        Ticket,
        "record,year,number,unit,cause,reason,critical,opened_at,opened_by,minutes,refers_to,signed_at,signed_by",
        bounds={"minutes": (0, 100_000)}, optional="second,withdrawn_at",
    ),
    "part_tests": _Plan(PartTest, "record,part,kind,done_on,passed,done_by", optional="at,how,person,ticket"),
    "findings": _Plan(Finding, "record,ticket,at,person,text", optional="supersedes,supersedes_reason"),
    "ticket_times": _Plan(
        TicketTime, "record,ticket,person,began_at,ended_at,minutes,supersedes,supersedes_reason", optional_sheet=True
    ),
    "tasks": _Plan(
        Task, "record,ticket,ordinal,text,critical,state,minutes,settled_at,person,put_off_reason,times_put_off",
        bounds={"minutes": (0, 100_000)}, optional="second_person",
    ),
    "fittings": _Plan(
        Fitting,
        "record,part,unit,host_part,slot,fitted_at,fitted_by,removed_at,removed_by,why_removed,ticket,removal_ticket",
        optional="since_unknown",
    ),
    "containers": _Plan(
        Container, "record,part_type,lot,received_kg,left_kg,received_on,opened_at,last_good_day,place"
    ),
    "stock_takes": _Plan(
        StockTake, "record,container,at,person,book_kg,counted_kg,reason", optional_sheet=True
    ),
    "fills": _Plan(
        Fill,
        "record,canister,container,packed_at,packed_by,mass_g,checked,diver,hire_line,wetted_at,closed_up_at,"
        "discarded_at,discarded_by,why_discarded",
        fields={"canister": "part_id", "hire_line": "booking_unit_id"}, optional="tare_g,filled_g,scale,mass_u_g",
    ),
    "fill_events": _Plan(
        FillEvent, "record,fill,kind,at,person,diver,hire_line,note",
        fields={"hire_line": "booking_unit_id"}, optional_sheet=True,
    ),
    "runs": _Plan(
        Run,
        "record,fill,unit,hire_line,diver,started_at,minutes,clock,dives,coldest_c,deepest_m,co2_l_min,seen_at_6m_bar",
        fields={"hire_line": "booking_unit_id"}, optional="ended_by,note",
    ),
    "run_corrections": _Plan(RunCorrection, "record,run,instead,at,person,reason", optional_sheet=True),
    "log_readings": _Plan(
        LogReading,
        "record,hire_line,unit,run,part,dive,on_day,started_at,quantity,handset,position,value,note",
        fields={"hire_line": "booking_unit_id"}, bounds={"value": span_of(*READINGS.values())}, optional_sheet=True,
    ),
    "openings": _Plan(Opening, "record,unit,at,kind,what,person,ticket"),
    "bench_tests": _Plan(
        BenchTest,
        "record,unit,part,kind,direction,at,person,ticket,equipment,held,watched_minutes,value,unit_of_value,"
        "supply_bar,result,note",
        fields={"unit_of_value": "unit"}, optional="supersedes,expanded_u,finding",
    ),
    "bench_readings": _Plan(
        BenchReading, "bench_test,ordinal,at,quantity,value,unit,equipment", (),
        identity=("bench_test_id", "ordinal"), optional_sheet=True,
    ),
    "leaks": _Plan(
        LoopLeak, "record,bench_test,slot,place,method,at,person,ticket", optional="supersedes", optional_sheet=True
    ),
    "cylinder_fills": _Plan(
        CylinderFill, "record,part,at,oxygen_asked,helium_asked,start_bar,end_bar,person,batch,oxygen_compatible",
        bounds={"temperature_c": span_of(CYLINDER_TEMPERATURE)},
        optional="machine,temperature_c,note,supersedes,supersedes_reason",
    ),
    "gas_analyses": _Plan(
        GasAnalysis, "record,part,at,oxygen_percent,helium_percent,analyser,person,by_diver",
        optional="uncertainty,signed,note,supersedes,supersedes_reason",
    ),
    "cylinder_readings": _Plan(
        CylinderReading, "record,part,at,bar,temperature_c,person",
        bounds={"temperature_c": span_of(CYLINDER_TEMPERATURE)}, optional_sheet=True,
    ),
    "gas_certificates": _Plan(
        GasCertificate, "record,batch,gas,supplier,issued_on,at,person", optional_sheet=True
    ),
    "gas_certificate_lines": _Plan(
        GasCertificateLine, "gas_certificate,what,value", (), identity=("gas_certificate_id", "what"),
        optional_sheet=True,
    ),
    "clean_losses": _Plan(CleanLoss, "record,part,at,why,person,ticket,note", optional_sheet=True),
    "ticket_materials": _Plan(
        TicketMaterial, "record,ticket,part,kind,name,lot,oxygen_compatible,at,person", optional_sheet=True
    ),
    "disinfections": _Plan(
        Disinfection, "record,unit,at,agent,strength,contact_minutes,rinsed,dry_at,person,ticket"
    ),
    "service_tasks": _Plan(
        ServiceTask,
        "record,unit_type,ordinal,text,basis,amount,minutes,roles,qualification,second_person,critical,source",
        bounds={"amount": (0.001, 100_000)}, optional_sheet=True,
    ),
    "service_needs": _Plan(
        ServiceNeed, "record,service_task,test,part_type,quantity", bounds={"quantity": (0, 1000)},
        optional="began_at,ended_at,supersedes", optional_sheet=True,
    ),
    "service_steps": _Plan(
        ServiceStep,
        "record,service_task,ordinal,kind,text,what,size,unit,low,high,amount,tolerance,before,replace,oxygen,part_type,"
        "source",
        bounds=_FIGURES, optional="began_at,ended_at,supersedes", optional_sheet=True,
    ),
    "service_work": _Plan(ServiceWork, "record,task,service_task", optional_sheet=True),
    "step_results": _Plan(
        StepResult,
        "record,ticket,task,service_step,state,settled_at,person,before,after,seal,lubricant,lot,oxygen_compatible,"
        "photograph,second,reason",
        bounds=_FIGURES, optional_sheet=True,
    ),
    "part_events": _Plan(
        PartEvent, "record,part,kind,at,person,place,state_before,place_before,reason,ticket,undoes",
        optional="step_result", optional_sheet=True,
    ),
    "turn_rounds": _Plan(
        TurnRound, "record,unit,hire_line,opened_at,opened_by,flooded_at,finished_at,finished_by,ticket",
        fields={"hire_line": "booking_unit_id"}, optional_sheet=True,
    ),
    "turn_round_lines": _Plan(
        TurnRoundLine, "record,turn_round,ordinal,step,service_task,state,settled_at,person,how", optional_sheet=True
    ),
    "disinfectants": _Plan(
        Disinfectant, "record,unit_type,name,strength,contact_minutes,use_within_hours,source",
        bounds={"use_within_hours": (0, 8784)}, optional_sheet=True,
    ),
    "baths": _Plan(
        Bath, "record,disinfectant,at,mixed_at,use_by,contact_minutes,rinsed,person", optional_sheet=True
    ),
    "bath_loops": _Plan(BathLoop, "record,bath,disinfection,part", optional_sheet=True),
    "dryings": _Plan(Drying, "record,disinfection,at,dry,person", optional_sheet=True),
    "approved_firmware": _Plan(ApprovedFirmware, "record,unit_type,version,source", optional_sheet=True),
    "firmware_changes": _Plan(FirmwareChange, "record,part,at,before,after,person", optional_sheet=True),
    "handset_looks": _Plan(HandsetLook, "record,unit,at,person,settings_reset,previous_data", optional_sheet=True),
    "sessions": _Plan(
        BenchSession,
        "record,started_at,person,pressure_mbar,pressure_source,temperature_c,humidity,oxygen_shown_percent,analyser,"
        "barometer,hygrometer,ended_at",
    ),
    "calibrations": _Plan(
        Calibration,
        "record,unit,session,person,at,made,pressure_mbar,pressure_source,temperature_c,oxygen_temperature_c,humidity,"
        "oxygen_shown_percent,analyser,barometer,head,vented,over_pressure_mbar,settled,comparison,ticket,note",
        optional="supersedes,supersedes_reason",
    ),
    "readings": _Plan(
        CalibrationReading, "calibration,slot,cell,reader,point,mv,po2_shown_bar,pot_bar,seconds", (),
        {"cell": "part_id"},
    ),
    "handset_settings": _Plan(
        HandsetSetting,
        "record,calibration,unit,reader,at,fraction_set,pressure_set_mbar,shown_oxygen_bar,shown_air_bar",
    ),
}  # fmt: skip
"""Every sheet, each after those it points into."""


def _spec(name: str, plan: _Plan) -> SheetSpec:
    columns = [_column(plan, each) for each in plan.names.split(",")]
    more = [replace(_column(plan, each), optional=True) for each in plan.optional.split(",") if each]
    return SheetSpec(
        name,
        table=plan.table,
        columns=(*columns, *more),
        keys=plan.keys,
        identity=plan.identity,
        optional=plan.optional_sheet,
    )


def _column(plan: _Plan, name: str) -> SheetColumn:
    if name in plan.fields and plan.fields[name] is None:
        return _KEPT_ELSEWHERE[name]
    columns = column_facts(plan.table)
    behind = _behind(columns, plan, name)
    precision = f"{behind.name.removesuffix('_on')}_precision" if behind.name != "done_on" else "precision"
    marked = precision in columns and behind.holds is Holds.DAY
    kind = Kind.MARKED if marked else Kind.PERCENT if name == "humidity" else _KINDS[behind.holds]
    counted = kind in (Kind.WHOLE, Kind.FIGURE, Kind.PERCENT)
    stated = span_of(*MEASURED[name]) if name in MEASURED else ANYWHERE.get(name, (None, None))
    bounds = plan.bounds.get(name, stated) if counted else (None, None)
    return SheetColumn(
        name=name,
        kind=kind,
        field=behind.name,
        required=name == "record" or behind.required,
        words=behind.words,
        longest=behind.longest,
        low=bounds[0],
        high=bounds[1],
        target=_SHEET_OF[behind.target] if behind.target else None,
        precision_field=precision if marked else None,
        default=behind.default,
    )


def _behind(columns: dict[str, ColumnFacts], plan: _Plan, name: str) -> ColumnFacts:
    if name == "record":
        return columns["ref"]
    said = plan.fields.get(name) or (f"{name}_id" if f"{name}_id" in columns else name)
    return columns[said]


_KINDS = {
    Holds.TEXT: Kind.TEXT, Holds.WORD: Kind.WORD, Holds.WHOLE: Kind.WHOLE, Holds.FIGURE: Kind.FIGURE,
    Holds.YES_NO: Kind.YES_NO, Holds.DAY: Kind.DAY, Holds.MOMENT: Kind.MOMENT, Holds.KEY: Kind.LINK,
}  # fmt: skip
_KEPT_ELSEWHERE = {
    "name": SheetColumn("name", Kind.TEXT, None, False, longest=200),
    "contact": SheetColumn("contact", Kind.TEXT, None, False, longest=400),
    "note": SheetColumn("note", Kind.TEXT, None, False),
    "stated_day": SheetColumn("stated_day", Kind.DAY, None, False),
}
_SHEET_OF = {table_name(plan.table): name for name, plan in _PLANS.items()}

SHEETS: dict[str, SheetSpec] = {name: _spec(name, plan) for name, plan in _PLANS.items()}
"""Every sheet by name, each after those it points into."""

NOT_IN_SHEETS = {
    "calibration_outcome": say("judged again from the readings"),
    "journal": say("belongs to the database it was written in"),
    "person_pin": say("a PIN belongs to its owner and is set again elsewhere"),
    "photograph": say("its picture is a file beside the database; a backup and an evidence folder take both"),
    "signed_page": say("a page as it was signed is a file beside the database, and is backed up with it"),
    "signature_drawing": say("a drawn signature can be erased, and stays where it was given"),
    "meter_reading": say(
        "what a meter answered belongs to the row that was written from it; `export --records` takes both"
    ),
    "part_proof": say("points at outcomes, which an import judges again"),
}
"""Tables that no sheet holds, and why; names of people and words about hires stand in columns of other sheets."""
