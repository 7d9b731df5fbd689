"""How the service is put together. Imported by nobody: named by dotted string alone."""

from config.celery import app as celery_app

__all__ = ["celery_app"]  # so that a task sent from a web process finds the right broker
