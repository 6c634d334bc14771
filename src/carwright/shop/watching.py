"""What was written to a shop since one last looked, by whomever: this program, another one, or a merge."""

from __future__ import annotations

from sqlalchemy import func, select

from carwright.shop.schema import writing
from carwright.shop.shop import Shop


def latest_writing(shop: Shop) -> int:
    """Number of the last writing, 0 for an empty shop; it only grows."""
    with shop.reading() as connection:
        return int(connection.execute(select(func.max(writing.c.seq))).scalar() or 0)


def written_since(shop: Shop, number: int) -> tuple[int, frozenset[str]]:
    """What was written after a writing.

    Parameters
    ----------
    shop : Shop
        Where.
    number : int
        Of the last writing one knows of.

    Returns
    -------
    tuple
        Number of the last writing now, and the subjects written about.
    """
    query = select(writing.c.seq, writing.c.subject).where(writing.c.seq > number)
    with shop.reading() as connection:
        found = connection.execute(query).all()
    return max((int(row[0]) for row in found), default=number), frozenset(str(row[1]) for row in found)
