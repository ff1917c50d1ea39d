"""Values as the window shows them: the unit beside each figure, and plain words where nothing is known.

A list as text for a spreadsheet: tab-separated, with nothing in it that a spreadsheet would run.
"""

import html
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from fleetbench.calc.core.languages import say, say_count, strung, unbracketed
from fleetbench.calc.core.measures import Measure, in_unit

NOT_RECORDED = say("not recorded")
NOT_KNOWN = say("not known")
NONE = "–"
MINUS = "\u2212"
"""The sign of a negative figure: a hyphen would be taken for the start of a formula when it is pasted."""


def day(value: date | None, missing: str = NOT_KNOWN) -> str:
    """A date as 2026-03-14."""
    return missing if value is None else value.isoformat()


def projected_day(value: date | None, missing: str = NOT_KNOWN, *, projected: bool) -> str:
    """A last valid day, and that it is only projected."""
    shown_day = day(value, missing)
    return say("{day} (projected)", day=shown_day) if projected else shown_day


WEEKDAYS = (
    say("Monday"), say("Tuesday"), say("Wednesday"), say("Thursday"), say("Friday"), say("Saturday"), say("Sunday"),
)  # fmt: skip


def weekday(on: date) -> str:
    """A day with the name of its day of the week: Saturday 2026-03-14."""
    return strung(" ", (WEEKDAYS[on.weekday()], on.isoformat()))


def moment(value: datetime | None, zone: ZoneInfo, missing: str = NOT_RECORDED) -> str:
    """A moment in the site's time as 2026-03-14 09:05."""
    return missing if value is None else f"{value.astimezone(zone):%Y-%m-%d %H:%M}"


def figure(value: float | None, unit: str | Measure = "", decimals: int | None = 1, missing: str = NOT_RECORDED) -> str:
    """A figure with its unit, for instance 49.8 mV; of a measure in the unit in use, without decimals as typed."""
    return missing if value is None else in_unit(value, unit, decimals).replace("-", MINUS, 1)


def number(value: float | None, unit: Measure, decimals: int | None = None, missing: str = NOT_RECORDED) -> str:
    """The same under a heading that names the unit."""
    return missing if value is None else unit.number(value, decimals).replace("-", MINUS, 1)


def in_currency(title: str, currency: str) -> str:
    """'Cost, EUR': what a column of sums is called."""
    return strung(", ", (say(title), currency)) if currency else title


def plus_minus(value: float | None, expanded: float | None, unit: str, decimals: int = 1) -> str:
    """A measured value with its expanded uncertainty (k = 2); one without it says so."""
    if value is None:
        return NOT_RECORDED
    if expanded is None:
        return say("{value} {unit}, U not recorded", value=f"{value:.{decimals}f}", unit=unit)
    return f"{value:.{decimals}f} ± {expanded:.{decimals}f} {unit}"


def percent(share: float | None, missing: str = NOT_RECORDED) -> str:
    """A share of one in whole percent."""
    return missing if share is None else f"{100 * share:.0f} %"


def days_left(days: int | None) -> str:
    """How far off a last valid day is, itself still allowed: '12 days left', 'last day today', '5 days past'."""
    if days is None:
        return NOT_KNOWN
    if days == 0:
        return say("last day today")
    if days < 0:
        return say_count("{count} day past", "{count} days past", -days)
    return say_count("{count} day left", "{count} days left", days)


def last_day(value: date | None, days: int | None) -> str:
    """A last valid day with how far off it is."""
    return NOT_KNOWN if value is None else strung(", ", (value.isoformat(), days_left(days)))


def said(text: str | None, missing: str = NOT_RECORDED) -> str:
    """The text, or what stands for none."""
    return text if text is not None and text.strip() else missing


def yes_no(value: bool | None) -> str:
    """Yes, no, or not recorded."""
    return NOT_RECORDED if value is None else say("yes") if value else say("no")


def spaced(word: str | None, missing: str = NOT_KNOWN) -> str:
    """A word of the records as it is read: fixed_date as 'fixed date'."""
    return say(word.replace("_", " ")) if word is not None and word.strip() else missing


def in_short(reasons: Sequence[str]) -> str:
    """The reasons in one line without what stands in brackets; the thing's own page tells them in full."""
    return strung("; ", map(unbracketed, reasons))


def counted(number: int, noun: str, nouns: str = "") -> str:
    """'1 unit' or '14 units'."""
    return say_count(f"{{count}} {noun}", f"{{count}} {nouns or noun + 's'}", number)


_STARTS_A_FORMULA = ("=", "+", "-", "@")


def neutral(cell: str) -> str:
    """The cell on one line that no spreadsheet takes for a formula: a risky first sign gets an apostrophe before it."""
    line = " ".join(cell.replace("\t", " ").splitlines())
    risky = cell.startswith(("\t", "\r", "\n")) or line.lstrip().startswith(_STARTS_A_FORMULA)
    return f"'{line}" if risky else line


def tab_separated(titles: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Titles and rows as tab-separated lines, each cell neutral."""
    return "".join("\t".join(neutral(cell) for cell in line) + "\n" for line in (titles, *rows))


def day_and_start(text: str) -> tuple[date | None, time | None]:
    """The day and the time that were typed, as 2026-05-04 or 2026-05-04 09:30; ValueError for anything else."""
    day, _, start = text.strip().partition(" ")
    if not day:
        return None, None
    return date.fromisoformat(day), time.fromisoformat(start.strip()) if start.strip() else None


def as_plain_tip(text: str) -> str:
    """The text for a tool tip, escaped: Qt would take a recorded text that looks like markup for markup."""
    return f"<qt>{html.escape(text)}</qt>" if text else ""
