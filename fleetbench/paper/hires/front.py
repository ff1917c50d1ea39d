"""The front of the hand-over sheet: what a diver takes, agrees to, does, and signs for, in the diver's own language.

No type on it is smaller than 10 points. What does not fit goes on to a further page and is never shortened.
"""

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

from fleetbench.calc.core.languages import ENGLISH, Language, language
from fleetbench.calc.core.measures import BAR, CELSIUS, METRE, Measure
from fleetbench.calc.gas.cylinders import GasRole
from fleetbench.calc.gas.depth import DENSITY_ADVISED_G_L, breathable_at_surface, depth_limit
from fleetbench.calc.readiness.facts import HoldKind
from fleetbench.calc.readiness.judge import Check
from fleetbench.calc.readiness.limits import HandoverKind
from fleetbench.paper.core.document import MARGIN, PageSize
from fleetbench.paper.core.flow import Block, TableColumn, labelled_rows, space, table, text_lines
from fleetbench.paper.core.marks import moment, sheet_texts, whole_metres
from fleetbench.paper.core.pen import BOLD, REGULAR, Align, Pen, whole_line, wrapped
from fleetbench.paper.core.tags import Tag, item_of
from fleetbench.paper.hires.handover_sheet import HandoverSheet
from fleetbench.workshop.hires.list import CylinderFacts
from fleetbench.workshop.hires.signing import Signed

HELD_AS = {
    HoldKind.MANUAL: "held by hand",
    HoldKind.INCIDENT: "held after an incident",
    HoldKind.NOTICE: "held because of a notice",
    HoldKind.CELL: "held because of a cell",
    HoldKind.RECEIVED: "returned and not inspected yet",
}
"""Kinds of hold, said in the reader's language: sentences of its own, since the bare words mean other things too."""

LEAST = 10.0
"""Points: no type on the front is smaller; common practice, no published source."""

HEAD = 54.0
_CODE_SIDE, _LINE = 45.0, 11.8


class Front:
    """The front of one sheet on one paper: its blocks from the top down, and the frame round them."""

    def __init__(self, sheet: HandoverSheet, size: PageSize) -> None:
        self.sheet, self.facts, self.size = sheet, sheet.facts, size
        self.words: Language = language(sheet.language)
        self.wide = size.inner
        self._foot_lines = [line for text in self._cautions() for line in wrapped(text, REGULAR, LEAST, self.wide)]

    @property
    def room(self) -> float:
        """Height between head and foot."""
        return self.size.high - 2 * MARGIN - HEAD - self._foot_height

    @property
    def _foot_height(self) -> float:
        return 8 + _LINE * (len(self._foot_lines) + len(self._origin(99, 99)))

    def blocks(self) -> list[Block]:
        """Everything between head and signatures, from the top down."""
        dives = self.sheet.for_diving
        parts = [*self._kept(), *self._band(), *self._who(), *self._took()]
        if dives:
            parts += [*self._limits(), *self._before_each_dive(), *self._in_the_water()]
        else:
            parts += self._before_each_dive()
        states = [] if self.sheet.only_shows else [replace(each, with_next=True) for each in self._states()]
        return [*parts, *self._faults(), *states]

    # ---- what stands on it ------------------------------------------------------------------------------------------

    def _known(self, text: str | None) -> str:
        return text if text is not None and text.strip() else self.words.say("not recorded")

    def _kept(self) -> list[Block]:
        """That another page was signed, which is kept, and of when this one is."""
        signed, say = self.facts.signed_before, self.words.say
        if signed is None:
            return []
        text = say("State of {moment}. The page signed on {signed} is kept as it was signed.",
                   moment=self.sheet.letterhead.printed_at, signed=moment(signed))  # fmt: skip
        return [*self._text(text, BOLD), space(2)]

    def _band(self) -> list[Block]:
        """How the unit stands, in a frame; white on black where it must not be dived."""
        say, sheet = self.words.say, self.sheet
        if not sheet.for_diving:
            return [_black_band(say("NOT FOR DIVING"), 28, self.wide), space(4)]
        if sheet.stops:
            held = Tag("L", language=ENGLISH)  # in the words of the record
            lines = [
                replace(line, tag=tag)
                for stop, tag in ((self._stop(each), item_of(held)) for each in sheet.facts.assessment.stops)
                for line in text_lines(f"– {stop}", self.wide - 8, LEAST, BOLD, 8)
            ]
            head = _black_band(say("ON HOLD: not to go out for diving as recorded"), 17, self.wide)
            return [head, *lines, *self._text(self._state(), BOLD), space(4)]
        return []

    def _state(self) -> str:
        say, kind = self.words.say, sheet_texts().kind_said.get(self.facts.hand_over, self.facts.hand_over)
        if self.sheet.stops:
            return say("Asked for: {kind}", kind=say(kind))
        if self.facts.out_at is not None:
            return say("Handed over: {kind}", kind=say(kind))
        if self.facts.starts_on is None:
            return say("Prepared, not handed over yet: {kind}", kind=say(kind))
        day = self.words.day(self.facts.starts_on)
        return say("Prepared for {day}, not handed over yet: {kind}", day=day, kind=say(kind))

    def _who(self) -> list[Block]:
        say, facts = self.words.say, self.facts
        spare = facts.spare and not self.sheet.diver
        who = say("spare unit, no diver is named") if spare else self._known(self.sheet.diver)
        rows = [
            (say("Diver"), who),
            (say("Hire"), self._hire()),
            (say("Bring it back by"), self._back_by()),
            (say("Ring at any fault or doubt"), self._known(self.sheet.letterhead.telephone)),
            (say("Emergency number"), self._emergency()),
        ]
        told = zip(rows, labelled_rows(len(rows)), strict=True)
        return [block for (label, value), tags in told for block in self._labelled(label, value, tags)]

    def _hire(self) -> str:
        facts = self.facts
        if facts.starts_on is None or facts.ends_on is None:
            return self._known(None)
        first, last = self.words.day(facts.starts_on), self.words.day(facts.ends_on)
        days = self.words.say("{first} to {last}", first=first, last=last)
        return days if not facts.booking else f"{days}, {facts.booking}"

    def _back_by(self) -> str:
        say, facts = self.words.say, self.facts
        if facts.ends_on is None:
            return self._known(None)
        day = f"{self.words.day(facts.ends_on)} ({facts.ends_on.isoformat()})"
        if facts.back_by is None:
            return say("{day}; ask for the hour", day=day)
        return say("{day} at {hour}", day=day, hour=facts.back_by)

    def _emergency(self) -> str:
        number = self.facts.emergency_telephone
        return number or self.words.say("not recorded: ask for it and write it here before you leave")

    def _labelled(self, label: str, value: str, tags: tuple[Tag, Tag]) -> list[Block]:
        """A label in its own column and the value beside it in bold, over as many lines as it needs."""
        left = self.wide * 0.31
        labels = wrapped(label, REGULAR, LEAST, left - 6)
        values = wrapped(value, BOLD, LEAST, self.wide - left)

        def draw(pen: Pen, x: float, y: float, _wide: float, place: int) -> None:
            for tag, lines, across, face in zip(tags, (labels, values), (0.0, left), (REGULAR, BOLD), strict=True):
                with pen.tagged(tag):
                    pen.text(x + across, y + LEAST, lines[place] if place < len(lines) else "", LEAST, face)

        rows = max(len(labels), len(values))
        return [Block(_LINE, partial(draw, place=place)) for place in range(rows)]

    def _section(self, title: str, beside: str = "") -> list[Block]:
        """A heading with its rule; what stands beside it is set at the size of the text."""

        head = Tag("H2")

        def draw(pen: Pen, x: float, y: float, wide: float) -> None:
            with pen.tagged(head):
                pen.text(x, y + 13.5, title, 11, BOLD)
            pen.text(x + wide, y + 13.5, beside, LEAST, align=Align.RIGHT)
            pen.rule(x, y + 16.2, wide, 0.6)

        return [Block(18.2, draw, with_next=True)]

    def _took(self) -> Iterator[Block]:
        say, facts = self.words.say, self.facts
        yield from self._section(say("What you take"))
        harness = self._known(facts.harness)
        unit = say("Unit {unit}, serial {serial}, {type}. Harness: {harness}.", unit=facts.tag, harness=harness,
                   serial=self._known(facts.unit_serial), type=self._known(facts.unit_type))  # fmt: skip
        yield from self._text(unit)
        along = ", ".join(f"{count}×\u00a0{name}" for name, count in self.sheet.along)
        yield from self._text(say("Accessories: {list}", list=along or self._known(None)))
        paid_in = self.sheet.letterhead.currency or ""
        if facts.deposit is not None:
            yield from self._text(say("Deposit: {sum}", sum=f"{self.words.number(facts.deposit)} {paid_in}".rstrip()))

    def _text(self, text: str, face: str = REGULAR, tag: Tag | None = None) -> list[Block]:
        told = tag or Tag("P")
        return [replace(_line(line, face), tag=told) for line in wrapped(text, face, LEAST, self.wide)]

    # ---- limits -----------------------------------------------------------------------------------------------------

    def _limits(self) -> Iterator[Block]:
        say, facts = self.words.say, self.facts
        yield from self._section(say("Your agreed limits"))
        agreed = say(
            "Depth: {depth}. Time on one fill of absorbent: {time}. Water: {water}.",
            depth=self._figure(facts.planned_depth_m, METRE),
            time=self._figure(facts.planned_minutes, "min"),
            water=self._figure(facts.planned_water_c, CELSIUS),
        )
        yield from self._text(agreed, BOLD)
        yield from self._absorbent()
        if not facts.cylinders:
            yield from self._text(say("No cylinder is recorded as going along."), BOLD)
            return
        titles = (say("Gas"), say("Cylinder"), say("Pressure"), say("Content"), say("Depth that it allows"))
        columns = [TableColumn(title, share, bold=bold) for title, share, bold in
                   zip(titles, (15, 17, 13, 20, 35), (True, False, False, True, True), strict=True)]  # fmt: skip
        rows = [self._gas_row(each) for each in facts.cylinders]
        yield from table(columns, rows, self.wide, LEAST, 60, LEAST)
        for each in facts.cylinders:
            for warning in self._warnings(each):
                yield from self._text(f"{self._role(each)} {each.part.label}: {warning}", BOLD)

    def _figure(self, value: float | None, unit: str | Measure) -> str:
        return self._known(None) if value is None else self.words.number(value, unit)

    def _absorbent(self) -> Iterator[Block]:
        say, facts = self.words.say, self.facts
        fill = facts.fill
        if fill is not None and facts.fill_against:
            yield from self._text(say("Absorbent: the fill in the canister is not for you. Discard it."), BOLD)
        elif fill is not None:
            text = say("Absorbent: fill {fill}, packed {packed}, for you alone. Discard it by {discard}.",
                       fill=fill.fill.fill_id, packed=moment(fill.fill.packed_at),
                       discard=self._known(None) if facts.discard_by is None else moment(facts.discard_by))  # fmt: skip
            yield from self._text(text)
        elif facts.hand_over == HandoverKind.KIT:
            yield from self._text(say("Absorbent: not packed. You pack it yourself."))
        else:
            yield from self._text(say("Absorbent: no fill is recorded. Do not dive before it is packed."), BOLD)

    def _role(self, cylinder: CylinderFacts) -> str:
        say, role = self.words.say, cylinder.filled.role
        names = {
            GasRole.OXYGEN: say("Oxygen"),
            GasRole.DILUENT: say("Diluent"),
            GasRole.BAILOUT: say("Bailout"),
            GasRole.DRIVE: say("Drive gas"),
        }
        return names[GasRole(role)] if role in set(GasRole) else self._known(role)

    def _gas_row(self, cylinder: CylinderFacts) -> tuple[str, ...]:
        filled, number = cylinder.filled, self.words.number
        gas = self._known(None)
        if not filled.stale and filled.oxygen_percent is not None:
            helium = self._known(None) if filled.helium_percent is None else number(filled.helium_percent, "%", 1)
            gas = f"O2 {number(filled.oxygen_percent, '%', 1)}, He {helium}"
        bar = self._known(None) if cylinder.end_bar is None else number(cylinder.end_bar, BAR, 0)
        return (self._role(cylinder), cylinder.part.label, bar, gas, self._depth(cylinder))

    def _depth(self, cylinder: CylinderFacts) -> str:
        """The smaller depth with what sets it, then the other one."""
        say, number, depths = self.words.say, self.words.number, cylinder.depths
        limit = depth_limit(depths.maximum_depth_m, depths.dense_at_m[0])
        if limit is None or depths.maximum_depth_m is None or cylinder.filled.stale:
            return self._known(None)
        depth, other = whole_metres(limit.depth_m), whole_metres(depths.maximum_depth_m)
        bar = None if depths.limit_bar is None else number(depths.limit_bar, "bar")
        if not limit.by_density:
            if bar is None:
                return say("{depth}, set by oxygen", depth=depth)
            return say("{depth}, set by oxygen at {bar}", depth=depth, bar=bar)
        density = number(DENSITY_ADVISED_G_L, "g/L")
        if bar is None:
            return say("{depth}, set by gas density ({density}); by oxygen {other}",
                       depth=depth, density=density, other=other)  # fmt: skip
        return say("{depth}, set by gas density ({density}); by oxygen at {bar} {other}",
                   depth=depth, density=density, bar=bar, other=other)  # fmt: skip

    def _warnings(self, cylinder: CylinderFacts) -> Iterator[str]:
        """What is against breathing a gas: not analysed, too lean at the surface, or not for the agreed depth."""
        say, filled, planned = self.words.say, cylinder.filled, self.facts.planned_depth_m
        if filled.stale:
            yield say("filled after its last analysis. Do not breathe it before you have analysed it.")
            return
        if filled.oxygen_percent is None or not filled.oxygen_percent >= 0:
            yield say("not analysed. Do not breathe it before you have analysed it.")
            return
        yield from filter(None, (filled.analysis_note, filled.fill_note))  # in the centre's own words
        if not breathable_at_surface(min(filled.oxygen_percent, 100.0) / 100):
            yield say("must not be breathed at the surface.")
        limit = depth_limit(cylinder.depths.maximum_depth_m, cylinder.depths.dense_at_m[0])
        if filled.role == GasRole.DILUENT and planned is not None and limit is not None and planned > limit.depth_m:
            yield say("the agreed {planned} are deeper than this gas allows. Keep to {depth}.",
                      planned=self.words.number(planned, METRE), depth=whole_metres(limit.depth_m))  # fmt: skip

    # ---- what the diver does and states -----------------------------------------------------------------------------

    def _before_each_dive(self) -> Iterator[Block]:
        say, dives = self.words.say, self.sheet.for_diving
        yield from self._section(say("Before each dive") if dives else say("What this hand-over means"))
        texts, steps = sheet_texts().still_to_do, Tag("L")
        for line in texts.get(self.facts.hand_over, texts["kit"]):
            yield from self._ticked(say(line), item_of(steps))
        for line in self.sheet.also_do if dives else ():
            yield from self._ticked(line, item_of(steps))

    def _ticked(self, text: str, tag: Tag) -> list[Block]:
        """A line with a box to tick."""
        lines = wrapped(text, REGULAR, LEAST, self.wide - 15)

        def draw(pen: Pen, x: float, y: float, _wide: float, place: int) -> None:
            if place == 0:
                pen.box(x, y + LEAST - 8.2, 9, 9)
            pen.text(x + 15, y + LEAST, lines[place], LEAST)

        last = len(lines) - 1
        return [Block(_LINE + 0.4, partial(draw, place=place), with_next=place < last, tag=tag)
                for place in range(len(lines))]  # fmt: skip

    def _in_the_water(self) -> Iterator[Block]:
        say = self.words.say
        yield from self._section(say("In the water, at any fault or doubt"))
        yield from self._text(say("As you were trained: bail out to open circuit first, and end the dive."), BOLD)
        yield from self._text(say("Look for the cause ashore. Do not go back to the loop on that dive."))
        hurt = say("If a person is hurt or unwell: ring the emergency number, and leave the unit as it is.")
        yield from self._text(hurt, BOLD)

    def _faults(self) -> Iterator[Block]:
        say, remarks = self.words.say, self.sheet.remarks
        count = self.words.count("{count} entry", "{count} entries", len(remarks)) if remarks else ""
        (heading,) = self._section(say("Known faults and remarks"), count)
        yield heading
        if not remarks:
            yield from self._text(say("none recorded"))
        noted = Tag("L", language=ENGLISH)  # in the words of the record
        for remark in self._remarks():
            tag = item_of(noted)
            yield from (replace(line, again=heading) for line in self._text(f"– {remark}", tag=tag))

    def _stop(self, check: Check) -> str:
        """A check by its name in the reader's language; what was found stays in the words of the record."""
        say = self.words.say
        return say("{check}: {evidence}", check=say(check.check), evidence=check.evidence)

    def _remarks(self) -> Iterator[str]:
        """The sheet's remarks: what the program says in the reader's language, the record in its own words."""
        say, sheet = self.words.say, self.sheet
        for fault in sheet.facts.known_faults:
            kind, _, what = fault.partition(": ")
            number = kind.removeprefix("ticket ")
            if number != kind:
                yield say("ticket {number}: {what}", number=number, what=what)
            else:
                held = HELD_AS.get(HoldKind(kind)) if kind in list(HoldKind) else None
                yield fault if held is None else say("{check}: {evidence}", check=say(held), evidence=what)
        for check in sheet.advised:
            found = say("advise: {check}: {evidence}", check=say(check.check), evidence=check.evidence)
            accepted = check.accepted
            yield say("{found} ({accepted})", found=found, accepted=accepted) if accepted else found

    def _states(self) -> Iterator[Block]:
        """What the diver states by signing."""
        say, sheet = self.words.say, self.sheet
        yield from self._section(say("What you state by signing"))
        lines = [say("I have read this page and had its meaning explained where I asked.")]
        if sheet.for_diving:
            seen = say("the centre has seen the proof") if sheet.training_seen else say("the centre has seen no proof")
            lines.insert(0, say("I am trained on this type of unit, or dive under my instructor: {seen}.", seen=seen))
            lines.append(say("I keep to the limits above and to my training, and I tell the centre of every fault."))
        else:
            lines.append(say("I do not dive this unit, and I let nobody breathe from it."))
        stated = Tag("L")
        for line in lines:
            yield from self._text(f"– {line}", tag=item_of(stated))

    # ---- signatures -------------------------------------------------------------------------------------------------

    def signatures(self) -> Block:
        """Two signatures: who hands over, and who takes it and has read the page."""
        say, facts, held = self.words.say, self.facts, bool(self.sheet.stops)
        signed = {each.party: each for each in facts.signatures}
        first = say("Handed over by"), "" if held else facts.handed_over_by or "", signed.get("centre")
        second = say("Received by, who has read this page"), self.sheet.diver or "", signed.get("diver")
        half = self.wide / 2 - 8
        only = wrapped(say("Sign only once every stop is lifted."), BOLD, LEAST, self.wide) if held else ()
        names = [wrapped(name, BOLD, LEAST, half) if name else () for _, name, _ in (first, second)]
        labels = [wrapped(label, REGULAR, LEAST, half) for label, _, _ in (first, second)]
        top = _LINE * (len(only) + max(len(a) + len(b) for a, b in zip(labels, names, strict=True)))
        high = top + 35

        def draw(pen: Pen, x: float, y: float, wide: float) -> None:
            with pen.tagged(Tag("P")):
                for place, line in enumerate(only):
                    pen.text(x, y + _LINE * place + LEAST, line, LEAST, BOLD)
            for side, each in enumerate((first, second)):
                left, line_y = x + side * (wide / 2 + 8), y + _LINE * len(only) + LEAST
                with pen.tagged(Tag("P")):
                    for face, lines in ((REGULAR, labels[side]), (BOLD, names[side])):
                        for line in lines:
                            pen.text(left, line_y, line, LEAST, face)
                            line_y += _LINE
                self._sign(pen, left, y + high - 13, half, each[2])

        return Block(high + 2, draw)

    def _sign(self, pen: Pen, x: float, base: float, wide: float, signed: Signed | None) -> None:
        """The strokes above the line, and when it was signed; words alone where there are none."""
        say = self.words.say
        pen.rule(x, base, wide, 0.6)
        pen.text(x, base + LEAST + 1, say("Signature"), LEAST)
        pen.text(x + wide, base + LEAST + 1, say("Day and hour"), LEAST, align=Align.RIGHT)
        if signed is None:
            return
        if signed.of_other_days:
            again = say("Changed since: sign again. Signed before: {moment}", moment=moment(signed.at))
            lines = wrapped(again, BOLD, LEAST, wide)
            with pen.tagged(Tag("P")):
                for place, line in enumerate(lines, start=1):
                    pen.text(x, base - 3 - (len(lines) - place) * _LINE, line, LEAST, BOLD)
            return
        step, drawn = 24 / 300, pen.figure(x, base - 25, wide, 25, say("Signature"))
        for stroke in signed.strokes:
            points = [(x + px * step, base - 25 + py * step) for px, py in stroke]
            with pen.tagged(drawn):
                pen.polyline(points if len(points) > 1 else points * 2)
        if not signed.strokes:
            pen.text(x, base - 3, say("signed on paper"), LEAST)
        pen.text(x + wide, base - 3, moment(signed.at), LEAST, align=Align.RIGHT)

    # ---- the frame --------------------------------------------------------------------------------------------------

    def _cautions(self) -> Iterator[str]:
        """Those of every page, but for the check list, which stands on the front line by line."""
        above, _check_list, never = sheet_texts().cautions
        yield from map(self.words.say, (above, never))
        if not self.words.confirmed:
            yield self.words.say("No native speaker of the trade has confirmed this text: ask for the page in English.")

    def _origin(self, page: int, pages: int) -> tuple[str, ...]:
        say, sheet = self.words.say, self.sheet
        record = say("record {record}", record=sheet.record)
        printed = say("printed {moment}", moment=sheet.letterhead.printed_at)
        counted = say("page {page} of {pages}", page=page, pages=pages)
        return wrapped(f"{record} – {printed} – {counted}", REGULAR, LEAST, self.wide)

    def head(self, pen: Pen) -> None:
        """Draw the head of one page of the front."""
        right, top, sheet = self.size.wide - MARGIN, MARGIN, self.sheet
        tag_room = 130.0
        room = self.wide - _CODE_SIDE - 20 - tag_room
        with pen.tagged(Tag("H1")):
            pen.text(MARGIN, top + 30, *whole_line(self.words.say("Hand-over sheet"), 19, room, LEAST), BOLD)
        tag, size = whole_line(sheet.facts.tag, 23, tag_room, LEAST)
        pen.text(right - _CODE_SIDE - 10, top + 33, tag, size, BOLD, Align.RIGHT)
        pen.code(right - _CODE_SIDE, top, sheet.facts.tag, _CODE_SIDE)
        whole = wrapped(sheet.letterhead.from_whom, REGULAR, LEAST, room)
        for line in (whole if len(whole) == 1 else wrapped(sheet.letterhead.centre, REGULAR, LEAST, room))[:1]:
            pen.text(MARGIN, top + 9, line, LEAST)
        if sheet.for_diving and not sheet.stops:
            pen.text(MARGIN, top + 45, *whole_line(self._state(), 11, room, LEAST), BOLD)
        pen.rule(MARGIN, top + HEAD - 5, self.wide, 1.2)

    def foot(self, pen: Pen, page: int, pages: int) -> None:
        """Draw the foot of one page of the front: cautions, and where the page comes from."""
        y = self.size.high - MARGIN - self._foot_height + 4
        pen.rule(MARGIN, y, self.wide, 0.8)
        cautions, origin = Tag("P"), Tag("P")
        for place, line in enumerate((*self._foot_lines, *self._origin(page, pages))):
            with pen.tagged(cautions if place < len(self._foot_lines) else origin):
                pen.text(MARGIN, y + _LINE * (place + 1), line, LEAST, BOLD if place == 0 else REGULAR)
        if pen.lacked_glyphs:
            pen.text(MARGIN, y - 3, self.words.say(sheet_texts().lacking_glyph), LEAST, BOLD)


def _line(line: str, face: str) -> Block:
    return Block(_LINE, lambda pen, x, y, _wide: pen.text(x, y + LEAST, line, LEAST, face))


def _black_band(text: str, size: float, wide: float) -> Block:
    """White on black, over as many lines as it needs."""
    lines = wrapped(text, BOLD, size, wide - 16)
    high = size * 1.25 * len(lines) + 6

    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        pen.box(x, y, wide, high, 0, 0.0)
        for place, line in enumerate(lines):
            pen.reversed_text(x + 8, y + size * (1.1 + 1.25 * place), line, size)

    return Block(high + 2, draw, tag=Tag("P"))
