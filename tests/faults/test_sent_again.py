"""A service restored from a backup gets back what members sent after it."""

import json
from pathlib import Path
from uuid import UUID

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool_field.outbox import Entry, Outbox

from tests.acceptance.copied_pool import copied_pool
from tests.databases import SqliteFiles
from tests.faults.test_sync_on_a_bad_line import backed_up, held, put_back

THIN = ("--fuel", "diesel", "--outcome", "open", "--yes")


def test_what_was_lost_is_sent_again_by_whoever_sent_it(
    sqlite_files: SqliteFiles, catalogue: Catalogue, tmp_path: Path
) -> None:
    with copied_pool(sqlite_files, tmp_path / "pool", catalogue, most=20) as running:
        member = running.member(tmp_path / "home")
        outbox = Outbox(member.home)

        def filed(words: str) -> str:
            told = member.run("report", words, "--fuel", "diesel", "--outcome", "open", "-y")
            assert "Sent." in told.stderr, told.output
            return outbox.sent()[-1].id

        early = filed("before the backup")
        assert member.run("sync").exit_code == 0
        running.pool.store.engine.dispose()
        backup = tmp_path / "backup.db"
        backed_up(running.pool.store, backup)
        synced = filed("lost, and in the copy")
        assert member.run("sync").exit_code == 0
        # One more since: no copy ever had it.
        unsynced = filed("lost, and in no copy")
        seen = member.run("followup", early, "--state", "holding")
        assert "Sent." in seen.stderr
        put_back(running, backup, catalogue, tmp_path)
        told = member.run("sync", "--json")
        assert told.exit_code == 0, told.output
        assert "no longer has 3 of yours" in told.stderr.replace("\n", " ")
        assert len(json.loads(told.stdout)["again"]) == 3
        place = running.pool.service.place
        for report in (early, synced, unsynced):
            body = place.store.get_report(UUID(report))
            assert len(body.followups) == (report == early)
        assert outbox.entries() == []
        quiet = member.run("sync", "--json")
        assert json.loads(quiet.stdout)["again"] == []
        assert {synced, unsynced} <= set(held(member.home))


def test_what_was_taken_back_meanwhile_is_forgotten(
    sqlite_files: SqliteFiles, catalogue: Catalogue, tmp_path: Path
) -> None:
    with copied_pool(sqlite_files, tmp_path / "pool", catalogue, most=20) as running:
        member = running.member(tmp_path / "home")
        member.run("report", "dead", *THIN)
        (sent,) = Outbox(member.home).sent()
        member.run("followup", sent.id, "--state", "holding")
        assert member.run("sync").exit_code == 0
        assert running.pool.client("steward").delete(
            f"/v1/reports/{sent.id}"
        ).status_code == 204  # fmt: skip
        told = member.run("sync")
        assert told.exit_code == 0, told.output
        assert "forgotten here too" in told.stderr.replace("\n", " ")
        assert Outbox(member.home).entries() == Outbox(member.home).sent() == []


def test_what_went_to_another_pool_is_not_offered_to_this_one(
    sqlite_files: SqliteFiles, catalogue: Catalogue, tmp_path: Path
) -> None:
    with copied_pool(sqlite_files, tmp_path / "pool", catalogue, most=20) as running:
        member = running.member(tmp_path / "home")
        member.run("report", "dead", *THIN)
        assert member.run("sync").exit_code == 0
        with copied_pool(sqlite_files, tmp_path / "other", catalogue, most=20) as other:
            there = other.member(member.home)
            told = there.run("sync", "--anew", "--json")
            assert json.loads(told.stdout)["again"] == []
            assert json.loads(there.run("sync", "--json").stdout)["again"] == []
            (sent,) = Outbox(member.home).sent()
            answer = other.pool.client("steward").get(f"/v1/reports/{sent.id}")
            assert answer.status_code == 404


def test_killed_half_way_it_is_in_both_places_and_sent_once_more(
    sqlite_files: SqliteFiles, catalogue: Catalogue, tmp_path: Path
) -> None:
    with copied_pool(sqlite_files, tmp_path / "pool", catalogue, most=20) as running:
        member = running.member(tmp_path / "home")
        member.run("report", "dead", *THIN)
        outbox = Outbox(member.home)
        (sent,) = outbox.sent()
        outbox.save(Entry(sent.id, sent.kind, sent.report, sent.body))
        told = member.run("sync", "--json")
        assert json.loads(told.stdout)["sent"] == [sent.id]
        assert (outbox.entries(), [entry.id for entry in outbox.sent()]) == ([], [sent.id])


def test_it_waits_like_anything_else_till_it_is_sent(tmp_path: Path) -> None:
    outbox = Outbox(tmp_path)
    report = "01a22268-5cc9-74bf-bec8-18bfc89b36ca"
    entry = Entry(report, "report", report, "{}")
    outbox.save(entry)
    outbox.mark_sent(entry, "01910000-0000-7000-8000-000000000001")
    (sent,) = outbox.sent()
    outbox.send_again(sent)
    assert (outbox.sent(), outbox.waiting()) == ([], [entry])
