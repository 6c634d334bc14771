"""Whether rows are what was written: every record and writing comes to its digest, and looks as it must."""

from __future__ import annotations

import json
import re
import unicodedata
from typing import Any

from carwright.shop.canonical import canonical
from carwright.shop.clock import LATEST
from carwright.shop.records import ENTRY, SORTS, STATEMENT, Record, Writing, record_digest, writing_digest
from carwright.shop.shapes import entry_fault, statement_fault

UUID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")
DIGEST = re.compile(r"[0-9a-f]{64}")
LONGEST_KEY = 3000
"""Characters: the name of an instrument has two thousand at most."""
CHANGED = "does not come to its digest: damaged or changed"


def is_name(text: str) -> bool:
    """Whether a text can stand for whoever or whatever wrote: on one line, without control signs."""
    return not any(unicodedata.category(sign) in {"Cc", "Cs", "Zl", "Zp"} for sign in text)


def altered_record(record: Record) -> str:
    """Why a record is not what was written, "" where it is."""
    parts = (record.id, record.subject, record.kind, record.key, record.body, record.digest)
    if not all(isinstance(each, str) for each in parts):
        return CHANGED
    try:
        return "" if record_digest(*parts[:-1]) == record.digest else CHANGED
    except UnicodeEncodeError:
        return "holds a sign that cannot be kept"


def altered_writing(writing: Writing) -> str:
    """Why a writing is not what was written, "" where it is."""
    texts = (writing.subject, writing.of, writing.who, writing.program, writing.digest)
    if not all(isinstance(each, str) for each in texts) or type(writing.clock) is not int:
        return CHANGED
    head = (writing.subject, writing.of, writing.clock, writing.who, writing.program)
    try:
        return "" if writing_digest(*head, writing.lines) == writing.digest else CHANGED
    except (UnicodeEncodeError, TypeError):
        return "holds a sign that cannot be kept"


def record_fault(record: Record) -> str:
    """What is wrong with a record of unknown origin, "" for nothing."""
    fault = altered_record(record)
    if fault:
        return fault
    good_id = bool(UUID.fullmatch(record.id)) if record.kind == ENTRY else record.id == ""
    if record.kind not in {ENTRY, STATEMENT} or not good_id or not UUID.fullmatch(record.subject):
        return "is neither an entry nor a statement of this version"
    if len(record.key) > LONGEST_KEY:
        return "is about something too long"
    body = _plain(record.body)
    if body is None:
        return "holds what no sheet can"
    if record.kind == ENTRY:
        return entry_fault(record.key, body)
    replaces = body.get("replaces")
    if set(body) != {"replaces", "value"} or not isinstance(replaces, list):
        return "is no statement: needs value and replaces"
    if not all(isinstance(each, str) and DIGEST.fullmatch(each) for each in replaces):
        return "is no statement: needs value and replaces"
    return statement_fault(record.key, body["value"], record.subject)


def _plain(text: str) -> dict[str, Any] | None:
    """The body, None where it is no table in the one spelling."""
    try:
        body = json.loads(text)
        return body if isinstance(body, dict) and canonical(body) == text else None
    except (ValueError, RecursionError):
        return None


def writing_fault(writing: Writing) -> str:
    """What is wrong with a writing of unknown origin, "" for nothing."""
    fault = altered_writing(writing)
    if fault:
        return fault
    if not writing.lines or writing.of not in SORTS or not UUID.fullmatch(writing.subject):
        return "is no writing of this version"
    if not 0 <= writing.clock <= LATEST:
        return "lies at a time no clock of people's shows"
    if not is_name(writing.who) or not is_name(writing.program):
        return "names its writer by signs that cannot be printed"
    for each in writing.lines:
        if not DIGEST.fullmatch(each.record) or not all(
            side == "" or UUID.fullmatch(side) for side in (each.after, each.before)
        ):
            return "has a line that names no record and its place"
    return ""
