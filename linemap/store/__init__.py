"""The job database: SQLite by default, PostgreSQL by URL."""
