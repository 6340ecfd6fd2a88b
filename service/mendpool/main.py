"""The composition root: settings become a running service."""

import atexit
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from starlette.types import ASGIApp

from mendpool.api.app import make_app
from mendpool.api.context import Service, new_limiter
from mendpool.core.catalogue.catalogue import Catalogue
from mendpool.core.catalogue.files import packaged_catalogue
from mendpool.core.diagnosis.derive import derived_version
from mendpool.core.privacy.scrub import scrub_record
from mendpool.core.text.reader import trade_words
from mendpool.index.folder import Folder
from mendpool.settings import Settings
from mendpool.store.engine import make_engine
from mendpool.store.pool_store import PoolStore
from mendpool.store.replica import open_replica
from mendpool.usecases.derive_again import derive_again
from mendpool.usecases.learned import Learned
from mendpool.usecases.workplace import Workplace

Scrubber = Callable[[dict[str, Any]], tuple[dict[str, Any], dict[str, int]]]

_DERIVED_AT_ONCE = 2000
"""Reports derived again before the service answers: half a minute."""


def utc_now() -> datetime:
    """Return the time, aware, in UTC: the service's one clock."""
    return datetime.now(UTC)


def open_place(settings: Settings) -> Workplace:
    """Return the hold on the pool that the settings name, its index caught up."""
    catalogue = packaged_catalogue(settings.cache_dir)
    store = PoolStore(make_engine(settings.database_url))
    if settings.replica_url is not None:
        store.replica = open_replica(settings.replica_url)
    settled = store.pool_settings()
    version = f"{settled.pool_id} {derived_version(catalogue)}"
    learned = Learned(store, catalogue, Folder(settings.cache_dir / "index", version))
    if derive_again(store, learned.engine, lambda done: done < _DERIVED_AT_ONCE):
        # Few are left by now, or so many that nobody should wait for them.
        learned.derive_apart(
            lambda go_on: derive_again(store, learned.engine, lambda _: go_on())
        )
    learned.catch_up()
    return Workplace(
        store,
        learned,
        catalogue,
        settled.key,
        scrubber(catalogue, settings.region),
    )


def scrubber(catalogue: Catalogue, region: str | None = None) -> Scrubber:
    """Return what takes names out of a report, by the catalogue's own words."""
    trade = trade_words(catalogue)
    ordinary = frozenset(catalogue.ordinary)

    def scrub(body: dict[str, Any]) -> tuple[dict[str, Any], dict[str, int]]:
        return scrub_record(body, trade, ordinary, region)

    return scrub


def create_app(settings: Settings) -> ASGIApp:
    """Return the application for the settings."""
    place = open_place(settings)
    place.learned.work_apart()
    atexit.register(place.learned.stop)
    place.learned.fit_if_due(utc_now(), then=place.store.erase_remnants)
    service = Service(
        place, utc_now, settings.requests_a_minute, settings.reports_a_day, new_limiter()
    )
    return make_app(service)
