"""No module grows until nobody reads it."""

from pathlib import Path

import pytest

from tests.house.tree import TOP, python_files

_MOST, _MOST_WITHOUT_A_REASON, _MOST_OF_A_TEST = 500, 350, 600
_REASON = "# long because "


@pytest.mark.parametrize(
    "path",
    python_files("service/", "clients/", "migrations/"),
    ids=lambda path: path.relative_to(TOP).as_posix(),
)
def test_a_module_is_short_or_says_why_not(path: Path) -> None:
    lines = path.read_text("utf-8").splitlines()
    assert len(lines) <= _MOST
    if len(lines) > _MOST_WITHOUT_A_REASON:
        assert any(line.startswith(_REASON) for line in lines), f"{len(lines)} lines, no reason"


def test_no_test_file_is_longer_than_a_sitting() -> None:
    long = {
        path.relative_to(TOP).as_posix(): lines
        for path in python_files("tests/")
        if (lines := len(path.read_text("utf-8").splitlines())) > _MOST_OF_A_TEST
    }
    assert long == {}


def test_there_are_modules_to_measure() -> None:
    assert len(python_files("service/")) > 50
    assert len(python_files("clients/field/")) > 10
