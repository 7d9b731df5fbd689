"""The worker and the beat: `celery -A config worker`, `celery -A config beat`.

The broker only carries doorbells. What is owed stands in the database, and each entry of the
schedule is a scan of it that is safe to run twice, so two beats do no harm.
"""

import os

from celery import Celery
from celery.signals import beat_init, worker_init
from django.core.exceptions import ImproperlyConfigured
from django_structlog.celery.steps import DjangoStructLogInitStep

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings.production")


@worker_init.connect
@beat_init.connect
def refuse_unsafe(**_: object) -> None:
    """End the process before it takes a task: what another signal handler raises is only logged."""
    try:
        from config.checks import refuse_unsafe_start  # noqa: PLC0415 - needs the settings

        refuse_unsafe_start()
    except ImproperlyConfigured as refusal:
        raise SystemExit(str(refusal)) from refusal


app = Celery("doors")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
app.steps["worker"].add(DjangoStructLogInitStep)  # request and organization ids go along
