"""How wide a text stands in the sheet's typeface, so that a row gets the height that its wrapped text needs.

Widths are those of Arial in thousandths of the letter size, read from Liberation Sans, whose letters are as
wide.
"""

from __future__ import annotations

import unicodedata

#: Width to the letters that have it.
_REGULAR = {
    191: "'",
    222: "ijl",
    260: "|",
    278: " !,./:;I[\\]ft",
    333: "()-`r“”",
    334: "{}",
    355: '"',
    389: "*",
    400: "°",
    469: "^",
    500: "Jcksvxyz",
    556: "#$0123456789?L_abdeghnopqu–",
    584: "+<=>~",
    611: "FTZ",
    667: "&ABEKPSVXY",
    722: "CDHNRUw",
    778: "GOQ",
    833: "Mm",
    889: "%",
    944: "W",
    1000: "…",
    1015: "@",
}
_BOLD = {
    238: "'",
    278: " ,./I\\ijl",
    280: "|",
    333: "!()-:;[]`ft",
    389: "*r{}",
    400: "°",
    474: '"',
    500: "z“”",
    556: "#$0123456789J_aceksvxy–",
    584: "+<=>^~",
    611: "?FLTZbdghnopqu",
    667: "EPSVXY",
    722: "&ABCDHKNRU",
    778: "GOQw",
    833: "M",
    889: "%m",
    944: "W",
    975: "@",
    1000: "…",
}
_WIDTHS = {
    bold: {letter: width for width, letters in table.items() for letter in letters}
    for bold, table in ((False, _REGULAR), (True, _BOLD))
}
#: Letters that are not listed: marks are laid over other letters, the rest is as wide as it is high.
_OTHER = 1000
#: Height of a line of text in letter sizes, and the space above and below all lines in points.
LINE_HEIGHT, PADDING = 1.3, 4.0
#: Pixels of one point, of one character of a column's width (a digit of Arial 11), and between two columns.
PIXELS_PER_POINT, PIXELS_PER_CHARACTER, PIXELS_BETWEEN = 96 / 72, 8, 5
#: Programs round letters to whole pixels, each in its own way.
ROUNDING = 1.05


def text_width(text: str, bold: bool = False) -> float:
    """Width of a text in letter sizes."""
    widths, total = _WIDTHS[bold], 0
    for letter in unicodedata.normalize("NFD", text):
        if not unicodedata.combining(letter):
            total += widths.get(" " if letter == "\u00a0" else letter, _OTHER)
    return total / 1000


def lines_of(text: str, room: float, bold: bool = False) -> int:
    """How many lines a text takes where a line has room for `room` letter sizes; long words are broken."""
    lines, blank = 0, text_width(" ", bold)
    for paragraph in text.split("\n"):
        lines, used = lines + 1, 0.0
        for word in paragraph.split(" "):
            width = text_width(word, bold)
            if used and used + width > room:
                lines, used = lines + 1, 0.0
            if width > room:
                lines, width = lines + int(width // room), width % room
            used += width + blank
    return lines


def room_for(columns: int, column_width: float, size: float, indent: int = 0) -> float:
    """How many letter sizes a line has room for in a box of that many columns."""
    pixels = columns * (column_width * PIXELS_PER_CHARACTER + PIXELS_BETWEEN) - PIXELS_BETWEEN
    return (pixels - indent * (PIXELS_PER_CHARACTER + 1)) / (size * PIXELS_PER_POINT * ROUNDING)


def height_of(
    text: str, columns: int, column_width: float, size: float, bold: bool = False, indent: int = 0
) -> float:
    """Height in points in which a wrapped text stands whole in a box of that many columns."""
    lines = lines_of(text, room_for(columns, column_width, size, indent), bold)
    return lines * size * LINE_HEIGHT + PADDING
