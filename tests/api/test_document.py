"""The API's own description: for machines, and as a page that needs nothing from elsewhere."""

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any

import pytest
from jsonschema import Draft202012Validator  # type: ignore[import-untyped]

from mendpool.api.problems import KINDS

from tests.api.pools import Pool
from tests.factories import make_report

SIGNING_IN = (("post", "/v1/join"), ("post", "/v1/session"))
BODIES = (
    "Report", "Followup", "Question", "JudgeRequest", "Joining", "SigningIn", "Inviting",
    "Verdict", "SheetRequest",
)  # fmt: skip


@pytest.fixture(scope="module")
def document(pool: Pool) -> dict[str, Any]:
    answer = pool.client().get("/openapi.json")
    assert answer.headers["content-type"] == "application/json"
    found: dict[str, Any] = answer.json()
    return found


def operations(document: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            yield path, method, operation


def references(value: object) -> Iterator[str]:
    if isinstance(value, dict):
        if isinstance(value.get("$ref"), str):
            yield value["$ref"]
        for inner in value.values():
            yield from references(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from references(inner)


def test_it_has_the_shape_of_openapi_3_1(document: dict[str, Any]) -> None:
    # OpenAPI Specification 3.1.0: required fields of each object.
    assert re.fullmatch(r"3\.1\.\d+", document["openapi"])
    assert {"title", "version"} <= set(document["info"])
    names = [operation["operationId"] for _, _, operation in operations(document)]
    assert len(names) == len(set(names)), "each operation has a name of its own"
    for path, method, operation in operations(document):
        assert method in {"get", "put", "post", "delete"}
        told = {p["name"] for p in operation.get("parameters", ()) if p["in"] == "path"}
        assert told == set(re.findall(r"\{(\w+)\}", path)), path
        assert all(p["required"] for p in operation.get("parameters", ()) if p["in"] == "path")
        assert all("schema" in p for p in operation.get("parameters", ()))
        assert all(re.fullmatch(r"\d{3}", code) for code in operation["responses"])
        assert all(answer["description"] for answer in operation["responses"].values())


def test_every_reference_leads_somewhere(document: dict[str, Any]) -> None:
    found = set(references(document))
    assert found
    for reference in found:
        here: Any = document
        for step in reference.removeprefix("#/").split("/"):
            assert step in here, reference
            here = here[step]


def test_every_schema_is_a_json_schema(document: dict[str, Any]) -> None:
    for schema in document["components"]["schemas"].values():
        Draft202012Validator.check_schema(schema)


@pytest.mark.parametrize("name", BODIES)
def test_each_body_is_described_and_unknown_fields_are_shut_out(
    document: dict[str, Any], name: str
) -> None:
    schema = document["components"]["schemas"][name]
    assert schema["additionalProperties"] is False
    assert schema["properties"]
    used = [
        operation["requestBody"]["content"]["application/json"]["schema"]["$ref"]
        for path, _, operation in operations(document)
        if path != "/v1/parcel"
        and "application/json" in operation.get("requestBody", {}).get("content", {})
    ]
    assert f"#/components/schemas/{name}" in used


def test_a_parcel_is_lines_and_not_one_json_value(document: dict[str, Any]) -> None:
    routes = document["paths"]["/v1/parcel"]
    assert set(routes["post"]["requestBody"]["content"]) == {
        "application/x-ndjson", "application/gzip",
    }  # fmt: skip
    assert set(routes["get"]["responses"]["200"]["content"]) == {"application/x-ndjson"}


def test_a_photograph_is_a_jpeg_both_ways(document: dict[str, Any]) -> None:
    photo = document["paths"]["/v1/reports/{report_id}/photos/{photo_id}"]
    assert list(photo["put"]["requestBody"]["content"]) == ["image/jpeg"]
    assert list(photo["get"]["responses"]["200"]["content"]) == ["image/jpeg"]


def test_a_report_that_is_taken_fits_the_schema(document: dict[str, Any]) -> None:
    schema = {"$ref": "#/components/schemas/Report", "components": document["components"]}
    validator = Draft202012Validator(schema)
    validator.validate(make_report())
    assert not validator.is_valid(make_report(colour="red"))
    assert not validator.is_valid({"machine": {"fuel": "diesel"}})


def test_an_answer_fits_its_schema(pool: Pool, document: dict[str, Any]) -> None:
    schema = {"$ref": "#/components/schemas/Answer", "components": document["components"]}
    pool.put(make_report())
    question = {"complaint": "nothing at the outlets, 3 V", "machine": {"fuel": "diesel"}}
    answer = pool.client("alder").post("/v1/ask", json=question).json()
    Draft202012Validator(schema).validate(answer)


def test_every_refusal_is_declared_as_a_problem(document: dict[str, Any]) -> None:
    statuses = {str(kind.status) for kind in KINDS.values()}
    for path, _, operation in operations(document):
        assert statuses <= set(operation["responses"]), path
        for status in statuses:
            if int(status) >= 400:
                content = operation["responses"][status]["content"]
                assert list(content) == ["application/problem+json"]


def test_all_but_health_asks_for_a_member(document: dict[str, Any]) -> None:
    assert document["components"]["securitySchemes"]["member"]["scheme"] == "bearer"
    for path, method, operation in operations(document):
        open_ = not path.startswith("/v1/") or (method, path) in SIGNING_IN
        assert ("security" not in operation) is open_, path


def test_a_cookie_counts_only_with_the_pages_token(document: dict[str, Any]) -> None:
    schemes = document["components"]["securitySchemes"]
    assert (schemes["session"]["in"], schemes["page"]["name"]) == ("cookie", "Mendpool-Token")
    for path, method, operation in operations(document):
        for way in operation.get("security", ()):
            alone = set(way) == {"session"}
            # Where the page hears its token it can't say it yet; it changes nothing.
            assert alone is ((method, path) == ("get", "/v1/session"))
            assert alone or set(way) in ({"member"}, {"session", "page"})


class Page(HTMLParser):
    """Collects what a page loads, links to and runs."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.addresses: list[str] = []
        self.anchors: set[str] = set()
        self.inline: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        for name, value in attrs:
            if name in {"src", "href", "action", "data", "srcset"}:
                self.addresses.append(value or "")
            if name == "id":
                self.anchors.add(value or "")
            if name.startswith("on") or name == "style":
                self.inline.append(name)


def test_the_page_loads_nothing_from_elsewhere_and_runs_nothing(pool: Pool) -> None:
    answer = pool.client().get("/docs")
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    page = Page()
    page.feed(answer.text)
    assert not page.tags & {"script", "iframe", "object", "embed", "img", "style", "base"}
    assert page.inline == []
    for address in page.addresses:
        assert address.startswith(("/", "#")), address
        assert not address.startswith("//"), address
        if address.startswith("#"):
            assert address[1:] in page.anchors, address
        else:
            assert pool.client().get(address).status_code == 200
    assert "@import" not in pool.client().get("/docs.css").text
    assert "url(" not in pool.client().get("/docs.css").text


def test_the_page_tells_every_route_body_and_problem(
    pool: Pool, document: dict[str, Any]
) -> None:
    text = pool.client().get("/docs").text
    for path, method, _ in operations(document):
        assert f"{method.upper()} {path}" in text
    for name in BODIES:
        assert f"id='schema-{name}'" in text
    for name in KINDS:
        assert f"id='{name}'" in text, "where a problem's type leads to"


def test_the_catalogue_has_a_tag_by_which_it_is_not_sent_again(pool: Pool) -> None:
    client = pool.client("alder")
    first = client.get("/v1/catalogue")
    tag = first.headers["etag"]
    assert pool.service.place.catalogue.version in tag
    assert first.json()["version"] == pool.service.place.catalogue.version
    for header in (tag, f'"x", {tag}', "*", tag.removeprefix("W/")):
        again = client.get("/v1/catalogue", headers={"If-None-Match": header})
        assert (again.status_code, again.content) == (304, b"")
        assert again.headers["etag"] == tag
    other = client.get("/v1/catalogue", headers={"If-None-Match": '"x"'})
    assert other.status_code == 200
    for part in ("vocabulary", "symptoms", "checks", "limits", "cautions"):
        assert first.json()[part]


def test_health_is_told_without_a_token(pool: Pool) -> None:
    assert pool.client().get("/healthz").json() == {"alive": True}
    ready = pool.client().get("/readyz").json()
    version = pool.service.place.catalogue.version
    assert ready == {"ready": True, "catalogue": version, "index_lag": 0}
