"""What a small set can show at all: `possible.yaml`."""

from mendpool.core.catalogue.model import Entry


class Possible(Entry):
    """The least and the most of a quantity, in its canonical unit."""

    low: float
    high: float
