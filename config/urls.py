"""The whole route table: what the assembly answers itself, and where the apps hang theirs."""

from django.urls import include, path

from config import health
from config.http.documentation import guide, openapi, problems, reference
from config.metrics import metrics
from doors.api import tokens

urlpatterns = [
    path("v1/", include("doors.api.urls")),
    path("v1/", include("inspections.api.urls")),
    path("", include("doors.web.urls")),
    path("", include("inspections.web.urls")),
    path("oauth/token", tokens.TokenView.as_view(), name="oauth-token"),
    path(".well-known/oauth-authorization-server", tokens.TokenServerView.as_view()),
    path("openapi.json", openapi, name="openapi"),
    path("docs", reference, name="docs"),
    path("docs/guide", guide, name="docs-guide"),
    path("docs/problems", problems, name="docs-problems"),
    path("livez", health.livez, name="livez"),
    path("metrics", metrics, name="metrics"),
    path("readyz", health.readyz, name="readyz"),
]

handler400 = "config.http.problems.bad_request"
handler403 = "config.http.problems.permission_denied"
handler404 = "config.http.problems.page_not_found"
handler500 = "config.http.problems.server_error"
