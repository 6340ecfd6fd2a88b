"""Row 31 (ASVS 15.3.7): a parameter that stands twice, or that nobody knows, is refused."""

import pytest

from tests.api.pools import Pool


@pytest.mark.parametrize(
    "address",
    [
        "/v1/reports?limit=5&limit=6",
        "/v1/reports?limit=5&limit=5",
        "/v1/reports?fuel=diesel&fuel=petrol",
        "/v1/reports?Limit=5",
        "/v1/reports?limit[]=5",
        "/v1/reports?limit=5;limit=6",
        "/v1/reports?nothing=1",
        "/v1/changes?after=1&after=2",
        "/v1/changes?sort=seq",
    ],
)
def test_it_is_not_guessed_which_was_meant(pool: Pool, address: str) -> None:
    answer = pool.client("alder").get(address)
    assert answer.status_code == 422
    assert answer.json()["errors"]
