"""The command line in German beside English: help, messages and refusals; data, names and options stay as they are.

Which language is chosen follows POSIX.1-2017, 8.2 (LC_ALL above LC_MESSAGES above LANG; C and POSIX for none) and GNU
gettext's manual, "The LANGUAGE variable".
"""

import json
from pathlib import Path

import pytest
import typer.main

from fleetbench import cli
from fleetbench.calc.core.languages import chosen, language, of_environment, reading, worded
from fleetbench.settings import SETTINGS, Settings, data_folder, write_settings
from fleetbench.terminal import help_text
from tests.cli.conftest import Run

STATED = "2026-06-15"


@pytest.fixture
def german(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:  # after English was set
    monkeypatch.setenv("LC_ALL", "de_AT.UTF-8")


@pytest.mark.parametrize(
    ("stated", "code"),
    [
        ({}, "en"),
        ({"LANG": "de_DE.UTF-8"}, "de"),
        ({"LANG": "de_DE.UTF-8", "LC_MESSAGES": "fr_FR"}, "fr"),
        ({"LANG": "de_DE.UTF-8", "LC_ALL": "C"}, "en"),
        ({"LANG": "de_DE.UTF-8", "LC_ALL": "POSIX"}, "en"),
        ({"LANG": "C.UTF-8", "LANGUAGE": "de"}, "en"),
        ({"LANG": "en_GB.UTF-8", "LANGUAGE": "xx:de_CH:fr"}, "de"),
        ({"LANG": "sr_RS@latin"}, "en"),
    ],
)
def test_the_language_of_the_system_is_the_one_that_posix_puts_first(
    monkeypatch: pytest.MonkeyPatch, stated: dict[str, str], code: str
) -> None:
    for name in ("LC_ALL", "LC_MESSAGES", "LANG", "LANGUAGE"):
        monkeypatch.delenv(name, raising=False)
    for name, value in stated.items():
        monkeypatch.setenv(name, value)
    assert chosen("system", of_environment()) == code


@pytest.mark.usefixtures("german")
def test_help_is_in_german_with_the_names_of_options_as_they_are(run: Run) -> None:
    ran = run("due", "--help")
    assert ran.code == 0 and ran.out.startswith("Aufruf: fleetbench due [Optionen]")
    assert "Optionen:" in ran.out and "--within WERT" in ran.out and "Diese Hilfe zeigen." in ran.out
    whole = run("--help")
    assert "Befehle:" in whole.out and "use-and-cost" in whole.out and "Die Anleitung des" in whole.out


def test_help_is_in_english_where_nothing_else_is_asked_for(run: Run) -> None:
    ran = run("due", "--help")
    assert ran.out.startswith("Usage: fleetbench due [options]") and "Show this help." in ran.out


def test_every_command_and_option_has_its_help_in_german() -> None:
    commands = typer.main.get_command(cli.app)
    texts = {help_text(each.help) for each in (commands, *commands.commands.values())}  # type: ignore[attr-defined]
    texts |= {
        parameter.help
        for each in (commands, *commands.commands.values())  # type: ignore[attr-defined]
        for parameter in each.params
        if parameter.help
    }
    with reading(language("de")):
        assert [text for text in texts if worded(text) == text and "--" not in text] == []
    assert len(texts) > 50


@pytest.mark.parametrize(
    ("words", "english", "german"),
    [
        (("due", "--bogus"), "--bogus: is not an option here", "--bogus: ist hier keine Option"),
        (("polish",), "polish: is no command", "polish: ist kein Befehl"),
        (("ready",), "tag: is missing", "tag: fehlt"),
        (("due", "--within", "-3"), "'-3' is no number of days", "'-3' ist keine Zahl von Tagen"),
        (("due", "--format", "yaml"), "--format: choose text or json", "--format: text oder json wählen"),
    ],
)
def test_a_wrong_usage_is_told_in_the_users_language_and_ends_with_2(
    run: Run, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], english: str, german: str
) -> None:
    here = run(*words)
    assert here.code == 2 and here.err.splitlines()[-1].startswith(f"fleetbench: {english}")
    monkeypatch.setenv("LC_ALL", "de_DE.UTF-8")
    there = run(*words)
    assert there.code == 2 and there.err.splitlines()[-1].startswith(f"fleetbench: {german}")
    assert there.err.splitlines()[0].startswith("Aufruf: fleetbench")


@pytest.mark.usefixtures("german")
def test_what_is_found_is_told_in_german_and_data_are_the_same_bytes(
    run: Run, sample: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    span = ("ready", "B-01", "--from", STATED, "--to", "2026-06-18", "--db", sample)
    told, data = run(*span), run(*span, "--format", "json")
    due = run("due", "--within", "30", "--on", STATED, "--db", sample)
    late = run("ready", "B-01", "--from", "2026-06-01", "--to", "2026-06-03", "--db", sample)
    monkeypatch.setenv("LC_ALL", "C")
    assert run(*span, "--format", "json").out == data.out and json.loads(data.out)["kind"] == "assembled"
    plain = run(*span)
    assert (told.code, plain.code, late.code) == (0, 0, 1)
    assert "periodic service" in plain.out and "periodic service" not in told.out
    assert "  vorbei  " in due.out and "  past  " not in due.out
    assert "--to: 2026-06-03 ist vorbei" in late.err


def test_the_setting_stands_above_the_system(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setenv("LC_ALL", "de_DE.UTF-8")
    assert run("due", "--help").out.startswith("Aufruf:")
    write_settings(data_folder() / SETTINGS, Settings({"language": "English"}))
    assert run("due", "--help").out.startswith("Usage:")
    monkeypatch.setenv("LC_ALL", "C")
    write_settings(data_folder() / SETTINGS, Settings({"language": "Deutsch"}))
    assert run("due", "--help").out.startswith("Aufruf:")


@pytest.mark.usefixtures("german")
def test_the_journal_is_told_in_german_and_its_breaks_in_json_are_english(run: Run, sample: Path) -> None:
    head = ("verify", "--head", f"1:{'0' * 64}", "--db", sample)
    told, data = run(*head), run(*head, "--format", "json")
    assert told.code == data.code == 1
    assert "ist nicht die gedruckte 000000000000; die Kette wurde neu gemacht" in told.out
    assert "is not the printed 000000000000; the chain was made again" in json.loads(data.out)["first_break"]
