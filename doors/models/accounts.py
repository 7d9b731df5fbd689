"""Accounts: the humans who sign in to pages. Global: one human may serve several organizations."""

from __future__ import annotations

from uuid import uuid4

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models


class AccountManager(BaseUserManager["Account"]):
    """Finds an account by its name, the address in small letters."""

    def get_by_natural_key(self, username: str | None) -> Account:
        """The account of this email address, whatever the case it was typed in."""
        return self.get(email=(username or "").lower())


class Account(AbstractBaseUser):
    """A human who signs in, by email address and password; it holds nothing of any organization.

    Not a tenant's row: which organizations it serves stands in `Member`. `email` is kept in small
    ASCII letters, so that no other spelling and no look-alike is another account. One of a
    `sandbox` serves organizations of that sandbox alone, and one of none serves real ones alone.
    """

    id = models.UUIDField(primary_key=True, default=uuid4, editable=False)
    email = models.EmailField(unique=True)
    created_at = models.DateTimeField()
    sandbox = models.ForeignKey(
        "doors.Sandbox", on_delete=models.PROTECT, null=True, related_name="+"
    )  # never changed

    objects = AccountManager()

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
