"""Every way the service refuses, as plain exceptions; only the API's edge knows HTTP."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Refusal = Literal[
    "malformed", "refused", "conflict", "not_found", "forbidden", "stale", "unavailable"
]


@dataclass(frozen=True, slots=True)
class FieldProblem:
    """What is wrong with one field; `pointer` is a JSON Pointer into the body."""

    pointer: str
    code: str
    detail: str


class ServiceError(Exception):
    """Root of the refusals. `kind` says which sort it is, `code` is stable, `detail` a sentence."""

    kind: Refusal = "refused"
    code = "refused"
    detail = "This cannot be done."

    def __init__(self, detail: str = "", *, errors: list[FieldProblem] | None = None) -> None:
        """Keep the sentence and the fields it is about."""
        self.detail = detail or self.detail
        self.errors = tuple(errors or ())
        super().__init__(self.detail)

    @classmethod
    def at(cls, pointer: str, detail: str) -> ServiceError:
        """Refuse because of one field."""
        return cls(detail, errors=[FieldProblem(pointer, cls.code, detail)])


class NotVisibleError(ServiceError):
    """What is asked for does not exist for whoever asks; the two are never told apart."""

    kind = "not_found"
    code = "not_found"
    detail = "Nothing by this address exists for you."


class NotAllowedError(ServiceError):
    """The thing is visible, the action is not allowed."""

    kind = "forbidden"
    code = "not_allowed"
    detail = "Your organization may not do this here."


class RefusedError(ServiceError):
    """Understood, and refused by a rule of the work."""


class FutureDateError(RefusedError):
    """A thing is said to have happened later than now."""

    code = "in_the_future"
    detail = "This lies in the future."


class WrongStateError(ServiceError):
    """The thing is not in a state in which this can be done."""

    kind = "conflict"
    code = "wrong_state"
    detail = "This cannot be done in the present state."


class StaleError(ServiceError):
    """Whoever changes the thing has seen another version of it than the one that stands."""

    kind = "stale"
    code = "precondition_failed"
    detail = "It has changed since you read it: read it again."


class AlreadyExistsError(ServiceError):
    """Something of this name or reference stands already."""

    kind = "conflict"
    code = "already_exists"
    detail = "Something of this name stands already."


class LastAdministratorError(ServiceError):
    """Nobody would be left who can let others in."""

    kind = "conflict"
    code = "last_administrator"
    detail = (
        "Nobody would be left who can let others in: make another administrator, or another "
        "key that makes keys, first."
    )


class InvitationInvalidError(RefusedError):
    """A token opens nothing; why not is the same to whoever holds it."""

    code = "invitation_invalid"
    detail = "This invitation cannot be used: it is unknown, used, expired, or not for you."


class LinkInvalidError(RefusedError):
    """A link to a new password opens nothing; why not is the same to whoever holds it."""

    detail = "This link cannot be used: it is unknown, used or expired. Ask for another one."


class CannotServeError(ServiceError):
    """The service cannot do this just now, and says so rather than do half of it."""

    kind = "unavailable"
    code = "unavailable"
    detail = "This cannot be done just now."
