"""The dialogs of a turn-round: the bath of several loops, its signature, and other firmware in a handset."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, time, timedelta
from functools import partial
from io import BytesIO
from typing import Any
from zoneinfo import ZoneInfo

from PySide6.QtCore import QTime, Slot
from PySide6.QtWidgets import QCheckBox, QDialog, QHBoxLayout, QTimeEdit, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.calc.core.plausible import CONTACT_MINUTES
from fleetbench.calc.tickets.service_plan import ServiceBasis
from fleetbench.records.core.errors import Refused
from fleetbench.window.canisters.acts import LabelDialog
from fleetbench.window.forms.fields import DecimalField, labelled, with_unit
from fleetbench.window.forms.form import NEW, ActDialog, Choices, Field, Form
from fleetbench.window.lists.act_bar import ActBar
from fleetbench.window.look.buttons import ChoiceBox, text_label
from fleetbench.window.look.theme import BLOCK, CLOSE, GRID, Theme
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.window.shell.pages import drafts_of
from fleetbench.window.tickets.sign import sign_form
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.notices.acts import scope_choices
from fleetbench.workshop.tickets.page import Signer
from fleetbench.workshop.tickets.service_plan import NewServiceTask, enter_service_task
from fleetbench.workshop.tickets.work import SecondPerson
from fleetbench.workshop.turn_rounds.baths import (
    BathDesk,
    Bathed,
    BegunBath,
    baths_in_hand,
    begin_bath,
    disinfect,
    end_bath,
    enter_agent,
)
from fleetbench.workshop.turn_rounds.card import finish_cards
from fleetbench.workshop.turn_rounds.handsets import HandsetDesk, approve_firmware, load_firmware

MOST_LOOPS = 8
BEFORE_MINUTES = 5
BEGIN, FORGET = say("Loops go in now"), say("Forget this bath")
NO_AGENT = say("No disinfectant is on record. Add one in the list of turn-rounds, key N, with its maker's figures.")


class BathDialog(ActDialog):
    """Asks which loops lie or lay in which bath, when it was mixed, for how long, and whether they were rinsed.

    A bath can be begun here, whose clock then runs under every page; it is taken up again once the loops are out.

    Signals:
        done_with: the Bathed, or the BegunBath whose clock runs.
        loaded: the form stands.
    """

    def __init__(
        self, theme: Theme, background: Background, workplace: Workplace, zone: ZoneInfo, first: str = "",
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(theme, background, say("Disinfection bath"), say("Record the bath"), parent)
        self._workplace, self._zone, self._first, self._drafts = workplace, zone, first, drafts_of(workplace)
        self.desk: BathDesk | None = None
        self.begun: BegunBath | None = None
        self._begins = False
        self.units: dict[str, QCheckBox] = {}
        self.agent = ChoiceBox(self)
        self.agent.setAccessibleName(worded("agent"))
        self.mixed = QTimeEdit(self)
        self.mixed.setDisplayFormat("HH:mm")
        self.mixed.setMinimumWidth(24 * GRID)
        self.mixed.setAccessibleName(worded("mixed at"))
        self.use_by = text_label("", "small", self)
        self.minutes = DecimalField("contact time", self, quantity=CONTACT_MINUTES)
        self.rinsed = QCheckBox(worded("The agent was rinsed off in fresh water"), self)
        self._units = QVBoxLayout()
        self._units.setSpacing(CLOSE)
        self.body.addWidget(text_label(say("Loops in the bath, of"), "label", self))
        self.body.addLayout(self._units)
        self.body.addLayout(labelled(self.agent, "Agent, as its maker states it", self))
        line = QHBoxLayout()
        line.setSpacing(BLOCK)
        line.addLayout(labelled(self.mixed, "Mixed at", self))
        line.addLayout(with_unit(self.minutes, "Contact time", "min", self))
        line.addStretch(1)
        self.body.addLayout(line)
        self.body.addWidget(self.use_by)
        self.body.addWidget(self.rinsed)
        self.agent.currentIndexChanged.connect(self._on_agent)
        self.mixed.timeChanged.connect(self._on_mixed)
        self.minutes.returnPressed.connect(self.act)
        self.clock_button = self.add_act(BEGIN, self._on_clock)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self._on_loaded)
        self._loader.refused.connect(self.banner.say_refused)
        self._loader.ask(lambda: baths_in_hand(workplace, self._drafts))

    @Slot(object)
    def _on_loaded(self, loaded: tuple[BathDesk, tuple[BegunBath, ...]]) -> None:
        """Take up the bath in which the loop lies or, where all that wait lie in one, the first to be over."""
        desk, baths = loaded
        taken = {unit for bath in baths for unit in bath.units}
        free = tuple(each for each in desk.waiting if each.unit not in taken)
        if self._first or not free:
            self.begun = next((bath for bath in baths if not self._first or self._first in bath.units), None)
        inside = self.begun.units if self.begun is not None else ()  # no other loop has lain in it as long
        self.show_desk(replace(desk, waiting=tuple(each for each in desk.waiting if each.unit in inside) or free))
        if self.begun is not None:
            self._take_up(self.begun, desk.now)

    def _take_up(self, begun: BegunBath, now: datetime) -> None:
        for unit, box in self.units.items():
            box.setChecked(unit in begun.units)
        self.agent.setCurrentIndex(max(0, self.agent.findData(begun.agent_id)))
        mixed = begun.mixed_at.astimezone(self._zone)
        self.mixed.setTime(QTime(mixed.hour, mixed.minute))
        self.minutes.show_value(begun.minutes_in(now), 0)
        since, over = (f"{at.astimezone(self._zone):%H:%M}" for at in (begun.in_at, begun.until))
        self.note.setText(
            worded(
                say(
                    "In the bath since {since}, contact time over at {over}. Lift the loops out, then record it.",
                    since=since,
                    over=over,
                )
            )
        )
        self.clock_button.setText(FORGET)

    @Slot()
    def _on_clock(self) -> None:
        """Begin the bath now, or forget the one that was begun."""
        if self.begun is not None:
            end_bath(self._drafts, self.begun, self.begun.units)
            self.reject()
            return
        self._begins = True
        self.act()
        self._begins = False

    @Slot(object)
    def show_desk(self, desk: BathDesk) -> None:
        """Offer the loops that wait and the agents on record."""
        self.desk = desk
        for number, each in enumerate(desk.waiting):
            told = [each.unit]
            told += [say("flooded")] if each.flooded else []
            told += [] if each.stripped else [say("not stripped yet")]
            box = QCheckBox(shown(strung(", ", told)), self)
            asked = not self._first and each.stripped and number < MOST_LOOPS
            box.setChecked(each.unit == self._first or asked)
            self.units[each.unit] = box
            self._units.addWidget(box)
        if not desk.waiting:
            self._units.addWidget(text_label(say("No unit's card asks for a bath."), "body", self))
        for agent in desk.agents:
            self.agent.addItem(f"{agent.name} {agent.strength}", agent.disinfectant_id)
        if not desk.agents:
            self.note.setText(NO_AGENT)
        # Mixed just before the loops went in, until somebody says otherwise: that is never too late a use by.
        ago = max((agent.contact_minutes for agent in desk.agents), default=0.0) + BEFORE_MINUTES
        local = (desk.now - timedelta(minutes=ago)).astimezone(self._zone)
        self.mixed.setTime(QTime(local.hour, local.minute))
        self._on_agent(self.agent.currentIndex())
        self.minutes.setFocus()
        self.minutes.selectAll()

    @Slot(int)
    def _on_agent(self, index: int) -> None:
        if self.desk is None or not 0 <= index < len(self.desk.agents):
            return
        agent = self.desk.agents[index]
        self.minutes.show_value(agent.contact_minutes, 0)
        self.minutes.expect(last=agent.contact_minutes, known_as="stated")
        self.note.setText(
            worded(
                say(
                    "At least {contact_minutes:g} min ({source}). The unit's maker stands above it.",
                    contact_minutes=agent.contact_minutes,
                    source=agent.source,
                )
            )
        )
        self._on_mixed()

    @Slot()
    def _on_mixed(self) -> None:
        if self.desk is None or not self.desk.agents:
            return
        hours = self.desk.agents[max(self.agent.currentIndex(), 0)].use_within_hours
        ends = self._mixed_at() + timedelta(hours=hours if hours is not None else 24)
        self.use_by.setText(worded(say("Last valid time {zone:%Y-%m-%d %H:%M}", zone=ends.astimezone(self._zone))))

    def _mixed_at(self) -> datetime:
        """The last time the clock showed what stands in the field; a bath mixed later than now is yesterday's."""
        assert self.desk is not None, "the form stands"
        local = self.desk.now.astimezone(self._zone)
        chosen = self.mixed.time()
        at = datetime.combine(local.date(), time(chosen.hour(), chosen.minute()), tzinfo=self._zone)
        return at if at <= local else at - timedelta(days=1)

    def work(self) -> Callable[[], object]:
        """The bath with the loops that are ticked."""
        chosen = tuple(tag for tag, box in self.units.items() if box.isChecked())
        agent = self.agent.currentData()
        minutes = self.minutes.value()
        if self.desk is None or agent is None:
            raise Refused(say("agent: none is on record; add one in the list of turn-rounds, key N"))
        if not chosen:
            raise Refused(say("loops: none is ticked; tick what lay in the bath"))
        if minutes is None:
            raise Refused(say("contact time: is missing; enter the minutes in the bath"))
        workplace, drafts, begun = self._workplace, self._drafts, self.begun
        mixed, rinsed = self._mixed_at(), self.rinsed.isChecked()
        if self._begins:
            return lambda: begin_bath(workplace, drafts, chosen, int(agent), mixed_at=mixed, contact_minutes=minutes)

        def record() -> Bathed:
            done = disinfect(
                workplace, chosen, int(agent), mixed_at=mixed, contact_minutes=minutes, rinsed=rinsed,
                in_at=begun.in_at if begun is not None else None,
            )  # fmt: skip
            if begun is not None:
                end_bath(drafts, begun, chosen)
            return done

        return record


def finish_form(
    workplace: Workplace, card_ids: Sequence[int], title: str, signers: Sequence[Signer], **more: Any
) -> Form:
    """Asks who finishes a card and for the PIN, and for a second person's where a task asks for one."""

    def finish(second: SecondPerson | None, **signer: Any) -> str:
        second_id, second_pin = (second.person_id, second.pin) if second is not None else (None, "")
        return finish_cards(workplace, card_ids, second_id=second_id, second_pin=second_pin, **signer)

    return sign_form(workplace, title, signers, finish, **more)


def firmware_form(workplace: Workplace, handsets: HandsetDesk) -> Form:
    """What firmware each handset shows now."""

    def load(**versions: str) -> object:
        return load_firmware(workplace, handsets.unit, {slot: text for slot, text in versions.items() if text.strip()})

    allowed = strung(", ", handsets.allowed) or say("none on record")
    return Form(
        say("Firmware of {unit}", unit=handsets.unit),
        act_words="Save firmware",
        note=say("The type allows: {allowed}. A change asks for a calibration and for the alarms again.",
            allowed=allowed),
        fields=tuple(
            Field(each.slot, strung(", ", (each.slot, each.part or say("empty"))), default=each.firmware or "",
                  spoken=say("firmware of {slot}", slot=each.slot), longest=30)
            for each in handsets.handsets
        ),
        act=load,
    )  # fmt: skip


UNIT_TYPE = Field("unit_type", "Unit type", "choice", wants="choose one")


def unit_types(workplace: Workplace, *first: tuple[str, object]) -> Mapping[str, Choices]:
    """The unit types to choose from, after what else may be chosen."""
    named = [(f"{name}, {code}", code) for what, code, name in scope_choices(workplace) if what == "unit type"]
    return {"unit_type": [*first, *named]}


def agent_form(workplace: Workplace) -> Form:
    """Enters a disinfectant with the figures that its maker states."""
    return Form(
        "New disinfectant",
        act_words="Save disinfectant",
        note="Copy the figures from its maker's data sheet, and name it below. The unit's maker stands above it.",
        fields=(
            Field("name", "Name"),
            Field("strength", "Strength", hint="as mixed, for instance 1 to 100", beside=True),
            Field("contact_minutes", "Contact time", "figure", unit="min", spoken="contact time",
                  quantity=CONTACT_MINUTES, expects=NEW, wants="is missing; enter the minutes that its maker states"),
            Field("use_within_hours", "Use within", "figure", unit=say("h after mixing"), beside=True),
            Field("unit_type", "For", "choice", choices=(("every unit type", None),), beside=True),
            Field("source", "Source", hint="the maker's data sheet and its date"),
        ),
        act=partial(enter_agent, workplace),
        load=partial(unit_types, workplace, (say("every unit type"), None)),
    )  # fmt: skip


def approve_form(workplace: Workplace) -> Form:
    """Puts a firmware version on the list of what handsets of a unit type may carry."""
    return Form(
        "Allow a firmware version",
        act_words="Allow version",
        note="Only versions that the unit's maker has released for this type. Name where the maker says so.",
        fields=(UNIT_TYPE, Field("version", "Version", longest=30, beside=True), Field("source", "Source")),
        act=partial(approve_firmware, workplace),
        load=partial(unit_types, workplace),
        first="version",
    )


def service_task_form(workplace: Workplace) -> Form:
    """Puts a task at the end of a unit type's service plan."""

    def enter(unit_type: str, **task: Any) -> object:
        return enter_service_task(workplace, unit_type, NewServiceTask(**task))

    return Form(
        "New task of a service plan",
        act_words="Save task",
        note="The maker's manual says what a service is and how often; name its edition and page. A critical task "
        "holds the unit until it is done.",
        fields=(
            UNIT_TYPE,
            Field("text", "What is to do"),
            Field("amount", "Every", "figure", spoken="amount"),
            Field(
                "basis",
                "Counted in, or each time",
                "choice",
                choices=[(each, each) for each in ServiceBasis],
                beside=True,
            ),
            Field("minutes", "Working time", "figure", unit="min", spoken="minutes", beside=True),
            Field("critical", "It holds the unit until it is done", "tick", default=True),
            Field("second_person", "A second person signs it", "tick", beside=True),
            Field("source", "Source", hint="manual, edition, page"),
        ),
        act=enter,
        load=partial(unit_types, workplace),
        first="text",
    )


def blank_pdf(workplace: Workplace, what: str, tag: str = "") -> bytes:
    """A form to fill in by hand as PDF, of a unit or of none; what: one of BLANKS, "service" of a unit alone."""
    # reportlab and its typefaces take longer to load than the window
    from fleetbench import printing
    from fleetbench.paper.turn_rounds.pages import write_daily_log, write_turn_round_card

    stream = BytesIO()
    if what == "service":
        printing.print_service_card(workplace, tag, stream)
    else:
        printing.print_blank(workplace, write_daily_log if what == "log" else write_turn_round_card, tag, stream)
    return stream.getvalue()


BLANKS = {"log": say("Blank daily log"), "card": say("Blank turn-round card"), "service": say("Blank service card")}


def blank_dialog(bar: ActBar, what: str, tag: str = "") -> QDialog:
    """Shows such a form to print or save."""
    title = say("{blank} of {tag}", blank=BLANKS[what], tag=tag) if tag else BLANKS[what]
    return LabelDialog(
        bar.context.theme, bar.context.background, bar.workplace, 0, None, bar.window(),
        make=partial(blank_pdf, bar.workplace, what, tag), title=title, is_label=False,
    )  # fmt: skip
