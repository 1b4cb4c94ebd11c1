"""What tests of the commissioning pages do over and over."""

from uuid import uuid4

from django.urls import reverse


def page(commissioning, step=None) -> str:
    """The address of a commissioning's list of steps, or of one step."""
    if step is None:
        return reverse("commissioning", args=[commissioning.pk])
    return reverse("commissioning_step", args=[commissioning.pk, step])


def send(client, commissioning, step, **typed):
    """Send a step's form as the phone does."""
    return client.post(page(commissioning, step), {"sent_id": uuid4(), **typed})


def newest(commissioning, step) -> dict:
    return commissioning.records.filter(step=step).order_by("taken_at", "pk").last().measured


def text(response) -> str:
    """The page with all white space folded, also the space that does not break."""
    return " ".join(response.content.decode().split())
