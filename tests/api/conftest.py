"""An application for each module of tests, over a file that was migrated once."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.store.migrate import migrate

from tests.api.pools import Pool, running_pool


@pytest.fixture(scope="session")
def migrated_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return an SQLite file with every table, to be copied and not written."""
    file = tmp_path_factory.mktemp("migrated") / "empty.db"
    migrate(f"sqlite:///{file}")
    return file


@pytest.fixture(scope="module")
def pool(
    tmp_path_factory: pytest.TempPathFactory, migrated_file: Path, catalogue: Catalogue
) -> Iterator[Pool]:
    """Give one pool to all tests of a module: each makes what it needs under new ids."""
    file = tmp_path_factory.mktemp("pool") / "pool.db"
    with running_pool(migrated_file, file, catalogue) as running:
        yield running


@pytest.fixture
def fresh(tmp_path: Path, migrated_file: Path, catalogue: Catalogue) -> Iterator[Pool]:
    """Give a pool to one test alone."""
    with running_pool(migrated_file, tmp_path / "pool.db", catalogue) as running:
        yield running
