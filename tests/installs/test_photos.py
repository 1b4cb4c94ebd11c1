"""Photos are drawn anew: only pixels come in, and only bearable ones."""

import struct
import zlib
from datetime import UTC, datetime
from io import BytesIO

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from installs import photos
from installs.models import Certificate, Photo
from installs.photos import LONGEST_SIDE, MOST_A_STEP, add_photo, redrawn
from tests.factories import CommissioningFactory

NOON = datetime(2026, 11, 30, 18, tzinfo=UTC)
ORIENTATION, GPS, MAKER = 0x0112, 0x8825, 0x010F


@pytest.fixture(autouse=True)
def media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


def file_of(image, kind="JPEG", name="photo.jpg", **saved):
    out = BytesIO()
    image.save(out, kind, **saved)
    return SimpleUploadedFile(name, out.getvalue())


def picture(width=400, height=300, colour="red"):
    return Image.new("RGB", (width, height), colour)


def opened(content):
    return Image.open(BytesIO(content))


def add(commissioning, upload, step="mounting", caption=""):
    return add_photo(commissioning, step, upload, caption, commissioning.technician, NOON)


def refusal(upload):
    with pytest.raises(ValidationError) as refused:
        redrawn(upload)
    return refused.value.messages[0]


def bomb(width, height):
    """A PNG of a few bytes whose header promises a vast picture."""

    def chunk(kind, data):
        crc = struct.pack(">I", zlib.crc32(kind + data))
        return struct.pack(">I", len(data)) + kind + data + crc

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = (
        chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")
    )
    return SimpleUploadedFile("small.png", b"\x89PNG\r\n\x1a\n" + body)


def test_place_and_maker_are_gone():
    exif = Image.Exif()
    exif[MAKER] = "Phone maker"
    exif[GPS] = {1: "N", 2: (32.0, 46.0, 0.0), 3: "W", 4: (96.0, 48.0, 0.0)}
    sent = file_of(picture(), exif=exif, comment=b"Whose phone it is")
    assert GPS in opened(sent.read()).getexif()
    sent.seek(0)
    kept = redrawn(sent)
    assert dict(opened(kept).getexif()) == {}
    assert b"Exif" not in kept
    assert b"Phone maker" not in kept
    assert b"Whose phone" not in kept


def test_a_photo_taken_sideways_stands_upright():
    exif = Image.Exif()
    exif[ORIENTATION] = 6
    assert opened(redrawn(file_of(picture(400, 300), exif=exif))).size == (300, 400)


def test_a_large_photo_is_made_smaller_and_keeps_its_shape():
    kept = opened(redrawn(file_of(picture(4000, 2000))))
    assert kept.size == (LONGEST_SIDE, LONGEST_SIDE // 2)
    assert kept.format == "JPEG"


def test_a_small_photo_keeps_its_size():
    assert opened(redrawn(file_of(picture(400, 300)))).size == (400, 300)


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_other_still_pictures_become_jpegs(kind):
    kept = opened(redrawn(file_of(picture(), kind)))
    assert kept.format == "JPEG"
    red, green, blue = kept.getpixel((200, 150))
    assert red > 240
    assert green < 20
    assert blue < 20


def test_what_is_clear_in_a_png_turns_white():
    clear = Image.new("RGBA", (50, 50), (0, 0, 0, 0))
    assert opened(redrawn(file_of(clear, "PNG"))).getpixel((25, 25)) == (255, 255, 255)


@pytest.mark.parametrize("mode", ["L", "P", "CMYK", "1"])
def test_every_kind_of_colour_is_read(mode):
    kind = "JPEG" if mode in ("L", "CMYK") else "PNG"
    assert opened(redrawn(file_of(picture().convert(mode), kind))).mode == "RGB"


@pytest.mark.parametrize(
    "content",
    [
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
        b"%PDF-1.4 not a picture",
        b"<!doctype html><p>not a picture",
        b"",
    ],
)
def test_the_content_counts_and_not_the_name(content):
    assert "not a photo" in refusal(SimpleUploadedFile("photo.jpg", content, "image/jpeg"))


def test_a_wrong_name_does_no_harm():
    assert redrawn(file_of(picture(), name="photo.svg"))


def test_a_picture_cut_short_is_refused():
    whole = file_of(picture(800, 600, "blue")).read()
    assert "not a photo" in refusal(SimpleUploadedFile("photo.jpg", whole[: len(whole) // 3]))


@pytest.mark.parametrize("side", [9_000, 60_000])
def test_a_small_file_that_unpacks_to_a_vast_picture_is_refused(side):
    sent = bomb(side, side)
    assert sent.size < 2_000
    # Beyond a limit of its own the library refuses at sight; below it we do.
    assert ("pixels" if side == 9_000 else "not a photo") in refusal(sent)


def test_a_phones_jpeg_with_a_second_picture_behind_it_is_a_still_photo():
    sent = file_of(picture(), "MPO", save_all=True, append_images=[picture(colour="blue")])
    assert opened(sent.read()).format == "MPO"
    sent.seek(0)
    assert opened(redrawn(sent)).format == "JPEG"


def test_a_gif_is_refused():
    assert "not a photo" in refusal(file_of(picture(), "GIF"))


def test_a_moving_picture_is_refused():
    frames = [picture(colour="blue")]
    assert "moves" in refusal(file_of(picture(), "WEBP", save_all=True, append_images=frames))


def test_a_file_too_large_is_refused_before_it_is_read(monkeypatch):
    monkeypatch.setattr(photos, "MOST_BYTES", 100)
    monkeypatch.setattr(Image, "open", None)
    assert "above" in refusal(file_of(picture()))


@pytest.mark.django_db
def test_a_photo_is_kept_with_its_caption():
    commissioning = CommissioningFactory()
    kept = add(commissioning, file_of(picture()), caption=" Pads from below ")
    assert kept.caption == "Pads from below"
    with kept.file.open() as file:
        assert opened(file.read()).size == (400, 300)
    assert kept.file.name.endswith(".jpg")


@pytest.mark.django_db
def test_the_same_photo_twice_is_kept_once():
    commissioning = CommissioningFactory()
    first = add(commissioning, file_of(picture()))
    assert add(commissioning, file_of(picture(), name="again.jpg")) == first
    assert Photo.objects.count() == 1


@pytest.mark.django_db
def test_the_same_photo_may_show_two_steps():
    commissioning = CommissioningFactory()
    add(commissioning, file_of(picture()))
    add(commissioning, file_of(picture()), step="hoses")
    assert Photo.objects.count() == 2


@pytest.mark.django_db
def test_a_step_keeps_so_many_photos_and_no_more():
    commissioning = CommissioningFactory()
    for number in range(MOST_A_STEP):
        add(commissioning, file_of(picture(20 + number, 20)))
    with pytest.raises(ValidationError, match="up to"):
        add(commissioning, file_of(picture()))


@pytest.mark.django_db
def test_no_photo_is_added_once_the_certificate_is_given():
    commissioning = CommissioningFactory()
    Certificate.objects.create(
        commissioning=commissioning,
        issued_at=NOON,
        technician=commissioning.technician,
        says={},
        received_by="Dana Driver",
    )
    with pytest.raises(ValidationError, match="certificate is given"):
        add(commissioning, file_of(picture()))
