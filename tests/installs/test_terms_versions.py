"""Terms in force stand; a version follows them, seen through before it is saved."""

import re
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.urls import reverse

from installs.models import Cover, Install, Terms, TermsVoid, VoidCode
from installs.terms_versions import Version, add_version, preview, versions
from tests.factories import (
    BookingFactory,
    CustomerFactory,
    InstallFactory,
    UnitFactory,
    UnitModelFactory,
    YardFactory,
)

COVERS = {"compressor": {"months": 36, "run_hours": 6000}}


def version(name: str = "Shop terms", given_from: date = date(2024, 9, 1), **rule) -> Version:
    return Version(Terms(name=name, given_from=given_from, **rule), COVERS, [VoidCode.OVERCHARGE])


@pytest.fixture
def terms(db):
    terms = Terms.objects.create(name="Shop terms", given_from=date(2024, 1, 1))
    Cover.objects.create(terms=terms, part_group="compressor", months=24)
    TermsVoid.objects.create(terms=terms, code="overcharge")
    return terms


@pytest.fixture
def install(terms):
    return InstallFactory(installed_on=date(2024, 3, 4))


def test_terms_that_no_unit_is_under_are_changed_freely(terms):
    terms.claim_days = 60
    terms.full_clean()
    terms.save()
    cover = terms.covers.get()
    cover.months = 12
    cover.save()
    terms.delete()


@pytest.mark.parametrize("row", ["terms", "cover", "void"])
def test_terms_in_force_are_never_rewritten(terms, install, row):
    one = {"terms": terms, "cover": terms.covers.get(), "void": terms.voids.get()}[row]
    for act in (one.full_clean, one.save, one.delete):
        with pytest.raises(ValidationError, match="is in force"):
            act()


def test_moving_their_first_day_does_not_free_them(terms, install):
    terms.given_from = date(2030, 1, 1)
    with pytest.raises(ValidationError, match="is in force"):
        terms.save()


def test_nothing_is_added_to_terms_in_force(terms, install):
    with pytest.raises(ValidationError, match="is in force"):
        Cover(terms=terms, part_group="fans", months=12).full_clean()


@pytest.mark.parametrize(
    "rule",
    [
        {"customer": True},
        {"model": True},
        {"made_from": date(2024, 1, 16)},
        {"made_to": date(2024, 1, 14)},
        {"given_from": date(2024, 3, 5)},
    ],
)
def test_terms_for_other_units_are_not_in_force(db, rule):
    InstallFactory(installed_on=date(2024, 3, 4), unit__made_on=date(2024, 1, 15))
    made = {"customer": CustomerFactory, "model": UnitModelFactory}
    rule = {name: made[name]() if value is True else value for name, value in rule.items()}
    assert not Terms.objects.create(name="x", **{"given_from": date(2024, 1, 1)} | rule).is_in_force


@pytest.mark.parametrize(
    "wrong",
    [
        {"replaced_part": "own"},
        {"replaced_part": "own", "replaced_months": 0},
        {"replaced_months": 3},
        {"claim_days": 0},
        {"four_eyes_above": Decimal("-1")},
        {"currency": "usd"},
    ],
)
def test_the_database_holds_what_terms_may_say(db, wrong):
    with pytest.raises(IntegrityError), transaction.atomic():
        Terms.objects.create(name="x", given_from=date(2024, 1, 1), **wrong)


def test_a_version_that_follows_changes_no_unit_that_is_installed(terms, install):
    assert preview(version()).changes == []
    saved = add_version(version())
    assert [cover.months for cover in saved.covers.all()] == [36]
    assert [void.code for void in saved.voids.all()] == ["overcharge"]
    assert Terms.objects.given_to(install).first() == terms
    later = InstallFactory(installed_on=date(2024, 9, 1))
    assert Terms.objects.given_to(later).first() == saved


def test_a_version_of_the_same_line_takes_nothing_back(terms, install):
    with pytest.raises(ValidationError, match="the last on 2024-03-04"):
        add_version(version(given_from=date(2024, 3, 4)))
    assert Terms.objects.count() == 1


def test_a_contract_told_late_shows_what_it_changes_and_from_what(terms, install):
    InstallFactory(installed_on=date(2024, 5, 1))
    seen = preview(version("Contract", date(2024, 2, 1), customer=install.customer))
    assert [(one.install, one.before) for one in seen.changes] == [(install, terms)]
    assert seen.rewritten == seen.changes
    assert Terms.objects.count() == 1 and Terms.history.count() == 1


def test_units_that_had_no_terms_come_under_the_first_ones(db):
    install = InstallFactory(installed_on=date(2024, 3, 4))
    seen = preview(version(given_from=date(2020, 1, 1)))
    assert [(one.install, one.before) for one in seen.changes] == [(install, None)]
    assert seen.rewritten == []


def test_a_unit_is_counted_once_by_its_first_install(terms, install):
    install.removed_on = date(2024, 10, 1)
    install.save()
    InstallFactory(unit=install.unit, installed_on=date(2024, 10, 1))
    assert preview(version()).changes == []
    assert list(Install.objects.firsts()) == [install]


def test_what_is_booked_and_in_stock_is_counted(terms):
    model = UnitModelFactory()
    UnitFactory(model=model, yard=YardFactory(customer=None))
    UnitFactory(yard=YardFactory(customer=None, name="Other"))
    begins_at = datetime(2026, 11, 30, 14, tzinfo=UTC)
    booking = BookingFactory(unit=None, unit_model=model, begins_at=begins_at)
    BookingFactory(
        unit=None,
        unit_model=model,
        begins_at=begins_at - timedelta(days=60),
        ends_at=begins_at - timedelta(days=60) + timedelta(hours=6),
    )
    seen = preview(version(given_from=date(2026, 11, 1), model=model))
    assert (seen.booked, seen.in_stock) == ([booking], 1)


def test_every_version_says_how_many_units_are_under_it(
    terms, install, osman, django_assert_max_num_queries
):
    add_version(version())
    InstallFactory(installed_on=date(2024, 9, 1))
    InstallFactory(installed_on=date(2024, 9, 2))
    with django_assert_max_num_queries(4):
        told = [(str(one), units) for one, units in versions(osman)]
    assert told == [("Shop terms (2024-09-01)", 2), ("Shop terms (2024-01-01)", 1)]


# the page


@pytest.fixture
def owner(client, osman):
    client.force_login(osman)
    return client


def asked(**changes) -> dict:
    return {
        "name": "Shop terms",
        "given_from": "2024-09-01",
        "transferable": "on",
        "replaced_part": "rest_of_old",
        "claim_days": "30",
        "currency": "USD",
        "voids": ["overcharge"],
        "months_compressor": "36",
        "run_hours_compressor": "6000",
        "counts_from_compressor": "first_use",
    } | changes


def seen_in(page: str) -> str:
    """What the button that saves sends along."""
    return re.search(r'name="seen" value="(\w+)"', page)[1]


def test_the_owner_sees_what_changes_before_it_is_saved(owner, terms, install):
    address = reverse("terms_new") + f"?from={terms.pk}"
    page = owner.get(address).content.decode()
    assert 'name="months_compressor" value="24"' in page
    contract = asked(name="Contract", customer=install.customer_id, given_from="2024-02-01")
    page = owner.post(address, contract).content.decode()
    assert install.unit.serial in page and "A promise changes" in page
    assert Terms.objects.count() == 1
    assert owner.post(address, contract | {"seen": seen_in(page)}).url == reverse("terms")
    saved = Terms.objects.get(name="Contract")
    cover = saved.covers.get()
    assert (cover.months, cover.run_hours, cover.counts_from) == (36, 6000, "first_use")
    assert Terms.objects.given_to(install).first() == saved


@pytest.mark.parametrize("change", ["another unit", "other months"])
def test_what_changed_since_it_was_seen_is_shown_again(owner, terms, install, change):
    contract = asked(name="Contract", customer=install.customer_id, given_from="2024-02-01")
    seen = seen_in(owner.post(reverse("terms_new"), contract).content.decode())
    if change == "another unit":
        InstallFactory(customer=install.customer)
    else:
        contract["months_compressor"] = "12"
    page = owner.post(reverse("terms_new"), contract | {"seen": seen})
    assert page.status_code == 200
    assert not Terms.objects.filter(name="Contract").exists()


def test_a_version_that_would_rewrite_is_refused_beside_its_day(owner, terms, install):
    told = asked(given_from="2024-02-01")
    seen = seen_in(owner.post(reverse("terms_new"), told).content.decode())
    page = owner.post(reverse("terms_new"), told | {"seen": seen})
    assert "keep it. Give this version from a later day on." in page.content.decode()
    assert Terms.objects.count() == 1


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"months_compressor": ""}, "Give the months too"),
        ({"months_compressor": "", "run_hours_compressor": ""}, "would cover nothing"),
        ({"currency": "dollars"}, "at most 3 characters"),
        ({"replaced_part": "own"}, "months above 0"),
    ],
)
def test_what_cannot_be_is_said_and_what_was_typed_stays(owner, terms, wrong, words):
    page = owner.post(reverse("terms_new"), asked(claim_days="47", **wrong)).content.decode()
    assert words in page and 'value="47"' in page


def test_all_versions_are_listed_for_the_clerk_who_writes_none(client, clara, terms, install):
    client.force_login(clara)
    page = client.get(reverse("terms")).content.decode()
    assert "Shop terms, from 2024-01-01" in page
    assert reverse("terms_new") not in page


def test_the_back_office_changes_no_terms_in_force(owner, terms, install):
    page = owner.get(reverse("admin:installs_terms_change", args=[terms.pk]))
    assert 'name="_save"' not in page.content.decode()
