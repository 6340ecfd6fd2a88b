"""Leave one out of the invented co-op, ask about it, and see who names the true cause.

Run: ``python -m tests.bench.diagnosis.leave_out [--by person]``. Prints a table; judges
nothing.
"""

import sys
from collections import defaultdict
from collections.abc import Callable, Sequence

from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.evidence.fit import EMPTY_FIT, fit
from mendpool.index.postings import Postings

from tests.bench.diagnosis.baselines import (
    commonest_for_the_symptom,
    nearest_by_bm25,
    nearest_by_rapidfuzz,
)
from tests.bench.diagnosis.coop_cases import Asked, load
from tests.bench.measures import log_loss

Ranked = dict[str, list[str]]


def ours(engine: Engine, question: Asked, pool: Sequence[Asked]) -> tuple[list[str], float]:
    """Return our causes, best first, and the probability given to the truth."""
    held = (a.case for a in pool)
    learned = engine.with_fit(fit(held, engine.expectations) if pool else EMPTY_FIT)
    postings = Postings()
    for asked in pool:
        postings.add(asked.case)
    understood = learned.understand(question.question)
    cases = postings.search(learned.search_terms(understood))
    answer = learned.answer(question.question, understood, cases, len(pool))
    causes = [f"{c.component}/{c.failure}" for c in answer.causes if c.component]
    given = {f"{c.component}/{c.failure}": c.probability for c in answer.causes}
    return causes, given.get(question.truth or "", 0.0005)


def run(
    by_person: bool = False, progress: Callable[[int], None] = lambda _: None
) -> dict[str, list[float]]:
    """Return for each method: share first, share in three, component first, log loss."""
    engine = Engine(packaged_catalogue())
    everyone = load(engine)
    questions = [a for a in everyone if a.truth and "/" in a.truth]
    places: dict[str, list[tuple[int, int]]] = defaultdict(list)
    given: dict[str, list[float]] = defaultdict(list)
    for number, question in enumerate(questions):
        pool = [
            a
            for a in everyone
            if a is not question and not (by_person and a.case.group == question.case.group)
        ]
        with_pool, probability = ours(engine, question, pool)
        alone, probability_alone = ours(engine, question, [])
        given["ours"].append(probability)
        given["ours, no reports"].append(probability_alone)
        ranked = {
            "ours": with_pool,
            "ours, no reports": alone,
            "nearest report, BM25": nearest_by_bm25(question, pool),
            "nearest report, RapidFuzz": nearest_by_rapidfuzz(question, pool),
            "commonest for the symptom": commonest_for_the_symptom(question, pool),
        }
        for name, causes in ranked.items():
            places[name].append(
                (_rank(question.truth, causes), _rank_of_component(question.truth, causes))
            )
        progress(number)
    return {
        name: [
            sum(r == 1 for r, _ in ranks) / len(ranks),
            sum(r <= 3 for r, _ in ranks) / len(ranks),
            sum(c == 1 for _, c in ranks) / len(ranks),
            sum(c <= 3 for _, c in ranks) / len(ranks),
            log_loss(given[name]) if given[name] else float("nan"),
            float(len(ranks)),
        ]
        for name, ranks in places.items()
    }


def _rank(truth: str | None, causes: Sequence[str]) -> int:
    return causes.index(truth) + 1 if truth in causes else 999


def _rank_of_component(truth: str | None, causes: Sequence[str]) -> int:
    components = list(dict.fromkeys(c.split("/")[0] for c in causes))
    wanted = str(truth).split("/")[0]
    return components.index(wanted) + 1 if wanted in components else 999


def main() -> None:
    """Print the table."""
    table = run(by_person="person" in sys.argv)
    print(f"{'method':28} first  in 3  part first  part in 3  log loss")
    for name, (first, three, part, part3, loss, n) in table.items():
        shares = f"{first:5.2f} {three:5.2f} {part:11.2f} {part3:10.2f}"
        print(f"{name:28} {shares} {loss:9.2f}   n={n:.0f}")


if __name__ == "__main__":
    main()
