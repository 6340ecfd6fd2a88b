"""The only door to the service. Everything that can come back is a value or a FieldError.

A hotel's sign-in page is not taken for an answer: only JSON counts, and a refusal only
where it is a problem document (RFC 9457), so that a page never spoils the queue.
"""

# long because every call of the wire is a method here, each of a few lines.

import base64
import gzip
import hashlib
import json
import queue
import threading
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any, TypeVar
from urllib.parse import quote, urlsplit

import httpx

from mendpool.core.errors import Complaint
from mendpool_field.errors import (
    BadUsage,
    FieldError,
    NotMendpool,
    NotSignedIn,
    Refused,
    ServiceFailed,
    TooMany,
    Unreachable,
)
from mendpool_field.outbox import Entry
from mendpool_field.settings import Service

T = TypeVar("T")
CONNECT_S, READ_S = 5.0, 20.0
AT_ONCE_S = 0.3
"""The longest wait for the network where an answer can be had without it."""
_TRIES = 2
_REQUEST_TIMEOUT = 408
_JPEG = "image/jpeg"
_PROBLEM = "application/problem+json"


class Gateway:
    """A connection to one service.

    Args:
        pause: waits a moment, of random length, before a second try.
        transport: what carries the requests; the network unless said.
    """

    def __init__(
        self,
        service: Service,
        *,
        pause: Callable[[], None],
        transport: httpx.BaseTransport | None = None,
    ) -> None:
        headers = {"Accept": "application/json", "User-Agent": "mendpool-field"}
        if service.token is not None:
            headers["Authorization"] = f"Bearer {service.token}"
        self._url = self.url = service.url
        self._pause = pause
        self._client = httpx.Client(
            headers=headers,
            timeout=httpx.Timeout(READ_S, connect=CONNECT_S),
            transport=transport,
            # A proxy has no business between this machine and itself.
            trust_env=urlsplit(service.url).scheme == "https",
        )

    def __del__(self) -> None:
        """Let go of the connection: a command opens its gateways and forgets them."""
        client = getattr(self, "_client", None)
        if client is not None:
            client.close()

    def ask(self, question: Mapping[str, Any]) -> dict[str, Any]:
        """Return the answer to a question."""
        return self._call("POST", "/v1/ask", _json(question))

    def judge(self, request: Mapping[str, Any]) -> dict[str, Any]:
        """Return readings with their verdicts."""
        return self._call("POST", "/v1/readings/judge", _json(request))

    def preview(self, report: Mapping[str, Any]) -> dict[str, Any]:
        """Return what would be stored of a report, and what would be removed."""
        return self._call("POST", "/v1/reports/preview", _json(report))

    def send(self, entry: Entry) -> None:
        """Put an entry of the outbox; return once the service has it."""
        answer = self._call("PUT", entry.path, entry.body.encode())
        if entry.kind == "report" and answer.get("id") != entry.id:
            raise NotMendpool(self._url, httpx.codes.OK)

    def send_photo(self, entry: Entry, jpeg: bytes) -> None:
        """Put a photograph of the outbox; return once the service has it."""
        answer = self._call("PUT", entry.path, jpeg, kind=_JPEG)
        if answer.get("report") != entry.report:
            raise NotMendpool(self._url, httpx.codes.OK)

    def photo(self, report_id: str, sha256: str) -> bytes:
        """Return a photograph, checked by its hash."""
        address = f"{self._url}/v1/reports/{report_id}/photos/{sha256}"
        response = self._tried(lambda: self._client.get(address))
        if not response.is_success:
            raise self._trouble(response)
        if hashlib.sha256(response.content).hexdigest() != sha256:
            raise NotMendpool(self._url, response.status_code)
        return response.content

    def report(self, report_id: str) -> dict[str, Any]:
        """Return one report."""
        return self._call("GET", f"/v1/reports/{report_id}")

    def reports(self, filters: Mapping[str, str]) -> dict[str, Any]:
        """Return a page of reports."""
        return self._call("GET", "/v1/reports", params=filters)

    def packed(self) -> dict[str, Any]:
        """Return what the service tells of its packed feed."""
        return self._call("GET", "/v1/snapshot")

    @contextmanager
    def packed_bytes(self, name: str, start: int) -> Iterator[tuple[int, Iterator[bytes]]]:
        """Open a packed feed at a byte; gives the byte it really begins at, and the rest."""
        headers = {"Accept-Encoding": "identity"}
        if start:
            headers["Range"] = f"bytes={start}-"
        with self._streamed(f"/v1/snapshot/{name}", headers) as response:
            if _kind(response) != "application/gzip":
                raise NotMendpool(self._url, response.status_code)
            partial = response.status_code == httpx.codes.PARTIAL_CONTENT
            yield start if partial else 0, response.iter_raw()

    def changes(self, params: Mapping[str, str]) -> tuple[dict[str, Any], int]:
        """Return a page of the feed, checked by its hash, and how many bytes it took."""
        with self._streamed("/v1/changes", {"Accept-Encoding": "gzip"}, params) as response:
            content = b"".join(response.iter_raw())
            _check_digest(response, content, self._url)
            if response.headers.get("Content-Encoding") == "gzip":
                content = _unpacked(content, self._url)
            found = _parsed(content) if _kind(response) == "application/json" else None
        if found is None:
            raise NotMendpool(self._url, response.status_code)
        return found, int(response.num_bytes_downloaded)

    def withdraw(self, report_id: str, *, may_lack: bool) -> None:
        """Take a report back.

        Args:
            report_id: whole.
            may_lack: it is no error if the service never had it.
        """
        try:
            self._call("DELETE", f"/v1/reports/{report_id}")
        except Refused as refused:
            if not (may_lack and refused.status == httpx.codes.NOT_FOUND):
                raise

    def put_back(self, words: Iterable[str]) -> None:
        """Tell the stewards of words that are the trade's and that the scrubber takes."""
        told = [{"word": word, "kind": "name"} for word in words]
        self._call("POST", "/v1/corrections", _json({"words": told}))

    def take_back(self, word: str) -> None:
        """Take back such a word."""
        self._call("DELETE", f"/v1/corrections/{quote(word, safe='')}")

    def use_code(self, code: str) -> str:
        """Return the token that an invitation's code gives, this once.

        Tried once only: the code may be used up though the answer was lost.
        """
        answer = self._call("POST", "/v1/join", _json({"code": code}), tries=1)
        token = answer.get("token")
        if not isinstance(token, str):
            raise NotMendpool(self._url, httpx.codes.CREATED)
        return token

    def check_token(self) -> None:
        """Return if the service knows the token.

        Raises:
            NotSignedIn: it does not.
        """
        if "items" not in self.reports({"limit": "1"}):
            raise NotMendpool(self._url, httpx.codes.OK)

    @contextmanager
    def _streamed(
        self, path: str, headers: Mapping[str, str], params: Mapping[str, str] | None = None
    ) -> Iterator[httpx.Response]:
        try:
            with self._client.stream(
                "GET", self._url + path, headers=headers, params=params
            ) as response:
                if not response.is_success:
                    response.read()
                    raise self._trouble(response)
                yield response
        except httpx.RequestError as error:
            raise Unreachable(self._url, _why(error)) from error

    def _call(
        self,
        method: str,
        path: str,
        content: bytes | None = None,
        params: Mapping[str, str] | None = None,
        tries: int = _TRIES,
        kind: str = "application/json",
    ) -> dict[str, Any]:
        headers = {"Content-Type": kind} if content is not None else {}
        response = self._tried(
            lambda: self._client.request(
                method, self._url + path, content=content, params=params, headers=headers
            ),
            tries,
        )
        if response.is_success:
            return (
                {} if response.status_code == httpx.codes.NO_CONTENT else self._answer(response)
            )
        raise self._trouble(response)

    def _tried(self, call: Callable[[], httpx.Response], tries: int = _TRIES) -> httpx.Response:
        """Nearly every call may be made twice: questions keep nothing, a PUT names its id."""
        for left in reversed(range(tries)):
            try:
                return call()
            except (httpx.ReadError, httpx.WriteError, httpx.RemoteProtocolError) as error:
                if left == 0:
                    raise Unreachable(self._url, "the connection broke off") from error
                self._pause()
            except httpx.RequestError as error:
                raise Unreachable(self._url, _why(error)) from error
            except (httpx.InvalidURL, UnicodeError) as error:
                raise BadUsage(
                    f"{self._url} is no address that can be called.",
                    "mendpool join URL sets another.",
                ) from error
        raise AssertionError  # pragma: no cover - the last try returns or raises

    def _answer(self, response: httpx.Response) -> dict[str, Any]:
        found = _object(response) if _kind(response) == "application/json" else None
        if found is None:
            raise NotMendpool(self._url, response.status_code)
        return found

    def _trouble(self, response: httpx.Response) -> FieldError:
        status = response.status_code
        wait = _seconds(response.headers.get("Retry-After", ""))
        if status == _REQUEST_TIMEOUT or status >= httpx.codes.INTERNAL_SERVER_ERROR:
            return ServiceFailed(status, wait)
        if status == httpx.codes.TOO_MANY_REQUESTS:
            return TooMany(wait)
        found = _object(response) if _kind(response) == _PROBLEM else None
        if found is None:
            return NotMendpool(self._url, status)
        detail = _text(found.get("detail"))
        if status == httpx.codes.UNAUTHORIZED:
            return NotSignedIn(detail)
        return Refused(
            status, _text(found.get("title")), detail, _complaints(found.get("errors"))
        )


def within(seconds: float, call: Callable[[], T]) -> T:
    """Return what a call returns, if it does so in time; the call is left to itself if not.

    A timeout of the socket does not bound a name that is slow to look up; this does.

    Raises:
        Unreachable: it took longer.
    """
    box: queue.SimpleQueue[tuple[T | None, BaseException | None]] = queue.SimpleQueue()

    def work() -> None:
        try:
            box.put((call(), None))
        except BaseException as error:  # noqa: BLE001 - handed over to the one who waits
            box.put((None, error))

    threading.Thread(target=work, daemon=True).start()
    try:
        found, error = box.get(timeout=seconds)
    except queue.Empty:
        raise Unreachable("the service", f"no answer within {seconds:g} s") from None
    if error is not None:
        raise error
    return found  # type: ignore[return-value]  # no error: it is what was returned


def _json(body: Mapping[str, Any]) -> bytes:
    return json.dumps(body, ensure_ascii=False).encode()


def _kind(response: httpx.Response) -> str:
    kind: str = response.headers.get("Content-Type", "")
    return kind.partition(";")[0].strip().lower()


def _object(response: httpx.Response) -> dict[str, Any] | None:
    return _parsed(response.content)


def _check_digest(response: httpx.Response, content: bytes, url: str) -> None:
    """Hold what came to its hash (RFC 9530), where the service gives one.

    Raises:
        Unreachable: it is not what was sent; the same may be asked for again.
    """
    told = response.headers.get("Content-Digest", "")
    named = [part.strip() for part in told.split(",") if part.strip().startswith("sha-256=")]
    wanted = base64.b64encode(hashlib.sha256(content).digest()).decode()
    if named and named[0] != f"sha-256=:{wanted}:":
        raise Unreachable(url, "what came was spoilt on the way")


def _unpacked(content: bytes, url: str) -> bytes:
    try:
        return gzip.decompress(content)
    except (OSError, EOFError, zlib.error):
        raise NotMendpool(url, httpx.codes.OK) from None


def _parsed(content: bytes) -> dict[str, Any] | None:
    try:
        found = json.loads(content)
    except (ValueError, RecursionError):
        return None
    return found if isinstance(found, dict) else None


def _complaints(found: object) -> tuple[Complaint, ...]:
    if not isinstance(found, list):
        return ()
    return tuple(
        Complaint(
            _text(e.get("at")), _text(e.get("says")), _text(e.get("did_you_mean")) or None
        )
        for e in found
        if isinstance(e, dict)
    )


def _text(found: object) -> str:
    return found if isinstance(found, str) else ""


def _seconds(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() else None


def _why(error: httpx.RequestError) -> str:
    if isinstance(error, httpx.TimeoutException):
        return "no answer in time"
    if "CERTIFICATE" in str(error).upper():
        return "its certificate can't be trusted"
    if isinstance(error, httpx.ConnectError):
        return "no connection"
    return "what came back could not be read"
