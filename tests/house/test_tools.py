"""Style, types and layers, by the tools whose rules are in pyproject.toml."""

import sys

from tests.house.tree import PROGRAMS, run


def test_ruff_finds_nothing() -> None:
    code, said = run(sys.executable, "-m", "ruff", "check", "--no-cache", "--quiet", ".")
    assert code == 0, said


def test_every_file_is_formatted() -> None:
    code, said = run(sys.executable, "-m", "ruff", "format", "--no-cache", "--check", ".")
    assert code == 0, said


def test_types_are_sound() -> None:
    code, said = run(sys.executable, "-m", "mypy")
    assert code == 0, said


def test_layers_hold() -> None:
    code, said = run(str(PROGRAMS / "lint-imports"), "--no-cache")
    assert code == 0, said
    assert "0 broken" in said
