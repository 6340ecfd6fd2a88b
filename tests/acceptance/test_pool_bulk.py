"""Reports in and out by the file: again changes nothing, bad lines are told, cells are safe."""

import csv
import json
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

import pytest

from mendpool.usecases.bulk_out import defused

from tests.acceptance.test_pool_command import COMMAND, REFUSED, Operator
from tests.databases import Databases
from tests.factories import make_id, make_report

__all__ = ["COMMAND"]


@pytest.fixture
def make(databases: Databases, tmp_path: Path) -> Iterator[Callable[[str], Operator]]:
    """Give a maker of operators, each with a folder and an empty database of his own."""
    with ExitStack() as made:
        yield lambda name: Operator(tmp_path / name, made.enter_context(databases.empty()))


@pytest.fixture
def operator(make: Callable[[str], Operator]) -> Operator:
    made = make("pool")
    made.here("init")
    made.here("member", "add", "alder")
    return made


def lines(count: int) -> list[str]:
    return [json.dumps({"id": str(make_id()), **make_report()}) for _ in range(count)]


@pytest.mark.slow
def test_what_is_imported_comes_out_and_again_changes_nothing(
    operator: Operator, make: Callable[[str], Operator], tmp_path: Path
) -> None:
    file, out, table = (tmp_path / n for n in ("in.jsonl", "out.jsonl", "out.csv"))
    file.write_text("\n".join(lines(3)) + "\n", "utf-8")
    first = operator.json("import", str(file), "--as", "alder")
    assert first == {"new": 3, "unchanged": 0, "left_out": 0, "followups": 0}
    again = operator.run("import", str(file), "--as", "alder").stdout
    assert "Nothing changed" in again

    operator.run("export", str(out))
    written = [json.loads(line) for line in out.read_text("utf-8").splitlines()]
    given = [json.loads(line) for line in file.read_text("utf-8").splitlines()]
    assert [w["id"] for w in written] == [g["id"] for g in given]
    assert "contributor" not in written[0]
    assert list(tmp_path.glob("*.part")) == []

    operator.run("export", str(table), "--csv")
    with table.open(encoding="utf-8", newline="") as rows:
        read = list(csv.DictReader(rows))
    assert [row["id"] for row in read] == [g["id"] for g in given]
    # Without these a way to get by would look like a repair.
    assert {"outcome", "protection", "protection_defeated", "before"} <= set(read[0])

    other = make("other")
    other.run("init")
    other.run("member", "add", "willow")
    assert other.json("import", str(out), "--as", "willow")["new"] == 3


def test_bad_lines_are_told_by_number_and_left_out(operator: Operator, tmp_path: Path) -> None:
    good = lines(1)[0]
    other = {**json.loads(good), "complaint": "another one under the same id"}
    no_id = json.dumps(make_report())
    file = tmp_path / "in.jsonl"
    file.write_text("\n".join(["{", good, no_id, json.dumps(other)]), "utf-8")
    done = operator.run("import", str(file), "--as", "alder", "--json", code=REFUSED)
    told = {"new": 1, "unchanged": 0, "left_out": 3, "followups": 0}
    assert json.loads(done.stdout) == told
    for number in (1, 3, 4):
        assert f"line {number} left out" in done.stderr


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_a_cell_that_would_run_is_defused(start: str) -> None:
    assert defused(f"{start}1+1") == f"'{start}1+1"
    assert defused(f"1{start}1") == f"1{start}1"


@dataclass
class Mover(Operator):
    """Someone who keeps the address of the new database off the command line."""

    to: str

    @property
    def environment(self) -> dict[str, str]:
        return {**super().environment, "MENDPOOL_MOVE_TO": self.to}


@pytest.mark.slow
def test_a_pool_moves_once_into_a_database_that_is_only_migrated(
    operator: Operator, make: Callable[[str], Operator], tmp_path: Path
) -> None:
    file = tmp_path / "in.jsonl"
    file.write_text("\n".join(lines(2)) + "\n", "utf-8")
    operator.run("import", str(file), "--as", "alder")
    new = make("new")
    assert "migrate" in operator.run("move", "--to", new.url, code=REFUSED).stderr
    new.run("migrate")
    moved = Mover(operator.folder, operator.url, new.url).json("move")
    assert moved["rows"]["report"] == 2
    assert len(moved["sha256"]) == 64
    assert "empty" in operator.run("move", "--to", new.url, code=REFUSED).stderr
    out = tmp_path / "out.jsonl"
    new.run("export", str(out))
    assert len(out.read_text("utf-8").splitlines()) == 2
