"""What was recorded: records, writings, their lines, and files; insert only.

Revision ID: 0001
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from carwright.shop.migrations.triggers import GUARDED, triggers

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables and their guards."""
    number = sa.BigInteger().with_variant(sa.Integer, "sqlite")
    op.create_table(
        "record",
        sa.Column("seq", number, primary_key=True, autoincrement=False),
        sa.Column("digest", sa.String(64), nullable=False, unique=True),
        sa.Column("id", sa.String(36), nullable=False),
        sa.Column("subject", sa.String(36), nullable=False),
        sa.Column("kind", sa.String(9), nullable=False),
        sa.Column("key", sa.Text, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("said", sa.String(64), nullable=False),
    )
    op.create_index("record_subject", "record", ["subject"])
    op.create_index("record_said", "record", ["said"])
    op.create_table(
        "writing",
        sa.Column("seq", number, primary_key=True, autoincrement=False),
        sa.Column("digest", sa.String(64), nullable=False, unique=True),
        sa.Column("subject", sa.String(36), nullable=False),
        sa.Column("of", sa.String(10), nullable=False),
        sa.Column("clock", sa.BigInteger, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("program", sa.Text, nullable=False),
    )
    op.create_index("writing_subject", "writing", ["subject"])
    op.create_index("writing_clock", "writing", ["clock"])
    op.create_table(
        "line",
        sa.Column("writing", number, sa.ForeignKey("writing.seq"), primary_key=True, autoincrement=False),
        sa.Column("ordinal", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("record", number, sa.ForeignKey("record.seq"), nullable=False),
        sa.Column("after", sa.String(36), nullable=False),
        sa.Column("before", sa.String(36), nullable=False),
    )
    op.create_table(
        "file",
        sa.Column("digest", sa.String(64), primary_key=True),
        sa.Column("size", sa.BigInteger, nullable=False),
        sa.Column("content", sa.LargeBinary, nullable=True),
    )
    for statement in triggers(op.get_context().dialect.name, GUARDED):
        op.execute(statement)
