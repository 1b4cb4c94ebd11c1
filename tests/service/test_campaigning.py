"""Campaigns: whom a bulletin is for, who is told of it, and how far each unit is."""

from datetime import UTC, date, datetime

import pytest
from django.core import mail
from django.core.exceptions import ValidationError
from django.core.mail.backends.locmem import EmailBackend
from django.db import IntegrityError, transaction
from hypothesis import given
from hypothesis import strategies as st

from installs.models import BookingState, LeftStock
from service.campaign_letters import send
from service.campaigning import Range, addressees, mark_told, open_campaign, settle
from service.models import Campaign, CampaignState, CampaignUnit
from tests.factories import (
    BookingFactory,
    CampaignFactory,
    CampaignUnitFactory,
    CustomerFactory,
    InstallFactory,
    UnitFactory,
    UnitModelFactory,
    VisitFactory,
)

pytestmark = pytest.mark.django_db

NOW = datetime(2025, 3, 10, 15, tzinfo=UTC)


def serials(range_: Range) -> list[str]:
    return [unit.serial for unit in range_.units()]


def unit(serial: str, **about):
    return UnitFactory(serial=serial, **about)


def test_what_is_given_narrows_together():
    model = UnitModelFactory()
    unit("A", model=model, lot="L1", made_on=date(2024, 1, 10))
    unit("B", model=model, lot="L2", made_on=date(2024, 1, 10))
    unit("C", lot="L1", made_on=date(2024, 1, 10))
    unit("D", model=model, lot="L1", made_on=date(2024, 2, 1))
    range_ = Range([model], ["L1"], date(2024, 1, 10), date(2024, 1, 31))
    assert serials(range_) == ["A"]
    assert serials(range_._replace(made_to=date(2024, 2, 1))) == ["A", "D"]


def test_a_named_serial_is_in_it_whatever_else_is_said():
    unit("A", lot="L1")
    unit("B", lot="L2")
    unit("C", lot="L3")
    assert serials(Range(lots=["l1"], serials=["b"])) == ["A", "B"]


def test_serials_alone_are_for_those_alone():
    unit("A")
    unit("B")
    assert serials(Range(serials=["B"])) == ["B"]


def test_a_range_of_nothing_is_for_nobody():
    unit("A")
    assert serials(Range()) == []


def test_a_unit_that_went_back_to_its_maker_is_left_out():
    unit("A", lot="L1", left_stock=LeftStock.RETURNED)
    assert serials(Range(lots=["L1"])) == []


def test_units_with_no_made_on_day_are_counted_not_guessed():
    unit("A", lot="L1", made_on=None)
    unit("B", lot="L1", made_on=date(2024, 1, 10))
    unit("C", lot="L2", made_on=None)
    range_ = Range(lots=["L1"], made_from=date(2024, 1, 1))
    assert serials(range_) == ["B"]
    assert [one.serial for one in range_.without_a_day()] == ["A"]
    assert range_._replace(lots=[]).without_a_day().count() == 2
    assert Range(lots=["L1"]).without_a_day().count() == 0


def test_serials_that_are_not_on_record_are_named():
    unit("A")
    assert Range(serials=["a", "x-1"]).missing() == ["x-1"]


def test_whom_it_is_for_is_fixed_when_it_is_opened(osman):
    unit("A", lot="L1")
    draft = Campaign(number="B-1", title="Fans", words="Bearings.", until_done="Listen.")
    opened = open_campaign(draft, Range(lots=["L1"]), by=osman, now=NOW)
    unit("B", lot="L1")
    assert [row.unit.serial for row in opened.units.all()] == ["A"]
    assert (opened.lots, opened.opened_by, opened.opened_at) == (["L1"], osman, NOW)


def test_a_bulletin_is_opened_once(osman):
    CampaignFactory(number="B-1")
    draft = Campaign(number="b-1", title="Fans", words="Bearings.", until_done="Listen.")
    with pytest.raises(ValidationError, match="a campaign of this bulletin already"):
        open_campaign(draft, Range(lots=["L1"]), by=osman, now=NOW)


def affected(customer=None, **campaign) -> CampaignUnit:
    """A unit of a campaign in a truck of this customer."""
    install = InstallFactory(tractor__customer=customer or CustomerFactory())
    return CampaignUnitFactory(unit=install.unit, **campaign)


def reachable(**about):
    return CustomerFactory(contact_email="yard@example.org", **about)


def test_each_customer_is_addressed_once_with_its_own_trucks():
    first, second = reachable(name="A fleet"), reachable(name="B fleet")
    row = affected(first)
    affected(first, campaign=row.campaign)
    affected(second, campaign=row.campaign)
    CampaignUnitFactory(campaign=row.campaign)  # in no truck
    told = addressees(row.campaign)
    assert [(one.customer, len(one.rows)) for one in told] == [(first, 2), (second, 1)]


def test_a_unit_that_is_done_is_not_written_of():
    row = affected()
    settle(row, booking=None, visit=None, done_on=date(2025, 3, 9), told_at=None)
    assert addressees(row.campaign) == []


def test_the_e_mail_names_truck_serial_and_caution(mailoutbox):
    row = affected(reachable())
    (one,) = addressees(row.campaign)
    assert send(row.campaign, one, NOW) == 1
    (letter,) = mailoutbox
    install = one.rows[0][1]
    assert letter.to == ["yard@example.org"]
    assert letter.subject == f"Bulletin {row.campaign.number}: Fan bearings"
    for word in (
        install.truck,
        install.tractor.vin,
        row.unit.serial,
        "If it grinds, switch it off",
    ):
        assert word in letter.body
    row.refresh_from_db()
    assert (row.told_at, row.state) == (NOW, CampaignState.TOLD)


def test_a_customer_gets_no_word_of_anothers_trucks(mailoutbox):
    row = affected(reachable())
    stranger = affected(CustomerFactory(), campaign=row.campaign)
    for one in addressees(row.campaign):
        send(row.campaign, one, NOW)
    assert len(mailoutbox) == 1
    assert stranger.unit.serial not in mailoutbox[0].body


def test_it_is_written_in_the_customers_language(mailoutbox, monkeypatch):
    seen = []
    from service import campaign_letters

    plain = campaign_letters.subject_of

    def subject(campaign):
        seen.append(campaign_letters.translation.get_language())
        return plain(campaign)

    monkeypatch.setattr(campaign_letters, "subject_of", subject)
    row = affected(reachable(language="es"))
    send(row.campaign, addressees(row.campaign)[0], NOW)
    assert seen == ["es"]


def test_a_flammable_refrigerant_has_its_caution_in_the_letter(mailoutbox):
    install = InstallFactory(unit__model__refrigerant="R-290", tractor__customer=reachable())
    row = CampaignUnitFactory(unit=install.unit)
    send(row.campaign, addressees(row.campaign)[0], NOW)
    assert "R-290 burns: no flame" in mailoutbox[0].body


def test_nobody_is_told_twice(mailoutbox):
    row = affected(reachable())
    (first,) = addressees(row.campaign)
    assert (send(row.campaign, first, NOW), send(row.campaign, first, NOW)) == (1, 0)
    assert len(mailoutbox) == 1


def test_with_no_address_nothing_is_sent_and_nobody_is_told():
    row = affected()
    assert send(row.campaign, addressees(row.campaign)[0], NOW) == 0
    row.refresh_from_db()
    assert (row.told_at, mail.outbox) == (None, [])


def test_a_mail_server_that_is_down_leaves_them_to_be_told(monkeypatch):
    def refuse(self, messages):
        raise ConnectionRefusedError

    monkeypatch.setattr(EmailBackend, "send_messages", refuse)
    row = affected(reachable())
    assert send(row.campaign, addressees(row.campaign)[0], NOW) == 0
    row.refresh_from_db()
    assert row.told_at is None


def test_who_was_told_stays_told_on_that_day():
    row = affected()
    mark_told([row], NOW)
    assert mark_told([row], NOW.replace(year=2026)) == []
    row.refresh_from_db()
    assert row.told_at == NOW


def test_a_booking_that_was_called_off_leaves_the_unit_told():
    row = affected()
    booking = BookingFactory(unit=None, unit_model=None)
    settle(row, booking=booking, visit=None, done_on=None, told_at=NOW)
    row.refresh_from_db()
    assert row.state == CampaignState.BOOKED
    booking.state = BookingState.CALLED_OFF
    assert CampaignUnit(booking=booking, told_at=NOW).state == CampaignState.TOLD


def test_a_visit_without_the_day_it_was_done_is_refused():
    row = affected()
    with pytest.raises(ValidationError, match="on which day"):
        settle(row, booking=None, visit=VisitFactory(), done_on=None, told_at=None)
    with pytest.raises(IntegrityError), transaction.atomic():
        CampaignUnit.objects.filter(pk=row.pk).update(visit=VisitFactory())


def test_a_unit_is_in_a_campaign_once():
    row = affected()
    with pytest.raises(IntegrityError), transaction.atomic():
        CampaignUnit.objects.create(campaign=row.campaign, unit=row.unit)


def test_the_list_counts_each_unit_once():
    row = affected()
    mark_told([row], NOW)
    settle(row, booking=None, visit=None, done_on=date(2025, 3, 9), told_at=None)
    affected(campaign=row.campaign)
    counted = Campaign.objects.counted().get()
    assert (counted.affected, counted.told, counted.booked, counted.done) == (2, 1, 0, 1)


def test_a_fleet_manager_sees_the_units_in_their_own_trucks(frida, frank):
    row = affected(frida.customers.get())
    assert list(CampaignUnit.objects.visible_to(frida)) == [row]
    assert list(CampaignUnit.objects.visible_to(frank)) == []
    assert list(Campaign.objects.visible_to(frida)) == []


@given(st.data())
def test_the_furthest_step_is_the_state(data):
    done = data.draw(st.booleans())
    told = data.draw(st.booleans())
    row = CampaignUnit(done_on=date(2025, 1, 1) if done else None, told_at=NOW if told else None)
    states = list(CampaignState)
    assert states.index(row.state) >= states.index(CampaignState.TOLD) * told
    assert (row.state == CampaignState.DONE) == done
