"""An entry in a line, as lists of a history show it."""

from __future__ import annotations

from collections.abc import Mapping

_SHOWN = ("what", "remedy", "source", "of", "file", "defect", "where", "reason", "category")
_SAID = (
    "values",
    "places",
    "result",
    "grade",
    "amount",
    "heights",
    "gaps",
    "runs",
    "points",
    "waives",
    "route",
    "note",
)


def told(body: Mapping[str, object]) -> str:
    """``reading coupler.height at A: 0.412 in, 0.411 in``.

    Parameters
    ----------
    body : mapping
        An entry as on a sheet.
    """
    what = next((_line(body[key]) for key in _SHOWN if key in body), "")
    at = f"at {body['at']}" if "at" in body else ""
    said = next((_line(body[key]) for key in _SAID if key in body), "")
    words = " ".join(filter(None, [str(body.get("kind", "")), what, at]))
    return f"{words}: {said}" if said else words


def _line(value: object) -> str:
    if isinstance(value, list):
        return ", ".join(_line(each) for each in value)
    return " ".join(str(value).split())
