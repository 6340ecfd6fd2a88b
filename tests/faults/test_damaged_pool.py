"""A damaged pool is noticed, told in a sentence with what to do, and never served."""

import json
import random
from collections.abc import Iterator
from pathlib import Path

import pytest

from mendpool.core.diagnosis.engine import Engine

from tests.databases import SqliteFiles
from tests.factories import make_report
from tests.faults.kept_pool import Kept, kept_pool

pytestmark = pytest.mark.slow
"""Every command here is a process of its own."""

PAGE = 4096
NAMED = (
    "UPDATE report SET body = json_set(body, '$.note',"
    " 'ring Jonas Whitlow on +1 530 555 0142') WHERE seq = 5"
)
DAMAGED, TO_PUT_RIGHT = 5, 3


@pytest.fixture
def kept(
    sqlite_files: SqliteFiles,
    engine: Engine,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Kept]:
    with kept_pool(sqlite_files, engine, tmp_path, monkeypatch) as made:
        yield made


def refuses_to_serve(kept: Kept) -> str:
    told = kept.run("serve", "--port", "0", code=DAMAGED).output.strip()
    assert len(told.splitlines()) == 1
    return told


def test_a_sound_pool_is_told_so(kept: Kept) -> None:
    kept.index()
    assert kept.check(code=0) == []
    assert "All is well" in kept.run("check").output


@pytest.mark.parametrize("seed", range(6))
def test_flipped_pages_are_noticed_and_a_backup_helps(kept: Kept, seed: int) -> None:
    backup = kept.back_up()
    kept.let_go()
    chance = random.Random(seed)
    spoilt = bytearray(kept.file.read_bytes())
    for page in chance.sample(range(1, len(spoilt) // PAGE), 4):
        at = page * PAGE
        spoilt[at : at + PAGE] = bytes(b ^ 0xFF for b in spoilt[at : at + PAGE])
    kept.file.write_bytes(spoilt)
    assert kept.check(code=DAMAGED)[0][0] == "database"
    assert "restore a backup" in refuses_to_serve(kept)
    kept.run("backup", str(kept.folder / "of-a-damaged-one"), code=DAMAGED)
    assert not (kept.folder / "of-a-damaged-one").exists()
    kept.run("restore", str(backup), code=TO_PUT_RIGHT)
    done = kept.run("restore", str(backup), "--over", "--lose-newer", "--json")
    assert json.loads(done.stdout)["before_there"] is True
    assert kept.check(code=0) == []


@pytest.mark.parametrize("spoilt", ["all", "members", "feed"])
def test_a_pool_that_cannot_tell_is_replaced_only_by_who_knows_what_is_lost(
    kept: Kept, spoilt: str
) -> None:
    """Whom it had shut out since would be let in again, and what was taken back be there."""
    member = kept.pool.client("alder")
    backup = kept.back_up()
    kept.pool.store.revoke_member("alder", kept.pool.time[0])
    table = {"members": "member", "feed": "change"}.get(spoilt)
    with kept.pool.store.engine.connect() as connection:
        asked = f"SELECT rootpage FROM sqlite_schema WHERE name = '{table}'"
        page = connection.exec_driver_sql(asked).scalar() if table else None
    kept.let_go()
    whole = bytearray(kept.file.read_bytes())
    first = 0 if page is None else (page - 1) * PAGE
    whole[first : first + PAGE] = bytes(PAGE)
    kept.file.write_bytes(whole)
    told = kept.run("restore", str(backup), "--over", code=TO_PUT_RIGHT).output
    assert "whom it shut out" in told
    assert "--lose-newer" in told
    assert kept.file.read_bytes() == whole
    said = kept.run("restore", str(backup), "--over", "--lose-newer").output
    assert "member revoke NAME" in said
    # What the pool could still tell stays so.
    stays_out = spoilt == "feed"
    assert member.get("/v1/reports").status_code == (401 if stays_out else 200)


@pytest.mark.parametrize("left", [0.1, 0.5, 0.9])
def test_a_cut_file_is_noticed(kept: Kept, left: float) -> None:
    kept.let_go()
    whole = kept.file.read_bytes()
    kept.file.write_bytes(whole[: int(len(whole) * left)])
    assert kept.check(code=DAMAGED)[0][0] == "database"
    assert "restore a backup" in refuses_to_serve(kept)


def test_a_zeroed_header_is_noticed(kept: Kept) -> None:
    kept.let_go()
    whole = kept.file.read_bytes()
    kept.file.write_bytes(bytes(100) + whole[100:])
    assert kept.check(code=DAMAGED)[0][0] == "database"
    assert "restore a backup" in refuses_to_serve(kept)


def test_a_log_that_is_missing_is_noticed_by_the_index(kept: Kept) -> None:
    """Without its log a database is sound and old; only the index knows that there was more."""
    kept.let_go()
    old = kept.file.read_bytes()
    kept.pool.put(make_report())
    kept.index()
    kept.let_go()
    kept.file.write_bytes(old)
    Path(f"{kept.file}-wal").unlink(missing_ok=True)
    ((part, says),) = kept.check()
    assert part == "index"
    assert "-wal" in says


def test_a_gap_in_the_feed_is_noticed(kept: Kept) -> None:
    kept.sql("DELETE FROM change WHERE seq = 7")
    found = kept.check()
    assert {part for part, _ in found} == {"feed"}
    assert "lines are missing" in found[0][1]


@pytest.mark.parametrize(
    ("spoil", "part", "says"),
    [
        ("DELETE FROM report WHERE seq = 5", "feed", "not there"),
        ("UPDATE report SET body = '{x' WHERE seq = 5", "cases", "can't be read"),
        ("UPDATE change SET kind = 'fit' WHERE seq = 5", "feed", "without a line"),
        ("UPDATE report SET derived_version = 'old' WHERE seq = 5", "cases", "another version"),
        (
            f"UPDATE member SET token_sha256 = '{'z' * 64}' WHERE id = 1",
            "privacy",
            "hashes",
        ),
        (NAMED, "privacy", "scrubber"),
    ],
)
def test_rows_that_do_not_agree_are_noticed(
    kept: Kept, spoil: str, part: str, says: str
) -> None:
    kept.sql(spoil)
    found = kept.check()
    assert any(p == part and says in s for p, s in found), found
    assert "Whitlow" not in str(found)


def test_an_index_that_disagrees_is_noticed(kept: Kept) -> None:
    kept.index()
    kept.sql("UPDATE report SET case_body = json_set(case_body, '$.terms[0]', 'w:other')")
    assert "index" in {part for part, _ in kept.check("--quick")}


def test_an_index_that_is_damaged_is_noticed(kept: Kept) -> None:
    kept.index()
    for file in (kept.folder / "cache" / "index").rglob("terms"):
        spoilt = bytearray(file.read_bytes())
        spoilt[-1] ^= 0xFF
        file.write_bytes(spoilt)
    assert kept.check() == [("index", "the index on disk is damaged")]
