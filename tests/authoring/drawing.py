"""Measures a drawing of the command: boxes of parts, texts by the length that they are said to have, lines, and what of
them lies on what. It knows nothing of how the drawing was made."""

import re
import xml.etree.ElementTree as ET
from typing import List, NamedTuple, Tuple

SVG = "{http://www.w3.org/2000/svg}"
FONT = {"port": 8, "heading": 13}


class Box(NamedTuple):
    left: float
    top: float
    right: float
    bottom: float
    name: str

    def meets(self, other: "Box", by: float = 0.5) -> bool:
        return (self.left < other.right - by and other.left < self.right - by
                and self.top < other.bottom - by and other.top < self.bottom - by)


class Drawing(NamedTuple):
    parts: List[Box]
    texts: List[Box]
    lines: List[Tuple[str, Box]]  # net, the segment as a box without width


def read(svg: str) -> Drawing:
    root = ET.fromstring(svg)
    parts, texts, lines = [], [], []

    def walk(element, dx, dy):
        moved = re.match(r"translate\(([-\d.]+) ([-\d.]+)\)$", element.get("transform", ""))
        if element.get("transform") and not moved:
            return  # inside a symbol, turned
        if moved:
            dx, dy = dx + float(moved[1]), dy + float(moved[2])
        kind = element.get("class", "")
        if element.tag == SVG + "rect" and kind == "part":
            x, y = float(element.get("x")) + dx, float(element.get("y")) + dy
            parts.append(Box(x, y, x + float(element.get("width")), y + float(element.get("height")), "part"))
        elif element.tag == SVG + "text":
            x, y = float(element.get("x")) + dx, float(element.get("y")) + dy
            size = FONT.get(kind, 10)
            texts.append(Box(x, y - 0.75 * size, x + float(element.get("textLength")), y + 0.2 * size, element.text))
        elif element.tag == SVG + "path" and kind == "line":
            x1, y1, x2, y2 = map(float, re.match(r"M([-\d.]+) ([-\d.]+)L([-\d.]+) ([-\d.]+)$", element.get("d")).groups())
            assert x1 == x2 or y1 == y2, element.get("d")
            lines.append((element.get("data-net"),
                          Box(min(x1, x2) + dx, min(y1, y2) + dy, max(x1, x2) + dx, max(y1, y2) + dy, "line")))
        for child in element:
            walk(child, dx, dy)

    walk(root, 0.0, 0.0)
    return Drawing(parts, texts, lines)


def overlaps(drawing: Drawing) -> "List[str]":
    """What lies on what, in words."""
    out = []
    for of, things in (("parts", drawing.parts), ("texts", drawing.texts)):
        for i, one in enumerate(things):
            out += [f"{of}: {one} {other}" for other in things[i + 1:] if one.meets(other)]
    for text in drawing.texts:
        # A port's name stands beside its part, never on it.
        out += [f"text on a part: {text} {part}" for part in drawing.parts if text.meets(part)]
    for net, line in drawing.lines:
        fat = Box(line.left - 0.3, line.top - 0.3, line.right + 0.3, line.bottom + 0.3, "line " + net)
        out += [f"line on a part: {fat} {part}" for part in drawing.parts if fat.meets(part)]
        out += [f"line on a text: {fat} {text}" for text in drawing.texts if fat.meets(text, 0.1)]
    for i, (net, one) in enumerate(drawing.lines):
        for other_net, other in drawing.lines[i + 1:]:
            if net == other_net:
                continue
            flat = one.top == one.bottom and other.top == other.bottom and abs(one.top - other.top) < 2
            up = one.left == one.right and other.left == other.right and abs(one.left - other.left) < 2
            if flat and one.left < other.right and other.left < one.right:
                out.append(f"lines of {net} and {other_net} on each other at y {one.top}")
            if up and one.top < other.bottom and other.top < one.bottom:
                out.append(f"lines of {net} and {other_net} on each other at x {one.left}")
    return out
