"""The frozen packet document, typed."""

from __future__ import annotations

from inspections.pdf.document.packet import Document, PacketError, read

__all__ = ["Document", "PacketError", "read"]
