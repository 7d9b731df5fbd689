"""An organization's own policy: how urgent what is wrong is, and by when it is put right."""

from __future__ import annotations

from django.db import models

from doors.models.homes import OrganizationRow
from doors.walls import OWN, Wall


class DeficiencyPolicy(OrganizationRow):
    """The present policy of one organization, for the sites in its custody.

    `document` holds `classes` in the organization's own words, `rules` that say which deficiency
    is of which class, and `warn_before`, how long before an interim measure runs out its people
    are told. Nothing of it is built in. A change touches no deficiency that stands.
    """

    WALL = Wall(read=OWN, write=OWN, changeable=("document", "changed_at", "version"))

    document = models.JSONField()
    changed_at = models.DateTimeField()
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["organization"], name="one_deficiency_policy"),
        ]
