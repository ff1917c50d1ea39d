"""Which words of the source are looked up as they are, and which texts rightly stay English, each with the reason."""

from collections.abc import Mapping

CONSTANTS: Mapping[str, tuple[str, ...]] = {
    "calc/core/plausible.py": ("Tool",),
    "window/shell/actions.py": ("KEYS_IN_A_LIST", "KEYS_ON_THE_TIME_LINE", "ROOMS_OF_ACTS"),
    "window/look/marks.py": ("OTHER_WORDS",),
    "calc/people/permits.py": ("Role",),
    "calc/parts/kinds.py": (
        "ShelfEvent",
        "PlaceKind",
        "OwnerKind",
        "OpeningKind",
        "PART_KINDS",
        "PartState",
        "USUAL_SLOTS",
    ),
    "calc/core/verdict.py": (
        "Verdict",
        "Result",
        "WorkState",
    ),
    "workshop/units/list.py": (
        "Where",
        "Fit",
    ),
    "workshop/parts/list.py": ("LifeWord",),
    "workshop/due/list.py": ("DueState",),
    "calc/bench/half_done.py": ("BegunKind",),
    "calc/notices/scope.py": (
        "Exposure",
        "Covers",
        "Weight",
    ),
    "calc/hires/promises.py": (
        "Keeping",
        "BookingKind",
        "CallAnswer",
        "HireState",
    ),
    "calc/readiness/limits.py": (
        "HandoverKind",
        "Stricter",
        "Scope",
    ),
    "workshop/bench/equipment.py": ("UNITS_OF",),
    "workshop/bench/offers.py": (
        "Method",
        "WORKS_KINDS",
        "UNIT_WORKS",
    ),
    "workshop/canisters/packing.py": ("WHY_DISCARDED",),
    "workshop/parts/fit.py": ("WHY_OUT",),
    "calc/core/doors.py": (
        "_REGISTERS",
        "DOORS=",
    ),
    "calc/bench/flow.py": ("LockUp",),
    "calc/bench/leak_places.py": ("LEAK_METHODS",),
    "calc/canisters/fill.py": ("AbsorbentRule",),
    "calc/earnings/days.py": (
        "DayState",
        "CureBy",
        "Keep",
    ),
    "calc/gas/cylinders.py": ("GasRole",),
    "calc/hires/cures.py": ("CureKind",),
    "calc/parts/condition.py": ("Condition",),
    "calc/tickets/service_plan.py": ("ServiceBasis",),
    "calc/tickets/signing.py": (
        "RELEASE_TESTS",
        "TEST_KINDS",
    ),
    "calc/tickets/steps.py": (
        "StepKind",
        "Within",
        "SEALS_DONE",
    ),
    "records/tickets/tables.py": ("CAUSES",),
    "records/bench/tables.py": ("DIRECTIONS",),
    "records/canisters/tables.py": ("FILL_EVENTS", "RUN_CLOCKS"),
    "records/gas/tables.py": ("CERTIFIED", "SIGNED", "LOSSES", "MATERIALS"),
    "records/hires/tables.py": ("PARTIES", "SIGNED_HOW"),
    "records/parts/tables.py": ("PART_TESTS", "FORECAST_OF", "WHY_REMOVED"),
    "records/people/tables.py": ("QUALIFICATIONS",),
    "records/units/tables.py": ("BUILDS", "READERS"),
    "records/upkeep/planted.py": ("FOREIGN",),
    "calc/cells/readings.py": ("Answer", "HeadState", "MadeBy"),
    "calc/cells/settling.py": ("SettlingState",),
    "calc/hires/availability.py": ("What",),
    "calc/import_export/cells.py": ("DateOrder",),
    "calc/parts/life.py": ("LimitBasis", "LimitUnit"),
    "calc/readiness/facts.py": ("HoldKind", "TicketSeverity"),
    "calc/readiness/judge.py": ("Moment", "Fitness", "Leaving"),
    "calc/readiness/lane.py": ("Work",),
    "calc/turn_rounds/card.py": ("PREVIOUS_DATA",),
    "workshop/import_export/bring.py": ("RowState",),
    "workshop/bench/measured.py": ("RECORDED_AS=",),
}
"""Tables, enumerations and words of record that are looked up as they are; of a name that ends with = the values."""
ENGLISH_FILES: Mapping[str, str] = {
    "paper/due/exports.py": "an iCalendar file, which other programs read",
    "paper/units/evidence.py": "an evidence sheet, in the words of the record",
    "calc/import_export/columns.py": "headings that other people's spreadsheets have",
}
"""Modules whose texts stay English, each with the reason (decision 25)."""

KEY = "a key: kept, compared or looked up, and never shown"
DEVELOPER = "an error of the program's own, which goes to the fault report"
DRIVER = "words of the databases' own faults, which are looked for in them"
SPREADSHEET = "titles of CSV and XLSX, which other programs read"
OTHERS = "words that other people's files have, which are looked for in them"
FOLDER = "an exported folder, whose columns and words are those of the records"
UNIT = "signs of units, beside the words by which they are typed"
NAME = "a language's or a typeface's own name"

RIGHTLY: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "calc/canisters/packing.py": {"titles of publications": ("WORK_RATES",)},
    "calc/core/languages.py": {NAME: ("LANGUAGES",), "a comment for translators": ("NOT_CONFIRMED",)},
    "calc/core/measures.py": {UNIT: ("CELSIUS",)},
    "calc/core/verdict.py": {DEVELOPER: ("worst",)},
    "calc/gas/real.py": {DEVELOPER: ("_require_state", "_root")},
    "calc/hires/log.py": {KEY: ("log of", "READINGS", "_FIRST", "{} bar before", "{} bar after")},
    "calc/hires/plan_model.py": {KEY: ("Stays",)},
    "calc/hires/sell.py": {
        KEY: ("as it is", "after work", "after arrival", "after order", "held back"),
        DEVELOPER: ("the sale has no answer: {}",),
    },
    "calc/parts/kinds.py": {"a pattern": ("(handset|head-up display) (\\d+) battery",)},
    "calc/parts/life.py": {KEY: ("LifeState", "not_passed")},
    "calc/people/permits.py": {KEY: ("Permit",)},
    "calc/readiness/judge.py": {DEVELOPER: ("the check {} gave neither a finding nor None",)},
    "calc/readiness/limits.py": {"ends of the names of limits": ("OXYGEN_PRESSURES", "ENDS")},
    "calc/tickets/steps.py": {"words looked for in the name of a figure": ("_SHOWN",)},
    "calc/tickets/signing.py": {"a pattern": ("_LOOP",)},
    "calc/turn_rounds/card.py": {"kept and compared; its words are in WORDS": ("Step",)},
    "paper/core/marks.py": {
        DEVELOPER: ("code: {} bytes cannot be printed as a small code; give 1 to {}",),
        KEY: ("PrintedShape",),
    },
    "paper/core/pen.py": {NAME: ("BOLD",)},
    "paper/core/scripts.py": {NAME: ("Identity-H",)},
    "paper/core/tags.py": {"metadata of a file": ("LACKING",)},
    "paper/due/page.py": {"the name of an event in a calendar, which other programs read": ("_name",)},
    "paper/earnings/report.py": {SPREADSHEET: ("write_earnings_xlsx",)},
    "paper/import_export/sheets.py": {SPREADSHEET: ("given back", "To finish of {}")},
    "paper/parts/pages.py": {SPREADSHEET: ("_TITLES",)},
    "records/core/database.py": {DRIVER: ("TROUBLES",)},
    "records/core/errors.py": {"a fault report": ("\ncaused by\n",)},
    "records/core/journal.py": {DEVELOPER: ("{} stands in no column",)},
    "records/core/schema.py": {
        KEY: ("_KEPT", "_IN_FORCE"),
        DEVELOPER: (
            "{}.{}: no column of that name; state which it is",
            "timestamp: give its zone; a moment without one cannot be kept",
        ),
    },
    "records/core/transaction.py": {"the name of an act": ("CARRIED_ACT",)},
    "records/people/tables.py": {
        "the name of an act": ("set PIN",),
        DEVELOPER: ("person: read it inside an act first",),
    },
    "records/upkeep/records_folder.py": {
        KEY: ("fleetbench records",),
        "caught, and told in other words": ("not records", "not a name", "not a photograph or page"),
    },
    "records/upkeep/tables.py": {KEY: ("Holds",)},
    "records/upkeep/verify.py": {"the name of an act": ("BINDS",)},
    "records/upkeep/witness.py": {"caught, and told in other words": ("not a head",)},
    "shipped.py": {
        "told where catalogues cannot be read": ("{}: this installation lacks the folder; install fleetbench again",),
    },
    "terminal.py": {DEVELOPER: ("{} has no plain form",)},
    "workshop/bench/offers.py": {"the name of a limit": ("{} opening pressure",)},
    "workshop/canisters/absorbent.py": {"the name of a limit": ("usual dive minutes",)},
    "workshop/gas/state.py": {"the name of a limit": ("depth po2 {}",)},
    "workshop/hires/pages.py": {"the name of a limit": ("HOURS",)},
    "workshop/hires/handback.py": {KEY: ("air mV", "oxygen mV")},
    "workshop/import_export/assemble.py": {KEY: ("slots of {}", "TOKEN")},
    "workshop/import_export/checks.py": {
        "a pattern": ("(?P<point>air|oxygen|zero)_mv.* of (?P<cell>.+) on (?P<reader>[^:]+): ",),
    },
    "workshop/import_export/columns.py": {FOLDER: ("Kind",)},
    "workshop/import_export/export.py": {FOLDER: ("_described", "_rule")},
    "workshop/import_export/files.py": {KEY: ("END",)},
    "workshop/import_export/values.py": {OTHERS: ("kind_named",), "the name of a slot": ("slot_name",)},
    "workshop/readiness/ready.py": {KEY: ("first stops",)},
    "workshop/units/fleet.py": {KEY: ("PER_UNIT", "worn unit")},
    "workshop/units/history.py": {"an evidence sheet, in the words of the record": ("no entry",)},
    "workshop/units/schematic.py": {KEY: ("_FEED_RANK",)},
}
"""What stays English, by module and reason: names of the module's constants, classes and functions, or the texts."""
