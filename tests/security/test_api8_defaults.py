"""Row 13 (API8, ASVS 13.4.2, 13.4.5): what is not set is set safely."""

import os
import stat
from pathlib import Path

import pytest
from fastapi import FastAPI

from mendpool.serving import _config
from mendpool.settings import Settings
from mendpool.store.engine import make_engine
from mendpool.store.migrate import migrate

from tests.api.pools import Pool


def test_it_listens_to_this_machine_alone_unless_told(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in [n for n in os.environ if n.startswith("MENDPOOL_")]:
        monkeypatch.delenv(name)
    assert Settings().host == "127.0.0.1"


def test_no_debugging_no_banner_no_log_of_addresses(pool: Pool) -> None:
    app = pool.app._app  # type: ignore[attr-defined]
    assert isinstance(app, FastAPI)
    assert not app.debug
    config = _config(pool.app, Settings(), "127.0.0.1", 0)
    assert (config.server_header, config.access_log) == (False, False)


def test_a_pool_on_disk_is_for_its_owner(tmp_path: Path) -> None:
    file = tmp_path / "pool.sqlite3"
    before = os.umask(0o022)
    try:
        migrate(f"sqlite:///{file}")
        engine = make_engine(f"sqlite:///{file}")
        engine.dispose()
    finally:
        os.umask(before)
    assert stat.S_IMODE(file.stat().st_mode) & 0o077 == 0, "others can read reports and hashes"


def test_a_pool_has_a_secret_of_its_own_and_none_is_shipped() -> None:
    from mendpool import admin  # noqa: PLC0415

    source = Path(str(admin.__file__)).read_text("utf-8")
    assert "secrets.token_bytes(32)" in source
