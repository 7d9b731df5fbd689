"""The web process: `gunicorn -c python:config.gunicorn config.wsgi`."""

import os

from django.core.wsgi import get_wsgi_application

from config.checks import refuse_unsafe_start

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings.production")

application = get_wsgi_application()
refuse_unsafe_start()
