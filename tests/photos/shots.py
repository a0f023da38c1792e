"""Photos made here for the tests: drawn, never taken. Four fields of colour tell which way is up."""

import io

from PIL import ExifTags, Image

# Top left, top right, bottom left, bottom right of the scene, upright.
CORNERS = ((220, 30, 30), (30, 160, 60), (40, 60, 210), (240, 200, 40))


def scene(width: int = 400, height: int = 300) -> Image.Image:
    """The scene as a person sees it."""
    image = Image.new("RGB", (width, height))
    half = (width // 2, height // 2)
    for number, colour in enumerate(CORNERS):
        at = (half[0] * (number % 2), half[1] * (number // 2))
        image.paste(
            colour, (*at, width if number % 2 else half[0], height if number // 2 else half[1])
        )
    return image


# How the pixels lie on the sensor for each value of the tag: CIPA DC-008 (Exif 2.32), 4.6.4,
# Orientation: which side of the scene the 0th row and the 0th column are.
LIES = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


def exif(orientation: int = 1) -> Image.Exif:
    """What a phone writes beside a picture: where, when, on what, and how it was held."""
    made = Image.Exif()
    made[ExifTags.Base.Orientation] = orientation
    made[ExifTags.Base.Make] = "Invented Phone Works"
    made[ExifTags.Base.DateTime] = "2026:10:06 14:08:00"
    gps = made.get_ifd(ExifTags.IFD.GPSInfo)
    gps[ExifTags.GPS.GPSLatitudeRef] = "N"
    gps[ExifTags.GPS.GPSLatitude] = (41.0, 30.0, 12.5)
    gps[ExifTags.GPS.GPSLongitudeRef] = "W"
    gps[ExifTags.GPS.GPSLongitude] = (93.0, 15.0, 47.25)
    return made


def saved(image: Image.Image, kind: str = "JPEG", **more) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


def shot(width: int = 400, height: int = 300, orientation: int = 1, kind: str = "JPEG") -> bytes:
    """A photo as a phone sends it."""
    lies = LIES[orientation]
    image = scene(width, height)
    return saved(image.transpose(lies) if lies is not None else image, kind, exif=exif(orientation))


def opened(data: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(data))
    image.load()
    return image


def corners(image: Image.Image) -> list[tuple[int, ...]]:
    """The colour in the middle of each quarter."""
    wide, high = image.size
    return [
        image.convert("RGB").getpixel((wide * x // 4, high * y // 4))
        for y in (1, 3)
        for x in (1, 3)
    ]


def is_near(found: list[tuple[int, ...]], wanted=CORNERS, by: int = 12) -> bool:
    """JPEG and a change of colour space move a colour by a few steps of 255."""
    return all(
        abs(a - b) <= by for one, other in zip(found, wanted, strict=True)
        for a, b in zip(one, other, strict=True)
    )  # fmt: skip
