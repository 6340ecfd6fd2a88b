"""The systemd unit: read as systemd reads it, and hardened."""

import shutil
import subprocess
from pathlib import Path

import pytest

from mendpool.settings import Settings

from tests.house.tree import TOP

UNIT = TOP / "service" / "mendpool.service"


def settings() -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for line in UNIT.read_text("utf-8").splitlines():
        if line and not line.startswith(("#", "[")):
            name, value = line.split("=", 1)
            found.setdefault(name, []).append(value)
    return found


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("DynamicUser", "yes"),
        ("StateDirectory", "mendpool"),
        ("NoNewPrivileges", "yes"),
        ("ProtectSystem", "strict"),
        ("ProtectHome", "yes"),
        ("PrivateTmp", "yes"),
        ("CapabilityBoundingSet", ""),
        ("UMask", "0077"),
    ],
)
def test_it_may_do_no_more_than_it_needs(name: str, value: str) -> None:
    assert settings()[name] == [value]


def test_it_is_stopped_later_than_it_stops_itself() -> None:
    own = Settings.model_fields["stop_after_s"].default
    assert int(settings()["TimeoutStopSec"][0]) > own


def test_a_damaged_pool_is_not_started_again_and_again() -> None:
    assert "5" in settings()["RestartPreventExitStatus"][0].split()


def test_no_secret_stands_in_it() -> None:
    assert all("://" not in line or "sqlite:///" in line for line in settings()["Environment"])


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="needs systemd")
def test_systemd_understands_every_line(tmp_path: Path) -> None:
    there = tmp_path / "mendpool"
    there.write_text("#!/bin/sh\n")
    there.chmod(0o755)
    unit = tmp_path / "mendpool.service"
    unit.write_text(UNIT.read_text("utf-8").replace("/opt/mendpool/bin/mendpool", str(there)))
    done = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", str(unit)],
        capture_output=True,
        text=True,
        check=False,
    )
    about_it = [line for line in done.stderr.splitlines() if "mendpool.service" in line]
    assert about_it == []
