"""Photographs that cannot be shown, or show nothing: found while the folder is read, not at the end of a publish."""

from io import BytesIO

_FAINT = 50  # points a byte: a picture packed closer than this may be one even ground


def picture_fault(content: bytes) -> str:
    """Return what is wrong with the bytes of a PNG picture, "" where nothing is."""
    # Imported here because a department without photographs needs no reader of them.
    from PIL import Image, UnidentifiedImageError  # noqa: PLC0415

    try:
        with Image.open(BytesIO(content), formats=("PNG",)) as opened:
            is_faint = opened.width * opened.height > len(content) * _FAINT
            opened.verify()
        if is_faint:
            with Image.open(BytesIO(content), formats=("PNG",)) as opened:
                points = opened.convert("RGBA").tobytes()
                if points == points[:4] * (len(points) // 4):
                    return "shows nothing: all its points have one colour"
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return "cannot be read as a PNG picture"
    return ""
