"""What the page keeps on the phone: fetched once, packed, and not again until it changes."""

import gzip
import json

from mendpool.core.catalogue.handheld import handheld

from tests.api.pools import Pool

ROUTE = "/v1/vocabulary"


def test_it_is_the_catalogue_as_the_hand_holds_it(pool: Pool) -> None:
    answer = pool.client("alder").get(ROUTE)
    assert answer.status_code == 200
    assert answer.json() == handheld(pool.service.place.catalogue)
    assert answer.json()["version"] == pool.service.place.catalogue.version


def test_it_is_packed_only_for_who_can_unpack_it(pool: Pool) -> None:
    client = pool.client("alder")
    with client.stream("GET", ROUTE, headers={"Accept-Encoding": "gzip, br"}) as answer:
        assert answer.headers["content-encoding"] == "gzip"
        raw = b"".join(answer.iter_raw())
    assert len(raw) < 100_000
    plain = client.get(ROUTE, headers={"Accept-Encoding": "identity"})
    assert "content-encoding" not in plain.headers
    assert gzip.decompress(raw) == plain.content
    # RFC 9110 section 12.5.5: a cache must know that the two differ.
    for headers in (answer.headers, plain.headers):
        assert {name.strip() for name in headers["vary"].split(",")} == {
            "Authorization",
            "Cookie",
            "Accept-Encoding",
        }


def test_it_has_one_tag_for_both_and_is_not_sent_twice(pool: Pool) -> None:
    client = pool.client("alder")
    first = client.get(ROUTE)
    tag = first.headers["etag"]
    assert client.get(ROUTE, headers={"Accept-Encoding": "identity"}).headers["etag"] == tag
    again = client.get(ROUTE, headers={"If-None-Match": tag})
    assert (again.status_code, again.content) == (304, b"")
    assert again.headers["etag"] == tag
    assert client.get(ROUTE, headers={"If-None-Match": '"x"'}).status_code == 200


def test_it_is_for_members(pool: Pool) -> None:
    assert pool.client().get(ROUTE).status_code == 401


def test_no_word_in_it_is_of_a_cause_or_its_chances(pool: Pool) -> None:
    """What it is for is looking up; what is likeliest is asked of the service."""
    body = json.dumps(pool.client("alder").get(ROUTE).json())
    for word in ("remedies", "likely", "usual", "causes"):
        assert f'"{word}"' not in body
