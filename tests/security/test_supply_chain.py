"""Row 37: what is installed is pinned by hash, everywhere something is installed."""

import re

import pytest

from tests.house.tree import TOP, tracked

FILES = sorted(p for p in tracked() if p.name == "constraints.txt")


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.relative_to(TOP).as_posix())
def test_every_pin_has_a_hash_and_no_address(path: object) -> None:
    held = str(path.read_text("utf-8"))  # type: ignore[attr-defined]
    blocks = re.split(r"\n(?=\S)", held.strip())
    assert all("==" in block and "--hash=sha256:" in block for block in blocks)
    assert "://" not in held


@pytest.mark.parametrize("name", [".ci/run", "README.md", "service/Dockerfile"])
def test_nothing_is_installed_without(name: str) -> None:
    commands = (TOP / name).read_text("utf-8").replace("\\\n", " ").replace("&&", "\n")
    for line in commands.splitlines():
        if re.search(r"\bpip\b.*\binstall\b", line) and " -r " in line:
            assert "--require-hashes" in line, line
