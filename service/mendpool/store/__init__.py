"""The store room: what the pool remembers, in SQLite or PostgreSQL.

Here live the tables, the one module that opens a database, and the operations on reports,
members, the change feed and fits. It takes and returns plain values; no table row, session
or SQL leaves the room. It knows nothing of HTTP, of the index or of what a report means:
bodies are text to it.
"""
