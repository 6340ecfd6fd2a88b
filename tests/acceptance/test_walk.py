"""The walked session as it is used: the real command, the real service, a real battery."""

import json
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from mendpool.core.catalogue.catalogue import Catalogue

from tests.api.pools import Pool, running_pool
from tests.api.real_server import served
from tests.databases import Databases

INTERRUPTED = 130
COMMAND = (sys.executable, "-c", "from mendpool_field.cli import main; main()")
ASK = ("ask", "--on", "barn", "--steps")


@pytest.fixture(scope="module")
def pool(databases: Databases, catalogue: Catalogue) -> Iterator[Pool]:
    with running_pool(databases, catalogue) as running:
        yield running


@dataclass
class Person:
    """Someone at a set with a phone: types a line when asked, and reads on."""

    home: Path
    pool: Pool
    url: str
    heard: list[str] = field(default_factory=list)

    def start(self, *arguments: str) -> "subprocess.Popen[bytes]":
        kept = {k: v for k, v in os.environ.items() if not k.startswith("MENDPOOL_")}
        env = {
            **kept,
            "PYTHONPATH": os.pathsep.join(p for p in sys.path if p),
            "MENDPOOL_HOME": str(self.home),
            "MENDPOOL_CACHE_DIR": str(self.home.parent.parent / "cache"),
            "MENDPOOL_URL": self.url,
            "MENDPOOL_TOKEN": self.pool.members["alder"].token,
            "COLUMNS": "40",
        }
        pipe = subprocess.PIPE
        return subprocess.Popen(
            [*COMMAND, *arguments], stdin=pipe, stdout=pipe, stderr=pipe, env=env
        )

    def answer(self, process: "subprocess.Popen[bytes]", *lines: str) -> None:
        """Type each line once it is asked for, and wait for the question after."""
        assert process.stdin is not None
        self.wait_for_question(process)
        for line in lines:
            process.stdin.write(f"{line}\n".encode())
            process.stdin.flush()
            self.wait_for_question(process)

    def wait_for_question(self, process: "subprocess.Popen[bytes]") -> None:
        assert process.stderr is not None
        said = b""
        while not said.endswith(b"\nYour answer? "):
            one = process.stderr.read(1)
            assert one, said.decode()
            said += one
        self.heard.append(said.decode())

    def run(self, *arguments: str, typed: str = "") -> "subprocess.CompletedProcess[str]":
        with self.start(*arguments) as process:
            out, err = process.communicate(typed.encode(), timeout=60)
        return subprocess.CompletedProcess(
            arguments, process.returncode, out.decode(), err.decode()
        )

    def session(self) -> dict[str, Any]:
        path = self.home / "sessions" / "barn.json"
        found: dict[str, Any] = json.loads(path.read_bytes())
        return found


def reader(process: "subprocess.Popen[bytes]") -> threading.Thread:
    """Empty stdout, so that a full pipe never holds the command up."""
    assert process.stdout is not None
    thread = threading.Thread(target=process.stdout.read, daemon=True)
    thread.start()
    return thread


@pytest.fixture
def plate(tmp_path: Path) -> Path:
    home = tmp_path / "home"
    home.mkdir()
    barn = {"fuel": "diesel", "rated_kva": 6.5, "rated_volts": 240, "rated_hz": 60}
    (home / "sets.json").write_text(json.dumps({"barn": barn}), "utf-8")
    return home


def test_killed_in_the_middle_it_goes_on_and_the_pool_has_one_report(
    plate: Path, pool: Pool
) -> None:
    with served(pool.app) as url:
        person = Person(plate, pool, url)
        with person.start(*ASK, "runs but no power") as process:
            reader(process)
            person.answer(process, "1", "residual 0.4 V")
            process.send_signal(signal.SIGKILL)
        held = person.session()
        assert [event["kind"] for event in held["log"]] == ["saw", "read"]
        typed = "y\nd\nbrushes\nreplace\nfixed\n25\n" + "1\n\n1\nn\n\ny\n"
        done = person.run(*ASK, typed=typed)
        assert done.returncode == 0, done.stderr
        assert not (plate / "sessions" / "barn.json").exists()
    (stored,) = pool.client("alder").get("/v1/reports").json()["items"]
    assert stored["attempts"][0]["component"] == "brushes"
    assert stored["readings"][0]["quantity"] == "residual-voltage"
    assert stored["observations"] == [{"check": "walk-round", "found": "all-right"}]
    assert stored["outcome"] == "repaired"


def test_ctrl_c_ends_with_130_and_everything_kept(plate: Path, pool: Pool) -> None:
    with served(pool.app) as url:
        person = Person(plate, pool, url)
        with person.start(*ASK, "runs but no power") as process:
            reader(process)
            person.answer(process, "1")
            process.send_signal(signal.SIGINT)
            assert process.stderr is not None
            said = process.stderr.read().decode()
        assert process.returncode == INTERRUPTED
    assert "Kept, every answer" in said
    assert [event["kind"] for event in person.session()["log"]] == ["saw"]


def test_the_service_may_go_away_in_mid_session(plate: Path, pool: Pool) -> None:
    person = Person(plate, pool, "")
    with served(pool.app) as url:
        person.url = url
        process = person.start(*ASK, "runs but no power")
        reader(process)
        person.wait_for_question(process)
    with process:
        assert process.stdin is not None
        process.stdin.write(b"1\ns\ne\nopen\n\n1\n\ny\n")
        process.stdin.close()
        assert process.stderr is not None
        said = process.stderr.read().decode()
    assert process.returncode == 0, said
    assert said.count("Going on without the pool") == 1
    assert "It waits here, safely." in " ".join(said.split())
    assert len(list((plate / "outbox").glob("*.json"))) == 1
