"""A process that writes to a pool through the store and says on its output what was kept."""

import argparse
import itertools
import json
import os
import threading
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from uuid import UUID

from uuid_utils.compat import uuid7

from mendpool.core.errors import MendpoolError
from mendpool.store.engine import make_engine
from mendpool.store.pool_store import PoolStore
from mendpool.store.values import NewReport

from tests.store.samples import facets


def main(argv: Sequence[str] | None = None) -> None:
    """Write reports, follow-ups and withdrawals until killed; a line for each one kept."""
    parser = argparse.ArgumentParser()
    parser.add_argument("url")
    parser.add_argument("member", type=int)
    parser.add_argument("--threads", type=int, default=3)
    given = parser.parse_args(argv)
    store = PoolStore(make_engine(given.url))
    threads = [
        threading.Thread(target=_write, args=(store, given.member), daemon=True)
        for _ in range(given.threads)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def _write(store: PoolStore, member: int) -> None:
    for step in _steps(store, member):
        os.write(1, json.dumps(step).encode() + b"\n")  # whole lines, whoever else writes


def _steps(store: PoolStore, member: int) -> Iterator[tuple[str, str, int]]:
    for number in itertools.count():
        name = UUID(str(uuid7()))
        now = datetime.now(UTC)
        new = NewReport(name, member, "s", '{"a": 1}', '{"terms": []}', "1", facets())
        try:
            put = store.put_report(new, now)
            yield "report", str(name), put.record.seq
            if number % 4 == 1:
                other = UUID(str(uuid7()))
                kept = store.put_followup(
                    name, other, member, steward=False, sameness="s", body="{}", now=now
                )
                yield "followup", str(other), kept.record.seq
            if number % 7 == 3 and store.withdraw(name, member, steward=False, now=now):
                yield "withdrawal", str(name), 0
        except MendpoolError:
            continue


if __name__ == "__main__":
    main()
