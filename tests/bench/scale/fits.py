"""What the fit of a large pool costs, anew and with a twentieth more, and in memory.

Run: ``python -m tests.bench.scale.fits --reports 100000``. Prints; judges nothing. Each fit is
made as the service makes it, in a process of its own; the last line is that process's largest
size. The reports are those of `made`: the simulator's, their words exchanged for others.
"""

import argparse
import json
import resource
import tempfile
from collections.abc import Sequence
from pathlib import Path
from time import perf_counter

from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.evidence.case import case_to_text
from mendpool.usecases.fit_process import Order, fit_apart
from mendpool.usecases.ledger_folder import LedgerFolder

from tests.bench.scale.made import drawn_cases, source_of
from tests.bench.scale.pool import _filled

_MORE = 0.05


def main(arguments: Sequence[str] | None = None) -> None:
    """Print what each fit takes."""
    asked = _arguments(arguments)
    simulator, drawn = drawn_cases(asked.cases)
    of = source_of(simulator, drawn, 1)
    like = [json.loads(case_to_text(case)) for case in drawn]
    catalogue = packaged_catalogue()
    with tempfile.TemporaryDirectory(dir=asked.folder) as folder:
        started = perf_counter()
        store = _filled(Path(folder), of, like, asked.reports)
        print(f"{asked.reports:,} reports put into a file: {perf_counter() - started:,.1f} s")
        kept = LedgerFolder(Path(folder) / "ledger", "bench")
        address = store.engine.url.render_as_string(hide_password=False)

        def fit(what: str, cut: int, at: LedgerFolder | None) -> bytes:
            started = perf_counter()
            body = fit_apart(Order(address, catalogue, cut, at), lambda: True)
            took = perf_counter() - started
            largest = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1e3
            print(
                f"{what}: {took:,.1f} s, {len(body) / 1e6:,.1f} MB; largest {largest:,.0f} MB"
            )
            return body

        before = round(asked.reports * (1 - _MORE))
        fit(f"of {before:,}, anew", before, kept)
        added = fit(f"of {asked.reports:,}, {_MORE:.0%} of them new", asked.reports, kept)
        if asked.twice:
            other = LedgerFolder(Path(folder) / "other", "bench")
            same = fit("the same, anew", asked.reports, other) == added
            print(f"the same bytes: {same}")
        size = sum(file.stat().st_size for file in kept.path.iterdir())
        print(f"ledger on disk {size / 1e6:,.0f} MB")
        store.engine.dispose()


def _arguments(given: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else "")
    parser.add_argument("--reports", type=int, default=100_000)
    parser.add_argument("--cases", type=int, default=3000, help="cases of the simulator")
    parser.add_argument("--folder", help="where the pool is put meanwhile")
    parser.add_argument("--twice", action="store_true", help="make the last one anew as well")
    return parser.parse_args(given)


if __name__ == "__main__":
    main()
