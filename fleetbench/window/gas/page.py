"""The page of one cylinder: contents, gas with its depth and density, tests by rule, the oxygen side, and its logs."""

from zoneinfo import ZoneInfo

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import BAR, CELSIUS, METRE
from fleetbench.calc.core.verdict import DueState, Result
from fleetbench.calc.gas.cylinders import GasRole
from fleetbench.calc.gas.depth import DENSITY_ADVISED_G_L, density_result
from fleetbench.window.detail.detail import Detail, Fact, Line, Section, Table
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.gas.acts import (
    CONTENT_METHOD,
    DENSITY_CONVENTION,
    DEPTH_METHOD,
    OXYGEN_CAUTION,
    density_depths,
    depth_words,
    gas_words,
    pressure_words,
)
from fleetbench.window.gas.cylinder_bench import CylinderBar
from fleetbench.window.look.marks import ADVISE, HOLD, OK, STOP, UNKNOWN, Mark, mark_for
from fleetbench.window.look.words import NONE, NOT_KNOWN, day, figure, moment, plus_minus, said, yes_no
from fleetbench.window.parts.page import readings_table
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.gas.list import CylinderLine, CylinderPage, cylinder_page

_TOLD = 12


class CylinderRecordPage(RecordPage):
    """The record page with the fill station's acts above the cards."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        workplace, zone = context.workplace, context.zone

        def load(key: str) -> Detail:
            return cylinder_detail(cylinder_page(workplace, int(key)), zone)

        super().__init__(context.theme, context.background, load, parent)
        self.bench = CylinderBar(context, keys_on=self._scroll, parent=self)
        self.content.insertWidget(2, self.bench)
        self.bench.changed.connect(self._on_changed)
        self.bench.refused.connect(self.banner.say_refused)

    @Slot(object)
    def show_detail(self, detail: Detail) -> None:
        """Show the cylinder, and act on it."""
        super().show_detail(detail)
        if isinstance(detail.source, CylinderLine):
            self.bench.choose_lines((detail.source,), marked=True)
            self.bench.ask_people()

    @Slot(str)
    def _on_changed(self, words: str) -> None:
        self.banner.say_note(words)
        self.refresh()


def state_mark(row: CylinderLine) -> Mark:
    """The worst of what is known of a cylinder, in one word or two."""
    differ = row.analysis not in ("analysed", "nothing recorded")
    found = (
        (bool(row.holds), HOLD.worded("hold")),
        (row.test_state is DueState.PAST, STOP.worded("out of test")),
        (row.clean is not None and row.clean.clean is False, STOP.worded("not oxygen-clean")),
        (bool(row.state.against_batch), STOP.worded("bad batch")),
        (row.test_state is DueState.UNKNOWN, UNKNOWN.worded("test not known")),
        (row.clean is not None and row.clean.clean is None, UNKNOWN.worded("clean not known")),
        (row.state.fill is not None and row.state.gas is None, UNKNOWN.worded("not analysed")),
        (differ, STOP.worded("analyses differ")),
        (row.test_state is DueState.DUE_SOON, ADVISE.worded("test soon")),
        (row.state.gas is None, UNKNOWN.worded("gas not known")),
        (row.state.now_bar is None, UNKNOWN.worded("used since")),
    )
    return next((mark for holds, mark in found if holds), OK)


def test_mark(row: CylinderLine) -> Mark:
    """How its tests stand."""
    return mark_for(row.test_state)


def cylinder_detail(page: CylinderPage, zone: ZoneInfo) -> Detail:
    """Everything on one cylinder's page."""
    row = page.line
    facts, gas = row.state.facts, row.state.gas
    where = (
        say("in {unit}, {slot}", unit=row.unit, slot=row.slot)
        if row.unit
        else said(facts.place, say("place not recorded"))
    )
    return Detail(
        row.part.label,
        say(
            "{role}, {size_l:g} L of water, {working_bar} at {what}, {where}",
            role=facts.role,
            size_l=facts.size_l,
            working_bar=BAR.words(facts.working_bar),
            what=CELSIUS.words(15),
            where=where,
        ),
        (state_mark(row), *(HOLD.worded(say("hold: {reason}", reason=reason)) for reason in row.holds)),
        (
            contents_section(row, zone),
            gas_section(row, zone),
            _tests(row),
            _marked(row),
            *((_cautions(),) if facts.role == GasRole.OXYGEN or (gas and gas.oxygen > 0.4) else ()),
            _fills(page, zone),
            _analyses(page, zone),
            readings_table(page.renters, zone, say("No renter's log states a pressure of this cylinder.")),
            _limits(page),
            _done(page),
            *((_certificate(page),) if page.certificate else ()),
        ),
        source=row,
    )


def contents_section(row: CylinderLine, zone: ZoneInfo) -> Section:
    """What is in it, how long oxygen lasts, and when that was read."""
    endurance: tuple[Fact, ...] = ()
    if row.state.facts.role == GasRole.OXYGEN:
        words = say(
            "{uptake_l_min:g} L/min uptake (STPD), reserve {reserve_bar}",
            uptake_l_min=row.uptake_l_min,
            reserve_bar=BAR.words(row.reserve_bar),
        )
        endurance = (Fact("Oxygen lasts", figure(row.endurance_min, "min", 0, NOT_KNOWN), note=words),)
    return Section(
        "Contents",
        (
            Fact("Pressure", pressure_words(row), note=say("read {pressure_at} at {temperature_c}",
                pressure_at=moment(row.state.pressure_at, zone, NONE),
                    temperature_c=CELSIUS.words(row.state.temperature_c)) if row.state.pressure_at else ""),
            Fact("Free gas", figure(row.content_l, "L", 0, NOT_KNOWN), note=CONTENT_METHOD),
            *endurance,
            Fact("Filled", moment(row.state.fill and row.state.fill.at, zone),
                 note=remarked(say("asked for {asked}", asked=gas_words(row.state.asked)) if row.state.asked else "",
                               row.state.fill.note if row.state.fill else None)),
        ),
    )  # fmt: skip


def gas_section(row: CylinderLine, zone: ZoneInfo) -> Section:
    """The gas as analysed since the fill, how deep it may go, and how dense it is there."""
    gas, analysis, depths = row.state.gas, row.state.analysis, row.depths
    oxygen = None if gas is None else 100.0 * gas.oxygen
    depth = say(
        "to {limit_bar:g} bar oxygen ({limit_source}); {depth_method}",
        limit_bar=depths.limit_bar,
        limit_source=depths.limit_source,
        depth_method=DEPTH_METHOD,
    )
    surface = () if row.breathable is not False else (Fact("Surface", say("not breathable at the surface"), STOP),)
    return Section(
        "Gas",
        (
            *surface,
            Fact("Analysed", gas_words(gas, say("not analysed since the fill")), _analysis_mark(row),
                 remarked(strung(", ", (moment(analysis.at, zone), said(row.analysed_by))), analysis.note)
                 if analysis else ""),
            Fact("Oxygen", plus_minus(oxygen, row.oxygen_u, "%")),
            Fact("Signed by the diver", yes_no(row.signed_by_diver)),
            Fact("Maximum depth", depth_words(depths, NOT_KNOWN), note=depth),
            Fact("Density at the oxygen depth", figure(depths.density_g_l, "g/L", 1, NOT_KNOWN), _density_mark(row),
                 DENSITY_CONVENTION),
            Fact("Depth by density", density_depths(depths.dense_at_m, NOT_KNOWN),
                 note=say("breathed as it is, on open circuit; the smaller of density and oxygen depth counts")),
            *_equivalent(row),
            *((Fact("Batch", row.state.against_batch, STOP),) if row.state.against_batch else ()),
        ),
    )  # fmt: skip


def remarked(words: str, note: str | None) -> str:
    """Words with the remark that stands beside a figure, where there is one."""
    return strung("; ", filter(None, (words, note)))


def _equivalent(row: CylinderLine) -> tuple[Fact, ...]:
    if row.depths.equivalent_m is None:
        return ()
    air, narcotic = row.depths.equivalent_m
    note = say("air: the same nitrogen as air there, of 79 %; narcotic: oxygen counted like nitrogen; rounded up")
    words = say(
        "air {air}, narcotic {narcotic}", air=METRE.whole(air, up=True), narcotic=METRE.whole(narcotic, up=True)
    )
    return (Fact("Equivalent depths", words, note=note),)


def _analysis_mark(row: CylinderLine) -> Mark:
    if row.analysis == "analysed":
        return OK.worded("analysed")
    return (UNKNOWN if row.state.gas is None else STOP).worded(row.analysis)


def _density_mark(row: CylinderLine) -> Mark | None:
    if row.depths.density_g_l is None:
        return None
    words = {Result.OK: say("up to {density_advised_g_l:g} g/L", density_advised_g_l=DENSITY_ADVISED_G_L),
        Result.ADVISE: say("over what is advised"),
             Result.STOP: say("over the most")}  # fmt: skip
    found = density_result(row.depths.density_g_l)
    return {Result.OK: OK, Result.ADVISE: ADVISE, Result.STOP: STOP}[found].worded(words[found])


def _tests(row: CylinderLine) -> Section:
    clean = () if row.clean is None else (
        Fact("Oxygen-clean", row.clean.words,
             OK if row.clean.clean else STOP if row.clean.clean is False else UNKNOWN),
    )  # fmt: skip
    return Section(
        "Tests and cleanliness",
        (
            Fact("Last valid day of the test", day(row.next_test), test_mark(row),
                 say("the {next_test_kind} ends first", next_test_kind=row.next_test_kind) if row.next_test_kind
                 else say("no test interval is recorded for its type")),
            *clean,
        ),
    )  # fmt: skip


def _marked(row: CylinderLine) -> Section:
    return Section(
        "As marked",
        (
            Fact("Marking", said(row.state.facts.marking)),
            Fact("Material", say(row.state.facts.material) if row.state.facts.material else said(None)),
            Fact("Owner", row.state.facts.owner),
            Fact("Unit", said(row.unit, NONE), leads_to=PageKey("units", row.unit) if row.unit else None),
            Fact("Place", said(row.state.facts.place, NONE)),
            Fact("With", said(row.with_whom, say("in the house"))),
            Fact("Part", say("its page as a part"), leads_to=PageKey("parts", str(row.part.part_id))),
        ),
    )


def _cautions() -> Section:
    return Section("Handling", (Fact("", OXYGEN_CAUTION),))


def _fills(page: CylinderPage, zone: ZoneInfo) -> Table:
    return Table(
        "Fill log",
        ("Filled", "Asked for", "Start", "End", "By", "Batch or bank", "Machine", "Oxygen-compatible", "Remark"),
        tuple(
            Line(
                (
                    moment(fill.at, zone),
                    f"O2 {fill.oxygen_asked:g} %" + (f", He {fill.helium_asked:g} %" if fill.helium_asked else ""),
                    figure(fill.start_bar, BAR, 0, say("not read")),
                    figure(fill.end_bar, BAR, 0),
                    said(who),
                    said(fill.batch, NONE),
                    said(fill.machine, NONE),
                    yes_no(fill.oxygen_compatible),
                    said(fill.note, NONE),
                )
            )
            for fill, who in page.fills[:_TOLD]
        ),
        "Nothing was filled into it yet.",
    )


def _analyses(page: CylinderPage, zone: ZoneInfo) -> Table:
    return Table(
        "Analyses",
        ("Analysed", "Oxygen", "Helium", "Analyser", "By", "Whose", "Signed", "Remark"),
        tuple(
            Line(
                (
                    moment(seen.at, zone),
                    plus_minus(seen.oxygen_percent, None if seen.uncertainty is None else 2 * seen.uncertainty, "%"),
                    figure(seen.helium_percent, "%", 1, NONE),
                    said(seen.analyser),
                    said(who),
                    say("the diver's") if seen.by_diver else say("the centre's"),
                    said(seen.signed, NONE),
                    said(seen.note, NONE),
                )
            )
            for seen, who in page.analyses[:_TOLD]
        ),
        "Its gas was never analysed.",
    )


def _limits(page: CylinderPage) -> Table:
    return Table(
        "Intervals",
        ("Test", "Last valid day", "Calculation", "Rule and its date"),
        tuple(Line(((each.limit.test_kind or ""), day(each.day), each.why, each.limit.source)) for each in page.limits),
        "No test interval is recorded for its type: set the rule it is tested by.",
    )


def _done(page: CylinderPage) -> Table:
    return Table(
        "Tests and cleanings done",
        ("Done", "Test", "Result", "By", "How"),
        tuple(
            Line(
                (
                    day(test.done_on),
                    test.kind,
                    say("pass") if test.passed else say("failed"),
                    said(test.done_by, NONE),
                    said(how, NONE),
                ),
                mark_for("pass" if test.passed else "failed"),
            )
            for test, how in page.tests[:_TOLD]
        ),
        "No test is recorded.",
        mark_column=2,
    )


def _certificate(page: CylinderPage) -> Table:
    return Table(
        say("Gas certificate of {certificate_of}", certificate_of=page.certificate_of),
        ("Line", "Result", "What it says", "What to do"),
        tuple(
            Line((each.field, each.result.value, each.words, said(each.remedy, NONE)), mark_for(each.result))
            for each in page.certificate
        ),
        mark_column=1,
    )
