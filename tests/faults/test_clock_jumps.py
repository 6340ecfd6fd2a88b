"""A clock that jumps: order is the feed's, and nobody is shut out for long."""

from datetime import timedelta

import pytest

from mendpool.core.catalogue.catalogue import Catalogue

from tests.api.pools import START, running_pool
from tests.databases import Databases
from tests.factories import make_report

JUMPS = (
    timedelta(hours=1), timedelta(hours=-1), timedelta(days=3652), timedelta(days=-3652),
)  # fmt: skip


def test_order_is_that_of_the_feed_whatever_the_clock_says(
    databases: Databases, catalogue: Catalogue
) -> None:
    with running_pool(databases, catalogue) as pool:
        ids = []
        for jump in (*JUMPS, timedelta(0)):
            pool.time[0] = START + jump
            # A month to come is refused by the clock as it is then.
            ids.append(pool.put(make_report(happened="2016-03")))
        listed = pool.client("alder").get("/v1/reports").json()["items"]
        assert [item["id"] for item in listed] == ids[::-1]
        lines = pool.client("alder").get("/v1/changes").json()["items"]
        assert [line["sequence"] for line in lines] == list(range(1, len(lines) + 1))
        assert len(set(ids)) == len(ids)


@pytest.mark.parametrize("jump", JUMPS, ids=str)
def test_a_member_is_let_in_after_a_jump_and_after_it_is_put_right(
    databases: Databases, catalogue: Catalogue, jump: timedelta
) -> None:
    with running_pool(databases, catalogue, requests_a_minute=5) as pool:
        for at in (START, START + jump, START + timedelta(minutes=2)):
            pool.time[0] = at
            answers = [pool.client("alder").get("/v1/reports") for _ in range(9)]
            codes = [answer.status_code for answer in answers]
            assert codes[0] == 200, f"shut out at {at}"
            assert set(codes) == {200, 429}
            waits = [int(a.headers["retry-after"]) for a in answers if a.status_code == 429]
            assert max(waits) <= 60
