"""Photos made fit to keep: what is left out, which way is up, and what is refused in one sentence."""

import hashlib
import io
import re
import struct
import zlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ExifTags, Image, ImageCms, JpegImagePlugin

from rehang.decode import pictures
from rehang.decode.pictures import check_kept, check_weight, made_fit, smaller
from rehang.trade.terms.errors import BadInput
from tests.photos.shots import (
    CORNERS,
    corners,
    exif,
    is_near,
    opened,
    saved,
    scene,
    shot,
)

# Pillow mentions spoilt notes beside a picture as a warning, and goes on.
pytestmark = pytest.mark.filterwarnings("ignore::UserWarning:PIL")

KINDS = ["JPEG", "PNG", "WEBP", "AVIF"]


def refusal(data: bytes) -> str:
    with pytest.raises(BadInput, match=r"\.$") as refused:
        made_fit(data)
    return str(refused.value)


# ---------------------------------------------------------------- what is kept


@pytest.mark.parametrize("kind", KINDS)
def test_where_when_and_on_what_it_was_taken_is_not_kept(kind):
    sent = shot(kind=kind)
    assert opened(sent).getexif().get_ifd(ExifTags.IFD.GPSInfo), "the shot has a place in it"
    kept = made_fit(sent)
    image = opened(kept.data)
    assert image.format == "JPEG"
    assert dict(image.getexif()) == {}
    assert dict(image.getexif().get_ifd(ExifTags.IFD.GPSInfo)) == {}
    assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    for word in (b"Exif", b"GPS", b"Invented Phone", b"2026:10:06", b"ICC_PROFILE", b"http:"):
        assert word not in kept.data


def test_only_the_segments_of_a_bare_jpeg_are_kept():
    """Every segment of the file by its marker: JPEG, ITU-T T.81, table B.1; APP0 is JFIF's."""
    data = made_fit(saved(scene(), comment=b"shot at home", exif=exif(), xmp=b"<x:xmpmeta/>")).data
    at, markers = 2, []
    while data[at + 1] != 0xDA:
        markers.append(data[at + 1])
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    # APP0, tables of quantization, the frame, tables of Huffman codes. No APP1, no comment.
    assert set(markers) <= {0xE0, 0xDB, 0xC0, 0xC4}


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "AVIF"])
def test_a_photo_stands_upright_however_the_phone_was_held(kind, orientation):
    kept = made_fit(shot(400, 300, orientation, kind))
    image = opened(kept.data)
    assert image.size == (kept.width, kept.height) == (400, 300)
    assert is_near(corners(image))


@pytest.mark.parametrize(
    ("sent", "kept"),
    [
        ((4000, 3000), (1600, 1200)),
        ((3000, 4000), (1200, 1600)),
        ((1601, 20), (1600, 20)),
        ((4000, 1), (1600, 1)),
        ((1600, 1600), (1600, 1600)),
        ((40, 30), (40, 30)),
        ((1, 1), (1, 1)),
    ],
)
def test_a_photo_is_at_most_1600_long_and_never_made_larger(sent, kept):
    made = made_fit(shot(*sent))
    assert (made.width, made.height) == kept == opened(made.data).size


def test_a_photo_is_named_by_the_sum_of_its_bytes():
    made = made_fit(shot())
    assert made.sha256 == hashlib.sha256(made.data).hexdigest()
    assert made.name == f"{made.sha256}.jpg"
    assert made_fit(shot()) == made


def test_what_is_kept_can_be_kept_again_and_made_smaller():
    made = made_fit(shot(2000, 1500))
    check_kept(made.data)
    small = opened(smaller(made.data, 480))
    assert small.size == (480, 360)
    assert is_near(corners(small))
    assert smaller(made.data, 1600) == made.data


@pytest.mark.parametrize("mode", ["L", "CMYK", "1", "P", "LA", "RGBA", "I;16"])
def test_a_picture_of_any_kind_of_pixels_is_taken(mode):
    kind = "JPEG" if mode in ("L", "CMYK") else "PNG"
    grey = scene().convert("L")
    if mode == "I;16":
        sent = Image.frombytes("I;16", grey.size, b"".join(bytes((0, v)) for v in grey.tobytes()))
    elif mode == "P":
        sent = scene().quantize(4)
    else:
        sent = scene().convert(mode)
    image = opened(made_fit(saved(sent, kind)).data)
    assert image.mode == "RGB"
    assert image.size == (400, 300)
    # One bit a pixel is dots of black and white: only the size can be told.
    greys = [(v, v, v) for v in (grey.getpixel((x, y)) for y in (75, 225) for x in (100, 300))]
    assert mode == "1" or is_near(
        corners(image), CORNERS if mode in ("CMYK", "P", "RGBA") else greys
    )


def test_clear_parts_become_white_and_not_black():
    clear = Image.new("RGBA", (40, 40), (0, 0, 0, 0))
    assert is_near(corners(opened(made_fit(saved(clear, "PNG")).data)), [(255, 255, 255)] * 4)


def test_colours_are_those_that_the_profile_beside_them_means():
    """A profile with red and green changed about (ICC.1, 7.3, the tag table) changes them about."""
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    changed = (
        srgb.replace(b"rXYZ", b"hold", 1).replace(b"gXYZ", b"rXYZ", 1).replace(b"hold", b"gXYZ", 1)
    )
    assert is_near(corners(opened(made_fit(saved(scene(), icc_profile=srgb)).data)))
    made = made_fit(saved(scene(), icc_profile=changed))
    assert is_near(corners(opened(made.data)), [(g, r, b) for r, g, b in CORNERS])
    assert b"ICC_PROFILE" not in made.data


def test_a_spoilt_profile_beside_a_whole_picture_does_not_matter():
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    assert is_near(corners(opened(made_fit(saved(scene(), icc_profile=srgb[:40])).data)))


def test_spoilt_notes_beside_a_whole_picture_do_not_matter():
    sent = saved(scene(), exif=b"Exif\0\0MM\0*\xff\xff\xff\xff\xff\xff" + b"\xff" * 40)
    assert is_near(corners(opened(made_fit(sent).data)))


@settings(max_examples=60)
@given(
    st.integers(1, 1800), st.integers(1, 1800), st.integers(1, 8), st.sampled_from(["JPEG", "PNG"])
)
def test_no_size_and_no_way_of_holding_loses_the_shape(width, height, orientation, kind):
    made = made_fit(shot(width, height, orientation, kind))
    assert max(made.width, made.height) == min(1600, max(width, height))
    part = max(made.width, made.height) / max(width, height)
    assert abs(made.width - width * part) <= 1
    assert abs(made.height - height * part) <= 1
    assert made_fit(made.data).data[:2] == b"\xff\xd8"


# ---------------------------------------------------------------- what is refused

NOT_PHOTOS = [
    (b"", "The file is empty. Pick the photo again."),
    (b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n", "This is a PDF, not a photo. Send the photo itself, as JPEG or PNG."),
    (b"\r\n\r\n%PDF-1.4\n1 0 obj", "This is a PDF, not a photo. Send the photo itself, as JPEG or PNG."),
    ("Öl gewechselt, 18 Tausendstel.\n".encode(), "This is a text file, not a photo. Send the photo itself."),
    (b"<svg xmlns='x'><script/></svg>", "This is a text file, not a photo. Send the photo itself."),
    (b"<!doctype html><p>Hello", "This is a text file, not a photo. Send the photo itself."),
    (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", "This is a HEIC picture. Save it as JPEG and send that."),
    (b"\0\0\0\x18ftypmif1\0\0\0\0mif1heix", "This is a HEIC picture. Save it as JPEG and send that."),
    (b"\0\0\0\x18ftypisom\0\0\0\0isommp42", "This is a film, not a photo. Send a photo of it."),
    (b"GIF89a\1\0\1\0", "This is a GIF. Save it as JPEG or PNG and send that."),
    (b"II*\0\x08\0\0\0", "This is a TIFF or a raw picture. Save it as JPEG and send that."),
    (b"BM\x9a\0\0\0", "This is a BMP. Save it as JPEG or PNG and send that."),
    (b"PK\x03\x04\x14\0", "This is a ZIP or an office file, not a photo. Send the photo itself."),
    (bytes(range(256)), "This file is not a picture that can be read. Take a JPEG, PNG, WebP or AVIF."),
    (b"\xff\xd8\xff", "The picture cannot be read: its beginning is torn or spoilt. Send it again."),
]  # fmt: skip


@pytest.mark.parametrize(("data", "sentence"), NOT_PHOTOS)
def test_what_is_no_photo_is_refused_by_its_name(data, sentence):
    assert refusal(data) == sentence


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("part", [0.2, 0.5, 0.9])
def test_a_torn_picture_is_refused(kind, part):
    noise = Image.frombytes("RGB", (200, 200), np.random.default_rng(4).bytes(120_000))
    whole = saved(noise, kind)
    assert re.match(
        r"The picture (is torn: part of it is missing or spoilt"
        r"|cannot be read: its beginning is torn or spoilt)\. Send it again\.$",
        refusal(whole[: int(len(whole) * part)]),
    )


def png_of(width: int, height: int, data: bytes = b"") -> bytes:
    """A PNG whose header says a size and whose pixels are not there: W3C PNG, 11.2.2."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
        )

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(data))
        + chunk(b"IEND", b"")
    )


def test_more_than_40_megapixels_is_refused_before_anything_is_unpacked(monkeypatch):
    def unpack(self):
        raise AssertionError("pixels were unpacked")

    monkeypatch.setattr(Image.Image, "load", unpack)
    monkeypatch.setattr(JpegImagePlugin.JpegImageFile, "load", unpack)
    assert refusal(png_of(8000, 5001)) == (
        "The picture is 8,000 by 5,001, 40.0 megapixels; at most 40 are taken. Send it smaller."
    )
    # Past Pillow's own guards, the one that warns and the one that stops.
    for side in (9_900, 30_000, 2**31 - 1):
        assert refusal(png_of(side, side)) == (
            "The picture has far more than 40 megapixels. Send it smaller."
        )


def test_40_megapixels_are_taken():
    made = made_fit(saved(Image.new("RGB", (8000, 5000), (90, 90, 90)), "JPEG"))
    assert (made.width, made.height) == (1600, 1000)


def test_more_than_20_megabytes_is_refused():
    assert refusal(shot() + b"\0" * 20_000_000) == (
        "The photo has 20.0 MB; at most 20 are taken. Send it smaller."
    )
    check_weight(20_000_000)
    with pytest.raises(BadInput, match=r"^The photo has 1,000\.0 MB; at most 20 are taken\."):
        check_weight(1_000_000_000)


WHOLE = {kind: shot(64, 48, 6, kind) for kind in KINDS}


@settings(max_examples=300)
@given(st.sampled_from(KINDS), st.data())
def test_spoilt_bytes_give_a_picture_or_one_sentence(kind, data):
    spoilt = bytearray(WHOLE[kind])
    for _ in range(data.draw(st.integers(1, 6))):
        spoilt[data.draw(st.integers(0, len(spoilt) - 1))] = data.draw(st.integers(0, 255))
    cut = data.draw(st.integers(0, len(spoilt)))
    sent = bytes(spoilt[:cut] if data.draw(st.booleans()) else spoilt)
    try:
        made = made_fit(sent)
    except BadInput:
        assert refusal(sent).endswith(".")
    else:
        check_kept(made.data)


@settings(max_examples=200)
@given(st.binary(max_size=400))
def test_any_bytes_at_all_are_refused_in_a_sentence(data):
    assert refusal(data).endswith(".")


def test_a_photo_out_of_a_folder_has_to_be_a_whole_jpeg():
    kept = made_fit(shot(900, 700)).data
    check_kept(kept)
    with pytest.raises(BadInput, match=r"^line 3: The picture is torn: "):
        check_kept(kept[: len(kept) // 2], "line 3")
    with pytest.raises(BadInput, match=r"^The picture cannot be read: "):
        check_kept(saved(scene(), "PNG"))
    with pytest.raises(BadInput, match=r"^This is a PDF, not a photo\."):
        check_kept(b"%PDF-1.7")


def test_every_kind_that_is_taken_can_be_read_here():
    assert set(pictures.FORMATS) == set(KINDS)
    for kind in KINDS:
        assert opened(WHOLE[kind]).format == kind
        assert io.BytesIO(made_fit(WHOLE[kind]).data).read(3) == b"\xff\xd8\xff"
