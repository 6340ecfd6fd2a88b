"""The fault sheet over the wire: the same as the command prints, word for word."""

import re
from html import unescape
from typing import Any

from mendpool.core.record.machine import Machine
from mendpool.core.sheet.made import sheet_of
from mendpool.core.sheet.page import sheet_page
from mendpool.core.sheet.told import sheet_told

from tests.api.pools import Pool

BARN = {
    "fuel": "diesel", "cooling": "liquid", "phases": 1, "rated_kva": 6.5, "rated_volts": 240,
    "rated_hz": 60,
}  # fmt: skip
WORD = re.compile(r"[a-z0-9.]+[a-z0-9]|[a-z0-9]")


def ask(pool: Pool, **body: Any) -> Any:
    return pool.client("alder").post("/v1/sheet", json=body)


def texts(value: Any) -> set[str]:
    if isinstance(value, dict):
        return set().union(*map(texts, value.values()))
    if isinstance(value, list):
        return set().union(*map(texts, value))
    return {value} if isinstance(value, str) else set()


def test_it_is_the_sheet_of_the_plate(pool: Pool) -> None:
    answer = ask(pool, machine=BARN, name="barn")
    assert answer.status_code == 200
    made = sheet_of(Machine.model_validate(BARN), pool.service.place.learned.engine)
    assert answer.json() == sheet_told(made, "barn")


def test_the_printed_page_says_nothing_else(pool: Pool) -> None:
    """Whoever draws it from this has every word that `mendpool sheet --page` prints."""
    told = ask(pool, machine=BARN, name="barn").json()
    made = sheet_of(Machine.model_validate(BARN), pool.service.place.learned.engine)
    page = unescape(re.sub("<[^>]*>", " ", sheet_page(made, "barn").split("</style>")[1]))
    known = set(WORD.findall(" ".join(texts(told)).lower()))
    # The page names the last two rows and the letters' places in fewer words.
    assert set(WORD.findall(page.lower())) - known <= {"letters", "when", "end"}


def test_a_bare_plate_has_one_too(pool: Pool) -> None:
    told = ask(pool).json()
    assert told["complaints"]
    assert told["cautions"]
    assert told["plate"] == "no figure of the plate is known"


def test_a_wrong_plate_is_refused_by_name(pool: Pool) -> None:
    answer = ask(pool, machine={"fuel": "deisel"})
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["at"] == "/machine/fuel"
    assert answer.json()["errors"][0]["did_you_mean"] == "diesel"
    assert ask(pool, machine=BARN, colour="red").status_code == 422


def test_it_is_for_members(pool: Pool) -> None:
    assert pool.client().post("/v1/sheet", json={}).status_code == 401
