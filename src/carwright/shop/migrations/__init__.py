"""How the tables of a shop came to be, revision by revision, for Alembic."""
