"""What the tests of spoilt catalogues share."""

from functools import lru_cache

import pytest

from mendpool.core.catalogue import loader

_parsed_before = lru_cache(maxsize=512)(loader._parsed)


@pytest.fixture
def parsed_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Parse a file that is not spoilt once for all tests: seven eighths of a load.

    Loading changes nothing in what was parsed.
    """
    monkeypatch.setattr(loader, "_parsed", _parsed_before)
