"""How tests read paper: the text of a PDF and its pages as pictures, by libraries not ours."""

from __future__ import annotations

import re

import pypdfium2
import zxingcpp
from PIL import Image

SCALE = 3.0  # 216 dots per inch: what an office scanner gives


def text_of(pdf: bytes) -> str:
    """Return what a reader finds when it searches the PDF, spaces evened out."""
    document = pypdfium2.PdfDocument(pdf)
    words = " ".join(page.get_textpage().get_text_bounded() for page in document)
    return re.sub(r"\s+", " ", words)


def pictures_of(pdf: bytes) -> list[Image.Image]:
    """Return each page as a picture."""
    return [page.render(scale=SCALE).to_pil() for page in pypdfium2.PdfDocument(pdf)]


def sizes_mm(pdf: bytes) -> list[tuple[float, float]]:
    """Return width and height of each page."""
    return [
        (page.get_width() / 72.0 * 25.4, page.get_height() / 72.0 * 25.4)
        for page in pypdfium2.PdfDocument(pdf)
    ]


def codes_in(picture: Image.Image) -> dict[str, str]:
    """Return what a scanner reads, by the kind of code."""
    return {str(code.format): code.text for code in zxingcpp.read_barcodes(picture)}
