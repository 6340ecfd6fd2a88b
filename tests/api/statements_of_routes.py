"""Every route with a request, and the statements that it asks the database."""

from collections.abc import Callable
from typing import Any

from mendpool.usecases.members import invite, member_code

from tests.api.browsers import OWN, Browser, signed_in
from tests.api.pools import Pool
from tests.api.test_parcel_routes import LINES, foreign
from tests.factories import make_id, make_report
from tests.pictures import picture

COMPLAINT = {"complaint": "nothing at the outlets"}
PUMP = {"motor_hp": "3 hp", "code_letter": "H", "volts": 230, "set_kva": 15, "set_kw": 12}
LATER = {"happened": "2026-11", "state": "holding"}

# Whose token it is. When it was last used is written once a day; that, the requests of a
# minute and the reports of a day are counted in the process (see `allowances`).
SIGN_IN = ("SELECT member",)
BY_PAGE = ("SELECT session",)  # and whose it is, at once
SESSION = (
    "DELETE session",  # what is over, and this browser's own before
    "SELECT session",  # how many there are
    "INSERT session",
    "SELECT pool",  # its id
)
FEED = ("SELECT change",)  # what others wrote since this process last looked
SHOWN = (
    "SELECT report",  # those asked for, with their contributors
    "SELECT followup",  # of all of them at once
)
PAGE = (*SHOWN, "SELECT report")  # 500 at a time; after the last page there is none
VOUCHED = "SELECT member"  # whom three followed-up reports vouch for
FIT = (  # done apart from the request where `serve` runs
    VOUCHED,
    *FEED,
    "SELECT change",  # the feed up to the cut: a page of 2,000
    "SELECT report",
    "SELECT followup",
    VOUCHED,
    "turn to write",
    "SELECT fit",  # is there one that reaches as far
    "SELECT change",  # the last number
    "SELECT change",  # the last withdrawal
    "DELETE fit",
    "INSERT fit",
    "INSERT change",
    *FEED,
    "SELECT fit",  # taken as every process takes it
    "VACUUM",  # so that the bytes are gone too
)

Send = Callable[[Pool, str], Any]


def put_twice(pool: Pool, which: int, *, followup: bool = False) -> Any:
    """Put a new report, or a new follow-up to one, and count the first or the second time."""
    route, body = f"/v1/reports/{make_id()}", make_report()
    if followup:
        pool.client("alder").put(route, json=body)
        pool.service.place.learned.catch_up()
        route, body = f"{route}/followups/{make_id()}", LATER
    return [lambda: pool.client("alder").put(route, json=body)] * (which + 1)


def photo_twice(pool: Pool, report: str, which: int) -> Any:
    """Put a photograph to a report with none, and count the first or the second time."""
    del report
    route = f"/v1/reports/{pool.put(make_report())}/photos/{make_id()}"
    jpeg = {"Content-Type": "image/jpeg"}
    put = lambda: pool.client("alder").put(route, content=picture(), headers=jpeg)  # noqa: E731
    return [put] * (which + 1)


def photo_got(pool: Pool, report: str) -> Any:
    (put,) = photo_twice(pool, report, 0)
    where = put().headers["Location"]
    return [lambda: pool.client("alder").get(where)]


def taken_back(pool: Pool, which: int, name: str = "alder") -> Any:
    route = f"/v1/reports/{pool.put(make_report())}"
    assert pool.client(name).get(route).is_success  # the token was used today
    return [lambda: pool.client(name).delete(route)] * (which + 1)


def joined(pool: Pool) -> Any:
    made = invite(pool.store, f"guest {make_id()}", pool.time[0])
    return [lambda: pool.client().post("/v1/join", json={"code": made.code})]


def page_in(pool: Pool, shown: str) -> Any:
    """Sign a browser in by a token, an invitation or a member's code."""
    code = pool.members["alder"].token
    if shown == "invitation":
        code = invite(pool.store, f"guest {make_id()}", pool.time[0]).code
    if shown == "code":
        code = member_code(pool.store, "alder", pool.time[0]).code
    return [lambda: Browser(pool).sign_in(code)]


def by_page(method: str, address: str) -> Send:
    """Ask from a page, the second time, so that the day of the session is written."""

    def send(pool: Pool, _: str) -> Any:
        browser = signed_in(pool)
        once = lambda: browser.ask("GET", "/v1/workings")  # noqa: E731
        return [once, lambda: browser.ask(method, address)]

    return send


def by_steward(method: str, address: str) -> Send:
    return lambda pool, _: pool.client("steward").request(method, address)


def of_guest(pool: Pool, method: str, more: str) -> Any:
    made = pool.join(f"guest {make_id()}").member
    address = f"/v1/members/{made.pseudonym}{more}"
    return [lambda: pool.client("steward").request(method, address)]


def taken_in(pool: Pool, which: int) -> Any:
    parcel = {"content": foreign(2), "headers": LINES}
    return [lambda: pool.client("steward").post("/v1/parcel", **parcel)] * (which + 1)


def counted_anew(pool: Pool, which: int, route: str = "/v1/durability") -> Any:
    pool.put(make_report())
    pool.service.place.learned.catch_up()
    return [lambda: pool.client("alder").get(route)] * (which + 1)


def get(route: str) -> Send:
    return lambda pool, report: pool.client("alder").get(route.format(report=report))


def post(route: str, body: dict[str, Any]) -> Send:
    return lambda pool, _: pool.client("alder").post(route, json=body)


# By route, then what is particular: what is asked after the member is known, and the
# request; a list of requests has only its last one counted.
ROUTES: dict[str, tuple[tuple[str, ...], Send]] = {
    "GET /healthz": ((), get("/healthz")),
    "GET /readyz": (
        (
            "SELECT tables",  # is there one with the version
            "SELECT alembic_version",
            "turn to write",
            "UPDATE pool",  # a write that is rolled back
            "SELECT change",  # how far the feed is
        ),
        get("/readyz"),
    ),
    "GET /v1/catalogue": (SIGN_IN, get("/v1/catalogue")),
    "GET /v1/vocabulary": (SIGN_IN, get("/v1/vocabulary")),
    "GET /v1/changes": (
        (
            *SIGN_IN,
            "SELECT change",  # the page
            "SELECT report",
            "SELECT followup",
            "SELECT fit",
            "SELECT pool",  # which pool this is
        ),
        get("/v1/changes?limit=1000"),
    ),
    # This service packs no snapshots, as with a young pool.
    "GET /v1/snapshot": ((*SIGN_IN, "SELECT pool"), get("/v1/snapshot")),
    "GET /v1/snapshot/{name} that is not here": (SIGN_IN, get("/v1/snapshot/feed-1")),
    "GET /v1/reports": ((*SIGN_IN, *SHOWN), get("/v1/reports?limit=100")),
    "GET /v1/reports by two filters": (
        (*SIGN_IN, *SHOWN),
        get("/v1/reports?symptom=no-output&component=brushes&limit=100"),
    ),
    "GET /v1/reports of one's own": (
        (*SIGN_IN, *SHOWN, "SELECT photo"),
        get("/v1/reports?mine=true&limit=100"),
    ),
    "GET /v1/reports by words": (
        (*SIGN_IN, *FEED, *SHOWN),
        get("/v1/reports?q=nothing at outlets&limit=100"),
    ),
    "GET /v1/reports/{report_id}": (
        (*SIGN_IN, *SHOWN, "SELECT photo"),
        get("/v1/reports/{report}"),
    ),
    "PUT /v1/reports/{report_id}": (
        (
            *SIGN_IN,
            "turn to write",
            "SELECT report",  # is it here already, the last number, the pseudonym
            "INSERT report",
            "INSERT report_symptom",  # all of them at once
            "INSERT report_component",
            "INSERT change",
            *FEED,  # to know whether a fit is due
            "SELECT report",  # of the feed: the one just written
        ),
        lambda pool, _: put_twice(pool, 0),
    ),
    "PUT /v1/reports/{report_id} again": (
        (
            *SIGN_IN,
            "turn to write",
            "SELECT report",  # is it here already
            *SHOWN,  # the one that is here
            "SELECT photo",
        ),
        lambda pool, _: put_twice(pool, 1),
    ),
    "DELETE /v1/reports/{report_id}": (
        (
            *SIGN_IN,
            "turn to write",
            "SELECT report",  # whose it is
            "DELETE followup",
            "DELETE parcel",  # the lines it came with, where it is another pool's
            "DELETE photo",
            "DELETE report_symptom",
            "DELETE report_component",
            "UPDATE report",
            "SELECT change",  # the last number
            "INSERT change",
            *FEED,
            *FIT,
        ),
        lambda pool, _: taken_back(pool, 0),
    ),
    "DELETE /v1/reports/{report_id} again": (
        (*SIGN_IN, "turn to write", "SELECT report"),
        lambda pool, _: taken_back(pool, 1),
    ),
    "PUT /v1/reports/{report_id}/followups/{followup_id}": (
        (
            *SIGN_IN,
            "turn to write",
            "SELECT report",  # whose it is
            "SELECT followup",  # is it here already
            "SELECT change",  # the last number
            "SELECT member",  # the pseudonym
            "INSERT followup",
            "INSERT change",
        ),
        lambda pool, _: put_twice(pool, 0, followup=True),
    ),
    "PUT /v1/reports/{report_id}/followups/{followup_id} again": (
        (*SIGN_IN, "turn to write", "SELECT report", "SELECT followup"),
        lambda pool, _: put_twice(pool, 1, followup=True),
    ),
    "PUT /v1/reports/{report_id}/photos/{photo_id}": (
        (
            *SIGN_IN,
            "turn to write",
            "SELECT report",  # whose it is
            "SELECT photo",  # is the id taken
            "SELECT photo",  # what the report has already
            "SELECT photo",  # how many the member sent today
            "INSERT photo",
        ),
        lambda pool, report: photo_twice(pool, report, 0),
    ),
    "PUT /v1/reports/{report_id}/photos/{photo_id} again": (
        (*SIGN_IN, "turn to write", "SELECT report", "SELECT photo"),
        lambda pool, report: photo_twice(pool, report, 1),
    ),
    "GET /v1/reports/{report_id}/photos/{photo_id}": (
        (*SIGN_IN, "SELECT report"),  # and the photograph, joined
        photo_got,
    ),
    "POST /v1/reports/preview": (SIGN_IN, post("/v1/reports/preview", make_report())),
    "POST /v1/ask": ((*SIGN_IN, *FEED), post("/v1/ask", COMPLAINT)),  # the index has the cases
    "POST /v1/readings/judge": (
        (*SIGN_IN, *FEED),  # for the newest fit's norms
        post("/v1/readings/judge", {"readings": [{"text": "output 230 V"}]}),
    ),
    "GET /v1/durability": (
        (*SIGN_IN, *FEED, "SELECT member"),  # whose repairs came with parcels
        lambda pool, _: counted_anew(pool, 0),
    ),
    "GET /v1/durability again": (
        (*SIGN_IN, *FEED),  # has anything come
        lambda pool, _: counted_anew(pool, 1),
    ),
    "GET /v1/failing": (
        (*SIGN_IN, *FEED, "SELECT member"),
        lambda pool, _: counted_anew(pool, 0, "/v1/failing?fuel=diesel"),
    ),
    "POST /v1/sheet": (
        (*SIGN_IN, *FEED),  # for the newest fit
        post("/v1/sheet", {"machine": {"fuel": "diesel"}}),
    ),
    "POST /v1/parcel": (
        (
            *SIGN_IN,
            "SELECT pool",  # which pool this is
            "SELECT parcel",  # is any line here already, word for word
            "SELECT member",  # the authors; one is not known yet
            "turn to write",
            "SELECT member",
            "SELECT pool",  # the key
            "INSERT member",
            "SELECT member",
            "turn to write",  # once for 500 lines
            "SELECT parcel",
            "SELECT report",  # are they the pool's own
            "SELECT report",
            "SELECT change",  # the last number
            "SELECT member",  # the pseudonyms
            "INSERT report",
            "INSERT report_symptom",
            "INSERT report_component",
            "INSERT change",
            "INSERT parcel",
            *FEED,  # to know whether a fit is due
            "SELECT report",
        ),
        lambda pool, _: taken_in(pool, 0),
    ),
    "POST /v1/parcel again": (
        (*SIGN_IN, "SELECT pool", "SELECT parcel"),
        lambda pool, _: taken_in(pool, 1),
    ),
    "GET /v1/parcel": (
        (
            *SIGN_IN,
            "SELECT pool",
            *PAGE,  # whose classes are of how many people: the pool's own
            "SELECT parcel",  # and those of other pools
            *PAGE,  # the pool's own
            "SELECT report",  # what was taken back
            "SELECT parcel",  # reports of other pools, follow-ups, withdrawals
            "SELECT parcel",
            "SELECT parcel",
            *PAGE,  # what was seen here later of theirs
        ),
        lambda pool, _: pool.client("steward").get("/v1/parcel"),
    ),
    "POST /v1/corrections": (
        (*SIGN_IN, "turn to write", "SELECT correction", "INSERT correction"),
        post("/v1/corrections", {"words": [{"word": "zimbelring", "kind": "name"}]}),
    ),
    "GET /v1/corrections": ((*SIGN_IN, "SELECT correction"), get("/v1/corrections")),
    "DELETE /v1/corrections/{word}": (
        (*SIGN_IN, "turn to write", "DELETE correction"),
        lambda pool, _: pool.client("alder").delete("/v1/corrections/zimbelring"),
    ),
    "POST /v1/join": (
        (
            "SELECT invitation",  # the hash of the code
            "turn to write",
            "SELECT invitation",  # is it open still
            "SELECT member",  # is the name free
            "SELECT pool",  # the key
            "INSERT member",
            "UPDATE invitation",
        ),
        lambda pool, _: joined(pool),
    ),
    "POST /v1/join that is not here": (
        ("SELECT invitation",),
        post("/v1/join", {"code": "in0123456789_" + "x" * 43}),
    ),
    "POST /v1/session": (
        (
            "SELECT member",  # the hash of the token
            "turn to write",
            "SELECT member",  # is it good still
            *SESSION,
        ),
        lambda pool, _: page_in(pool, "token"),
    ),
    "POST /v1/session by an invitation": (
        (
            "SELECT invitation",
            "turn to write",
            "SELECT invitation",
            "SELECT member",
            "SELECT pool",
            "INSERT member",
            "UPDATE invitation",
            *SESSION[:-1],
            "turn to write",
            "UPDATE member",  # used for the first time
            SESSION[-1],
        ),
        lambda pool, _: page_in(pool, "invitation"),
    ),
    "POST /v1/session by a member's code": (
        (
            "SELECT invitation",
            "turn to write",
            "SELECT invitation",
            "SELECT member",  # was he revoked, is his term over
            "UPDATE invitation",
            *SESSION,
        ),
        lambda pool, _: page_in(pool, "code"),
    ),
    "POST /v1/session that is not here": (
        ("SELECT invitation",),
        lambda pool, _: pool.client().post(
            "/v1/session", json={"code": "in0123456789_" + "x" * 43}, headers=OWN
        ),
    ),
    "GET /v1/session": ((*BY_PAGE, "SELECT pool"), by_page("GET", "/v1/session")),
    "DELETE /v1/session": (
        (*BY_PAGE, "turn to write", "DELETE session"),
        by_page("DELETE", "/v1/session"),
    ),
    "GET /v1/members": ((*SIGN_IN, "SELECT member"), by_steward("GET", "/v1/members")),
    "DELETE /v1/members/{contributor}": (
        (
            *SIGN_IN,
            "SELECT member",  # whose pseudonym it is
            "turn to write",
            "SELECT member",
            "UPDATE member",
            "DELETE session",
            "DELETE invitation",
            "SELECT member",
        ),
        lambda pool, _: of_guest(pool, "DELETE", ""),
    ),
    "POST /v1/members/{contributor}/code": (
        (
            *SIGN_IN,
            "SELECT member",
            "turn to write",
            "SELECT member",
            "DELETE invitation",  # the one before
            "INSERT invitation",
        ),
        lambda pool, _: of_guest(pool, "POST", "/code"),
    ),
    "GET /v1/invitations": (
        (*SIGN_IN, "SELECT member", "SELECT invitation"),
        by_steward("GET", "/v1/invitations"),
    ),
    "POST /v1/invitations": (
        (
            *SIGN_IN,
            "turn to write",
            "SELECT member",  # is the name free
            "SELECT invitation",
            "INSERT invitation",
        ),
        lambda pool, _: pool.client("steward").post(
            "/v1/invitations", json={"name": f"guest {make_id()}"}
        ),
    ),
    "GET /v1/review": (
        (
            *SIGN_IN,
            "SELECT change",  # was anything filed since it was made
            "SELECT member",  # the names
            "SELECT report",  # where the newest that are looked at begin
            "SELECT report",  # 500 at a time, with their follow-ups and cases
            "SELECT followup",
            "SELECT report",
            "SELECT report",
            "SELECT judgement",  # what stands
        ),
        by_steward("GET", "/v1/review"),
    ),
    "GET /v1/review again": (
        (*SIGN_IN, "SELECT change", "SELECT judgement"),
        lambda pool, _: [lambda: pool.client("steward").get("/v1/review")] * 2,
    ),
    "POST /v1/review/{report_id}": (
        (*SIGN_IN, "turn to write", "SELECT report", "INSERT judgement"),
        lambda pool, report: pool.client("steward").post(
            f"/v1/review/{report}", json={"verdict": "keep", "reason": "looked at"}
        ),
    ),
    "GET /v1/catalogue by a page": (BY_PAGE, by_page("GET", "/v1/catalogue")),
    "DELETE /v1/reports/{report_id} by a steward": (
        (
            *SIGN_IN,
            "turn to write",
            "SELECT report",  # whose it is
            "DELETE followup",
            "DELETE parcel",
            "DELETE photo",
            "DELETE report_symptom",
            "DELETE report_component",
            "UPDATE report",
            "SELECT change",  # the last number
            "INSERT change",
            "INSERT judgement",  # the trail
            *FEED,
            *FIT,
        ),
        lambda pool, _: taken_back(pool, 0, "steward"),
    ),
    "GET /v1/workings": (SIGN_IN, get("/v1/workings")),
    "POST /v1/workings/{name}": (
        SIGN_IN,
        post("/v1/workings/pump-start", PUMP),
    ),
}
