"""Our boards cut down to what the exact optimum can do: what one step of looking loses."""

from collections.abc import Sequence

import numpy as np

from mendpool.core.diagnosis.beliefs import believe
from mendpool.core.diagnosis.board import lay_out
from mendpool.core.diagnosis.covers import Covers
from mendpool.core.diagnosis.cures import chances
from mendpool.core.diagnosis.decide import Options
from mendpool.core.diagnosis.hands import Hands
from mendpool.core.diagnosis.knowledge import Array

from tests.bench.diagnosis.exact import cheapest_first, followed, most_likely_first, optimum
from tests.bench.diagnosis.sides import Held
from tests.bench.diagnosis.simulator.pool import Drawn

_FAULTS, _REPAIRS, _TESTS, _RESULTS = 6, 6, 3, 4


def cut_down(held: Held, drawn: Drawn) -> tuple[Array, Options]:
    """Return a question's board with its likeliest causes, best repairs and best checks."""
    engine = held.engine
    facts = engine.understand(drawn.asked.question).facts
    beliefs = believe(facts, engine.knowledge, engine.result_rates, engine.word_rates, [])
    cures = chances(beliefs, engine.knowledge, [])
    board = lay_out(facts, beliefs, engine.knowledge, cures, {}, Hands())
    likely = np.argsort(-board.belief[:-1], kind="stable")[: _FAULTS - 1]
    columns = [*sorted(int(i) for i in likely), len(board.belief) - 1]
    belief = board.belief[columns] / board.belief[columns].sum()
    works = board.options.cures[:, columns]
    repairs = np.argsort(-(works @ belief), kind="stable")[:_REPAIRS]
    few = [t for t, table in enumerate(board.options.tests) if len(table) <= _RESULTS]
    tests = few[:_TESTS]
    tables = [board.options.tests[t][:, columns] for t in tests]
    options, covers = board.options, board.options.covers
    assert covers is not None
    kept = Covers(
        covers.stays,
        [covers.of_repair[a] for a in repairs],
        [covers.saved_by_repair[a] for a in repairs],
        [covers.of_test[t] for t in tests],
        [covers.saved_by_test[t] for t in tests],
        [covers.test_runs[t] for t in tests],
    )
    return belief, Options(
        works[repairs],
        options.repair_costs[repairs],
        tables,
        [options.test_costs[t] for t in tests],
        options.last_resort,
        covers=kept,
        repair_manners=[options.repair_manners[a] for a in repairs],
        test_manners=[options.test_manners[t] for t in tests],
    )


def over_the_optimum(
    held: Held, questions: Sequence[Drawn]
) -> dict[str, tuple[float, float, float]]:
    """Return, by policy, mean, 95th percentile and largest ratio to the exact optimum."""
    ratios: dict[str, list[float]] = {"ours": [], "most likely first": [], "cheapest first": []}
    for drawn in questions:
        belief, options = cut_down(held, drawn)
        best = optimum(belief, options)
        ratios["ours"].append(followed(belief, options) / best)
        ratios["most likely first"].append(most_likely_first(belief, options) / best)
        ratios["cheapest first"].append(cheapest_first(belief, options) / best)
    return {
        side: (sum(r) / len(r), sorted(r)[int(0.95 * (len(r) - 1))], max(r))
        for side, r in ratios.items()
    }
