"""Row 25: no route takes a form, however many fields it has."""

from tests.api.pools import Pool
from tests.factories import make_id


def test_ten_thousand_fields_are_refused_unread(pool: Pool) -> None:
    fields = {f"f{number}": "x" for number in range(10_000)}
    for method, address in (
        ("POST", "/v1/ask"),
        ("PUT", f"/v1/reports/{make_id()}"),
        ("POST", "/v1/join"),
    ):
        assert pool.client("alder").request(method, address, data=fields).status_code == 415
        files = {"file": ("x.json", b"{}" * 1000)}
        assert pool.client("alder").request(method, address, files=files).status_code == 415
