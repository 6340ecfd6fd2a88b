"""A full disk, a home that can't be written: nothing is called saved that is not, and the
sentence says what to do."""

import json
import os
import stat
from pathlib import Path

import pytest

from tests.field.samples import BARN, REPAIR, python, queued

_FULL = """
import resource, signal, sys
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
from mendpool_field.cli import app
from mendpool_field import disk, console
from mendpool.core.catalogue.files import packaged_catalogue
packaged_catalogue(console.settings().cache)
resource.setrlimit(resource.RLIMIT_FSIZE, (64, 64))
app({args!r})
"""


def on_a_full_disk(home: Path, *args: str) -> tuple[int, str]:
    done = python("-c", _FULL.format(args=list(args)), home=home)
    assert "Traceback" not in done.stderr
    return done.returncode, done.stderr


def test_a_full_disk_is_no_saved(home: Path) -> None:
    code, said = on_a_full_disk(home, *REPAIR, "--yes")
    assert code == 1
    assert "Saved" not in said
    assert "Make room" in said
    assert queued(home) == []


def test_what_was_there_before_a_full_disk_still_is(home: Path) -> None:
    assert python("-m", "mendpool_field.cli", *BARN, home=home).returncode == 0
    code, _ = on_a_full_disk(home, "set", "add", "shed", "--fuel", "petrol")
    assert code == 1
    assert list(json.loads((home / "sets.json").read_text())) == ["barn"]


@pytest.mark.skipif(os.geteuid() == 0, reason="root writes everywhere; see the next one")
def test_a_home_that_only_reads(home: Path) -> None:
    home.mkdir()
    home.chmod(stat.S_IRUSR | stat.S_IXUSR)
    done = python("-m", "mendpool_field.cli", *REPAIR, "--yes", home=home)
    assert done.returncode == 1
    assert "mend the rights" in done.stderr


def test_a_home_that_can_not_be_made(tmp_path: Path) -> None:
    """For root as well: a file stands where the folder should be."""
    (tmp_path / "file").write_text("")
    done = python("-m", "mendpool_field.cli", *REPAIR, "--yes", home=tmp_path / "file" / "home")
    assert done.returncode == 1
    assert "Saved" not in done.stderr
    assert "MENDPOOL_HOME names another" in done.stderr


def test_judging_and_working_need_no_disk(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    home = tmp_path / "file" / "home"
    for args in (("judge", "residual 0.4 V"), ("work", "speed", "rpm=1800", "poles=4")):
        done = python("-m", "mendpool_field.cli", *args, home=home)
        assert done.returncode == 0, done.stderr
