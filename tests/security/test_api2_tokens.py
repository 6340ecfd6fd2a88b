"""Row 2 (API2, ASVS 7.2.3, 7.4.1): 256 bits, kept as a hash, shown once, ending, revocable."""

import logging
import re
from dataclasses import replace

import pytest
from sqlalchemy import select
from starlette.testclient import TestClient

from mendpool.api.app import make_app
from mendpool.api.context import new_limiter
from mendpool.store.pool_store import PoolStore
from mendpool.store.tables import StoreTable
from mendpool.usecases.learned import Learned
from mendpool.usecases.members import invite, join, member_code, rotate_member

from tests.api.browsers import OWN, Browser, signed_in
from tests.api.pools import START, Pool
from tests.databases import Databases
from tests.engines import engine_of
from tests.factories import make_report


def test_neither_database_nor_log_holds_a_token(
    fresh: Pool, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    code = invite(fresh.store, "rowan", fresh.time[0]).code
    secrets = [join(fresh.store, code, fresh.time[0]).token, code]
    secrets += [rotate_member(fresh.store, "birch", fresh.time[0], None).token]
    secrets += [new.token for new in fresh.members.values()]
    fresh.put(make_report())
    fresh.client().get("/v1/reports", headers={"Authorization": f"Bearer {secrets[0]}x"})
    browser = Browser(fresh)
    for shown in (fresh.members["alder"].token, member_code(fresh.store, "alder", START).code):
        assert browser.sign_in(shown).status_code == 201
        assert browser.status() == 200
        assert browser.cookie is not None
        secrets += [shown, browser.cookie]
    with fresh.store.engine.connect() as connection:
        held = repr(
            [connection.execute(select(t)).all() for t in StoreTable.metadata.sorted_tables]
        )
    for secret in secrets:
        for piece in (secret, secret.partition("_")[2]):
            assert piece not in held
            assert piece not in caplog.text


def test_it_is_of_256_random_bits_and_no_two_are_alike(fresh: Pool) -> None:
    tokens = {rotate_member(fresh.store, "birch", fresh.time[0], None).token for _ in range(50)}
    assert len(tokens) == 50
    assert all(re.fullmatch(r"mp[0-9a-f]{10}_[A-Za-z0-9_-]{43}", token) for token in tokens)


def test_revoked_and_changed_tokens_stop_at_once_in_every_process(
    fresh: Pool, databases: Databases
) -> None:
    # A second process: its own engine, its own memory of who used which token.
    place = fresh.service.place
    store = PoolStore(
        databases.open(place.store.engine.url.render_as_string(hide_password=False))
    )
    learned = Learned(store, place.catalogue, engine=engine_of(place.catalogue))
    other = replace(place, store=store, learned=learned)
    app = make_app(replace(fresh.service, place=other, limiter=new_limiter()))
    try:
        with TestClient(app) as there:
            for stop in (
                lambda: fresh.store.revoke_member("alder", fresh.time[0]),
                lambda: rotate_member(fresh.store, "birch", fresh.time[0], None),
            ):
                name = (
                    "alder" if fresh.client("alder").get("/v1/reports").is_success else "birch"
                )
                headers = fresh.headers(name)
                assert there.get("/v1/reports", headers=headers).status_code == 200
                browser = signed_in(fresh, name)
                there_too = {"Cookie": f"__Host-mendpool={browser.cookie}", **OWN}
                there_too["Mendpool-Token"] = browser.token
                assert there.get("/v1/reports", headers=there_too).status_code == 200
                stop()
                assert there.get("/v1/reports", headers=there_too).status_code == 401
                assert there.get("/v1/reports", headers=headers).status_code == 401
                assert fresh.client(name).get("/v1/reports").status_code == 401
    finally:
        store.engine.dispose()
