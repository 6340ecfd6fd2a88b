"""The index on disk: the old state or the new one, whenever the process is killed."""

import os
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from mendpool.index.finder import Finder
from mendpool.index.folder import Folder
from mendpool.index.view import Hit

from tests.factories import make_id

ALL = {"w:a": 1, "w:b": 2}


def a_finder(count: int, sliced_from: int = 10) -> Finder:
    """Reports 1 to `count`: all hold `w:a`, every third `w:b`, each a word of its own."""
    finder = Finder(sliced_from=sliced_from)
    add_to(finder, 1, count)
    return finder


def add_to(finder: Finder, first: int, last: int) -> None:
    for seq in range(first, last + 1):
        more = ["w:b"] if seq % 3 == 0 else []
        finder.add(seq, make_id(5000 + seq), ["w:a", *more, f"w:own{seq}"])
    finder.reached(last)


def reopened(place: Path, version: str = "1") -> Finder:
    loaded = Folder(place, version).load()
    assert loaded is not None
    return Finder.of(loaded.closed, sliced_from=10)


def test_what_is_kept_is_found_again_and_goes_on(tmp_path: Path) -> None:
    finder, folder = a_finder(50), Folder(tmp_path, "1")
    folder.publish(finder.tidy(), "at 50")
    again = reopened(tmp_path)
    assert again.search(ALL) == finder.search(ALL)
    assert (len(again), again.seq) == (50, 50)
    for one in (finder, again):
        add_to(one, 51, 70)
        one.remove(make_id(5003))
        one.remove(make_id(5060))
    assert again.search(ALL) == finder.search(ALL) == a_reference(70, {3, 60})
    folder.publish(again.tidy(), "at 70")
    loaded = folder.load()
    assert loaded is not None
    assert loaded.anchor == "at 70"
    assert reopened(tmp_path).search(ALL) == a_reference(70, {3, 60})


def a_reference(count: int, gone: set[int]) -> list[Hit]:
    hits = [Hit(seq, 3 if seq % 3 == 0 else 1) for seq in range(1, count + 1)]
    return sorted((h for h in hits if h.seq not in gone), key=lambda h: (-h.score, h.seq))


def test_a_large_segment_that_did_not_change_is_not_written_again(tmp_path: Path) -> None:
    finder, folder = a_finder(200, sliced_from=100), Folder(tmp_path, "1")
    folder.publish(finder.tidy(), "")
    (large,) = folder.path.glob("segment-*")
    written = (large / "terms").stat().st_mtime_ns
    add_to(finder, 201, 210)
    finder.remove(make_id(5001))
    folder.publish(finder.tidy(), "")
    assert len(list(folder.path.glob("segment-*"))) == 2
    assert (large / "terms").stat().st_mtime_ns == written
    assert len(reopened(tmp_path)) == 209
    # Nor by the next process.
    other = Folder(tmp_path, "1")
    loaded = other.load()
    assert loaded is not None
    finder = Finder.of(loaded.closed, sliced_from=100)
    add_to(finder, 211, 220)
    other.publish(finder.tidy(), "")
    assert (large / "terms").stat().st_mtime_ns == written
    assert len(reopened(tmp_path)) == 219


def test_nothing_of_what_was_taken_back_stays_on_disk(tmp_path: Path) -> None:
    finder, folder = a_finder(30), Folder(tmp_path, "1")
    folder.publish(finder.tidy(), "")
    assert any(b"w:own7" in content for content in contents(tmp_path))
    finder.remove(make_id(5007))
    folder.publish(finder.tidy(whole=True), "")
    assert not any(b'"w:own7"' in content for content in contents(tmp_path))
    (segment,) = folder.path.glob("segment-*")
    assert len(np.load(segment / "seq")) == 29
    again = reopened(tmp_path)
    assert again.search(ALL) == finder.search(ALL)
    add_to(again, 31, 31)  # a new word takes a new number, not that of another
    assert again.search({"w:own31": 5}) == [Hit(31, 5)]
    assert again.search({"w:own30": 5}) == [Hit(30, 5)]


def contents(place: Path) -> Iterator[bytes]:
    return (file.read_bytes() for file in place.rglob("*") if file.is_file())


class Killed(Exception):
    """The process is gone."""


def test_killed_at_any_point_it_is_the_old_state_or_the_new(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    old, new = a_reference(40, set()), a_reference(60, {2})
    fsync, seen, survived = os.fsync, set(), False
    for point in range(100):
        place = tmp_path / str(point)
        finder, folder = a_finder(40), Folder(place, "1")
        folder.publish(finder.tidy(), "")
        add_to(finder, 41, 60)
        finder.remove(make_id(5002))
        left = [point]

        def kill(descriptor: int, left: list[int] = left) -> None:
            if not left[0]:
                raise Killed
            left[0] -= 1
            fsync(descriptor)

        with monkeypatch.context() as dying:
            dying.setattr(os, "fsync", kill)
            try:
                folder.publish(finder.tidy(), "")
            except Killed:
                survived = False
            else:
                survived = True
        found = reopened(place).search(ALL)
        assert found in (old, new)
        seen.add(found == new)
        # The next process goes on from there, whatever was left lying about.
        following = Folder(place, "1")
        loaded = following.load()
        assert loaded is not None
        finder = Finder.of(loaded.closed, sliced_from=10)
        add_to(finder, 41, 60)
        finder.remove(make_id(5002))
        following.publish(finder.tidy(), "")
        assert reopened(place).search(ALL) == new
        if survived:
            break
    assert survived
    assert seen == {False, True}


@pytest.mark.parametrize("name", ["manifest.json", "terms-", "later-", "segment-", "held-"])
def test_what_can_not_be_read_is_as_good_as_nothing(tmp_path: Path, name: str) -> None:
    folder = Folder(tmp_path, "1")
    folder.publish(a_finder(40).tidy(), "")
    (found,) = [p for p in folder.path.iterdir() if p.name.startswith(name)]
    files = list(found.iterdir()) if found.is_dir() else [found]
    for file in files:
        whole = file.read_bytes()
        file.write_bytes(whole[: len(whole) // 2])
        assert folder.load() is None
        file.unlink()
        assert folder.load() is None
        # One bit that no length tells of.
        for at in {len(whole) // 3, len(whole) - 1}:
            file.write_bytes(whole[:at] + bytes([whole[at] ^ 4]) + whole[at + 1 :])
            assert folder.load() is None
        file.write_bytes(whole)
    assert folder.load() is not None
    folder.discard()
    assert folder.load() is None
    assert folder.newest_seq() == 0


def test_another_version_lies_beside_and_the_old_one_goes(tmp_path: Path) -> None:
    old, new = Folder(tmp_path, "1"), Folder(tmp_path, "2")
    old.publish(a_finder(20).tidy(), "")
    assert new.load() is None
    with old.writing() as mine:
        assert mine
        new.publish(a_finder(30).tidy(), "")
        assert old.load() is not None, "someone is writing it"
    new.publish(a_finder(30).tidy(), "")
    assert old.load() is None
    assert len(reopened(tmp_path, "2")) == 30


def test_one_writes_at_a_time(tmp_path: Path) -> None:
    one, other = Folder(tmp_path, "1"), Folder(tmp_path, "1")
    with one.writing() as mine, other.writing() as too:
        assert (mine, too) == (True, False)
    with other.writing() as mine:
        assert mine
