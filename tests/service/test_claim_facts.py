"""What is on record of a claim, as the rules read it."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.core.files.base import ContentFile

from installs.models import Certificate, Cover, InstallStep, Terms, VoidCode
from service import claiming
from service.claim_facts import assess_claim
from service.coverage_words import rule_words
from service.models import Movement, VisitPhoto
from tests.factories import (
    BatteryBankFactory,
    CertifiedFactory,
    CommissioningFactory,
    CustomerFactory,
    InstallFactory,
    MovementFactory,
    OvernightFactory,
    ReadingFactory,
    StepRecordFactory,
    TechnicianFactory,
)
from tests.service.claims import (
    AT,
    COMPRESSOR,
    LABOUR,
    claim_of,
    line,
    shop_terms,
    submitted,
    visit_of,
)

DAY = date(2024, 6, 5)


def rules(claim, place: int = 0) -> dict:
    return {one.code: one for one in assess_claim(claim, DAY).lines[place].assessment.rules}


def verdict(claim, code: str, place: int = 0) -> str:
    return rules(claim, place)[code].verdict


@pytest.fixture
def install(db):
    install = InstallFactory(installed_on=date(2024, 3, 4))
    BatteryBankFactory(tractor=install.tractor)
    return install


def voided(clara, install, code: str):
    """A claim under terms that ask after one thing, its rule's verdict and records."""
    shop_terms(code)
    rule = rules(claim_of(clara, visit_of(install)))[f"void_{code}"]
    return rule.verdict, [tuple(ref) for ref in rule.rests_on]


def test_without_a_certificate_it_fails(clara, install):
    assert voided(clara, install, "no_certificate") == ("fails", [])


def prove(install) -> Certificate:
    commissioning = CommissioningFactory(install=install, began_at=AT - timedelta(days=90))
    return Certificate.objects.create(
        commissioning=commissioning,
        issued_at=commissioning.began_at,
        technician=commissioning.technician,
        says={},
        received_by="Dora",
    )


def test_a_certificate_that_stands_is_what_it_rests_on(clara, install):
    certificate = prove(install)
    assert voided(clara, install, "no_certificate") == (
        "holds",
        [("certificate", certificate.pk)],
    )


def test_a_withdrawn_certificate_is_none(clara, install):
    certificate = prove(install)
    certificate.withdrawn_at = AT
    certificate.save()
    assert voided(clara, install, "no_certificate")[0] == "fails"


@pytest.mark.parametrize(("with_record", "said"), [(True, "holds"), (False, "fails")])
def test_the_evacuation_is_looked_up(clara, install, with_record, said):
    if with_record:
        StepRecordFactory(
            commissioning__install=install,
            commissioning__began_at=AT - timedelta(days=90),
            step=InstallStep.EVACUATION,
            measured={"minutes": 30},
        )
    assert voided(clara, install, "no_evacuation_record")[0] == said


@pytest.mark.parametrize(
    ("cutoff_v", "said"), [(10.5, "holds"), (10.4, "fails"), (None, "cannot_say")]
)
def test_the_cutoff_is_held_against_what_the_bank_survives(clara, install, cutoff_v, said):
    """10.5 V for an AGM bank of 12 V, as in `installs.engineering.battery`."""
    StepRecordFactory(
        commissioning__install=install,
        commissioning__began_at=AT - timedelta(days=90),
        step=InstallStep.SETTINGS,
        measured={"cutoff_v": cutoff_v},
    )
    assert voided(clara, install, "cutoff_below_floor")[0] == said


@pytest.mark.parametrize(
    ("moved", "said"),
    [
        ([("charged", 520)], "holds"),
        # 520 g and 7 % are 556.4 g.
        ([("charged", 520), ("added", 36)], "holds"),
        ([("charged", 520), ("added", 37)], "fails"),
        ([("charged", 520), ("recovered", 100), ("added", 130)], "holds"),
        ([("charged", 900), ("charged", 520)], "holds"),
        ([("added", 900)], "cannot_say"),
    ],
)
def test_an_overcharge_is_summed_from_the_last_weighed_charge(clara, install, moved, said):
    for number, (movement, mass_g) in enumerate(moved):
        at = AT - timedelta(days=60 - number)
        MovementFactory(install=install, at=at, movement=movement, mass_g=mass_g)
    assert voided(clara, install, "overcharge")[0] == said


def test_what_the_visit_itself_put_in_is_no_overcharge_before_it(clara, install):
    visit = visit_of(install)
    MovementFactory(install=install, at=AT - timedelta(days=60), mass_g=520)
    MovementFactory(install=install, at=visit.at, mass_g=900, movement="added", visit=visit)
    shop_terms("overcharge")
    assert verdict(claim_of(clara, visit), "void_overcharge") == "holds"


@pytest.mark.parametrize(
    ("by", "said"),
    [("certified", "holds"), ("uncertified", "fails"), ("unknown", "cannot_say")],
)
def test_who_moved_refrigerant_is_looked_up_on_its_day(clara, install, by, said):
    factory = {"certified": CertifiedFactory, "uncertified": TechnicianFactory}.get(by)
    MovementFactory(
        install=install, at=AT - timedelta(days=9), moved_by=factory() if factory else None
    )
    assert voided(clara, install, "uncertified_work")[0] == said
    assert Movement.objects.count() == 1


@pytest.mark.parametrize(
    ("installed_by", "asked", "said"),
    [
        (True, None, "holds"),
        (False, None, "cannot_say"),
        (False, False, "holds"),
        (True, True, "fails"),
    ],
)
def test_who_moved_the_unit_to_another_truck(clara, install, installed_by, asked, said):
    install.removed_on = date(2024, 5, 1)
    install.save()
    second = InstallFactory(
        unit=install.unit,
        installed_on=date(2024, 5, 1),
        installed_by=TechnicianFactory() if installed_by else None,
    )
    shop_terms("moved_by_others")
    claim = claim_of(clara, visit_of(second))
    claim.moved_by_others = asked
    assert verdict(claim, "void_moved_by_others") == said


def test_the_evidence_is_what_the_visit_holds(clara, install):
    shop_terms()
    visit = visit_of(install)
    ReadingFactory(install=install, visit=visit, taken_at=visit.at)
    VisitPhoto.objects.create(visit=visit, sha256="0", file=ContentFile(b"x", name="x.jpg"))
    said = rules(claim_of(clara, visit))
    assert said["evidence_readings"].verdict == said["evidence_photos"].verdict == "holds"
    assert said["evidence_certificate"].verdict == "cannot_say"


def test_a_serial_that_was_claimed_before_is_found_on_another_unit_too(clara, install):
    shop_terms()
    first = submitted(clara, visit=visit_of(install))
    again = claim_of(clara, visit_of(serial_out="cmp-1"), [COMPRESSOR | {"serial_out": "cmp-1"}])
    rule = rules(again)["claimed_once"]
    assert (rule.verdict, rule.rests_on) == ("fails", (("claim", first.pk),))


def test_a_declined_claim_bars_no_other(clara, osman, install):
    shop_terms()
    first = submitted(clara, visit=visit_of(install))
    cited = claiming.declining_rules(assess_claim(first, DAY))[0]
    claiming.decline(first, osman, AT, cited, "no photos were sent")
    claiming.close(first, osman, AT)
    again = claim_of(clara, visit_of(install, AT - timedelta(hours=2)))
    assert verdict(again, "claimed_once") == "holds"


def test_the_same_part_without_a_serial_asks_for_a_look(clara, install):
    shop_terms()
    submitted(clara, visit=visit_of(install))
    nameless = [COMPRESSOR | {"serial_out": "", "name": "compressor"}]
    again = claim_of(clara, visit_of(install, AT - timedelta(hours=2)), nameless)
    assert verdict(again, "claimed_once") == "cannot_say"


def test_serials_tell_two_compressors_of_one_unit_apart(clara, install):
    shop_terms()
    submitted(clara, visit=visit_of(install))
    other = [COMPRESSOR | {"serial_out": "CMP-2"}]
    again = claim_of(clara, visit_of(install, AT - timedelta(hours=2), serial_out="CMP-2"), other)
    assert verdict(again, "claimed_once") == "holds"


def test_a_part_put_in_earlier_counts_from_its_own_day(clara, install):
    shop_terms(replaced_part="own", replaced_months=1)
    visit_of(install, AT - timedelta(days=40), serial_in="CMP-1", serial_out="CMP-0")
    rule = rules(claim_of(clara, visit_of(install)))["months"]
    assert (rule.verdict, rule.numbers["counted_from"]) == ("fails", date(2024, 4, 26))


def test_nights_and_first_use_are_read_from_the_overnights(clara, install):
    terms = Terms.objects.create(name="By hours", given_from=date(2024, 1, 1))
    Cover.objects.create(
        terms=terms, part_group="compressor", months=24, run_hours=30, counts_from="first_use"
    )
    for day, run_h in ((10, 0), (12, 8), (13, 9), (14, 14)):
        OvernightFactory(
            install=install, began_at=datetime(2024, 3, day, 20, tzinfo=UTC), run_h=run_h
        )
    said = rules(claim_of(clara, visit_of(install)))
    assert said["months"].numbers["counted_from"] == date(2024, 3, 12)
    assert (said["run_hours"].verdict, said["run_hours"].numbers["low_h"]) == ("fails", 31)


def test_labour_goes_with_a_part_that_is_covered(clara, install):
    shop_terms()
    claim = claim_of(clara, visit_of(install), [LABOUR, COMPRESSOR | {"part_group": "coils"}])
    assert verdict(claim, "part_group", place=1) == "fails"
    assert verdict(claim, "with_part", place=0) == "fails"


def test_terms_that_stay_with_the_first_owner_end_with_a_sale(clara, install):
    shop_terms(transferable=False)
    visit = visit_of(install)
    visit.customer = CustomerFactory()
    visit.save()
    assert verdict(claim_of(clara, visit), "same_owner") == "fails"


def test_the_deadline_is_held_against_the_day_it_was_handed_in(clara, install):
    shop_terms()
    claim = submitted(clara, visit=visit_of(install))
    late = assess_claim(claim, DAY + timedelta(days=300))
    assert (late.deadline, late.days_left) == (date(2024, 7, 4), 29)


def test_every_rule_has_its_words(clara, install):
    shop_terms(*VoidCode.values, transferable=False)
    lines = [COMPRESSOR, LABOUR, line("travel", "Travel, km", "3", "0.65")]
    claim = claim_of(clara, visit_of(install), lines)
    for one in assess_claim(claim, DAY).lines:
        for rule in one.assessment.rules:
            label, words = rule_words(rule)
            assert label and words and "%(" not in words


def test_a_claim_of_many_lines_asks_no_more_of_the_database(
    clara, install, django_assert_max_num_queries
):
    shop_terms("no_certificate", "no_evacuation_record", "overcharge", "uncertified_work")
    lines = [COMPRESSOR | {"serial_out": f"CMP-{n}"} for n in range(12)]
    claim = claim_of(clara, visit_of(install), lines)
    with django_assert_max_num_queries(30):
        assess_claim(claim, DAY)
