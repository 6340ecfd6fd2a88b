"""A photograph waits as durably as its report, never without it, and holds up nothing."""

import hashlib
import signal
from pathlib import Path

import pytest

from mendpool_field.errors import FieldError, NotSignedIn, Refused, ServiceFailed, TooMany
from mendpool_field.flush import Flushed, flush
from mendpool_field.outbox import Entry, Outbox

from tests.field.samples import python
from tests.field.test_outbox import an_id, followup, report, send_all

JPEG = b"\xff\xd8invented\xff\xd9"
NOW_S = 2e9  # far from now: everything is old


def photo(number: int, of: int) -> tuple[Entry, bytes]:

    told = f'{{"sha256":"{hashlib.sha256(JPEG).hexdigest()}"}}'
    return Entry(an_id(number), "photo", an_id(of), told), JPEG


@pytest.fixture
def outbox(tmp_path: Path) -> Outbox:
    return Outbox(tmp_path)


def sent(outbox: Outbox, **trouble: FieldError) -> tuple[Flushed, list[int]]:
    numbers = {int(name[1:]): e for name, e in trouble.items()}
    return send_all(outbox, numbers)


def files(tmp_path: Path) -> list[str]:
    folder = tmp_path / "outbox"
    return sorted(path.name for path in folder.iterdir()) if folder.is_dir() else []


class TestKeeping:
    def test_the_bytes_are_kept_and_known_again(self, outbox: Outbox, tmp_path: Path) -> None:
        outbox.save_with_photos(report(1), [photo(2, 1), photo(3, 1)])
        assert [e.id for e in outbox.waiting()] == [an_id(1), an_id(2), an_id(3)]
        entry = outbox.waiting()[1]
        assert entry.path == f"/v1/reports/{an_id(1)}/photos/{an_id(2)}"
        assert outbox.photo_bytes(entry) == JPEG
        (tmp_path / "outbox" / f"{an_id(2)}.jpg").write_bytes(b"spoilt")
        assert outbox.photo_bytes(entry) is None

    @pytest.mark.parametrize("after", range(12))
    def test_a_kill_at_any_write_leaves_all_or_nothing_to_send(
        self, outbox: Outbox, tmp_path: Path, after: int
    ) -> None:
        """Killed at the so-manieth flush to the disk; each file takes two or three."""
        script = (
            "import os, pathlib, signal\n"
            "from tests.field.test_outbox_photos import Outbox, photo, report\n"
            f"real, left = os.fsync, [{after}]\n"
            "def fsync(handle):\n"
            "    if not left[0]: os.kill(os.getpid(), signal.SIGKILL)\n"
            "    left[0] -= 1\n"
            "    real(handle)\n"
            "os.fsync = fsync\n"
            f"box = Outbox(pathlib.Path({str(tmp_path)!r}))\n"
            "box.save_with_photos(report(1), [photo(2, 1), photo(3, 1)])\n"
            "print('saved')"
        )
        done = python("-c", script)
        assert done.returncode in {0, -signal.SIGKILL}
        waiting = [entry.id for entry in outbox.waiting()]
        assert waiting in ([], [an_id(1), an_id(2), an_id(3)])
        if done.stdout:
            assert waiting
        if not waiting:
            outbox.tidy(NOW_S + 1e9)
            assert files(tmp_path) == []

    def test_a_fresh_one_of_no_report_is_left_to_whoever_writes_it(
        self, outbox: Outbox, tmp_path: Path
    ) -> None:
        entry, jpeg = photo(2, 1)
        outbox.save_with_photos(entry, [])
        (tmp_path / "outbox" / f"{an_id(2)}.jpg").write_bytes(jpeg)
        outbox.tidy(tmp_path.stat().st_mtime)
        assert len(files(tmp_path)) == 2
        assert outbox.waiting() == []


class TestSending:
    def test_after_its_report_and_then_the_file_is_gone(
        self, outbox: Outbox, tmp_path: Path
    ) -> None:
        outbox.save_with_photos(report(5), [photo(2, 5)])  # a clock that was set back
        assert sent(outbox)[1] == [5, 2]
        assert files(tmp_path) == []

    def test_it_waits_while_its_report_is_set_aside(self, outbox: Outbox) -> None:
        outbox.save_with_photos(report(1), [photo(2, 1)])
        outbox.save(report(3))
        done, reached = sent(outbox, n1=Refused(422, "No", "", ()))
        assert reached == [1, 3]
        assert [e.id for e, _ in done.parked] == [an_id(1)]
        assert sent(outbox)[1] == []
        fresh = outbox.mended(outbox.entries()[0], "{}", an_id(9))
        assert fresh.id == an_id(1)
        assert sent(outbox)[1] == [1, 2]

    def test_it_goes_along_when_its_report_gets_a_new_id(self, outbox: Outbox) -> None:
        outbox.save_with_photos(report(1), [photo(2, 1)])
        sent(outbox, n1=Refused(409, "Taken", "", ()))
        outbox.mended(outbox.entries()[0], "{}", an_id(9))
        assert sent(outbox)[1] == [9, 2]

    @pytest.mark.parametrize("trouble", [TooMany(3600), ServiceFailed(503)])
    def test_one_that_must_wait_holds_up_no_word(
        self, outbox: Outbox, trouble: FieldError
    ) -> None:
        outbox.save_with_photos(report(1), [photo(2, 1), photo(3, 1)])
        outbox.save(followup(4, 1))
        outbox.save(report(5))
        done, reached = sent(outbox, n2=trouble)
        assert reached == [1, 2, 4, 5]
        assert (done.waiting, done.trouble) == (2, trouble)
        assert sent(outbox)[1] == [2, 3]

    def test_one_the_service_will_not_have_is_set_aside(self, outbox: Outbox) -> None:
        outbox.save_with_photos(report(1), [photo(2, 1), photo(3, 1)])
        done, reached = sent(outbox, n2=Refused(422, "No", "", ()))
        assert reached == [1, 2, 3]
        assert [e.id for e, _ in done.parked] == [an_id(2)]

    def test_one_of_a_report_taken_back_elsewhere_is_dropped(
        self, outbox: Outbox, tmp_path: Path
    ) -> None:
        outbox.save_with_photos(report(1), [photo(2, 1)])
        sent(outbox, n2=Refused(410, "Gone", "", ()))
        assert files(tmp_path) == []

    def test_a_stale_token_stops_all_with_all_kept(self, outbox: Outbox) -> None:
        outbox.save_with_photos(report(1), [photo(2, 1)])
        done, _ = sent(outbox, n1=NotSignedIn(""))
        assert done.waiting == 2

    def test_killed_after_sending_it_is_sent_again_and_no_more(
        self, outbox: Outbox, tmp_path: Path
    ) -> None:
        outbox.save_with_photos(report(1), [photo(2, 1)])

        def send(entry: Entry) -> None:
            if entry.kind == "photo":
                raise KeyboardInterrupt  # the service has it, the answer is lost

        with pytest.raises(KeyboardInterrupt):
            flush(outbox, send, lambda refused: refused.title)
        assert sent(outbox)[1] == [2]
        assert sent(outbox)[1] == []
        assert files(tmp_path) == []


class TestDropping:
    def test_a_report_thrown_away_takes_its_own(self, outbox: Outbox, tmp_path: Path) -> None:
        outbox.save_with_photos(report(1), [photo(2, 1)])
        outbox.save_with_photos(report(3), [photo(4, 3)])
        outbox.drop(outbox.entry_known_as(an_id(1)))
        assert [e.id for e in outbox.entries()] == [an_id(3), an_id(4)]
        assert len(files(tmp_path)) == 3

    def test_one_withdrawn_takes_its_own(self, outbox: Outbox, tmp_path: Path) -> None:
        outbox.save_with_photos(report(1), [photo(2, 1)])
        sent(outbox, n2=ServiceFailed(503))
        outbox.forget_sent(an_id(1))
        assert files(tmp_path) == []
        assert outbox.sent() == []
