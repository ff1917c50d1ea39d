"""Invented facts for the hire desk's pages beside the hand-over sheet, and for a sheet that is signed."""

from dataclasses import replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from fleetbench.paper.core.shapes import BoardRow, CourseBoard, HandoverFacts, ReturnReceipt, SignatureFacts
from tests.paper import sample_pages

AT = datetime(2026, 5, 7, 8, 45, tzinfo=ZoneInfo("Europe/Berlin"))
STROKES = (((60, 220), (140, 40), (230, 230), (300, 90)), ((340, 150), (520, 120), (760, 190)))


def handover_signed() -> HandoverFacts:
    """A sheet that its diver signed by hand and the centre on paper, with deposit."""
    signed = (SignatureFacts("diver", AT, STROKES), SignatureFacts("centre", AT))
    return replace(sample_pages.handover(), signatures=signed, deposit=200.0)


def board() -> CourseBoard:
    """A course of two students with a spare, one student still without a unit."""
    rows = (
        BoardRow("KB-07", "Søren Østergård", "kit", "L", "to go", "nothing"),
        BoardRow("KB-09", "Łucja Żuraw", "kit", "", "to go", "stop: workshop calibration, one-way valves and loop"),
        BoardRow("KB-11", "spare", "not chosen yet", "M", "to go", "advise: batteries"),
    )
    return CourseBoard(
        sample_pages.handover().letterhead, "C-2026-004", "course", "back-mounted, two handsets", "Łucja Żuraw",
        date(2026, 5, 8), date(2026, 5, 12), 4, 1, 90.0, 30.0, rows, ("Zoë Kovačová",),
    )  # fmt: skip


def receipt() -> ReturnReceipt:
    """A return a day late, with a weight missing and a whistle that nobody counted."""
    return ReturnReceipt(
        sample_pages.handover().letterhead, "HIR-00217", "KB-07", "H-26-031", "Søren Østergård", date(2026, 5, 8),
        date(2026, 5, 12), AT, "Łucja Żuraw", 1, 200.0, 150.0, 171.0, 3, None, "1 weight",
        (("torch", 1, 1), ("weight", 2, 1), ("whistle", 1, None)),
    )  # fmt: skip
