"""What README says of commands, settings and exit codes is what there is."""

import importlib
import re
from collections.abc import Iterator
from typing import Any

import pytest
import typer

from mendpool.settings import Settings
from mendpool_field.cli import LATE
from mendpool_field.exitcodes import ExitCode

from tests.house.tree import TOP, tracked

README = (TOP / "README.md").read_text("utf-8")


def table(mark: str) -> list[list[str]]:
    """The rows, heading left out, of the table behind a mark such as ``<!-- commands -->``."""
    _, _, rest = README.partition(f"<!-- {mark} -->\n")
    rows = []
    for line in rest.split("\n"):
        if not line.startswith("|"):
            break
        rows.append([cell.strip() for cell in line.strip("|").split("|")])
    assert len(rows) > 2, f"README has no table behind <!-- {mark} -->"
    return rows[2:]


def quoted(text: str) -> list[str]:
    return re.findall(r"`([^`]+)`", text)


def commands_of(group: Any, path: str) -> Iterator[tuple[str, Any]]:
    """Every command below a group, with all that is typed for it."""
    for name, command in sorted(group.commands.items()):
        yield f"{path} {name}", command
        if hasattr(command, "commands"):
            yield from commands_of(command, f"{path} {name}")


def group_of(module: str) -> Any:
    return typer.main.get_command(importlib.import_module(module).app)


def field_commands() -> dict[str, Any]:
    return dict(commands_of(group_of("mendpool_field.cli"), "mendpool"))


def pool_commands() -> dict[str, Any]:
    return dict(commands_of(group_of("mendpool.admin"), "mendpool pool"))


def test_the_table_of_commands_is_the_command() -> None:
    documented = {quoted(row[0])[0] for row in table("commands")}
    there = {name for name in field_commands() if name.count(" ") == 1}
    assert documented == there | {f"mendpool {name}" for name in LATE}


def test_what_is_said_of_the_pool_command_is_there_and_all_of_it() -> None:
    (said,) = [row[1] for row in table("commands") if quoted(row[0]) == ["mendpool pool"]]
    documented = {f"mendpool pool {words}" for words in quoted(said)}
    there = {name for name, c in pool_commands().items() if not hasattr(c, "commands")}
    assert documented == there


@pytest.mark.parametrize(
    "line",
    sorted({line for line in README.split("\n") if line.startswith("mendpool ")}),
)
def test_every_command_line_shown_is_one_that_can_be_typed(line: str) -> None:
    known = {**field_commands(), **pool_commands(), "mendpool demo": None}
    words = re.sub(r'"[^"]*"', "QUOTED", line).split()
    name = next(
        " ".join(words[:many])
        for many in range(len(words), 0, -1)
        if " ".join(words[:many]) in known or many == 1
    )
    assert name in known, f"no such command: {line}"
    options = {
        o for p in getattr(known[name], "params", ()) for o in (*p.opts, *p.secondary_opts)
    }
    for word in words:
        if word.startswith("--") and known[name] is not None:
            assert word.split("=")[0] in options, f"{name} has no {word}"


def test_the_exit_codes_are_those_of_the_command() -> None:
    assert [int(row[0]) for row in table("exit-codes")] == sorted(ExitCode)


def test_the_settings_are_those_that_are_read() -> None:
    documented = {name for row in table("settings") for name in quoted(row[0])}
    read = {f"MENDPOOL_{name.upper()}" for name in Settings.model_fields}
    assert read <= documented
    sources = "\n".join(
        path.read_text("utf-8")
        for path in tracked()
        if path.suffix == ".py" and path.relative_to(TOP).parts[0] in ("service", "clients")
    )
    for name in documented - read:
        assert f'"{name}"' in sources, f"nothing reads {name}"


def test_the_defaults_shown_are_the_defaults() -> None:
    for row in table("settings"):
        for name, shown in zip(quoted(row[0]), quoted(row[1]), strict=False):
            field = Settings.model_fields.get(name.removeprefix("MENDPOOL_").lower())
            if field is not None and field.default_factory is None:
                assert str(field.default) == shown, name


@pytest.mark.parametrize("mark", ["demo", "tests"])
def test_the_two_commands_are_of_the_shape_that_installs_by_hash(mark: str) -> None:
    found = re.search(rf"<!-- {mark} -->\n```sh\n([^\n]+)\n```", README)
    assert found
    steps = found[1].split(" && ")
    assert steps[0] == "python3 -m venv --without-pip .venv"
    assert "--require-hashes -r" in steps[1]
    assert (TOP / steps[1].split()[-1]).is_file()
    assert "--no-deps" in steps[2]
    assert steps[3].startswith(".venv/bin/")
