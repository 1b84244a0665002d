"""Reads a page as a program would, and checks what every page has to be."""

import re
from html.parser import HTMLParser
from xml.etree import ElementTree as ET

EVIL = '<script>alert("x")</script> & "Zoë" 🤸'
VOID = {"meta", "br", "hr", "img", "link", "input"}


class Reader(HTMLParser):
    """Checks that every tag is closed where it should be, and collects what the page is made of."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.words: list[str] = []

    def handle_starttag(self, tag, attrs):
        self.seen.append(tag)
        self.attributes += attrs
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.seen.append(tag)
        self.attributes += attrs

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)


def read(page):
    reader = Reader()
    reader.feed(page)
    reader.close()
    assert not reader.open
    return reader


def check(page):
    reader = read(page)
    assert page.startswith("<!doctype html>")
    assert not {"script", "link", "img", "iframe", "object"} & set(reader.seen)
    names = {name for name, _ in reader.attributes}
    assert not {"src", "href", "style"} & names
    assert not any(name.startswith("on") for name in names)
    assert "url(" not in page and "@import" not in page and "http" not in page
    assert reader.seen.count("figure") == reader.seen.count("table") == reader.seen.count("details")
    assert not re.search(r"\b(nan|inf|None)\b", page)
    for svg in re.findall(r"<svg.*?</svg>", page, re.DOTALL):
        ET.fromstring(svg)
    assert len(page.encode()) < 500_000
    return reader


def marks(svg, kind="circle", css="h0"):
    found = ET.fromstring(svg).iter(kind)
    return [each.attrib for each in found if each.attrib.get("class") == css]
