"""Where something is written, as people are told it."""

from __future__ import annotations

from collections.abc import Mapping


def written_in(cited: Mapping[str, str]) -> str:
    """Publication, edition and clause of a citation as it is stored."""
    return f"{cited['publication']} {cited['edition']}, {cited['clause']}"
