"""The site's one file: SQLite, written by one thread, read by many."""
