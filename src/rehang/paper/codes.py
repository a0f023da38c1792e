"""Small square codes on labels, drawn as vectors."""

from __future__ import annotations

import zxingcpp

__all__ = ["code_svg"]


def code_svg(text: str) -> str:
    """A Data Matrix (ISO/IEC 16022) of a text, as SVG without a script or a size of its own."""
    made = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.DataMatrix, force_square=True)
    drawn: str = made.to_svg()
    return drawn[drawn.index("<svg") :]
