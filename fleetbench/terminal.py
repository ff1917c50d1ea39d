"""What is typed and shown on a terminal: in the user's language, and words from files and records never steer it.

Text is shown in the language that was chosen; JSON, and the names of commands and options, stay as they are. The few
words of Typer's own (usage, options, what was typed wrongly) are said here, through the hooks that it has for it:
`SpokenCommand` and `SpokenGroup` write the help, and `refuse_usage` tells of a wrong usage.
"""

import json
import re
import sys
from collections.abc import Iterable
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, NoReturn

import typer
from typer.core import TyperCommand, TyperGroup

from fleetbench.calc.core.languages import (
    chosen,
    of_environment,
    read_in,
    say,
    say_count,
    shown,
    strung,
    worded,
)
from fleetbench.records.core.errors import Refused, fault_trace, printable
from fleetbench.settings import SETTINGS, data_place, read_settings

if TYPE_CHECKING:
    from fleetbench.calc.readiness.judge import Check
    from fleetbench.records.upkeep.backup import Copied
    from fleetbench.workshop.due.list import DueItem

UsageError: Any = typer.BadParameter.__base__
"""What Typer raises for a wrong usage; it exports the one below it alone."""


def speak() -> None:
    """Show texts in the language of the settings, or else in the system's, as POSIX states it."""
    try:
        wanted = read_settings(data_place() / SETTINGS)["language"]
    except Refused:  # whatever needs the settings refuses by itself
        wanted = ""
    read_in(chosen(wanted, of_environment()))


def tell(words: object) -> None:
    """Print a line in the user's language; a sign that would steer the terminal is shown as its number."""
    print(printable(shown(str(words))))


def tell_lines(lines: Iterable[str]) -> None:
    """Print lines, each as `tell` does."""
    for line in lines:
        tell(line)


def tell_json(data: Any) -> None:
    """Print plain data as JSON (RFC 8259), days and moments as ISO 8601; no sign in it steers the terminal."""
    text = json.dumps(data, indent=1, ensure_ascii=False, default=_plain)
    print("".join(sign if sign.isprintable() or sign == "\n" else json.dumps(sign)[1:-1] for sign in text))


def _plain(value: Any) -> str:
    if isinstance(value, date | datetime):
        return value.isoformat()
    raise TypeError(f"{type(value).__name__} has no plain form")


def note(words: str) -> None:
    """Print what is worth knowing beside the answer, on standard error."""
    print(printable(shown(say("note: {note}", note=words))), file=sys.stderr)


def refusal_line(fault: Exception) -> str:
    """What is told of a fault in one line; of one that nobody foresaw, without what it was about."""
    if not isinstance(fault, Refused | OSError):
        trace = fault_trace(fault)
        return printable(shown(say("fault of the program, nothing half-done was kept: {trace}", trace=trace)))
    if isinstance(fault, OSError) and fault.filename is not None:
        return printable(f"{fault.filename}: {fault.strerror or fault}")
    return printable(" ".join(shown(str(fault)).split()))


# ---- usage ----------------------------------------------------------------------------------------------------------


def refuse_usage(fault: Any) -> NoReturn:
    """Tell of a wrong usage how it is used, where help is and what was wrong, and end with 2."""
    context = fault.ctx
    if context is not None:
        print(context.get_usage(), file=sys.stderr)
        print(shown(say("Help: {command} --help", command=context.command_path)), file=sys.stderr)
    print(printable(f"fleetbench: {shown(_wrong(fault))}"), file=sys.stderr)
    sys.exit(fault.exit_code)


def _wrong(fault: Any) -> str:
    parameter = getattr(fault, "param", None)
    name = " / ".join(parameter.opts) if parameter is not None else ""
    match type(fault).__name__:
        case "NoSuchOption" | "BadOptionUsage":
            return say("{option}: is not an option here, or lacks its value", option=fault.option_name)
        case "MissingParameter":
            return say("{name}: is missing", name=name)
        case "BadParameter":
            return strung(": ", filter(None, (name, fault.message)))
    named = re.search("'(.*)'", fault.message)
    if named is None:
        return say("a command is missing, or one word is too many")
    return say("{name}: is no command, or one word too many", name=named[1])


def _paragraphs(text: str) -> list[str]:
    return [" ".join(each.split()) for each in text.split("\n\n")]


def help_text(text: str | None) -> str:
    """The help of a command as the catalogues have it: a line a paragraph."""
    return "\n".join(_paragraphs(text or ""))


def _write_usage(command: Any, context: Any, formatter: Any) -> None:
    pieces = [shown(say("[options]"))]
    pieces += [each.name if each.required else f"[{each.name}]" for each in command.params if not _is_option(each)]
    if hasattr(command, "commands"):
        pieces.append(shown(say("command")))
    formatter.write_usage(context.command_path, " ".join(pieces), prefix=f"{shown(say('Usage:'))} ")


def _write_help(command: Any, context: Any, formatter: Any) -> None:
    command.format_usage(context, formatter)
    formatter.write_paragraph()
    with formatter.indentation():
        for paragraph in worded(help_text(command.help)).splitlines():
            formatter.write_text(paragraph)
    asked = [each for each in command.get_params(context) if not _is_option(each) and each.help]
    options = [each for each in command.get_params(context) if _is_option(each)]
    rows = {
        say("Arguments"): [(each.name, worded(each.help)) for each in asked],
        say("Options"): [(_option(each), _of_option(each)) for each in options],
        say("Commands"): [
            (name, worded(help_text(each.help)).partition("\n")[0])
            for name, each in getattr(command, "commands", {}).items()
        ],
    }
    for title, lines in rows.items():
        if lines:
            with formatter.section(shown(title)):
                formatter.write_dl(lines)


def _is_option(parameter: Any) -> bool:
    return bool(parameter.param_type_name == "option")


def _option(option: Any) -> str:
    names = ", ".join(option.opts)
    return names if option.is_flag else f"{names} {option.metavar or shown(say('VALUE'))}"


def _of_option(option: Any) -> str:
    """Its help, and what is taken where it is not given; the help of --help itself is Typer's."""
    words = say("Show this help.") if option.name == "help" else option.help or ""
    more = say("required") if option.required else ""
    if isinstance(option.default, str) and option.default:
        more = say("else {value}", value=option.default)
    told = shown(words) if option.name == "help" else worded(words)
    return f"{told} ({shown(more)})".strip() if more else told


class SpokenCommand(TyperCommand):
    """A command whose help is in the user's language."""

    def format_usage(self, ctx: Any, formatter: Any) -> None:
        """Write how it is used, in one line."""
        _write_usage(self, ctx, formatter)

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """Write the whole help."""
        _write_help(self, ctx, formatter)


class SpokenGroup(TyperGroup):
    """The commands together, likewise."""

    def format_usage(self, ctx: Any, formatter: Any) -> None:
        """Write how it is used, in one line."""
        _write_usage(self, ctx, formatter)

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """Write the whole help."""
        _write_help(self, ctx, formatter)


# ---- values ---------------------------------------------------------------------------------------------------------


def day_typed(text: str) -> date:
    """The day that an option names."""
    try:
        return date.fromisoformat(text)
    except ValueError as fault:
        raise typer.BadParameter(say("{text!r} is no date; write it as 2026-06-15", text=text)) from fault


def days_typed(text: str | None) -> int | None:
    """The number of days that an option gives; None for none."""
    if text is not None and not text.isdecimal():
        raise typer.BadParameter(say("{text!r} is no number of days; give 0 or more", text=text))
    return None if text is None else int(text)


def text_or_json(text: str) -> str:
    """The format that an option names."""
    if text not in ("text", "json"):
        raise typer.BadParameter(say("choose text or json"))
    return text


# ---- answers --------------------------------------------------------------------------------------------------------


def files_in(count: int, folder: object) -> str:
    """How many files were written into a folder."""
    return say_count("{count} file in {folder}", "{count} files in {folder}", count, folder=folder)


def made_words(made: "Copied") -> str:
    """What a backup or a restored database is, with the head of its journal."""
    digest = made.head_hash or say("empty")
    return say("{path}: journal entry {number}, {hash}", path=made.path, number=made.head_number, hash=digest)


def corrected_words(count: int) -> str:
    """How many records a clock that ran ahead had dated too late."""
    return say_count(
        "confirmed; {count} record dated after it corrected",
        "confirmed; {count} records dated after it corrected",
        count,
    )


def due_line(item: "DueItem") -> str:
    """One line of the due list, in columns."""
    until = item.last_good_day.isoformat() if item.last_good_day else shown(say("not known"))
    what = " / ".join(str(word) for word in (item.unit, item.slot, item.part) if word)
    about = say("{what}: {item} ({basis})", what=what, item=say(item.item), basis=say(item.basis.replace("_", " ")))
    return f"{until:<13} {shown(say(item.state)):<14} {shown(about)}"


def check_line(check: "Check") -> str:
    """One check of a unit: its result, what it rests on and what remedies it."""
    line = strung(": ", (say(check.check), check.evidence))
    told = strung(" -> ", (line, check.remedy)) if check.remedy else line
    return f"  {shown(say(check.result)):<9} {shown(told)}"


def differ_words(count: int) -> str:
    """How many stored days differ from a new calculation, and what stores the calculated ones."""
    return say_count(
        "{count} stored last valid day differs from a new calculation; "
        "`verify --rebuild --write` stores the calculated one",
        "{count} stored last valid days differ from a new calculation; "
        "`verify --rebuild --write` stores the calculated ones",
        count,
    )
