"""Which refrigerant certifications a country's rules accept for a cab's air conditioner.

The first of a country is the usual one. A shop whose authority accepts another records it as a
`Credential`; a country that is not in the table accepts only what the shop recorded. This is a
table of names, not legal advice: local codes decide who may do what.
"""

from django.conf import settings

__all__ = ["usual_here"]

# By ISO 3166-1 code, with where the rule is written.
ACCEPTED = {
    # 40 CFR 82.34 and 82.40: servicing a motor vehicle's air conditioner.
    "US": ("US EPA section 609",),
    # Regulation (EU) 2024/573, article 10; before it (EC) 307/2008, an attestation for vehicles.
    # From memory.
    **dict.fromkeys(
        (
            *("AT", "BE", "BG", "CY", "CZ", "DE", "DK", "EE", "ES", "FI", "FR", "GR", "HR", "HU"),
            *("IE", "IT", "LT", "LU", "LV", "MT", "NL", "PL", "PT", "RO", "SE", "SI", "SK"),
        ),
        ("EU 2024/573 certificate", "EC 307/2008 attestation"),
    ),
}


def usual_here() -> tuple[str, ...]:
    """The certifications that the shop's country accepts; none where the table has no row."""
    return ACCEPTED.get(settings.REGION.partition("-")[0], ())
