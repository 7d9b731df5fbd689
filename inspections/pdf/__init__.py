"""The packet renderer: a frozen document to PDF. No model, no query, no network."""

from __future__ import annotations

from inspections.pdf.document import PacketError
from inspections.pdf.packet import render_packet

__all__ = ["PacketError", "render_packet"]
