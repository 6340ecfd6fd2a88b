"""Row 14 (API9, ASVS 15.1.2): one description, of this version, of every route there is."""

from fastapi.routing import iter_route_contexts

from mendpool import __version__

from tests.api.pools import Pool

NOT_OF_THE_API = {
    "/", "/docs", "/docs.css", "/manifest.webmanifest", "/openapi.json",
    "/page/{path:path}", "/sw.js",
    "/plain/", "/plain/ask", "/plain/followup", "/plain/followup/{report_id}", "/plain/report",
    "/plain/sign-in", "/plain/sign-out",
}  # fmt: skip


def test_the_document_names_every_route_and_the_version(pool: Pool) -> None:
    document = pool.client().get("/openapi.json").json()
    assert document["info"]["version"] == __version__
    app = pool.app._app  # type: ignore[attr-defined]
    there = {
        getattr(route, "path", getattr(route, "path_format", None))
        for route in iter_route_contexts(app.routes)
    }
    assert there - NOT_OF_THE_API - {None} <= set(document["paths"])


def test_no_other_version_and_no_forgotten_address_answers(pool: Pool) -> None:
    for address in (
        "/v0/reports",
        "/v2/reports",
        "/api/v1/reports",
        "/reports",
        "/redoc",
        "/.git/config",
        "/.env",
        "/server-status",
        "/debug",
        "/console",
    ):
        assert pool.client("steward").get(address).status_code == 404
