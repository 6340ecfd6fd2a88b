"""After a withdrawal the words are gone from the bytes on the disk, not only from answers."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from mendpool.store.engine import Journal, reading
from mendpool.store.pool_store import PoolStore
from mendpool.store.values import Member, NewReport

from tests.store.samples import (
    NOW,
    POOL_ID,
    POOL_KEY,
    add_member,
    an_id,
    facets,
    follow,
    new_report,
    put_photo,
)

CANARY = "quillfeather"
HIDDEN = 130


@pytest.mark.parametrize("journal", ["wal", "rollback"])
def test_no_byte_of_a_withdrawn_report_is_left_in_the_files(
    sqlite_store: Callable[[Journal], PoolStore], journal: Journal
) -> None:
    store = sqlite_store(journal)
    folder = Path(str(store.engine.url.database)).parent
    store.init_pool(POOL_ID, POOL_KEY, NOW)
    ana = add_member(store, "ana")
    for batch in range(5):
        numbers = range(100 * batch, 100 * batch + 100)
        store.put_reports([_report(ana, number) for number in numbers], NOW)
    put_photo(store, ana, HIDDEN, b"\xff\xd8" + CANARY.encode() * 9_000)
    put_photo(store, ana, 7, b"\xff\xd8ordinary")
    follow(store, ana, HIDDEN, sameness=CANARY, body=json.dumps({"note": CANARY * 900}))
    assert _files_with(CANARY, folder)  # or the test could not fail
    store.withdraw(an_id(HIDDEN), ana.id, steward=False, now=NOW)
    assert _free_pages(store) > 0
    store.erase_remnants()
    assert _free_pages(store) == 0
    assert _files_with(CANARY, folder) == []
    assert _files_with("ordinary", folder)
    assert store.report_count() == 499
    assert len(store.photos_of(an_id(7))) == 1
    assert store.cases_after(HIDDEN, 1)[0].case_body is None
    store.engine.dispose()


def _free_pages(store: PoolStore) -> int:
    with reading(store.engine) as connection:
        return int(connection.exec_driver_sql("PRAGMA freelist_count").scalar_one())


def _files_with(word: str, folder: Path) -> list[str]:
    return [
        file.name for file in sorted(folder.iterdir()) if word.encode() in file.read_bytes()
    ]


def _report(member: Member, number: int) -> NewReport:
    # Codes that come in no order, so that pages of the indexes split around the canary, and
    # bodies longer than a page, so that others overflow around it.
    word = CANARY if number == HIDDEN else f"q{number * 37 % 500:03}-ordinary"
    return new_report(
        member,
        number,
        sameness=f"{word}-{number}",
        body=json.dumps({"said": f"{word} " * (600 if number % 7 == HIDDEN % 7 else 20)}),
        case_body=json.dumps({"terms": [word] * 30}),
        derived_version=f"{word}-1",
        facets=facets(fuel=f"{word}-fuel", symptoms=(word,), components=(word,)),
    )
