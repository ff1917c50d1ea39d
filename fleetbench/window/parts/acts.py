"""The bar of acts on parts, as it stands over the shelf's list and on a part's page."""

from collections.abc import Callable, Collection, Sequence
from functools import partial
from typing import Any, NamedTuple

from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import say
from fleetbench.window.forms.form import Form
from fleetbench.window.lists.act_bar import ActBar, ActSpec, at_any_time
from fleetbench.window.look.words import counted
from fleetbench.window.parts.part_dialogs import (
    ReceiveDialog,
    move_form,
    open_form,
    reason_form,
    received_words,
    release_form,
    send_back_form,
    test_form,
)
from fleetbench.window.places.forms import ask_correction
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.parts.acts import quarantine_part, scrap_part, take_back, undo_last


class ChosenParts(NamedTuple):
    """Parts by key and name, and what their state allows by the names of `PartStory.can`."""

    parts: tuple[tuple[int, str], ...]
    can: Collection[str]

    @property
    def name(self) -> str:
        """'C-12' or '3 parts'."""
        return self.parts[0][1] if len(self.parts) == 1 else counted(len(self.parts), "part")


def _one(name: str, row: ChosenParts | None) -> bool:
    return row is not None and len(row.parts) == 1 and name in row.can


def _single(row: ChosenParts | None) -> bool:
    return row is not None and len(row.parts) == 1


def _some(name: str, row: ChosenParts | None) -> bool:
    return row is not None and bool(row.parts) and name in row.can


def _asked(make: Callable[..., Any], bar: ActBar, row: ChosenParts) -> Form:
    form: Form = make(bar.workplace, *row.parts[0])
    return form


def _with_reason(title: str, words: str, note: str, act: Callable[..., object], bar: ActBar, row: ChosenParts) -> Form:
    return reason_form(say(str(title), name=row.name), words, note, partial(act, bar.workplace, row.parts[0][0]))


def _said(words: str, row: ChosenParts, _value: object) -> str:
    return say(str(words), name=row.name)


def _spec(
    name: str, words: str, key: str, act: str, form: Callable[[Any, Any], Any], said: str, *, means: str = "",
    destroys: bool = False, quiet: bool = False,
) -> ActSpec:  # fmt: skip
    return ActSpec(
        name,
        words=words,
        key=key,
        means=means,
        act=act,
        needs=partial(_one, name),
        form=form,
        said=partial(_said, said),
        destroys=destroys,
        quiet=quiet,
    )


RECEIVE = ActSpec(
    "receive", "Receive", "N", "add", "receive parts", at_any_time,
    lambda bar, _row: bar.made(ReceiveDialog, currency=bar.context.currency),
    lambda _row, received: received_words(received),
)  # fmt: skip
ACTS: tuple[ActSpec, ...] = (
    RECEIVE,
    _spec("open_part", "Open", "O", "open part", partial(_asked, open_form), say("{name} was opened.")),
    ActSpec(
        "move_parts",
        "Move",
        "M",
        "",
        "move parts",
        partial(_some, "move_parts"),
        lambda bar, row: move_form(bar.workplace, [key for key, _ in row.parts], row.name),
        partial(_said, say("{name} moved.")),
    ),
    _spec(
        "record_test",
        "Tested",
        "T",
        "record service",
        partial(_asked, test_form),
        say("{name} was tested."),
        means="test",
    ),
    _spec(
        "quarantine_part",
        "Set aside",
        "Q",
        "set part aside",
        partial(
            _with_reason,
            say("Set {name} aside"),
            say("Set part aside"),
            say("It cannot be fitted until it is released with a reason."),
            quarantine_part,
        ),
        say("{name} was set aside."),
        means="hold",
    ),
    _spec(
        "release_part", "Release", "Shift+Q", "release part", partial(_asked, release_form), say("{name} was released.")
    ),
    _spec(
        "send_back",
        "Send back",
        "Shift+R",
        "send part back",
        partial(_asked, send_back_form),
        say("{name} was sent back with its readings."),
    ),
    _spec(
        "take_back",
        "Receive back",
        "R",
        "take part back",
        partial(
            _with_reason,
            say("Receive {name} back"),
            say("Receive part back"),
            say("It waits set aside until it is released."),
            take_back,
        ),
        say("{name} was received back and is set aside."),
    ),
    _spec(
        "scrap_part",
        "Scrap",
        "X",
        "scrap part",
        partial(
            _with_reason,
            say("Scrap {name}"),
            say("Scrap part"),
            say("It leaves stock for good. Its record stays."),
            scrap_part,
        ),
        say("{name} was scrapped."),
        means="end for good",
        destroys=True,
    ),
    _spec(
        "undo_last",
        "Undo",
        "F4",
        "undo",
        partial(
            _with_reason,
            say("Undo the last act on {name}"),
            say("Undo last act"),
            say("The last act on it is undone by an act that says so; both stay on record."),
            undo_last,
        ),
        say("{name} stands as it did before."),
        means="correct",
        quiet=True,
    ),
    ActSpec(
        "correct_part",
        "Correct the part",
        act="correct stock record",
        needs=_single,
        quiet=True,
        form=lambda bar, row: ask_correction(bar, "parts", row.parts[0][0]),
    ),
)
"""The name of each is what `PartStory.can` holds."""
SOMETIMES = frozenset(["release_part", "take_back", "quarantine_part"])


class PartBar(ActBar):
    """The acts on the chosen parts; without keys, as on a part's page, only what its state allows is shown."""

    def __init__(
        self, context: PageContext, *, receives: bool, keys_on: QWidget | None = None, parent: QWidget | None = None
    ) -> None:
        super().__init__(context, ACTS if receives else ACTS[1:], keys_on, parent, hides=keys_on is None)

    def put_first(self, widget: QWidget) -> None:
        """Let other acts stand before these in the same row."""
        self.line.insert_widget(0, widget)

    def choose_parts(self, parts: Sequence[tuple[int, str]], can: Collection[str]) -> None:
        """Act on these parts (key and name), whose state allows these acts."""
        self.choose(ChosenParts(tuple(parts), can))

    def allow(self) -> None:
        """Grey what cannot be done, and hide what would only fill the row."""
        super().allow()
        nothing = self.row is None or not self.row.parts
        for name in () if self._hides else SOMETIMES:
            self.buttons[name].setVisible(self.can(self.specs[name]) or (name == "quarantine_part" and nothing))
