"""Everything that is done to cylinders, each on a button and a letter; the list and the page of one offer it alike."""

from collections.abc import Callable, Sequence
from functools import partial
from io import BytesIO

from PySide6.QtWidgets import QDialog, QWidget

from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.calc.core.letters import folded_name
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.gas.cylinders import CylinderFinding
from fleetbench.records.gas.reads import AnalysisRecord
from fleetbench.records.parts.reads import PartRecord
from fleetbench.records.people.reads import PersonRecord
from fleetbench.window.canisters.acts import LabelDialog
from fleetbench.window.forms.form import Form
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.gas.acts import (
    GaugeDialog,
    certificate_form,
    clean_these,
    lost_these,
    named,
    specifications,
    test_form,
)
from fleetbench.window.gas.analyses import AnalysisDialog
from fleetbench.window.gas.entry import cylinder_form, rule_form
from fleetbench.window.gas.fill_log import Filled, FillLogDialog, KeptLog
from fleetbench.window.lists.act_bar import ActBar, ActSpec, at_any_time
from fleetbench.window.look.words import counted
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.analyses import AnalysisAnswer
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

MOST_ROWS = 40
DIVER_ROLES = ("renter", "student", "instructor")


def label_pdf(workplace: Workplace, part_ids: Sequence[int]) -> bytes:
    """The labels of these cylinders as one PDF, a label a page."""
    # reportlab and its typefaces take longer to load than the window
    from fleetbench.paper.core.words import at_site
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
            lambda bar, lines: bar.made(GaugeDialog, lines), partial(_said, "read")),
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
