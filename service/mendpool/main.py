"""The composition root: settings become a running service."""

import atexit
import os
import time
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from uuid_utils.compat import uuid7

from mendpool.collecting import Collecting
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.diagnosis.derive import derived_version
from mendpool.core.diagnosis.engine import Engine
from mendpool.core.privacy.language import language_of
from mendpool.core.privacy.scrub import scrub_record
from mendpool.core.text.reader import trade_words
from mendpool.index.folder import Folder
from mendpool.settings import Settings
from mendpool.store.engine import make_engine
from mendpool.store.pool_store import PoolStore
from mendpool.store.replica import open_replica
from mendpool.store.values import Member, StaleCase
from mendpool.usecases.bulk_in import (
    Imported,
    Lines,
    Ready,
    Tell,
    import_lines,
    lines_of,
    make_ready,
)
from mendpool.usecases.derive_again import Made, cases_again, derive_again, derive_pages
from mendpool.usecases.learned import Learned
from mendpool.usecases.ledger_folder import LedgerFolder
from mendpool.usecases.snapshot import Snapshots
from mendpool.usecases.spread import Spread, processors
from mendpool.usecases.stretches import Gather, Stretch, stretch_after
from mendpool.usecases.workplace import Workplace

if TYPE_CHECKING:
    from starlette.types import ASGIApp

    from mendpool.api.metrics import Metrics
    from mendpool.api.seen import Note

Scrubber = Callable[[dict[str, Any]], tuple[dict[str, Any], dict[str, int]]]

_DERIVED_AT_ONCE = 2000
"""Reports derived again before the service answers: half a minute."""
_DERIVED_AT_ONCE_S = 60
_READY_FOR_S = 2.0
"""So long `/readyz` stands by what it found; who watches a service asks every few seconds."""


def utc_now() -> datetime:
    """Return the time, aware, in UTC: the service's one clock."""
    return datetime.now(UTC)


def open_place(settings: Settings) -> Workplace:
    """Return the hold on the pool that the settings name, its index caught up."""
    place = sleeping_place(settings)
    learned = place.learned
    # One process at a time: those that start with it find nothing left to do.
    with place.store.alone("derive", _DERIVED_AT_ONCE_S):
        looked_at = derive_again(
            place.store, learned.engine, lambda done: done < _DERIVED_AT_ONCE
        )
    if looked_at:
        # Few are left by now, or so many that nobody should wait for them.
        learned.derive_apart(
            lambda go_on: derive_again(place.store, learned.engine, lambda _: go_on())
        )
    learned.catch_up()
    return place


def sleeping_place(settings: Settings) -> Workplace:
    """Return the hold on the pool that the settings name, with nothing read of it yet."""
    catalogue = packaged_catalogue(settings.cache_dir)
    store = _opened(settings)
    settled = store.pool_settings()
    derived, pool = derived_version(catalogue), str(settled.pool_id)
    learned = Learned(
        store,
        catalogue,
        index_folder(settings, catalogue, store),
        ledger=LedgerFolder(settings.cache_dir / "ledger" / pool, derived),
        gather=_gather(settings, store),
    )
    return Workplace(
        store,
        learned,
        catalogue,
        settled.key,
        scrubber(catalogue, settings.region),
    )


def _opened(settings: Settings) -> PoolStore:
    store = PoolStore(make_engine(settings.database_url))
    if settings.replica_url is not None:
        store.replica = open_replica(settings.replica_url)
    return store


def _gather(settings: Settings, store: PoolStore) -> Gather:
    """Return what has a long feed read by a process for each processor."""
    here = partial(stretch_after, store)
    return Spread(partial(feed_reader, settings), here, processors(), store.let_go).over


def feed_reader(settings: Settings) -> Callable[[int], Stretch]:
    """Return what reads stretches of the feed, for a process that helps with it."""
    return partial(stretch_after, _opened(settings))


def index_folder(settings: Settings, catalogue: Catalogue, store: PoolStore) -> Folder:
    """Return where the index of this pool, catalogue and code is kept."""
    pool = str(store.pool_settings().pool_id)
    return Folder(settings.cache_dir / "index" / pool, derived_version(catalogue))


def ready_maker(settings: Settings, member: Member, now: datetime) -> Callable[[Lines], Ready]:
    """Return what makes lines ready, for a process that helps to bring them in."""
    return partial(make_ready, sleeping_place(settings), member, now)


def bring_in(
    settings: Settings, member: Member, file: BinaryIO, workers: int, tell: Tell
) -> Imported:
    """File the reports of JSON Lines, and make the fit that is due then.

    Args:
        workers: how many processes make lines ready.
    """
    now = utc_now()
    place = sleeping_place(settings)
    # Before the others are made: what is set aside stays theirs and ours together.
    collecting = Collecting()
    collecting.begin()
    try:
        spread = Spread(
            partial(ready_maker, settings, member, now),
            partial(make_ready, place, member, now),
            workers,
            place.store.let_go,
        )
        done = import_lines(place, lines_of(file), now, tell, spread.over)
    finally:
        collecting.end()
    if spread.broken:
        tell("No other process could help; it was done by one.")
    if done.new or done.followups:
        tell("Learning from them...")
        derive_all(settings, place, workers, tell)
        place.learned.fit_if_due(utc_now())
    return done


def derive_all(settings: Settings, place: Workplace, workers: int, tell: Tell) -> int:
    """Bring every case up to this code and catalogue; return how many were not."""
    engine = place.learned.engine
    spread = Spread(
        partial(case_maker, settings.cache_dir), partial(cases_again, engine), workers
    )
    with place.store.alone("derive", 0) as mine:
        if not mine:
            tell("Another process is deriving the cases again; it goes on.")
            return 0
        return derive_pages(place.store, engine, spread.over, tell)


def case_maker(cache_dir: Path) -> Callable[[Sequence[StaleCase]], Made]:
    """Return what derives cases again, for a process that helps with it."""
    return partial(cases_again, Engine(packaged_catalogue(cache_dir)))


def scrubber(catalogue: Catalogue, region: str | None = None) -> Scrubber:
    """Return what takes names out of a report, by the catalogue's own words."""
    trade = trade_words(catalogue)
    ordinary, language = catalogue.nobodys_words, language_of(catalogue.scrub_words)

    def scrub(body: dict[str, Any]) -> tuple[dict[str, Any], dict[str, int]]:
        return scrub_record(body, trade, ordinary, language, region)

    return scrub


def open_snapshots(settings: Settings, place: Workplace) -> Snapshots:
    """Return what makes and keeps this pool's snapshots."""
    pool = place.store.pool_settings().pool_id.hex
    return Snapshots(place, settings.cache_dir / "snapshots" / pool)


def create_app(settings: Settings) -> "ASGIApp":
    """Return the application for the settings."""
    # The web's half a second is spared to every command that does not serve.
    from mendpool.api.app import make_app
    from mendpool.api.context import Service, new_limiter
    from mendpool.api.seen import Watch
    from mendpool.logs import note_request

    place = open_place(settings)
    place.learned.work_apart(in_process=True)
    atexit.register(place.learned.stop)
    place.learned.fit_if_due(utc_now(), then=place.store.erase_remnants)
    snapshots = open_snapshots(settings, place)
    atexit.register(snapshots.stop)
    notes: list[Note] = [note_request]
    told_lag = None
    if settings.metrics_port is not None:
        counted = _counting(settings.metrics_port)
        notes.append(counted.note)
        told_lag = counted.lag
    service = Service(
        place,
        utc_now,
        uuid7,
        settings.requests_a_minute,
        settings.reports_a_day,
        new_limiter(),
        snapshots,
        told_lag,
        settings.photos_a_day,
        _READY_FOR_S,
    )
    app = make_app(service, Watch(notes, lambda: uuid7().hex, time.perf_counter))
    Collecting().begin()
    return app


def _counting(port: int) -> "Metrics":
    """Return what counts, given out by this process or by the one that watches over it."""
    from mendpool.api.metrics import SHARED, Metrics, give_out

    counted = Metrics()
    if SHARED not in os.environ:
        atexit.register(give_out(port, counted.registry))
    return counted
