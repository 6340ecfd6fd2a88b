"""Derive stored cases again when the catalogue or the way of deriving has changed."""

import json
from collections.abc import Callable

from pydantic import ValidationError

from mendpool.core.diagnosis.derive import derive, derived_version
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.errors import RefusedInput
from mendpool.core.evidence.case import case_to_text
from mendpool.core.record.report import Report
from mendpool.store.pool_store import PoolStore
from mendpool.store.values import StaleCase
from mendpool.usecases.workplace import GIVEN

_PAGE = 500
_ADDED = ("cautions", "removed", GIVEN)


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
        made = [(case.report_id, text) for case in stale if (text := _again(case, engine))]
        store.set_cases(made, version)
        after = stale[-1].seq
        looked_at += len(stale)
    return looked_at


def _again(stale: StaleCase, engine: Engine) -> str | None:
    body = json.loads(stale.body)
    given = body.get(GIVEN, {})
    kept = {name: value for name, value in body.items() if name not in _ADDED}
    kept.update({name: given.get(name, []) for name in ("symptoms", "readings")})
    try:
        report = Report.model_validate(kept)
        derived = derive(str(stale.report_id), report, engine.plain_reader, engine.knowledge)
    except (ValidationError, RefusedInput):
        return None
    return case_to_text(derived.case)
