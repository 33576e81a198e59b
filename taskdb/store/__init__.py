"""Kept: tables, queries by noun, revisions and the journal. The only room that knows SQLAlchemy and alembic."""
