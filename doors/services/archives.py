"""A whole account as one archive: tables as JSON Lines, the bytes they name, a manifest."""

from __future__ import annotations

import hashlib
import json
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from typing import IO

from django.core.files.storage import default_storage

from doors.models import Blob, Export
from doors.services.blobs import EXTENSIONS, original_place
from doors.tenancy import current

_WHEN = (1980, 1, 1, 0, 0, 0)  # no time of ours: the same content is the same archive
_BLOCK = 1 << 20
NOTE = """\
This archive holds an account as it stood when the export was asked for.

tables/<name>.jsonl  one JSON object (UTF-8) a line; every object is one row of that table.
                     A column that names another row holds its `id`. Days are civil days at the
                     site; instants are RFC 3339 with Z; measures are kept as they were sent,
                     with their unit; decimals are text.
blobs/<sha256>.<ext> the bytes that rows name by `sha256` or `scan_sha256`, as they were sent.
manifest.json        for every other file its SHA-256, its size in bytes, its number of rows.

`visits.findings` is what was sent of a visit, with its readings and traces; `visits.judgement` is
the answer of the rules library named in it. `ledger_entries.body` are the very bytes that were
hashed: SHA-256(body) is `entry_sha256`, and each body names the one before it as `previous`.
What is not here: keys and other secrets, kept answers to repeated requests, and work under way.
"""


def write_archive(
    into: IO[bytes],
    export: Export,
    pieces: Mapping[str, Sequence[str]],
    counts: Mapping[str, int],
) -> None:
    """Write the archive; every file in it is in its manifest."""
    manifest = []
    with zipfile.ZipFile(into, "w", zipfile.ZIP_DEFLATED) as archive:
        for table, names in pieces.items():
            entry = _write(archive, f"tables/{table}.jsonl", _blocks(names))
            manifest.append(entry | {"rows": counts[table]})
        for blob in Blob.objects.filter(created_at__lte=export.created_at).order_by("id"):
            name = f"blobs/{blob.sha256}.{EXTENSIONS[blob.media_type]}"
            place = original_place(blob.organization_id, blob.sha256)
            manifest.append(_write(archive, name, _blocks([place])))
        manifest.append(_write(archive, "README.txt", iter([NOTE.encode()])))
        told = {
            "export": str(export.id),
            "organization": str(export.organization_id),
            "asked_for_at": export.created_at.isoformat(),
            "written_at": current().now.isoformat(),
            "files": manifest,
        }
        text = json.dumps(told, indent=1).encode()
        _write(archive, "manifest.json", iter([text]))


def _write(archive: zipfile.ZipFile, name: str, blocks: Iterator[bytes]) -> dict[str, object]:
    digest, size = hashlib.sha256(), 0
    info = zipfile.ZipInfo(name, _WHEN)
    info.compress_type = zipfile.ZIP_DEFLATED
    with archive.open(info, "w", force_zip64=True) as entry:
        for block in blocks:
            entry.write(block)
            digest.update(block)
            size += len(block)
    return {"name": name, "sha256": digest.hexdigest(), "size": size}


def _blocks(names: Sequence[str]) -> Iterator[bytes]:
    for name in names:
        with default_storage.open(name) as kept:
            yield from kept.chunks(_BLOCK)
