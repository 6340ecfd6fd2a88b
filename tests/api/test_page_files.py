"""The page's files: what stood in the folder at start, and nothing else of the disk."""

import gzip
import json
import socket
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from mendpool._places import place_of
from mendpool.api.app import make_app
from mendpool.api.page_files import read_page
from mendpool.api.seen import Templates

from tests.api.pools import Pool, statements
from tests.api.real_server import served

FILES = {
    "index.html": "<!doctype html><title>mendpool</title>" + "<p>words</p>" * 40,
    "look.css": "body { margin: 0 }",
    "sw.js": "self.addEventListener('fetch', () => {});",
    "manifest.webmanifest": '{"name": "mendpool"}',
    "lib/dom.js": "export const h = 1;\n" * 40,
    "words/en.json": '{"ask": "Ask"}',
    "icon.svg": "<svg xmlns='http://www.w3.org/2000/svg'/>",
    ".hidden.js": "1",
    ".git/config.json": "{}",
    "notes.md": "not for anyone",
    "key.pem": "secret",
}
SERVED = {
    "/": "text/html; charset=utf-8",
    "/sw.js": "text/javascript; charset=utf-8",
    "/manifest.webmanifest": "application/manifest+json",
    "/page/look.css": "text/css; charset=utf-8",
    "/page/lib/dom.js": "text/javascript; charset=utf-8",
    "/page/words/en.json": "application/json",
    "/page/icon.svg": "image/svg+xml",
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("outside") / "phone"
    for name, text in FILES.items():
        (made / name).parent.mkdir(parents=True, exist_ok=True)
        (made / name).write_text(text, "utf-8")
    (made.parent / "beside.js").write_text("not of the page", "utf-8")
    return made


@pytest.fixture(scope="module")
def client(pool: Pool, folder: Path) -> TestClient:
    return TestClient(make_app(pool.service, phone=folder), raise_server_exceptions=False)


@pytest.mark.parametrize("address", SERVED)
def test_a_file_comes_as_what_it_is_and_is_asked_about_each_time(
    pool: Pool, client: TestClient, address: str
) -> None:
    with statements(pool.store) as sent:
        answer = client.get(address)
    assert (answer.status_code, sent) == (200, [])
    assert answer.headers["content-type"] == SERVED[address]
    assert answer.headers["cache-control"] == "no-cache"
    assert "set-cookie" not in answer.headers
    again = client.get(address, headers={"If-None-Match": answer.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert again.headers["etag"] == answer.headers["etag"]
    head = client.head(address)
    assert head.headers["etag"] == answer.headers["etag"]


def test_it_is_packed_for_whoever_can_read_that(client: TestClient) -> None:
    plain = client.get("/", headers={"Accept-Encoding": "identity"})
    assert "content-encoding" not in plain.headers
    assert plain.text == FILES["index.html"]
    for accepted in ("gzip", "br, gzip;q=0.5", "GZIP"):
        with client.stream("GET", "/", headers={"Accept-Encoding": accepted}) as answer:
            sent = b"".join(answer.iter_raw())
        assert answer.headers["content-encoding"] == "gzip"
        assert gzip.decompress(sent) == plain.content
        assert len(sent) < len(plain.content)
        assert answer.headers["etag"] == plain.headers["etag"]
        assert answer.headers["vary"] == "Accept-Encoding"
    for refused in ("gzip;q=0", "gzip; q=0.0", "xgzip"):
        answer = client.get("/", headers={"Accept-Encoding": refused})
        assert "content-encoding" not in answer.headers


@pytest.mark.parametrize(
    "address",
    [
        "/page/", "/page", "/page/index.html", "/page/sw.js", "/page/.hidden.js",
        "/page/.git/config.json", "/page/notes.md", "/page/key.pem", "/page/lib",
        "/page/lib/", "/page/LOOK.css", "/page/look.css/", "/page//look.css",
        "/page/lib/%2e%2e/look.css", "/page/%2e%2e/beside.js", "/page/..%2fbeside.js",
        "/page/..%5cbeside.js", "/page/%2fetc%2fpasswd", "/page/look.css%00", "/look.css",
    ],
)  # fmt: skip
def test_no_other_address_leads_to_a_file(client: TestClient, address: str) -> None:
    answer = client.get(address)
    assert answer.status_code == 404
    assert answer.headers["content-type"] == "application/problem+json"


def test_dots_in_an_address_as_sent_lead_nowhere(pool: Pool, folder: Path) -> None:
    with served(make_app(pool.service, phone=folder)) as url:
        host, _, port = url.removeprefix("http://").partition(":")
        for address in ("/page/../beside.js", "/page/lib/../look.css", "/../beside.js"):
            head = f"GET {address} HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
            with socket.create_connection((host, int(port)), timeout=5) as line:
                line.sendall(head.encode())
                told = b"".join(iter(lambda: line.recv(65_536), b""))
            assert told.startswith(b"HTTP/1.1 404"), address
            assert b"not of the page" not in told


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE"])
def test_a_file_is_only_read(client: TestClient, method: str) -> None:
    for address in ("/", "/page/look.css"):
        answer = client.request(method, address)
        assert answer.status_code == 405
        assert answer.headers["allow"] == "GET, HEAD"


def test_a_file_that_comes_later_is_not_there(client: TestClient, folder: Path) -> None:
    late = folder / "late.js"
    late.write_text("1", "utf-8")
    try:
        assert client.get("/page/late.js").status_code == 404
    finally:
        late.unlink()


def test_the_worker_is_told_what_to_keep_and_rules_over_all(
    client: TestClient, folder: Path
) -> None:
    answer = client.get("/sw.js")
    assert answer.headers["service-worker-allowed"] == "/"
    first, _, rest = answer.text.partition("\n")
    assert rest == FILES["sw.js"]
    assert first.startswith("self.PAGE = ")
    told = json.loads(first.removeprefix("self.PAGE = ").removesuffix(";"))
    assert told["version"] == read_page(folder).version
    assert sorted(told["files"]) == sorted(set(SERVED) - {"/sw.js"})
    for address in told["files"]:
        assert client.get(address).status_code == 200


@pytest.mark.parametrize("name", ["lib/dom.js", "sw.js", "index.html"])
def test_any_changed_file_is_another_version_and_another_worker(
    tmp_path: Path, name: str
) -> None:
    for one, text in FILES.items():
        (tmp_path / one).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / one).write_text(text, "utf-8")
    before = read_page(tmp_path)
    assert read_page(tmp_path) == before
    (tmp_path / name).write_text(FILES[name] + " ", "utf-8")
    after = read_page(tmp_path)
    assert after.version != before.version
    assert after.files["/sw.js"].tag != before.files["/sw.js"].tag


def test_a_renamed_file_is_another_version(tmp_path: Path) -> None:
    (tmp_path / "a.js").write_text("1", "utf-8")
    before = read_page(tmp_path).version
    (tmp_path / "a.js").rename(tmp_path / "b.js")
    assert read_page(tmp_path).version != before


def test_the_page_that_comes_along_is_served(pool: Pool) -> None:
    ours = read_page(place_of("phone"))
    assert "/" in ours.files
    for address, file in ours.files.items():
        answer = pool.client().get(address)
        assert (answer.status_code, answer.content) == (200, file.content)


def test_files_of_the_page_are_one_route_to_an_operator(pool: Pool) -> None:
    templates = Templates(pool.app._app)  # type: ignore[attr-defined]
    for address in ("/page/look.css", "/page/lib/dom.js", "/page/a/b/c/d"):
        assert templates.of(address) == "/page/{path:path}"
    assert templates.of("/v1/reports/x/y") == "unknown"
