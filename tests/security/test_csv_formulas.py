"""Row 20 (ASVS 1.2.10): a cell that a spreadsheet would run is shown; a number stays one."""

import csv
import io

import pytest

from mendpool.usecases.bulk_out import Exported, csv_rows, defused

from tests.api.pools import Pool
from tests.factories import make_report

RUNS = ("=1+1", "+1", "-1+1|cmd", "@SUM(A1)", "\t=1", "\r=1", '=HYPERLINK("http://x")')


@pytest.mark.parametrize("cell", RUNS)
def test_what_would_run_is_told_as_text(cell: str) -> None:
    assert defused(cell) == f"'{cell}"


def test_an_export_runs_nothing_and_keeps_its_numbers(fresh: Pool) -> None:
    fresh.put(make_report(complaint="=1+1 no power", note="@SUM(A1)", region="-2"))
    told = list(csv.DictReader(io.StringIO("".join(csv_rows(fresh.store, Exported())))))
    assert told[0]["complaint"].startswith("'=")
    assert told[0]["note"].startswith("'@")
    assert '"rated_kva":6.5' in told[0]["machine"].replace(" ", "")
    assert '"value":3.1' in told[0]["readings"].replace(" ", "")
    assert not any(
        cell.startswith(("=", "+", "-", "@")) for row in told for cell in row.values()
    )
