"""A seeded simulator of repairs whose truth is known."""
