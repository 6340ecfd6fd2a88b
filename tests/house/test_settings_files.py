"""A setting may stand in a file that a variable names: no secret in the environment."""

from pathlib import Path

import pytest

from mendpool.core.errors import MendpoolError
from mendpool.settings import Settings


def test_a_variable_that_ends_in_file_names_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("MENDPOOL_DATABASE_URL", raising=False)
    secret = tmp_path / "url"
    secret.write_text("postgresql://pool:secret@db/pool\n")
    monkeypatch.setenv("MENDPOOL_DATABASE_URL_FILE", str(secret))
    assert Settings().database_url == "postgresql://pool:secret@db/pool"
    monkeypatch.setenv("MENDPOOL_DATABASE_URL", "sqlite:///nearer")
    assert Settings().database_url == "sqlite:///nearer", "the plain variable counts first"


def test_a_file_that_is_not_there_is_told_by_the_variable(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("MENDPOOL_DATABASE_URL_FILE", str(tmp_path / "none"))
    with pytest.raises(MendpoolError, match="MENDPOOL_DATABASE_URL_FILE"):
        Settings()
