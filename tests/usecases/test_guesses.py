"""Failed sign-ins are counted by address, for a minute, in bounded room."""

from datetime import UTC, datetime, timedelta

from mendpool.usecases.guesses import ADDRESSES_MOST, FAILURES_A_MINUTE, Guesses

NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


def test_one_address_waits_until_the_first_is_a_minute_old() -> None:
    guesses = Guesses()
    for number in range(FAILURES_A_MINUTE):
        assert guesses.wait("a", NOW + timedelta(seconds=number)) == 0
        guesses.failed("a", NOW + timedelta(seconds=number))
    at = NOW + timedelta(seconds=FAILURES_A_MINUTE)
    assert guesses.wait("a", at) == 60 - FAILURES_A_MINUTE
    assert guesses.wait("b", at) == 0
    assert guesses.wait("a", NOW + timedelta(seconds=59.5)) == 1
    assert guesses.wait("a", NOW + timedelta(seconds=60)) == 0


def test_a_clock_put_back_keeps_nobody_out() -> None:
    guesses = Guesses()
    for _ in range(FAILURES_A_MINUTE):
        guesses.failed("a", NOW)
    assert guesses.wait("a", NOW - timedelta(hours=1)) == 0


def test_many_addresses_take_no_more_room_than_a_few() -> None:
    guesses = Guesses()
    for number in range(ADDRESSES_MOST * 2):
        guesses.failed(str(number), NOW)
    for _ in range(FAILURES_A_MINUTE):
        guesses.failed("last", NOW)
    assert len(guesses._failed) == ADDRESSES_MOST
    assert guesses.wait("last", NOW) > 0
