"""Photos of an install: drawn anew on our side, so that nothing hidden comes in with them.

What a phone sends may name the place, the phone and its owner (EXIF), may be no picture at all, or
a small file that unpacks to more than fits in memory. Only its pixels are kept, as a JPEG.
"""

import hashlib
from datetime import datetime
from io import BytesIO

from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile, File
from django.db import transaction
from django.utils.translation import gettext as _
from PIL import Image, ImageOps

from installs.models import Certificate, Commissioning, Photo, Technician

__all__ = ["add_photo", "redrawn"]

MOST_BYTES = 15 * 2**20
# Phones of today make some 50 million; a bomb makes more.
MOST_PIXELS = 64_000_000
LONGEST_SIDE = 1600
QUALITY = 82
FORMATS = ("JPEG", "PNG", "WEBP")
MOST_A_STEP = 20


@transaction.atomic
def add_photo(
    commissioning: Commissioning,
    step: str,
    upload: File,
    caption: str,
    technician: Technician,
    at: datetime,
) -> Photo:
    """Keep a photo of a step; the same picture sent twice is kept once.

    Raises ValidationError for what is no photo, for one too many, and once the certificate is given.
    """
    picture = redrawn(upload)
    Commissioning.objects.select_for_update().get(pk=commissioning.pk)
    if Certificate.objects.filter(commissioning=commissioning).exists():
        raise ValidationError(_("The certificate is given; no photo is added to it any more."))
    of_step = commissioning.photos.filter(step=step)
    sha256 = hashlib.sha256(picture).hexdigest()
    if kept := of_step.filter(sha256=sha256).first():
        return kept
    if of_step.count() >= MOST_A_STEP:
        raise ValidationError(_("A step keeps up to %d photos.") % MOST_A_STEP)
    return Photo.objects.create(
        commissioning=commissioning,
        step=step,
        file=ContentFile(picture, name=f"{sha256[:32]}.jpg"),
        sha256=sha256,
        caption=caption.strip(),
        technician=technician,
        added_at=at,
    )


def redrawn(upload: File) -> bytes:
    """Return a photo as a JPEG of at most 1600 pixels a side, upright, with nothing but its pixels.

    What it is, is read from its content, never from its name. Raises ValidationError, with the
    mend, for anything else than one JPEG, PNG or WebP picture of a bearable size.
    """
    if upload.size > MOST_BYTES:
        raise ValidationError(
            _("This file is above %d MB; take the photo at a lower resolution.")
            % (MOST_BYTES // 2**20)
        )
    try:
        with Image.open(upload, formats=FORMATS) as image:
            _check_bearable(image)
            return _as_jpeg(image)
    except (Image.DecompressionBombError, OSError, SyntaxError, ValueError):
        raise ValidationError(
            _("This is not a photo that can be read; send a JPEG, PNG or WebP picture.")
        ) from None


def _check_bearable(image: Image.Image) -> None:
    """Look at what the header says before a pixel is unpacked."""
    if image.width * image.height > MOST_PIXELS:
        raise ValidationError(
            _("This picture has too many pixels; take the photo at a lower resolution.")
        )
    # An MPO is a phone's JPEG with a second picture behind the first.
    if image.format != "MPO" and getattr(image, "is_animated", False):
        raise ValidationError(_("This picture moves; send a still photo."))


def _as_jpeg(image: Image.Image) -> bytes:
    # Made small first, for a large one takes four bytes a pixel; a JPEG is even unpacked small.
    image.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    upright = ImageOps.exif_transpose(image).convert("RGBA")
    # A new picture: the old one carries its comments along into the file.
    plain = Image.new("RGB", upright.size, "white")
    plain.paste(upright, mask=upright.getchannel("A"))
    out = BytesIO()
    plain.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue()
