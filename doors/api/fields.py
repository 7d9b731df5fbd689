"""The shapes of what comes in: nothing is dropped, cut, guessed or converted without being told.

JSON numbers are refused for measured values, times need an offset, names hold no character that
cannot be seen, and an unknown field is an error with its place.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError as DjangoValidationError
from django.core.validators import MaxLengthValidator, MinLengthValidator, validate_email
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError

from doors.api.scalars import StringField
from doors.clock import Instant, instant_told
from doors.names import fault_in_name, fault_in_prose, normal

_DECIMAL = re.compile(r"-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?", re.ASCII)
_UUID = re.compile(r"[0-9a-fA-F]{8}(?:-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}", re.ASCII)
_SHA256 = re.compile(r"[0-9a-f]{64}", re.ASCII)
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)
_INSTANT = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt](?:[01][0-9]|2[0-3]):[0-5][0-9]:[0-9]{2}(?:\.[0-9]{1,6})?"
    r"([Zz]|[+-](?:[01][0-9]|2[0-3]):[0-5][0-9])?",
    re.ASCII,
)
_FURTHEST_OFFSET = 14  # hours; nowhere keeps a time further from UTC
_LATEST_YEAR = 2200
_EARLIEST_YEAR = 1800
LONGEST_DECIMAL = 40  # characters
LONGEST_NAME = 200
LONGEST_PROSE = 10_000
LONGEST_EMAIL = 254
_LANGUAGE = re.compile(r"[a-z]{2,3}(?:-[A-Z]{2})?", re.ASCII)


class StrictSerializer(serializers.Serializer[Any]):
    """Refuses unknown fields; reports them together with what else is wrong."""

    def to_internal_value(self, data: Any) -> Any:
        """Return the checked values; the keys of `data` must all be fields that may be written."""
        unknown = self._unknown(data) if isinstance(data, Mapping) else {}
        try:
            values = super().to_internal_value(data)
        except ValidationError as error:
            if isinstance(error.detail, dict):
                raise ValidationError({**error.detail, **unknown}) from error
            raise
        if unknown:
            raise ValidationError(unknown)
        return values

    def get_fields(self) -> dict[str, serializers.Field[Any, Any, Any, Any]]:
        """Return the fields; one of fixed words says which they are when it refuses another, a list
        how many it takes.
        """
        fields = super().get_fields()
        for field in fields.values():
            one = getattr(field, "child", field)
            if isinstance(one, serializers.ChoiceField):
                among = ", ".join(str(each) for each in one.choices)
                one.error_messages["invalid_choice"] = f"One of {among}."
            if isinstance(field, serializers.ListField):
                _count_in_our_words(field)
        return fields

    def _unknown(self, data: Mapping[str, object]) -> dict[str, list[ErrorDetail]]:
        known = {name for name, field in self.fields.items() if not field.read_only}
        why = ErrorDetail("There is no such field.", code="unknown_field")
        return {str(name): [why] for name in data if name not in known}


def _count_in_our_words(field: serializers.ListField) -> None:
    for bound in field.validators:
        if isinstance(bound, MinLengthValidator):
            bound.message = f"At least {bound.limit_value} of them."
        elif isinstance(bound, MaxLengthValidator):
            bound.message = f"At most {bound.limit_value} of them."


@extend_schema_field(
    {"type": "string", "pattern": f"^{_DECIMAL.pattern}$", "maxLength": LONGEST_DECIMAL}
)
class DecimalTextField(StringField):
    """A decimal number as text, kept as sent: "60.0" stays "60.0". Its unit stands beside it."""

    default_error_messages = {
        "not_a_string": 'Write the number as a JSON string, as "13.6".',
        "not_a_number": "A decimal number with a point, without exponent, sign + or spaces.",
        "too_long": f"At most {LONGEST_DECIMAL} characters.",
    }

    def to_internal_value(self, data: object) -> str:
        """Return the text as sent; it is a finite decimal number."""
        text = self.string(data)
        if len(text) > LONGEST_DECIMAL:
            self.fail("too_long")
        if not _DECIMAL.fullmatch(text):
            self.fail("not_a_number")
        return text

    def to_representation(self, value: Decimal | str) -> str:
        """Return the text; a Decimal without an exponent."""
        return value if isinstance(value, str) else format(value, "f")


@extend_schema_field(OpenApiTypes.DATETIME)
class InstantField(StringField):
    """An RFC 3339 date and time with its offset, to the microsecond at most."""

    default_error_messages = {
        "not_an_instant": "A date and time by RFC 3339, as 2026-03-01T09:30:00-06:00.",
        "offset_missing": "The offset from UTC is missing, as -06:00 or Z.",
        "out_of_range": f"The year must be {_EARLIEST_YEAR} to {_LATEST_YEAR}, "
        f"the offset at most {_FURTHEST_OFFSET} hours.",
    }

    def to_internal_value(self, data: object) -> Instant:
        """Return the instant with the text as sent."""
        text = self.string(data)
        shape = _INSTANT.fullmatch(text)
        if shape is None:
            self.fail("not_an_instant")
        if shape[1] is None:
            self.fail("offset_missing")
        try:
            at = instant_told(text)
        except ValueError:
            self.fail("not_an_instant")
        offset = at.utcoffset()
        assert offset is not None  # noqa: S101 (the pattern holds one)
        if abs(offset.total_seconds()) > _FURTHEST_OFFSET * 3600 or not _in_range(at):
            self.fail("out_of_range")
        return Instant(at, text)

    def to_representation(self, value: Instant | datetime) -> str | datetime:
        """Return the text as sent where it was kept; else the moment, which is written with a Z."""
        return value.as_sent if isinstance(value, Instant) else value


@extend_schema_field(OpenApiTypes.DATE)
class CivilDateField(StringField):
    """A day on the calendar of the site, without time or zone."""

    default_error_messages = {
        "not_a_date": "A civil date, as 2026-03-01.",
        "out_of_range": f"The year must be {_EARLIEST_YEAR} to {_LATEST_YEAR}.",
    }

    def to_internal_value(self, data: object) -> date:
        """Return the day."""
        text = self.string(data)
        if not _DATE.fullmatch(text):
            self.fail("not_a_date")
        try:
            day = date.fromisoformat(text)
        except ValueError:
            self.fail("not_a_date")
        if not _in_range(day):
            self.fail("out_of_range")
        return day

    def to_representation(self, value: date) -> str:
        """Return the day as text."""
        return value.isoformat()


@extend_schema_field(OpenApiTypes.UUID)
class IdField(StringField):
    """The id of a thing, in the one form in which the API writes ids."""

    default_error_messages = {"not_an_id": "An id, as 6f9f1c1e-8d2b-4a52-9d3c-0c9a5c1f7e11."}

    def to_internal_value(self, data: object) -> UUID:
        """Return the id; whether anything bears it is not asked here."""
        text = self.string(data)
        if not _UUID.fullmatch(text):
            self.fail("not_an_id")
        return UUID(text)

    def to_representation(self, value: UUID) -> str:
        """Return the id as text."""
        return str(value)


@extend_schema_field({"type": "string", "pattern": f"^{_SHA256.pattern}$"})
class DigestField(StringField):
    """A SHA-256 in hex, in lower case as the API writes it."""

    default_error_messages = {"not_a_digest": "A SHA-256: 64 digits of 0-9 and a-f."}

    def to_internal_value(self, data: object) -> str:
        """Return the digest; whether any bytes have it is not asked here."""
        text = self.string(data)
        if not _SHA256.fullmatch(text):
            self.fail("not_a_digest")
        return text

    def to_representation(self, value: str) -> str:
        """Return the digest."""
        return value


class TextField(StringField):
    """A name, a reference or one line: no character that cannot be seen, NFC, never cut.

    Spaces at the ends are refused rather than removed.
    """

    default_error_messages = {
        "blank": "This may not be empty.",
        "too_long": "At most {longest} characters.",
        "control_character": "Control characters cannot stand here.",
        "invisible_character": "Characters that cannot be seen cannot stand here.",
        "direction_control": "Characters that change the direction of writing cannot stand here.",
        "outer_space": "No space may stand at either end.",
    }

    def __init__(
        self, *, max_length: int = LONGEST_NAME, allow_blank: bool = False, **kwargs: Any
    ) -> None:
        """Allow up to `max_length` characters, counted after normalisation."""
        self.max_length, self.allow_blank = max_length, allow_blank
        super().__init__(**kwargs)

    def to_internal_value(self, data: object) -> str:
        """Return the text in Unicode's normal form C."""
        text = normal(self.string(data))
        if not text and not self.allow_blank:
            self.fail("blank")
        if len(text) > self.max_length:
            self.fail("too_long", longest=self.max_length)
        if fault := self.fault(text):
            self.fail(fault)
        return text

    def to_representation(self, value: str) -> str:
        """Return the text."""
        return value

    def fault(self, text: str) -> str | None:
        """Return the code of what is wrong with the characters; None where nothing is."""
        return fault_in_name(text)


class EmailField(TextField):
    """The address of a mailbox, in ASCII as mail servers take it."""

    default_error_messages = {"not_an_address": "A mail address in ASCII, as ada@owner.example."}

    def __init__(self, **kwargs: Any) -> None:
        """Allow what mail allows, quoted names apart."""
        super().__init__(max_length=LONGEST_EMAIL, **kwargs)

    def to_internal_value(self, data: object) -> str:
        """Return the address as sent."""
        text = super().to_internal_value(data)
        try:
            if text:
                validate_email(text)
        except DjangoValidationError:
            self.fail("not_an_address")
        if not text.isascii() or '"' in text:
            self.fail("not_an_address")
        return text


class LanguageField(TextField):
    """A language as BCP 47 writes it: two or three letters, and a country where it matters."""

    default_error_messages = {"not_a_language": "A language tag, as en or fr-CA."}

    def __init__(self, **kwargs: Any) -> None:
        """Allow a language, and a country."""
        super().__init__(max_length=8, **kwargs)

    def to_internal_value(self, data: object) -> str:
        """Return the tag."""
        text = super().to_internal_value(data)
        if not _LANGUAGE.fullmatch(text):
            self.fail("not_a_language")
        return text


class ProseField(TextField):
    """Free text of several lines, kept as written; control characters are refused.

    Tabs and line ends may stand, and marks of direction, which prose in some scripts needs.
    """

    def __init__(self, *, max_length: int = LONGEST_PROSE, **kwargs: Any) -> None:
        """Allow up to `max_length` characters."""
        super().__init__(max_length=max_length, **kwargs)

    def fault(self, text: str) -> str | None:
        """Return the code of what is wrong with the characters; None where nothing is."""
        return fault_in_prose(text)


def _in_range(day: date) -> bool:
    return _EARLIEST_YEAR <= day.year <= _LATEST_YEAR
