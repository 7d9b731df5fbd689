"""Pictures for the tests, honest and hostile, made here and named by what is wrong with them."""

from __future__ import annotations

import struct
import zipfile
import zlib
from io import BytesIO

from PIL import Image

PLACE = b"GPS-CANARY-41.2N"


def jpeg(*, with_place: bool = False, size: tuple[int, int] = (64, 48)) -> bytes:
    """A plain JPEG; with `with_place`, one that tells where it was taken, and turned by its tag."""
    picture = Image.effect_noise(size, 60).convert("RGB")
    into, exif = BytesIO(), Image.Exif()
    if with_place:
        exif[0x0112] = 6  # orientation: to be turned by a quarter
        exif[0x010E] = PLACE.decode()
        picture.save(into, "JPEG", exif=exif, comment=PLACE)
    else:
        picture.save(into, "JPEG")
    return into.getvalue()


def png(size: tuple[int, int] = (32, 32)) -> bytes:
    """A plain PNG."""
    into = BytesIO()
    Image.new("RGBA", size, (10, 200, 30, 128)).save(into, "PNG")
    return into.getvalue()


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png_bomb(side: int) -> bytes:
    """A small file that unpacks to `side` x `side` pixels of one bit."""
    head = struct.pack(">IIBBBBB", side, side, 8, 0, 0, 0, 0)
    row = b"\x00" + b"\x00" * side
    packer = zlib.compressobj(9)
    body: list[bytes] = []
    body.extend(packer.compress(row) for _ in range(side))
    body.append(packer.flush())
    start = b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", head)
    return start + _chunk(b"IDAT", b"".join(body)) + _chunk(b"IEND", b"")


def jpeg_of_65535() -> bytes:
    """A JPEG whose header says 65,535 x 65,535 pixels."""
    real = jpeg()
    at = real.index(b"\xff\xc0")
    return real[: at + 5] + b"\xff\xff\xff\xff" + real[at + 9 :]


def archive() -> bytes:
    """A zip with a page in it."""
    into = BytesIO()
    with zipfile.ZipFile(into, "w") as made:
        made.writestr("index.html", "<script>alert(1)</script>")
    return into.getvalue()


HOSTILE = {
    "png_bomb": ("image/png", png_bomb(9_000)),
    "jpeg_of_65535": ("image/jpeg", jpeg_of_65535()),
    "zip_called_jpeg": ("image/jpeg", archive()),
    "jpeg_and_zip": ("image/jpeg", jpeg() + archive()),
    "png_and_zip": ("image/png", png() + archive()),
    "jpeg_and_pdf": ("image/jpeg", jpeg()[:20] + b"%PDF-1.7\n" + jpeg()[20:]),
    "pdf_and_zip": ("application/pdf", b"%PDF-1.7\n" + archive()),
    "svg_called_png": ("image/png", b'<svg xmlns="http://www.w3.org/2000/svg" onload="x()"/>'),
    "svg": ("image/svg+xml", b'<svg xmlns="http://www.w3.org/2000/svg"/>'),
    "html": ("text/html", b"<html>"),
    "truncated_jpeg": ("image/jpeg", jpeg(size=(400, 400))[:900]),
    "truncated_png": ("image/png", png((400, 400))[:90]),
    "png_called_jpeg": ("image/jpeg", png()),
    "png_called_table": ("text/csv", png()),
    "pdf_called_table": ("text/csv", b"%PDF-1.7\n"),
    "zip_called_table": ("text/csv", archive()),
    "only_a_beginning": ("image/png", b"\x89PNG\r\n\x1a\n"),
    "nothing": ("image/png", b""),
    "noise": ("image/jpeg", b"\xff\xd8\xff" + bytes(range(256)) * 40),
}
