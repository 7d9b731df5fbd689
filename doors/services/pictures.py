"""Pictures drawn anew: what is served of one holds its pixels and nothing else.

The bytes come from strangers, so they are decoded in a process of their own that may take 512 MB
and ten seconds, after the size that their header tells was looked at. This file is also that
process: `python -I pictures.py FORMAT [SIDE]` reads the bytes, and writes one line of JSON and the
copy; with a side in pixels, as a JPEG that fits into a square of it.
"""

import json
import resource
import subprocess
import sys
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL import Image

MEMORY = 512 * 1024 * 1024  # bytes of address space
SECONDS = 10
MOST_PIXELS = 40_000_000
QUALITY = 90  # of a JPEG drawn anew: no difference that a person sees
_REFUSED = 3  # the exit status with which the process says why


class NoPictureError(Exception):
    """These bytes are no picture that can be drawn; the message says why."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A picture drawn anew, and its size in pixels, upright."""

    content: bytes
    width: int
    height: int


def draw_anew(content: bytes, form: str, *, side: int | None = None) -> Drawn:
    """Decode a picture of the form JPEG or PNG and encode its pixels alone; with a `side`, as a
    JPEG on white that is neither wider nor higher.

    Raises NoPictureError for whatever cannot be drawn within the limits.
    """
    command = [sys.executable, "-I", __file__, form, *([str(side)] if side else [])]
    try:
        done = subprocess.run(  # noqa: S603 (our own file, and a word of ours)
            command, input=content, capture_output=True, timeout=SECONDS * 2, check=False
        )
    except subprocess.TimeoutExpired as error:
        raise NoPictureError("it takes too long to draw") from error
    if done.returncode == _REFUSED:
        raise NoPictureError(done.stderr.decode(errors="replace").strip()[:200])
    if done.returncode != 0:
        raise NoPictureError("it takes more than a picture may take to draw")
    head, _, copy = done.stdout.partition(b"\n")
    size = json.loads(head)
    return Drawn(copy, size["width"], size["height"])


def _main() -> int:
    """Draw what comes in by standard input; the limits hold before a byte of it is looked at."""
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
    try:
        side = int(sys.argv[2]) if len(sys.argv) > 2 else None  # noqa: PLR2004
        copy, width, height = _draw(sys.stdin.buffer.read(), sys.argv[1], side)
    except NoPictureError as refused:
        sys.stderr.write(str(refused))
        return _REFUSED
    except Exception:  # noqa: BLE001 (a decoder may raise anything at all on hostile bytes)
        sys.stderr.write("it cannot be decoded")
        return _REFUSED
    sys.stdout.buffer.write(json.dumps({"width": width, "height": height}).encode() + b"\n" + copy)
    return 0


def _draw(content: bytes, form: str, side: int | None) -> tuple[bytes, int, int]:
    from PIL import Image, ImageOps  # noqa: PLC0415 - under the limits, and not in the service

    Image.MAX_IMAGE_PIXELS = None  # the limit below is stricter
    with Image.open(BytesIO(content), formats=[form]) as picture:
        if picture.width * picture.height > MOST_PIXELS:
            raise NoPictureError(f"it has more than {MOST_PIXELS // 1_000_000} million pixels")
        picture.load()
        upright = ImageOps.exif_transpose(picture)
    if side is not None:
        upright, form = _small(upright.convert("RGBA"), side), "JPEG"
    if form == "JPEG" and upright.mode not in {"L", "RGB"}:
        upright = upright.convert("RGB")
    upright.info = {k: v for k, v in upright.info.items() if k == "transparency"}
    into = BytesIO()
    upright.save(into, format=form, quality=QUALITY)
    return into.getvalue(), upright.width, upright.height


def _small(picture: "Image.Image", side: int) -> "Image.Image":
    from PIL import Image  # noqa: PLC0415 - as above

    picture.thumbnail((side, side))
    white = Image.new("RGBA", picture.size, "white")
    return Image.alpha_composite(white, picture).convert("RGB")


if __name__ == "__main__":
    sys.exit(_main())
