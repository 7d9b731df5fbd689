"""What a webhook receives, for the OpenAPI document: one operation a kind of event."""

from __future__ import annotations

from drf_spectacular.utils import OpenApiWebhook, extend_schema
from rest_framework import serializers

from inspections.models import Activity, EventType, Verdict
from inspections.states import DEFICIENCY, FILING

_LINK = "Where to read the thing as it is now, with your own key."
_VERSION = "The version of the thing that this tells of."


class _Data(serializers.Serializer):
    """Ids, versions and states; the content is read with a key, so that each read is one."""

    link = serializers.CharField(help_text=_LINK)


class VisitData(_Data):
    """A visit was recorded and judged."""

    visit = serializers.UUIDField(help_text="Id of the visit.")
    opening = serializers.UUIDField(help_text="Id of the opening.")
    activity = serializers.ChoiceField(choices=Activity.choices, help_text="Why somebody came.")
    verdict = serializers.ChoiceField(
        choices=Verdict.choices, help_text="Of the requirements tested; never of the door's safety."
    )


class DeficiencyData(_Data):
    """A deficiency came into a state."""

    deficiency = serializers.UUIDField(help_text="Id of the deficiency.")
    opening = serializers.UUIDField(help_text="Id of the opening.")
    state = serializers.ChoiceField(choices=sorted(DEFICIENCY), help_text="The state it came to.")
    version = serializers.IntegerField(help_text=_VERSION)


class ForecastData(_Data):
    """A quantity is expected to pass a limit before the next duty."""

    forecast = serializers.UUIDField(help_text="Id of the forecast.")
    opening = serializers.UUIDField(help_text="Id of the opening.")
    quantity = serializers.CharField(help_text="As the rules library names it.")
    crosses_on = serializers.DateField(help_text="About when it is expected to.")
    due_on = serializers.DateField(help_text="When the next duty is due.")
    version = serializers.IntegerField(help_text=_VERSION)


class FilingData(_Data):
    """A filing came into a state."""

    filing = serializers.UUIDField(help_text="Id of the filing.")
    submittal = serializers.UUIDField(help_text="Id of the packet that was filed.")
    state = serializers.ChoiceField(choices=sorted(FILING), help_text="The state it came to.")
    version = serializers.IntegerField(help_text=_VERSION)


class DutyData(_Data):
    """The day has come on which a duty is due."""

    duty = serializers.UUIDField(help_text="Id of the duty.")
    opening = serializers.UUIDField(help_text="Id of the opening.")
    activity = serializers.ChoiceField(choices=Activity.choices, help_text="What is due.")
    due_on = serializers.DateField(help_text="The day, by the calendar of the site.")
    closes_on = serializers.DateField(help_text="The last day; overdue from the day after.")
    version = serializers.IntegerField(help_text=_VERSION)


class GrantData(_Data):
    """Leave to act was given, or an end set to it."""

    grant = serializers.UUIDField(help_text="Id of the grant.")
    site = serializers.UUIDField(allow_null=True, help_text="Its site; null: all of the owner's.")
    begins_on = serializers.DateField(help_text="Its first day, by the calendar of each site.")
    ends_on = serializers.DateField(allow_null=True, help_text="The first day without it.")


class JobData(_Data):
    """Long work has ended."""

    job = serializers.UUIDField(help_text="Id of the job.")
    kind = serializers.CharField(help_text="What work it was.")
    state = serializers.ChoiceField(choices=["done", "failed"], help_text="How it ended.")


class WebhookData(_Data):
    """Somebody asked for a try."""

    webhook = serializers.UUIDField(help_text="Id of the webhook.")


def _shape(event: EventType, data: type[_Data]) -> type[serializers.Serializer]:
    """The whole text of one kind of event."""
    name = "".join(word.title() for word in event.value.replace(".", "_").split("_")) + "Event"
    fields = {
        "__doc__": "What is posted: fewer than 20 kB, in UTF-8.",
        "type": serializers.ChoiceField(choices=[event.value], help_text="What happened."),
        "timestamp": serializers.DateTimeField(help_text="When it happened, in UTC."),
        "data": data(help_text="Which thing, and where to read it."),
        "request_id": serializers.UUIDField(
            allow_null=True, help_text="The request that caused it; null where none did."
        ),
    }
    return type(name, (serializers.Serializer,), fields)


_RECEIVED = """
Signed by the Standard Webhooks specification, in three headers:

- `webhook-id`: the id of the delivery, the same over all its tries: act once on each;
- `webhook-timestamp`: seconds since 1970 of this try: refuse what is far from now;
- `webhook-signature`: `v1,` and the HMAC-SHA256 of `id.timestamp.body` in base64; two of them, with
  a space between, while a secret is being rotated. Verify it before you read the body.

Answer 2xx within 15 seconds. Anything else, a redirect too, is tried again: ten times over three
days. 410 disables the webhook. `X-Request-Id` is the request that caused it.
"""


def _received(event: EventType, data: type[_Data], summary: str) -> OpenApiWebhook:
    """The operation by which one kind of event is received."""
    return OpenApiWebhook(
        name=event.value,
        decorator=extend_schema(
            operation_id=f"receive_{event.value.replace('.', '_')}",
            summary=summary,
            description=_RECEIVED,
            request={"application/json": _shape(event, data)},
            responses={"2XX": None},
            auth=[],
        ),
    )


visit_recorded = _received(EventType.VISIT_RECORDED, VisitData, "A visit was recorded and judged")
deficiency_opened = _received(
    EventType.DEFICIENCY_OPENED, DeficiencyData, "A deficiency opened, or opened again"
)
deficiency_repaired = _received(
    EventType.DEFICIENCY_REPAIRED, DeficiencyData, "A repair was recorded"
)
deficiency_proven = _received(
    EventType.DEFICIENCY_PROVEN, DeficiencyData, "A retest proved a repair"
)
deficiency_withdrawn = _received(
    EventType.DEFICIENCY_WITHDRAWN, DeficiencyData, "A correction took it back"
)
trend_expected_to_fail = _received(
    EventType.TREND_EXPECTED, ForecastData, "A limit is expected to be passed before the next duty"
)
submittal_filed = _received(
    EventType.SUBMITTAL_FILED, FilingData, "A packet was filed with an authority"
)
submittal_returned = _received(
    EventType.SUBMITTAL_RETURNED, FilingData, "A packet was returned with remarks"
)
submittal_accepted = _received(
    EventType.SUBMITTAL_ACCEPTED, FilingData, "An authority accepted a packet"
)
duty_due = _received(EventType.DUTY_DUE, DutyData, "A duty has become due")
grant_given = _received(EventType.GRANT_GIVEN, GrantData, "Leave to act was given")
grant_end_set = _received(EventType.GRANT_END_SET, GrantData, "An end was set to a leave to act")
job_ended = _received(EventType.JOB_ENDED, JobData, "Long work has ended")
webhook_tested = _received(EventType.WEBHOOK_TESTED, WebhookData, "A try that you asked for")
