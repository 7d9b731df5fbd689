"""The shapes of what was found: by whom, with what, what was measured, and by what judged."""

from __future__ import annotations

from rest_framework import serializers

from doors.api.amounts import AmountIn
from doors.api.fields import (
    CivilDateField,
    DecimalTextField,
    DigestField,
    IdField,
    InstantField,
    ProseField,
    StrictSerializer,
    TextField,
)
from doors.api.initiating_devices import MovedOut
from doors.api.scalars import WholeField


class PersonIn(StrictSerializer):
    """Somebody who took part, and what they are qualified for on that day."""

    name = TextField()
    role = TextField(max_length=100)
    qualification = TextField(required=False)
    qualification_no = TextField(max_length=100, required=False)
    valid_until = CivilDateField(required=False)


class InstrumentIn(StrictSerializer):
    """What was measured with."""

    ref = TextField(max_length=60, help_text="What the readings of this visit call it.")
    kind = TextField(max_length=100)
    serial = TextField(max_length=100, required=False)
    calibrated_on = CivilDateField(required=False)
    calibration_due_on = CivilDateField(required=False)
    resolution = AmountIn(required=False)
    uncertainty = AmountIn(required=False, help_text="U with k = 2.")


class ReadingIn(StrictSerializer):
    """A measured value in its unit, or why there is none."""

    quantity = TextField(max_length=60)
    value = DecimalTextField(required=False)
    unit = TextField(max_length=12, required=False)
    uncertainty = DecimalTextField(required=False, help_text="U with k = 2, in the same unit.")
    instrument = TextField(max_length=60, required=False, help_text="`ref` of an instrument.")
    repeat = WholeField(min_value=1, required=False)
    result = TextField(max_length=24, required=False, help_text="In place of a value.")
    reason = TextField(max_length=500, required=False)
    remarks = ProseField(max_length=2000, required=False)


class SignalIn(StrictSerializer):
    """A signal that the monitoring station, or the panel, received."""

    signal = TextField(max_length=200, help_text="Which one, as it was told.")
    received_at = InstantField(help_text="When it was received: RFC 3339 with offset.")


class ContractorIn(StrictSerializer):
    """The alarm contractor, who stands for the alarm side's part as second signer."""

    name = TextField(help_text="Name of the person.")
    firm = TextField(help_text="The contractor's name.")
    licence = TextField(max_length=100, required=False, help_text="Number of the licence.")
    valid_until = CivilDateField(required=False, help_text="Last day on which that is good.")
    at = InstantField(help_text="When they attested to it: RFC 3339 with offset.")


class InitiatingDeviceIn(StrictSerializer):
    """What set the door in motion: a device of this opening, or one named by its mark."""

    device = IdField(required=False, help_text="A device of this opening.")
    reference = TextField(
        max_length=100, required=False, help_text="The alarm side's own mark for it."
    )


class AttachmentIn(StrictSerializer):
    """A photo or a paper, sent to /v1/blobs before the visit or after it."""

    sha256 = DigestField(help_text="Of its bytes.")
    caption = TextField(max_length=300, required=False, help_text="What it shows.")


class RetestIn(StrictSerializer):
    """What became of a thing that a person saw, and that no requirement looks at."""

    deficiency = IdField()
    result = serializers.ChoiceField(
        choices=["conforms", "does_not_conform"], help_text="Whether it is right now."
    )
    remarks = ProseField(max_length=2000, required=False)


class AlarmLogIn(StrictSerializer):
    """What was agreed with the alarm side, and in which state the panel was found and left."""

    told = TextField(max_length=200, help_text="Who was told: the monitoring station, the panel.")
    reference = TextField(
        max_length=100, required=False, help_text="What those who were told gave for it."
    )
    on_test_at = InstantField(required=False)
    off_test_at = InstantField(required=False)
    panel_before = TextField(max_length=200, required=False)
    panel_after = TextField(max_length=200, required=False)
    occupants_told = TextField(
        max_length=200, required=False, help_text="How the people in the building were told."
    )
    signals = serializers.ListField(
        child=SignalIn(), required=False, max_length=100, help_text="As they were received."
    )
    contractor = ContractorIn(required=False, help_text="The second signer.")


class AttestationIn(StrictSerializer):
    """The named person who stands for the record, and when."""

    name = TextField()
    at = InstantField()


class HeldRequirementIn(StrictSerializer):
    """One requirement as the app holds it."""

    requirement = TextField(max_length=160, help_text="Its id.")
    digest = TextField(max_length=64, help_text="Its own digest, as it was downloaded.")


class OwnVerdictIn(StrictSerializer):
    """What the app made of one requirement."""

    requirement = TextField(max_length=160, help_text="Its id.")
    verdict = TextField(max_length=24, help_text="The library's word for it.")


class JudgedWithIn(StrictSerializer):
    """What the app judged by while it was offline, and what it found; kept with the visit."""

    requirements_digest = TextField(max_length=64, help_text="`digest` of what was downloaded.")
    library = TextField(max_length=24, help_text="`library_version` of what was downloaded.")
    requirements = serializers.ListField(
        child=HeldRequirementIn(),
        required=False,
        max_length=1000,
        help_text="Each requirement held: with them the answer names those that changed.",
    )
    verdicts = serializers.ListField(
        child=OwnVerdictIn(),
        required=False,
        max_length=1000,
        help_text="The app's own verdicts: with them the answer names those that differ.",
    )


class HereAndThereOut(serializers.Serializer):
    """The same thing as the app has it and as the service has it."""

    yours = serializers.CharField(help_text="As the app sent it.")
    ours = serializers.CharField(help_text="As the service has it.")


class DifferingVerdictOut(serializers.Serializer):
    """A requirement of which the app and the service think differently."""

    requirement = serializers.CharField(help_text="Its id.")
    yours = serializers.CharField(allow_null=True, help_text="The app's word; null without one.")
    ours = serializers.CharField(allow_null=True, help_text="The service's; null without one.")
    message = serializers.CharField(help_text="Why the service judged so; empty without a verdict.")


class DifferenceOut(serializers.Serializer):
    """Where the service judged otherwise than the app did offline, and why."""

    same = serializers.BooleanField(help_text="Whether nothing differs.")
    words = serializers.CharField(help_text="The difference in plain words.")
    requirements_digest = HereAndThereOut(help_text="Of the requirements judged by.")
    library = HereAndThereOut(help_text="Versions of the rules library.")
    changed = serializers.ListField(
        child=serializers.CharField(help_text="Id of a requirement."),
        help_text="Requirements both hold, which say something else here.",
    )
    only_ours = serializers.ListField(
        child=serializers.CharField(help_text="Id of a requirement."),
        help_text="Requirements that apply here and that the app does not hold.",
    )
    only_yours = serializers.ListField(
        child=serializers.CharField(help_text="Id of a requirement."),
        help_text="Requirements that the app holds and that do not apply here.",
    )
    verdicts = DifferingVerdictOut(many=True, help_text="Each verdict that differs.")


class SecondLookOut(serializers.Serializer):
    """Something worth a second look; it changes no verdict."""

    code = serializers.CharField(
        help_text=(
            "`qualification_lapsed`, `qualification_not_stated`, `left_on_test`, "
            "`on_test_too_long`, `instrument_changed`, `possible_duplicate` or `clock_differs`."
        )
    )
    pointer = serializers.CharField(help_text="JSON Pointer into what was sent.")
    detail = serializers.CharField(help_text="In words.")


class AttachmentOut(serializers.Serializer):
    """A photo or a paper that the visit names."""

    sha256 = serializers.CharField(
        help_text="Of its bytes; they stand at `/v1/visits/{visit_id}/attachments/{sha256}`."
    )
    caption = serializers.CharField(help_text="What it shows; may be empty.")
    missing = serializers.BooleanField(help_text="Whether its bytes are still to be sent.")


class InitiatingOut(serializers.Serializer):
    """What set the door in motion, and which other doors it moves."""

    reference = serializers.CharField(help_text="The alarm side's own mark for it; may be empty.")
    others = MovedOut(many=True, help_text="Other openings of the site that hang on it, as told.")
