"""Every act is told once: its key means one thing everywhere, F1 lists it, who may not do it is told who may."""

import ast
import re
from collections import defaultdict
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtGui import QShortcut
from pytestqt.qtbot import QtBot

import fleetbench
from fleetbench.calc.people.permits import ACTS, act_word, may, who_may
from fleetbench.records.core.database import Database
from fleetbench.window.forms.form import Form
from fleetbench.window.lists.act_bar import ActBar, only_for
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.actions import ACTIONS, KEYS_ON_THE_TIME_LINE, acts_by_room, shortcut_detail
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import BESIDE_THE_RAIL, PAGES, PageContext, page_named
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.people.acts import enter_person
from fleetbench.workshop.people.list import list_people
from tests.centres.bench_centre import write_centre
from tests.centres.writing_acts import WRITING_ACTS
from tests.conftest import Clock

SOURCE = Path(fleetbench.__file__).parent
WITHOUT_A_DOOR = {
    "import": "a whole folder of files",
    "calculate again": "by the program itself after an upgrade",
    "fit other than a cell": "asked for inside `fit part`",
    "lift incident hold": "asked for inside `lift hold`",
}
SINGLE = re.compile(r"\b(?:(?:Ctrl|Shift|Alt)\+)+[A-Z]\b|\bF\d{1,2}\b")


def specs() -> list[tuple[str, object]]:
    return [(room, spec) for room, told in acts_by_room().items() for spec in told]


def keys_on_the_page_of_keys() -> set[str]:
    detail = shortcut_detail(ACTIONS, (*PAGES, *BESIDE_THE_RAIL))
    return {key for table in detail.parts for line in table.lines for key in line.cells[0].split(", ")}  # type: ignore[union-attr]


def test_a_key_means_one_thing_in_the_whole_program() -> None:
    meanings: dict[str, set[str]] = defaultdict(set)
    for _room, spec in specs():
        if spec.key:  # type: ignore[attr-defined]
            meanings[spec.key].add(spec.meaning)  # type: ignore[attr-defined]
    for action in ACTIONS:
        for key in action.keys:
            meanings[key].add(action.text)
    for page in PAGES:
        meanings[page.keys].add(page.title)
    for key, words in KEYS_ON_THE_TIME_LINE:
        if len(key) == 1:
            meanings[key].add(words.lower().split()[0])
    assert {key: told for key, told in meanings.items() if len(told) > 1} == {}


def test_in_one_room_no_two_acts_share_a_key_or_a_name() -> None:
    for told in acts_by_room().values():
        for names in ([spec.key for spec in told if spec.key], [spec.name for spec in told]):
            assert len(names) == len(set(names))


def test_a_key_that_ends_something_for_good_does_nothing_else_and_each_such_act_asks_first() -> None:
    ending = {spec.key for _room, spec in specs() if spec.destroys and spec.key}  # type: ignore[attr-defined]
    assert ending == {"X"}
    assert all(spec.destroys for _room, spec in specs() if spec.key in ending)  # type: ignore[attr-defined]
    from fleetbench.window.hires.acts import cancel_form

    class Bar:
        workplace = None

    class Booking:
        code = "C-1"

    class Row:
        booking = Booking

    assert isinstance(cancel_form(Bar(), Row()), Form)  # type: ignore[arg-type]


def test_the_page_of_keys_lists_every_key_of_every_room() -> None:
    listed = keys_on_the_page_of_keys()
    missing = [(room, spec.key) for room, spec in specs() if spec.key and spec.key not in listed]  # type: ignore[attr-defined]
    assert missing == []


@pytest.fixture
def context(theme: Theme, background: Background, sqlite_database: Database, clock: Clock) -> PageContext:
    """The small centre."""
    write_centre(sqlite_database, clock())
    workplace = background.signed_in.at(Workplace(sqlite_database, clock, attended=True))
    return PageContext(theme, background, workplace, ZoneInfo("Europe/Berlin"))


@pytest.mark.parametrize("name", [spec.name for spec in (*PAGES, *BESIDE_THE_RAIL) if spec.name != "parts"])
def test_no_page_has_a_key_that_the_page_of_keys_does_not_tell(qtbot: QtBot, context: PageContext, name: str) -> None:
    page = page_named(name).make_list(context)
    qtbot.addWidget(page)
    found = {shortcut.key().toString() for shortcut in page.findChildren(QShortcut)}
    told = keys_on_the_page_of_keys()
    assert {key for key in found if key not in told and not re.fullmatch(r"Alt\+\d", key)} == set()
    qtbot.waitUntil(lambda: not context.background.is_busy)


@pytest.mark.parametrize("name", ["hires", "stock", "cylinders", "notices", "equipment", "absorbent"])
def test_who_may_not_do_an_act_finds_its_button_grey_and_is_told_who_may(
    qtbot: QtBot, context: PageContext, name: str
) -> None:
    page = page_named(name).make_list(context)
    qtbot.addWidget(page)
    bar = getattr(page, "bench", None) or page.bar  # type: ignore[attr-defined]
    plain = Workplace(context.workplace.database, context.workplace.clock)
    manager = next(each for each in list_people(plain) if each.role == "manager")
    enter_person(plain.as_person(manager.person_id), "I-9", "instructor", "Ada Invented")
    context.signed_in.show_people(list_people(plain))
    person = next(each for each in list_people(plain) if each.role == "instructor")
    context.signed_in.choose(person.person_id)
    withheld = [spec for spec in bar.specs.values() if spec.act and not may("instructor", spec.act)]
    assert withheld
    for spec in withheld:
        shown = bar.choices[spec.name] if spec.rare else bar.buttons[spec.name]
        assert not shown.isEnabled()
        assert all(role in shown.toolTip() for role in who_may(spec.act))
    qtbot.waitUntil(lambda: not context.background.is_busy)


def test_every_bar_offers_each_role_what_it_may_do_and_a_key_asks_as_its_button_does(
    qtbot: QtBot, context: PageContext
) -> None:
    plain = Workplace(context.workplace.database, context.workplace.clock)
    manager = next(each for each in list_people(plain) if each.role == "manager")
    for role in ("renter", "instructor"):
        enter_person(plain.as_person(manager.person_id), f"X-{role}", role, f"Ada {role}")
    context.signed_in.show_people(list_people(plain))
    bars = [ActBar(context, told, None) for told in acts_by_room().values()]
    for bar in bars:
        qtbot.addWidget(bar)
    for role in ("renter", "instructor", "technician"):
        person = next(each for each in list_people(plain) if each.role == role)
        context.signed_in.choose(person.person_id)
        assert context.signed_in.role == role
        for bar in bars:
            for spec in bar.specs.values():
                shown = bar.choices[spec.name] if spec.rare else bar.buttons[spec.name]
                withheld = bool(spec.act) and not may(role, spec.act)
                assert (bool(spec.act) and shown.toolTip() == only_for(spec.act)) is withheld
                assert bar.grants(spec) is not withheld and not (withheld and shown.isEnabled())
    context.signed_in.choose(next(each for each in list_people(plain) if each.role == "renter").person_id)
    bar = next(bar for bar in bars if "years" in bar.specs)
    bar.row = object()
    with qtbot.waitSignal(bar.refused) as refusal:
        bar.start("years")
    assert refusal.args == [only_for("set retention")]


def test_every_act_that_a_button_names_is_an_act_of_the_program() -> None:
    assert {spec.act for _room, spec in specs() if spec.act} - set(ACTS) == set()  # type: ignore[attr-defined]


def test_every_act_of_the_program_has_a_door() -> None:
    """From what the window and the command line name, through what the workshop calls, to the acts it begins."""
    begun, calls = read_workshop()
    reached: set[str] = set()
    ahead = named_in(SOURCE / "window", SOURCE / "cli.py", SOURCE / "demo.py", SOURCE / "printing.py") & calls.keys()
    while ahead:
        reached |= ahead
        ahead = {name for each in ahead for name in calls[each]} & calls.keys() - reached
    spoken = {act for each in reached for act in begun[each]}
    first_words = {act for act in spoken if act.endswith(" ")}
    dark = {act for act in set(ACTS) - WRITING_ACTS if act not in spoken and not any(map(act.startswith, first_words))}
    assert dark == set(WITHOUT_A_DOOR) - spoken


def read_workshop() -> tuple[dict[str, set[str]], dict[str, set[str]]]:
    """For each function of the workshop: the acts it begins, and the names that stand in it."""
    begun: dict[str, set[str]] = defaultdict(set)
    calls: dict[str, set[str]] = defaultdict(set)
    for path in sorted((SOURCE / "workshop").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                calls[node.name] |= names_in(node)
                texts = [each.value for each in ast.walk(node) if isinstance(each, ast.Constant)]
                begun[node.name] |= {act_word(text) for text in texts if isinstance(text, str)}
    return begun, calls


def named_in(*places: Path) -> set[str]:
    """Every name that stands in these files."""
    paths = [path for place in places for path in (place.rglob("*.py") if place.is_dir() else [place])]
    return {name for path in paths for name in names_in(ast.parse(path.read_text(encoding="utf-8")))}


def names_in(tree: ast.AST) -> set[str]:
    """Names and attributes that are used, imports not counted."""
    return {each.id for each in ast.walk(tree) if isinstance(each, ast.Name)} | {
        each.attr for each in ast.walk(tree) if isinstance(each, ast.Attribute)
    }


def test_a_key_that_a_message_or_the_readme_names_is_a_key() -> None:
    told = keys_on_the_page_of_keys() | {"Ctrl+Return"}
    wrong = []
    for path in (*sorted((SOURCE / "window").rglob("*.py")), SOURCE.parent / "README.md"):
        text = path.read_text(encoding="utf-8")
        named = {*SINGLE.findall(text), *re.findall(r"\b[Kk]ey ((?:\w+\+)?[A-Z]\w{0,2})\b", text)}
        wrong += [(path.name, key) for key in named if key not in told]
    assert wrong == []
