"""Where a copy lies, how old it is called, and what is fetched of it."""

import json
from pathlib import Path

import pytest

from mendpool_field.copy_fetch import Progress
from mendpool_field.copy_place import FORMAT, CopyPlace, CopyState, age_text

POOL = "01990000-0000-7000-8000-000000000001"
NOW = 1_764_000_000.0
DAY = 86400.0


def state(**given: object) -> CopyState:
    values = {
        "format": FORMAT,
        "folder": "c1",
        "pool": POOL,
        "url": "https://pool.example",
        "derived": "3-x",
        "synced": NOW,
        "reports": 412,
        **given,
    }
    return CopyState(**values)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("ago", "says"),
    [
        (0, "just now"),
        (59, "just now"),
        (-200, "just now"),  # a clock that was set a little
        (60, "1 minute ago"),
        (3600 * 5, "5 hours ago"),
        (DAY * 3, "3 days ago"),
        (DAY * 59, "59 days ago"),
        (DAY * 63, "9 weeks ago"),
        (-3600, "a day this machine's clock can't tell"),
        (DAY * 365 * 20, "a day this machine's clock can't tell"),  # 1970, or a dead battery
    ],
)
def test_its_age_is_told_in_words_whatever_the_clock_does(ago: float, says: str) -> None:
    assert age_text(state(synced=NOW - ago), NOW) == f"{says}, 412 reports"


def test_one_report_is_no_reports() -> None:
    assert age_text(state(reports=1), NOW) == "just now, 1 report"
    assert age_text(state(reports=12_345), NOW) == "just now, 12,345 reports"


class TestTheFolder:
    def test_the_newest_counts_and_the_others_go(self, tmp_path: Path) -> None:
        place = CopyPlace(tmp_path)
        for name in ("c1", "c2"):
            place.begin(name).write_bytes(b"reports")
        place.keep(state(folder="c1"))
        assert place.state() == state(folder="c1")
        assert not (place.path / "c2").exists()
        place.begin("c2").write_bytes(b"newer")
        assert place.state() == state(folder="c1"), "until it is whole"
        place.keep(state(folder="c2"))
        assert place.state() == state(folder="c2")
        assert [p.name for p in place.path.iterdir() if p.is_dir()] == ["c2"]

    def test_what_is_no_state_is_no_copy(self, tmp_path: Path) -> None:
        place = CopyPlace(tmp_path)
        assert place.state() is None
        assert not place.had_one()
        place.begin("c1").write_bytes(b"reports")
        place.keep(state())
        file = place.path / "state.json"
        good = json.loads(file.read_text())
        for change in (
            {"format": FORMAT + 1},
            {"folder": "../c1"},
            {"folder": ".."},
            {"folder": 3},
            {"folder": "c9"},
            {"pool": "no id"},
            {"pool": None},
            {"more": 1},
        ):
            file.write_text(json.dumps({**good, **change}))
            assert place.state() is None, change
            assert place.had_one()
        for text in ("", "{", "[]", "null", "\0"):
            file.write_text(text)
            assert place.state() is None

    def test_thrown_away_it_leaves_what_is_being_fetched(self, tmp_path: Path) -> None:
        place = CopyPlace(tmp_path)
        place.begin("c1").write_bytes(b"reports")
        place.keep(state())
        place.part("feed-1").write_bytes(b"half")
        place.discard()
        assert not place.had_one()
        assert [p.name for p in place.path.iterdir()] == ["part-feed-1"]
        place.part("feed-2").write_bytes(b"half")
        assert [p.name for p in place.path.iterdir()] == ["part-feed-2"]

    def test_one_at_a_time_may_write(self, tmp_path: Path) -> None:
        place = CopyPlace(tmp_path)
        with place.syncing() as first, CopyPlace(tmp_path).syncing() as second:
            assert (first, second) == (True, False)
        with place.syncing() as again:
            assert again


def test_progress_is_told_every_two_seconds_and_not_more() -> None:
    said: list[str] = []
    time = [0.0]
    progress = Progress(said.append, lambda: time[0])
    for tenth in range(60):
        time[0] = tenth / 10
        progress.at(f"{tenth}")
    assert said == ["20", "40"]
