"""Rates of writing: `pool import` on both databases, and writes over HTTP if they are here."""

import importlib.util
import json
import os
import random
import subprocess
import sys
import tempfile
import uuid
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from time import perf_counter

from tests.bench.scale.drawn import Pieces, Pool
from tests.bench.scale.postgres import server
from tests.bench.scale.sides import Missing

_COMMAND = "from mendpool_field.cli import main; main()"
_WRITES = "tests.bench.writes"
_MONTH_MS = 1_750_000_000_000


def rates(
    pool: Pool, reports: int, work: Path | None, tell: Callable[[str], None]
) -> list[str]:
    """Return a line for each rate."""
    lines = []
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(dir=work)))
        file = bodies(pool, reports)
        addresses = {"SQLite": f"sqlite:///{folder / 'import.sqlite3'}"}
        try:
            running = stack.enter_context(server(reports, work))
            running.make("import")
            addresses["PostgreSQL"] = running.url("import")
        except Missing as missing:
            tell(f"left out: import on PostgreSQL: {missing}")
        for name, url in addresses.items():
            empty, took = _imported(url, file, folder / name)
            rate = (
                f"{reports / (took - empty):,.0f} a second" if took > 2 * empty else "too few"
            )
            lines.append(
                f"pool import on {name}: {reports:,} reports in {took:.1f} s,"
                f" {empty:.1f} of it to start: {rate}"
            )
    if importlib.util.find_spec(_WRITES) is None:
        return [*lines, f"writes over HTTP: {_WRITES} is not here"]
    tell("writes over HTTP")
    done = _run([sys.executable, "-m", _WRITES], dict(os.environ))
    return [*lines, "writes over HTTP:", *done.stdout.splitlines()]


def bodies(pool: Pool, count: int) -> Path:
    """Return a file of reports as the wire carries them, drawn once."""
    file = pool.folder / f"bodies-{count}.jsonl"
    if not file.exists():
        file.parent.mkdir(parents=True, exist_ok=True)
        part = file.with_suffix(".part")
        part.write_text("\n".join(_bodies(pool.seed, count)) + "\n", encoding="utf-8")
        part.rename(file)
    return file


def _bodies(seed: int, count: int) -> Iterator[str]:
    pieces, rng = Pieces(seed), random.Random(seed)
    for number, drawn in enumerate(pieces.between(range(3 * count))):
        if number == count:
            return
        case, question = drawn.asked.case, drawn.asked.question
        body = question.model_dump(mode="json", exclude_none=True, exclude_defaults=True)
        attempts = [
            {"component": a.component, "action": a.action, "result": a.result}
            for a in case.attempts
        ]
        cause = [
            dict(zip(("component", "failure"), c.split("/"), strict=False)) for c in case.causes
        ]
        more = {"attempts": attempts, "outcome": case.outcome, "happened": "2025-06"}
        name = uuid.UUID(
            int=(_MONTH_MS + number) << 80 | 7 << 76 | 2 << 62 | rng.getrandbits(62)
        )
        told = {**body, **more, "id": str(name)}
        if cause:
            told["cause"] = cause[0]
        yield json.dumps(told, ensure_ascii=False)


def _imported(url: str, file: Path, cache: Path) -> tuple[float, float]:
    """Return the seconds of importing nothing, and of importing the file."""
    environment = {
        **os.environ,
        "MENDPOOL_DATABASE_URL": url,
        "MENDPOOL_CACHE_DIR": str(cache),
    }
    command = [sys.executable, "-c", _COMMAND, "pool"]
    _run([*command, "init"], environment)
    _run([*command, "member", "add", "bench"], environment)
    took = []
    for taken in (Path(os.devnull), file):
        started = perf_counter()
        _run([*command, "import", str(taken), "--as", "bench"], environment)
        took.append(perf_counter() - started)
    return took[0], took[1]


def _run(words: list[str], environment: dict[str, str]) -> "subprocess.CompletedProcess[str]":
    done = subprocess.run(words, env=environment, capture_output=True, text=True, check=False)
    if done.returncode:
        raise RuntimeError(f"{words[-3:]} ended with {done.returncode}: {done.stderr[-2000:]}")
    return done
