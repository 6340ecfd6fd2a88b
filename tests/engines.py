"""The engine and the scrubber of a catalogue, made once for all tests of a process.

Using them changes neither, and making one takes longer than most tests. A test about how an
engine is made, or how it goes, makes its own.
"""

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.diagnosis.engine import Engine
from mendpool.main import Scrubber, scrubber

_engines: dict[int, tuple[Catalogue, Engine]] = {}
_scrubbers: dict[int, tuple[Catalogue, Scrubber]] = {}
"""By which catalogue it is, kept so that none gets its number: comparing takes long."""


def engine_of(catalogue: Catalogue) -> Engine:
    """Return an engine that has seen no report."""
    if id(catalogue) not in _engines:
        _engines[id(catalogue)] = catalogue, Engine(catalogue)
    return _engines[id(catalogue)][1]


def packaged_engine() -> Engine:
    """Return the engine of the packaged catalogue, for what no fixture reaches."""
    return engine_of(packaged_catalogue())


def scrubber_of(catalogue: Catalogue) -> Scrubber:
    """Return what takes names out of a report, for no region in particular."""
    if id(catalogue) not in _scrubbers:
        _scrubbers[id(catalogue)] = catalogue, scrubber(catalogue, None)
    return _scrubbers[id(catalogue)][1]
