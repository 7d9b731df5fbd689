"""`manage.py prove_duties`: every duty computed anew and held against what is stored, now."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from inspections.services.proofs import prove_all_now


class Command(BaseCommand):
    """Say of each site what differs; exits 1 where anything does. Mends nothing."""

    help = "Hold the duties that are stored against those that are computed; mends nothing."

    def handle(self, *args: Any, **options: Any) -> None:
        """Prove all sites and print those that differ."""
        rows = list(prove_all_now())
        for site_id, openings, differences in rows:
            if differences:
                self.stdout.write(f"{site_id}: {differences} of the duties of {openings} openings")
        differing = sum(differences for _, _, differences in rows)
        self.stdout.write(f"{len(rows)} sites proven, {differing} duties differ")
        if differing:
            raise CommandError("duties differ")
