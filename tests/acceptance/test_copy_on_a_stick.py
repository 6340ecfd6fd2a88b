"""A copy handed to a neighbour on a stick answers as the giver's does; a bad one is refused."""

import gzip
import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool_field.own_copy import copy_of

from tests.acceptance.copied_pool import CopiedPool, copied_pool
from tests.databases import Databases
from tests.factories import make_report

QUESTION = {"machine": {"fuel": "diesel"}, "complaint": "runs but no power"}


@pytest.fixture(scope="module")
def running(
    databases: Databases, tmp_path_factory: pytest.TempPathFactory, catalogue: Catalogue
) -> Iterator[CopiedPool]:
    with copied_pool(databases, tmp_path_factory.mktemp("copied"), catalogue) as pool:
        yield pool


def test_it_is_taken_once_and_answers_as_the_givers_does(
    running: CopiedPool, tmp_path: Path, catalogue: Catalogue
) -> None:
    giver = running.member(tmp_path / "giver")
    taker = running.member(tmp_path / "taker", "alder")
    stick = str(tmp_path / "stick.gz")
    assert giver.run("copy", "write", stick).exit_code == 2  # nothing to give yet
    assert giver.run("sync").exit_code == 0
    told = giver.run("--traceback", "copy", "write", stick)
    assert told.exit_code == 0, told.output
    told = taker.run("copy", "read", stick, "--json")
    assert told.exit_code == 0, told.output
    assert json.loads(told.stdout)["new"] == json.loads(told.stdout)["reports"] > 200
    assert "nobody could tell whether this one is of your pool" in " ".join(told.stderr.split())
    answers = []
    for home in (giver.home, taker.home):
        own = copy_of(home, catalogue)
        assert own is not None
        answers.append(own.answer_bytes(QUESTION))
        own.close()
    assert answers[0] == answers[1]
    assert running.pool.client("birch").post("/v1/ask", json=QUESTION).content == answers[0]
    again = taker.run("copy", "read", stick, "--json")
    assert json.loads(again.stdout)["state"] == "older"
    assert "could tell" not in again.stderr
    # What came since is all that is left to fetch.
    running.pool.put(make_report(complaint="died in the rain"))
    assert json.loads(taker.run("sync", "--json").stdout)["copy"]["new"] == 1
    assert json.loads(taker.run("copy", "read", stick, "--json").stdout)["state"] == "older"


def test_a_torn_or_spoilt_stick_changes_nothing(running: CopiedPool, tmp_path: Path) -> None:
    giver = running.member(tmp_path / "giver")
    giver.run("sync")
    stick, bad = tmp_path / "stick.gz", tmp_path / "bad.gz"
    giver.run("copy", "write", str(stick))
    lines = gzip.decompress(stick.read_bytes()).splitlines(keepends=True)
    for spoilt in (
        stick.read_bytes()[:-40],
        gzip.compress(b"".join(lines[:-1])),
        gzip.compress(b"".join([*lines[:3], *lines[4:]])),
        gzip.compress(b"{}\n"),
        b"no copy at all",
    ):
        bad.write_bytes(spoilt)
        told = giver.run("copy", "read", str(bad))
        assert told.exit_code == 2
        assert "no whole copy" in told.stderr.replace("\n  ", " ")
    assert giver.run("find", "--offline", "--json").exit_code == 0
