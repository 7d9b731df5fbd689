"""Rows of tables as plain records, for files that their owner keeps."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from io import StringIO
from typing import Any
from uuid import UUID

import orjson
from django.db.models import Model

from doors.services.tables import guarded_text

NEVER = frozenset({"secret_sha256", "lookup", "password", "token_sha256", "secret", "secrets"})
_BOM = "\ufeff"  # by it a spreadsheet knows UTF-8


def names_of(model: type[Model]) -> list[str]:
    """The columns of a table in order, secrets apart; a reference by the name of what it names."""
    return [field.name for field in model._meta.concrete_fields if field.name not in NEVER]


def record_of(row: Model) -> dict[str, Any]:
    """A row as a record: ids, texts, numbers, days, instants, and JSON as it was kept."""
    fields = {field.name: field.attname for field in row._meta.concrete_fields}
    return {name: getattr(row, fields[name]) for name in names_of(type(row))}


def json_lines(records: Sequence[Mapping[str, Any]]) -> bytes:
    """One JSON object a line; decimals as text, so that none is rounded."""
    flags = orjson.OPT_APPEND_NEWLINE | orjson.OPT_UTC_Z
    return b"".join(orjson.dumps(record, default=_plain, option=flags) for record in records)


def csv_lines(
    columns: Sequence[str], records: Sequence[Mapping[str, Any]], *, heading: bool
) -> bytes:
    """Lines by RFC 4180; texts are guarded against being taken for formulas, numbers are not."""
    into = StringIO(newline="")
    writer = csv.writer(into)
    if heading:
        into.write(_BOM)
        writer.writerow(columns)
    writer.writerows([_cell(record.get(name)) for name in columns] for record in records)
    return into.getvalue().encode()


def _cell(value: object) -> str:
    match value:
        case None:
            return ""
        case bool():
            return str(value).lower()
        case int() | Decimal() | UUID():
            return str(value)
        case date():
            return value.isoformat().replace("+00:00", "Z")
        case {"value": str(number), "unit": str(unit), **rest} if not rest:
            return guarded_text(f"{number} {unit}")
        case dict() | list():
            return guarded_text(orjson.dumps(value, default=_plain).decode())
    return guarded_text(str(value))


def _plain(value: object) -> str:
    if isinstance(value, Decimal):
        return format(value, "f")
    raise TypeError
