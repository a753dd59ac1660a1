"""SVG elements, made and written by the standard library's ElementTree; no text in them can steer what shows it."""

from __future__ import annotations

from collections.abc import Mapping
from xml.etree.ElementTree import Element, tostring

from connector_check.files.text import printable

XMLNS = "http://www.w3.org/2000/svg"


def element(tag: str, attributes: Mapping[str, str], *inside: Element | str) -> Element:
    """An element with its attributes, its text (before any element in it), and the elements in it.

    Control characters and direction marks in text and attributes are shown as `?`.
    """
    made = Element(tag, {name: printable(value) for name, value in attributes.items()})
    made.text = "".join(printable(part) for part in inside if isinstance(part, str)) or None
    made.extend(part for part in inside if not isinstance(part, str))
    return made


def svg(attributes: Mapping[str, str], *inside: Element) -> str:
    """A whole SVG as text, each element of it on its own line."""
    root = element("svg", {"xmlns": XMLNS, **attributes}, *inside)
    root.text = "\n"
    for part in root:
        part.tail = "\n"
    return tostring(root, encoding="unicode")
