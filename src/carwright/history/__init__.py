"""A car and its history: entries as people write them, and as the other rooms read them."""

from carwright.history.entries import ENTRY_KINDS, Entry
from carwright.history.records import (
    Acquisition,
    CarPart,
    Figures,
    GaugeCheck,
    GaugeLimits,
    History,
    Look,
    Photo,
    Prior,
    Profile,
    Reading,
    Ruling,
    Space,
    Spread,
    Stage,
    Work,
)
from carwright.history.sheet import Sheet, read_sheet, read_sheet_text, write_sheet

__all__ = [
    "ENTRY_KINDS",
    "Acquisition",
    "CarPart",
    "Entry",
    "Figures",
    "GaugeCheck",
    "GaugeLimits",
    "History",
    "Look",
    "Photo",
    "Prior",
    "Profile",
    "Reading",
    "Ruling",
    "Sheet",
    "Space",
    "Spread",
    "Stage",
    "Work",
    "read_sheet",
    "read_sheet_text",
    "write_sheet",
]
