"""A car and its history: entries as people write them, and as the other rooms read them."""

from carwright.history.entries import ENTRY_KINDS, Entry
from carwright.history.records import (
    Acquisition,
    Figures,
    GaugeCheck,
    GaugeLimits,
    History,
    Look,
    Photo,
    Prior,
    Reading,
    Ruling,
    Stage,
    Work,
)
from carwright.history.sheet import Sheet, read_sheet, read_sheet_text, write_sheet

__all__ = [
    "ENTRY_KINDS",
    "Acquisition",
    "Entry",
    "Figures",
    "GaugeCheck",
    "GaugeLimits",
    "History",
    "Look",
    "Photo",
    "Prior",
    "Reading",
    "Ruling",
    "Sheet",
    "Stage",
    "Work",
    "read_sheet",
    "read_sheet_text",
    "write_sheet",
]
