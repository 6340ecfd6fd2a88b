"""Rows 17 and 18 (ASVS 1.2.4, 4.3.1): there is no query language in words that are searched.

The index is our own and knows terms, so MATCH and LIKE are asked of no database; what would
be an operator elsewhere is passed over like any other mark.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.api.pools import Pool
from tests.factories import make_report
from tests.house.tree import python_files

MARKS = (
    '"',
    "OR",
    "AND NOT",
    "(",
    "030-2548-01",
    "-voltage",
    "*",
    "(" * 300,
    "title:x",
    "NEAR/3",
    "%",
    "_",
    "\\",
    "a%b_c\\d",
    "^x",
    "x*",
    "{a}",
    "[a]",
    "!",
    "~",
    "|",
    "&",
    "<->",
)


def found(pool: Pool, words: str) -> list[str]:
    answer = pool.client("alder").get("/v1/reports", params={"q": words})
    assert answer.status_code == 200, answer.text
    return [item["id"] for item in answer.json()["items"]]


@pytest.mark.parametrize("mark", MARKS)
def test_a_mark_neither_breaks_nor_widens_a_search(pool: Pool, mark: str) -> None:
    pool.put(make_report())
    assert found(pool, f"nothing at the outlets {mark}") is not None
    assert found(pool, f"zibelquox {mark}") == found(pool, f"zibelquox {mark} {mark}")


@given(st.text(min_size=1, max_size=200).filter(lambda t: t.strip() and "\x00" not in t))
def test_no_words_are_our_fault(pool: Pool, words: str) -> None:
    printable = "".join(c for c in words if c.isprintable())
    answer = pool.client("alder").get("/v1/reports", params={"q": printable})
    assert answer.status_code in (200, 422)


def test_no_text_of_a_member_is_matched_by_the_database() -> None:
    held = "\n".join(path.read_text("utf-8") for path in python_files("service/mendpool/store"))
    for operator in (".like(", ".ilike(", ".match(", "MATCH", "GLOB", "to_tsquery", "~*"):
        assert operator not in held.replace(".not_like(", ""), operator
