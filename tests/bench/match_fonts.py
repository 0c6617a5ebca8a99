"""Works out the faces shown until a font has come, so that its coming moves nothing; prints them as CSS.

Run by hand with fontTools and a folder of the fallback fonts: ``python tests/bench/match_fonts.py FOLDER``.
Liberation has the widths of Arial, Times New Roman and Courier New; Roboto is a telephone's, DejaVu what a
bare Linux has. ``size-adjust`` is the mean width of a letter of ours over that of the fallback, in words of
this trade; ``ascent-override`` and ``descent-override`` are our font's own over ``size-adjust``, as the
browser multiplies them by it again (https://www.w3.org/TR/css-fonts-5/#size-adjust-desc). The range is what
all of ours have, so that no sign is drawn in a fallback once our font is there.
"""

import sys
from pathlib import Path

from fontTools.ttLib import TTFont

HERE = Path(__file__).resolve().parents[2] / "static" / "vendor" / "fonts"
WORDS = (
    "the quick brown fox jumps over the lazy dog and some more of plain words that people read in"
    " a work order Battery panel roof wire fuse torque charge controller inverter Customer vehicle job"
    " design install quote 0123456789 2026-001 12.6 V 100 A"
)
#: Ours, its weight, the fallback by its full names, the file measured for it.
PAIRS = (
    ("Source Sans 3", 400, "source-sans-3-5.3.1-latin-400", (1.0, 0.326)),
    ("Source Sans 3", 600, "source-sans-3-5.3.1-latin-600", (1.0, 0.326)),
    ("Zilla Slab", 600, "zilla-slab-5.3-600", (0.944, 0.256)),
    ("IBM Plex Mono", 400, "ibm-plex-mono-5.3.0-latin-400", (1.025, 0.275)),
    ("IBM Plex Mono", 600, "ibm-plex-mono-5.3.0-latin-600", (1.025, 0.275)),
)
NEAR = {
    ("Source Sans 3", 400): (
        ("Arial", ("Arial", "Liberation Sans", "Helvetica"), "LiberationSans-Regular"),
        ("Roboto", ("Roboto", "Roboto Regular"), "Roboto-Regular"),
        ("DejaVu", ("DejaVu Sans",), "DejaVuSans"),
    ),
    ("Source Sans 3", 600): (
        ("Arial", ("Arial Bold", "Liberation Sans Bold", "Helvetica Bold"), "LiberationSans-Bold"),
        ("Roboto", ("Roboto Bold",), "Roboto-Bold"),
        ("DejaVu", ("DejaVu Sans Bold",), "DejaVuSans-Bold"),
    ),
    ("Zilla Slab", 600): (
        ("Times", ("Times New Roman Bold", "Liberation Serif Bold", "Times Bold"), "LiberationSerif-Bold"),
        ("DejaVu", ("DejaVu Serif Bold",), "DejaVuSerif-Bold"),
    ),
    ("IBM Plex Mono", 400): (
        ("Courier", ("Courier New", "Liberation Mono"), "LiberationMono-Regular"),
        ("DejaVu", ("DejaVu Sans Mono",), "DejaVuSansMono"),
    ),
    ("IBM Plex Mono", 600): (
        ("Courier", ("Courier New Bold", "Liberation Mono Bold"), "LiberationMono-Bold"),
        ("DejaVu", ("DejaVu Sans Mono Bold",), "DejaVuSansMono-Bold"),
    ),
}


def mean(path: Path) -> float:
    """Return the mean width of a letter of the words, in ems."""
    font = TTFont(path)
    shapes, widths = font.getBestCmap(), font["hmtx"]
    found = [widths[shapes[ord(sign)]][0] for sign in WORDS]
    return sum(found) / len(found) / font["head"].unitsPerEm


for family, weight, file, (ascent, descent) in PAIRS:
    for near, names, measured in NEAR[family, weight]:
        (path,) = [each for each in Path(sys.argv[1]).rglob("*.ttf") if each.stem == measured]
        size = mean(HERE / f"{file}.woff2") / mean(path)
        sources = ", ".join(f'local("{name}")' for name in names)
        print(
            f'@font-face {{ font-family: "{family} like {near}"; src: {sources}; font-weight: {weight};'
            f" size-adjust: {size:.2%}; ascent-override: {ascent / size:.2%};"
            f" descent-override: {descent / size:.2%}; line-gap-override: 0%;"
            " unicode-range: U+0020-007E, U+00A0-00FF, U+2013-2014, U+2018-201D; }"
        )
