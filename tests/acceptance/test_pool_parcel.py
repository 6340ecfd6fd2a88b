"""A parcel as it is carried: written by one pool's command, read by another's, torn, spoilt."""

import gzip
import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.acceptance.test_pool_command import FAILED, REFUSED, Operator
from tests.databases import Databases
from tests.factories import make_id, make_report

pytestmark = pytest.mark.slow
"""Every command here is a process of its own."""


@pytest.fixture
def two(tmp_path: Path, databases: Databases) -> Iterator[tuple[Operator, Operator]]:
    """A pool with a report each of three people, and an empty one."""
    with databases.empty() as first, databases.empty() as second:
        yield _begun(
            tmp_path, Operator(tmp_path / "giver", first), Operator(tmp_path / "taker", second)
        )


def _begun(tmp_path: Path, giver: Operator, taker: Operator) -> tuple[Operator, Operator]:
    for operator in (giver, taker):
        operator.run("init")
    for name in ("alder", "birch", "cedar"):
        giver.run("member", "add", name)
        file = tmp_path / f"{name}.jsonl"
        file.write_text(json.dumps({"id": str(make_id()), **make_report()}) + "\n")
        giver.run("import", str(file), "--as", name)
    return giver, taker


@pytest.mark.slow
def test_it_is_carried_and_again_changes_nothing(
    two: tuple[Operator, Operator], tmp_path: Path
) -> None:
    giver, taker = two
    parcel = tmp_path / "parcel.gz"
    assert giver.json("parcel", "write", str(parcel)) == {"report": 3, "kept_home": 0}
    first = parcel.read_bytes()
    giver.run("parcel", "write", str(parcel))
    assert parcel.read_bytes() == first  # nothing in it tells when it was written
    assert taker.json("parcel", "read", str(parcel))["new"] == 3
    assert taker.json("parcel", "read", str(parcel)) == {
        "unchanged": 3, "left_out": 0, "whole": True,
    }  # fmt: skip
    assert giver.json("parcel", "read", str(parcel))["own"] == 3
    assert taker.run("member", "list").stdout == ""
    # They are of another pool: not for this one to give out as its own.
    given = taker.run("export")
    assert given.stdout == ""
    assert "3 reports of other pools left out" in given.stderr
    assert "parcel write" in given.stderr
    table = tmp_path / "table.csv"
    assert "3 reports of other" in taker.run("export", str(table), "--csv").stderr
    assert len(table.read_text().splitlines()) == 1
    assert giver.run("export").stderr == ""


def test_no_member_is_named_like_an_author_of_another_pool(
    two: tuple[Operator, Operator],
) -> None:
    _, taker = two
    for name in ("parcel:0199:ab", " PARCEL:me"):
        told = taker.run("member", "add", name, code=REFUSED)
        assert "can't begin with parcel:" in told.stderr
        assert told.stdout == ""
    taker.run("member", "add", "parcels")


@pytest.mark.slow
def test_one_that_broke_off_gives_what_it_has(
    two: tuple[Operator, Operator], tmp_path: Path
) -> None:
    giver, taker = two
    parcel = tmp_path / "parcel.gz"
    giver.run("parcel", "write", str(parcel))
    lines = gzip.decompress(parcel.read_bytes()).splitlines(keepends=True)
    torn = tmp_path / "torn.gz"
    torn.write_bytes(gzip.compress(b"".join(lines[:2]))[:-4])
    told = taker.run("parcel", "read", str(torn), code=REFUSED)
    assert "broke off" in told.stderr
    assert taker.json("parcel", "read", str(parcel))["new"] == 1


@pytest.mark.slow
def test_what_is_no_parcel_says_so(two: tuple[Operator, Operator], tmp_path: Path) -> None:
    _, taker = two
    file = tmp_path / "photo.jpg"
    file.write_bytes(b"\xff\xd8\xff")
    assert "no parcel" in taker.run("parcel", "read", str(file), code=FAILED).stderr
    assert "can't be read" in taker.run("parcel", "read", str(tmp_path), code=FAILED).stderr
