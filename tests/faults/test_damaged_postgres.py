"""A damaged pool on PostgreSQL is noticed, told in a sentence with what to do, never served.

By hand: rows that do not agree. By the disk: files that were cut, lost or spoilt while the
server stood still, with checksums of pages and without.
"""

from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from mendpool.core.diagnosis.engine import Engine

from tests.databases import PostgresDatabases
from tests.factories import make_id, make_report
from tests.faults.kept_pool import Kept, kept_pool
from tests.own_postgres import OwnServer, own_server

pytestmark = [pytest.mark.postgres, pytest.mark.slow]
PAGE = 8192
DAMAGED, TO_PUT_RIGHT = 5, 3
NAMED = (
    "UPDATE report SET body = jsonb_set(body::jsonb, '{note}',"
    " '\"ring Jonas Whitlow on +1 530 555 0142\"')::text WHERE seq = 5"
)
OTHER_FUEL = (
    "UPDATE report SET case_body = jsonb_set(case_body::jsonb, '{fuel}',"
    " '\"petrol\"')::text WHERE seq = 5"
)


@pytest.fixture(scope="module")
def server() -> Iterator[OwnServer]:
    """One without checksums of pages: what is cut or spoilt has to be noticed otherwise."""
    with own_server() as running:
        yield running


@pytest.fixture
def kept(
    server: OwnServer, engine: Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Kept]:
    with kept_pool(PostgresDatabases(server.server), engine, tmp_path, monkeypatch) as made:
        yield made


def refuses_to_serve(kept: Kept) -> None:
    told = kept.run("serve", "--port", "0", code=DAMAGED).output.strip()
    assert len(told.splitlines()) == 1
    assert "restore a backup" in told


def spoil(kept: Kept, server: OwnServer, relation: str, how: str) -> None:
    """Do to a file of the database, while the server stands still, what a disk does."""
    kept.sql("CHECKPOINT")
    asked = f"SELECT pg_relation_filepath({relation})"
    with kept.pool.store.engine.connect() as connection:
        file = server.data / str(connection.exec_driver_sql(asked).scalar_one())
    assert file.stat().st_size >= PAGE
    kept.let_go()
    server.stop("fast")
    whole = file.read_bytes()
    if how == "lost":
        file.unlink()
    elif how == "cut":
        file.write_bytes(whole[: len(whole) // 2 // PAGE * PAGE])
    elif how == "spoilt":
        file.write_bytes(b"\xff" * len(whole))
    else:  # one bit, in the last row of the first page
        file.write_bytes(whole[: PAGE - 9] + bytes([whole[PAGE - 9] ^ 1]) + whole[PAGE - 8 :])
    server.start()


def test_a_sound_pool_is_told_so(kept: Kept) -> None:
    kept.index()
    assert kept.check(code=0) == []


@pytest.mark.parametrize(
    ("relation", "how"),
    [
        ("report", "cut"), ("report", "lost"), ("report", "spoilt"), ("change", "cut"),
        ("followup", "cut"), ("member", "lost"), ("pk_report", "cut"), ("pk_report", "spoilt"),
    ],
)  # fmt: skip
def test_a_damaged_file_is_noticed_and_a_backup_helps(
    kept: Kept, server: OwnServer, relation: str, how: str
) -> None:
    report = kept.pool.put(make_report())
    route = f"/v1/reports/{report}/followups/{make_id()}"
    body = {"happened": "2026-11", "state": "holding"}
    assert kept.pool.client("alder").put(route, json=body).status_code == 201
    backup = kept.back_up()
    spoil(kept, server, f"'{relation}'", how)
    assert kept.check(code=DAMAGED)[0][0] == "database"
    refuses_to_serve(kept)
    kept.run("backup", str(kept.folder / "of-a-damaged-one"), code=DAMAGED)
    assert not (kept.folder / "of-a-damaged-one").exists()
    if relation in ("change", "member"):
        # It can't tell whom it shut out, or what was taken back.
        told = kept.run("restore", str(backup), "--over", code=TO_PUT_RIGHT).output
        assert "--lose-newer" in told
        kept.run("restore", str(backup), "--over", "--lose-newer")
    else:
        kept.run("restore", str(backup), "--over")
    assert kept.check(code=0) == []


def test_long_values_that_are_gone_are_noticed_by_the_check(
    kept: Kept, server: OwnServer
) -> None:
    """A photograph lies beside its row. To read them all is not for every start."""
    report = kept.pool.put(make_report())
    route = f"/v1/reports/{report}/photos/{make_id()}"
    jpeg = {"Content-Type": "image/jpeg"}
    grainy = BytesIO()  # no picture that packs to nothing
    Image.effect_noise((320, 240), 90).save(grainy, "JPEG")
    put = kept.pool.client("alder").put(route, content=grainy.getvalue(), headers=jpeg)
    assert put.status_code == 201
    beside = "(SELECT reltoastrelid FROM pg_class WHERE oid = 'photo'::regclass)"
    spoil(kept, server, beside, "cut")
    assert kept.check(code=DAMAGED)[0][0] == "database"


def test_with_checksums_a_single_bit_is_noticed(
    engine: Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As in the composition."""
    with (
        own_server(sums=True) as server,
        kept_pool(PostgresDatabases(server.server), engine, tmp_path, monkeypatch) as kept,
    ):
        spoil(kept, server, "'report'", "bit")
        assert kept.check(code=DAMAGED)[0][0] == "database"
        refuses_to_serve(kept)


@pytest.mark.parametrize(
    ("spoil_it", "part", "says"),
    [
        ("DELETE FROM change WHERE seq = 7", "feed", "lines are missing"),
        ("DELETE FROM report WHERE seq = 5", "feed", "not there"),
        ("UPDATE report SET body = '{x' WHERE seq = 5", "cases", "can't be read"),
        ("UPDATE change SET kind = 'fit' WHERE seq = 5", "feed", "without a line"),
        ("UPDATE report SET derived_version = 'old' WHERE seq = 5", "cases", "another version"),
        (OTHER_FUEL, "cases", "not what the reports give"),
        (
            f"UPDATE member SET token_sha256 = '{'z' * 64}' WHERE id = 1",
            "privacy",
            "hashes",
        ),
        (NAMED, "privacy", "scrubber"),
    ],
)
def test_rows_that_do_not_agree_are_noticed(
    kept: Kept, spoil_it: str, part: str, says: str
) -> None:
    kept.sql(spoil_it)
    found = kept.check(code=TO_PUT_RIGHT)
    assert any(p == part and says in s for p, s in found), found
    assert "Whitlow" not in str(found)


def test_an_index_that_disagrees_is_noticed(kept: Kept) -> None:
    kept.index()
    terms = "jsonb_set(case_body::jsonb, '{terms,0}', '\"w:other\"')::text"
    kept.sql(f"UPDATE report SET case_body = {terms} WHERE case_body IS NOT NULL")
    assert "index" in {part for part, _ in kept.check("--quick")}


def test_a_gap_in_the_feed_is_told_as_it_is_served(
    kept: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("mendpool.serving.serve", lambda *_: True)
    assert kept.run("serve", "--port", "0").output == ""
    kept.sql("DELETE FROM change WHERE seq = 7")
    (told,) = kept.run("serve", "--port", "0").output.splitlines()
    assert "1 of" in told
    assert "mendpool pool check" in told
