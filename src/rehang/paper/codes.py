"""Small square codes on labels: drawn as vectors, and read back from a photo."""

from __future__ import annotations

import io

import zxingcpp
from PIL import Image, ImageOps, UnidentifiedImageError

from rehang.trade.errors import BadInput

__all__ = ["code_svg", "read_codes"]

# A photo straight from a phone is far larger than a code needs.
_LONGEST_SIDE = 2400


def code_svg(text: str) -> str:
    """A Data Matrix (ISO/IEC 16022) of a text, as SVG without a script or a size of its own."""
    made = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.DataMatrix, force_square=True)
    drawn: str = made.to_svg()
    return drawn[drawn.index("<svg") :]


def read_codes(photo: bytes) -> list[str]:
    """The texts of the square codes in a photo, at any angle; empty when none is found.

    Raises
    ------
    BadInput
        The file is not a picture that can be read.
    """
    try:
        with Image.open(io.BytesIO(photo)) as opened:
            picture = ImageOps.exif_transpose(opened).convert("L")
    except (UnidentifiedImageError, OSError, Image.DecompressionBombError):
        raise BadInput(
            "This file is not a picture that can be read. Take the photo again as JPEG or PNG."
        ) from None
    picture.thumbnail((_LONGEST_SIDE, _LONGEST_SIDE))
    formats = zxingcpp.BarcodeFormats(
        [zxingcpp.BarcodeFormat.DataMatrix, zxingcpp.BarcodeFormat.QRCode]
    )
    found = zxingcpp.read_barcodes(picture, formats=formats)
    return [one.text for one in found if one.valid]
