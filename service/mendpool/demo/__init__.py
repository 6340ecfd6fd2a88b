"""`mendpool demo`: the whole job, for real, on an invented co-op, in under a minute."""

from mendpool.demo.command import app

__all__ = ["app"]
