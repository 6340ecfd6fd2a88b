"""Reports and questions of the simulator, drawn once and kept in a folder.

A report depends on its world's seed and its number alone, so several processes draw pieces of
the same pool, and a pool of ten thousand is the beginning of a pool of a hundred thousand.
Each line has the true cause, the member, the complaint as typed and the case that the service
derives from the report.
"""

import json
import os
import tempfile
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from itertools import islice
from multiprocessing import get_context
from pathlib import Path
from random import Random
from typing import NamedTuple

import numpy as np

from mendpool.core.catalogue.admits import admits
from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.catalogue.model import Check
from mendpool.core.diagnosis.derive import DERIVED_VERSION
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.evidence.case import case_to_text
from mendpool.core.record.machine import Machine

from tests.bench.diagnosis.simulator.looks import _NEAR, Looks
from tests.bench.diagnosis.simulator.pool import _UNSOLVED_KEPT, Drawn, Simulator
from tests.bench.diagnosis.simulator.world import Fault, World

SEED = 50021
"""The world of the table. Nothing was chosen by looking at it."""

_PIECE = 2500
"""Repairs drawn for one file, if nobody says otherwise; some are never written up."""


def cache_folder() -> Path:
    """Return where corpora are kept unless told otherwise."""
    given = os.environ.get("MENDPOOL_BENCH_CACHE")
    return Path(given) if given else Path(tempfile.gettempdir()) / "mendpool-bench"


class Told(NamedTuple):
    """A report: the true cause, who told it, the raw complaint, and the derived case."""

    cause: str | None
    group: int
    text: str
    case: str


class Asked(NamedTuple):
    """A question: the true cause, and the body as the wire carries it."""

    cause: str
    body: dict[str, object]

    @property
    def text(self) -> str:
        """The raw complaint, which is all that the peers are given."""
        return str(self.body.get("complaint") or "")


class _QuickLooks(Looks):
    """The same looks, with what depends on the world and the kind of set worked out once."""

    def __init__(self, world: World) -> None:
        super().__init__(world)
        self._gaps: dict[str, list[float]] = {}
        self._open: dict[tuple[object, str], list[Check]] = {}

    def _about(self, machine: Machine, fault: Fault) -> list[str]:
        told = [
            (-self._gap(check.code, fault.row) / (check.minutes + 10), check.code)
            for check in self._could(machine, fault.symptom)
        ]
        return [code for _, code in sorted(told)[:_NEAR]]

    def _could(self, machine: Machine, symptom: str) -> list[Check]:
        key = (self._world.knowledge.kind_key(machine), symptom)
        if key not in self._open:
            barred = set(self._catalogue.symptoms[symptom].cannot)
            self._open[key] = [
                check
                for check in self._catalogue.checks.values()
                if not (check.walkround or check.tells or check.state in barred)
                and admits(check.only, machine)
            ]
        return self._open[key]

    def _gap(self, code: str, row: int) -> float:
        gaps = self._gaps.get(code)
        if gaps is None:
            table = self._world.results[code][1]
            gaps = self._gaps[code] = [
                float(np.abs(table[:, r] - table.mean(axis=1)).sum())
                for r in range(table.shape[1])
            ]
        return gaps[row]


class Pieces(Simulator):
    """The simulator's pool, by ranges of numbers."""

    def __init__(self, seed: int) -> None:
        super().__init__(Engine(packaged_catalogue()), seed)
        self.looks = _QuickLooks(self.world)

    def between(self, numbers: range) -> Iterator[Drawn]:
        """Yield the reports of these repairs, as `Simulator.reports` would."""
        for number in numbers:
            rng = Random(f"{self._seed} report {number}")
            member = self.people.draw(rng)
            machine = self.machines.draw(rng)
            fault = self.world.draw_fault(machine, rng)
            work = self.people.work(fault, machine, member, rng)
            solved = bool(work) and work[-1].result == "fixed"
            if solved or rng.random() < _UNSOLVED_KEPT:
                # The simulator counts a repair before it tells it.
                yield self._report(number + 1, member, machine, fault, work, rng)


class Pool:
    """The drawn pool of one world in a folder; draws what is not there."""

    def __init__(self, cache: Path, seed: int = SEED, piece: int = _PIECE) -> None:
        """Keep it apart by seed and by the code that derives.

        A catalogue that has grown since moves a report in a thousand, so what was drawn
        stays; `drawn_with` tells.

        Args:
            piece: repairs drawn for one file.
        """
        self.seed, self._size = seed, piece
        self.folder = cache / f"world-{seed}-{DERIVED_VERSION}"

    def drawn_with(self) -> str:
        """Return the version of the catalogue that the first report was drawn with."""
        note = self.folder / "catalogue.txt"
        if not note.exists():
            _write(note, packaged_catalogue().version)
        return note.read_text(encoding="utf-8").strip()

    def reports(self, count: int) -> Iterator[Told]:
        """Yield the first so many reports, drawn here where no process did before."""
        return islice(self._all(), count)

    def held(self) -> int:
        """Return how many reports are there without drawing."""
        number, lines = 0, 0
        while (piece := self._piece(number)).exists():
            with piece.open("rb") as file:
                lines += sum(1 for _ in file)
            number += 1
        return lines

    def draw(self, count: int, workers: int) -> None:
        """Draw at least so many, in several processes, with a line for every piece."""
        wanted = [
            n for n in range(count // (self._size // 2) + 1) if not self._piece(n).exists()
        ]
        context = get_context("spawn")
        with ProcessPoolExecutor(workers, mp_context=context) as processes:
            jobs = {}
            for number in wanted:
                jobs[number] = processes.submit(
                    _drawn, self.seed, self._range(number), self._piece(number)
                )
            for number in sorted(jobs):
                jobs[number].result()
                if (held := self.held()) >= count:
                    for job in jobs.values():
                        job.cancel()
                print(f"drawn {held:,} of {count:,}", flush=True)
                if held >= count:
                    return

    def questions(self, count: int) -> list[Asked]:
        """Return questions whose cause the catalogue knows, by people who are in no pool."""
        file = self.folder / f"questions-{count}.json"
        if not file.exists():
            pieces = Pieces(self.seed)
            drawn = (pieces._question(number) for number in range(2 * count))
            asked = [
                (d.key, d.asked.question.model_dump(mode="json", exclude_none=True))
                for d in islice((d for d in drawn if d.key), count)
            ]
            _write(file, json.dumps(asked))
        return [Asked(*pair) for pair in json.loads(file.read_text(encoding="utf-8"))]

    def _all(self) -> Iterator[Told]:
        number = 0
        while True:
            piece = self._piece(number)
            if not piece.exists():
                _drawn(self.seed, self._range(number), piece)
            with piece.open(encoding="utf-8") as lines:
                for line in lines:
                    yield Told(*json.loads(line))
            number += 1

    def _range(self, number: int) -> range:
        return range(number * self._size, (number + 1) * self._size)

    def _piece(self, number: int) -> Path:
        return self.folder / f"reports-{self._size}-{number:05d}.jsonl"


_pieces: dict[int, Pieces] = {}


def _drawn(seed: int, numbers: range, file: Path) -> None:
    if seed not in _pieces:
        _pieces[seed] = Pieces(seed)
    lines = []
    for drawn in _pieces[seed].between(numbers):
        case = drawn.asked.case
        told = Told(drawn.key, case.group, drawn.asked.words, case_to_text(case))
        lines.append(json.dumps(told, ensure_ascii=False))
    _write(file, "\n".join(lines) + "\n")


def _write(file: Path, text: str) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    beside = file.with_suffix(f".{os.getpid()}")
    beside.write_text(text, encoding="utf-8")
    beside.replace(file)
