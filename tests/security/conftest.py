"""A pool for each module of these tests, over each kind of database in turn."""

from collections.abc import Iterator

import pytest

from mendpool.core.catalogue.catalogue import Catalogue

from tests.api.pools import Pool, running_pool
from tests.databases import Databases


@pytest.fixture(scope="module")
def pool(databases: Databases, catalogue: Catalogue) -> Iterator[Pool]:
    """Give one pool to all tests of a module: each makes what it needs under new ids."""
    with running_pool(databases, catalogue) as running:
        yield running


@pytest.fixture
def fresh(databases: Databases, catalogue: Catalogue) -> Iterator[Pool]:
    """Give a pool to one test alone."""
    with running_pool(databases, catalogue) as running:
        yield running
