"""Alembic's migrations: how a database came to its tables, step by step."""
