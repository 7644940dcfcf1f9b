"""Re-encode photos in a process of their own: untrusted bytes on stdin, plain JPEGs on stdout.

Run as a script by photos.py with ``python -I``, a little ahead of its work. It imports Pillow and nothing of
the studio, so that it starts fast, and limits its own processor time and memory before it looks at a picture.

In: how many pictures (4 bytes, big-endian), and for each its length (4 bytes) and its bytes. Out: for each
picture one line of JSON, then, where it was taken, the large JPEG and the small one. ``reason`` is a code
that photos.py puts in words.
"""

from __future__ import annotations

import io
import json
import math
import resource
import signal
import sys
import time
import warnings

MEBIBYTE = 1024 * 1024
CPU_SECONDS = 2
MEMORY_BYTES = 400 * MEBIBYTE
MOST_PIXELS = 50_000_000
#: A WebP above this may need more memory than there is.
WEBP_MOST_PIXELS = 20_000_000
SMALLEST_SIDE_PX = 32
LARGE_PX, SMALL_PX = 2000, 400
FORMATS = ("JPEG", "PNG", "WEBP")
_ORIENTATION = 0x0112


class Unfit(Exception):
    """This picture is not taken; the argument is the code of the reason."""


def limit_memory() -> None:
    """Cap this process. It cannot take that back."""
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    signal.signal(signal.SIGXCPU, signal.SIG_DFL)


def limit_time(pictures: int) -> None:
    """Processor seconds for each picture, on top of what starting took. It cannot take that back either."""
    seconds = math.floor(time.process_time()) + CPU_SECONDS * pictures
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))


def load_pillow() -> tuple[str, ...]:
    """Import Pillow with our caps, and say which formats are read: HEIC where its plugin is installed."""
    from PIL import Image

    Image.MAX_IMAGE_PIXELS = MOST_PIXELS
    warnings.simplefilter("error", Image.DecompressionBombWarning)
    try:
        from pillow_heif import register_heif_opener
    except ImportError:
        return FORMATS
    register_heif_opener(thumbnails=False)
    return (*FORMATS, "HEIF")


def reencoded(data: bytes, formats: tuple[str, ...]) -> tuple[int, int, bytes, bytes]:
    """(width, height, large JPEG, small JPEG) of one picture, upright, without metadata. Raises Unfit."""
    from PIL import Image

    try:
        image = Image.open(io.BytesIO(data), formats=formats)
    except (Image.DecompressionBombWarning, Image.DecompressionBombError):
        raise Unfit("too-many-pixels") from None
    except Image.UnidentifiedImageError:
        raise Unfit("not-a-picture") from None
    width, height = image.size
    if width * height > MOST_PIXELS:
        raise Unfit("too-many-pixels")
    if min(width, height) < SMALLEST_SIDE_PX:
        raise Unfit("too-small")
    turn = _orientation(image)
    image.draft("RGB", (LARGE_PX, LARGE_PX))
    try:
        image.load()
    except OSError:
        # WebP's decoder holds three copies of a picture and says no more than "failed" when that is too much.
        if image.format == "WEBP" and width * height > WEBP_MOST_PIXELS:
            raise Unfit("too-much-work") from None
        raise
    profile = image.info.get("icc_profile")
    image = _in_rgb(_shrunk(image), profile)
    image = _upright(image, turn)
    image.thumbnail((LARGE_PX, LARGE_PX), Image.Resampling.LANCZOS)
    large = _jpeg(image, 85)
    width, height = image.size
    image.thumbnail((SMALL_PX, SMALL_PX), Image.Resampling.LANCZOS)
    return width, height, large, _jpeg(image, 80)


def _orientation(image) -> int:
    """How the camera was held (Exif tag 0x0112, 1 to 8); 1 where it says nothing that can be read."""
    try:
        turn = image.getexif().get(_ORIENTATION, 1)
    except Exception:
        return 1
    return turn if isinstance(turn, int) and 1 <= turn <= 8 else 1


def _shrunk(image):
    """The picture at a whole-number part of its size where it is far too large, before anything is copied."""
    factor = max(image.size) // LARGE_PX
    if factor >= 2 and image.mode in {"L", "LA", "RGB", "RGBA", "RGBX", "CMYK", "YCbCr", "I", "F"}:
        return image.reduce(factor)
    return image


def _in_rgb(image, profile: bytes | None):
    """In sRGB, on white where it was transparent, and without anything that came along with it."""
    from PIL import Image, ImageCms

    if image.mode in {"LA", "PA", "RGBA", "La", "RGBa"} or "transparency" in image.info:
        image = image.convert("RGBA")
        ground = Image.new("RGB", image.size, (255, 255, 255))
        ground.paste(image, mask=image.getchannel("A"))
        image = ground
    elif image.mode.startswith("I;16"):
        image = image.point(lambda value: value / 256).convert("L").convert("RGB")
    elif image.mode != "RGB":
        image = image.convert("RGB")
    if profile:
        try:
            # Phones photograph in wider colours than a page shows: without this, glazes look dull.
            source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            ImageCms.profileToProfile(image, source, ImageCms.createProfile("sRGB"), inPlace=True)
        except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
            pass
    image.info = {}
    return image


def _upright(image, turn: int):
    from PIL import Image

    moves = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_270,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_90,
    }
    return image.transpose(moves[turn]) if turn in moves else image


def _jpeg(image, quality: int) -> bytes:
    image.info = {}
    out = io.BytesIO()
    image.save(out, "JPEG", quality=quality, optimize=True)
    return out.getvalue()


def answer(data: bytes, formats: tuple[str, ...]) -> bytes:
    """One picture's part of the output: a line of JSON, and its JPEGs."""
    try:
        width, height, large, small = reencoded(data, formats)
    except Unfit as unfit:
        return json.dumps({"reason": str(unfit)}).encode() + b"\n"
    except MemoryError:
        return b'{"reason": "too-much-work"}\n'
    except Exception:
        # Whatever a decoder stumbles over, the picture cannot be used, and that is all there is to say.
        return b'{"reason": "unreadable"}\n'
    head = {"width": width, "height": height, "large": len(large), "small": len(small)}
    return json.dumps(head).encode() + b"\n" + large + small


def main() -> None:
    limit_memory()
    formats = load_pillow()
    pictures = int.from_bytes(sys.stdin.buffer.read(4), "big")
    limit_time(pictures)
    for _ in range(pictures):
        size = int.from_bytes(sys.stdin.buffer.read(4), "big")
        data = sys.stdin.buffer.read(size)
        sys.stdout.buffer.write(answer(data, formats))
        sys.stdout.buffer.flush()


if __name__ == "__main__":
    main()
