"""A pool written by hand: the part of the wire that the command meets, on a loopback port."""

import hashlib
import json
import re
import threading
from collections.abc import Callable  # noqa: TC003 - a dataclass field
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, Self
from urllib.parse import unquote

TOKEN = "mp0123456789_good-token"
PROBLEM = "application/problem+json"
_REPORT = re.compile(r"/v1/reports/([0-9a-f-]{36})")
_PHOTO = re.compile(r"/v1/reports/([0-9a-f-]{36})/photos/([0-9a-f-]{36}|[0-9a-f]{64})")
_FOLLOWUP = re.compile(r"/v1/reports/([0-9a-f-]{36})/followups/([0-9a-f-]{36})")


@dataclass
class Reply:
    status: int
    body: bytes = b""
    kind: str = "application/json"
    headers: dict[str, str] = field(default_factory=dict)


@dataclass
class Call:
    method: str
    path: str
    query: str
    body: bytes
    token: str | None

    @property
    def json(self) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(self.body)
        return found


def as_json(value: object, status: int = 200) -> Reply:
    return Reply(status, json.dumps(value).encode())


def problem(status: int, title: str = "No", detail: str = "", **more: object) -> Reply:
    body = {"type": "/docs#x", "title": title, "status": status, "detail": detail, **more}
    return Reply(status, json.dumps(body).encode(), PROBLEM)


def sign_in_page(status: int = 200) -> Reply:
    page = b"<!doctype html><title>Welcome</title><form>Sign in to the hotel network</form>"
    return Reply(status, page, "text/html; charset=utf-8")


ANSWER: dict[str, Any] = {
    "cautions": [
        {"code": "live-test", "says": "Prove the meter first.", "source": "common practice"}
    ],
    "symptoms": [{"code": "no-output", "from": "complaint", "confidence": 0.97}],
    "readings": [],
    "causes": [],
    "fixes": [],
    "get_bys": [],
    "plan": [{"do": "call", "says": "Call someone."}],
    "expected_minutes": 38.0,
    "similar": [],
    "evidence": {"reports_searched": 0, "similar": 0, "contributors": 0},
}


class FakePool:
    """Keeps reports by id as the wire says; `instead` answers in its place, where it wants."""

    def __init__(self) -> None:
        self.reports: dict[str, dict[str, Any]] = {}
        self.followups: dict[str, dict[str, Any]] = {}
        self.photos: dict[str, bytes] = {}
        self.words: set[str] = set()
        self.calls: list[Call] = []
        self.instead: Callable[[Call], Reply | None] = lambda _: None
        self.answer: dict[str, Any] = ANSWER

    def __enter__(self) -> Self:
        pool = self

        class Handler(BaseHTTPRequestHandler):
            def _serve(self) -> None:
                size = int(self.headers.get("Content-Length") or 0)
                path, _, query = self.path.partition("?")
                token = (self.headers.get("Authorization") or "").removeprefix("Bearer ")
                body = self.rfile.read(size)
                call = Call(self.command, path, query, body, token or None)
                pool.calls.append(call)
                reply = pool.instead(call) or pool.respond(call)
                self.send_response(reply.status)
                self.send_header("Content-Type", reply.kind)
                self.send_header("Content-Length", str(len(reply.body)))
                for name, value in reply.headers.items():
                    self.send_header(name, value)
                self.end_headers()
                self.wfile.write(reply.body)

            do_GET = do_PUT = do_POST = do_DELETE = _serve  # noqa: N815 - the base class's names

            def log_message(self, *_: object) -> None:
                pass

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._server.daemon_threads = True
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.01,))
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self._server.server_address[1]}"

    def respond(self, call: Call) -> Reply:
        if call.token != TOKEN:
            return problem(401, "Sign in first", "This is no member's token.")
        plain: dict[str, Callable[[], dict[str, Any]]] = {
            "/v1/ask": lambda: self.answer,
            "/v1/readings/judge": lambda: {"readings": [judged()], "together": []},
            "/v1/reports/preview": lambda: {"report": call.json, "removed": {}},
            "/v1/reports": lambda: {"items": list(self.reports.values()), "next": None},
        }
        if call.path.startswith("/v1/corrections"):
            return self._words(call)
        return as_json(plain[call.path]()) if call.path in plain else self._one(call)

    def _one(self, call: Call) -> Reply:
        photo = _PHOTO.fullmatch(call.path)
        if photo is not None and photo[1] in self.reports:
            return self._photo(photo[1], photo[2], call)
        followup, report = _FOLLOWUP.fullmatch(call.path), _REPORT.fullmatch(call.path)
        if report is not None and call.method == "PUT":
            return self._put(self.reports, report[1], call)
        named = followup or report
        if named is None or named[1] not in self.reports:
            return problem(404, "Not here", "Check the address and the id.")
        if report is None:
            return self._put(self.followups, named[2], call)
        if call.method == "DELETE":
            del self.reports[report[1]]
            return Reply(204)
        return as_json(self.reports[report[1]])

    def _photo(self, report: str, name: str, call: Call) -> Reply:
        if call.method == "GET":
            return Reply(200, self.photos[name], "image/jpeg")
        sha256 = hashlib.sha256(call.body).hexdigest()
        self.photos[sha256] = call.body
        told = {"sha256": sha256, "bytes": len(call.body), "width": 320, "height": 240}
        held = self.reports[report].setdefault("photos", [])
        if told not in held:
            held.append(told)
        return as_json({"id": name, "report": report, **told}, 201)

    def _words(self, call: Call) -> Reply:
        if call.method == "DELETE":
            self.words.discard(unquote(call.path.rpartition("/")[2]))
            return Reply(204)
        self.words |= {one["word"] for one in call.json["words"]}
        return as_json({"words": sorted(self.words)})

    def _put(self, held: dict[str, dict[str, Any]], name: str, call: Call) -> Reply:
        stored = {"id": name, **call.json}
        if name in held and held[name] != stored:
            return problem(409, "This id stands for something else")
        created = name not in held
        held[name] = stored
        return as_json(stored, 201 if created else 200)


def judged() -> dict[str, Any]:
    return {
        "quantity": "residual-voltage", "point": "output", "value": 0.4, "unit": "V",
        "verdict": "low", "low": 1.0, "high": 10.0, "source": "common practice",
        "means": "Lost.", "said": "Residual voltage: 0.4 V.",
    }  # fmt: skip
