"""What one process acknowledged, the very next question to any other finds."""

import threading
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from tests.acceptance.services import Client, begin, serving
from tests.factories import make_id, make_report
from tests.postgres_server import running_server

pytestmark = [pytest.mark.slow, pytest.mark.timeout(600)]
TIMES, WRITERS = 200, 2


@pytest.fixture(
    params=[
        "workers on SQLite",
        "services on SQLite",
        pytest.param("services on PostgreSQL", marks=pytest.mark.postgres),
        pytest.param("workers on PostgreSQL", marks=pytest.mark.postgres),
    ]
)
def sides(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[tuple[Client, ...]]:
    """Give two ways into one pool: to the workers of one service, or to two services."""
    how, _, database = request.param.partition(" on ")
    with ExitStack() as open_:
        url = f"sqlite:///{tmp_path / 'pool.db'}"
        if database == "PostgreSQL":
            url = open_.enter_context(running_server()).make_database()
        token = begin(url, "alder")["alder"]
        words = ("--workers", "2") if how == "workers" else ()
        made = []
        for number in range(1 if words else 2):
            (folder := tmp_path / str(number)).mkdir()  # its own host: its own cache folder
            made.append(open_.enter_context(serving(url, folder, *words)))
        yield made[0].client(token), made[-1].client(token)


class Others(threading.Thread):
    """Somebody else who writes meanwhile."""

    def __init__(self, client: Client) -> None:
        super().__init__()
        self._client = client
        self.stopping = False
        self.kept = 0

    def run(self) -> None:
        while not self.stopping:
            path = f"/v1/reports/{make_id()}"
            self.kept += self._client.send("PUT", path, make_report()).status == 201


def test_the_next_question_finds_it(sides: tuple[Client, ...]) -> None:
    others = [Others(sides[n % 2]) for n in range(WRITERS)]
    for other in others:
        other.start()
    mine = 0
    try:
        for number in range(TIMES):
            here, there = sides[number % 2], sides[1 - number % 2]
            name = make_id()
            body = make_report(complaint="runs but nothing at the outlets")
            assert here.send("PUT", f"/v1/reports/{name}", body).status == 201
            mine += 1
            known = mine + sum(other.kept for other in others)
            asked = there.send("POST", "/v1/ask", {"complaint": "nothing at the outlets"})
            assert asked.body["evidence"]["reports_searched"] >= known
            assert there.send("GET", f"/v1/reports/{name}").status == 200
            listed = there.send("GET", "/v1/reports?limit=100").body["items"]
            assert str(name) in [one["id"] for one in listed]
    finally:
        for other in others:
            other.stopping = True
        for other in others:
            other.join()
    assert all(other.kept for other in others)
