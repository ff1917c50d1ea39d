"""Everything that is done to cylinders, each on a button and a letter; and one entered with its stamps and rule."""

from collections.abc import Callable, Mapping, Sequence
from functools import cache, partial
from io import BytesIO
from typing import Any

from PySide6.QtWidgets import QDialog, QWidget

from fleetbench.calc.core.languages import folded_name, say, strung, worded
from fleetbench.calc.core.measures import BAR
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.gas.cylinders import CylinderFinding
from fleetbench.calc.parts.kinds import CylinderRule
from fleetbench.records.gas.reads import AnalysisRecord
from fleetbench.records.parts.reads import PartRecord
from fleetbench.records.people.reads import PersonRecord
from fleetbench.window.canisters.acts import LabelDialog
from fleetbench.window.forms.form import Field, Form, Shown
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.gas.acts import (
    certificate_form,
    clean_these,
    gauge_form,
    lost_these,
    named,
    specifications,
    test_form,
)
from fleetbench.window.gas.analyses import AnalysisDialog
from fleetbench.window.gas.fill_log import Filled, FillLogDialog, KeptLog
from fleetbench.window.lists.act_bar import ActBar, ActSpec, at_any_time
from fleetbench.window.look.words import counted
from fleetbench.window.parts.dialogs import MARK_HINT
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.analyses import AnalysisAnswer
from fleetbench.workshop.gas.entry import (
    ROLES,
    VISUAL_MONTHS,
    CylinderChoices,
    NewCylinder,
    cylinder_choices,
    receive_cylinder,
    role_of,
    set_own_rule,
    set_test_rule,
)
from fleetbench.workshop.gas.list import (
    CylinderLine,
    GasStation,
    LastCylinderEntry,
    correctable_of,
    cylinder_label,
    gas_station,
    label_centre,
    to_analyse,
    to_fill,
)
from fleetbench.workshop.people.list import list_people

OWN_RULE = say("a rule that is not listed")
STAMPED = say("is missing; enter it as stamped")


def cylinder_form(workplace: Workplace) -> Form:
    """A cylinder as stamped: type, serial, role, size, working pressure, marking, owner, place, and its last tests."""
    choices = cache(partial(cylinder_choices, workplace))

    def look(found: Mapping[str, Any]) -> Mapping[str, Shown]:
        known = choices()
        usual = role_of(next((each.kind for each in known.types if each.code == found["code"]), ""))
        return {
            "code": [(each.name, each.code) for each in known.types],
            "role": [(role, role) for role in sorted(ROLES, key=lambda role: role != usual)],
            "owner_id": [(name, key) for key, name in known.owners],
            "place_id": [(say("not recorded"), None), *((place.name, place.place_id) for place in known.places)],
        }

    def receive(**stamped: Any) -> object:
        return receive_cylinder(workplace, NewCylinder(**stamped))

    return Form(
        "New cylinder",
        act_words="Save cylinder",
        note="As stamped on it. A test whose date is not known stays empty, and nothing is filled until it is known. "
        "Oxygen-clean is not taken over from a seller's word: record its cleaning.",
        fields=(
            Field("code", "Part type", "choice", wants="choose what kind of cylinder it is",
                  nothing="No part type of a cylinder is recorded; import the centre's files first."),
            Field("serial", "Serial", hint="scan or type", beside=True),
            Field("role", "Role", "choice", beside=True),
            Field("size_l", "Size", "figure", unit=say("L of water"), spoken="size", wants=STAMPED),
            Field("working_bar", "Working pressure", "figure", unit=BAR, wants=STAMPED, beside=True),
            Field("material", "Material", hint="steel or aluminium", beside=True),
            Field("marking", "Marking", hint="as stamped", beside=True),
            Field("made", "Made", "marked", MARK_HINT),
            Field("hydrostatic", "Hydrostatic test", "marked", MARK_HINT, beside=True),
            Field("visual", "Internal visual", "marked", MARK_HINT, beside=True),
            Field("owner_id", "Owner", "choice"),
            Field("place_id", "Place", "choice", beside=True),
        ),
        act=receive,
        look=look,
        first="serial",
        wide=210,
    )  # fmt: skip


WHOLE_MONTHS = say("enter a whole number of months")


def rule_form(workplace: Workplace) -> Form:
    """The rule by which cylinders of a part type are tested, with its date; every last valid day follows it."""
    choices = cache(partial(cylinder_choices, workplace))

    def look(found: Mapping[str, Any]) -> Mapping[str, Shown]:
        known, rule = choices(), found["rule"]
        rules = [(f"{each.rule}, {each.specification}", each) for each in known.rules]
        listed = rule if isinstance(rule, CylinderRule) else None
        own = rule == OWN_RULE
        return {
            "code": [(f"{each.name}, {each.code}", each.code) for each in known.types],
            "rule": [*rules, (OWN_RULE, OWN_RULE)],
            "current": _current(known, found["code"]),
            "years": [(f"{years}", years) for years in listed.years] if listed else not own,
            "local_rule": not own,
            **dict.fromkeys(("name", "edition", "months"), own),
        }

    def save(code: str, rule: Any, visual_months: int, years: int | None, local_rule: str | None, **own: Any) -> None:
        if isinstance(rule, CylinderRule):
            assert years is not None, "each rule listed has years to choose from"
            set_test_rule(
                workplace,
                code,
                rule=rule.rule,
                specification=rule.specification,
                years=years,
                visual_months=visual_months,
                local_rule=local_rule or "",
            )
        else:
            set_own_rule(
                workplace, code, rule=own["name"], edition=own["edition"], hydrostatic_months=own["months"],
                visual_months=visual_months,
            )  # fmt: skip

    return Form(
        "Rule of periodic tests",
        act_words="Save rule",
        note="Local law stands above every rule listed here. A longer period is for a centre that meets the rule's "
        "conditions; visuals further apart than a year need the local rule or the risk assessment in words.",
        fields=(
            Field("code", "Part type", "choice", wants="choose the cylinders that the rule is for"),
            Field("rule", "Rule and specification", "choice", spoken="rule", beside=True),
            Field("current", kind="told"),
            Field("years", "Hydrostatic test every, years", "choice", spoken="years"),
            Field("visual_months", "Internal visual every", "whole", default=VISUAL_MONTHS, unit=say("months"),
                  spoken="visual months", wants=WHOLE_MONTHS, beside=True),
            Field("local_rule", "By which local rule or assessment", hint="where visuals are further apart than a year",
                  spoken="local rule", beside=True),
            Field("name", "Name of the rule", spoken="rule's name", hidden=True),
            Field("edition", "Its date or edition", spoken="date of the rule", hidden=True, beside=True),
            Field("months", "Hydrostatic test every", "whole", unit=say("months"), spoken="hydrostatic months",
                  wants=WHOLE_MONTHS, hidden=True, beside=True),
        ),
        act=save,
        look=look,
        wide=210,
    )  # fmt: skip


def _current(known: CylinderChoices, code: str | None) -> str:
    """The intervals that are in force for a part type."""
    part_type = next((each.part_type_id for each in known.types if each.code == code), None)
    told = [
        say("{test} every {months:g} months ({source})", test=say(test), months=months, source=source)
        for (key, test), (months, source) in known.intervals.items()
        if key == part_type and test in ("hydrostatic", "visual")
    ]
    return say("Now: {value}.", value=strung("; ", told) or say("no interval is recorded"))


MOST_ROWS = 40
DIVER_ROLES = ("renter", "student", "instructor")


def label_pdf(workplace: Workplace, part_ids: Sequence[int]) -> bytes:
    """The labels of these cylinders as one PDF, a label a page."""
    # reportlab and its typefaces take longer to load than the window
    from fleetbench.paper.core.marks import at_site
    from fleetbench.paper.gas.label import write_cylinder_labels

    labels = tuple(cylinder_label(workplace, part_id) for part_id in part_ids)
    stream = BytesIO()
    write_cylinder_labels(at_site(labels, workplace.zone()), stream, centre=label_centre(workplace))
    return stream.getvalue()


class CylinderBar(ActBar):
    """The acts on the cylinders that are chosen; filling and analysing take what is to do where none is marked."""

    def __init__(self, context: PageContext, keys_on: QWidget, parent: QWidget | None = None) -> None:
        self._marked = False
        self._people: tuple[PersonRecord, ...] = ()
        self._people_asked = False
        self._kept: KeptLog | None = None
        super().__init__(context, ACTS, keys_on, parent)
        self.choose(())

    def ask_people(self) -> None:
        """Load who dives, once."""
        if not self._people_asked:
            self._people_asked = True
            workplace = self.workplace
            self.run(lambda: list_people(workplace), self._show_people)

    def choose_lines(self, lines: Sequence[CylinderLine], *, marked: bool) -> None:
        """Act on these cylinders; marked: they were marked on purpose, and not only stood under the cursor."""
        self._marked = marked
        self.choose(tuple(lines))

    def fill(self) -> None:
        """Open the fill log: for the marked cylinders, else for those that need filling."""
        self._at_station(self._open_fill)

    def analyse(self) -> None:
        """Open the analyses: for the marked cylinders, else for those filled and not analysed."""
        self._at_station(self._open_analyses)

    def correct(self) -> None:
        """Correct the last fill or analysis of the chosen cylinder, within ten minutes."""
        workplace, key = self.workplace, self.row[0].part.part_id
        self.run(lambda: correctable_of(workplace, key), self._open_entry)

    def certificate(self) -> None:
        """Type a gas certificate in, of the batch that was filled last today."""
        workplace = self.workplace

        def begun() -> Form:
            return certificate_form(workplace, specifications(workplace), gas_station(workplace).batch or "")

        self.run(begun, self._open_certificate)

    def _open_certificate(self, form: Form) -> None:
        self.open(FormDialog(self.context.theme, self.context.background, form, self.window()), certified_words)

    def _open_entry(self, entered: LastCylinderEntry) -> None:
        if isinstance(entered.record, AnalysisRecord):
            dialog = self.made(AnalysisDialog, (entered.line,), entered.station, self._divers((entered.line,)),
                               instead=entered.record)  # fmt: skip
        else:
            dialog = self.made(FillLogDialog, (entered.line,), entered.station, instead=entered.record)
        words = say("{label}: corrected. Analyse its gas before it leaves.", label=entered.line.part.label)
        self.open(dialog, lambda _value: words)

    def _divers(self, lines: Sequence[CylinderLine]) -> list[PersonRecord]:
        """Who may analyse as a diver, those first for whom these cylinders are promised."""
        first = {line.diver_id for line in lines}
        divers = [person for person in self._people if person.active and person.role in DIVER_ROLES]
        return sorted(divers, key=lambda person: (person.person_id not in first, folded_name(person.name)))

    def _at_station(self, then: Callable[[GasStation], None]) -> None:
        workplace = self.workplace
        self.run(lambda: gas_station(workplace), then)

    def _open_fill(self, station: GasStation) -> None:
        lines = self._wanted(station, to_fill(station.lines))
        if not lines:
            self.refused.emit(worded("fill log: no cylinder here needs filling; mark the ones to fill in the list"))
            return
        dialog = self.made(FillLogDialog, lines, station)
        assert isinstance(dialog, FillLogDialog)
        if self._kept is not None:
            dialog.bring_back(self._kept)
        dialog.rejected.connect(partial(self._on_log_left, dialog))
        self.open(dialog, self._filled)

    def _open_analyses(self, station: GasStation) -> None:
        lines = self._wanted(station, to_analyse(station.lines))
        if not lines:
            self.refused.emit(
                worded("analyses: every fill here was analysed; mark cylinders in the list to analyse again")
            )
            return
        self.open(self.made(AnalysisDialog, lines, station, self._divers(lines)), analysed_words)

    def _wanted(self, station: GasStation, else_these: Sequence[CylinderLine]) -> tuple[CylinderLine, ...]:
        """The marked cylinders as they stand now, else what is to do, from the chosen one on and round."""
        keys = {line.part.part_id for line in self.row}
        if self._marked:
            return tuple([line for line in station.lines if line.part.part_id in keys][:MOST_ROWS])
        first = next((at for at, line in enumerate(else_these) if line.part.part_id in keys), 0)
        return tuple([*else_these[first:], *else_these[:first]][:MOST_ROWS])

    def _filled(self, filled: Filled) -> str:
        self._kept = None
        return say("{count} recorded. Analyse the gas before it leaves.", count=counted(len(filled.fill_ids), "fill"))

    def _on_log_left(self, dialog: FillLogDialog) -> None:
        kept = dialog.kept()
        self._kept = kept if kept.rows else None
        if kept.rows:
            self.changed.emit(
                worded(
                    say(
                        "Fill log left with {count} typed; it comes back as it was.",
                        count=counted(len(kept.rows), "row"),
                    )
                )
            )

    def _show_people(self, people: tuple[PersonRecord, ...]) -> None:
        self._people = people


def certified_words(findings: tuple[CylinderFinding, ...]) -> str:
    """What the certificate speaks against, and what it does not state."""
    against = [strung(" ", (each.field, each.words)) for each in findings if each.result is Result.STOP]
    missing = [each.field for each in findings if each.result is Result.ADVISE]
    words = say("Certificate saved.")
    if against:
        words += say(" Do not use the gas; ask the supplier: {against}.", against=strung("; ", against))
    if missing:
        words += say(" Not stated: {missing}.", missing=strung(", ", missing))
    return words


def analysed_words(answers: tuple[AnalysisAnswer, ...]) -> str:
    """How many analyses were recorded, and what was found."""
    told = [
        strung("", (answer.cylinder, ": ", found.words, "; ", found.remedy))
        for answer in answers
        for found in answer.findings
    ]
    return strung(
        " ",
        (
            say("{count} recorded.", count=counted(len(answers), "analysis", "analyses")),
            *(strung("", (each, ".")) for each in told),
        ),
    )


def _parts(lines: tuple[CylinderLine, ...]) -> tuple[PartRecord, ...]:
    return tuple(line.part for line in lines)


def _label(bar: ActBar, lines: tuple[CylinderLine, ...]) -> QDialog:
    parts = _parts(lines)
    keys = tuple(part.part_id for part in parts)
    return LabelDialog(
        bar.context.theme, bar.context.background, bar.workplace, keys[0], None, bar.window(),
        make=partial(label_pdf, bar.workplace, keys), title=say("Label of {parts}", parts=named(parts)),
    )  # fmt: skip


def _said(words: str, lines: tuple[CylinderLine, ...], _value: object) -> str:
    return strung("", (named(_parts(lines)), ": ", words, "."))


ACTS = (
    ActSpec("fill", "Fill", "F", act="fill cylinders", needs=at_any_time, form=lambda bar, _lines: bar.fill()),
    ActSpec("analyse", "Analyse", "A", act="analyse gas", needs=at_any_time,
            form=lambda bar, _lines: bar.analyse()),
    ActSpec("gauge", "Gauge", "G", "read gauges", "read gauges", bool,
            lambda bar, lines: gauge_form(bar.workplace, lines), partial(_said, "read")),
    ActSpec("test", "Test", "T", "test", "record hydrostatic", bool,
            lambda bar, lines: test_form(bar.workplace, _parts(lines)), partial(_said, say("test recorded"))),
    ActSpec("clean", "Cleaned", "C", "cleaned for oxygen", "clean for oxygen", bool,
            lambda bar, lines: clean_these(bar.workplace, _parts(lines)), partial(_said, say("cleaning recorded"))),
    ActSpec("label", "Label", "L", needs=bool, form=_label),
    ActSpec("correct", "Correct", "F4", "correct", "correct fill", bool, lambda bar, _lines: bar.correct()),
    ActSpec("lost", "Oxygen-clean lost", "Z", "record as spoiled", "oxygen-clean lost", bool,
            lambda bar, lines: lost_these(bar.workplace, _parts(lines)), partial(_said,
                say("oxygen-clean status lost")),
            rare=True),
    ActSpec("enter", "New cylinder", "N", "add", "enter cylinder", at_any_time,
            lambda bar, _lines: cylinder_form(bar.workplace),
            "The cylinder is entered. Fill and analyse it before it leaves.", rare=True),
    ActSpec("certificate", "Gas certificate", "Shift+C", "certificate", act="enter gas certificate", needs=at_any_time,
            form=lambda bar, _lines: bar.certificate(), rare=True),
    ActSpec("rule", "Rule of periodic tests", "Shift+T", act="set test rule", needs=at_any_time,
            form=lambda bar, _lines: rule_form(bar.workplace),
            said="The rule is set; every last valid day follows it.", rare=True),
)  # fmt: skip
