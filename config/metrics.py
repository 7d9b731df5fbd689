"""What the service counts, for Prometheus: requests, refusals, and the work that waits.

No label holds an organization, a key or an address. Counts of several web processes are added up
where PROMETHEUS_MULTIPROC_DIR is set, which `config/gunicorn.py` does.
"""

from __future__ import annotations

import hmac
import os
from collections.abc import Iterable, Iterator

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe
from prometheus_client import CONTENT_TYPE_LATEST, REGISTRY, CollectorRegistry, generate_latest
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.multiprocess import MultiProcessCollector
from prometheus_client.registry import Collector

from doors.selectors.waiting import waiting_work
from inspections.services.proofs import duties_that_differ


@require_safe
def metrics(request: HttpRequest) -> HttpResponse:
    """Answer the counts to whoever has the token; to all others there is nothing here."""
    if not _may_read(request):
        raise Http404
    counted = generate_latest(_processes()) + generate_latest(_work())
    return HttpResponse(
        counted, content_type=CONTENT_TYPE_LATEST, headers={"Cache-Control": "no-store"}
    )


class WaitingWork(Collector):
    """How much waits for a worker and how long the oldest has, read when it is asked."""

    def collect(self) -> Iterator[Metric]:
        """Yield both, by kind of work, that of sandboxes apart."""
        labels = ["kind", "sandbox"]
        rows = GaugeMetricFamily("doors_waiting", "Rows that a worker could take.", labels=labels)
        oldest = GaugeMetricFamily(
            "doors_oldest_waiting_seconds", "Since the oldest could be taken.", labels=labels
        )
        for each in waiting_work():
            told = [each.kind, "yes" if each.sandbox else "no"]
            rows.add_metric(told, each.rows)
            oldest.add_metric(told, each.oldest_seconds)
        yield from (rows, oldest)

    def describe(self) -> Iterable[Metric]:
        """Return nothing: to be registered must not ask the database."""
        return ()


class DutiesThatDiffer(Collector):
    """How many duties were not stored as they are computed, when each site was proven last."""

    def collect(self) -> Iterator[Metric]:
        """Yield the one number, which must be none."""
        yield GaugeMetricFamily(
            "duties_that_differ",
            "Duties not stored as they are computed, by each site's last proof.",
            value=duties_that_differ(),
        )

    def describe(self) -> Iterable[Metric]:
        """Return nothing: to be registered must not ask the database."""
        return ()


def _may_read(request: HttpRequest) -> bool:
    token = settings.METRICS_TOKEN
    if not token:
        return not settings.PRODUCTION
    given = request.headers.get("Authorization", "")
    return hmac.compare_digest(given.encode(), f"Bearer {token}".encode())


def _processes() -> CollectorRegistry:
    if "PROMETHEUS_MULTIPROC_DIR" not in os.environ:
        return REGISTRY
    registry = CollectorRegistry()
    MultiProcessCollector(registry)
    return registry


def _work() -> CollectorRegistry:
    registry = CollectorRegistry()
    registry.register(WaitingWork())
    registry.register(DutiesThatDiffer())
    return registry
