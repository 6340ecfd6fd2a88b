"""The index at 10 thousand, 100 thousand and a million reports, beside its peers.

Run: ``python -m tests.bench.scale --reports 10000 100000 1000000``. One process, the same
reports and questions for every side, a random order of sides for each question. Prints;
judges nothing, but stops if a score differs from plain addition.
"""

import argparse
import resource
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import islice
from random import Random
from time import perf_counter
from uuid import UUID

from mendpool.index.finder import Finder

from tests.bench.scale.made import Source, reports, source
from tests.bench.scale.peers import FullText, Scatter

_PAGE = 2000
_TAIL_IN_BULK = 131_072  # as `usecases.indexing` does
Search = Callable[[Mapping[str, int]], object]


def main(arguments: Sequence[str] | None = None) -> None:
    """Print a table for each size."""
    asked = _arguments(arguments)
    made_of = source(asked.cases, asked.questions)
    print("reports     side            p50 ms    p99 ms   build s   peak MB of all")
    for count in asked.reports:
        _one_size(made_of, count, asked)


class Sides:
    """Ours and its peers over the same reports, with what each took to build."""

    def __init__(self, *, alone: bool, full_text: bool) -> None:
        """Take the peers along unless ours is `alone`."""
        self.finder = Finder()
        self.scatter = None if alone else Scatter()
        self.text = FullText() if full_text and not alone else None
        self.built: dict[str, float] = {}

    def add(self, page: Sequence[tuple[UUID, list[str]]], first: int) -> None:
        """Add reports to every side."""
        with self._building("ours"):
            for place, (report, terms) in enumerate(page):
                self.finder.add(first + place, report, terms)
            if self.finder.tail_length >= _TAIL_IN_BULK:
                self.finder.tidy()
        told = [terms for _, terms in page]
        if self.scatter is not None:
            with self._building("scatter"):
                self.scatter.add(told)
        if self.text is not None:
            with self._building("FTS5 bm25"):
                self.text.add(told, first)

    def close(self) -> dict[str, Search]:
        """Return the searches by side, each ready."""
        with self._building("ours"):
            self.finder.tidy()
        sides: dict[str, Search] = {"ours": self.finder.search}
        if self.scatter is not None:
            with self._building("scatter"):
                self.scatter.close()
            sides["scatter"] = self.scatter.search
        if self.text is not None:
            sides["FTS5 bm25"] = self.text.search
        return sides

    @contextmanager
    def _building(self, side: str) -> Iterator[None]:
        started = perf_counter()
        yield
        self.built[side] = self.built.get(side, 0.0) + perf_counter() - started


def _one_size(of: Source, count: int, asked: argparse.Namespace) -> None:
    sides = Sides(alone=asked.alone, full_text=count <= asked.full_text)
    made, seq = reports(of, count), 0
    while page := list(islice(made, _PAGE)):
        sides.add(page, seq + 1)
        seq += len(page)
    searches = sides.close()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    times = _timed(searches, of.questions, asked.passes)
    if sides.scatter is not None:
        _agree(sides.finder, sides.scatter, of.questions)
    for side in searches:
        took = sorted(times[side])
        print(
            f"{count:9,}  {side:12}  {_at(took, 0.5):9.3f} {_at(took, 0.99):9.3f}"
            f"  {sides.built[side]:8.1f}   {peak:8.0f}",
            flush=True,
        )


def _timed(
    sides: Mapping[str, Search], questions: Sequence[Mapping[str, int]], passes: int
) -> dict[str, list[float]]:
    order = Random(5)
    times: dict[str, list[float]] = {side: [] for side in sides}
    for turn in range(passes):
        for question in questions:
            for side in order.sample(sorted(sides), len(sides)):
                if side.startswith("FTS5") and (turn or len(times[side]) >= 60):
                    continue
                started = perf_counter()
                sides[side](question)
                times[side].append((perf_counter() - started) * 1000)
    return times


def _agree(finder: Finder, scatter: Scatter, questions: Sequence[Mapping[str, int]]) -> None:
    for question in questions:
        ours = [-hit.score for hit in finder.search(question)]
        theirs = [score for score, _ in scatter.search(question)]
        if ours != theirs:
            raise SystemExit(f"scores differ from plain addition for {question}")


def _at(times: Sequence[float], share: float) -> float:
    return times[min(len(times) - 1, int(share * len(times)))]


def _arguments(given: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else "")
    parser.add_argument("--reports", type=int, nargs="+", default=[10_000, 100_000])
    parser.add_argument("--questions", type=int, default=100)
    parser.add_argument("--cases", type=int, default=400, help="cases of the simulator")
    parser.add_argument("--passes", type=int, default=3)
    parser.add_argument("--full-text", type=int, default=100_000, help="largest size for FTS5")
    parser.add_argument("--alone", action="store_true", help="ours alone, for its memory")
    return parser.parse_args(given)


if __name__ == "__main__":
    main()
