"""A photograph is kept as points alone, from its report's owner, and goes with the report."""

import hashlib
import random
from io import BytesIO

import pytest
from httpx2 import Response
from PIL import Image

from tests.api.pools import Pool, rows, running_pool
from tests.databases import Databases
from tests.factories import make_id, make_report
from tests.pictures import CANARY, jpeg_declaring, picture, png_of, segments, told_all

JPEG = {"Content-Type": "image/jpeg"}


def put(pool: Pool, report: str, content: bytes, who: str = "alder", at: str = "") -> Response:
    route = f"/v1/reports/{report}/photos/{at or make_id()}"
    return pool.client(who).put(route, content=content, headers=JPEG)


class TestKeeping:
    def test_a_photograph_is_stored_shown_and_read_back(self, pool: Pool) -> None:
        report = pool.put(make_report())
        name = str(make_id())
        answer = put(pool, report, picture(), at=name)
        assert answer.status_code == 201, answer.text
        told = answer.json()
        assert told["id"] == name
        assert (told["report"], told["width"], told["height"]) == (report, 320, 240)
        shown = pool.client("birch").get(f"/v1/reports/{report}").json()["photos"]
        assert shown == [{k: v for k, v in told.items() if k != "report"}]
        for known_as in (told["sha256"], name):
            got = pool.client("birch").get(f"/v1/reports/{report}/photos/{known_as}")
            assert got.status_code == 200
            assert hashlib.sha256(got.content).hexdigest() == told["sha256"]
            assert len(got.content) == told["bytes"]
        assert answer.headers["Location"].endswith(told["sha256"])

    def test_it_is_served_as_a_picture_and_nothing_else(self, pool: Pool) -> None:
        report = pool.put(make_report())
        where = put(pool, report, picture()).headers["Location"]
        got = pool.client("birch").get(where)
        assert got.headers["Content-Type"] == "image/jpeg"
        assert got.headers["X-Content-Type-Options"] == "nosniff"
        assert got.headers["Content-Disposition"] == "inline"
        assert got.headers["Cache-Control"] == "private, no-cache"
        tag = got.headers["ETag"]
        assert tag == f'"{hashlib.sha256(got.content).hexdigest()}"'
        again = pool.client("birch").get(where, headers={"If-None-Match": tag})
        assert (again.status_code, again.content) == (304, b"")
        assert pool.client().get(where).status_code == 401

    def test_nothing_but_the_points_is_stored(self, pool: Pool) -> None:
        report = pool.put(make_report())
        sent = told_all()
        assert sent.count(CANARY) > 100
        got = pool.client("alder").get(put(pool, report, sent).headers["Location"]).content
        assert CANARY not in got
        assert set(segments(got)) <= {0xE0, 0xDB, 0xC0, 0xC4}

    def test_the_same_again_is_harmless(self, pool: Pool) -> None:
        report = pool.put(make_report())
        name = str(make_id())
        first = put(pool, report, picture(), at=name)
        again = put(pool, report, picture(), at=name)
        other_name = put(pool, report, picture())
        assert [a.status_code for a in (first, again, other_name)] == [201, 200, 200]
        assert first.json() == again.json() == other_name.json()
        assert put(pool, report, picture(1), at=name).status_code == 409
        assert put(pool, pool.put(make_report()), picture(), at=name).status_code == 409
        assert len(pool.client("alder").get(f"/v1/reports/{report}").json()["photos"]) == 1


class TestWhoMay:
    def test_only_the_reports_own_contributor(self, pool: Pool) -> None:
        report = pool.put(make_report(), "alder")
        assert put(pool, report, picture(), "birch").status_code == 403
        assert put(pool, report, picture(), "steward").status_code == 403
        assert put(pool, report, picture(), "").status_code == 401
        assert put(pool, str(make_id()), picture()).status_code == 404
        assert "photos" not in pool.client("alder").get(f"/v1/reports/{report}").json()

    def test_six_a_report(self, pool: Pool) -> None:
        report = pool.put(make_report())
        answers = [put(pool, report, picture(n)) for n in range(7)]
        assert [a.status_code for a in answers] == [201] * 6 + [422]
        assert "at most 6" in answers[-1].json()["detail"]
        assert put(pool, report, picture(3)).status_code == 200  # one that is there

    def test_so_many_a_day(self, databases: Databases, catalogue: object) -> None:
        with running_pool(databases, catalogue, photos_a_day=2) as pool:  # type: ignore[arg-type]
            report = pool.put(make_report())
            answers = [put(pool, report, picture(n)) for n in range(3)]
            assert [a.status_code for a in answers] == [201, 201, 429]
            assert answers[-1].headers["Retry-After"] == "3600"
            assert put(pool, report, picture(1)).status_code == 200
            assert put(pool, pool.put(make_report(), "birch"), picture(), "birch").is_success
            pool.wait(days=1)
            assert put(pool, report, picture(2)).status_code == 201


class TestWithdrawal:
    def test_it_goes_with_its_report(self, fresh: Pool) -> None:
        report = fresh.put(make_report())
        where = put(fresh, report, picture()).headers["Location"]
        assert rows(fresh.store, ["photo"]) == [1]
        assert fresh.client("alder").delete(f"/v1/reports/{report}").status_code == 204
        assert fresh.client("alder").get(where).status_code == 410
        assert put(fresh, report, picture()).status_code == 410
        assert rows(fresh.store, ["photo"]) == [0]

    def test_no_feed_tells_of_it(self, fresh: Pool) -> None:
        report = fresh.put(make_report())
        before = fresh.client("alder").get("/v1/changes").content
        put(fresh, report, picture())
        assert fresh.client("alder").get("/v1/changes").content == before


REFUSED = {
    "nothing": b"",
    "words": b"no picture at all",
    "a PNG": png_of(2, 2, rows=b"\0" * 14),
    "a GIF": b"GIF89a" + b"\0" * 40,
    "a TIFF": b"II*\0" + b"\xff" * 60,
    "a page": b"<svg onload='x'/>",
    "a declared giant": jpeg_declaring(65_000, 65_000),
    "just too large": jpeg_declaring(2_001, 2_000),
    "cut short": picture()[:-400],
    "thousands of scans": picture()[:-2] + b"\xff\xda\0\x08\1\1\0\0?\0" * 5_000 + b"\xff\xd9",
}


class TestRefusal:
    @pytest.mark.parametrize("name", REFUSED)
    def test_what_is_no_whole_bearable_jpeg_is_refused_in_words(
        self, pool: Pool, report: str, name: str
    ) -> None:
        answer = put(pool, report, REFUSED[name])
        assert answer.status_code == 422, answer.text
        assert answer.json()["errors"][0]["at"] == "/photo"

    def test_another_type_or_too_many_bytes(self, pool: Pool, report: str) -> None:
        route = f"/v1/reports/{report}/photos/{make_id()}"
        client = pool.client("alder")
        assert client.put(route, json={}).status_code == 415
        large = picture() + b"\0" * 1_048_576
        assert client.put(route, content=large, headers=JPEG).status_code == 413
        fits = picture() + b"\0" * 300_000  # over the limit that every other body has
        assert client.put(route, content=fits, headers=JPEG).status_code == 201
        other = f"/v1/reports/{make_id()}"
        assert client.put(other, content=b" " * 300_000).status_code == 413

    @pytest.mark.parametrize("seed", range(4))
    def test_no_damage_is_our_fault(self, pool: Pool, report: str, seed: int) -> None:
        chance = random.Random(seed)
        whole = told_all()
        seen = set()
        for _ in range(60):
            spoilt = bytearray(whole[: chance.randrange(2, len(whole))])
            for _ in range(chance.choice((0, 1, 20))):
                spoilt[chance.randrange(len(spoilt))] = chance.randrange(256)
            seen.add(put(pool, report, bytes(spoilt)).status_code)
        assert seen <= {200, 201, 422}
        assert 422 in seen


@pytest.fixture(scope="module")
def report(pool: Pool) -> str:
    return pool.put(make_report())


def test_a_grey_and_a_four_colour_picture_are_taken(pool: Pool) -> None:
    report = pool.put(make_report())
    for mode in ("L", "CMYK"):
        out = BytesIO()
        Image.open(BytesIO(picture())).convert(mode).save(out, "JPEG")
        assert put(pool, report, out.getvalue()).status_code == 201
