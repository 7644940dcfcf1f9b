"""Uploads made to hurt: every kind is built here from a seed, so that a failing one can be built again."""

import io
import random
import struct
import zipfile
import zlib
from collections.abc import Callable
from functools import cache

from PIL import Image

PAYLOAD = b"<script>alert(1)</script><?php system($_GET[0]); ?>"


def noise(rng: random.Random, width: int = 240, height: int = 180, mode: str = "RGB") -> Image.Image:
    small = Image.frombytes(mode, (24, 18), rng.randbytes(24 * 18 * len(mode)))
    return small.resize((width, height), Image.Resampling.BICUBIC)


def encoded(image: Image.Image, form: str, **how) -> bytes:
    out = io.BytesIO()
    image.save(out, form, **how)
    return out.getvalue()


def png_chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def png_of(width: int, height: int, body: bytes, *extra: bytes, depth: int = 8, colour: int = 2) -> bytes:
    head = png_chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, 0))
    parts = [b"\x89PNG\r\n\x1a\n", head, *extra, png_chunk(b"IDAT", body), png_chunk(b"IEND", b"")]
    return b"".join(parts)


def with_comment(jpeg: bytes, text: bytes) -> bytes:
    return jpeg[:2] + b"\xff\xfe" + struct.pack(">H", len(text) + 2) + text + jpeg[2:]


def many_scans(scans: int, side: int = 4096) -> bytes:
    """A progressive JPEG of one colour whose last scan is repeated: a few kilobytes, and each copy makes a
    decoder go over every block of the picture again."""
    jpeg = encoded(Image.new("RGB", (side, side), (90, 80, 70)), "JPEG", progressive=True)
    last = jpeg.rindex(b"\xff\xda")
    # The Huffman table of that scan stands before it and holds for its copies.
    return jpeg[:-2] + jpeg[last:-2] * scans + b"\xff\xd9"


def claims_size(jpeg: bytes, width: int, height: int) -> bytes:
    """A JPEG whose frame header lies about its size."""
    at = max(jpeg.find(b"\xff\xc0"), jpeg.find(b"\xff\xc2"))
    return jpeg[: at + 5] + struct.pack(">HH", height, width) + jpeg[at + 9 :]


def _truncated(rng: random.Random) -> bytes:
    whole = encoded(noise(rng), rng.choice(["JPEG", "PNG", "WEBP"]))
    return whole[: rng.randrange(1, len(whole) - 4)]


def _flipped(rng: random.Random) -> bytes:
    whole = bytearray(encoded(noise(rng), rng.choice(["JPEG", "PNG", "WEBP"])))
    for _ in range(rng.randrange(1, 40)):
        whole[rng.randrange(len(whole))] ^= 1 << rng.randrange(8)
    return bytes(whole)


def _zip_after(rng: random.Random) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("index.html", PAYLOAD)
    return encoded(noise(rng), "JPEG") + out.getvalue()


def _wrong_type(rng: random.Random) -> bytes:
    form = rng.choice(["GIF", "BMP", "TIFF", "ICO", "PPM", "TGA", "PDF"])
    return encoded(noise(rng, 64, 64), form)


def _words_only(rng: random.Random) -> bytes:
    svg = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'
    return rng.choice(
        [svg, b"<!doctype html>" + PAYLOAD, b"%PDF-1.7\n" + PAYLOAD, b"GIF89a=1;" + PAYLOAD, b"#!/bin/sh\n"]
    )


def _magic_then_junk(rng: random.Random) -> bytes:
    magic = rng.choice(
        [b"\xff\xd8\xff\xe0\x00\x10JFIF\x00", b"\x89PNG\r\n\x1a\n", b"RIFF\x20\x00\x00\x00WEBPVP8 "]
    )
    return magic + rng.randbytes(rng.randrange(1, 4000))


@cache
def _packed_zeros(rows: int, row_bytes: int) -> bytes:
    deflate = zlib.compressobj(6)
    row = bytes(row_bytes)
    return b"".join(deflate.compress(row) for _ in range(rows)) + deflate.flush()


def _text_bomb(rng: random.Random) -> bytes:
    pixels = zlib.compress(b"\x00" * (64 * (64 * 3 + 1)))
    return png_of(64, 64, pixels, png_chunk(b"zTXt", b"note\x00\x00" + _packed_zeros(80_000, 1000)))


def _claimed_png(rng: random.Random) -> bytes:
    width, height = rng.choice([(60_000, 60_000), (2**31 - 1, 2), (50_000, 1_001), (1, 60_000_000)])
    return png_of(width, height, zlib.compress(b"\x00" * 1000))


def _flat_bomb(rng: random.Random) -> bytes:
    """49.8 megapixels of one colour in a few hundred kilobytes: allowed in size, heavy to open."""
    return png_of(7060, 7060, _packed_zeros(7060, 7060 * 4 + 1), colour=6)


def _deep_bomb(rng: random.Random) -> bytes:
    """Sixteen bits a channel and 49 megapixels: 300 MB opened."""
    return png_of(7000, 7000, _packed_zeros(7000, 7000 * 6 + 1), depth=16)


def _looping_exif(rng: random.Random) -> bytes:
    """Exif whose directory points at itself and claims thousands of entries."""
    tiff = b"II*\x00\x08\x00\x00\x00" + struct.pack("<H", 9000)
    tiff += struct.pack("<HHII", 0x8769, 4, 1, 8) * 40 + struct.pack("<I", 8)
    body = b"Exif\x00\x00" + tiff
    jpeg = encoded(noise(rng), "JPEG")
    return jpeg[:2] + b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body + jpeg[2:]


KINDS: dict[str, Callable[[random.Random], bytes]] = {
    "junk": lambda rng: rng.randbytes(rng.randrange(1, 5000)),
    "zeros": lambda rng: b"\x00" * rng.randrange(1, 5000),
    "truncated": _truncated,
    "bits flipped": _flipped,
    "script in a comment": lambda rng: with_comment(encoded(noise(rng), "JPEG"), PAYLOAD),
    "page after the picture": lambda rng: encoded(noise(rng), "PNG") + PAYLOAD,
    "archive after the picture": _zip_after,
    "page before the picture": lambda rng: PAYLOAD + encoded(noise(rng), "JPEG"),
    "wrong type": _wrong_type,
    "words only": _words_only,
    "magic, then junk": _magic_then_junk,
    "text bomb": _text_bomb,
    "claimed size": _claimed_png,
    "flat bomb": _flat_bomb,
    "deep bomb": _deep_bomb,
    "looping exif": _looping_exif,
    "many scans": lambda rng: many_scans(rng.randrange(100, 1500)),
    "lying jpeg": lambda rng: claims_size(
        encoded(noise(rng), "JPEG", progressive=rng.random() < 0.5),
        rng.randrange(5000, 65500),
        rng.randrange(5000, 65500),
    ),
    "a line": lambda rng: encoded(noise(rng, rng.choice([1, 8, 31]), 3000), "PNG"),
    "profile of junk": lambda rng: encoded(noise(rng), "JPEG", icc_profile=rng.randbytes(3000)),
}


def hostile(number: int) -> tuple[str, bytes]:
    """The kind and the bytes of hostile upload ``number``; kinds take turns."""
    names = list(KINDS)
    name = names[number % len(names)]
    return name, KINDS[name](random.Random(number))
