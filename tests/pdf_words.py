"""What a PDF says when it is searched and copied, read without a library."""

import re
import zlib

POINT = 25.4 / 72
"""[mm]  ISO 32000-1, 8.3.2.3: a unit of default user space is 1/72 inch."""


def streams(pdf):
    """Return object number -> its unpacked stream, but for photographs, which are JPEG (7.4.8)."""
    found = {int(each[1]): each[2] for each in re.finditer(rb"\n(\d+) 0 obj\n(.*?)endobj", pdf, re.S)}
    packed = {number: re.search(rb"stream\r?\n(.*)endstream", body, re.S) for number, body in found.items()
              if b"/DCTDecode" not in body}
    return {number: zlib.decompress(each[1]).decode("latin-1") for number, each in packed.items() if each}


def pages(pdf):
    """Return each page's content and its size. [mm]"""
    content = streams(pdf)
    kids = re.search(rb"/Kids \[ ?([\dR\s]+?) ?\]", pdf)[1]
    found = []
    for number in re.findall(rb"(\d+) 0 R", kids):
        body = re.search(rb"(?:^|\n)%s 0 obj\n(.*?)endobj" % number, pdf, re.S)[1]
        box = re.search(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", body)
        size = (float(box[1]) * POINT, float(box[2]) * POINT)
        found.append((content[int(re.search(rb"/Contents (\d+) 0 R", body)[1])], size))
    return found


def letters(pdf):
    """Return face -> code -> letter, from the maps that copying and searching read (ISO 32000-1, 9.10.3)."""
    content = streams(pdf)
    found = {}
    for name, number in re.findall(rb"/Name /(F\d+\+\d+).{0,80}?/ToUnicode (\d+) 0 R", pdf, re.S):
        pairs = re.findall(r"<([0-9A-F]{2})> <([0-9A-F]{4})>", content[int(number)])
        found[name.decode()] = {int(code, 16): chr(int(letter, 16)) for code, letter in pairs}
    return found


def said(content, faces):
    """Return the lines of text that a page sets, as they are copied."""
    found = []
    for face, raw in re.findall(r"/(F\d+\+\d+) [\d.]+ Tf.*?\((.*?)(?<!\\)\) Tj", content):
        raw = re.sub(r"\\([0-7]{3})", lambda code: chr(int(code[1], 8)), raw)
        found.append("".join(faces[face][ord(code)] for code in re.sub(r"\\(.)", r"\1", raw)))
    return found
