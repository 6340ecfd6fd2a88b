"""One size: every side built in turn, then asked in a random order for each question."""

import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from functools import partial
from pathlib import Path
from random import Random
from typing import Any, NamedTuple

from tests.bench.scale import peers
from tests.bench.scale.corpus import Corpus
from tests.bench.scale.drawn import Asked
from tests.bench.scale.judged import ndcg
from tests.bench.scale.ours import Ours
from tests.bench.scale.postgres import NearestTrigrams, Server, TextSearch, Trigrams, server
from tests.bench.scale.served import Served
from tests.bench.scale.sides import Apart, Here, Missing
from tests.bench.scale.table import OVER_HTTP, Row, in_a_row

ENGINES = (
    "ours", "ours-pg", "http", "http-pg", "fts5", "tsvector", "trgm", "trgm-gist",
    "rapidfuzz", "bm25s", "tantivy",
)  # fmt: skip
_IN_POSTGRES = frozenset({"ours-pg", "http-pg", "tsvector", "trgm", "trgm-gist"})
Tell = Callable[[str], None]


class Rules(NamedTuple):
    """How a run is done.

    Args:
        engines: which sides, of `ENGINES`.
        passes: how often each question is put; what was kept is forgotten in all of them.
        budget_s: a way that took longer in all is asked no more; `q` tells how far it came.
        apart: each side in a process of its own.
        work: where files go that live as long as the run.
    """

    engines: Sequence[str]
    passes: int
    budget_s: float
    work: Path | None
    apart: bool = True


class _Way(NamedTuple):
    side: Apart | Here
    name: str
    row: Row


def one_size(corpus: Corpus, questions: Sequence[Asked], rules: Rules, tell: Tell) -> list[Row]:
    """Return a row for each way in which the sides can be asked."""
    with ExitStack() as stack:
        folder = stack.enter_context(tempfile.TemporaryDirectory(dir=rules.work))
        running: Server | None = None
        if _IN_POSTGRES.intersection(rules.engines):
            try:
                running = stack.enter_context(server(corpus.count, rules.work))
            except Missing as missing:
                tell(f"left out: {missing}")
        ways: list[_Way] = []
        for name in rules.engines:
            if name in _IN_POSTGRES and running is None:
                continue
            made = _made_by(name, running, Path(folder))
            ways += stack.enter_context(_built(name, made, corpus, rules.apart, tell))
        _ask_all(ways, questions, corpus, rules, tell)
        ways += [_in_a_row(way, questions) for way in ways if way.name.endswith(OVER_HTTP)]
        for way in ways:
            way.row.memory_mb = way.side.memory()
        return [way.row for way in ways]


@contextmanager
def _built(
    name: str, made: tuple[Any, ...], corpus: Corpus, apart: bool, tell: Tell
) -> Iterator[list[_Way]]:
    side = Apart(*made) if apart else Here(*made)
    try:
        try:
            built = side.build(corpus)
        except Missing as missing:
            tell(f"left out: {name}: {missing}")
            yield []
            return
        tell(f"{corpus.count:,}: {name} built in {built.seconds:.1f} s")
        yield [
            _Way(side, way, Row(corpus.count, way, built.seconds, built.disk))
            for way in built.ways
        ]
    finally:
        side.close()


def _made_by(name: str, running: Server | None, folder: Path) -> tuple[Any, ...]:
    caches = {kind: folder / kind for kind in ("sqlite", "postgres")}
    for cache in caches.values():
        cache.mkdir(exist_ok=True)
    made: dict[str, tuple[object, ...]] = {
        "ours": (Ours, None, caches["sqlite"]),
        "ours-pg": (Ours, running, caches["postgres"]),
        "http": (Served, None, caches["sqlite"]),
        "http-pg": (Served, running, caches["postgres"]),
        "fts5": (peers.FullText, folder),
        "bm25s": (peers.Bm25s, folder),
        "tantivy": (peers.Tantivy, folder),
        "rapidfuzz": (peers.RapidFuzz, folder),
        "tsvector": (TextSearch, running),
        "trgm": (Trigrams, running),
        "trgm-gist": (NearestTrigrams, running),
    }
    return made[name]


def _ask_all(
    ways: Sequence[_Way],
    questions: Sequence[Asked],
    corpus: Corpus,
    rules: Rules,
    tell: Tell,
) -> None:
    order = Random(5)
    causes = corpus.causes()
    ask = partial(_ask, causes=causes, budget_s=rules.budget_s)
    for turn in range(rules.passes):
        for number, question in enumerate(questions):
            for way in order.sample(ways, len(ways)):
                ask(way, number, question, first=not turn)
            if (number + 1) % 50 == 0:
                tell(f"{corpus.count:,}: {number + 1} questions, pass {turn + 1}")


def _in_a_row(way: _Way, questions: Sequence[Asked]) -> _Way:
    """Ask one side alone, one question after another, as a pool is that is asked all day.

    Between two questions of `_ask_all` a service waits while others work: the processor has
    gone to rest or holds what is theirs, and a route that does nothing takes twice as long.
    """
    row = Row(way.row.size, in_a_row(way.name), way.row.build_s, None)
    row.times_ms += [way.side.ask(way.name, asked)[0] * 1000 for asked in questions]
    return _Way(way.side, row.name, row)


def _ask(
    way: _Way,
    number: int,
    question: Asked,
    *,
    causes: Sequence[str],
    budget_s: float,
    first: bool,
) -> None:
    row = way.row
    if sum(row.times_ms) > budget_s * 1000:
        return
    took, found = way.side.ask(way.name, question, forget=True)
    row.times_ms.append(took * 1000)
    if first and not way.name.startswith("("):
        row.quality[number] = ndcg(found, causes, question.cause)
