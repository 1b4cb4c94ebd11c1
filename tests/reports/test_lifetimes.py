"""From records to lifetimes: what failed, since when it was watched, and until when it is covered."""

from datetime import UTC, date, datetime, timedelta

import pytest

from installs.models import Cover, ReplacedPart, Terms
from reports.lifetimes import as_lifetimes, given_to, lives
from service.models import Settled, VisitPart
from tests.factories import (
    ClaimFactory,
    CustomerFactory,
    InstallFactory,
    TechnicianFactory,
    UnitFactory,
    UnitModelFactory,
    VisitFactory,
)

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 4)
INSTALLED = date(2024, 3, 4)


def replaced(install, day: date, group: str = "fans", **visit):
    at = datetime(day.year, day.month, day.day, 16, tzinfo=UTC)
    made = VisitFactory(install=install, at=at, **visit)
    return VisitPart.objects.create(visit=made, part_group=group, name="fan")


def fans(user, today: date = TODAY):
    return lives(user, today)["fans"]


def terms(months: int = 24, group: str = "fans", **about) -> Terms:
    made = Terms.objects.create(**{"name": "Shop", "given_from": date(2023, 1, 1)} | about)
    Cover.objects.create(terms=made, part_group=group, months=months)
    return made


def test_a_part_that_never_failed_is_whole_today(osman):
    InstallFactory(installed_by=TechnicianFactory(name="Juno"))
    (one,) = fans(osman)
    assert (one.began_on, one.last_on, one.failed, one.stands) == (INSTALLED, TODAY, False, True)
    assert one.technician == "Juno"


def test_a_part_that_was_replaced_failed_and_the_new_one_begins_anew(osman):
    replaced(InstallFactory(), date(2025, 3, 4))
    old, new = fans(osman)
    assert (old.failed, old.last_on, old.stands) == (True, date(2025, 3, 4), False)
    assert (new.failed, new.began_on, new.last_on) == (False, date(2025, 3, 4), TODAY)
    assert as_lifetimes([old, new]).exit == pytest.approx([365 / 365.25, 365 / 365.25])


def test_two_fans_changed_at_one_visit_are_one_failure(osman):
    install = InstallFactory()
    part = replaced(install, date(2025, 3, 4))
    VisitPart.objects.create(visit=part.visit, part_group="fans", name="other fan")
    assert sum(one.failed for one in fans(osman)) == 1


def test_another_group_of_the_unit_goes_on(osman):
    replaced(InstallFactory(), date(2025, 3, 4))
    assert [one.failed for one in lives(osman, TODAY)["compressor"]] == [False]


def test_what_was_logged_twice_failed_once(osman):
    install = InstallFactory()
    replaced(install, date(2025, 3, 4))
    settled = datetime(2025, 3, 9, tzinfo=UTC)
    replaced(install, date(2025, 3, 5), settled=Settled.SAME, settled_at=settled)
    assert sum(one.failed for one in fans(osman)) == 1


def test_a_part_that_only_a_claim_names_failed_at_its_visit(osman):
    visit = VisitFactory(at=datetime(2025, 6, 2, 16, tzinfo=UTC))
    ClaimFactory(visit=visit, lines=[{"part_group": "fans", "name": "fan"}])
    assert [one.last_on for one in fans(osman)] == [date(2025, 6, 2), TODAY]


def test_a_unit_taken_out_is_watched_to_that_day(osman):
    InstallFactory(removed_on=date(2025, 1, 1))
    (one,) = fans(osman)
    assert (one.last_on, one.failed, one.stands) == (date(2025, 1, 1), False, False)


def test_a_unit_that_moved_counts_from_its_first_install(osman):
    unit = UnitFactory()
    InstallFactory(unit=unit, removed_on=date(2025, 1, 1))
    InstallFactory(unit=unit, installed_on=date(2025, 2, 1))
    (one,) = fans(osman)
    assert (one.began_on, one.last_on, one.stands) == (INSTALLED, TODAY, True)


def test_an_install_written_down_late_is_watched_from_then_on(osman):
    late = datetime(2025, 3, 4, 15, tzinfo=UTC)
    InstallFactory(entered_at=late)
    (one,) = fans(osman)
    assert (one.began_on, one.watched_from) == (INSTALLED, date(2025, 3, 4))
    assert as_lifetimes([one]).entry == pytest.approx([365 / 365.25])


def test_a_visit_on_record_before_that_shows_it_was_watched_already(osman):
    install = InstallFactory(entered_at=datetime(2025, 3, 4, 15, tzinfo=UTC))
    VisitFactory(install=install, at=datetime(2024, 9, 2, 15, tzinfo=UTC))
    assert fans(osman)[0].watched_from == date(2024, 9, 2)


def test_a_failure_that_began_the_record_is_no_evidence_of_how_long_it_lasts(osman):
    install = InstallFactory(entered_at=datetime(2025, 3, 4, 15, tzinfo=UTC))
    replaced(install, date(2025, 3, 4))
    assert [one.failed for one in fans(osman)] == [False]


def test_what_is_still_to_come_is_not_known(osman):
    replaced(InstallFactory(), TODAY + timedelta(days=1))
    assert [one.failed for one in fans(osman)] == [False]


def test_cover_counts_from_the_first_install(osman):
    terms(24)
    InstallFactory(installed_on=date(2024, 2, 29), entered_at=datetime(2024, 2, 29, tzinfo=UTC))
    # The written rule: 29 February + 24 months is the last of February.
    assert fans(osman)[0].covered_until == date(2026, 2, 28)


def test_a_new_part_has_the_rest_of_the_old_ones_cover(osman):
    terms(24)
    replaced(InstallFactory(), date(2025, 3, 4))
    assert [one.covered_until for one in fans(osman)] == [date(2026, 3, 4)] * 2


def test_or_a_time_of_its_own_where_the_terms_say_so(osman):
    terms(24, replaced_part=ReplacedPart.OWN, replaced_months=12)
    replaced(InstallFactory(), date(2025, 6, 30))
    assert [one.covered_until for one in fans(osman)] == [date(2026, 3, 4), date(2026, 6, 30)]


@pytest.mark.parametrize(("transferable", "until"), [(True, date(2026, 3, 4)), (False, None)])
def test_cover_goes_to_another_owner_only_where_the_terms_say_so(osman, transferable, until):
    terms(24, transferable=transferable)
    unit = UnitFactory()
    InstallFactory(unit=unit, removed_on=date(2025, 1, 1))
    InstallFactory(unit=unit, installed_on=date(2025, 2, 1))
    assert [one.covered_until for one in fans(osman)] == [until]


def test_with_no_terms_nothing_is_covered(osman):
    InstallFactory()
    assert fans(osman)[0].covered_until is None


def test_terms_are_matched_as_the_database_matches_them(osman):
    customer, model = CustomerFactory(), UnitModelFactory()
    terms(1)
    terms(2, name="Newer", given_from=date(2024, 2, 1))
    terms(3, name="Later", given_from=date(2024, 6, 1))
    terms(4, name="Model", model=model)
    terms(5, name="Contract", customer=customer)
    terms(6, name="Made", made_from=date(2024, 1, 1), made_to=date(2024, 1, 31))
    installs = [
        InstallFactory(unit__model=some, unit__made_on=made_on, tractor__customer=whose)
        for some in (model, UnitModelFactory())
        for made_on in (None, date(2024, 1, 15), date(2023, 6, 1))
        for whose in (customer, CustomerFactory())
    ]
    given = dict.fromkeys(install.unit_id for install in installs)
    for one in lives(osman, TODAY)["fans"]:
        given[one.unit] = one.covered_until
    for install in installs:
        chosen = Terms.objects.given_to(install).first()
        expected = chosen.covers.get().ends_on(install.installed_on)
        assert given[install.unit_id] == expected


def test_the_number_of_queries_does_not_grow_with_the_fleet(osman, django_assert_max_num_queries):
    terms(24)
    replaced(InstallFactory(), date(2025, 3, 4))
    with django_assert_max_num_queries(10) as few:
        lives(osman, TODAY)
    for _number in range(4):
        replaced(InstallFactory(), date(2025, 3, 4))
    with django_assert_max_num_queries(len(few.captured_queries)):
        lives(osman, TODAY)


def test_terms_that_reach_nobody_are_given_to_nobody():
    assert given_to(InstallFactory(), []) is None
