"""Nothing that was called saved is ever lost, or held up by something else, or sent as two."""

import json
import stat
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from mendpool_field.disk import locked, write_durably
from mendpool_field.errors import (
    BadUsage,
    FieldError,
    NotMendpool,
    NotSignedIn,
    Refused,
    ServiceFailed,
    TooMany,
    Unreachable,
)
from mendpool_field.flush import Flushed, flush
from mendpool_field.outbox import Entry, Outbox

from tests.field.samples import python


def an_id(number: int) -> str:
    return f"01930000-0000-7000-8000-{number:012d}"


def report(number: int) -> Entry:
    return Entry(an_id(number), "report", an_id(number), f'{{"complaint":"ü {number}"}}')


def followup(number: int, of: int) -> Entry:
    return Entry(an_id(number), "followup", an_id(of), '{"state":"holding"}')


def send_all(outbox: Outbox, trouble: Mapping[int, FieldError]) -> tuple[Flushed, list[int]]:
    """Flush against a service that answers as told; returns what reached it, in order."""
    reached: list[int] = []

    def send(entry: Entry) -> None:
        number = int(entry.id[-12:])
        reached.append(number)
        if number in trouble:
            raise trouble[number]

    return flush(outbox, send, lambda refused: refused.title), reached


@pytest.fixture
def outbox(tmp_path: Path) -> Outbox:
    return Outbox(tmp_path)


class TestKeeping:
    def test_the_very_bytes_are_kept(self, outbox: Outbox) -> None:
        outbox.save(report(1))
        assert outbox.entries() == [report(1)]
        assert report(1).path == f"/v1/reports/{an_id(1)}"
        assert followup(2, 1).path == f"/v1/reports/{an_id(1)}/followups/{an_id(2)}"

    def test_only_its_owner_reads_it(self, outbox: Outbox, tmp_path: Path) -> None:
        outbox.save(report(1))
        (file,) = (tmp_path / "outbox").iterdir()
        assert stat.S_IMODE(file.stat().st_mode) == 0o600
        assert stat.S_IMODE(file.parent.stat().st_mode) == 0o700

    @pytest.mark.parametrize("when", ["os.fsync", "pathlib.Path.replace"])
    def test_a_kill_before_the_rename_leaves_no_half_entry(
        self, outbox: Outbox, tmp_path: Path, when: str
    ) -> None:
        outbox.save(report(1))
        module, name = when.rsplit(".", 1)
        owner = "os" if module == "os" else "pathlib.Path"
        script = (
            "import os, pathlib, signal\n"
            "from mendpool_field.outbox import Entry, Outbox\n"
            f"{owner}.{name} = lambda *_: os.kill(os.getpid(), signal.SIGKILL)\n"
            f"i = {an_id(2)!r}\n"
            f"Outbox(pathlib.Path({str(tmp_path)!r})).save(Entry(i, 'report', i, '{{}}'))\n"
            "print('saved')"
        )
        done = python("-c", script)
        assert done.returncode == -9
        assert done.stdout == ""
        assert outbox.entries() == [report(1)]
        assert outbox.damaged() == []
        assert len(list((tmp_path / "outbox").iterdir())) == 2
        now_s = (tmp_path / "outbox").stat().st_mtime
        outbox.tidy(now_s + 10)
        assert len(list((tmp_path / "outbox").iterdir())) == 2  # perhaps still being written
        outbox.tidy(now_s + 4000)
        assert len(list((tmp_path / "outbox").iterdir())) == 1

    def test_a_kill_between_sending_and_marking_sends_the_same_again(
        self, outbox: Outbox, tmp_path: Path
    ) -> None:
        outbox.save(report(1))
        script = (
            "import os, pathlib, signal\n"
            "from mendpool_field.flush import flush\n"
            "from mendpool_field.outbox import Outbox\n"
            f"box = Outbox(pathlib.Path({str(tmp_path)!r}))\n"
            "def send(entry):\n"
            "    os.write(1, entry.id.encode())\n"
            "    os.kill(os.getpid(), signal.SIGKILL)\n"
            "flush(box, send, str)"
        )
        done = python("-c", script)
        assert (done.returncode, done.stdout) == (-9, an_id(1))
        # The lock died with its holder, and the entry waits with the bytes it had.
        sent, reached = send_all(outbox, {})
        assert [entry.body for entry in sent.sent] == [report(1).body]
        assert reached == [1]
        assert outbox.entries() == []
        assert outbox.sent() == [report(1)]

    def test_a_kill_while_marking_leaves_it_in_one_place_or_both(
        self, outbox: Outbox, tmp_path: Path
    ) -> None:
        outbox.save(report(1))
        script = (
            "import os, pathlib, signal\n"
            "from mendpool_field.outbox import Outbox\n"
            f"box = Outbox(pathlib.Path({str(tmp_path)!r}))\n"
            "pathlib.Path.unlink = lambda *_, **__: os.kill(os.getpid(), signal.SIGKILL)\n"
            "box.mark_sent(box.waiting()[0])"
        )
        assert python("-c", script).returncode == -9
        assert outbox.waiting() == outbox.sent() == [report(1)]
        send_all(outbox, {})
        assert outbox.waiting() == []
        assert outbox.sent() == [report(1)]

    def test_a_full_disk_changes_nothing(self, tmp_path: Path) -> None:
        target = tmp_path / "kept.json"
        write_durably(target, b"old")
        script = (
            "import pathlib, resource, signal\n"
            "from mendpool_field.disk import write_durably\n"
            "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
            "resource.setrlimit(resource.RLIMIT_FSIZE, (10, 10))\n"
            f"try: write_durably(pathlib.Path({str(target)!r}), b'far too much for it')\n"
            "except OSError as error: print(error.strerror)"
        )
        assert python("-c", script).stdout == "File too large\n"
        assert target.read_bytes() == b"old"
        assert list(tmp_path.iterdir()) == [target]

    def test_damage_is_told_and_left_out(self, outbox: Outbox, tmp_path: Path) -> None:
        outbox.save(report(1))
        folder = tmp_path / "outbox"
        evil = {**json.loads((folder / f"{an_id(1)}.json").read_bytes()), "id": "../../etc"}
        (folder / "a.json").write_text("{")
        (folder / "b.json").write_text("[]")
        (folder / "c.json").write_text('{"id": 1}')
        (folder / "d.json").write_text(json.dumps(evil))
        assert outbox.entries() == [report(1)]
        assert [path.name for path in outbox.damaged()] == [
            "a.json",
            "b.json",
            "c.json",
            "d.json",
        ]


class TestSending:
    def test_oldest_first(self, outbox: Outbox) -> None:
        for number in (3, 1, 2):
            outbox.save(report(number))
        done, reached = send_all(outbox, {})
        assert reached == [1, 2, 3]
        assert done.waiting == 0
        assert done.trouble is None

    @pytest.mark.parametrize(
        "trouble", [Unreachable("u", "w"), NotMendpool("u", 200), TooMany(9), NotSignedIn("")]
    )
    def test_trouble_that_meets_all_stops_with_all_queued(
        self, outbox: Outbox, trouble: FieldError
    ) -> None:
        for number in (1, 2, 3):
            outbox.save(report(number))
        done, reached = send_all(outbox, {2: trouble})
        assert reached == [1, 2]
        assert (done.waiting, done.trouble) == (2, trouble)
        assert send_all(outbox, {})[1] == [2, 3]

    def test_a_fault_of_the_service_holds_up_only_its_own(self, outbox: Outbox) -> None:
        for entry in (report(1), report(2), followup(3, 1), followup(4, 2)):
            outbox.save(entry)
        done, reached = send_all(outbox, {1: ServiceFailed(500)})
        assert reached == [1, 2, 4]
        assert done.waiting == 2
        assert isinstance(done.trouble, ServiceFailed)

    @pytest.mark.parametrize("status", [400, 404, 409, 410, 413, 422])
    def test_a_refused_one_is_parked_and_never_blocks(
        self, outbox: Outbox, status: int
    ) -> None:
        for number in (1, 2, 3):
            outbox.save(report(number))
        done, reached = send_all(outbox, {1: Refused(status, "too odd", "")})
        assert reached == [1, 2, 3]
        assert [entry.id for entry, _ in done.parked] == [an_id(1)]
        (parked,) = outbox.entries()
        assert (parked.state, parked.reason, parked.body) == (
            "parked",
            "too odd",
            report(1).body,
        )
        assert send_all(outbox, {})[1] == []
        outbox.retry(parked)
        assert send_all(outbox, {})[1] == [1]

    def test_a_forbidden_report_stops_with_all_queued(self, outbox: Outbox) -> None:
        outbox.save(report(1))
        outbox.save(report(2))
        done, reached = send_all(outbox, {1: Refused(403, "out", "")})
        assert reached == [1]
        assert (done.waiting, done.parked) == (2, [])

    def test_follow_ups_of_others_reports_do_not_block_for_good(self, outbox: Outbox) -> None:
        others = {1: Refused(403, "not yours", ""), 2: Refused(403, "not yours", "")}
        outbox.save(followup(1, 9))
        outbox.save(followup(2, 9))
        done, _ = send_all(outbox, others)
        # Alone they may mean that the member is out: everything waits.
        assert (done.waiting, done.parked) == (2, [])
        outbox.save(report(3))
        done, reached = send_all(outbox, others)
        # The report went through, so it was they that were forbidden.
        assert reached == [1, 2, 3]
        assert [entry.id for entry, _ in done.parked] == [an_id(1), an_id(2)]
        assert done.waiting == 0
        assert done.trouble is None

    def test_two_at_once_send_everything_once(self, outbox: Outbox, tmp_path: Path) -> None:
        for number in range(1, 6):
            outbox.save(report(number))
        started, go = threading.Event(), threading.Event()
        reached: list[str] = []

        def slow(entry: Entry) -> None:
            reached.append(entry.id)
            started.set()
            assert go.wait(10)

        first = threading.Thread(target=flush, args=(outbox, slow, str))
        first.start()
        assert started.wait(10)
        script = (
            "import pathlib\n"
            "from mendpool_field.flush import flush\n"
            "from mendpool_field.outbox import Outbox\n"
            f"box = Outbox(pathlib.Path({str(tmp_path)!r}))\n"
            "done = flush(box, lambda entry: print('sent', entry.id), str)\n"
            "print(done.busy, done.waiting)"
        )
        second = python("-c", script)
        go.set()
        first.join()
        assert second.stdout == "True 5\n", second.stderr
        assert reached == [an_id(number) for number in range(1, 6)]
        assert outbox.waiting() == []

    def test_a_report_can_be_kept_while_another_is_sent(self, outbox: Outbox) -> None:
        with outbox.sending() as ours:
            assert ours
            outbox.save(report(1))
        assert outbox.waiting() == [report(1)]


class TestLock:
    def test_whoever_waits_gets_it_next(self, tmp_path: Path) -> None:
        order: list[str] = []

        def other() -> None:
            with locked(tmp_path / "lock", wait=True) as held:
                order.append(f"other {held}")

        with locked(tmp_path / "lock", wait=True):
            waiting = threading.Thread(target=other)
            waiting.start()
            waiting.join(0.05)
            order.append("first")
        waiting.join()
        assert order == ["first", "other True"]


class TestNames:
    def test_a_piece_must_be_long_enough_and_ones_own(self, outbox: Outbox) -> None:
        outbox.save(report(12345))
        outbox.save(followup(777777, 12345))
        assert outbox.report_known_as("12345") == an_id(12345)
        assert outbox.report_known_as(an_id(9).upper()) == an_id(9)
        unknown: list[Any] = ["345", "777777", "zzzz", ""]
        for typed in unknown:
            with pytest.raises(BadUsage):
                outbox.report_known_as(typed)
