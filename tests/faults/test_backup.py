"""A backup is whole or is not there; what is put back is what was there, less what was taken
back since."""

import json
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from mendpool.core.diagnosis.engine import Engine
from mendpool.store.backup import back_up, look_through
from mendpool.store.engine import make_engine
from mendpool.store.pool_store import PoolStore
from mendpool.store.served import serving_it
from mendpool.usecases.follow_up import forget_member

from tests.api.browsers import signed_in
from tests.api.pools import rows
from tests.databases import Databases
from tests.factories import make_id, make_report
from tests.faults.kept_pool import REPORTS, Kept, kept_pool


@pytest.fixture
def kept(
    databases: Databases, engine: Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Kept]:
    with kept_pool(databases, engine, tmp_path, monkeypatch) as made:
        yield made


def ids(store: PoolStore) -> set[str]:
    return {str(report.id) for report in store.reports_after(0, 10_000)}


def ids_in(file: Path) -> set[str]:
    store = PoolStore(make_engine(f"sqlite:///{file}", journal="rollback"))
    found = ids(store)
    store.engine.dispose()
    return found


def test_a_backup_is_a_pool_of_its_own_and_for_its_owner_only(kept: Kept) -> None:
    told = json.loads(kept.run("backup", str(kept.folder / "b"), "--json").stdout)
    assert told["rows"]["report"] == REPORTS
    assert (kept.folder / "b").stat().st_mode & 0o777 == 0o600
    store = PoolStore(make_engine(f"sqlite:///{kept.folder / 'b'}"))
    assert rows(store) == rows(kept.pool.store)
    assert ids(store) == ids(kept.pool.store)
    store.engine.dispose()
    assert [p.name for p in kept.folder.iterdir() if ".part" in p.name] == []


def test_backed_up_under_load_it_has_all_that_was_acknowledged_before(kept: Kept) -> None:
    stop, acknowledged = threading.Event(), []

    def write() -> None:
        while not stop.is_set():
            acknowledged.append(kept.pool.put(make_report(), "birch", make_id()))

    writer = threading.Thread(target=write)
    kept.pool.client("birch")
    writer.start()
    try:
        for number in range(3):
            while len(acknowledged) < 5 * (number + 1):
                stop.wait(0.01)
            before = set(acknowledged)
            file = kept.folder / f"b{number}"
            back_up(kept.pool.store.engine, file)
            assert before <= ids_in(file)
    finally:
        stop.set()
        writer.join()
    assert kept.check("--quick", code=0) == []


def test_what_cannot_be_written_leaves_the_backup_before_in_place(
    kept: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = kept.back_up()
    before = file.read_bytes()

    def full(_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("mendpool.store.backup._sync", full)
    told = kept.run("backup", str(file), code=5)
    assert "No space left" in told.output
    assert file.read_bytes() == before
    assert [p.name for p in kept.folder.iterdir() if ".part" in p.name] == []
    kept.run("backup", str(kept.folder / "nowhere" / "b"), code=5)


def test_the_pool_is_not_backed_up_onto_itself(kept: Kept) -> None:
    if kept.pool.store.engine.dialect.name == "sqlite":
        assert "name another file" in kept.run("backup", str(kept.file), code=3).output


def test_a_pool_with_reports_is_replaced_only_when_told(kept: Kept) -> None:
    file = kept.back_up()
    later = kept.pool.put(make_report())
    kept.let_go()
    assert "--over" in kept.run("restore", str(file), code=3).output
    assert later in ids(kept.pool.store)
    kept.let_go()
    kept.run("restore", str(file), "--over")
    assert later not in ids(kept.pool.store)
    assert kept.check(code=0) == []
    kept.pool.put(make_report())


def test_what_was_taken_back_since_stays_so(kept: Kept) -> None:
    file = kept.back_up()
    known, told_later = sorted(ids(kept.pool.store))[:2]
    alder = kept.pool.client("alder")
    assert alder.delete(f"/v1/reports/{known}").status_code == 204
    kept.let_go()
    listed = kept.folder / "taken-back"
    listed.write_text(f"{json.dumps({'kind': 'withdrawal', 'id': told_later})}\n{make_id()}\n")
    done = kept.run("restore", str(file), "--over", "--since", str(listed), "--json")
    assert json.loads(done.stdout)["withdrawn_again"] == 2
    for gone in (known, told_later):
        assert alder.get(f"/v1/reports/{gone}").status_code == 410
    assert kept.check(code=0) == []


def test_who_was_shut_out_or_forgotten_since_stays_so(kept: Kept) -> None:
    alder, birch = (kept.pool.client(name) for name in ("alder", "birch"))
    page = signed_in(kept.pool, "birch")
    file = kept.back_up()
    place, now = kept.pool.service.place, kept.pool.time[0]
    place.store.revoke_member("alder", now)
    forget_member(place, "birch", now)
    kept.let_go()
    kept.run("restore", str(file), "--over")
    assert alder.get("/v1/reports").status_code == 401
    assert birch.get("/v1/reports").status_code == 401
    assert page.status() == 401
    assert "birch" not in kept.run("member", "list").stdout
    assert "alder" in kept.run("member", "list").stdout
    # Whose access stands is signed out on every phone, and keeps the token.
    assert kept.pool.client("steward").get("/v1/reports").status_code == 200


def test_a_later_backup_tells_what_was_taken_back(kept: Kept) -> None:
    kept.pool.client("birch")
    file = kept.back_up("monday")
    gone = min(ids(kept.pool.store))
    assert kept.pool.client("alder").delete(f"/v1/reports/{gone}").status_code == 204
    kept.pool.store.revoke_member("birch", kept.pool.time[0])
    later = kept.back_up("tuesday")
    kept.let_go()
    if kept.pool.store.engine.dialect.name == "sqlite":
        kept.file.write_bytes(bytes(4096))
        Path(f"{kept.file}-wal").unlink(missing_ok=True)
    if kept.pool.store.engine.dialect.name == "sqlite":
        kept.run("restore", str(file), "--over", "--since", str(later), code=3)
    more = ("--since", str(later), "--lose-newer")
    kept.run("restore", str(file), "--over", *more)
    assert gone not in ids(kept.pool.store)
    kept.let_go()
    # It tells whom it had shut out, too.
    (birch,) = (
        line for line in kept.run("member", "list").stdout.splitlines() if "birch" in line
    )
    assert "revoked" in birch


def test_no_word_of_what_is_taken_back_again_is_left_in_the_file(kept: Kept) -> None:
    secret = "the quixotic governor"
    gone = kept.pool.put(make_report(complaint=f"{secret} hunts at no load"))
    file = kept.back_up()
    assert secret.encode() in file.read_bytes()
    assert kept.pool.client("alder").delete(f"/v1/reports/{gone}").status_code == 204
    kept.let_go()
    kept.run("restore", str(file), "--over")
    if kept.pool.store.engine.dialect.name == "sqlite":
        beside = kept.file.parent.glob(f"{kept.file.name}*")
        assert not any(secret.encode() in part.read_bytes() for part in beside)


def test_a_pool_that_is_served_is_not_replaced(kept: Kept) -> None:
    file = kept.back_up()
    kept.let_go()
    with serving_it(kept.pool.store.engine):
        if kept.pool.store.engine.dialect.name == "postgresql":
            kept.pool.store.last_seq()  # a service is connected
        assert "served" in kept.run("restore", str(file), "--over", code=3).output


@pytest.mark.parametrize("step", [1, 2])
def test_a_restore_that_breaks_off_leaves_the_old_pool_or_the_new(
    kept: Kept, monkeypatch: pytest.MonkeyPatch, step: int
) -> None:
    if kept.pool.store.engine.dialect.name == "postgresql":
        return  # one transaction there
    file = kept.back_up()
    kept.pool.put(make_report())
    old, new = ids(kept.pool.store), ids_in(file)
    kept.let_go()
    left = [step]

    def breaks_off(_: object) -> None:
        left[0] -= 1
        if not left[0]:
            raise OSError(5, "Input/output error")

    monkeypatch.setattr("mendpool.store.backup._sync", breaks_off)
    kept.run("restore", str(file), "--over", code=5)
    assert ids(kept.pool.store) == (old if step == 1 else new)
    assert kept.check("--quick", code=0) == []
    assert [p.name for p in kept.file.parent.iterdir() if ".restore" in p.name] == []


@pytest.mark.parametrize("cut", [0, 100, 5000, -1])
def test_a_backup_that_is_not_whole_is_not_put_back(kept: Kept, cut: int) -> None:
    file = kept.back_up()
    before = ids(kept.pool.store)
    whole = file.read_bytes()
    file.write_bytes(whole[: len(whole) + cut] if cut < 0 else whole[:cut])
    kept.let_go()
    told = kept.run("restore", str(file), "--over", code=5).output
    assert len(told.strip().splitlines()) == 1
    assert ids(kept.pool.store) == before


def test_a_backup_goes_into_a_new_pool(kept: Kept, monkeypatch: pytest.MonkeyPatch) -> None:
    file = kept.back_up()
    fresh = kept.folder / "new" / "pool.db"
    monkeypatch.setenv("MENDPOOL_DATABASE_URL", f"sqlite:///{fresh}")
    # There is none to ask whom it had shut out, so it is said.
    assert "member revoke NAME" in kept.run("restore", str(file)).output
    assert look_through(fresh).sha256 == look_through(file).sha256
