"""What the tests of the command type and look at again and again."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

BARN = (
    "set", "add", "barn", "--fuel", "diesel", "--kva", "6.5", "--volts", "240", "--hz", "60",
    "--rpm", "1800", "--excitation", "not-known", "--hours", "1240",
)  # fmt: skip
REPAIR = ("report", "no power", "--fuel", "diesel", "--tried", "brushes replace fixed")


def queued(home: Path) -> list[dict[str, Any]]:
    return [json.loads(path.read_bytes()) for path in sorted((home / "outbox").glob("*.json"))]


def python(*args: str, home: Path | None = None) -> subprocess.CompletedProcess[str]:
    """Run Python in a process of its own, which finds what this one finds."""
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
    if home is not None:
        env["MENDPOOL_HOME"] = str(home)
    return subprocess.run(
        [sys.executable, *args], capture_output=True, text=True, check=False, env=env
    )
