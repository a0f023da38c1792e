"""Small square codes, drawn as vectors for labels and screens and as blocks for a terminal."""

from __future__ import annotations

from html import escape

import numpy as np
import zxingcpp
from numpy.typing import NDArray

__all__ = ["code_svg", "code_text", "qr_svg"]


def code_svg(text: str) -> str:
    """A Data Matrix (ISO/IEC 16022) of a text, as SVG without a script or a size of its own."""
    made = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.DataMatrix, force_square=True)
    drawn: str = made.to_svg()
    return drawn[drawn.index("<svg") :]


def qr_svg(text: str, said: str) -> str:
    """A QR code of a text, as SVG that grows with its place; ``said`` is read out in its stead."""
    dark = _qr(text)
    squares = "".join(f"M{x} {y}h1v1h-1z" for y, x in np.argwhere(dark).tolist())
    return (
        f'<svg class="square-mark" viewBox="0 0 {len(dark)} {len(dark)}" role="img" aria-label="{escape(said)}" '
        f'shape-rendering="crispEdges"><path fill="#fff" d="M0 0h{len(dark)}v{len(dark)}H0z"/>'
        f'<path d="{squares}"/></svg>'
    )


def code_text(text: str) -> str:
    """A QR code of a text as lines of half blocks, for a terminal that is light on dark."""
    dark = _qr(text)
    if len(dark) % 2:
        dark = np.pad(dark, ((0, 1), (0, 0)))
    blocks = {(0, 0): "\u2588", (0, 1): "\u2580", (1, 0): "\u2584", (1, 1): " "}
    return "\n".join(
        "".join(blocks[int(a), int(b)] for a, b in zip(above, below, strict=True))
        for above, below in zip(dark[::2], dark[1::2], strict=True)
    )


def _qr(text: str) -> NDArray[np.bool_]:
    """The dark squares of a QR code (ISO/IEC 18004), which every phone's own camera reads.

    Around them are the four light ones that the standard asks for.
    """
    made = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.QRCode, ec_level="M")
    drawn = np.asarray(made.to_image(scale=1, add_quiet_zones=False))
    return np.pad(drawn < 128, 4)
