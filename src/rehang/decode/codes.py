"""Small square codes read back from a photo."""

from __future__ import annotations

import zxingcpp

from rehang.decode.pictures import opened_for_codes

__all__ = ["read_codes"]


def read_codes(photo: bytes) -> list[str]:
    """The texts of the square codes in a photo, at any angle; empty when none is found.

    Raises
    ------
    BadInput
        One sentence: not a picture, not a whole one, too large, or of a kind that is not taken.
    """
    formats = zxingcpp.BarcodeFormats(
        [zxingcpp.BarcodeFormat.DataMatrix, zxingcpp.BarcodeFormat.QRCode]
    )
    found = zxingcpp.read_barcodes(opened_for_codes(photo), formats=formats)
    return [one.text for one in found if one.valid]
