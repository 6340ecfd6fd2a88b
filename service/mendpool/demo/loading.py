"""Load the invented co-op into a running service: members, reports, follow-ups."""

from collections.abc import Callable, Mapping

import httpx

from mendpool.coop.reports import InventedReport
from mendpool.main import utc_now
from mendpool.settings import Settings
from mendpool.store.engine import make_engine
from mendpool.store.pool_store import PoolStore
from mendpool.usecases.members import add_member


def make_members(database_url: str, names: list[str]) -> dict[str, str]:
    """Make the members and return each one's token."""
    store = PoolStore(make_engine(database_url))
    return {name: add_member(store, name, "member", utc_now()).token for name in names}


def load_reports(
    url: str,
    tokens: Mapping[str, str],
    reports: list[InventedReport],
    progress: Callable[[int], None],
) -> int:
    """Send every report and follow-up over HTTP, each by its own member.

    Returns:
        How many follow-ups went with them.

    Raises:
        RuntimeError: the service refused one, with its words.
    """
    followups = 0
    with httpx.Client(base_url=url, timeout=30) as client:
        for number, report in enumerate(reports, start=1):
            headers = {"Authorization": f"Bearer {tokens[report.who]}"}
            _put(client, f"/v1/reports/{report.id}", report.body, headers)
            for followup in report.followups:
                path = f"/v1/reports/{report.id}/followups/{followup.id}"
                _put(client, path, followup.body, headers)
                followups += 1
            progress(number)
    return followups


def _put(client: httpx.Client, path: str, body: object, headers: Mapping[str, str]) -> None:
    answer = client.put(path, json=body, headers=dict(headers))
    if answer.is_error:
        raise RuntimeError(f"{path}: {answer.status_code} {answer.text}")


def database_url_of(environment: Mapping[str, str]) -> str:
    """Return the database that the demo's commands use."""
    return Settings(database_url=environment["MENDPOOL_DATABASE_URL"]).database_url
