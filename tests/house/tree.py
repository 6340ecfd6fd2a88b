"""The checkout that the house rules are about."""

import subprocess
import sys
from functools import cache
from pathlib import Path

TOP = Path(__file__).parents[2]
PROGRAMS = Path(sys.executable).parent
"""Where the tools of this environment are."""


@cache
def tracked() -> tuple[Path, ...]:
    """The files of the checkout, those not yet added too, without what git ignores.

    Where this is no checkout (an unpacked archive), every file that is no cache.
    """
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=TOP, capture_output=True, check=False,
    )  # fmt: skip
    if listed.returncode == 0:
        found = [TOP / name for name in listed.stdout.decode().split("\0") if name]
    else:
        found = [
            path
            for path in TOP.rglob("*")
            if not any(p.startswith((".venv", "__pycache__", ".git")) for p in path.parts)
        ]
    return tuple(sorted(path for path in found if path.is_file()))


def python_files(*folders: str) -> list[Path]:
    return [
        path
        for path in tracked()
        if path.suffix == ".py" and path.relative_to(TOP).as_posix().startswith(folders)
    ]


def run(*command: str) -> tuple[int, str]:
    """Run a tool at the top of the checkout; give its exit code and all it said."""
    done = subprocess.run(
        command, cwd=TOP, capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL
    )
    return done.returncode, done.stdout + done.stderr
