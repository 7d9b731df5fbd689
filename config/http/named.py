"""What stands in the examples for a thing of a test's own: an id of each kind, and a moment ago."""

from __future__ import annotations

NAMED = {
    "photo_sha256": "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08",
    "table_sha256": "60303ae22b998861bce3b28f33eec1be758a213c86c93c076dbe9f558c11c752",
    "site": "3f1c6a52-7d0e-4b7c-9a55-0c1d7e2b9f01",
    "opening": "8a2e4c90-51b3-4f6d-8c77-2e9b6d4f1a02",
    "stranger": "c47d9e13-0a6f-4e28-b3d1-5f8a7c6e2b03",
    "deficiency": "7b9d2c15-4e83-4f6a-9c01-d5e8a1b3f705",
    "lately": "2026-03-02T08:00:00-06:00",
    "webhook_url": "https://doors.brass-lantern.example/hooks",
    "claim_token": f"fdi_{'7c' * 32}",
    "person": "0b5f2d6e-94c1-4a37-8e02-6d1f7a3c9e05",
    "neighbour": "d90b3f84-6c2a-4d17-a5e9-7b1c8f4d3e04",
}
