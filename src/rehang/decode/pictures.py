"""Photos made fit to keep: bytes in, bytes out.

A phone's picture carries where it was taken, when, by which phone and often a second, smaller
picture. None of that is kept: the pixels are turned upright, made smaller and written anew as
JPEG, so that what is kept holds nothing but the picture.
"""

from __future__ import annotations

import hashlib
import io
import math
import struct
import zlib
from dataclasses import dataclass

from PIL import ExifTags, Image, ImageCms

from rehang.trade.terms.errors import BadInput

__all__ = [
    "LONG_SIDE",
    "MOST_BYTES",
    "MOST_PIXELS",
    "QUALITY",
    "Picture",
    "check_kept",
    "check_weight",
    "is_pdf",
    "is_picture",
    "made_fit",
    "opened_for_codes",
    "smaller",
]

# A 10× look at a plug fills some 1,000 pixels of a phone's picture; 1,600 keep all of it.
LONG_SIDE = 1600
QUALITY = 85
# A photo straight from a phone is far larger than the square code of a label needs.
CODE_SIDE = 2400
MOST_PIXELS = 40_000_000
MOST_BYTES = 20_000_000
FORMATS = ("JPEG", "PNG", "WEBP", "AVIF")
_TAKEN = "Take a JPEG, PNG, WebP or AVIF."

# Kinds of pixels of which a few can be made one.
_REDUCED = ("L", "LA", "RGB", "RGBA", "CMYK")

# First bytes of what people send by mistake, and how to say so.
_NOT_PICTURES = (
    (b"%PDF", "This is a PDF, not a photo. Send the photo itself, as JPEG or PNG."),
    (b"GIF8", "This is a GIF. Save it as JPEG or PNG and send that."),
    (b"BM", "This is a BMP. Save it as JPEG or PNG and send that."),
    (b"II*\0", "This is a TIFF or a raw picture. Save it as JPEG and send that."),
    (b"MM\0*", "This is a TIFF or a raw picture. Save it as JPEG and send that."),
    (b"PK\x03\x04", "This is a ZIP or an office file, not a photo. Send the photo itself."),
)
_HEIC_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx"}
_AVIF_BRANDS = {b"avif", b"avis"}
# What Pillow's readers raise on bytes that are not what their header says.
_UNREADABLE = (
    OSError,
    SyntaxError,
    ValueError,
    EOFError,
    RuntimeError,
    IndexError,
    KeyError,
    TypeError,
    OverflowError,
    struct.error,
    zlib.error,
)


@dataclass(frozen=True, slots=True)
class Picture:
    """A photo as it is kept."""

    data: bytes
    sha256: str
    width: int
    height: int

    @property
    def name(self) -> str:
        """The name of its file: its sum, so that the chain of a book names every byte of it."""
        return f"{self.sha256}.jpg"


def made_fit(data: bytes) -> Picture:
    """A photo turned upright, at most 1,600 pixels long, as JPEG with nothing but its pixels.

    The size is read from the header before anything is unpacked.

    Raises
    ------
    BadInput
        One sentence: not a picture, not a whole one, too large, or of a kind that is not taken.
    """
    _check_bytes(data)
    with _opened(data) as image:
        _check_pixels(image.width, image.height)
        turn = _turn_of(image)
        try:
            _load(image, LONG_SIDE)
            upright = _turned(_fitted(_plain(image), LONG_SIDE), turn)
        except _UNREADABLE as problem:
            raise _torn() from problem
    return _picture(upright)


def opened_for_codes(data: bytes) -> Image.Image:
    """A photo in greys and no larger than a code needs, upright or not.

    Raises
    ------
    BadInput
        See :func:`made_fit`.
    """
    _check_bytes(data)
    with _opened(data) as image:
        _check_pixels(image.width, image.height)
        try:
            _load(image, CODE_SIDE)
            return _fitted(image.convert("L"), CODE_SIDE)
        except _UNREADABLE as problem:
            raise _torn() from problem


def smaller(data: bytes, long_side: int) -> bytes:
    """A kept photo at a smaller size, for a page or for paper; as it is where it is small."""
    with _opened(data) as image:
        _check_pixels(image.width, image.height)
        if max(image.size) <= long_side:
            return data
        try:
            _load(image, long_side)
            return _picture(_fitted(_plain(image), long_side)).data
        except _UNREADABLE as problem:
            raise _torn() from problem


def check_kept(data: bytes, where: str = "") -> None:
    """Whether a photo out of a folder is one that can be shown and printed: a whole JPEG.

    Raises
    ------
    BadInput
        It is not.
    """
    try:
        _check_bytes(data)
        with _opened(data, formats=("JPEG",)) as image:
            _check_pixels(image.width, image.height)
            image.load()
    except BadInput as refusal:
        raise BadInput(refusal.sentence, where) from refusal
    except _UNREADABLE as problem:
        raise BadInput(_torn().sentence, where) from problem


def check_weight(number_of_bytes: int) -> None:
    """Whether a file is not too heavy to be read at all."""
    if number_of_bytes > MOST_BYTES:
        raise BadInput(
            f"The photo has {number_of_bytes / 1e6:,.1f} MB; at most {MOST_BYTES // 1_000_000} "
            "are taken. Send it smaller."
        )


def _torn() -> BadInput:
    return BadInput("The picture is torn: part of it is missing or spoilt. Send it again.")


def _check_bytes(data: bytes) -> None:
    """What the first bytes tell, before any reader is let near the rest."""
    if not data:
        raise BadInput("The file is empty. Pick the photo again.")
    check_weight(len(data))
    if data[4:8] == b"ftyp":
        brands = {data[8:12]} | {data[at : at + 4] for at in range(16, _box_end(data), 4)}
        if brands & _HEIC_BRANDS and not brands & _AVIF_BRANDS:
            raise BadInput("This is a HEIC picture. Save it as JPEG and send that.")
        if not brands & _AVIF_BRANDS:
            raise BadInput("This is a film, not a photo. Send a photo of it.")
    for start, sentence in _NOT_PICTURES:
        if data.startswith(start):
            raise BadInput(sentence)
    if is_pdf(data):
        raise BadInput(_NOT_PICTURES[0][1])
    if not is_picture(data):
        if _is_text(data[:4096]):
            raise BadInput("This is a text file, not a photo. Send the photo itself.")
        raise BadInput(f"This file is not a picture that can be read. {_TAKEN}")


def _box_end(data: bytes) -> int:
    """Where the list of brands at the front of the file ends: ISO/IEC 14496-12, 4.3."""
    return min(int.from_bytes(data[:4], "big"), 256, len(data) - 3)


def is_pdf(data: bytes) -> bool:
    """Whether a file begins as a PDF, by its bytes and not by its name."""
    # Readers of PDF look for its mark in the first 1,024 bytes (from memory).
    return data.startswith(b"%PDF") or (b"%PDF-" in data[:1024] and not is_picture(data))


def is_picture(data: bytes) -> bool:
    """Whether a file begins as a picture, by its bytes and not by its name."""
    return (
        data.startswith((b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n"))
        or (data[:4] == b"RIFF" and data[8:12] == b"WEBP")
        or data[4:8] == b"ftyp"
    )


def _is_text(data: bytes) -> bool:
    """Letters and line ends only; the last character may be cut in two."""
    if b"\0" in data:
        return False
    text = data.decode("utf-8", "ignore")
    return len(text.encode()) >= len(data) - 3 and all(
        char.isprintable() or char in "\r\n\t\f\ufeff" for char in text
    )


def _opened(data: bytes, formats: tuple[str, ...] = FORMATS) -> Image.Image:
    """The picture with its header read and nothing unpacked."""
    try:
        return Image.open(io.BytesIO(data), formats=formats)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as problem:
        # Pillow's own guard stands higher than ours, so this one is larger still.
        raise BadInput(
            f"The picture has far more than {MOST_PIXELS // 1_000_000} megapixels. Send it smaller."
        ) from problem
    except _UNREADABLE as problem:
        raise BadInput(
            "The picture cannot be read: its beginning is torn or spoilt. Send it again."
        ) from problem


def _check_pixels(width: int, height: int) -> None:
    if width * height > MOST_PIXELS:
        raise BadInput(
            f"The picture is {width:,} by {height:,}, {width * height / 1e6:,.1f} megapixels; "
            f"at most {MOST_PIXELS // 1_000_000} are taken. Send it smaller."
        )


def _turn_of(image: Image.Image) -> int:
    """How the camera was held, 1 to 8 (Exif 2.32, 4.6.4, tag 0x0112); 1 where it does not say."""
    try:
        turn = image.getexif().get(ExifTags.Base.Orientation, 1)
    except _UNREADABLE:
        # Spoilt notes beside a whole picture: the pixels are shown as they lie.
        return 1
    return turn if isinstance(turn, int) and 1 <= turn <= 8 else 1


_TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}


def _turned(image: Image.Image, turn: int) -> Image.Image:
    return image.transpose(_TURNS[turn]) if turn in _TURNS else image


def _load(image: Image.Image, long_side: int) -> None:
    """Unpack the pixels; a JPEG at an eighth, a quarter or a half where that is enough."""
    part = min(1.0, long_side / max(image.size))
    image.draft(None, (math.ceil(image.width * part), math.ceil(image.height * part)))
    image.load()


def _plain(image: Image.Image) -> Image.Image:
    """The pixels in sRGB on white, with nothing else of the picture left."""
    whole = image
    profile = image.info.get("icc_profile")
    if image.mode.startswith("I"):
        # Sixteen bits a pixel: the upper eight. Pillow's own conversion would cut at 255.
        whole = image.convert("I").point(lambda value: value / 256).convert("L")
    elif image.mode == "P" or "transparency" in image.info:
        whole = image.convert("RGBA")
    whole = _coarse(whole)
    if "A" in whole.getbands():
        alpha = whole.getchannel("A")
        ground = Image.new("RGB", whole.size, "white")
        ground.paste(_in_srgb(whole.convert("RGB"), profile), mask=alpha)
        return ground
    made = _in_srgb(whole, profile)
    plain = Image.new("RGB", made.size)
    plain.paste(made)
    return plain


def _coarse(image: Image.Image) -> Image.Image:
    """Half as long or less where that is still twice what is kept: whole, each copy has 160 MB."""
    times = max(image.size) // (2 * LONG_SIDE)
    return image.reduce(times) if times > 1 and image.mode in _REDUCED else image


def _in_srgb(image: Image.Image, profile: object) -> Image.Image:
    """In the colours of a common screen; phones of late write wider ones and say so."""
    if isinstance(profile, bytes) and profile and image.mode in ("RGB", "CMYK", "L"):
        try:
            said = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            made = ImageCms.profileToProfile(
                image, said, ImageCms.createProfile("sRGB"), outputMode="RGB"
            )
        except (ImageCms.PyCMSError, *_UNREADABLE):
            # A spoilt profile beside a whole picture: colours as they stand.
            made = None
        if made is not None:
            return made
    return image.convert("RGB")


def _fitted(image: Image.Image, long_side: int) -> Image.Image:
    """No longer than that; a smaller one stays as it is."""
    if max(image.size) <= long_side:
        return image
    part = long_side / max(image.size)
    # A strip keeps one pixel of its short side.
    width, height = (max(1, round(side * part)) for side in image.size)
    return image.resize((width, height), Image.Resampling.LANCZOS)


def _picture(image: Image.Image) -> Picture:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=QUALITY, optimize=True)
    data = out.getvalue()
    return Picture(data, hashlib.sha256(data).hexdigest(), image.width, image.height)
