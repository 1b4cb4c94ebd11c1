"""What suppliers owe back, and how long it is overdue."""

from datetime import date, timedelta

import pytest

from service import claiming
from service.models import Age, Recovery
from tests.service.claims import AT, WHY, fresh, money, shop_terms, submitted, supplier

SENT_ON = date(2024, 6, 5)
DUE_ON = date(2024, 7, 5)


@pytest.fixture
def recovery(db, clara, osman):
    """300.00 asked of a supplier that has 30 days."""
    shop_terms()
    claim = submitted(clara)
    claiming.approve(claim, osman, AT, why=WHY)
    return claiming.send_to_maker(claim, clara, AT, supplier(), money("300.00"))


def credit(recovery, clara, amount: str, days: int = 0) -> None:
    at = AT + timedelta(days=days)
    claiming.credit(fresh(recovery.claim), clara, at, recovery, money(amount))


@pytest.mark.parametrize(
    ("late", "age"),
    [
        (-30, Age.NOT_DUE),
        (0, Age.NOT_DUE),
        (1, Age.TO_30),
        (30, Age.TO_30),
        (31, Age.TO_60),
        (60, Age.TO_60),
        (61, Age.TO_90),
        (90, Age.TO_90),
        (91, Age.OVER_90),
    ],
)
def test_it_is_overdue_by_30_60_and_90_days(recovery, late, age):
    today = DUE_ON + timedelta(days=late)
    assert Recovery.objects.aged(today).get().age == age == Age.of(DUE_ON, today)


def test_it_is_not_there_before_it_was_sent(recovery):
    assert not Recovery.objects.aged(SENT_ON - timedelta(days=1)).exists()


def test_without_a_credit_all_is_owed(recovery):
    aged = Recovery.objects.aged(DUE_ON).get()
    assert (aged.credited, aged.owed) == (0, money("300.00"))
    assert not Recovery.objects.short_paid(DUE_ON).exists()


def test_credits_add_up_and_what_is_missing_is_short_paid(recovery, clara):
    credit(recovery, clara, "199.90")
    credit(recovery, clara, "0.20")
    aged = Recovery.objects.short_paid(DUE_ON).get()
    assert (aged.credited, aged.owed) == (money("200.10"), money("99.90"))


def test_paid_in_tenths_nothing_is_owed(recovery, clara):
    """In binary 299.70 + 0.10 + 0.20 falls short of 300.00."""
    for amount in ("299.70", "0.10", "0.20"):
        credit(recovery, clara, amount)
    assert Recovery.objects.aged(DUE_ON).get().owed == 0
    assert not Recovery.objects.owing(DUE_ON).exists()
    assert not Recovery.objects.short_paid(DUE_ON).exists()


def test_as_of_a_day_a_later_credit_is_not_known(recovery, clara):
    credit(recovery, clara, "300.00", days=40)
    assert Recovery.objects.owing(DUE_ON).get().owed == money("300.00")
    assert not Recovery.objects.owing(SENT_ON + timedelta(days=40)).exists()


def test_what_was_given_up_is_owed_no_more_and_stays_short_paid(recovery, clara):
    credit(recovery, clara, "100.00")
    claiming.close(fresh(recovery.claim), clara, AT, "they paid what they would")
    assert not Recovery.objects.owing(DUE_ON).exists()
    assert Recovery.objects.short_paid(DUE_ON).get() == recovery


def test_no_customer_sees_what_the_shop_recovers(recovery, frida):
    assert not Recovery.objects.visible_to(frida).exists()
