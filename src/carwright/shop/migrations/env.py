"""Alembic's entry: the connection is given, and so is its transaction."""

from __future__ import annotations

from alembic import context

context.configure(connection=context.config.attributes["connection"], target_metadata=None)
context.run_migrations()
