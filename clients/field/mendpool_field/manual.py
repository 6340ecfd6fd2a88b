"""The manual page, made from the commands themselves, so that it can't be wrong about them."""

import re
from collections.abc import Iterator
from typing import Any

_SYNTAX = re.compile(r"^([.'])", re.MULTILINE)


def manual_page(root: Any, version: str) -> str:  # noqa: ANN401 - Typer's own classes
    """Return the manual as roff for `man`.

    Args:
        root: the command group.
        version: of mendpool.
    """
    lines = [
        f'.TH MENDPOOL 1 "" "mendpool {_plain(version)}" "mendpool"',
        ".SH NAME",
        "mendpool \\- keep small generator sets running",
        ".SH SYNOPSIS",
        ".B mendpool",
        "COMMAND [OPTIONS]",
        ".SH DESCRIPTION",
        *_text(root.help or ""),
        ".SH COMMANDS",
    ]
    for path, command in _commands(root, ()):
        lines += [f".SS {_plain(' '.join(path))}", *_text(command.help or "")]
        for parameter in command.params:
            if getattr(parameter, "hidden", False):
                continue
            lines += [".TP", f".B {_plain(_name(parameter))}", *_text(_help(parameter))]
    lines += [".SH EXIT STATUS", *_text(root.epilog or "")]
    lines += [
        ".SH SAFETY",
        *_text(
            "Someone can get hurt. Answers carry cautions and defer to your local codes and to "
            "licensed people. A get-by that works round a protection is never a fix."
        ),
    ]
    return "\n".join(lines) + "\n"


def _commands(group: Any, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Any]]:  # noqa: ANN401
    for name in group.list_commands(None):
        command = group.get_command(None, name)
        if command is None or command.hidden:
            continue
        here = (*path, name)
        yield here, command
        if hasattr(command, "list_commands"):
            yield from _commands(command, here)


def _name(parameter: Any) -> str:  # noqa: ANN401 - Typer's own classes
    metavar = parameter.metavar or (parameter.name or "").upper()
    if parameter.param_type_name == "argument":
        return metavar
    flags = ", ".join((*parameter.opts, *parameter.secondary_opts))
    return flags if getattr(parameter, "is_flag", False) else f"{flags} {metavar}"


def _help(parameter: Any) -> str:  # noqa: ANN401 - Typer's own classes
    return getattr(parameter, "help", None) or ""


def _text(text: str) -> list[str]:
    """Paragraphs of the text; a lone line stays one."""
    found: list[str] = []
    for paragraph in re.split(r"\n\s*\n", text.strip()):
        if paragraph:
            found += [".PP" if found else "", _plain(" ".join(paragraph.split()))]
    return [line for line in found if line]


def _plain(text: str) -> str:
    """Escape what roff would take for a command."""
    escaped = text.replace("\\", "\\e").replace("-", "\\-")
    return _SYNTAX.sub(r"\\&\1", escaped)
