"""Row 4 (RFC 9562 section 8): knowing or guessing an id opens nothing."""

import uuid

from tests.api.pools import Pool
from tests.factories import make_report


def test_ids_near_a_known_one_are_closed_to_strangers_and_empty_to_members(pool: Pool) -> None:
    known = uuid.UUID(pool.put(make_report()))
    near = [uuid.UUID(int=known.int + step) for step in (*range(-20, 0), *range(1, 21))]
    for one in near:
        assert pool.client("birch").get(f"/v1/reports/{one}").status_code == 404
    for one in (known, *near):
        answer = pool.client().get(f"/v1/reports/{one}")
        assert answer.status_code == 401
        assert answer.json() == pool.client().get(f"/v1/reports/{near[0]}").json()
