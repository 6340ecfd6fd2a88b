"""The command is there at once, and loads the network and the engine only to use them."""

import time
from pathlib import Path

from tests.field.samples import python

HEAVY = (
    "httpx",
    "numpy",
    "pydantic",
    "rapidfuzz",
    "yaml",
    "sqlalchemy",
    "fastapi",
    "rich",
    "PIL",
)


def test_help_is_there_in_three_tenths_of_a_second() -> None:
    # The best of five: a busy machine makes a run slower, never quicker.
    assert min(_seconds("--help") for _ in range(5)) < 0.3


def test_help_loads_nothing_heavy() -> None:
    script = (
        "import sys; from mendpool_field.cli import app\n"
        "try: app(['--help'])\n"
        "except SystemExit: pass\n"
        f"print(sorted(set({HEAVY!r}) & set(sys.modules)), file=sys.stderr)"
    )
    assert python("-c", script).stderr.strip() == "[]"


def test_a_report_without_a_pool_loads_no_network_code(tmp_path: Path) -> None:
    script = (
        "import sys; from mendpool_field.cli import app\n"
        "try: app(['report', 'x', '--fuel', 'diesel', '--outcome', 'open', '--yes'])\n"
        "except SystemExit as end: print(end.code)\n"
        "print('httpx' in sys.modules)"
    )
    done = python("-c", script, home=tmp_path)
    assert done.stdout.splitlines()[-2:] == ["0", "False"]


def _seconds(*args: str) -> float:
    started = time.perf_counter()
    assert python("-m", "mendpool_field.cli", *args).returncode == 0
    return time.perf_counter() - started
