"""What every side of the table is: built once, asked many times, in a process of its own.

So its memory is its own, and what it keeps warm is not paid for by another. The process
answers over a pipe, one thing at a time; it times its own work, so the pipe costs nothing.
"""

import os
import traceback
from collections.abc import Callable, Mapping
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from time import perf_counter
from typing import NamedTuple, Protocol

from tests.bench.scale.corpus import Corpus
from tests.bench.scale.drawn import Asked

Way = Callable[[Asked], tuple[float, list[int]]]
"""Asks in one way: what it took in seconds, and the best ten by their numbers from 1."""

TOP = 10


class Missing(Exception):
    """What a side needs is not on this machine."""


class Side(Protocol):
    """One side: ours on one database, or one peer."""

    def build(self, corpus: Corpus) -> float:
        """Make it ready; return the seconds of what has to be built for searching."""
        ...

    def ways(self) -> Mapping[str, Way]:
        """Return the ways in which it can be asked, by the name of their rows."""
        ...

    def forget(self) -> None:
        """Drop what was kept from questions before."""
        ...

    def disk(self) -> float | None:
        """Return what searching keeps on disk in MB, None where nothing."""
        ...

    def close(self) -> None:
        """Give back what it holds."""
        ...

    def memory(self) -> float:
        """Return resident MB."""
        ...


class Built(NamedTuple):
    """What came of building: seconds, MB on disk, the ways it can be asked."""

    seconds: float
    disk: float | None
    ways: tuple[str, ...]


def timed(ask: Callable[[Asked], list[int]]) -> Way:
    """Return a way that takes as long as the call."""

    def way(question: Asked) -> tuple[float, list[int]]:
        started = perf_counter()
        found = ask(question)
        return perf_counter() - started, found

    return way


class Here:
    """A side in this process, for a quick look: its memory is that of all of them."""

    def __init__(self, make: Callable[..., Side], *arguments: object) -> None:
        """Take what makes it; it is made when it is built."""
        self._make = lambda: make(*arguments)
        self._side: Side | None = None
        self._ways: Mapping[str, Way] = {}

    def build(self, corpus: Corpus) -> Built:
        """Make and build it."""
        self._side = self._make()
        seconds = self._side.build(corpus)
        self._ways = self._side.ways()
        return Built(seconds, self._side.disk(), tuple(self._ways))

    def ask(self, way: str, question: Asked, forget: bool = True) -> tuple[float, list[int]]:
        """Ask in one way; it first forgets what was before, if told so."""
        assert self._side is not None
        if forget:
            self._side.forget()
        return self._ways[way](question)

    def memory(self) -> float:
        """Return its resident MB now."""
        assert self._side is not None
        return self._side.memory()

    def close(self) -> None:
        """Have it give back what it holds."""
        if self._side is not None:
            self._side.close()


class Apart:
    """A side in a process of its own."""

    def __init__(self, make: Callable[..., Side], *arguments: object) -> None:
        """Start it.

        Args:
            make: a class or function of a module, so that another process finds it.
        """
        context = get_context("spawn")
        self._pipe, theirs = context.Pipe()
        self._process = context.Process(
            target=_serve, args=(theirs, make, arguments), daemon=False
        )
        self._process.start()
        theirs.close()

    def build(self, corpus: Corpus) -> Built:
        """Have it built."""
        return self._told("build", corpus)  # type: ignore[return-value]

    def ask(self, way: str, question: Asked, forget: bool = True) -> tuple[float, list[int]]:
        """Ask in one way; it first forgets what was before, if told so."""
        return self._told("ask", way, question, forget)  # type: ignore[return-value]

    def memory(self) -> float:
        """Return its resident MB now."""
        return self._told("memory")  # type: ignore[return-value]

    def close(self) -> None:
        """End it."""
        if self._process.is_alive():
            try:
                self._told("close")
            except (OSError, EOFError, RuntimeError):
                self._process.terminate()
        self._process.join(30)
        if self._process.is_alive():
            self._process.kill()
        self._pipe.close()

    def _told(self, *words: object) -> object:
        self._pipe.send(words)
        fine, value = self._pipe.recv()
        if fine:
            return value
        if fine is None:
            raise Missing(value)
        raise RuntimeError(value)


def _serve(pipe: Connection, make: Callable[..., Side], arguments: tuple[object, ...]) -> None:
    here = Here(make, *arguments)
    word = ""
    while word != "close":
        try:
            word, *rest = pipe.recv()
        except EOFError:
            here.close()
            return
        try:
            told = (True, getattr(here, word)(*rest))
        except Missing as missing:
            told = (None, str(missing))
        except Exception:  # noqa: BLE001 - told to the process that asked
            told = (False, traceback.format_exc())
        pipe.send(told)


def resident(process: int | None = None) -> float:
    """Return the resident MB of a process; its own by default."""
    statm = Path(f"/proc/{process or 'self'}/statm").read_text(encoding="ascii")
    return int(statm.split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


def size_of(folder: Path) -> float:
    """Return the MB of the files below a folder."""
    return sum(file.stat().st_size for file in folder.rglob("*") if file.is_file()) / 1e6
