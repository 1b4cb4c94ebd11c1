"""The page of what is coming: what it says, of how many, and when it says nothing."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import numpy as np
import pytest

from installs.models import Cover, Terms
from reports.analysis.reliability import Weibull, foreseen_cost
from reports.analysis.standing_out import Compared
from reports.coming import StandingOut
from reports.coming_page import coming_page
from reports.coming_words import law_text, standing_out_text, too_few_text
from reports.costs import Costs, failure_costs
from service.models import ClaimStep, VisitPart
from tests.factories import ClaimFactory, InstallFactory, UnitModelFactory, VisitFactory

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 4)


def shop(failures: int, units: int = 12, lot: str = "L1", model=None):
    """Units two years old, so many of which had a fan replaced, months apart."""
    model = model or UnitModelFactory(name="K-12")
    for number in range(units):
        install = InstallFactory(unit__model=model, unit__lot=lot)
        if number < failures:
            at = datetime(2024, 9, 2, 16, tzinfo=UTC) + timedelta(days=30 * number)
            visit = VisitFactory(install=install, at=at)
            VisitPart.objects.create(visit=visit, part_group="fans", name="fan")
    return model


def terms(months: int):
    made = Terms.objects.create(name="Shop", given_from=date(2023, 1, 1))
    Cover.objects.create(terms=made, part_group="fans", months=months)


def row_of(page: dict, part: str) -> dict:
    return next(row for row in page["rows"] if row["part_group"] == part)


def test_an_empty_shop_is_told_so(client, osman):
    client.force_login(osman)
    assert "No installs on record yet." in client.get("/coming/").content.decode()


def test_two_failures_are_too_few_to_say_anything(osman):
    shop(failures=2)
    page = coming_page(osman, {}, TODAY)
    words = "Too few: 2 failures on record, and at least 3 are needed."
    assert row_of(page, "fans")["too_few"] == words
    assert page["law"] == words
    assert "K-12 (2 failed of 12)" in page["too_few"]


def test_one_failure_is_spoken_of_as_one():
    assert too_few_text(1) == "Too few: 1 failure on record, and at least 3 are needed."


def test_of_five_failures_it_says_how_many_come_inside_terms(osman):
    terms(36)
    shop(failures=5)
    row = row_of(coming_page(osman, {}, TODAY), "fans")
    assert (row["units"], row["failures"], row["covered"]) == (12, 5, 12)
    assert len(row["ahead"]) == 3
    assert all(count.startswith("about ") for count, _cost in row["ahead"])


def test_what_is_ahead_of_all_parts_is_added_up(osman):
    terms(36)
    Cover.objects.create(terms=Terms.objects.get(), part_group="remote", months=36)
    shop(failures=5)
    for part in VisitPart.objects.all():
        VisitPart.objects.create(visit=part.visit, part_group="remote", name="remote")
    for amount in ("100.00", "100.00", "100.00"):
        approved("fans", amount, osman)
    page = coming_page(osman, {}, TODAY)
    of_parts = [row["ahead"][-1][0] for row in page["rows"] if row["ahead"]]
    means = [float(words.split()[1]) for words in (*of_parts, page["all_parts"][-1][0])]
    assert len(of_parts) == 2
    assert means[2] == pytest.approx(means[0] + means[1], abs=0.11)


def test_where_no_cover_is_left_nothing_is_to_come(osman):
    terms(12)
    shop(failures=5)
    row = row_of(coming_page(osman, {}, TODAY), "fans")
    assert row["covered"] == 0
    assert [count for count, _cost in row["ahead"]] == ["about 0.0 (0 to 0)"] * 3


def test_the_part_with_most_failures_is_shown_first_and_another_if_asked(osman):
    shop(failures=3)
    assert coming_page(osman, {}, TODAY)["part"] == "Fans"
    assert coming_page(osman, {"part": "coils"}, TODAY)["part"] == "Coils"
    assert coming_page(osman, {"part": "no such"}, TODAY)["part"] == "Fans"


def test_it_is_narrowed_to_a_lot_and_a_model(osman):
    model = shop(failures=4, lot="L1")
    shop(failures=0, lot="L2", model=model)
    asked = coming_page(osman, {"lot": "L2", "model": "K-12"}, TODAY)
    assert (row_of(asked, "fans")["units"], row_of(asked, "fans")["failures"]) == (12, 0)
    assert row_of(coming_page(osman, {}, TODAY), "fans")["units"] == 24


def test_a_lot_that_fails_far_more_often_stands_out_with_its_units(osman):
    model = shop(failures=10, lot="WEAK")
    for lot in ("L1", "L2", "L3"):
        shop(failures=1, lot=lot, model=model)
    page = coming_page(osman, {}, TODAY)
    assert len(page["standing_out"]) == 1
    assert page["standing_out"][0].startswith(
        "Lot WEAK of K-12, fans: 10 failures in 12 units, where "
    )


def test_lots_that_fail_alike_do_not_stand_out(osman):
    model = shop(failures=3, lot="L1")
    for lot in ("L2", "L3"):
        shop(failures=3, lot=lot, model=model)
    assert coming_page(osman, {}, TODAY)["standing_out"] == []


def test_the_curve_has_its_numbers_beside_it(client, osman):
    shop(failures=3)
    client.force_login(osman)
    response = client.get("/coming/")
    picture = response.context["picture"]
    assert "<svg" in picture.svg and "<desc>Of parts " in picture.svg
    assert [row[2] for row in picture.rows] == ["1", "1", "1"]
    assert "Fans: share still whole, by age" in response.content.decode()


def test_the_same_records_give_the_same_page(osman):
    terms(36)
    shop(failures=5)
    assert coming_page(osman, {}, TODAY)["rows"] == coming_page(osman, {}, TODAY)["rows"]


def law(shape: float, low: float, high: float) -> Weibull:
    return Weibull(5.0, shape, 4.0, 6.0, low, high, 0.1, 0.1, -10.0)


@pytest.mark.parametrize(
    ("shape", "low", "high", "words"),
    [
        (2.1, 1.4, 3.0, "Wears out"),
        (0.6, 0.4, 0.9, "Fails young"),
        (1.2, 0.8, 1.7, "It cannot be told yet"),
    ],
)
def test_how_it_fails_is_said_only_where_the_bounds_agree(shape, low, high, words):
    assert law_text(law(shape, low, high)).startswith(words)


def test_the_scale_and_the_first_tenth_are_said_in_years():
    # S(t) = 0.9 at 5 x 0.10536^(1/2) = 1.62 years.
    assert "One in ten fails within about 1.6 years; scale 5.0 years, between 4.0 and 6.0." in (
        law_text(law(2.0, 1.5, 2.6))
    )


def test_a_technician_is_named_with_what_was_to_expect():
    group = Compared("Juno", 40, 9, 3.1, 70.0, 3.4, 1.5, np.inf, 0.001, 0.0004)
    words = standing_out_text(StandingOut("technician", "fans", "", group))
    assert words == (
        "Put in by Juno, fans: 9 failures in 40 units, where 3.1 were to expect. That is 3.4 times "
        "as often as the rest (1.5 to ∞; corrected p below 0.001)."
    )


def approved(group: str, amount: str, by, currency: str = "USD"):
    claim = ClaimFactory(currency=currency, lines=[{"part_group": group}])
    ClaimStep.objects.create(
        claim=claim,
        position=1,
        kind="approved",
        by=by,
        at=datetime(2024, 7, 1, tzinfo=UTC),
        day=date(2024, 7, 1),
        amount=Decimal(amount),
    )


def test_a_failure_costs_what_settled_claims_of_its_group_came_to(osman):
    for amount in ("120.00", "99.95", "80.05"):
        approved("fans", amount, osman)
    ClaimFactory(lines=[{"part_group": "fans", "unit_price": Decimal("9999.00")}])
    costs = failure_costs(osman)
    cents, own = costs.of("fans")
    assert (costs.currency, own) == ("USD", True)
    assert sorted(cents) == [8005, 9995, 12000]


def test_a_group_with_too_few_claims_is_priced_by_all(osman):
    for amount in ("120.00", "99.95", "80.05"):
        approved("fans", amount, osman)
    cents, own = failure_costs(osman).of("remote")
    assert (len(cents), own) == (3, False)


def test_two_currencies_are_not_added(osman):
    for currency in ("USD", "USD", "USD", "CAD"):
        approved("fans", "100.00", osman, currency)
    assert list(failure_costs(osman).of("fans")[0]) == [10000] * 3


def test_with_two_claims_there_is_no_price():
    assert not Costs("USD", {"fans": [1, 2]}).of("fans")[0].size


def test_a_cost_is_the_count_times_the_price_where_all_cost_the_same():
    counts = np.array([0, 1, 2, 3, 4] * 20)
    told = foreseen_cost(counts, np.array([12_345]), np.random.default_rng(1))
    assert told[:3] == (24_690, 0, 4 * 12_345)


def test_the_number_of_queries_does_not_grow(osman, django_assert_max_num_queries):
    shop(failures=3)
    with django_assert_max_num_queries(12) as few:
        coming_page(osman, {}, TODAY)
    shop(failures=3, lot="L9", model=UnitModelFactory())
    with django_assert_max_num_queries(len(few.captured_queries)):
        coming_page(osman, {}, TODAY)
