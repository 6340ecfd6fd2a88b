"""Derive stored cases again when the catalogue or the way of deriving has changed."""

import json
import time
from collections.abc import Callable, Generator, Iterable, Iterator, Mapping, Sequence
from contextlib import closing
from typing import Any
from uuid import UUID

from pydantic import ValidationError

from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.diagnosis.derive import derive, derived_version
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.errors import RefusedInput
from mendpool.core.evidence.case import case_to_text
from mendpool.core.record.report import Report
from mendpool.store.pool_store import PoolStore
from mendpool.store.values import StaleCase
from mendpool.usecases.workplace import GIVEN

_PAGE = 500
_ADDED = ("advice", "cautions", "removed", GIVEN)
_TOLD_EVERY_S = 2.0

Made = list[tuple[UUID, str]]
Over = Callable[[Iterable[Sequence[StaleCase]]], Generator[Made, None, None]]


def derive_again(
    store: PoolStore, engine: Engine, go_on: Callable[[int], bool] = lambda _: True
) -> int:
    """Bring every case up to this code and catalogue; before the index is filled.

    A report that this version can no longer read keeps the case it had.

    Args:
        store: of the cases.
        engine: of the catalogue.
        go_on: told how many were looked at; False ends it, with the rest as they were.

    Returns:
        How many were looked at.
    """
    version = derived_version(engine.catalogue)
    after = looked_at = 0
    while go_on(looked_at) and (stale := store.stale_cases(version, after, _PAGE)):
        store.set_cases(cases_again(engine, stale), version)
        after = stale[-1].seq
        looked_at += len(stale)
    return looked_at


def derive_pages(
    store: PoolStore, engine: Engine, over: Over, tell: Callable[[str], None]
) -> int:
    """Do what `derive_again` does, page by page over other processes.

    Args:
        store, engine: as there.
        over: does `cases_again` on pages, its results in order.
        tell: hears how far it is.

    Returns:
        How many cases were made anew.
    """
    version = derived_version(engine.catalogue)
    made = 0
    said = time.monotonic()
    with closing(over(_pages(store, version))) as pages:
        for cases in pages:
            store.set_cases(cases, version)
            made += len(cases)
            if time.monotonic() - said >= _TOLD_EVERY_S:
                said = time.monotonic()
                tell(f"{made} cases derived again so far")
    return made


def cases_again(engine: Engine, stale: Sequence[StaleCase]) -> Made:
    """Return the cases of reports anew, without those of reports that can't be read."""
    return [(case.report_id, text) for case in stale if (text := _again(case, engine))]


def _pages(store: PoolStore, version: str) -> Iterator[Sequence[StaleCase]]:
    after = 0
    while stale := store.stale_cases(version, after, _PAGE):
        yield stale
        after = stale[-1].seq


class Deriver:
    """Derives cases of stored reports. The engine is made when it is first wanted."""

    def __init__(self, catalogue: Catalogue, make_engine: Callable[[], Engine]) -> None:
        self.version = derived_version(catalogue)
        self._make = make_engine
        self._engine: Engine | None = None

    def case(self, report_id: str, body: Mapping[str, Any]) -> str | None:
        """Return the case of a stored report; None where this version can't read it."""
        if self._engine is None:
            self._engine = self._make()
        return case_again(report_id, body, self._engine)


def case_again(report_id: str, body: Mapping[str, Any], engine: Engine) -> str | None:
    """Derive the case of a stored report's body; None where this version can't read it."""
    given = body.get(GIVEN, {})
    kept = {name: value for name, value in body.items() if name not in _ADDED}
    kept.update({name: given.get(name, []) for name in ("symptoms", "readings")})
    try:
        report = Report.model_validate(kept)
        derived = derive(report_id, report, engine.plain_reader, engine.knowledge)
    except (ValidationError, RefusedInput):
        return None
    return case_to_text(derived.case)


def _again(stale: StaleCase, engine: Engine) -> str | None:
    return case_again(str(stale.report_id), json.loads(stale.body), engine)
