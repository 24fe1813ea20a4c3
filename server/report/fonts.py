"""The page's font for reports: its files for the PDF, and what a page of HTML needs of it within itself.

Source Sans by Adobe, SIL Open Font License 1.1 (fonts/LICENSE.md), the files as they are published. It has what is
written here: φ Ω μ ± − and thin spaces.
"""

import base64
from io import BytesIO
from pathlib import Path
from typing import Final

FAMILY: Final = "Source Sans Pro"
_FOLDER = Path(__file__).parent / "fonts"
REGULAR: Final = _FOLDER / "SourceSansPro-Regular.ttf"
SEMIBOLD: Final = _FOLDER / "SourceSansPro-Semibold.ttf"


def font_faces(characters: str) -> str:
    """Style rules that bring the glyphs of these characters along, some twenty kilobytes for a report."""
    files = ((REGULAR, "400"), (SEMIBOLD, "600 700"))
    return "".join(
        f'@font-face {{ font-family: "{FAMILY}"; font-weight: {weight}; '
        f'src: url("data:font/woff;base64,{_subset(path, characters)}") format("woff"); }}\n'
        for path, weight in files
    )


def _subset(path: Path, characters: str) -> str:
    from fontTools import subset  # it takes a while to load

    options = subset.Options(flavor="woff", layout_features=["kern", "tnum", "mark"], notdef_outline=True)
    out = BytesIO()
    with subset.load_font(str(path), options) as font:
        its = subset.Subsetter(options)
        its.populate(text=characters)
        its.subset(font)
        subset.save_font(font, out, options)
    return base64.b64encode(out.getvalue()).decode()
