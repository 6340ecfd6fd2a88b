"""The one table: ours and what people would use instead, on the same reports and questions.

Run: ``python -m tests.bench.scale --sizes 10000 100000 --cache FOLDER``. Corpora are drawn by
the simulator once and kept in the folder (or in MENDPOOL_BENCH_CACHE). Prints; judges nothing.
Peers are given the raw complaint alone; ours the question as the wire carries it.
"""

import argparse
import json
import os
import sys
from collections.abc import Sequence
from pathlib import Path

from mendpool.core.catalogue.files import packaged_catalogue

from tests.bench.scale.corpus import DRAWN, corpus
from tests.bench.scale.drawn import SEED, Pool, cache_folder
from tests.bench.scale.ours import filled
from tests.bench.scale.rates import bodies, rates
from tests.bench.scale.run import ENGINES, Rules, one_size
from tests.bench.scale.table import Row, against_the_best, growth_of, lines_of


def main(arguments: Sequence[str] | None = None) -> None:
    """Print a table for each size, then how the costs grow, then the rates of writing."""
    asked = _arguments(arguments)
    # Set here for the processes that are started: our matrices are small (D-008).
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    pool = Pool(asked.cache, asked.seed)
    now, then = packaged_catalogue().version, pool.drawn_with()
    if now != then:
        _tell(f"drawn and derived with catalogue {then}; it is {now} now")
    if asked.draw:
        pool.draw(min(max(asked.sizes), asked.drawn), asked.draw)
    questions = pool.questions(asked.questions)
    rules = Rules(asked.engines, asked.passes, asked.budget_s, asked.work, not asked.together)
    tables: dict[int, list[Row]] = {}
    for size in sorted(asked.sizes):
        _tell(f"{size:,}: making or finding the corpus")
        made = corpus(pool, size, asked.drawn)
        if asked.prepare:
            filled(made, None)
            continue
        tables[size] = one_size(made, questions, rules, _tell)
        if not asked.json:
            print("\n".join([*lines_of(tables[size]), *against_the_best(tables[size]), ""]))
            sys.stdout.flush()
    if asked.prepare:
        bodies(pool, asked.import_reports)
        return
    written = rates(pool, asked.import_reports, asked.work, _tell) if asked.rates else []
    if asked.json:
        rows = [row.to_json() for rows in tables.values() for row in rows]
        print(json.dumps({"rows": rows, "rates": written}))
    else:
        print("\n".join([*growth_of(tables), *written]))


def _tell(says: str) -> None:
    print(says, file=sys.stderr, flush=True)


def _arguments(given: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else "")
    add = parser.add_argument
    add("--sizes", type=int, nargs="+", default=[10_000, 100_000])
    add("--engines", nargs="+", choices=ENGINES, default=list(ENGINES))
    add("--questions", type=int, default=200)
    add("--passes", type=int, default=1)
    add("--budget-s", type=float, default=40, help="a slower way is asked fewer questions")
    add("--cache", type=Path, default=cache_folder(), help="where corpora are kept")
    add("--work", type=Path, help="where files go that live as long as the run")
    add("--seed", type=int, default=SEED, help="of the simulator's world")
    add("--drawn", type=int, default=DRAWN, help="reports drawn; more are retellings of them")
    add("--draw", type=int, default=0, metavar="N", help="draw first, in N processes")
    add("--prepare", action="store_true", help="make corpora, fits and pools, and stop")
    add("--together", action="store_true", help="all sides in this process, for a quick look")
    add("--rates", action="store_true", help="import and writes as well")
    add("--import-reports", type=int, default=5000)
    add("--json", action="store_true")
    return parser.parse_args(given)


if __name__ == "__main__":
    main()
