"""Row 27 (ASVS 4.1.3, 15.3.4): nothing hangs on an address that the caller writes himself."""

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.serving import _config
from mendpool.settings import Settings

from tests.api.pools import Pool, running_pool
from tests.databases import Databases

SPOOFED = ("X-Forwarded-For", "X-Real-IP", "Forwarded", "True-Client-IP", "CF-Connecting-IP")


def test_forwarded_addresses_are_not_believed(pool: Pool) -> None:
    assert _config(pool.app, Settings(), "127.0.0.1", 0).proxy_headers is False


def test_a_limit_is_by_token_whatever_address_is_claimed(
    databases: Databases, catalogue: Catalogue
) -> None:
    with running_pool(databases, catalogue, requests_a_minute=3) as pool:
        seen = [
            pool.client("alder").get("/v1/workings", headers={name: f"6.6.6.{number}"})
            for number, name in enumerate(SPOOFED)
        ]
        assert [answer.status_code for answer in seen] == [200, 200, 200, 429, 429]
        assert pool.client("birch").get("/v1/workings").status_code == 200
