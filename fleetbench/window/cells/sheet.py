"""The steps of one unit's calibration from top to bottom, and which of them may be taken."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QScrollArea, QVBoxLayout, QWidget

from fleetbench.calc.bench.meter import Metered
from fleetbench.calc.cells.judge import CellOutcome
from fleetbench.calc.cells.readings import CellLimits, CellPoint
from fleetbench.calc.cells.uncertainty import Standing, standing
from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.window.cells.extras import ExtrasCard
from fleetbench.window.cells.flush import FlushCard
from fleetbench.window.cells.grid import Key, ReadingGrid, RowEnd
from fleetbench.window.cells.head import HeadCard, OutcomeCard
from fleetbench.window.cells.session import PaperForm, SessionCard
from fleetbench.window.cells.words import last_words, limits_words, outcome_mark, row_end_words
from fleetbench.window.forms.fields import StepCard
from fleetbench.window.forms.figure import FigureField, air_rule, oxygen_rule
from fleetbench.window.look.buttons import quiet_button, text_label
from fleetbench.window.look.marks import PASS, REJECT, REPEAT
from fleetbench.window.look.theme import APART, CLOSE, Theme
from fleetbench.workshop.bench.sessions import Equipment
from fleetbench.workshop.cells.calibrate import Preview
from fleetbench.workshop.cells.calibration_log import LogReadings
from fleetbench.workshop.cells.entry import CalibrationEntry, ReadingEntry
from fleetbench.workshop.cells.plan import CalibrationPlan

WAITING = say("The outcome stands here once air and oxygen are read.")
NOT_ANALYSED = say("The gas was not analysed: no oxygen point. Analyse it under step 1.")
EARLY = say("Taken before every cell has settled, this calibration is recorded as repeat.")


class CalibrationSheet(QScrollArea):
    """Everything entered of one calibration.

    Signals:
        changed: something was entered.
        said: a note or question; empty when nothing is left to say.
        refused: one line that names the field and the remedy.
        paste_wanted: the point whose table is on the clipboard.
        log_wanted: a logger's file is to be chosen.
    """

    changed = Signal()
    said = Signal(str)
    refused = Signal(str)
    paste_wanted = Signal(str)
    log_wanted = Signal()

    def __init__(
        self,
        theme: Theme,
        held: CalibrationPlan,
        equipment: Sequence[Equipment],
        clock: Callable[[], datetime],
        zone: ZoneInfo,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.theme, self.held = theme, held
        self.paper: PaperForm | None = None
        self.early = False
        self._settled = False
        self._locked = False
        self._prefilled: set[Key] = set()
        self._own: set[Key] = set()
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._build(equipment, clock, zone)
        self._connect()
        self.allow()

    def _build(self, equipment: Sequence[Equipment], clock: Callable[[], datetime], zone: ZoneInfo) -> None:
        body = QWidget()
        body.setObjectName("scrolled")
        self.session = SessionCard(self.theme, zone, body)
        self.session.show_equipment(equipment)
        self.session.show_session(self.held.session, self.held.on_this_gas)
        self.head = HeadCard(self.theme, self.held.last_over_mbar, body)
        air_card, self.air = self._reading_card(say("3  In air"), "air", body)
        self.flush = FlushCard(self.theme, self.held, clock, body)
        oxygen_card, self.oxygen = self._reading_card(say("5  In oxygen"), "oxygen", body)
        self.extras = ExtrasCard(self.theme, self.held, body)
        self.outcome = OutcomeCard(self.theme, body)
        layout = QVBoxLayout(body)
        layout.setContentsMargins(0, 0, CLOSE, 0)
        layout.setSpacing(APART)
        for card in (self.session, self.head, air_card, self.flush, oxygen_card, self.extras, self.outcome):
            layout.addWidget(card)
        layout.addStretch(1)
        for position in self.held.positions:
            self.air.show_end(position.slot_id, RowEnd(None, last_words(position)))
        for line in (*self._limit_lines(), *self.held.warnings):
            label = text_label(line, "small", air_card)
            label.setWordWrap(True)
            air_card.body.addWidget(label)
        self.setWidget(body)

    def _limit_lines(self) -> list[str]:
        listed = dict.fromkeys(position.limits for position in self.held.positions)
        if len(listed) == 1:
            return [say("Limits: {listed}", listed=limits_words(next(iter(listed))))]
        return [
            say("Limits of {each}: {limits}", each=each.name, limits=limits_words(each.limits))
            for each in self.held.positions
        ]

    def _reading_card(self, title: str, point: str, parent: QWidget) -> tuple[StepCard, ReadingGrid]:
        rule = air_rule if point == CellPoint.AIR else oxygen_rule
        card = StepCard(self.theme, title, parent)
        grid = ReadingGrid(
            self.theme, self.held, point, rule,
            end_title=say("Output") if point == CellPoint.AIR else say("Verdict"), parent=card,
        )  # fmt: skip
        example = "104 is 10.4" if point == CellPoint.AIR else "498 is 49.8"
        card.note.setText(
            worded(
                say(
                    "Digits without the point: {example}. Key / : not known. Enter leads on from the last. "
                    "Each handset is read on its own.",
                    example=example,
                )
            )
        )
        paste = quiet_button(self.theme, "Paste table", "", card)
        paste.clicked.connect(self._on_paste_air if point == CellPoint.AIR else self._on_paste_oxygen)
        card.tools.addWidget(paste)
        if point == CellPoint.AIR:
            log = quiet_button(self.theme, "Read a log…", "", card)
            log.clicked.connect(self.log_wanted)
            card.tools.addWidget(log)
        card.body.addWidget(grid)
        return card, grid

    def _connect(self) -> None:
        self.session.paper_given.connect(self._on_paper)
        self.head.changed.connect(self._on_changed)
        self.head.finished.connect(self.go_on)
        self.air.entered.connect(self._on_changed)
        self.air.emptied.connect(self._on_emptied)
        self.oxygen.emptied.connect(self._on_emptied)
        self.air.completed.connect(self.go_on)
        self.flush.started.connect(self._on_started)
        self.flush.stamped.connect(self._on_changed)
        self.flush.early_chosen.connect(self._on_early)
        self.oxygen.entered.connect(self._on_oxygen_entered)
        self.oxygen.completed.connect(self.go_on)
        self.extras.changed.connect(self._on_changed)
        self.air.paste_wanted.connect(self._on_paste_air)
        self.oxygen.paste_wanted.connect(self._on_paste_oxygen)
        for asking in (self.air, self.flush, self.oxygen, self.extras):
            asking.asked.connect(self.said)
        for refusing in (self.session, self.head, self.extras):
            refusing.refused.connect(self.refused)

    # what was entered

    def entry(self) -> CalibrationEntry:
        """What was entered; Refused where a plain field holds no figure."""
        bench, paper = self.held.session, self.paper
        return CalibrationEntry(
            tag=self.held.tag,
            session_id=bench.session_id if bench is not None and paper is None else None,
            head=self.head.head.given or "unknown",
            vented=self.head.vented.given or "unknown",
            over_pressure_mbar=self.head.over_pressure_mbar(),
            oxygen_temperature_c=self.extras.oxygen_temperature.value(),
            settled=paper.settled if paper is not None else "unknown",
            figures=(
                *self.extras.zeros(),
                *_figures(self.air),
                *self.flush.stamps,
                *_figures(self.oxygen),
                *self.extras.pots,
            ),
            handsets=self.extras.handsets(),
            paper=paper.conditions if paper is not None else None,
            at=paper.at if paper is not None else None,
            note=self.extras.note_field.text(),
        )

    def flush_content(self) -> dict[str, Any]:
        """What is told of a flush while the page is left: its wait in seconds, settled or not, and the last figures."""
        last = [f"{mv:.1f}" for mv in self.flush.last_figures().values() if mv is not None]
        return {
            "flush_expected_s": self.held.flush.expected_s if self.held.flush is not None else None,
            "settled": self._settled if self.flush.stamps else None,
            "last": say("last {last} mV", last=strung(", ", last)) if last else "",
        }

    def show_entry(self, entry: CalibrationEntry, flush_started: datetime | None, *, early: bool) -> None:
        """Show this in place of what was entered."""
        self.early = early
        begun = bool(entry.figures)
        self.head.show_answers(
            entry.head if begun or entry.head != "unknown" else None,
            entry.vented if begun or entry.vented != "unknown" else None,
            entry.over_pressure_mbar,
        )
        self.air.show_figures(_by_key(entry.at_point("air")))
        self.flush.restore(flush_started, entry.at_point("settling"))
        self.oxygen.show_figures(_by_key(entry.at_point("oxygen")))
        self.extras.show_given(entry.figures, entry.handsets, entry.oxygen_temperature_c, entry.note)
        if entry.paper is not None and entry.at is not None:
            self.paper = PaperForm(entry.at, entry.paper, entry.settled)
            self.session.show_paper(self.paper)
        self.allow()

    def take_table(self, point: str, figures: Sequence[ReadingEntry]) -> None:
        """Take the figures of a pasted table."""
        grid = self.air if point == CellPoint.AIR else self.oxygen
        grid.show_figures({**grid.figures(), **_by_key(figures)})
        self._prefilled -= set(_by_key(figures))
        self._on_changed()
        self.go_on()

    def take_log(self, found: LogReadings, now: datetime) -> None:
        """Take the figures of a logger's file."""
        self.air.show_figures({**self.air.figures(), **_by_key(found.air)})
        if found.settling:
            self.flush.restore(now, found.settling)
        self.oxygen.show_figures({**self.oxygen.figures(), **_by_key(found.oxygen)})
        self.allow()
        self._on_changed()
        self.go_on()

    # steps

    @property
    def has_conditions(self) -> bool:
        """True once a session holds or the paper's conditions are given."""
        return self.held.session is not None or self.paper is not None

    @property
    def is_analysed(self) -> bool:
        """True where the gas was analysed."""
        if self.paper is not None:
            return self.paper.conditions.oxygen_shown_percent is not None
        return self.held.session is not None and self.held.session.oxygen_shown_percent is not None

    @property
    def can_be_judged(self) -> bool:
        """True once there is something to judge."""
        return self.has_conditions and (self.air.is_complete or bool(self.flush.stamps))

    def allow(self) -> None:
        """Open the steps that may be taken, and close the others."""
        ready, analysed = self.has_conditions and not self._locked, self.is_analysed
        for card in (self.session, self.head, self.extras):
            card.setEnabled(not self._locked)
        self.air.setEnabled(ready)
        self.flush.set_usable(ready and analysed, NOT_ANALYSED if self.has_conditions and not analysed else "")
        may_take = self.early or self.paper is not None or self._settled or bool(self.oxygen.figures())
        self.oxygen.setEnabled(ready and analysed and may_take)

    def lock(self, locked: bool) -> None:
        """Close every step of what is recorded, or open them again for a correction."""
        self._locked = locked
        self.allow()

    @Slot()
    def go_on(self) -> None:
        """Put the keyboard on the first step that is not done."""
        if not self.has_conditions:
            self._show(self.session)
            self.session.focus_first()
        elif not self.head.is_answered:
            self._show(self.head)
            self.head.focus_first()
        elif not self.air.is_complete:
            self._show(self.air)
            self.air.focus_next_empty()
        elif not self.oxygen.isEnabled() and self.is_analysed:
            self._show(self.flush)
            self.flush.focus_first()
        elif self.oxygen.isEnabled() and not self.oxygen.is_complete:
            self._show(self.oxygen)
            self.oxygen.focus_next_empty()
        else:
            self.show_outcome_step()
            self.outcome.lead_to_record()

    def show_outcome_step(self) -> None:
        """Scroll to the outcome."""
        self._show(self.outcome)

    def why_not_recordable(self) -> str:
        """What is still to be said before it can be recorded, with the keyboard put there; empty where nothing is."""
        if not self.head.is_answered:
            self.head.focus_first()
            return say("head: answer both questions of step 2, if only with / for not known")
        if not self.air.is_complete:
            self.air.focus_next_empty()
            return say("air: give every reading, if only as / for not known")
        if self.oxygen.isEnabled() and not self.oxygen.is_complete:
            self.oxygen.focus_next_empty()
            return say("oxygen: give every reading, if only as / for not known")
        return ""

    def _show(self, widget: QWidget) -> None:
        self.ensureWidgetVisible(widget, 0, 2 * APART)

    # what is said of it

    def show_preview(self, seen: Preview, *, whole: bool = False) -> bool:
        """Show what the readings say so far; the oxygen point opens once every cell has settled.

        whole: show the outcome though the oxygen point is not taken. True where the outcome of exactly these readings
        stands on the page.
        """
        if self.air.is_complete:
            for cell in seen.outcome.cells:
                self.air.show_end(self._slot_of(cell), _air_end(cell, cell.limits))
        was_settled, self._settled = self._settled, seen.settled == "yes" and bool(seen.settling)
        self.flush.show_settling(seen.settling, self._settled)
        self.allow()
        # What is carried over now was not in the readings that were judged: they are judged anew.
        carried = self._settled and self._prefill()
        self.oxygen.clear_ends()
        shown = not carried and (self.oxygen.is_complete or whole or not self.is_analysed)
        if shown:
            for cell in seen.outcome.cells:
                self.oxygen.show_end(self._slot_of(cell), RowEnd(outcome_mark(cell), row_end_words(cell)))
            outcome = seen.outcome
            self.outcome.show_outcome(replace(outcome, warnings=(*seen.misplaced, *outcome.warnings)))
        else:
            self.outcome.say_waiting(WAITING)
        # A hand that is typing is not led away from its field.
        if self._settled and not was_settled and not (self.flush.is_typing or self.oxygen.is_open):
            self.go_on()
        if carried:
            self.changed.emit()
        return shown

    def show_unjudged(self) -> None:
        """Show no verdict: none was worked out of what stands on the page now."""
        self.oxygen.clear_ends()
        self.outcome.say_waiting(WAITING)

    def _slot_of(self, cell: CellOutcome) -> int:
        return next(position.slot_id for position in self.held.positions if position.name == cell.cell)

    def _prefill(self) -> bool:
        """Carry the newest stamp of each handset into its own column: it was read just now, on that handset.

        True where a figure of the oxygen point changed by it.
        """
        changed = False
        for key, value in self.flush.last_figures().items():
            field = self.oxygen.fields.get(key)
            if field is None or value is None or field.rule.unit != "mV" or key in self._own or field.is_open:
                continue
            if isinstance(value, Metered):
                continue  # a meter is read again: no reading of one stands for two
            if (not field.is_filled or key in self._prefilled) and field.value != value:
                field.give(value)
                self._prefilled.add(key)
                changed = True
        return changed

    @Slot()
    def _on_changed(self, *_of: object) -> None:
        self.said.emit("")
        self.changed.emit()

    @Slot(int, int)
    def _on_emptied(self, slot_id: int, reader_id: int) -> None:
        """A figure is being typed over: what was said of it is said no more."""
        self._prefilled.discard((slot_id, reader_id))
        if self.sender() is self.oxygen:
            self._own.add((slot_id, reader_id))
        self.air.show_end(slot_id, RowEnd(None, ""))
        self.changed.emit()

    @Slot()
    def _on_started(self) -> None:
        self._settled, self.early = False, False
        self._prefilled.clear()
        self._own.clear()
        self.oxygen.show_figures({})
        self.oxygen.clear_ends()
        self.allow()
        self._show(self.flush)
        self._on_changed()

    @Slot()
    def _on_early(self) -> None:
        self.early = True
        self.allow()
        self._on_changed()
        self.said.emit(EARLY)
        self.go_on()

    @Slot(object)
    def _on_paper(self, given: PaperForm) -> None:
        self.paper = given
        self.session.show_paper(given)
        self.allow()
        self._on_changed()
        self.go_on()

    @Slot(int, int)
    def _on_oxygen_entered(self, slot_id: int, reader_id: int) -> None:
        self._prefilled.discard((slot_id, reader_id))
        self._on_changed()

    @Slot()
    def _on_paste_air(self) -> None:
        self.paste_wanted.emit("air")

    @Slot()
    def _on_paste_oxygen(self) -> None:
        self.paste_wanted.emit("oxygen")

    def first_oxygen_field(self) -> FigureField | None:
        """Where a correction most often begins."""
        self._show(self.oxygen)
        return self.oxygen.first_field()


def _figures(grid: ReadingGrid) -> tuple[ReadingEntry, ...]:
    return tuple(
        ReadingEntry(slot_id=key[0], reader_id=key[1], point=grid.point, po2_bar=value)
        if grid.shows_bar(key)
        else ReadingEntry(slot_id=key[0], reader_id=key[1], point=grid.point, mv=value)
        for key, value in grid.figures().items()
    )


def _by_key(figures: Sequence[ReadingEntry]) -> dict[Key, float | None]:
    return {(each.slot_id, each.reader_id): each.mv if each.po2_bar is None else each.po2_bar for each in figures}


def _air_end(cell: CellOutcome, limits: CellLimits) -> RowEnd:
    """What the air readings of a cell say, the worst of its readers."""
    rows = [
        (int(standing(row.air_mv_normal, row.air_mv_expanded_u, limits.air_low_mv, limits.air_high_mv)), row)
        for row in cell.readers
        if row.air_mv_normal is not None and row.air_mv_expanded_u is not None
    ]
    if not rows:
        return RowEnd(None, say("no reading in air"))
    where, row = max(rows, key=lambda each: each[0])
    mark = {
        Standing.INSIDE: PASS.worded("in limits"),
        Standing.ACROSS: REPEAT.worded("across a limit"),
    }.get(Standing(where), REJECT.worded("out of limits"))
    return RowEnd(
        mark,
        say(
            "{air_mv_normal:.1f} ± {air_mv_expanded_u:.1f} mV at 1013 mbar dry",
            air_mv_normal=row.air_mv_normal,
            air_mv_expanded_u=row.air_mv_expanded_u,
        ),
    )
