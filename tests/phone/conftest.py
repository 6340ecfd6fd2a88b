"""A pool with some of the invented co-op's reports, and a phone to look at it with."""

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from mendpool.coop.reports import invented_reports
from mendpool.demo.loading import load_reports, make_members
from mendpool.demo.running import Running, command, service

from tests.phone.browser import browser
from tests.phone.hand import Hand

if TYPE_CHECKING:
    from playwright.sync_api import Browser

NO_PLAYWRIGHT = (
    "NO PLAYWRIGHT HERE: install tests/phone/constraints.txt, or these tests say nothing"
)
REPORTS = 60
ARGUMENTS = (
    "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--disable-quic",
    "--no-first-run", "--disable-background-networking", "--disable-component-update",
    "--disable-sync",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Pool:
    """A served pool: where, what its commands need, and a token of one of its members."""

    running: Running
    tokens: dict[str, str]

    @property
    def url(self) -> str:
        """Its address."""
        return self.running.url

    def say(self, *words: str, told: str = "") -> str:
        """Run `mendpool pool …` on it and return what it printed."""
        return command("pool", *words, environment=self.running.environment, told=told).stdout


@pytest.fixture(scope="session")
def pool(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Pool]:
    """Serve a pool with the first of the co-op's reports."""
    with service(tmp_path_factory.mktemp("pool")) as running:
        reports = invented_reports()[:REPORTS]
        url = running.environment["MENDPOOL_DATABASE_URL"]
        tokens = make_members(url, sorted({report.who for report in reports}))
        load_reports(running.url, tokens, reports, lambda _: None)
        yield Pool(running, tokens)


@pytest.fixture(scope="session")
def chromium() -> "Iterator[Browser]":
    """Start the browser, or skip loudly."""
    program = browser()
    try:
        from playwright.sync_api import sync_playwright  # noqa: PLC0415 - not in the default tier
    except ImportError:
        pytest.skip(NO_PLAYWRIGHT)
    with sync_playwright() as playing:
        started = playing.chromium.launch(executable_path=program, args=ARGUMENTS)
        yield started
        started.close()


@pytest.fixture(scope="session")
def album(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the folder for pictures of the views; CI keeps that of `MENDPOOL_TEST_PICTURES`."""
    named = os.environ.get("MENDPOOL_TEST_PICTURES")
    folder = Path(named) if named else tmp_path_factory.mktemp("pictures")
    folder.mkdir(parents=True, exist_ok=True)
    return folder


@pytest.fixture
def new_hand(pool: Pool, chromium: "Browser", album: Path) -> Iterator[Callable[..., Hand]]:
    """Give a maker of hands with a phone each; at the end no page may have complained."""
    hands: list[Hand] = []

    def make(**options: object) -> Hand:
        hand = Hand(chromium, pool.url, album, **options)
        hands.append(hand)
        return hand

    yield make
    complaints = [said for hand in hands for said in hand.complaints]
    for hand in hands:
        hand.close()
    assert complaints == []


@pytest.fixture
def hand(new_hand: Callable[..., Hand], pool: Pool) -> Hand:
    """Give a hand with a phone that is signed in."""
    made = new_hand()
    made.sign_in(_code(pool))
    return made


_names = iter(range(1, 10_000))


def _code(pool: Pool) -> str:
    """Make an invitation and return its code."""
    said = pool.say("invite", f"invented-{next(_names)}")
    return next(word for word in said.split() if word.startswith("in") and "_" in word)


@pytest.fixture
def new_code(pool: Pool) -> Callable[[], str]:
    """Give a maker of invitations."""
    return lambda: _code(pool)
