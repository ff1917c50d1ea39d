"""Parts: the page of one part with its limits of life, where it has been, its tests and its holds."""

from collections.abc import Sequence
from datetime import date
from zoneinfo import ZoneInfo

from fleetbench.window.detail import Detail, Fact, Line, Section, Table
from fleetbench.window.marks import HOLD, Mark, mark_for
from fleetbench.window.pages import PageContext
from fleetbench.window.place import Place
from fleetbench.window.record_page import RecordPage
from fleetbench.window.words import NONE, day, figure, moment, said, spaced
from fleetbench.workshop import parts
from fleetbench.workshop.parts import FittingLine, LimitLine, PartPage


def record_page(context: PageContext) -> RecordPage:
    """The page of one part."""

    def load(key: str) -> Detail:
        return part_detail(parts.part_page(context.shop, int(key)), context.zone, context.shop.today())

    return RecordPage(context.theme, context.background, load)


def part_detail(page: PartPage, zone: ZoneInfo, today: date) -> Detail:
    """Everything on one part's page."""
    return Detail(
        page.part,
        f"{page.part_type}, {spaced(page.kind)}",
        tuple(HOLD.worded(f"hold: {reason}") for reason in page.holds),
        (
            _now(page, today),
            _made(page),
            Section(
                "Units it has been in",
                tuple(Fact("", tag, leads_to=Place("units", tag)) for tag in page.units_touched),
                "It has not been in any unit.",
            ),
            limits_table(page.limits, today),
            fittings_table(page.fittings, zone),
            Table(
                "Tests and services",
                ("Done", "Kind", "Result", "By"),
                tuple(
                    Line(
                        (day(test.done_on), spaced(test.kind), "pass" if test.passed else "failed", said(test.done_by)),
                        mark_for("pass" if test.passed else "failed"),
                    )
                    for test in page.tests
                ),
                "No periodic test or service is recorded.",
                mark_column=2,
            ),
        ),
    )


def limit_mark(line: LimitLine, today: date) -> Mark:
    """Whether a limit is past; one without a day is not known, unless no end is expected."""
    if line.last_good_day is None:
        return mark_for("good").worded(line.state) if line.state == "open ended" else mark_for("unknown")
    return mark_for("past" if line.last_good_day < today else "good")


def limits_table(limits: Sequence[LimitLine], today: date) -> Table:
    """Every limit of life with its reckoning and source."""
    return Table(
        "Limits of life",
        ("Counts from", "State", "Last good day", "Limit", "Reckoning", "Source"),
        tuple(
            Line(
                (
                    spaced(line.basis),
                    limit_mark(line, today).word,
                    day(line.last_good_day) + (" (projected)" if line.projected else ""),
                    line.limit,
                    line.why,
                    line.source,
                ),
                limit_mark(line, today),
            )
            for line in limits
        ),
        "No limit of life is recorded for its part type.",
        mark_column=1,
    )


def fittings_table(fittings: Sequence[FittingLine], zone: ZoneInfo) -> Table:
    """Where a part has been, newest first, and why it came out."""
    return Table(
        "Where it has been",
        ("From", "To", "Unit", "Slot", "Why it came out"),
        tuple(
            Line(
                (
                    moment(line.fitted_at, zone),
                    moment(line.removed_at, zone, "still there"),
                    said(line.unit, said(line.host, NONE)),
                    line.slot,
                    said(line.why_removed, NONE),
                ),
                leads_to=Place("units", line.unit) if line.unit else None,
            )
            for line in fittings
        ),
        "It has not been fitted anywhere.",
    )


def life_mark(limits: Sequence[LimitLine], today: date) -> Mark:
    """The worst of all limits: past before not known, not known before good; none recorded is said so."""
    marks = [limit_mark(line, today) for line in limits]
    return max(marks, key=lambda mark: mark.rank, default=mark_for("no limit recorded"))


def _now(page: PartPage, today: date) -> Section:
    where = f"{page.unit}, {said(page.slot)}" if page.unit else said(page.place)
    return Section(
        "Now",
        (
            Fact("State", spaced(page.state)),
            Fact("Where", where, leads_to=Place("units", page.unit) if page.unit else None),
            Fact(
                "Last good day",
                day(page.last_good_day),
                life_mark(page.limits, today),
                f"governed by {spaced(page.basis)}",
            ),
            Fact("Owner", page.owner),
            Fact("Hours, dives, hires", f"{figure(page.hours, 'h')}, {page.dives}, {page.hires}"),
        ),
    )


def _made(page: PartPage) -> Section:
    return Section(
        "As marked",
        (
            Fact("Serial", said(page.serial)),
            Fact("Lot", said(page.lot)),
            Fact("Made", said(page.made)),
            Fact("Opened", said(page.opened)),
            Fact("Received", day(page.received_on)),
            *((Fact("Firmware", page.firmware),) if page.firmware else ()),
        ),
    )
