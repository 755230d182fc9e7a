"""From ticket to balanced postings: one module for each kind, by the posting table of docs/reference/postings.md."""
