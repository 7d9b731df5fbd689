"""Sessions in the database, of whose ids a digest is kept: a copy of the table opens nothing."""

from __future__ import annotations

import hashlib
from typing import Any

from django.contrib.sessions.backends import db
from django.utils import timezone

LONGEST = 40  # characters that the column holds; 160 bits


def kept(session_key: str) -> str:
    """What stands in the table for the id that a browser sends."""
    return hashlib.sha256(session_key.encode()).hexdigest()[:LONGEST]


class SessionStore(db.SessionStore):
    """Django's own, with every id turned into its digest on the way to the table."""

    def exists(self, session_key: str) -> bool:
        """Whether an id is taken."""
        return super().exists(kept(session_key))

    def create_model_instance(self, data: dict[str, Any]) -> Any:  # noqa: ANN401 - as Django has it
        """The row that is saved."""
        row = super().create_model_instance(data)
        row.session_key = kept(row.session_key)
        return row

    def delete(self, session_key: str | None = None) -> None:
        """Forget a session, this one where none is named."""
        named = session_key or self.session_key
        if named is not None:
            super().delete(kept(named))

    def _get_session_from_db(self) -> Any:  # noqa: ANN401 - as Django has it
        rows = self.model.objects.filter(expire_date__gt=timezone.now())
        found = rows.filter(session_key=kept(self.session_key or "")).first()
        if found is None:
            self._session_key = None
        return found
