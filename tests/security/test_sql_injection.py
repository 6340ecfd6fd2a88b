"""Row 16 (ASVS 1.2.4): values are bound, and what is sorted or filtered by is from a list."""

import re

import pytest

from tests.api.pools import Pool, rows
from tests.factories import make_id, make_report
from tests.house.tree import TOP, python_files

TRIED = (
    "'",
    "''",
    '"',
    "`",
    "\\'",
    "';--",
    "' OR '1'='1",
    "1 OR 1=1",
    "') OR ('a'='a",
    "1; DROP TABLE report",
    "' UNION SELECT token_sha256 FROM member--",
    "admin'--",
    "%27%20OR%201=1",
    "0x27",
    "$$;SELECT 1;$$",
    "'; SELECT pg_sleep(5)--",
    "' AND randomblob(1000000000)--",
    "{{7*7}}",
    "${7*7}",
    "*",
    "(",
    ")",
)
TABLES = ("report", "followup", "change", "member")
_MADE_UP = re.compile(r"""(?:text|exec_driver_sql|execute)\(\s*f["']""")
# Its own names of tables and schemas, and whole numbers, go into these statements.
OF_OUR_OWN = {"service/mendpool/store/engine.py"}


@pytest.mark.parametrize("words", TRIED)
def test_sql_in_any_place_is_words(pool: Pool, words: str) -> None:
    client = pool.client("alder")
    report = pool.put(make_report(note=f"note {words} end", complaint=f"no power {words}"))
    before = rows(pool.store, TABLES)
    for name in ("symptom", "component", "fuel", "excitation", "outcome", "limit", "cursor"):
        status = client.get("/v1/reports", params={name: words}).status_code
        assert status in (400, 422), name
    assert client.get("/v1/reports", params={"q": words}).status_code in (200, 422)
    assert client.get("/v1/changes", params={"after": words}).status_code == 422
    assert client.get(f"/v1/reports/{words.replace('/', '')}").status_code == 404
    assert client.post("/v1/ask", json={"complaint": words}).status_code in (200, 422)
    assert client.put(f"/v1/reports/{make_id()}", json={"machine": {"fuel": words}}).is_error
    assert rows(pool.store, TABLES) == before
    assert client.get(f"/v1/reports/{report}").json()["note"]


def test_no_statement_is_made_of_text() -> None:
    for path in python_files("service/mendpool/store/", "service/mendpool/usecases/"):
        if path.relative_to(TOP).as_posix() in OF_OUR_OWN:
            continue
        assert not _MADE_UP.search(path.read_text("utf-8")), path.relative_to(TOP)
