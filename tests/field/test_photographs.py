"""A photograph is made again here, warned about, waits with its report, and is fetched back."""

from pathlib import Path

import pytest

from tests.field.conftest import Run
from tests.field.fake_pool import FakePool, problem
from tests.field.samples import REPAIR, python, queued
from tests.pictures import CANARY, jpeg_declaring, picture, told_all


@pytest.fixture
def shot(tmp_path: Path) -> str:
    path = tmp_path / "shed.jpg"
    path.write_bytes(told_all())
    return str(path)


class TestSending:
    def test_it_goes_after_its_report_as_points_alone(
        self, joined: Run, pool: FakePool, home: Path, shot: str
    ) -> None:
        done = joined(*REPAIR, "--photo", shot, "--yes")
        assert done.exit_code == 0, done.output
        puts = [call for call in pool.calls if call.method == "PUT"]
        assert [call.path.split("/")[4:5] for call in puts] == [[], ["photos"]]
        assert CANARY not in puts[1].body
        assert puts[1].body.startswith(b"\xff\xd8")
        assert list((home / "outbox").iterdir()) == []
        kept = b"".join(path.read_bytes() for path in home.rglob("*") if path.is_file())
        assert CANARY not in kept

    def test_it_warns_in_words_and_a_no_sends_the_report_alone(
        self, joined: Run, pool: FakePool, shot: str
    ) -> None:
        done = joined(*REPAIR, "--photo", shot, typed="y\nn\n")
        assert done.exit_code == 0, done.output
        for word in ("Faces", "number plates", "letters", "shed door"):
            assert word in " ".join(done.stderr.split())
        assert len(pool.reports) == 1
        assert pool.photos == {}

    def test_enter_is_no_yes_to_a_photograph(
        self, joined: Run, pool: FakePool, shot: str
    ) -> None:
        assert joined(*REPAIR, "--photo", shot, typed="\n\n\ny\n").exit_code == 0
        assert len(pool.photos) == 1

    def test_nobody_to_ask_keeps_nothing(self, joined: Run, home: Path, shot: str) -> None:
        assert joined(*REPAIR, "--photo", shot, typed="y\n").exit_code == 2
        assert queued(home) == []

    def test_the_same_picture_twice_is_sent_once(
        self, joined: Run, pool: FakePool, shot: str
    ) -> None:
        joined(*REPAIR, "--photo", shot, "--photo", shot, "--yes")
        assert len([call for call in pool.calls if "/photos/" in call.path]) == 1


class TestRefusing:
    @pytest.mark.parametrize(
        ("content", "says"),
        [
            (b"GIF89a" + bytes(50), "it is a GIF; save it as JPEG or PNG"),
            (jpeg_declaring(60_000, 60_000), "more than 50 million points"),
            (picture()[:900], "damaged or cut short"),
        ],
    )
    def test_what_cannot_be_used_is_said_before_anything_else(
        self, joined: Run, pool: FakePool, tmp_path: Path, content: bytes, says: str
    ) -> None:
        path = tmp_path / "x.jpg"
        path.write_bytes(content)
        done = joined(*REPAIR, "--photo", str(path), "--yes")
        assert done.exit_code == 2
        assert says in " ".join(done.stderr.split())
        assert pool.calls == []

    def test_a_file_that_is_not_there_and_too_many(self, joined: Run, shot: str) -> None:
        assert "There is no file" in joined(*REPAIR, "--photo", "no.jpg", "--yes").stderr
        seven = ["--photo", shot] * 7
        assert "takes 6 photographs" in joined(*REPAIR, *seven, "--yes").stderr

    def test_without_pillow_it_says_what_to_install(self, tmp_path: Path, shot: str) -> None:
        script = (
            "import sys; sys.modules['PIL'] = None\n"
            "from mendpool_field.cli import main\n"
            f"sys.argv = ['mendpool', *{REPAIR!r}, '--photo', {shot!r}, '--yes']\n"
            "main()"
        )
        done = python("-c", script, home=tmp_path / "h")
        assert done.returncode == 2
        assert "pip install pillow" in " ".join(done.stderr.split())
        assert queued(tmp_path / "h") == []

    def test_a_report_without_photographs_needs_no_pillow(self, tmp_path: Path) -> None:
        script = (
            "import sys; sys.modules['PIL'] = None\n"
            "from mendpool_field.cli import main\n"
            f"sys.argv = ['mendpool', *{REPAIR!r}, '--yes']\n"
            "main()"
        )
        assert python("-c", script, home=tmp_path).returncode == 0


class TestShowing:
    def test_show_gives_a_link_and_saves_them(
        self, joined: Run, pool: FakePool, tmp_path: Path, shot: str
    ) -> None:
        joined(*REPAIR, "--photo", shot, "--yes")
        ((report, shown),) = pool.reports.items()
        (told,) = shown["photos"]
        done = joined("show", report, "--photos", str(tmp_path / "album"))
        assert "Photograph: 320 × 240 points" in done.stdout
        assert f"{pool.url}/v1/reports/{report}/photos/{told['sha256']}" in done.stdout
        (saved,) = (tmp_path / "album").iterdir()
        assert saved.read_bytes() == pool.photos[told["sha256"]]

    def test_a_name_that_is_no_hash_writes_nowhere(
        self, joined: Run, pool: FakePool, tmp_path: Path, shot: str
    ) -> None:
        joined(*REPAIR, "--photo", shot, "--yes")
        ((report, shown),) = pool.reports.items()
        shown["photos"] = [{"sha256": "../../escaped"}, {"sha256": 7}, "x"]
        done = joined("show", report, "--photos", str(tmp_path / "album"))
        assert done.exit_code == 0
        assert not (tmp_path / "album").exists()

    def test_other_bytes_than_the_hash_are_not_saved(
        self, joined: Run, pool: FakePool, tmp_path: Path, shot: str
    ) -> None:
        joined(*REPAIR, "--photo", shot, "--yes")
        ((report, shown),) = pool.reports.items()
        pool.photos[shown["photos"][0]["sha256"]] = picture(3)
        done = joined("show", report, "--photos", str(tmp_path / "album"))
        assert done.exit_code == 5
        assert not (tmp_path / "album").exists()


def test_one_the_pool_refuses_is_set_aside_and_told(
    joined: Run, pool: FakePool, home: Path, shot: str
) -> None:
    pool.instead = lambda call: problem(422, "No") if "/photos/" in call.path else None
    done = joined(*REPAIR, "--photo", shot, "--yes")
    assert done.exit_code == 0
    assert "A photograph of it was set aside" in " ".join(done.stderr.split())
    (entry,) = queued(home)
    assert (entry["kind"], entry["state"]) == ("photo", "parked")
    assert "photograph of" in joined("outbox").stdout
    assert joined("outbox", "fix", entry["id"]).exit_code == 2
    assert joined("outbox", "--drop", entry["id"]).exit_code == 0
    assert list((home / "outbox").iterdir()) == []


def test_offline_it_waits_with_its_report_and_goes_with_the_sync(
    cut_off: Run, joined: Run, pool: FakePool, home: Path, shot: str
) -> None:
    assert cut_off(*REPAIR, "--photo", shot, "--yes").exit_code == 0
    assert sorted(e["kind"] for e in queued(home)) == ["photo", "report"]
    assert joined("sync", "--send-only").exit_code == 0
    ((_, shown),) = pool.reports.items()
    assert len(shown["photos"]) == 1
    assert list((home / "outbox").iterdir()) == []


def test_withdrawing_what_was_not_sent_drops_its_photographs(
    alone: Run, home: Path, shot: str
) -> None:
    alone(*REPAIR, "--photo", shot, "--yes")
    report = next(e["id"] for e in queued(home) if e["kind"] == "report")
    assert alone("withdraw", report, "--yes").exit_code == 0
    assert list((home / "outbox").iterdir()) == []
