"""Row 11 (ASVS 5.2.3): a packed body is not unpacked; a parcel is read piece by piece."""

import gzip
import io
import tracemalloc

from mendpool.usecases.parcels_in import unpacked

from tests.api.pools import Pool

ZEROS = gzip.compress(bytes(10_000_000))


def test_a_packed_body_is_taken_for_what_it_is_no_json(pool: Pool) -> None:
    for coding in ("gzip", "deflate", "br", "zstd", "gzip, gzip"):
        headers = {"Content-Type": "application/json", "Content-Encoding": coding}
        answer = pool.client("alder").post("/v1/ask", content=ZEROS, headers=headers)
        assert answer.status_code == 400


def test_a_parcel_of_nothing_but_zeros_takes_no_memory() -> None:
    tracemalloc.start()
    try:
        longest = max(len(line) for line in unpacked(io.BytesIO(ZEROS)))
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert longest <= 1 << 20
    assert most < 6_000_000
