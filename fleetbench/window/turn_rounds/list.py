"""The list of units whose turn-round card is open, with the bath of several loops and the look that finds one dry."""

from collections.abc import Sequence
from functools import partial
from zoneinfo import ZoneInfo

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import say, strung
from fleetbench.window.detail.detail import Detail, Fact, Section
from fleetbench.window.lists.act_bar import ActBar, ActList, ActSpec, at_any_time
from fleetbench.window.lists.list_page import ListSpec, QuickFilter
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import Emptiness
from fleetbench.window.look.marks import ADVISE, STOP, Mark
from fleetbench.window.look.words import NONE, counted, moment, said
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.window.turn_rounds.acts import BathDialog, agent_form, approve_form, blank_dialog, service_task_form
from fleetbench.workshop.turn_rounds.baths import Bathed, BegunBath, mark_dry
from fleetbench.workshop.turn_rounds.page import TurnRoundRow, list_turn_rounds

EMPTY = Emptiness(
    "No turn-round is open",
    "A unit that is received at the hire desk, key R there, stands here with its card until the card is signed.",
    "valves",
    "go to hires",
    "Open the hire desk",
)
SIBLINGS = (("Tickets", PageKey("tickets")), (say("Turn-rounds"), PageKey("turn_rounds")))


def state_of(row: TurnRoundRow) -> Mark:
    """Flooded, hanging to dry, or open."""
    if row.card.flooded_at:
        return STOP.worded("flooded")
    return ADVISE.worded("hangs to dry" if row.dry_from is not None else "open")


def columns(zone: ZoneInfo) -> tuple[Column[TurnRoundRow], ...]:
    """The columns of the list."""
    return (
        Column("unit", "Unit", lambda row: row.card.unit),
        Column("state", "Card", lambda row: state_of(row).word, lambda row: -state_of(row).rank, state=state_of),
        Column(
            "done",
            "Settled",
            lambda row: say("{settled} of {lines}", settled=row.card.settled, lines=row.card.lines),
            lambda row: row.card.settled,
            align_right=True,
        ),
        Column("next", "Next", lambda row: row.next, gives_way=True),
        Column("since", "Since", lambda row: moment(row.card.opened_at, zone), lambda row: row.card.opened_at),
        Column("dry", "Hangs until", lambda row: moment(row.dry_from, zone, NONE), _dries),
        Column("booking", "Booking", lambda row: said(row.card.booking, NONE)),
        Column("ticket", "Ticket", lambda row: said(row.ticket, NONE)),
    )


def _dries(row: TurnRoundRow) -> float:
    return row.dry_from.timestamp() if row.dry_from is not None else 0.0


def describe(row: TurnRoundRow, zone: ZoneInfo) -> Detail:
    """What the list's own row says of a card."""
    return Detail(
        row.card.unit,
        say("back since {opened_at}", opened_at=moment(row.card.opened_at, zone)),
        (state_of(row),),
        (
            Section(
                "Turn-round",
                (
                    Fact("Next", row.next, leads_to=PageKey("turn_rounds", row.card.unit)),
                    Fact("Settled", say("{settled} of {lines}", settled=row.card.settled, lines=row.card.lines)),
                    Fact("Hangs until", moment(row.dry_from, zone, NONE),
                        note=say("at the least") if row.dry_from else ""),
                    Fact("Unit", row.card.unit, leads_to=PageKey("units", row.card.unit)),
                    Fact("Ticket", said(row.ticket, NONE),
                         leads_to=PageKey("ticket_work", row.ticket) if row.ticket else None),
                ),
            ),
        ),
    )  # fmt: skip


def sum_up(rows: Sequence[TurnRoundRow]) -> str:
    """'3 turn-rounds open, 1 of them after a flood, 2 loops hang to dry'."""
    floods = sum(row.card.flooded_at is not None for row in rows)
    hang = sum(row.dry_from is not None for row in rows)
    flooded = say(", {floods} of them after a flood", floods=floods) if floods else ""
    return say(
        "{count} open{flooded}, {hang} hang to dry",
        count=counted(len(rows), "turn-round"),
        flooded=flooded,
        hang=counted(hang, "loop"),
    )


def bathed_words(done: Bathed | BegunBath, zone: ZoneInfo) -> str:
    """What was recorded of a bath, or until when one that was begun lasts, in one line."""
    if isinstance(done, BegunBath):
        return say(
            "{units} in the bath until {until}. Record it once they are out.",
            units=strung(", ", done.units),
            until=moment(done.until, zone),
        )
    rinse = "" if done.rinsed else say(" The agent is still to be rinsed off.")
    return say(
        "{units} disinfected in one bath; hang to dry until {dry_from} at the least.{rinse}",
        units=strung(", ", done.units),
        dry_from=moment(done.dry_from, zone),
        rinse=rinse,
    )


def _bath(bar: ActBar, _row: object) -> None:
    zone = bar.context.zone
    dialog = BathDialog(bar.context.theme, bar.context.background, bar.workplace, zone, "", bar.window())
    bar.open(dialog, partial(bathed_words, zone=zone))


def _found_dry(bar: ActBar, row: TurnRoundRow) -> None:
    words = say("The loop of {unit} was found dry.", unit=row.card.unit)
    bar.run(partial(mark_dry, bar.workplace, [row.card.unit]), partial(bar.say, lambda _value: words))


ACTS = (
    ActSpec("bath", "Bath…", "Ctrl+B", "disinfection bath", "disinfect loops", at_any_time, _bath),
    ActSpec("dry", "Found dry", "Ctrl+D", act="loop dry", form=_found_dry),
    ActSpec("agent", "New disinfectant", "N", "add", "enter disinfectant", at_any_time,
            lambda bar, _row: agent_form(bar.workplace), "The disinfectant is entered.", rare=True),
    ActSpec("blank_card", "Blank turn-round card…", needs=at_any_time,
            form=lambda bar, _row: blank_dialog(bar, "card"), rare=True),
    ActSpec("blank_log", "Blank daily log…", needs=at_any_time, form=lambda bar, _row: blank_dialog(bar, "log"),
            rare=True),
    ActSpec("firmware", "Allow a firmware version", act="approve firmware", needs=at_any_time,
            form=lambda bar, _row: approve_form(bar.workplace), said="The version is allowed.", rare=True),
    ActSpec("service_task", "New task of a service plan", act="enter service task", needs=at_any_time,
            form=lambda bar, _row: service_task_form(bar.workplace), said="The task stands at the end of the plan.",
            rare=True),
)  # fmt: skip


class TurnRoundList(ActList[TurnRoundRow]):
    """The list page with the bath of several loops, and the look that finds a loop dry.

    Signals:
        recorded: one line that says what was done.
    """

    recorded = Signal(str)

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        spec = ListSpec(
            "Turn-rounds",
            columns(context.zone),
            key=lambda row: row.card.unit,
            load=partial(list_turn_rounds, context.workplace),
            describe=partial(describe, zone=context.zone),
            empty=EMPTY,
            sum_up=sum_up,
            place=lambda row: PageKey("turn_rounds", row.card.unit),
            choices=(
                QuickFilter("flooded", lambda row: row.card.flooded_at is not None, STOP.worded("flooded")),
                QuickFilter("hangs to dry", lambda row: row.dry_from is not None, ADVISE.worded("hangs to dry")),
            ),
            sort_column="since",
            siblings=SIBLINGS,
        )
        super().__init__(context, spec, ACTS, parent)
        self.bar.changed.connect(self.recorded)
