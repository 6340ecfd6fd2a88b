"""Row 13 (API8, ASVS 13.4.2, 13.4.5): what is not set is set safely."""

import os
import stat
from pathlib import Path

import pytest
from fastapi import FastAPI
from typer.testing import CliRunner

from mendpool.admin import app as operator
from mendpool.serving import _config
from mendpool.settings import Settings
from mendpool.store.engine import make_engine
from mendpool.store.migrate import migrate
from mendpool.store.pool_store import PoolStore

from tests.api.pools import Pool


def test_it_listens_to_this_machine_alone_unless_told(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in [n for n in os.environ if n.startswith("MENDPOOL_")]:
        monkeypatch.delenv(name)
    assert Settings().host == "127.0.0.1"


@pytest.fixture
def alone(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """No setting but a database that is not there yet; its file."""
    for name in [n for n in os.environ if n.startswith("MENDPOOL_")]:
        monkeypatch.delenv(name)
    monkeypatch.setenv("MENDPOOL_DATABASE_URL", f"sqlite:///{tmp_path / 'pool.sqlite3'}")
    monkeypatch.setenv("MENDPOOL_CACHE_DIR", str(tmp_path / "cache"))
    return tmp_path / "pool.sqlite3"


USAGE, REFUSED, NO_POOL = 2, 3, 5
OTHERS = ("0.0.0.0", "::", "", "0", "192.0.2.7", "2001:db8::1", "::ffff:192.0.2.7")  # noqa: S104
HERE = ("127.0.0.1", "127.8.7.6", "::1", "localhost", "::ffff:127.0.0.1")


def serve(*words: str, code: int) -> str:
    """Begin to serve, as far as it goes without a pool; return what is said."""
    done = CliRunner().invoke(operator, ["serve", *words])
    assert done.exit_code == code, done.output
    return done.output


@pytest.mark.parametrize("host", OTHERS)
def test_other_machines_can_reach_it_only_where_a_proxy_is_said_to_be(
    host: str, alone: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = serve("--host", host, code=USAGE)
    assert "--tls-in-front" in told
    assert "127.0.0.1" in told
    assert len(told.splitlines()) == 1
    monkeypatch.setenv("MENDPOOL_HOST", host)
    assert serve(code=USAGE) == told
    # Past that question, it misses its pool.
    assert "pool init" in serve("--tls-in-front", code=NO_POOL)
    monkeypatch.setenv("MENDPOOL_TLS_IN_FRONT", "true")
    assert "pool init" in serve(code=NO_POOL)
    assert not alone.exists()


@pytest.mark.parametrize("host", HERE)
def test_this_machine_can_reach_it_without_a_word(host: str, alone: Path) -> None:
    assert "pool init" in serve("--host", host, code=NO_POOL)
    assert not alone.exists()


def test_a_name_that_stands_for_an_address_of_others_too_is_refused(
    alone: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    known = [(2, 1, 6, "", ("127.0.0.1", 0)), (2, 1, 6, "", ("192.0.2.7", 0))]
    monkeypatch.setattr("socket.getaddrinfo", lambda *_, **__: known)
    assert "--tls-in-front" in serve("--host", "barn.example", code=USAGE)
    assert not alone.exists()


def test_a_name_nobody_knows_is_refused(alone: Path) -> None:
    assert "no address" in serve("--host", "a" * 70, code=USAGE)
    assert not alone.exists()


@pytest.mark.parametrize("mode", [0o644, 0o604, 0o602, 0o666])
def test_a_pool_that_every_account_may_open_is_not_served(
    mode: int, alone: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("mendpool.serving.serve", lambda *_: True)
    assert CliRunner().invoke(operator, ["init"]).exit_code == 0
    alone.chmod(mode)
    told = serve(code=REFUSED)
    assert f"chmod o= {alone}" in told
    assert len(told.splitlines()) == 1
    alone.chmod(mode & 0o770)
    assert serve(code=0) == ""


def test_no_debugging_no_banner_no_log_of_addresses(pool: Pool) -> None:
    app = pool.app._app  # type: ignore[attr-defined]
    assert isinstance(app, FastAPI)
    assert not app.debug
    config = _config(pool.app, Settings(), "127.0.0.1", 0)
    assert (config.server_header, config.access_log) == (False, False)


@pytest.mark.parametrize("left_there", [False, True])
def test_a_pool_on_disk_is_for_its_owner(tmp_path: Path, left_there: bool) -> None:
    file = tmp_path / "pool.sqlite3"
    before = os.umask(0o022)
    try:
        if left_there:
            file.touch()
        migrate(f"sqlite:///{file}")
        engine = make_engine(f"sqlite:///{file}")
        engine.dispose()
    finally:
        os.umask(before)
    assert stat.S_IMODE(file.stat().st_mode) & 0o077 == 0, "others can read reports and hashes"


def test_every_pool_has_a_secret_of_its_own_and_none_is_shipped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keys = set()
    for name in ("one", "other"):
        url = f"sqlite:///{tmp_path / name}"
        monkeypatch.setenv("MENDPOOL_DATABASE_URL", url)
        assert CliRunner().invoke(operator, ["init"]).exit_code == 0
        engine = make_engine(url)
        keys.add(PoolStore(engine).pool_settings().key)
        engine.dispose()
    assert len(keys) == 2
    assert {len(key) for key in keys} == {32}
