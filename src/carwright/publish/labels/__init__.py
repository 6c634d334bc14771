"""Labels: what a car is, on its box and on its shelf, and a tag for a car that is held."""

from carwright.publish.labels.link import LabelError, link_of
from carwright.publish.labels.sheet import labels_pdf
from carwright.publish.labels.sizes import DEFAULTS, KINDS, LabelSheet, label_sheet, label_sheets

__all__ = [
    "DEFAULTS",
    "KINDS",
    "LabelError",
    "LabelSheet",
    "label_sheet",
    "label_sheets",
    "labels_pdf",
    "link_of",
]
