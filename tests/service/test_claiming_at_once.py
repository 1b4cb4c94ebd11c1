"""People who act on one claim at once: one of them is first, and no step is lost."""

from fleetcool.models import Role
from service import claiming
from service.models import Claim, ClaimStep, Recovery
from tests.factories import PersonFactory
from tests.service.at_once import CLIENTS, at_once
from tests.service.claims import AT, WHY, money, shop_terms, submitted, supplier, visit_of


def clerk():
    return PersonFactory(role=Role.WARRANTY_CLERK)


def test_twenty_who_open_a_claim_for_one_visit_open_one(threads):
    shop_terms()
    visit, by = visit_of(), clerk()
    assert at_once(lambda number: claiming.open_from_visit(visit, by, AT)) == CLIENTS
    assert Claim.objects.get().lines.count() == 1


def test_of_twenty_who_decide_at_once_one_decides(threads):
    shop_terms()
    claim, people = submitted(clerk()), [clerk() for _number in range(CLIENTS)]
    assert at_once(lambda n: claiming.approve(claim, people[n], AT, why=WHY)) == 1
    assert ClaimStep.objects.filter(claim=claim).count() == 2


def test_twenty_who_ask_a_supplier_at_once_ask_for_no_more_than_was_approved(threads):
    shop_terms()
    by = clerk()
    claim, maker = submitted(by), supplier()
    claiming.approve(claim, clerk(), AT, why=WHY)
    # 432.40 was approved: four times 100.00, and no fifth.
    sent = at_once(lambda n: claiming.send_to_maker(claim, by, AT, maker, money("100.00")))
    assert sent == Recovery.objects.count() == 4
