"""Row 3 (ASVS 11.2.4): an unknown beginning costs what a known one does."""

import hmac
import statistics
import time
from collections.abc import Iterator
from contextlib import contextmanager
from types import ModuleType
from typing import Any

import pytest

from mendpool.api import signing_in
from mendpool.usecases import members, sessions
from mendpool.usecases.members import invite, member_code

from tests.api.browsers import OWN, Browser, signed_in
from tests.api.pools import Pool, statements

NO_CODE = "in0000000000_" + "x" * 43
UNKNOWN = "mp0000000000_" + "x" * 43


@contextmanager
def work(
    pool: Pool, monkeypatch: pytest.MonkeyPatch, comparing: ModuleType
) -> Iterator[tuple[Any, ...]]:
    """Note the lengths that a module compares and what is asked of the database."""
    compared: list[tuple[int, int]] = []
    compare = hmac.compare_digest

    def noted(one: str, other: str) -> bool:
        compared.append((len(one), len(other)))
        return compare(one, other)

    with monkeypatch.context() as patched, statements(pool.store) as sent:
        patched.setattr(comparing.hmac, "compare_digest", noted)
        yield compared, sent


def signed(pool: Pool, monkeypatch: pytest.MonkeyPatch, token: str) -> tuple[Any, ...]:
    """What is done for a token that nobody has."""
    headers = {"Authorization": f"Bearer {token}"}
    with work(pool, monkeypatch, signing_in) as done:
        assert pool.client().get("/v1/workings", headers=headers).status_code == 401
    return done


def asked(pool: Pool, monkeypatch: pytest.MonkeyPatch, code: str) -> tuple[Any, ...]:
    """What is done for a code, and what is answered."""
    with work(pool, monkeypatch, members) as done:
        answer = pool.client().post("/v1/join", json={"code": code})
    return answer.status_code, answer.text, *done


def test_the_same_is_done_for_an_unknown_one(
    pool: Pool, monkeypatch: pytest.MonkeyPatch
) -> None:
    known = pool.members["alder"].token[:-1] + "~"
    assert signed(pool, monkeypatch, known) == signed(pool, monkeypatch, UNKNOWN)
    assert signed(pool, monkeypatch, UNKNOWN)[0] == [(64, 64)]


def test_the_same_is_done_for_an_unknown_code(
    pool: Pool, monkeypatch: pytest.MonkeyPatch
) -> None:
    code = invite(pool.store, "elm", pool.time[0]).code
    wrong = code[:-1] + ("a" if code[-1] != "a" else "b")
    assert asked(pool, monkeypatch, wrong) == asked(pool, monkeypatch, NO_CODE)


def shown(pool: Pool, monkeypatch: pytest.MonkeyPatch, code: str) -> tuple[Any, ...]:
    """What is done for a code or a token that is shown to sign a browser in."""
    with work(pool, monkeypatch, sessions) as done:
        answer = Browser(pool).sign_in(code)
    return answer.status_code, answer.text, *done


def test_the_same_is_done_for_what_signs_no_browser_in(
    pool: Pool, monkeypatch: pytest.MonkeyPatch
) -> None:
    code = member_code(pool.store, "alder", pool.time[0]).code
    for known, unknown in ((code, NO_CODE), (pool.members["alder"].token, UNKNOWN)):
        wrong = known[:-1] + ("a" if known[-1] != "a" else "b")
        found = shown(pool, monkeypatch, wrong)
        assert found == shown(pool, monkeypatch, unknown)
        assert found[0] == 404


def test_the_same_is_done_for_an_unknown_session(
    pool: Pool, monkeypatch: pytest.MonkeyPatch
) -> None:
    browser = signed_in(pool)
    kept, done = browser.cookie or "", []
    wrong = kept[:-1] + ("a" if kept[-1] != "a" else "b")
    for cookie in (wrong, "se0000000000_" + "x" * 43):
        headers = {"Cookie": f"__Host-mendpool={cookie}", **OWN}
        with work(pool, monkeypatch, sessions) as worked:
            assert pool.client().get("/v1/workings", headers=headers).status_code == 401
        done.append(worked)
    assert done[0] == done[1]
    assert done[0][0] == [(64, 64)]


@pytest.mark.slow
def test_the_clock_does_not_tell_them_apart(pool: Pool) -> None:
    known = pool.members["alder"].token[:-1] + "~"
    taken: dict[str, list[float]] = {known: [], UNKNOWN: []}
    for _ in range(400):
        for token, times in taken.items():
            headers = {"Authorization": f"Bearer {token}"}
            begun = time.perf_counter()
            pool.client().get("/v1/workings", headers=headers)
            times.append(time.perf_counter() - begun)
    one, other = (statistics.median(times) for times in taken.values())
    assert 0.8 < one / other < 1.25  # a smoke test: a busy machine blurs far more than it tells
