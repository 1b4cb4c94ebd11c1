"""The clerk's workbook, read back by another program's reader."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from io import BytesIO

import pytest
from python_calamine import CalamineWorkbook

from installs.models import Terms
from reports.exports.claims_workbook import write_claims_workbook
from service.claiming import approve, decline, send_to_maker, submit
from service.models import Claim, Supplier
from tests.factories import ClaimFactory, UnitModelFactory

TODAY = date(2024, 9, 8)
NOW = datetime(2024, 6, 10, 15, tzinfo=UTC)


@pytest.fixture
def claim(db) -> Claim:
    claim = ClaimFactory(visit__install__unit__serial="=K-7")
    claim.terms = Terms.objects.create(name="Shop terms", given_from=date(2020, 1, 1))
    claim.save()
    return claim


def sheets(user) -> dict[str, list[list]]:
    file = BytesIO()
    write_claims_workbook(file, user, TODAY)
    book = CalamineWorkbook.from_filelike(BytesIO(file.getvalue()))
    return {name: book.get_sheet_by_name(name).to_python() for name in book.sheet_names}


def rows(user, sheet: str) -> list[dict]:
    header, *body = sheets(user)[sheet]
    return [dict(zip(header, row, strict=True)) for row in body]


def test_it_has_a_sheet_of_each_kind(claim, clara):
    names = ["About", "Claims", "Lines", "Steps", "Recovery", "Ageing"]
    assert list(sheets(clara)) == names


def test_a_serial_that_looks_like_a_formula_stays_text(claim, clara):
    assert rows(clara, "Claims")[0]["Unit serial"] == "=K-7"


def test_a_draft_says_how_many_days_are_left(claim, clara):
    row = rows(clara, "Claims")[0]
    # Failed on 4 June with 30 days to claim in: the last day is 4 July, 66 days before 8 September.
    assert (row["To submit by"], row["Days left"]) == (date(2024, 7, 4), -66)
    assert row["Age, days"] == (TODAY - date(2024, 6, 5)).days


def test_sums_are_those_of_the_lines(claim, clara):
    assert rows(clara, "Claims")[0]["Asked"] == 80
    line = rows(clara, "Lines")[0]
    assert (line["Quantity"], line["Price of one"], line["Asked"]) == (2, 40, 80)


def test_steps_tell_who_and_by_which_rule(claim, clara, osman):
    claim.terms.covers.create(part_group="hoses", months=1)
    submit(claim, claim.logged_by, NOW)
    rule = f"{claim.lines.get().pk}:months"
    decline(claim, osman, NOW, rule, "its month was over in April")
    last = rows(clara, "Steps")[-1]
    assert (last["Step"], last["By"]) == ("Declined", "osman")
    assert last["Rule"] == "liquid hose: Within its months"


def test_what_a_supplier_owes_stands_with_its_age(claim, clara, osman):
    submit(claim, claim.logged_by, NOW)
    approve(claim, osman, NOW, why="a clear case, though nothing is shown")
    supplier = Supplier.objects.create(name="Hoses of the north", days_to_pay=30)
    send_to_maker(claim, osman, NOW + timedelta(days=1), supplier, Decimal("80.00"))
    row = rows(clara, "Recovery")[0]
    # Sent on 11 June, due on 11 July: 59 days overdue on 8 September.
    assert (row["Owed"], row["Days overdue"]) == (80, 59)
    assert row["Overdue"] == "Overdue, 31 to 60 days"


def test_ageing_counts_what_is_not_closed_by_state(claim, clara):
    ClaimFactory.create_batch(2, visit__install__unit__model=UnitModelFactory(name="Z"))
    row = rows(clara, "Ageing")[0]
    # Logged on 5 June: 95 days ago.
    assert (row["State"], row["Days since it was logged"], row["Claims"]) == ("Draft", "over 90", 3)
    assert row["Asked"] == 240


def test_it_costs_the_same_however_many_claims_there_are(
    claim, clara, django_assert_max_num_queries
):
    ClaimFactory.create_batch(5, visit__install__unit__model=UnitModelFactory(name="Z"))
    with django_assert_max_num_queries(8):
        write_claims_workbook(BytesIO(), clara, TODAY)
