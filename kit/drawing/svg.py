"""Scenes as SVG text."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from html import escape
from zlib import crc32

from kit.drawing.palette import colour
from kit.drawing.scene import Circle, Group, Line, Path, Primitive, Scene, Style, Text

FONTS = "'DejaVu Sans', Verdana, 'Segoe UI', sans-serif"
HALO_WIDTH = 3.5  # px


def to_svg(scene: Scene) -> str:
    """Write a scene as one SVG element that needs nothing from outside itself."""
    width, height = _number(scene.width), _number(scene.height)
    # Every name carries the scene's own, so that several may stand in one document.
    identity = f"{crc32(repr((scene.title, scene.description)).encode()):08x}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 {width} {height}" '
        f'width="{width}" height="{height}" aria-labelledby="t{identity} d{identity}" '
        f'font-family="{FONTS}" stroke-linecap="round" stroke-linejoin="round">',
        f'<title id="t{identity}">{escape(scene.title)}</title>',
        f'<desc id="d{identity}">{escape(scene.description)}</desc>',
        f'<rect width="{width}" height="{height}" fill="{colour(scene.background)}"/>',
    ]
    shared = _shared(scene.primitives, identity)
    if shared:
        parts.append("<defs>")
        parts.extend(f'<path id="{name}" d="{shape}"/>' for name, shape in shared.values())
        parts.append("</defs>")
    for primitive in scene.primitives:
        parts.extend(_primitive(primitive, shared, identity))
    parts.append("</svg>")
    return "\n".join(parts)


# Lines used by several paths of a scene, by the identity of their segments: name and outline.
Shared = dict[tuple[int, bool], tuple[str, str]]


def _shared(primitives: tuple[Primitive, ...], identity: str) -> Shared:
    paths = list(_paths(primitives))
    times = Counter((id(path.segments), path.closed) for path in paths)
    found: Shared = {}
    for path in paths:
        key = (id(path.segments), path.closed)
        if times[key] > 1 and key not in found:
            shape = _outline(path)
            found[key] = (f"p{identity}{crc32(shape.encode()):08x}", shape)
    return found


def _paths(primitives: tuple[Primitive, ...]) -> Iterator[Path]:
    for primitive in primitives:
        if isinstance(primitive, Path):
            yield primitive
        elif isinstance(primitive, Group):
            yield from _paths(primitive.primitives)
            if primitive.clip is not None:
                yield primitive.clip


def _number(value: float) -> str:
    text = f"{value:.1f}"
    return text[:-2] if text.endswith(".0") else text


def _primitive(primitive: Primitive, shared: Shared, identity: str) -> Iterator[str]:
    if isinstance(primitive, Group):
        yield from _group(primitive, shared, identity)
    elif isinstance(primitive, Path):
        yield f"<{_shape(primitive, shared)}{_style(primitive.style)}/>"
    elif isinstance(primitive, Circle):
        x, y = (_number(value) for value in primitive.centre)
        radius = f"{primitive.radius:.2f}"
        yield f'<circle cx="{x}" cy="{y}" r="{radius}"{_style(primitive.style)}/>'
    elif isinstance(primitive, Line):
        yield _line(primitive)
    else:
        yield _text(primitive)


def _shape(path: Path, shared: Shared) -> str:
    name, _ = shared.get((id(path.segments), path.closed), ("", ""))
    return f'use href="#{name}"' if name else f'path d="{_outline(path)}"'


def _group(group: Group, shared: Shared, identity: str) -> Iterator[str]:
    if group.clip is None:
        yield "<g>"
    else:
        shape = _shape(group.clip, shared)
        name = f"c{identity}{crc32(shape.encode()):08x}"
        yield f'<clipPath id="{name}"><{shape}/></clipPath>'
        yield f'<g clip-path="url(#{name})">'
    for primitive in group.primitives:
        yield from _primitive(primitive, shared, identity)
    yield "</g>"


def _outline(path: Path) -> str:
    steps, numbers = ["M%.1f %.1f"], [*path.start]
    for end, first, second in path.segments:
        if first is None or second is None:
            steps.append("L%.1f %.1f")
        else:
            steps.append("C%.1f %.1f %.1f %.1f %.1f %.1f")
            numbers += (*first, *second)
        numbers += end
    return "".join(steps) % tuple(numbers) + ("Z" if path.closed else "")


def _line(line: Line) -> str:
    (x1, y1), (x2, y2) = line.start, line.end
    ends = f'x1="{_number(x1)}" y1="{_number(y1)}" x2="{_number(x2)}" y2="{_number(y2)}"'
    return f"<line {ends}{_style(line.style)}/>"


def _style(style: Style) -> str:
    fill = colour(style.fill) if style.fill else "none"
    text = f' fill="{fill}"'
    if style.stroke:
        text += f' stroke="{colour(style.stroke)}" stroke-width="{style.width:.2f}"'
    if style.stroke and style.dash:
        text += f' stroke-dasharray="{" ".join(_number(length) for length in style.dash)}"'
    if style.opacity < 1:
        # The opacity of a whole element makes a browser paint it apart; of one paint it does not.
        part = "" if style.fill and style.stroke else "fill-" if style.fill else "stroke-"
        text += f' {part}opacity="{style.opacity:.3g}"'
    return text


def _text(text: Text) -> str:
    x, y = (_number(value) for value in text.at)
    extra = f' text-anchor="{text.anchor}"' if text.anchor != "start" else ""
    extra += ' font-weight="bold"' if text.weight == "bold" else ""
    if text.rotation:
        extra += f' transform="rotate({_number(-text.rotation)} {x} {y})"'
    if text.halo:
        extra += f' paint-order="stroke" stroke="{colour(text.halo)}" stroke-width="{HALO_WIDTH}"'
    place = f'x="{x}" y="{y}" font-size="{_number(text.size)}" fill="{colour(text.role)}"'
    return f"<text {place}{extra}>{escape(text.content)}</text>"
