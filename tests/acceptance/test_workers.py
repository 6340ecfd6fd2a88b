"""`serve --workers`: one port, one pool, whichever process answers."""

import os
import signal
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from tests.acceptance.services import Service, begin, serving
from tests.factories import make_id, make_report

MEMBERS = ("alder", "birch", "cedar")


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Service, dict[str, str]]]:
    """Give a service of two workers on an SQLite file, and its members' tokens."""
    folder = tmp_path_factory.mktemp("workers")
    url = f"sqlite:///{folder / 'pool.db'}"
    tokens = begin(url, *MEMBERS)
    with serving(url, folder, "--workers", "2") as service:
        yield service, tokens


def until_both(service: Service, seconds: float = 60) -> list[int]:
    end = time.monotonic() + seconds
    while len(found := service.workers()) != 2:
        assert time.monotonic() < end, f"{found}\n{service.log.read_text()}"
        time.sleep(0.1)
    return found


def test_a_worker_that_dies_is_started_again_and_nothing_acknowledged_is_lost(
    two: tuple[Service, dict[str, str]],
) -> None:
    service, tokens = two
    client = service.client(tokens["alder"])
    before = until_both(service)
    acknowledged = []
    for number in range(12):
        name = make_id()
        if number == 6:
            os.kill(before[0], signal.SIGKILL)
        answer = client.send("PUT", f"/v1/reports/{name}", make_report())
        if answer.status == 201:
            acknowledged.append(name)
    end = time.monotonic() + 60
    while before[0] in (found := service.workers()) or len(found) != 2:
        assert time.monotonic() < end, service.log.read_text()
        time.sleep(0.1)
    assert len(acknowledged) >= 10
    for name in acknowledged:
        assert client.send("GET", f"/v1/reports/{name}").status == 200


def test_what_one_worker_kept_the_next_request_finds_wherever_it_goes(
    two: tuple[Service, dict[str, str]],
) -> None:
    service, tokens = two
    until_both(service)
    writer, reader = service.client(tokens["alder"]), service.client(tokens["birch"])
    for number in range(10):
        name = make_id()
        body = make_report(complaint=f"no output, the {number} quinkbolt is loose")
        assert writer.send("PUT", f"/v1/reports/{name}", body).status == 201
        assert reader.send("GET", f"/v1/reports/{name}").status == 200
        newest = reader.send("GET", "/v1/reports?limit=1").body["items"][0]
        assert newest["id"] == str(name)
        asked = reader.send("POST", "/v1/ask", {"complaint": body["complaint"]})
        assert asked.status == 200
        counted = reader.send("GET", "/v1/changes?after=0&limit=1000").body["items"]
        assert [c["sequence"] for c in counted] == list(range(1, len(counted) + 1))


@pytest.mark.slow
def test_a_stop_reaches_all_workers_and_lets_them_finish(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'pool.db'}"
    token = begin(url, "alder")["alder"]
    with serving(url, tmp_path, "--workers", "2") as service:
        workers = until_both(service)
        client = service.client(token)

        def write(_: int) -> int:
            return client.send("PUT", f"/v1/reports/{make_id()}", make_report()).status

        with ThreadPoolExecutor(4) as pool:
            sent = [pool.submit(write, n) for n in range(24)]
            while not sent[3].done():
                time.sleep(0.01)
            service.process.terminate()
            told = [future.result() for future in sent]
        assert service.process.wait(30) == 0
        assert set(told) <= {201, 0, 503}
        for worker in workers:
            with pytest.raises(ProcessLookupError):
                os.kill(worker, 0)
        assert "Traceback" not in service.log.read_text()
    with serving(url, tmp_path, "--workers", "2") as service:
        changes = service.client(token).send("GET", "/v1/changes?after=0").body["items"]
        assert len([c for c in changes if c["kind"] == "report"]) >= told.count(201)


@pytest.mark.slow
def test_workers_end_when_the_one_that_watches_is_killed(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'pool.db'}"
    begin(url)
    with serving(url, tmp_path, "--workers", "2") as service:
        until_both(service)
        service.process.kill()
        service.process.wait(10)
        end = time.monotonic() + 30
        while service.client("").send("GET", "/healthz").status:
            assert time.monotonic() < end, "the workers still answer"
            time.sleep(0.1)


@pytest.mark.slow
def test_a_port_that_is_taken_is_told_with_the_code_of_a_failed_service(
    two: tuple[Service, dict[str, str]], tmp_path: Path
) -> None:
    service, _ = two
    url = f"sqlite:///{tmp_path / 'pool.db'}"
    begin(url)
    port = service.url.rsplit(":", 1)[1]
    with (
        pytest.raises(AssertionError),
        serving(url, tmp_path, "--workers", "2", "--port", port),
    ):
        pass
    assert "in use" in next(tmp_path.glob("*.log")).read_text()


@pytest.mark.slow
def test_a_members_minute_holds_across_the_workers(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'pool.db'}"
    tokens = begin(url, "alder", "birch")
    limit = {"MENDPOOL_REQUESTS_A_MINUTE": "120"}
    with serving(url, tmp_path, "--workers", "2", **limit) as service:
        until_both(service)
        alder = service.client(tokens["alder"])
        with ThreadPoolExecutor(4) as pool:
            told = list(
                pool.map(lambda _: alder.send("GET", "/v1/reports?limit=1"), range(170))
            )
        passed = [one.status for one in told].count(200)
        assert 120 <= passed <= 120 + 2 * 2 * 2
        assert all(1 <= int(one.retry_after or 0) <= 60 for one in told if one.status == 429)
        assert service.client(tokens["birch"]).send("GET", "/v1/reports").status == 200
