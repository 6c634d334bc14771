"""What is computed: a line for each subject, what inspecting it came to, and whole results.

Revision ID: 0002
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the tables; carwright fills them when it opens the shop."""
    text = ("of", "title", "sort", "scale", "type", "owner", "number", "place", "words", "who", "uses")
    op.create_table(
        "standing",
        sa.Column("subject", sa.String(36), primary_key=True),
        *(sa.Column(name, sa.String(10) if name == "of" else sa.Text, nullable=False) for name in text),
        sa.Column("entries", sa.Integer, nullable=False),
        sa.Column("clock", sa.BigInteger, nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("forks", sa.Integer, nullable=False),
    )
    op.create_index("standing_of_sort", "standing", ["of", "sort", "subject"])
    op.create_index("standing_alike", "standing", ["title", "scale", "number"])
    op.create_table(
        "judged",
        sa.Column("subject", sa.String(36), _standing(), primary_key=True),
        sa.Column("history", sa.String(64), nullable=False),
        sa.Column("program", sa.String(64), nullable=False),
        sa.Column("points", sa.Float, nullable=False),
        sa.Column("out_of", sa.Float, nullable=False),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("status", "band", "route", "reasons", "due", "fault")),
        *(sa.Column(name, sa.Integer, nullable=False) for name in ("fails", "undecided", "unmeasured")),
    )
    op.create_table(
        "result",
        sa.Column("key", sa.String(64), primary_key=True),
        sa.Column("subject", sa.String(36), _standing(), nullable=False),
        sa.Column("body", sa.LargeBinary, nullable=False),
    )
    op.create_index("result_subject", "result", ["subject"])


def _standing() -> sa.ForeignKey:
    return sa.ForeignKey("standing.subject", ondelete="CASCADE")
