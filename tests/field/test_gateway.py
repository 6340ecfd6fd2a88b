"""The door to the service: what goes out, and what each thing that comes back is taken for."""

import json
import time
from collections.abc import Callable
from typing import Any

import httpx
import pytest

from mendpool_field.errors import (
    FieldError,
    NotMendpool,
    NotSignedIn,
    Refused,
    ServiceFailed,
    TooMany,
    Unreachable,
)
from mendpool_field.gateway import Gateway, within
from mendpool_field.outbox import Entry
from mendpool_field.settings import Service

ID = "01930000-0000-7000-8000-000000000001"
ENTRY = Entry(ID, "report", ID, '{"complaint":"kein Strom – ü","n":1.50}')
Handler = Callable[[httpx.Request], httpx.Response]


TOKEN = "t"


def gateway(
    handler: Handler, pauses: list[int] | None = None, token: str | None = TOKEN
) -> Gateway:
    service = Service("https://pool.example/m", token)
    pause = (lambda: pauses.append(1)) if pauses is not None else (lambda: None)
    return Gateway(service, pause=pause, transport=httpx.MockTransport(handler))


def answering(status: int, **more: Any) -> Gateway:
    return gateway(lambda _: httpx.Response(status, **more))


def problem(status: int, **body: object) -> Gateway:
    headers = {"Content-Type": "application/problem+json; charset=utf-8"}
    return answering(status, content=json.dumps(body).encode(), headers=headers)


def test_the_stored_bytes_go_out_as_they_are() -> None:
    seen: list[httpx.Request] = []

    def handler(request: httpx.Request) -> httpx.Response:
        seen.append(request)
        return httpx.Response(201, json={"id": ID})

    gateway(handler).send(ENTRY)
    (request,) = seen
    assert (request.method, str(request.url)) == (
        "PUT",
        f"https://pool.example/m/v1/reports/{ID}",
    )
    assert request.content == ENTRY.body.encode()
    assert request.headers["Authorization"] == "Bearer t"
    assert request.headers["Content-Type"] == "application/json"


def test_without_a_token_none_is_sent() -> None:
    def handler(request: httpx.Request) -> httpx.Response:
        assert "Authorization" not in request.headers
        return httpx.Response(200, json={"items": []})

    gateway(handler, token=None).check_token()


def test_an_answer_about_another_report_is_no_receipt() -> None:
    with pytest.raises(NotMendpool):
        answering(200, json={"id": "another"}).send(ENTRY)


@pytest.mark.parametrize(
    "error", [httpx.ReadError, httpx.WriteError, httpx.RemoteProtocolError]
)
def test_a_reset_is_tried_once_more_after_a_pause(error: type[httpx.TransportError]) -> None:
    calls: list[int] = []
    pauses: list[int] = []

    def handler(_: httpx.Request) -> httpx.Response:
        calls.append(1)
        if len(calls) == 1:
            raise error("reset")
        return httpx.Response(200, json={"ok": 1})

    assert gateway(handler, pauses).ask({}) == {"ok": 1}
    assert (len(calls), len(pauses)) == (2, 1)


def test_a_second_reset_is_the_last() -> None:
    calls: list[int] = []

    def handler(_: httpx.Request) -> httpx.Response:
        calls.append(1)
        raise httpx.ReadError("reset")

    with pytest.raises(Unreachable, match="broke off"):
        gateway(handler).ask({})
    assert len(calls) == 2


@pytest.mark.parametrize(
    ("error", "why"),
    [
        (httpx.ConnectTimeout("x"), "no answer in time"),
        (httpx.ReadTimeout("x"), "no answer in time"),
        (httpx.ConnectError("[Errno 111] Connection refused"), "no connection"),
        (httpx.ConnectError("[SSL: CERTIFICATE_VERIFY_FAILED]"), "certificate"),
        (httpx.DecodingError("x"), "could not be read"),
    ],
)
def test_no_way_through_says_why_and_is_not_tried_again(
    error: httpx.RequestError, why: str
) -> None:
    calls: list[int] = []

    def handler(_: httpx.Request) -> httpx.Response:
        calls.append(1)
        raise error

    with pytest.raises(Unreachable, match=why):
        gateway(handler).ask({})
    assert len(calls) == 1


@pytest.mark.parametrize(
    ("status", "kind"),
    [(400, Refused), (401, NotSignedIn), (403, Refused), (404, Refused), (408, ServiceFailed),
     (409, Refused), (410, Refused), (413, Refused), (422, Refused), (429, TooMany),
     (500, ServiceFailed), (503, ServiceFailed)],
)  # fmt: skip
def test_a_problem_is_taken_for_what_it_is(status: int, kind: type[FieldError]) -> None:
    with pytest.raises(kind):
        problem(status, title="t", detail="d").report(ID)


@pytest.mark.parametrize("status", [200, 203, 301, 307, 400, 401, 403, 404, 409, 413, 422, 511])
def test_a_page_is_never_taken_for_an_answer(status: int) -> None:
    page = answering(status, text="<html>sign in</html>", headers={"Content-Type": "text/html"})
    with pytest.raises((NotMendpool, ServiceFailed)):
        page.send(ENTRY)


def test_a_redirect_is_not_followed_with_the_token() -> None:
    hosts: list[str] = []

    def handler(request: httpx.Request) -> httpx.Response:
        hosts.append(request.url.host)
        return httpx.Response(307, headers={"Location": "https://elsewhere.example/"})

    with pytest.raises(NotMendpool):
        gateway(handler).ask({})
    assert hosts == ["pool.example"]


def test_complaints_come_through_whole() -> None:
    errors = [{"at": "/readings/0/unit", "says": "no", "did_you_mean": "V"}, "odd", {"at": 3}]
    with pytest.raises(Refused) as told:
        problem(422, title="t", detail="d", errors=errors).ask({})
    first, second = told.value.errors
    assert (first.at, first.says, first.did_you_mean) == ("/readings/0/unit", "no", "V")
    assert (second.at, second.says, second.did_you_mean) == ("", "", None)


@pytest.mark.parametrize(
    ("header", "wait_s"),
    [
        ("30", 30),
        ("", None),
        ("-1", None),
        ("Wed, 21 Oct 2026 07:28:00 GMT", None),
        ("³", None),
    ],
)
def test_how_long_to_wait_is_read_where_it_is_a_number(header: str, wait_s: int | None) -> None:
    with pytest.raises(TooMany) as told:
        answering(429, headers={"Retry-After": header.encode()}).ask({})
    assert told.value.wait_s == wait_s


def test_withdrawing_what_never_arrived_is_no_error_where_that_can_be() -> None:
    problem(404, title="Not here").withdraw(ID, may_lack=True)
    with pytest.raises(Refused):
        problem(404, title="Not here").withdraw(ID, may_lack=False)
    answering(204).withdraw(ID, may_lack=False)


class TestWithin:
    def test_what_is_quick_comes_back(self) -> None:
        assert within(5, lambda: 42) == 42

    def test_what_goes_wrong_comes_back_too(self) -> None:
        def fails() -> None:
            raise NotSignedIn("x")

        with pytest.raises(NotSignedIn):
            within(5, fails)

    def test_what_hangs_is_left(self) -> None:
        started = time.perf_counter()
        with pytest.raises(Unreachable):
            within(0.05, lambda: time.sleep(2))
        assert time.perf_counter() - started < 1


def test_a_token_is_in_no_text_of_a_service() -> None:
    assert "secret" not in repr(Service("https://x", "secret"))
