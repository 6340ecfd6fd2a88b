"""What is installed is pinned by hash and names no place to get it from."""

import re
import tomllib
from pathlib import Path

import pytest

from tests.house.tree import TOP

SERVICE = TOP / "service" / "constraints.txt"
TESTS = TOP / "tests" / "constraints.txt"
_PIN = re.compile(
    r"^(?P<name>[a-z0-9._-]+)==(?P<version>[^ ;\\]+)(?: ; (?P<when>[^\\]+))? \\$",
    re.MULTILINE,
)
_ADDRESS = re.compile(r"://|file:|index-url|find-links|trusted-host|^-", re.MULTILINE)


def pins(path: Path) -> set[tuple[str, str, str]]:
    return {
        (m["name"], m["version"], (m["when"] or "").strip())
        for m in _PIN.finditer(path.read_text("utf-8"))
    }


def names(requirements: list[str]) -> set[str]:
    found = (re.match(r"[A-Za-z0-9._-]+", r) for r in requirements)
    return {re.sub(r"[._-]+", "-", m[0]).lower() for m in found if m}


@pytest.mark.parametrize("path", [SERVICE, TESTS], ids=["service", "tests"])
def test_constraints_name_no_address(path: Path) -> None:
    assert _ADDRESS.findall(path.read_text("utf-8")) == []


@pytest.mark.parametrize("path", [SERVICE, TESTS], ids=["service", "tests"])
def test_every_pin_has_its_hashes(path: Path) -> None:
    blocks = re.split(r"\n(?=\S)", path.read_text("utf-8").strip())
    assert len(blocks) == len(pins(path)) > 30
    for block in blocks:
        assert "--hash=sha256:" in block, block


def test_tests_run_on_the_very_versions_that_are_served() -> None:
    assert pins(SERVICE) < pins(TESTS)


def test_everything_asked_for_is_pinned() -> None:
    project = tomllib.loads((TOP / "pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"]
    pinned = {re.sub(r"[._-]+", "-", name) for name, _, _ in pins(SERVICE)}
    assert names(project["dependencies"]) | names(extras["service"]) <= pinned
    pinned = {re.sub(r"[._-]+", "-", name) for name, _, _ in pins(TESTS)}
    assert names(extras["test"]) <= pinned


def test_the_bare_package_asks_for_no_server() -> None:
    project = tomllib.loads((TOP / "pyproject.toml").read_text("utf-8"))["project"]
    servers = names(project["optional-dependencies"]["service"])
    assert {"fastapi", "uvicorn", "alembic"} <= servers
    assert servers.isdisjoint(names(project["dependencies"]))
