"""Row 10: deep, wide and huge JSON is refused at once."""

import time

import pytest

from tests.api.pools import Pool

BOMBS = {
    "5,000 lists deep": b'{"complaint":' + b"[" * 5000 + b"]" * 5000 + b"}",
    "40,000 objects deep": b'{"a":' * 40_000 + b"1" + b"}" * 40_000,
    "a number of 5,000 digits": b'{"complaint":"x","limit":' + b"9" * 5000 + b"}",
    "a number of 200,000 digits": b'{"limit":' + b"9" * 200_000 + b"}",
    "an exponent without end": b'{"readings":[{"value":1e99999999}]}',
    "20,000 names": b"{" + b",".join(b'"%d":1' % n for n in range(20_000)) + b"}",
    "100,000 lists": b'{"complaint":[' + b",".join([b"[]"] * 80_000) + b"]}",
}


@pytest.mark.parametrize("name", BOMBS)
def test_a_bomb_does_not_go_off(pool: Pool, name: str) -> None:
    begun = time.process_time()
    answer = pool.client("alder").post(
        "/v1/ask", content=BOMBS[name], headers={"Content-Type": "application/json"}
    )
    assert answer.status_code in (400, 422)
    assert time.process_time() - begun < 3
    assert len(answer.content) < 20_000
