"""Photos: what is kept is small, upright, without metadata and ours; what is no photo is refused in words."""

import io
import random
import resource
import struct
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from PIL import Image, ImageCms

from studio.imaging import photos, reencode
from tests.imaging.hostile_files import PAYLOAD, encoded, hostile, many_scans, noise

EVERYDAY, FULL = 60, 1000


def opened(data: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(data))
    image.load()
    return image


def is_plain_jpeg(data: bytes) -> bool:
    """A JPEG with the segments of our own encoder and none that could carry words."""
    image = opened(data)
    return (
        image.format == "JPEG"
        and image.mode == "RGB"
        and not image.getexif()
        and not {"exif", "icc_profile", "comment", "xmp", "photoshop"} & set(image.info)
        and data[:2] == b"\xff\xd8"
        and data.endswith(b"\xff\xd9")
        and b"http://ns.adobe.com" not in data
    )


def test_a_photo_is_kept_in_two_sizes_with_its_own_hash():
    ready = photos.store_ready(encoded(noise(random.Random(1), 4000, 3000), "JPEG"))
    assert (ready.width_px, ready.height_px) == (2000, 1500)
    assert opened(ready.full_jpeg).size == (2000, 1500)
    assert opened(ready.thumb_jpeg).size == (400, 300)
    assert len(ready.sha256) == 64
    assert is_plain_jpeg(ready.full_jpeg)
    assert is_plain_jpeg(ready.thumb_jpeg)


def test_a_small_photo_is_not_blown_up():
    ready = photos.store_ready(encoded(noise(random.Random(2), 300, 200), "PNG"))
    assert opened(ready.full_jpeg).size == (300, 200)
    assert opened(ready.thumb_jpeg).size == (300, 200)


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("mode", ["RGB", "L", "RGBA", "P"])
def test_formats_and_modes_of_phones_are_read(form, mode):
    image = noise(random.Random(3)).convert(mode)
    if form == "JPEG" and mode in {"RGBA", "P"}:
        image = image.convert("CMYK")
    ready = photos.store_ready(encoded(image, form))
    assert is_plain_jpeg(ready.full_jpeg)


def test_what_is_see_through_becomes_white():
    ready = photos.store_ready(encoded(Image.new("RGBA", (64, 64), (0, 0, 0, 0)), "PNG"))
    assert opened(ready.full_jpeg).getpixel((32, 32)) == (255, 255, 255)


def marked_upright() -> Image.Image:
    """Red at the top, blue at the bottom, green on the left: no turn leaves it as it is."""
    image = Image.new("RGB", (120, 160), (128, 128, 128))
    image.paste((220, 20, 20), (0, 0, 120, 40))
    image.paste((20, 20, 220), (0, 120, 120, 160))
    image.paste((20, 200, 20), (0, 40, 30, 120))
    return image


#: Exif 2.32, tag 0x0112: how the rows and columns are stored, and the move that stores an upright picture so.
STORED_AS = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


def camera_exif(orientation: int) -> Image.Exif:
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = "PAYLOADMAKER"
    exif[0x9003] = "2025:11:18 11:20:00"
    place = exif.get_ifd(0x8825)
    place[1], place[2] = "N", (51.0, 30.0, 12.0)
    place[3], place[4] = "W", (0.0, 7.0, 39.0)
    return exif


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_photos_are_upright_and_say_nothing_of_where_they_were_taken(form, orientation):
    move = STORED_AS[orientation]
    stored = marked_upright().transpose(move) if move is not None else marked_upright()
    sent = encoded(stored, form, exif=camera_exif(orientation))
    assert b"PAYLOADMAKER" in sent
    assert Image.open(io.BytesIO(sent)).getexif().get_ifd(0x8825)
    ready = photos.store_ready(sent)
    for data in (ready.full_jpeg, ready.thumb_jpeg):
        assert b"PAYLOADMAKER" not in data
        assert is_plain_jpeg(data)
        image = opened(data)
        assert image.size == (120, 160)
        red, blue, green = (image.getpixel(at) for at in ((60, 12), (60, 148), (8, 80)))
        assert red[0] > 180 > 80 > red[2]
        assert blue[2] > 180 > 80 > blue[0]
        assert green[1] > 150 > 80 > green[0]


def wide_profile() -> bytes:
    """A small ICC version 2 profile with the primaries of a wide display (figures from memory), gamma 2.2."""

    def xyz(*values: float) -> bytes:
        return b"XYZ \0\0\0\0" + b"".join(struct.pack(">i", round(value * 65536)) for value in values)

    curve = b"curv\0\0\0\0" + struct.pack(">IHH", 1, 0x0233, 0)
    tags = {
        b"rXYZ": xyz(0.5151, 0.2412, -0.0011),
        b"gXYZ": xyz(0.2920, 0.6922, 0.0419),
        b"bXYZ": xyz(0.1571, 0.0666, 0.7841),
        b"wtpt": xyz(0.9642, 1.0, 0.8249),
        b"rTRC": curve,
        b"gTRC": curve,
        b"bTRC": curve,
    }
    table, body = struct.pack(">I", len(tags)), b""
    for name, value in tags.items():
        table += name + struct.pack(">II", 128 + 4 + 12 * len(tags) + len(body), len(value))
        body += value
    head = struct.pack(
        ">I4sI4s4s4s", 132 + 12 * len(tags) + len(body), b"none", 0x02100000, b"mntr", b"RGB ", b"XYZ "
    )
    head += b"\0" * 12 + b"acsp" + b"\0" * 28 + struct.pack(">iii", 63190, 65536, 54061)
    return head.ljust(128, b"\0") + table + body


def test_a_colour_profile_is_used_and_not_kept():
    """Wide colours are brought to sRGB; the reference is Pillow's own conversion of the same pixels."""
    image = Image.new("RGB", (64, 64), (150, 90, 60))
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    same = photos.store_ready(encoded(image, "PNG", icc_profile=srgb))
    assert near(opened(same.full_jpeg).getpixel((9, 9)), (150, 90, 60))
    source = ImageCms.ImageCmsProfile(io.BytesIO(wide_profile()))
    expected = ImageCms.profileToProfile(image, source, ImageCms.createProfile("sRGB")).getpixel((9, 9))
    other = photos.store_ready(encoded(image, "PNG", icc_profile=wide_profile()))
    assert near(opened(other.full_jpeg).getpixel((9, 9)), expected)
    assert not near(expected, (150, 90, 60))
    assert is_plain_jpeg(other.full_jpeg)


def near(one: tuple[int, ...], other: tuple[int, ...]) -> bool:
    return max(abs(a - b) for a, b in zip(one, other, strict=True)) <= 4


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"", "empty"),
        (b"x" * (photos.MOST_BYTES + 1), "too-many-bytes"),
        (b"%PDF-1.7 not a photo", "not-a-picture"),
        (encoded(Image.new("RGB", (40, 40)), "GIF"), "not-a-picture"),
        (encoded(Image.new("RGB", (31, 400)), "PNG"), "too-small"),
        (encoded(Image.new("1", (8000, 6300)), "PNG"), "too-many-pixels"),
        (encoded(noise(random.Random(4)), "JPEG")[:900], "unreadable"),
        (
            b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic",
            "unreadable" if photos.reads_heic() else "heic",
        ),
        (many_scans(900), "too-much-work"),
    ],
    ids=["empty", "25 MB", "pdf", "gif", "31 px", "50.4 MP", "cut short", "heic", "900 scans"],
)
def test_what_is_no_photo_is_refused_in_a_plain_sentence(data, code):
    with pytest.raises(photos.PhotoRefused) as refused:
        photos.store_ready(data)
    assert refused.value.code == code
    assert refused.value.codes == [code]
    assert refused.value.message.endswith(".")
    assert len(refused.value.message) < 120


def attack(numbers: range) -> tuple[int, int]:
    """Send hostile uploads; returns how many were taken and refused. Anything else fails."""
    taken = refused = 0
    for number in numbers:
        kind, data = hostile(number)
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        try:
            ready = photos.store_ready(data)
        except photos.PhotoRefused:
            refused += 1
        else:
            taken += 1
            for jpeg in (ready.full_jpeg, ready.thumb_jpeg):
                assert is_plain_jpeg(jpeg), (number, kind)
                assert PAYLOAD not in jpeg, (number, kind)
            assert max(ready.width_px, ready.height_px) <= 2000
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        # The kernel counts whole ticks and ends the process at the second it is due.
        assert spent <= reencode.CPU_SECONDS + 0.3, (number, kind, spent)
    return taken, refused


def test_hostile_uploads_are_refused_or_made_harmless():
    taken, refused = attack(range(EVERYDAY))
    assert taken + refused == EVERYDAY
    assert refused >= EVERYDAY // 3
    assert taken >= EVERYDAY // 6


@pytest.mark.full
def test_a_thousand_hostile_uploads():
    taken, refused = attack(range(FULL))
    assert taken + refused == FULL


def test_the_child_cannot_take_more_than_its_share():
    """The limits are the process's own: 400 MiB of memory and 2 s of processor time."""
    script = (
        f"import sys; sys.path.insert(0, {str(Path(reencode.__file__).parent)!r})\n"
        "import reencode; reencode.limit_memory(); reencode.limit_time(1)\n"
        "try:\n    bytearray(400 * 1024 * 1024)\nexcept MemoryError:\n    print('no room', flush=True)\n"
        "while True: pass\n"
    )
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run([sys.executable, "-I", "-c", script], capture_output=True, text=True, timeout=60)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    assert done.stdout == "no room\n"
    assert done.returncode < 0
    assert after.ru_utime - before.ru_utime <= 2.3


def test_threads_may_send_photos_at_the_same_time():
    sent = [encoded(noise(random.Random(seed), 300 + seed, 200), "JPEG") for seed in range(8)]
    widths: dict[int, int] = {}

    def send(index: int) -> None:
        widths[index] = photos.store_ready(sent[index]).width_px

    threads = [threading.Thread(target=send, args=(index,)) for index in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert widths == {index: 300 + index for index in range(8)}


def test_many_pictures_at_once_come_back_in_order():
    sent = [encoded(noise(random.Random(seed), 100 + seed, 90), "JPEG") for seed in range(30)]
    ready = photos.store_ready_many(sent)
    assert [photo.width_px for photo in ready] == [100 + seed for seed in range(30)]
    assert photos.store_ready_many([]) == []
    with pytest.raises(photos.PhotoRefused):
        photos.store_ready_many([*sent[:3], b"not a photo", *sent[3:]])


def test_an_ordinary_photo_is_ready_in_a_moment():
    """12 megapixels, as phones make them: well under the two seconds that an upload may cost."""
    data = encoded(noise(random.Random(6), 4000, 3000), "JPEG")
    start = time.perf_counter()
    photos.store_ready(data)
    assert time.perf_counter() - start < 5
