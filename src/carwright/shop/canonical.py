"""One spelling for every value kept, so that equal content has equal bytes and one digest."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any
from uuid import UUID, uuid5

NAMESPACE = UUID("5c2b1f0e-7a53-4f0a-9d0e-2f6d1f9b8c11")
"""Of ids that follow from content: the same sheet gets the same ids in every shop."""


def canonical(value: Any) -> str:  # noqa: ANN401 - whatever JSON holds
    """JSON with sorted keys and no blanks; non-finite numbers are refused.

    Raises
    ------
    ValueError
        "Out of range float values are not JSON compliant"
    """
    return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False)


def digest_of(text: str | bytes) -> str:
    """SHA-256 in hexadecimal; FIPS 180-4."""
    return hashlib.sha256(text if isinstance(text, bytes) else text.encode("utf-8")).hexdigest()


def named_id(*parts: str) -> str:
    """A UUID (version 5, RFC 9562) that follows from what it names."""
    return str(uuid5(NAMESPACE, canonical(list(parts))))


def said_of(body: Mapping[str, Any]) -> str:
    """Digest of what an entry says, whatever its id and whatever it corrects."""
    return digest_of(canonical({key: value for key, value in body.items() if key not in {"id", "supersedes"}}))
