"""A page that was signed is kept as it was signed: printed again byte by byte, backed up, checked, and erased."""

import hashlib
import shutil
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from fleetbench.printing import print_handover, sign_handover
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.tables import SheetSignature, SignedPage
from fleetbench.records.tickets.photographs import ENVIRONMENT, photograph_folder
from fleetbench.records.upkeep.backup import backup, restore
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.records_folder import import_records
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.hires.edit import extend_hire, look_before_extending
from fleetbench.workshop.hires.handover import Accepting, Handing, hand_over, look_before
from fleetbench.workshop.hires.list import handover_facts
from fleetbench.workshop.hires.receive import receive
from fleetbench.workshop.hires.signing import PageToSign, set_page_terms, sign_sheet
from fleetbench.workshop.people.acts import erase_person
from fleetbench.workshop.tickets.photographs import add_photograph
from fleetbench.workshop.tickets.work import open_ticket
from tests.centres.hire_centre import HireCentre
from tests.paper.pdf_reader import texts
from tests.round_trip import carried, contents

DRAWN = (((10, 200), (60, 90), (120, 210)), ((140, 150), (300, 140)))


@pytest.fixture
def centre(sqlite_database: Any, clock: Any) -> HireCentre:
    """A unit that is out on a booking."""
    from fleetbench.workshop.core.workplace import Workplace

    made = HireCentre(Workplace(sqlite_database, clock), clock)
    made.make_fit()
    handing = Handing(unit="LK-01", kind="kit", harness="M", absorbent_kg=7.5)
    look = look_before(made.workplace, "LK-01", "H-7", "kit", handing.along)
    accepted = [Accepting("LK-01", check, made.day(20), "seen") for check in look.to_accept]
    hand_over(made.workplace, "H-7", [handing], accepting=accepted, manager_id=made.manager, pin="2468")
    return made


def printed(centre: HireCentre, *, now: bool = False) -> bytes:
    stream = BytesIO()
    print_handover(centre.workplace, handover_facts(centre.workplace, "LK-01", "H-7"), stream, now=now)
    return stream.getvalue()


def sign(centre: HireCentre, party: str = "diver") -> Path:
    """The file that is kept of the page."""
    sign_handover(centre.workplace, "H-7", "LK-01", party, DRAWN)
    row = centre.rows(SignedPage)[-1]
    return photograph_folder(centre.workplace.database.path) / f"{row.sha256}.pdf"


def test_a_page_signed_before_a_flood_prints_the_same_bytes_after_it(centre: HireCentre) -> None:
    sign(centre)
    kept = sign(centre, "centre")
    first = printed(centre)
    assert first == kept.read_bytes() and hashlib.sha256(first).hexdigest() == kept.stem
    front = texts(first)[0]
    assert "ON HOLD" not in front and "Signed before" not in front and front.count("2026-05-04 09:30") == 3
    centre.clock.advance(hours=30)
    receive(centre.workplace, "LK-01", wet=True, flooded=True, fault=True)
    assert printed(centre) == first
    after = texts(printed(centre, now=True))[0]
    assert "ON HOLD" in after and "The page signed on 2026-05-04 09:30 is kept as it was signed." in after
    assert "State of 2026-05-05 15:30 CEST" in after and "Signature" not in after and "What you state" not in after
    assert verify(centre.workplace.database).first_break is None


def test_a_signature_under_another_state_is_not_drawn_under_this_one(centre: HireCentre) -> None:
    sign(centre)
    open_ticket(centre.workplace, "LK-01", cause="by hand", reason="the diver tells of a leak", critical=True)
    front = texts(sign(centre, "centre").read_bytes())[0]
    assert "the diver tells of a leak" in front
    assert "Changed since: sign again. Signed before: 2026-05-04 09:30" in front


def test_other_days_are_signed_again_and_the_first_page_stays_kept(centre: HireCentre) -> None:
    first = sign(centre)
    centre.clock.advance(hours=1)
    look = look_before_extending(centre.workplace, "H-7", centre.day(3))
    accepted = [Accepting("LK-01", check, centre.day(20), "seen") for each in look for check in each.to_accept]
    extend_hire(centre.workplace, "H-7", centre.day(3), accepting=accepted, manager_id=centre.manager, pin="2468")
    fresh = texts(printed(centre))[0]
    assert "sign again" in fresh and "The page signed on 2026-05-04 09:30 is kept as it was signed." in fresh
    second = sign(centre)
    assert printed(centre) == second.read_bytes() != first.read_bytes() and first.exists()


def test_the_page_is_kept_in_the_language_of_the_booking(centre: HireCentre) -> None:
    set_page_terms(centre.workplace, "H-7", "el", "9:15")
    front = texts(sign(centre).read_bytes())[0]
    assert "Τι δηλώνετε με την υπογραφή σας" in front and "09:15" in front
    set_page_terms(centre.workplace, "H-7", "de")
    assert texts(printed(centre))[0] == front
    assert "Stand vom" in texts(printed(centre, now=True))[0]
    for language, hour, said in (("xx", "", "language"), ("de", "25:00", "return by: '25:00' is no hour")):
        with pytest.raises(Refused, match=said):
            set_page_terms(centre.workplace, "H-7", language, hour)


@pytest.mark.parametrize("spoil", [lambda path: path.unlink(), lambda path: path.write_bytes(b"%PDF other")])
def test_a_kept_page_that_is_gone_or_changed_is_a_break_and_is_not_drawn_again(
    centre: HireCentre, spoil: Callable[[Path], None]
) -> None:
    spoil(sign(centre))
    assert "signed_page" in str(verify(centre.workplace.database).first_break)
    with pytest.raises(Refused, match=r"signed page .* restore it from a backup"):
        printed(centre)


def test_what_was_recorded_after_the_page_was_shown_stops_the_signature_and_nothing_is_kept(centre: HireCentre) -> None:
    with pytest.raises(Refused, match="recorded since it was shown"):
        sign_sheet(centre.workplace, "H-7", "LK-01", "diver", DRAWN, PageToSign("0" * 64, lambda _signed: b"%PDF", 1))
    assert centre.rows(SheetSignature) == [] and centre.rows(SignedPage) == []


def test_a_backup_holds_the_page_and_erasing_its_diver_takes_it_for_good(centre: HireCentre, tmp_path: Path) -> None:
    kept = sign(centre)
    data, database = kept.read_bytes(), centre.workplace.database
    (tmp_path / "stick").mkdir()
    backup(database, tmp_path / "stick" / "fleet.sqlite")
    restore(tmp_path / "stick" / "fleet.sqlite", tmp_path / "other.sqlite")
    other = open_database(tmp_path / "other.sqlite")
    assert (photograph_folder(other.path) / kept.name).read_bytes() == data and verify(other).whole
    other.close()
    receive(centre.workplace, "LK-01", wet=False, flooded=False, fault=False)
    centre.clock.advance(days=30)
    erase_person(centre.workplace.as_person(centre.manager), centre.keys.renter)
    assert not kept.exists() and centre.rows(SignedPage) == [] and verify(database).whole
    assert len(centre.rows(SheetSignature)) == 1
    path = database.path
    assert path is not None
    database.close()
    assert restore(tmp_path / "stick" / "fleet.sqlite", path, clock=centre.clock).erased
    assert not kept.exists()


def test_on_a_server_a_folder_that_every_desk_reaches_is_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(ENVIRONMENT, raising=False)
    with pytest.raises(Refused, match="signed pages: a server keeps no files"):
        photograph_folder(None)


def test_photographs_and_signed_pages_come_along_with_exported_records(
    centre: HireCentre, empty_file: Path, tmp_path: Path
) -> None:
    kept = sign(centre)
    picture = tmp_path / "nick.png"
    Image.new("RGB", (40, 30), "white").save(picture)
    ticket = open_ticket(centre.workplace, "LK-01", cause="by hand", reason="Look", tasks=())
    digest = add_photograph(centre.workplace, ticket, picture, "Nick")
    (tmp_path / "there").mkdir()
    (tmp_path / "exported").mkdir()
    where = shutil.copy(empty_file, tmp_path / "there" / "new.db")
    with carried(centre.workplace.database, tmp_path / "exported" / "out", where) as again:
        there = photograph_folder(again.path)
        assert {path.name for path in there.iterdir()} == {kept.name, f"{digest}.jpg"}
        assert (there / kept.name).read_bytes() == kept.read_bytes() and verify(again).whole
        assert contents(again) == contents(centre.workplace.database)
    (tmp_path / "exported" / "out" / "files" / kept.name).write_bytes(b"%PDF-1.4 another")
    with pytest.raises(Refused, match="is not what the manifest says"):
        import_records(tmp_path / "exported" / "out", str(tmp_path / "there" / "more.db"), clock=centre.clock)
