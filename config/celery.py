"""The worker and the beat: `celery -A config worker`, `celery -A config beat`.

The broker only carries doorbells. What is owed stands in the database, and each entry of the
schedule is a scan of it that is safe to run twice, so two beats do no harm.
"""

import os

from celery import Celery
from django_structlog.celery.steps import DjangoStructLogInitStep

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings.production")

app = Celery("doors")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
app.steps["worker"].add(DjangoStructLogInitStep)  # request and organization ids go along
