"""The commissioning on the phone: what each page shows, saves and refuses."""

import json
from datetime import UTC, datetime
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image

from installs.models import Certificate, Commissioning, Override, Photo
from tests.factories import (
    BatteryBankFactory,
    BookingFactory,
    InstallFactory,
    StepRecordFactory,
    UnitModelFactory,
)
from tests.installs.proved import MEASURED
from tests.service.pages import page, text

NOON = datetime(2026, 11, 30, 18, tzinfo=UTC)


def jpeg(name="photo.jpg"):
    out = BytesIO()
    Image.new("RGB", (60, 40), "red").save(out, "JPEG")
    return SimpleUploadedFile(name, out.getvalue(), "image/jpeg")


# Beginning


def test_a_technician_begins_from_a_booking(technician):
    booking = BookingFactory()
    BatteryBankFactory(tractor=booking.tractor)
    response = technician.post(reverse("commissioning_begin", args=[booking.pk]))
    assert response.url == page(Commissioning.objects.get())


def test_a_booking_that_cannot_be_begun_says_why(technician):
    booking = BookingFactory(unit=None, unit_model=UnitModelFactory())
    response = technician.post(reverse("commissioning_begin", args=[booking.pk]), follow=True)
    assert "hold one by its serial first" in text(response)


def test_an_install_on_record_is_begun_from_its_unit(technician):
    install = InstallFactory()
    response = technician.post(reverse("commissioning_begin_install", args=[install.pk]))
    assert response.url == page(install.commissionings.get())


def test_what_has_begun_is_not_offered_to_begin(technician):
    booking = BookingFactory()
    assert "Start commissioning" in text(technician.get(booking.get_absolute_url()))
    technician.post(reverse("commissioning_begin", args=[booking.pk]))
    assert "Start commissioning" not in text(technician.get(booking.get_absolute_url()))


def test_the_unit_page_leads_to_its_commissioning(technician, commissioning):
    unit = reverse("unit", args=[commissioning.install.unit.serial])
    body = text(technician.get(unit))
    assert page(commissioning) in body
    assert "Start commissioning" not in body


def test_the_unit_page_of_an_install_without_one_offers_to_begin(technician, client, olga):
    install = InstallFactory()
    unit = reverse("unit", args=[install.unit.serial])
    begin = reverse("commissioning_begin_install", args=[install.pk])
    assert begin in text(technician.get(unit))
    client.force_login(olga)
    assert begin not in text(client.get(unit))


def test_after_a_withdrawn_certificate_the_page_offers_to_prove_anew(technician, commissioning):
    Certificate.objects.create(
        commissioning=commissioning,
        issued_at=NOON,
        technician=commissioning.technician,
        says={},
        received_by="Dana Driver",
        withdrawn_at=NOON,
    )
    begin = reverse("commissioning_begin_install", args=[commissioning.install_id])
    assert begin in text(technician.get(page(commissioning)))
    assert technician.post(begin).url != page(commissioning)


# The list


def test_the_list_says_how_each_step_stands_and_which_is_next(technician, commissioning):
    commissioning.records.filter(step__in=["supply", "settings"]).delete()
    StepRecordFactory(
        commissioning=commissioning,
        step="charge",
        measured={"charge_g": 470},
        taken_at=NOON,
    )
    steps = technician.get(page(commissioning)).context["steps"]
    assert [one.state for one in steps] == (
        ["Proved"] * 4 + ["Not proved", "Not yet"] + ["Proved"] * 3 + ["Not yet"]
    )
    assert [one.number for one in steps if one.is_next] == [5]


def test_the_list_names_what_bars_the_certificate(technician, commissioning):
    commissioning.records.filter(step="drain").delete()
    body = text(technician.get(page(commissioning)))
    assert "Drain</a>: not taken yet" in body
    assert "Sign and give the certificate" not in body


def test_where_all_is_proved_it_can_be_signed(technician, commissioning):
    assert "Sign and give the certificate" in text(technician.get(page(commissioning)))


def test_the_list_takes_so_many_queries_however_often_it_was_measured(
    technician, commissioning, django_assert_max_num_queries
):
    for _ in range(5):
        StepRecordFactory(
            commissioning=commissioning, step="drain", measured=MEASURED["drain"], taken_at=NOON
        )
    with django_assert_max_num_queries(8):
        technician.get(page(commissioning))


# Letting pass


def test_an_owner_lets_pass_with_a_reason_that_is_shown(owner, commissioning):
    record = StepRecordFactory(
        commissioning=commissioning,
        step="supply",
        measured=MEASURED["supply"] | {"fuse_to_battery_cm": 60},
        taken_at=NOON,
    )
    assert "Let it pass and answer for it" in text(owner.get(page(commissioning, "supply")))
    address = reverse("commissioning_let_pass", args=[commissioning.pk, "supply"])
    asked = {"record": record.pk, "proof": "fuse_to_battery"}
    refused = owner.post(address, asked | {"reason": "ok"})
    assert "few words" in text(refused)
    assert owner.post(address, asked | {"reason": "No room nearer the bank"}).status_code == 302
    assert Override.objects.count() == 1
    assert "No room nearer the bank" in text(owner.get(page(commissioning, "supply")))


def test_a_step_that_was_let_pass_is_not_called_proved(owner, commissioning, osman):
    record = StepRecordFactory(
        commissioning=commissioning,
        step="supply",
        measured=MEASURED["supply"] | {"fuse_to_battery_cm": 60},
        taken_at=NOON,
    )
    Override.objects.create(
        record=record, proof="fuse_to_battery", reason="No room nearer", person=osman, at=NOON
    )
    supply = owner.get(page(commissioning)).context["steps"][5]
    assert (supply.state, supply.let_pass) == ("Let pass", 1)


@pytest.mark.parametrize(("fuse_to_battery_cm", "offered"), [(60, True), (400, False)])
def test_a_technician_is_offered_to_answer_for_a_second_look_only(
    technician, commissioning, fuse_to_battery_cm, offered
):
    StepRecordFactory(
        commissioning=commissioning,
        step="supply",
        measured=MEASURED["supply"] | {"fuse_to_battery_cm": fuse_to_battery_cm},
        taken_at=NOON,
    )
    page_text = text(technician.get(page(commissioning, "supply")))
    assert ("answer for it" in page_text) is offered


def test_a_record_of_another_install_is_not_let_pass(owner, commissioning):
    other = StepRecordFactory(step="supply", measured={"fuse_a": 500})
    address = reverse("commissioning_let_pass", args=[commissioning.pk, "supply"])
    asked = {"record": other.pk, "proof": "fuse", "reason": "A reason of words"}
    assert owner.post(address, asked).status_code == 404


# Photos


def add_photo(client, commissioning, upload, step="mounting"):
    address = reverse("commissioning_photo", args=[commissioning.pk, step])
    return client.post(address, {"photo": upload, "caption": "Pads from below"})


def test_a_photo_is_kept_and_served_to_the_shop(technician, commissioning):
    response = add_photo(technician, commissioning, jpeg())
    assert response.url == page(commissioning, "mounting") + "#photos"
    served = technician.get(reverse("photo", args=[Photo.objects.get().pk]))
    assert served.headers["Content-Type"] == "image/jpeg"
    assert served.headers["X-Content-Type-Options"] == "nosniff"
    assert "private" in served.headers["Cache-Control"]
    with Image.open(BytesIO(b"".join(served.streaming_content))) as picture:
        assert picture.size == (60, 40)
    served.close()


def test_what_is_no_photo_is_refused_in_words(technician, commissioning):
    fake = SimpleUploadedFile("photo.jpg", b"<svg onload='alert(1)'/>", "image/jpeg")
    response = add_photo(technician, commissioning, fake)
    assert response.status_code == 200
    assert "not a photo" in text(response)
    assert not Photo.objects.exists()


def test_a_photo_whose_file_is_lost_is_not_found(technician, commissioning):
    add_photo(technician, commissioning, jpeg())
    kept = Photo.objects.get()
    kept.file.storage.delete(kept.file.name)
    assert technician.get(reverse("photo", args=[kept.pk])).status_code == 404


# Handing over


def hand_over(client, commissioning, **typed):
    address = reverse("commissioning_certificate", args=[commissioning.pk])
    return client.post(address, {"received_by": "Dana Driver", **typed})


def test_the_typed_name_alone_gives_the_certificate(technician, tina, commissioning):
    response = hand_over(technician, commissioning)
    certificate = Certificate.objects.get()
    assert response.url == certificate.get_absolute_url()
    assert (certificate.received_by, certificate.signature) == ("Dana Driver", [])
    assert certificate.technician == tina


def test_a_drawn_signature_is_kept_as_strokes(technician, commissioning):
    strokes = [[[0.1, 0.2], [0.3, 0.25]], [[0.5, 0.1]]]
    hand_over(technician, commissioning, signature=json.dumps(strokes))
    assert Certificate.objects.get().signature == strokes


@pytest.mark.parametrize(
    "signature",
    [
        "scribble",
        '{"a": 1}',
        "[[[2, 0.5]]]",
        "[[[NaN, 0.5]]]",
        "[[[0.1]]]",
        json.dumps([[[0.5, 0.5]]] * 201),
        json.dumps([[[0.5, 0.5]] * 5001]),
    ],
)
def test_what_is_no_signature_is_refused(technician, commissioning, signature):
    assert hand_over(technician, commissioning, signature=signature).status_code == 200
    assert not Certificate.objects.exists()


def test_no_certificate_without_a_name(technician, commissioning):
    response = hand_over(technician, commissioning, received_by=" ")
    assert response.context["hand_over"].errors["received_by"]
    assert not Certificate.objects.exists()


def test_what_is_open_is_said_to_who_signs_all_the_same(technician, commissioning):
    commissioning.records.filter(step="drain").delete()
    assert "Drain: not done yet." in text(hand_over(technician, commissioning))
    assert not Certificate.objects.exists()


def test_once_given_nothing_more_is_asked(technician, commissioning):
    hand_over(technician, commissioning)
    assert "Sign and give the certificate" not in text(technician.get(page(commissioning)))
    body = text(technician.get(page(commissioning, "mounting")))
    assert "Sign and save this step" not in body
    assert "Keep the photo" not in body
