"""The tables of a shop.

What was recorded stands in four of them, which are only ever added to; three more hold what can be computed again.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
)

HEAD = "0002"
"""Revision this carwright reads and writes."""

meta = MetaData()

record = Table(
    "record",
    meta,
    Column("seq", BigInteger().with_variant(Integer, "sqlite"), primary_key=True, autoincrement=False),
    Column("digest", String(64), nullable=False, unique=True),
    Column("id", String(36), nullable=False),
    Column("subject", String(36), nullable=False),
    Column("kind", String(9), nullable=False),
    Column("key", Text, nullable=False),
    Column("body", Text, nullable=False),
    Column("said", String(64), nullable=False),
    Index("record_subject", "subject"),
    Index("record_said", "said"),
)
"""Entries and statements."""

writing = Table(
    "writing",
    meta,
    Column("seq", BigInteger().with_variant(Integer, "sqlite"), primary_key=True, autoincrement=False),
    Column("digest", String(64), nullable=False, unique=True),
    Column("subject", String(36), nullable=False),
    Column("of", String(10), nullable=False),
    Column("clock", BigInteger, nullable=False),
    Column("who", Text, nullable=False),
    Column("program", Text, nullable=False),
    Index("writing_subject", "subject"),
    Index("writing_clock", "clock"),
)
"""What was recorded together."""

line = Table(
    "line",
    meta,
    Column("writing", ForeignKey("writing.seq"), primary_key=True),
    Column("ordinal", Integer, primary_key=True),
    Column("record", ForeignKey("record.seq"), nullable=False),
    Column("after", String(36), nullable=False),
    Column("before", String(36), nullable=False),
)
"""Which records a writing brought, in order."""

file = Table(
    "file",
    meta,
    Column("digest", String(64), primary_key=True),
    Column("size", BigInteger, nullable=False),
    Column("content", LargeBinary, nullable=True),
)
"""Photos and other files; their content is here on PostgreSQL, in the photo folder beside SQLite."""

RECORDED = (record, writing, line, file)
"""Tables that are only added to."""

standing = Table(
    "standing",
    meta,
    Column("subject", String(36), primary_key=True),
    Column("of", String(10), nullable=False),
    Column("title", Text, nullable=False),
    Column("sort", Text, nullable=False),
    Column("scale", Text, nullable=False),
    Column("type", Text, nullable=False),
    Column("owner", Text, nullable=False),
    Column("number", Text, nullable=False),
    Column("place", Text, nullable=False),
    Column("words", Text, nullable=False),
    Column("entries", Integer, nullable=False),
    Column("clock", BigInteger, nullable=False),
    Column("who", Text, nullable=False),
    Column("digest", String(64), nullable=False),
    Column("uses", Text, nullable=False),
    Column("forks", Integer, nullable=False),
    Index("standing_of_sort", "of", "sort", "subject"),
    Index("standing_alike", "title", "scale", "number"),
)
"""A line for each subject: what lists and searches show."""

judged = Table(
    "judged",
    meta,
    Column("subject", ForeignKey("standing.subject", ondelete="CASCADE"), primary_key=True),
    Column("history", String(64), nullable=False),
    Column("program", String(64), nullable=False),
    Column("status", Text, nullable=False),
    Column("points", Float, nullable=False),
    Column("out_of", Float, nullable=False),
    Column("band", Text, nullable=False),
    Column("route", Text, nullable=False),
    Column("reasons", Text, nullable=False),
    Column("due", Text, nullable=False),
    Column("fails", Integer, nullable=False),
    Column("undecided", Integer, nullable=False),
    Column("unmeasured", Integer, nullable=False),
    Column("fault", Text, nullable=False),
)
"""What inspecting a car came to; good as long as its history, and tables and program, have the same digests."""

result = Table(
    "result",
    meta,
    Column("key", String(64), primary_key=True),
    Column("subject", ForeignKey("standing.subject", ondelete="CASCADE"), nullable=False),
    Column("body", LargeBinary, nullable=False),
    Index("result_subject", "subject"),
)
"""Whole results, kept by what they follow from."""

COMPUTED = (standing, judged, result)
"""Tables that may be emptied and filled again."""
