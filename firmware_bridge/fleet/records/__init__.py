"""The fleet's records: SQLite by default, PostgreSQL where one machine is outgrown, one code path.

The only door to SQLAlchemy.
"""
