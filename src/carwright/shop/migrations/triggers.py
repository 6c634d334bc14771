"""Insert only, as the database itself enforces it: no row is changed, removed or put in another's place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

SAYS = "carwright: insert only"
"""What a trigger says when it refuses."""
GUARDED: Mapping[str, tuple[str, ...]] = {
    "record": ("seq", "digest"), "writing": ("seq", "digest"), "line": ("writing ordinal",), "file": ("digest",),
}  # fmt: skip
"""Tables of revision 0001 that are only added to, and the columns by which a row is known."""


def triggers(dialect: str, tables: Mapping[str, tuple[str, ...]]) -> Iterator[str]:
    """Statements that guard tables.

    Parameters
    ----------
    dialect : str
        ``sqlite`` or ``postgresql``.
    tables : mapping
        Names of the columns, by table, of which none may be there already when a row is added. SQLite can replace a row
        on such a clash without telling a trigger of the removal.
    """
    if dialect == "postgresql":
        yield (
            "CREATE FUNCTION carwright_insert_only() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{SAYS}'; END $$"
        )
    for table, keys in tables.items():
        if dialect == "postgresql":
            yield (
                f"CREATE TRIGGER {table}_rows BEFORE UPDATE OR DELETE ON {table} "
                "FOR EACH ROW EXECUTE FUNCTION carwright_insert_only()"
            )
            yield (
                f"CREATE TRIGGER {table}_whole BEFORE TRUNCATE ON {table} "
                "FOR EACH STATEMENT EXECUTE FUNCTION carwright_insert_only()"
            )
            continue
        for event in ("UPDATE", "DELETE"):
            yield (
                f"CREATE TRIGGER {table}_no_{event.lower()} BEFORE {event} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{SAYS}'); END"
            )
        clash = " OR ".join(_same(columns) for columns in keys)
        there = f"EXISTS (SELECT 1 FROM {table} WHERE {clash})"  # noqa: S608 - our own names
        yield (
            f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} WHEN {there} "
            f"BEGIN SELECT RAISE(ABORT, '{SAYS}'); END"
        )


def _same(columns: str) -> str:
    names = columns.split()
    return "(" + " AND ".join(f"{name} = NEW.{name}" for name in names) + ")"
