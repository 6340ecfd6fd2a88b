"""Row 35: who takes a report back finds no word of it left, in rows or in the file."""

from pathlib import Path

from sqlalchemy.engine import make_url

from tests.api.pools import Pool
from tests.factories import make_id, make_report

WORDS = "zeppelinkwark"


def test_not_a_word_is_left(fresh: Pool) -> None:
    report = fresh.put(make_report(complaint=f"no power, {WORDS}", note=WORDS))
    later = {"happened": "2026-11", "state": "holding", "note": WORDS}
    fresh.client("alder").put(f"/v1/reports/{report}/followups/{make_id()}", json=later)
    fresh.service.place.learned.fit_if_due(fresh.time[0], at_once=True)
    assert fresh.client("alder").delete(f"/v1/reports/{report}").status_code == 204
    assert fresh.client("alder").get(f"/v1/reports?q={WORDS}").json()["items"] == []
    assert WORDS not in fresh.client("alder").get("/v1/changes").text
    url = make_url(str(fresh.store.engine.url))
    if url.get_backend_name() == "sqlite":
        folder = Path(str(url.database)).parent
        held = b"".join(file.read_bytes() for file in folder.iterdir())
        assert WORDS.encode() not in held
