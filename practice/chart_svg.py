"""From matplotlib's SVG to one that the page's policy allows, and the colours that it is drawn in.

matplotlib writes `style=` attributes and a `<style>` element, which a Content-Security-Policy without
unsafe-inline forbids, and fixed colours, which know no dark mode. `page_svg` turns styles into presentation
attributes and colours into `var(--token)`; `print_svg` gives the same drawing with colours resolved, for PDFs.

Conventions: figures are drawn in stand-in colours, one for each token (`STAND_IN["accent"]`), so that two
tokens of one value stay apart. Tokens come from studio/static/studio/tokens.css, which the pages read too.

References
----------
[1] SVG 2, section 6.6 "Presentation attributes": which style properties may stand as attributes.
[2] WAI-ARIA Graphics / SVG-AAM: role img with title and desc as name and description.
"""

import re
from collections.abc import Iterator
from functools import cache
from itertools import groupby
from pathlib import Path
from xml.etree import ElementTree as ET

from django.contrib.staticfiles import finders

TOKENS = ("paper", "surface", "ink", "muted", "line", "hair", "accent", "good", "caution", "stop", "on")
STAND_IN = {name: f"#fe00{number:02x}" for number, name in enumerate(TOKENS)}
_NAME_OF = {colour: name for name, colour in STAND_IN.items()}

_SVG = "http://www.w3.org/2000/svg"
_HREF = "{http://www.w3.org/1999/xlink}href"
_UID = re.compile(r"[A-Za-z][A-Za-z0-9_-]{0,59}")
_NUMBER = re.compile(r"-?\d+\.\d+")
_FONT = re.compile(r"(?:(bold|\d00)\s+)?(\d+(?:\.\d+)?(?:px)?)\s+\S")
# what a group hands down to its children as it stands (opacity is not among them)
_INHERITED = {
    "fill",
    "fill-opacity",
    "font-size",
    "font-weight",
    "stroke",
    "stroke-dasharray",
    "stroke-linecap",
}
_INHERITED |= {"stroke-linejoin", "stroke-opacity", "stroke-width", "text-anchor"}
_DROPPED = {"font-family", "stroke-dashoffset"}


@cache
def tokens(theme: str = "light") -> dict[str, str]:
    """Colour tokens of a theme, by name, as "#rrggbb" texts. theme: "light", "dark" or "print"."""
    css = Path(finders.find("studio/tokens.css")).read_text(encoding="utf-8")
    css = re.sub(r"/\*.*?\*/", "", css, flags=re.DOTALL)
    heads = {"light": "", "dark": "(prefers-color-scheme: dark)", "print": "print"}
    found: dict[str, str] = {}
    for media, body in re.findall(r"(?:@media\s+([^{]+?)\s*\{\s*)?:root\s*\{([^}]*)\}", css):
        if media == heads[theme]:
            found.update((name, value.lower()) for name, value in re.findall(r"--([\w-]+):\s*(#\w{6})\s*;", body))
    return found


def page_svg(raw: str, uid: str, title: str, desc: str) -> str:
    """The drawing for a page: presentation attributes only, colours as var(--token), ids begun with `uid`.

    raw: matplotlib's SVG text in stand-in colours.  uid: a letter, then at most 59 letters, digits, - and _,
    unique in the page.  title, desc: what a screen reader says; escaped here.
    """
    return _coloured(_cleaned(raw, uid, title, desc), {name: f"var(--{name})" for name in TOKENS})


def print_svg(raw: str, uid: str, title: str, desc: str, theme: str = "print") -> str:
    """The drawing with the colours of a theme written out, for PDFs and wherever there is no stylesheet."""
    svg = _coloured(_cleaned(raw, uid, title, desc), tokens(theme))
    return svg.replace("<svg ", '<svg font-family="sans-serif" ', 1)


def _coloured(svg: str, colours: dict[str, str]) -> str:
    return re.sub(r"#fe00[0-9a-f]{2}", lambda match: colours[_NAME_OF[match.group()]], svg)


def _cleaned(raw: str, uid: str, title: str, desc: str) -> str:
    if not _UID.fullmatch(uid):
        raise ValueError(f"uid {uid!r}: a letter, then letters, digits, - and _")
    source = ET.fromstring(raw)
    root = ET.Element(
        "svg",
        {
            "xmlns": _SVG,
            "viewBox": source.attrib["viewBox"],
            "role": "img",
            "aria-labelledby": f"{uid}-title",
            "aria-describedby": f"{uid}-desc",
            "stroke-linejoin": "round",
        },
    )
    ET.SubElement(root, "title", {"id": f"{uid}-title"}).text = title
    ET.SubElement(root, "desc", {"id": f"{uid}-desc"}).text = desc
    body = ET.Element("g")
    _copy(source, body, uid, {})
    for child in _gathered(body):
        _hoist(child)
        root.append(child)
    return ET.tostring(root, encoding="unicode")


def _copy(source: ET.Element, into: ET.Element, uid: str, ids: dict[str, str]) -> None:
    """Copies the children of `source`, in what the policy allows; groups that say nothing are dissolved.

    ids: matplotlib's long ids with the short ones that stand for them, filled as they occur.
    """
    for child in source:
        tag = child.tag.rpartition("}")[2]
        if tag in ("metadata", "style", "title"):
            continue
        attributes = _attributes(child, tag, uid, ids)
        if tag in ("g", "defs") and not attributes and (tag == "g" or not len(child)):
            _copy(child, into, uid, ids)
            continue
        made = ET.SubElement(into, tag, attributes)
        made.text = (child.text or "").strip() or None
        _copy(child, made, uid, ids)
        if tag in ("g", "defs") and not len(made):
            into.remove(made)
        elif tag == "text" or made.text:
            made.text = child.text


def _attributes(element: ET.Element, tag: str, uid: str, ids: dict[str, str]) -> dict[str, str]:
    def short(name: str) -> str:
        return f"{uid}-{ids.setdefault(name, str(len(ids)))}"

    found: dict[str, str] = {}
    for name, value in element.attrib.items():
        if name == "style":
            found.update(_presentation(value))
        elif name == _HREF:
            found["href"] = f"#{short(value[1:])}"
        elif name == "id":
            # groups are named by matplotlib for editors; only what is referred to keeps its id
            if tag != "g":
                found["id"] = short(value)
        elif name == "clip-path":
            found[name] = f"url(#{short(value.removeprefix('url(#').removesuffix(')'))})"
        elif name == "transform" and value.startswith("rotate(-0 "):
            continue
        elif name == "d":
            found[name] = _NUMBER.sub(_tenths, " ".join(value.split()))
        else:
            found[name] = _NUMBER.sub(_tenths, value)
    return found


def _presentation(style: str) -> dict[str, str]:
    """The declarations of a style attribute, as presentation attributes [1]."""
    found: dict[str, str] = {}
    for declaration in style.split(";"):
        name, colon, value = declaration.partition(":")
        name, value = name.strip(), value.strip()
        if not colon or name in _DROPPED:
            continue
        if name == "font":  # the shorthand is no presentation attribute; older matplotlibs write it
            match = _FONT.match(value)
            if match:
                found["font-size"] = match.group(2)
                if match.group(1):
                    found["font-weight"] = match.group(1)
        else:
            found[name] = _NUMBER.sub(_hundredths, value)
    return found


def _tenths(match: re.Match[str]) -> str:
    """A coordinate to a tenth of a unit: finer than a screen shows, and half the bytes."""
    return f"{round(float(match.group()), 1) + 0.0:g}"


def _hundredths(match: re.Match[str]) -> str:
    return f"{round(float(match.group()), 2) + 0.0:g}"


def _gathered(body: ET.Element) -> Iterator[ET.Element]:
    """The children, a run of marks or of texts that look alike put into one group (a text keeps its own anchor)."""
    for (tag, look), run in groupby(body, key=_look):
        alike = list(run)
        if tag in ("use", "text") and look and len(alike) > 2:
            group = ET.Element("g", dict(look))
            for child in alike:
                for name, _value in look:
                    del child.attrib[name]
                group.append(child)
            yield group
        else:
            yield from alike


def _look(element: ET.Element) -> tuple[str, tuple[tuple[str, str], ...]]:
    shared = _INHERITED - {"text-anchor"}
    return element.tag, tuple(sorted(item for item in element.attrib.items() if item[0] in shared))


def _hoist(element: ET.Element) -> None:
    """Moves attributes that all children of a group share to the group: many marks of one kind get short."""
    for child in element:
        _hoist(child)
    children = list(element)
    if element.tag != "g" or len(children) < 2:
        return
    shared = set.intersection(*({*child.attrib.items()} for child in children))
    for name, value in sorted(shared):
        if name not in _INHERITED or name in element.attrib:
            continue
        element.set(name, value)
        for child in children:
            del child.attrib[name]
