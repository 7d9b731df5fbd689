"""The rules library's answers in the API."""

from __future__ import annotations

from rest_framework import serializers


class ResolvedOut(serializers.Serializer):
    """What applies on a day, each with where it is written and how it came here."""

    on = serializers.DateField(help_text="The day, in the zone of the place.")
    digest = serializers.CharField(
        help_text="SHA-256 in hex over all requirements: equal digests judge alike."
    )
    library_version = serializers.CharField(help_text="Of the rules library that resolved them.")
    basis = serializers.DictField(
        help_text="From what they were resolved: facts, listed instructions, places, overrides."
    )
    requirements = serializers.ListField(
        child=serializers.DictField(
            help_text=(
                "One requirement as the rules library writes it: what is looked at or measured, "
                "limits with their units, editions, citation, lineage, and its own `digest`."
            )
        ),
        help_text="All that apply, and all that might where a fact is missing.",
    )


class RequirementsOut(ResolvedOut):
    """What applies to an opening on a day."""

    opening = serializers.UUIDField(help_text="The opening asked about.")


class PlaceRequirementsOut(ResolvedOut):
    """What applies at a place on a day."""

    place = serializers.CharField(help_text="Code of the place asked about.")
