"""Databases for whole programs: they choose the journal of a file themselves."""

import pytest

from tests.databases import Databases, of_kind


@pytest.fixture(
    scope="session", params=["wal", pytest.param("postgres", marks=pytest.mark.postgres)]
)
def databases(request: pytest.FixtureRequest) -> Databases:
    """Give a maker of databases, of each kind in turn."""
    return of_kind(request, request.param)
