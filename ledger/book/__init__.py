"""The book: tickets become balanced postings in one SQLite file that refuses to forget."""
