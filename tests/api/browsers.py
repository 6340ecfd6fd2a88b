"""A browser with a page of the pool open, as far as the service can tell."""

from typing import Any

import httpx
from starlette.testclient import TestClient

from mendpool.api.signing_in import COOKIE

from tests.api.pools import Pool

OWN = {"Sec-Fetch-Site": "same-origin"}


class Browser:
    """Keeps its cookies, says where its page is from, and knows what the page was told."""

    def __init__(self, pool: Pool) -> None:
        self.client = TestClient(
            pool.app, base_url="https://pool.example", raise_server_exceptions=False
        )
        self.token = ""

    @property
    def cookie(self) -> str | None:
        return self.client.cookies.get(COOKIE)

    def sign_in(self, code: str, **more: str) -> httpx.Response:
        answer = self.client.post("/v1/session", json={"code": code, **more}, headers=OWN)
        if answer.status_code == 201:
            self.token = answer.json()["token"]
        return answer

    def ask(self, method: str, address: str, **more: Any) -> httpx.Response:
        """Send what the page would, with its token; `headers` go over its own."""
        own = {**OWN, "Mendpool-Token": self.token}
        headers = {k: v for k, v in (own | more.pop("headers", {})).items() if v is not None}
        return self.client.request(method, address, headers=headers, **more)

    def status(self) -> int:
        return self.ask("GET", "/v1/reports").status_code


def signed_in(pool: Pool, name: str = "alder") -> Browser:
    """Return a browser in which a member has signed in with the token."""
    browser = Browser(pool)
    assert browser.sign_in(pool.members[name].token).status_code == 201
    return browser
