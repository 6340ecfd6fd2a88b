"""What the fit of a large pool costs, anew and with a twentieth more, and in memory.

Run: ``python -m tests.bench.scale.fits --reports 100000``. Prints; judges nothing. Each fit is
made as the service makes it, in a process of its own; the last line is that process's largest
size. The reports are those of `corpus`.
"""

import argparse
import resource
import tempfile
from collections.abc import Sequence
from pathlib import Path
from time import perf_counter

from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.usecases.fit_process import Order, fit_apart
from mendpool.usecases.ledger_folder import LedgerFolder

from tests.bench.scale.corpus import corpus
from tests.bench.scale.drawn import Pool, cache_folder
from tests.bench.scale.ours import fill

_MORE = 0.05


def main(arguments: Sequence[str] | None = None) -> None:
    """Print what each fit takes."""
    asked = _arguments(arguments)
    made = corpus(Pool(asked.cache), asked.reports, asked.drawn)
    catalogue = packaged_catalogue()
    with tempfile.TemporaryDirectory(dir=asked.folder) as folder:
        started = perf_counter()
        address = f"sqlite:///{Path(folder) / 'pool.db'}"
        fill(address, made, None, None)
        print(f"{asked.reports:,} reports put into a file: {perf_counter() - started:,.1f} s")
        kept = LedgerFolder(Path(folder) / "ledger", "bench")

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


def _arguments(given: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else "")
    parser.add_argument("--reports", type=int, default=100_000)
    parser.add_argument("--drawn", type=int, default=3000, help="drawn; more are told again")
    parser.add_argument("--cache", type=Path, default=cache_folder())
    parser.add_argument("--folder", help="where the pool is put meanwhile")
    parser.add_argument("--twice", action="store_true", help="make the last one anew as well")
    return parser.parse_args(given)


if __name__ == "__main__":
    main()
