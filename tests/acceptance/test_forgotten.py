"""What a forgotten member wrote is in no byte of the pool, its caches, a copy or a parcel."""

import gzip
import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from mendpool.api.app import make_app
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.derive import derived_version
from mendpool.index.folder import Folder
from mendpool.usecases.follow_up import forget_member
from mendpool.usecases.learned import Learned
from mendpool.usecases.ledger_folder import LedgerFolder
from mendpool.usecases.parcels_out import Written, write_parcel

from tests.acceptance.copied_pool import CopiedPool, served_with_snapshots
from tests.acceptance.test_pool_command import REFUSED, USAGE, Operator
from tests.api.pools import START, Pool, running_pool
from tests.databases import Databases
from tests.factories import make_id, make_report

CANARY = "zorvint"
OTHERS = ("birch", "cedar", "rowan")
FILED = 8


@pytest.fixture
def running(
    databases: Databases, tmp_path: Path, catalogue: Catalogue
) -> Iterator[tuple[Pool, CopiedPool, Path]]:
    """A pool that keeps its index and ledger on disk, with reports of four people."""
    caches = tmp_path / "caches"
    with _kept_on_disk(databases, caches, catalogue) as pool:
        for name in OTHERS[1:]:
            pool.join(name)
        for name in OTHERS:
            for number in range(25):
                pool.put(_said(f"{name} {number} no power since it stood"), name)
        for number in range(FILED):
            pool.put(_said(f"{CANARY} no power {number}, {CANARY} hums"), "alder")
        words = {"words": [{"word": CANARY, "kind": "name"}]}
        assert pool.client("alder").post("/v1/corrections", json=words).is_success
        learned = pool.service.place.learned
        learned.fit_if_due(START, at_once=True)
        learned.catch_up()
        with served_with_snapshots(pool, caches) as copied:
            yield pool, copied, caches


@contextmanager
def _kept_on_disk(databases: Databases, caches: Path, catalogue: Catalogue) -> Iterator[Pool]:
    with running_pool(databases, catalogue) as pool:
        derived = derived_version(catalogue)
        learned = Learned(
            pool.store,
            catalogue,
            Folder(caches / "index", f"pool {derived}"),
            ledger=LedgerFolder(caches / "ledger", derived),
        )
        place = replace(pool.service.place, learned=learned)
        pool.service = replace(pool.service, place=place)
        pool.app = make_app(pool.service)
        yield pool


def _said(complaint: str) -> dict[str, Any]:
    return make_report(complaint=complaint)


def _holding(folder: Path) -> list[str]:
    """Return the files with the canary in them, packed or plain."""
    found = []
    for file in sorted(p for p in folder.rglob("*") if p.is_file()):
        held = file.read_bytes()
        if held.startswith(b"\x1f\x8b"):
            held = gzip.decompress(held)
        if CANARY.encode() in held:
            found.append(str(file.relative_to(folder)))
    return found


def _fit(pool: Pool) -> bytes:
    fits = pool.store.changes_after(0, 10_000)
    newest = [line.fit for line in fits if line.fit is not None][-1]
    return newest.body


def _parcel(pool: Pool) -> str:
    return "".join(write_parcel(pool.store, Written()))


def test_no_byte_of_a_forgotten_member_is_left_anywhere(
    running: tuple[Pool, CopiedPool, Path], tmp_path: Path
) -> None:
    pool, copied, caches = running
    home = tmp_path / "home"
    member = copied.member(home)
    assert member.run("sync").exit_code == 0
    database = Operator(
        tmp_path / "none", pool.store.engine.url.render_as_string(hide_password=False)
    )
    # It is in each of these now, or finding it in none could not fail.
    assert CANARY.encode() in _fit(pool)
    assert CANARY.encode() in database.everything_held()
    assert CANARY in _parcel(pool)
    assert _holding(home)
    assert {file.split("/")[0] for file in _holding(caches)} >= {"snapshots"}

    assert forget_member(pool.service.place, "alder", START) == FILED

    copied.snapshots.drop_stale()  # as the command and the route do
    learned = pool.service.place.learned
    learned.catch_up()
    assert learned.settle()
    copied.snapshots.settle()
    assert member.run("sync").exit_code == 0
    assert CANARY.encode() not in _fit(pool)
    assert CANARY.encode() not in database.everything_held()
    assert CANARY not in _parcel(pool)
    assert _holding(home) == []
    assert _holding(caches) == []
    told = pool.client("birch").post(
        "/v1/ask", json={"machine": {"fuel": "diesel"}, "complaint": f"no power {CANARY}"}
    )
    assert told.json()["evidence"]["reports_searched"] == 25 * len(OTHERS)
    assert "alder" not in {m.name for m in pool.store.list_members()}
    assert pool.client("alder").get("/v1/reports").status_code == 401


@pytest.mark.slow
def test_the_operator_forgets_a_member_by_name(tmp_path: Path, databases: Databases) -> None:
    with databases.empty() as url:
        operator = Operator(tmp_path / "pool", url)
        operator.run("init")
        operator.run("member", "add", "alder")
        file = tmp_path / "alder.jsonl"
        line = {"id": str(make_id()), **_said(f"{CANARY} no power")}
        file.write_text(json.dumps(line) + "\n")
        operator.run("import", str(file), "--as", "alder")
        assert CANARY.encode() in operator.everything_held()
        asked = operator.run("member", "forget", "alder", code=USAGE)
        assert "--yes" in asked.stderr
        assert CANARY.encode() in operator.everything_held()
        assert operator.json("member", "forget", "alder", "--yes") == {"erased": 1}
        assert CANARY.encode() not in operator.everything_held()
        assert b"alder" not in operator.everything_held()
        again = operator.run("member", "forget", "alder", "--yes", code=REFUSED)
        assert "no member alder" in again.stderr
