"""The owner's page: how often the screen was right, and how long its words lie unanswered."""

from datetime import UTC, date, datetime

import pytest

from reports.exports.bars import share_chart
from reports.models import Cause
from reports.quality import quality, share_bounds
from tests.factories import ConcernFactory, FindingFactory, ScreenRunFactory

URL = "/quality/"
TODAY = date(2025, 9, 10)
AT = datetime(2025, 9, 9, 15, tzinfo=UTC)


def looked_at(by, *found: str, cause=Cause.REFRIGERANT_LEAK, mended=True, **concern):
    """Concerns of one cause, each with what was found at its truck."""
    for cause_found in found:
        one = ConcernFactory(cause=cause, **concern)
        one.found(by, cause_found, date(2025, 9, 8), words="Seen", mended=mended, at=AT)


def hits_of(user, cause):
    return next(hit for hit in quality(user, TODAY).hits if hit.cause == cause)


# Wilson's interval without a correction, from Newcombe (1998), Statistics in Medicine 17, table I:
# 81 of 263, 15 of 148, 0 of 20 and 1 of 29. From memory.
@pytest.mark.parametrize(
    ("right", "of", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_the_range_of_a_share_is_wilsons(right, of, low, high):
    assert share_bounds(right, of) == pytest.approx((low, high), abs=6e-5)


def test_a_share_is_never_told_without_its_count_and_range(db, osman, tomas):
    looked_at(tomas, "refrigerant_leak", "refrigerant_leak")
    assert hits_of(osman, Cause.REFRIGERANT_LEAK).in_words == "2 of 2, so between 34 and 100 %"


def test_what_was_found_instead_is_counted(db, osman, tomas):
    looked_at(tomas, "refrigerant_leak", "nothing_wrong", "nothing_wrong", "overcharge")
    hit = hits_of(osman, Cause.REFRIGERANT_LEAK)
    assert (hit.confirmed, hit.refuted) == (1, 3)
    assert hit.instead == [("nothing wrong", 2), ("overcharge", 1)]


def test_of_two_looks_at_one_concern_the_last_counts(db, osman, tomas):
    concern = ConcernFactory()
    concern.found(tomas, concern.cause, date(2025, 9, 1), at=AT)
    concern.found(tomas, "nothing_wrong", date(2025, 9, 8), at=AT)
    hit = hits_of(osman, concern.cause)
    assert (hit.confirmed, hit.refuted) == (0, 1)


def test_open_ones_lie_until_today_and_settled_ones_until_their_day(db, osman, tomas):
    for day in (1, 5, 31):
        ConcernFactory(first_said_on=date(2025, 8, day))
    looked_at(tomas, "nothing_wrong", first_said_on=date(2025, 9, 1))
    told = quality(osman, TODAY)
    [new] = told.open_by_state
    # From 31, 5 and 1 August to 10 September: 10, 36 and 40 days by the calendar.
    assert (new.label, new.count, new.median_days, new.longest_days) == ("new", 3, 36, 40)
    assert [(row.label, row.median_days) for row in told.settled_by_end] == [("refuted", 7)]


def test_the_page_links_to_what_is_open(client, osman):
    finding = FindingFactory(concern=ConcernFactory(cause=Cause.OVERCHARGE), cause=Cause.OVERCHARGE)
    client.force_login(osman)
    page = client.get(URL).content.decode()
    assert 'href="/findings/?state=new"' in page
    assert 'href="/findings/?state=all&amp;cause=overcharge"' in page
    assert f'href="{finding.get_absolute_url()}"' in page


def test_the_picture_says_in_words_what_it_shows(client, osman, tomas):
    looked_at(tomas, "refrigerant_leak", "nothing_wrong")
    client.force_login(osman)
    page = client.get(URL).content.decode()
    assert "<desc>Refrigerant leak: 1 of 2, so between 9 and 91 %.</desc>" in page
    assert "style=" not in page


def test_an_empty_record_says_what_to_do(client, osman):
    client.force_login(osman)
    page = client.get(URL).content.decode()
    assert "Nothing was looked at yet" in page
    assert "Nothing is open." in page
    assert "<svg" not in page


def test_a_picture_of_nothing_is_not_drawn():
    with pytest.raises(ValueError, match="at least one"):
        share_chart("Confirmed", "", [])


def test_the_page_costs_the_same_however_many_concerns(
    client, osman, tomas, django_assert_max_num_queries
):
    def fill():
        for cause in (Cause.REFRIGERANT_LEAK, Cause.BATTERY_WEAR):
            FindingFactory(run=run, concern=ConcernFactory(cause=cause))
            looked_at(tomas, "nothing_wrong", cause, cause=cause)

    run = ScreenRunFactory()
    client.force_login(osman)
    fill()
    with django_assert_max_num_queries(12) as few:
        client.get(URL)
    for _time in range(5):
        fill()
    with django_assert_max_num_queries(len(few.captured_queries)):
        client.get(URL)
